// SPDX-License-Identifier: GPL-3.0-or-later
// The operator of a rehearsal that runs by itself: a script's lines, or the built-in sequence.
#include "session/inside.h"

#include <assert.h>
#include <stdlib.h>

sm_result sm_script_read(const char *path, const sm_show *show, sm_findings *findings, sm_operator **out) {
    if (!path)
        return sm_operator_builtin(show, out);
    char *text = NULL;
    size_t length;
    sm_result result = sm_file_read(path, &text, &length);
    if (result == SM_OK)
        result = sm_operator_read(show, path, text, length, findings, out);
    free(text);
    return result;
}

// While the folder is read again no line acts: the next may be about what is new in it.
static bool is_reading(const sm_session *session) {
    return session->reload_wanted || session->apply_wanted || session->job.kind == SM_JOB_RELOAD ||
           session->job.kind == SM_JOB_APPLY;
}

static sm_operator_word next_word(const sm_session *session, sm_wall_time *at) {
    return is_reading(session) ? SM_OPERATOR_HELD : sm_operator_next(session->script, session->rehearsal, at);
}

bool sm_session_script_due(const sm_session *session, sm_wall_time *at) {
    return session->script && next_word(session, at) == SM_OPERATOR_WAIT;
}

sm_result sm_session_script_act(sm_session *session, sm_wall_time at) {
    assert(session->script && !is_reading(session));
    bool arming = sm_rehearsal_state(session->rehearsal) == SM_STATE_SAFE;
    sm_source source = sm_operator_source(session->script);
    sm_result result = sm_session_engine_act(session, sm_operator_take(session->script, at), source, at);
    if (result != SM_REFUSED)
        return result;
    session->arming_refused |= !session->script_path && arming && !session->drill_run;
    return SM_OK;
}

static bool is_drill_over(const sm_session *session) {
    return session->drill_run && sm_drill_is_over(session->drill_run);
}

sm_session_over sm_session_script_over(const sm_session *session) {
    sm_wall_time at;
    if (!session->script)
        return SM_SESSION_GOES_ON;
    if (session->out_of_memory)
        return SM_SESSION_OUT_OF_MEMORY;
    if (is_drill_over(session))
        return SM_SESSION_DONE;
    if (is_reading(session) || (session->drill_run && sm_drill_lead_is_busy(session->drill_run)))
        return SM_SESSION_GOES_ON; // nobody else has to act
    if (session->arming_refused)
        return SM_SESSION_ARMING_REFUSED;
    sm_operator_word word = next_word(session, &at);
    if (!sm_rehearsal_is_over(session->rehearsal, word))
        return SM_SESSION_GOES_ON;
    bool left = session->script_path && word != SM_OPERATOR_OUT && !sm_rehearsal_quit(session->rehearsal);
    return left ? SM_SESSION_LINE_NEVER_CAME : SM_SESSION_DONE;
}
