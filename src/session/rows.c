// SPDX-License-Identifier: GPL-3.0-or-later
// Where rows of the log go: its file, the logbook, the outlets, whoever looks.
#include "session/inside.h"

#include <assert.h>

// What a drill plants and marks is for the debrief: the trainee sees what can be seen, the score last of all.
static bool is_hidden(const sm_log_row *row) {
    return row->kind.what == SM_LOG_EVENT || row->kind.what == SM_LOG_MARK;
}

void sm_session_keep_row(void *context, const sm_log_row *row) {
    sm_session *session = context;
    assert(row->source < SM_SOURCE_COUNT && row->wall.us >= 0);
    if (session->log)
        sm_log_writer_put(session->log, row);
    if (session->kept)
        sm_logbook_writer_row(session->kept, row);
    sm_session_row_to_outlets(session, row);
    if (!is_hidden(row)) {
        pthread_mutex_lock(&session->lock);
        sm_recent_put(&session->recent, row);
        pthread_mutex_unlock(&session->lock);
    }
    session->changed = true;
}

void sm_session_keep_action(void *context, const sm_action *action, sm_source source, sm_wall_time at) {
    sm_session *session = context;
    if (session->kept)
        sm_logbook_writer_action(session->kept, action, source, at);
}
