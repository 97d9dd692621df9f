// SPDX-License-Identifier: GPL-3.0-or-later
// Short jumps: by a second, by a cue, by a beat that somebody tapped. All of them are `seek`, and a beat is a `mark`.
#ifndef SLOWMATCH_CONSOLE_JUMPS_H
#define SLOWMATCH_CONSOLE_JUMPS_H

#include "console/keymap.h"

// What was asked for and cannot stand in the snapshot yet: keys may come faster than snapshots.
typedef struct sm_jumps {
    bool moved, tapped;
    sm_wall_time moved_at, tapped_at; // the latest of each
    sm_show_time to;
    unsigned beat;
} sm_jumps;

// The show time to which HOW (SM_HOW_SECOND_BACK to SM_HOW_BEAT_ON) jumps at wall NOW. False: there is none that way.
bool sm_jumps_to(sm_jumps *jumps, const sm_snapshot *snapshot, sm_wall_time now, sm_key_how how,
                 sm_show_time *to);
// The number of the beat tapped at wall NOW.
unsigned sm_jumps_beat(sm_jumps *jumps, const sm_snapshot *snapshot, sm_wall_time now);

#endif
