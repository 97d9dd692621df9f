// SPDX-License-Identifier: GPL-3.0-or-later
// Lines that people give, and what is said to them.
#include "session/inside.h"

#include <string.h>

static void tell(sm_session *session, const sm_action *action, sm_result result, const char *caution) {
    const char *name = sm_action_row_of(action->act)->name;
    if (result == SM_REFUSED)
        sm_session_tell(session, SM_OUTCOME_REFUSED, "%s refused: %s", name,
                        sm_rehearsal_refusal(session->rehearsal));
    else if (result != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "%s: %s", name, sm_result_text(result));
    else if (caution[0] && action->act != SM_ACT_RELOAD &&
             action->act != SM_ACT_APPLY) // a reload is done when the folder has been read
        sm_session_tell(session, SM_OUTCOME_WRONG, "%s is done, BUT %s", name, caution);
}

static void act(sm_session *session, const sm_action *action, sm_source source) {
    sm_wall_time at = sm_session_act_moment(session);
    sm_text caution = {0};
    if (!session->drill_run) // a drill marks it, and says so afterwards
        sm_rehearsal_caution(session->rehearsal, action, &caution);
    tell(session, action, sm_session_engine_act(session, action, source, at), sm_text_get(&caution));
    sm_text_deinit(&caution);
}

void sm_session_read_of_file(sm_session *session, const char *line) {
    sm_action action;
    char why[200];
    size_t at;
    if (sm_action_read(session->show, line, strlen(line), &action, why, &at) != SM_OK)
        return; // the file was read against this very show
    action.from_file = true;
    act(session, &action, SM_SOURCE_CONSOLE);
}

void sm_session_do(sm_session *session, sm_source source, const char *line) {
    sm_action action;
    char why[200];
    size_t at;
    if (strcmp(line, SM_NO_DRILL) == 0 && sm_session_no_drill(session))
        return;
    if (sm_action_read(session->show, line, strlen(line), &action, why, &at) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "%s", why);
    else if (action.act != SM_ACT_QUIT || !sm_session_end_drill(session))
        act(session, &action, source);
}
