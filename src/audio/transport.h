// SPDX-License-Identifier: GPL-3.0-or-later
// What the show does at each rehearsal time: a short list of stretches, each "from here on, show time so,
// speed so".
#ifndef SM_AUDIO_TRANSPORT_H
#define SM_AUDIO_TRANSPORT_H

#include "slowmatch/audio.h"

#define SM_STRETCHES_MAX 8

typedef struct sm_stretch {
    int64_t wall_us; // begins here
    int64_t show_us; // show time there
    int32_t speed_ppm;
    bool playing;
    bool preview; // the show stands: no timecode, and of the tones only ticks
} sm_stretch;

// Sorted by wall_us, no two equal; the first also holds for all time before it. Never empty once initialised.
typedef struct sm_transport {
    sm_stretch at[SM_STRETCHES_MAX];
    int count;
} sm_transport;

// Standing at show time 0.
void sm_transport_init(sm_transport *transport);
// Adds a stretch and forgets those that begin at the same time or later; and the oldest, if there is no room.
// False if that changes nothing: the stretch in force there already says the same to within 10 us.
bool sm_transport_add(sm_transport *transport, sm_stretch stretch);
// Show time at WALL_US by STRETCH, to the nearest.
int64_t sm_stretch_show_us(const sm_stretch *stretch, int64_t wall_us);
bool sm_stretch_equal(const sm_stretch *a, const sm_stretch *b);

#endif
