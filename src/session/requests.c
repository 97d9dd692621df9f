// SPDX-License-Identifier: GPL-3.0-or-later
// What others ask of the session: lines in, looks at what it gives out.
#include "session/inside.h"

#include <assert.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int sm_session_descriptor(const sm_session *session) {
    return session->news[0];
}

void sm_session_want(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    session->wanted = true;
    pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
}

const sm_snapshot *sm_session_take(sm_session *session) {
    char bytes[16];
    pthread_mutex_lock(&session->lock);
    while (read(session->news[0], bytes, sizeof bytes) > 0) {
    }
    session->news_sent = false;
    if (session->ready_new) {
        sm_snapshot *taken = session->ready;
        session->ready = session->front;
        session->front = taken;
        session->ready_new = false;
        session->front_lines = session->ready_lines;
    }
    const sm_snapshot *front = session->front;
    assert(front != session->ready); // nobody writes into what is looked at
    pthread_mutex_unlock(&session->lock);
    return front;
}

bool sm_session_is_behind(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    bool behind = session->front_lines < session->lines.given;
    pthread_mutex_unlock(&session->lock);
    return behind;
}

static bool act_as(sm_session *session, sm_source source, const char *seat, const char *line) {
    pthread_mutex_lock(&session->lock);
    bool queued = sm_given_put(&session->lines, source, seat, line);
    pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
    return queued;
}

bool sm_session_act_from(sm_session *session, const char *seat, const char *line) {
    return act_as(session, SM_SOURCE_SEAT, seat, line);
}

bool sm_session_act(sm_session *session, const char *line) {
    return act_as(session, SM_SOURCE_CONSOLE, "", line);
}

bool sm_session_read_file(sm_session *session, const char *path) {
    char *copy = strdup(path);
    if (!copy)
        return false;
    pthread_mutex_lock(&session->lock);
    free(session->read_path);
    session->read_path = copy;
    pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
    return true;
}

// Without a thread nobody else drives: the caller does, here.
static bool make_safe_here(sm_session *session) {
    sm_wall_time now = sm_session_clock(session);
    session->now = now.us > session->now.us ? now : session->now;
    sm_session_do(session, SM_SOURCE_CONSOLE, "safe");
    return sm_rehearsal_state(session->rehearsal) == SM_STATE_SAFE;
}

bool sm_session_make_safe(sm_session *session, sm_us patience_us) {
    struct timespec limit = sm_monotonic_after(patience_us);
    if (!session->thread_runs)
        return make_safe_here(session);
    pthread_mutex_lock(&session->lock);
    (void)sm_given_put(&session->lines, SM_SOURCE_CONSOLE, "", "safe"); // a stop finds room
    pthread_cond_broadcast(&session->wake);
    uint64_t number = session->lines.given;
    while (session->lines.done < number &&
           pthread_cond_timedwait(&session->wake, &session->lock, &limit) != ETIMEDOUT) {
    }
    bool done = session->lines.done >= number;
    pthread_mutex_unlock(&session->lock);
    return done;
}

bool sm_session_flush_log(sm_session *session, sm_us patience_us) {
    return !session->log || sm_log_writer_flush(session->log, patience_us);
}

bool sm_session_has_quit(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    bool quit = session->has_quit;
    pthread_mutex_unlock(&session->lock);
    return quit;
}

bool sm_session_outcome(sm_session *session, sm_outcome_note *out) {
    pthread_mutex_lock(&session->lock);
    bool any = session->outcome_count > 0;
    assert(session->outcome_first < SM_OUTCOMES && session->outcome_count <= SM_OUTCOMES);
    if (any) {
        *out = session->outcomes[session->outcome_first];
        session->outcome_first = (session->outcome_first + 1) % SM_OUTCOMES;
        session->outcome_count--;
    }
    pthread_mutex_unlock(&session->lock);
    return any;
}

void sm_session_recent(sm_session *session, sm_recent *to) {
    pthread_mutex_lock(&session->lock);
    sm_recent_follow(to, &session->shown);
    pthread_mutex_unlock(&session->lock);
}

sm_findings *sm_session_findings(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    sm_findings *findings = session->findings;
    session->findings = NULL;
    pthread_mutex_unlock(&session->lock);
    return findings;
}

void sm_session_drill(sm_session *session, sm_drill_view *out) {
    pthread_mutex_lock(&session->lock);
    *out = session->drill_view;
    pthread_mutex_unlock(&session->lock);
}

sm_debrief *sm_session_debrief(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    sm_debrief *debrief = session->debrief;
    session->debrief = NULL;
    pthread_mutex_unlock(&session->lock);
    return debrief;
}

bool sm_session_answer(sm_session *session, unsigned question, const char *text) {
    assert(question < SM_DRILL_QUESTIONS);
    char *copy = strdup(text);
    if (!copy)
        return false;
    pthread_mutex_lock(&session->lock);
    free(session->answers[question]);
    session->answers[question] = copy;
    session->wanted = true;
    pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
    return true;
}

void sm_session_sound(sm_session *session, sm_audio_status *out) {
    *out = (sm_audio_status){.state = SM_AUDIO_SILENT, .decoded = true};
    if (session->audio)
        sm_audio_status_get(session->audio, out);
}

void sm_session_sound_tone(sm_session *session, sm_tone tone) {
    if (session->audio)
        sm_audio_tone(session->audio, tone);
}

size_t sm_session_sound_devices(sm_session *session, sm_audio_device *out, size_t room) {
    return session->audio ? sm_audio_devices(session->audio, out, room) : 0;
}

void sm_session_sound_choose(sm_session *session, const char *device) {
    if (session->audio)
        sm_audio_choose(session->audio, device);
}

size_t sm_session_sound_overview(sm_session *session, sm_show_time from, sm_show_time to, size_t columns,
                                 sm_audio_peak *out) {
    return session->audio ? sm_audio_overview(session->audio, from, to, columns, out) : 0;
}

int sm_session_log_error(sm_session *session) {
    return session->log ? sm_log_writer_error(session->log) : 0;
}

char *sm_session_logbook_problem(sm_session *session, char buffer[400]) {
    if (sm_session_logbook_waits(session, buffer)[0] == '\0' && session->kept)
        sm_logbook_writer_problem(session->kept, buffer);
    return buffer;
}

sm_unix_us sm_session_launched(const sm_session *session) {
    return session->launched_us;
}

void sm_session_keep_void(sm_session *session, const char *title, const sm_walk_sign *sign) {
    if (session->kept && !session->drill) // what is said in a drill is about no site
        sm_logbook_writer_void(session->kept, title, sign);
}

sm_wall_time sm_session_now(sm_session *session) {
    return sm_session_clock(session);
}

sm_session_over sm_session_is_over(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    sm_session_over over = session->over;
    pthread_mutex_unlock(&session->lock);
    return over;
}

uint32_t sm_session_line_left(const sm_session *session) {
    return session->script && session->script_path ? sm_operator_line(session->script) : 0;
}

const char *sm_session_refusal(const sm_session *session) {
    return sm_rehearsal_refusal(session->rehearsal);
}
