// SPDX-License-Identifier: GPL-3.0-or-later
// The screen's side of the session.
#include "session/inside.h"

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
    }
    const sm_snapshot *front = session->front;
    pthread_mutex_unlock(&session->lock);
    return front;
}

// Under the lock. Takes over LINE where true.
static bool queue_line(sm_session *session, char *line) {
    if (session->line_count == session->line_capacity) {
        size_t capacity = session->line_capacity ? 2 * session->line_capacity : 16;
        char **grown = realloc(session->lines, capacity * sizeof *grown);
        if (!grown)
            return false;
        session->lines = grown;
        session->line_capacity = capacity;
    }
    session->lines[session->line_count++] = line;
    session->lines_given++;
    pthread_cond_broadcast(&session->wake);
    return true;
}

bool sm_session_act(sm_session *session, const char *line) {
    char *copy = strdup(line);
    if (!copy)
        return false;
    pthread_mutex_lock(&session->lock);
    bool queued = queue_line(session, copy);
    pthread_mutex_unlock(&session->lock);
    if (!queued)
        free(copy);
    return queued;
}

void sm_session_read_file(sm_session *session, const char *path) {
    char *copy = strdup(path);
    pthread_mutex_lock(&session->lock);
    free(session->read_path);
    session->read_path = copy;
    pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
}

bool sm_session_make_safe(sm_session *session, sm_us patience_us) {
    struct timespec limit = sm_monotonic_after(patience_us);
    char *line = strdup("safe");
    pthread_mutex_lock(&session->lock);
    bool done = line && queue_line(session, line);
    if (!done)
        free(line);
    uint64_t number = session->lines_given;
    while (done && session->lines_done < number) {
        if (pthread_cond_timedwait(&session->wake, &session->lock, &limit) == ETIMEDOUT) {
            done = session->lines_done >= number;
            break;
        }
    }
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
    sm_recent_follow(to, &session->recent);
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

sm_audio *sm_session_audio(sm_session *session) {
    return session->audio;
}

int sm_session_log_error(sm_session *session) {
    return session->log ? sm_log_writer_error(session->log) : 0;
}

char *sm_session_logbook_problem(sm_session *session, char buffer[400]) {
    buffer[0] = '\0';
    return session->kept ? sm_logbook_writer_problem(session->kept, buffer) : buffer;
}

sm_wall_time sm_session_now(sm_session *session) {
    return sm_audio_now(session->audio);
}
