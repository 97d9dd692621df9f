// SPDX-License-Identifier: GPL-3.0-or-later
// Where rows of the log go: its file, the logbook, the outlets, whoever looks.
#include "session/inside.h"

#include <assert.h>

// What a drill plants and marks is for the debrief: the trainee sees what can be seen, the score last of all.
static bool is_hidden(const sm_log_row *row) {
    return row->kind.what == SM_LOG_EVENT || row->kind.what == SM_LOG_MARK;
}

static void put_out(sm_session *session, const sm_log_row *row) {
    if (session->log)
        sm_log_writer_put(session->log, row);
    sm_session_row_to_outlets(session, row);
}

// What is planted and cannot be seen, and what was judged, would be read while the drill runs.
static bool waits_for_the_end(const sm_session *session, sm_log_kind kind, const char *target) {
    return kind.what == SM_LOG_MARK || sm_drill_is_unseen(session->drill_run, kind, target);
}

// In the log an operator's marks stand where they fall: nobody looks at it meanwhile.
static bool is_put_late(const sm_session *session, sm_log_kind kind, const char *target) {
    bool operators = kind.what == SM_LOG_MARK && session->operated;
    return !operators && waits_for_the_end(session, kind, target);
}

// At the drill's end, each with its own moment.
static void put_planted(sm_session *session, const sm_log_row *end) {
    for (uint32_t i = 0; i < sm_drill_entry_count(session->drill_run); i++) {
        const sm_drill_entry entry = sm_drill_entry_at(session->drill_run, i);
        if (!is_put_late(session, entry.kind, entry.target))
            continue;
        char at[24], room[512] = "";
        sm_text detail = SM_TEXT_IN(room);
        sm_text_printf(&detail, "%s at %s: %s", entry.kind.what == SM_LOG_MARK ? "judged" : "planted",
                       sm_us_format(at, entry.at.us), entry.detail);
        sm_log_row row = *end;
        row.kind = entry.kind;
        row.target = entry.target;
        row.detail = sm_text_get(&detail);
        put_out(session, &row);
        session->words_lost |= detail.failed;
        sm_text_deinit(&detail);
    }
}

static void put_in_drill(sm_session *session, const sm_log_row *row) {
    bool ends = sm_drill_is_over_by(row);
    if (ends)
        put_planted(session, row);
    bool runs = !ends && !sm_drill_is_over(session->drill_run);
    if (!runs || !is_put_late(session, row->kind, row->target))
        put_out(session, row);
    if (session->kept)
        sm_logbook_writer_drill_row(session->kept, row,
                                    runs && waits_for_the_end(session, row->kind, row->target));
}

void sm_session_keep_row(void *context, const sm_log_row *row) {
    sm_session *session = context;
    assert(row->source < SM_SOURCE_COUNT && row->wall.us >= 0);
    if (session->drill_run) {
        put_in_drill(session, row);
    } else {
        put_out(session, row);
        if (session->kept)
            sm_logbook_writer_row(session->kept, row);
    }
    if (!is_hidden(row))
        sm_recent_put(&session->recent, row);
    session->changed = true;
}

void sm_session_keep_action(void *context, const sm_action *action, sm_source source, sm_wall_time at) {
    sm_session *session = context;
    if (session->kept)
        sm_logbook_writer_action(session->kept, action, source, at);
}
