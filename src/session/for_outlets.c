// SPDX-License-Identifier: GPL-3.0-or-later
// What outlets may ask and tell within their callbacks.
#include "session/inside.h"

#include "slowmatch/clock.h"

const sm_show *sm_session_show(const sm_session *session) {
    return session->show;
}

sm_state sm_session_state(const sm_session *session) {
    return sm_rehearsal_state(session->rehearsal);
}

bool sm_session_drills(const sm_session *session) {
    return session->drill_run && !sm_drill_is_over(session->drill_run);
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

void sm_session_timecode(sm_session *session, const sm_timecode_news *news) {
    if (sm_rehearsal_timecode(session->rehearsal, news, sm_session_act_moment(session)) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out");
    session->changed = true;
}

const sm_timecode_in *sm_session_timecode_in(const sm_session *session) {
    return sm_rehearsal_timecode_in(session->rehearsal);
}

sm_show_clock sm_session_show_clock(const sm_session *session) {
    return sm_rehearsal_show_clock(session->rehearsal);
}

// Over some tenths of a second the two clocks differ by less than a part in fifty.
sm_wall_time sm_session_wall_at(sm_session *session, int64_t mono_ns) {
    const int64_t past_us = sm_monotonic_us() - mono_ns / 1000;
    return (sm_wall_time){sm_session_clock(session).us - past_us};
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
