// SPDX-License-Identifier: GPL-3.0-or-later
#include "session/inside.h"

#include <assert.h>

sm_result sm_session_open_outlets(sm_session *session, const sm_session_options *options,
                                  char problem[SM_SESSION_PROBLEM]) {
    assert(options->outlet_count <= SM_OUTLETS_MAX);
    for (size_t i = 0; i < options->outlet_count; i++) {
        assert(options->outlets[i]->name && options->outlets[i]->create);
        sm_outlet_run run = {.outlet = options->outlets[i], .wants = {INT64_MAX}};
        sm_result result = run.outlet->create(session, options->outlet_context, problem, &run.self);
        if (result != SM_OK)
            return result;
        if (run.self)
            session->outlets[session->outlet_count++] = run;
    }
    return SM_OK;
}

void sm_session_begin_outlets(sm_session *session) {
    for (size_t i = 0; i < session->outlet_count; i++)
        if (session->outlets[i].outlet->begin)
            session->outlets[i].outlet->begin(session->outlets[i].self);
}

void sm_session_row_to_outlets(sm_session *session, const sm_log_row *row) {
    for (size_t i = 0; i < session->outlet_count; i++) {
        const sm_outlet_run *run = &session->outlets[i];
        if (run->outlet->row)
            run->outlet->row(run->self, row);
    }
}

void sm_session_snapshot_to_outlets(sm_session *session, const sm_snapshot *snapshot) {
    for (size_t i = 0; i < session->outlet_count; i++) {
        const sm_outlet_run *run = &session->outlets[i];
        if (run->outlet->snapshot)
            run->outlet->snapshot(run->self, snapshot);
    }
}

void sm_session_step_outlets(sm_session *session) {
    for (size_t i = 0; i < session->outlet_count; i++) {
        sm_outlet_run *run = &session->outlets[i];
        if (run->outlet->step)
            run->wants = run->outlet->step(run->self, session->now);
    }
}

sm_wall_time sm_session_outlets_want(const sm_session *session) {
    sm_wall_time first = {INT64_MAX};
    for (size_t i = 0; i < session->outlet_count; i++)
        if (session->outlets[i].wants.us < first.us)
            first = session->outlets[i].wants;
    return first;
}

void sm_session_close_outlets(sm_session *session) {
    while (session->outlet_count > 0) {
        const sm_outlet_run *run = &session->outlets[--session->outlet_count];
        if (run->outlet->destroy)
            run->outlet->destroy(run->self);
    }
}
