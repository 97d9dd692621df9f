// SPDX-License-Identifier: GPL-3.0-or-later
// What goes from the driver to whoever looks: outcomes, and that there is something new.
#include "session/inside.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <unistd.h>

sm_wall_time sm_session_clock(const sm_session *session) {
    return session->audio ? sm_audio_now(session->audio) : session->now;
}

void sm_session_send_news(sm_session *session) {
    if (!session->news_sent)
        session->news_sent = write(session->news[1], "", 1) == 1;
}

void sm_session_tell(sm_session *session, sm_outcome_kind kind, const char *format, ...) {
    sm_outcome_note note = {.kind = kind, .wall = sm_session_clock(session)};
    va_list args;
    va_start(args, format);
    vsnprintf(note.text, sizeof note.text, format, args);
    va_end(args);
    pthread_mutex_lock(&session->lock);
    if (session->outcome_count == SM_OUTCOMES) {
        session->outcome_first = (session->outcome_first + 1) % SM_OUTCOMES;
        session->outcome_count--;
    }
    assert(session->outcome_count < SM_OUTCOMES);
    session->outcomes[(session->outcome_first + session->outcome_count++) % SM_OUTCOMES] = note;
    sm_session_send_news(session);
    pthread_mutex_unlock(&session->lock);
}
