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

#endif
