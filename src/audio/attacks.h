// SPDX-License-Identifier: GPL-3.0-or-later
// Where a sound begins in music that goes past: to the frame, and at once, for what must put a beginning in its place.
// (`accent.c` looks for the nearest accent of a whole neighbourhood, at leisure and to a few milliseconds.)
#ifndef SM_AUDIO_ATTACKS_H
#define SM_AUDIO_ATTACKS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// What went before is remembered in so many steps; with STEP_S it is the time within which an attack must stand out.
#define SM_ATTACK_STEPS 40

typedef struct sm_attacks {
    int64_t place;                // next frame to come
    int64_t deaf_until;           // no attack before it: the last one still sounds
    size_t step_frames, in_step;  // of a step; of them gone by
    float before[2];              // the last frame
    float most;                   // of the step that runs
    float steps[SM_ATTACK_STEPS]; // the steepest change within each, the oldest overwritten
    size_t next;                  // the oldest
    float loudest;                // of `steps`
    int32_t dead_frames;          // from one attack to the next, at least
} sm_attacks;

// Frames from PLACE on come next. Nothing stands out until the steps are full.
void sm_attacks_begin(sm_attacks *attacks, int64_t place, int rate_hz);
// Takes the frame at `place`; true where an attack begins with it.
bool sm_attacks_take(sm_attacks *attacks, const float frame[2]);

#endif
