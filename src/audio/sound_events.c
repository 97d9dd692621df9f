// SPDX-License-Identifier: GPL-3.0-or-later
// What happened to the sound, kept in a ring until it is asked for; the oldest is dropped where nobody asks.
#include "audio/internal.h"
#include "audio/mono.h"

#include <stdio.h>

void sm_audio_event_add(sm_audio *audio, sm_audio_event_kind kind, const char *text) {
    const sm_wall_time wall = {sm_clock_read(&audio->clock, sm_mono_ns()) / 1000};
    pthread_mutex_lock(&audio->lock);
    if (audio->event_count == SM_EVENTS_MAX) {
        audio->event_first = (audio->event_first + 1) % SM_EVENTS_MAX;
        audio->event_count--;
    }
    sm_audio_event *event = &audio->events[(audio->event_first + audio->event_count++) % SM_EVENTS_MAX];
    event->kind = kind;
    event->wall = wall;
    snprintf(event->text, sizeof event->text, "%s", text);
    pthread_mutex_unlock(&audio->lock);
}

bool sm_audio_next_event(sm_audio *audio, sm_audio_event *out) {
    pthread_mutex_lock(&audio->lock);
    bool any = audio->event_count > 0;
    if (any) {
        *out = audio->events[audio->event_first];
        audio->event_first = (audio->event_first + 1) % SM_EVENTS_MAX;
        audio->event_count--;
    }
    pthread_mutex_unlock(&audio->lock);
    return any;
}
