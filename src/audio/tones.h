// SPDX-License-Identifier: GPL-3.0-or-later
// Short tones over the music: which begin at which card frame, and their sound.
#ifndef SM_AUDIO_TONES_H
#define SM_AUDIO_TONES_H

#include "slowmatch/audio.h"

#define SM_TONES_MAX 64

typedef struct sm_tones {
    struct sm_tone_begun {
        uint64_t frame;
        sm_tone tone;
        bool planned; // by the show: forgotten if the show turns out not to come there
    } at[SM_TONES_MAX];
    int count;
    float gain;
} sm_tones;

// A tone begins at FRAME. Those over by TAKEN (the card's frames so far) make room; with none left it is not heard.
void sm_tones_add(sm_tones *tones, uint64_t frame, sm_tone tone, bool planned, uint64_t taken, int rate_hz);
// Forgets planned tones that begin at FRAME or later.
void sm_tones_forget(sm_tones *tones, uint64_t frame);
// Adds what sounds in the FRAMES frames from FIRST on to OUT, and keeps the sum within full scale. Touches nothing when
// no tone sounds there.
void sm_tones_mix(const sm_tones *tones, int rate_hz, uint64_t first, float (*out)[2], size_t frames);

#endif
