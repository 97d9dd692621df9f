// SPDX-License-Identifier: GPL-3.0-or-later
// What the files of this part share of an sm_audio.
#ifndef SM_AUDIO_INTERNAL_H
#define SM_AUDIO_INTERNAL_H

#include "audio/decoded_music.h"
#include "audio/rehearsal_clock.h"
#include "audio/transport.h"

#include "slowmatch/audio.h"

#include <pthread.h>

#define SM_EVENTS_MAX 64

// Where sound goes. The silent one does nothing: the clock runs by itself.
typedef struct sm_output {
    sm_result (*start)(sm_audio *audio); // sets audio->output_state
    void (*stop)(sm_audio *audio);
    void (*changed)(sm_audio *audio); // the control was changed; called without the lock
} sm_output;

extern const sm_output SM_OUTPUT_SILENT;
extern const sm_output SM_OUTPUT_SOUND;

// What callers have asked for; under the lock. `generation` grows with every change.
typedef struct sm_control {
    uint64_t generation;
    sm_transport transport;
    int volume_percent;
    bool muted;
    char device[128];
    uint64_t device_choice; // grows with every choice of a device
    sm_us music_off_us;
    uint64_t tones_asked[SM_TONE_COUNT];
    bool has_timecode;
    sm_audio_timecode timecode;
    uint64_t timecode_choice; // grows with every change of it
} sm_control;

struct sm_audio {
    sm_clock clock;
    sm_music *music; // NULL: none
    sm_us audio_start_us, sound_offset_us;
    const sm_output *output;
    void *output_state;
    bool has_lock;
    pthread_mutex_t lock; // for all below
    sm_control control;
    sm_audio_call *calls; // not taken over by the output yet; NULL with has_calls: none
    size_t call_count;
    bool has_calls;
    sm_audio_state state;
    char device[128], reason[192];
    int rate_hz;
    uint64_t gap_frames;
    sm_audio_device devices[SM_AUDIO_DEVICES_MAX];
    size_t device_count;
    sm_audio_event events[SM_EVENTS_MAX];
    size_t event_first, event_count;
};

// Notes an event; takes the lock.
void sm_audio_event_add(sm_audio *audio, sm_audio_event_kind kind, const char *text);

#endif
