// SPDX-License-Identifier: GPL-3.0-or-later
// Taps along with the music, and the habit of whoever taps.
#ifndef SLOWMATCH_TAPS_H
#define SLOWMATCH_TAPS_H

#include "slowmatch/base.h"

#define SM_TAPS_MAX 32

// {0} is empty.
typedef struct sm_taps {
    sm_us us[SM_TAPS_MAX]; // the latest last
    size_t count;
} sm_taps;

// The oldest is forgotten where there are too many.
void sm_taps_add(sm_taps *taps, sm_us us);
// 0 of none.
sm_us sm_taps_median(const sm_taps *taps);
// TAPS were made where IS_US is right: HABIT learns how much later than that they came.
void sm_taps_learn(sm_taps *habit, const sm_taps *taps, sm_us is_us);
// Where TAPS say that it is: their median without the HABIT, in whole milliseconds.
sm_us sm_taps_place(const sm_taps *taps, const sm_taps *habit);

#endif
