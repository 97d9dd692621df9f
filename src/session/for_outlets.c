// SPDX-License-Identifier: GPL-3.0-or-later
// What outlets may ask and tell within their callbacks.
#include "session/inside.h"

const sm_show *sm_session_show(const sm_session *session) {
    return session->show;
}

sm_state sm_session_state(const sm_session *session) {
    return sm_rehearsal_state(session->rehearsal);
}

void sm_session_levels(const sm_session *session, uint8_t *levels) {
    sm_rehearsal_levels(session->rehearsal, session->now, levels);
}

void sm_session_say(sm_session *session, sm_outcome_kind kind, const char *text) {
    sm_session_tell(session, kind, "%s", text);
}

void sm_session_log_lights(sm_session *session, sm_lights_change change, const char *detail) {
    if (sm_rehearsal_lights(session->rehearsal, change, detail, sm_session_act_moment(session)) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out");
}

void sm_session_show_lights(sm_session *session, const sm_lights_view *view) {
    pthread_mutex_lock(&session->lock);
    session->lights = *view;
    session->wanted = true; // a snapshot: whoever looks sees it with that
    sm_session_send_news(session);
    pthread_mutex_unlock(&session->lock);
}

void sm_session_lights(sm_session *session, sm_lights_view *out) {
    pthread_mutex_lock(&session->lock);
    *out = session->lights;
    pthread_mutex_unlock(&session->lock);
}
