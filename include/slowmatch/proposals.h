// SPDX-License-Identifier: GPL-3.0-or-later
// Cue times as they are proposed to be: they change nothing until they are written into cues.csv.
#ifndef SLOWMATCH_PROPOSALS_H
#define SLOWMATCH_PROPOSALS_H

#include "slowmatch/show.h"

#define SM_PROPOSALS_MAX 128

typedef struct sm_proposal {
    uint32_t cue;
    sm_us by_us;  // later; below 0: earlier
    bool onwards; // every cue at that cue's moment or after it too
} sm_proposal;

// When CUE would be with COUNT PROPOSALS, one after the other.
sm_us sm_proposed_us(const sm_show *show, const sm_proposal *proposals, uint32_t count, uint32_t cue);
// The first cue whose id is the LENGTH bytes at ID; SM_NONE. A walk over all cues.
uint32_t sm_cue_find(const sm_show *show, const char *id, size_t length);

// Music heard in safe, round and round, to try by ear where a cue is proposed to be. The show stands meanwhile: nothing is fired or set.
typedef struct sm_preview {
    bool on; // else the rest is not set
    uint32_t cue;
    sm_show_time from, to, tick; // tick: where the cue is proposed to be
    sm_wall_time since;          // `from` was first heard
    int32_t speed_ppm;
} sm_preview;

// The place heard at wall AT.
sm_show_time sm_preview_place(const sm_preview *preview, sm_wall_time at);
// When the round that is heard at wall AT began, and when the next one does.
void sm_preview_round(const sm_preview *preview, sm_wall_time at, sm_wall_time *begun, sm_wall_time *next);

#endif
