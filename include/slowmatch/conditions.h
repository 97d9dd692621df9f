// SPDX-License-Identifier: GPL-3.0-or-later
// What stands and is easily forgotten: what is held back, waived, stray, slowed or repeated. In words, for the state line, the
// questions before arm and start, and the guards. Each appends nothing where there is nothing, and returns whether there was.
#ifndef SLOWMATCH_CONDITIONS_H
#define SLOWMATCH_CONDITIONS_H

#include "slowmatch/engine.h"

// "HELD BACK 7 slots, 2 fixtures: aerial, A-05": programmed slots not spent yet, fixtures, and the names that hold them.
bool sm_condition_held(const sm_snapshot *now, sm_text *out);
// "WAIVED rails, readings"
bool sm_condition_waived(const sm_snapshot *now, sm_text *out);
// Of the slots that a cue fires, those that have fired: "29 of 43 spent: R re-rigs"
bool sm_condition_spent(const sm_snapshot *now, sm_text *out);
// The same without words.
bool sm_condition_any_spent(const sm_snapshot *now);
// "STRAY A-07, B-02: something there that no cue fires"
bool sm_condition_stray(const sm_snapshot *now, sm_text *out);
// The same, without what stands on RAILS (NULL: none).
bool sm_condition_stray_beside(const sm_snapshot *now, const uint32_t rails[2], sm_text *out);
// RAILS (NULL: none) read as plugged in each other's place, and exchanging their plugs is the mend: both are plugged and alike, and
// nothing on either has gone.
bool sm_condition_swapped(const sm_snapshot *now, const uint32_t rails[2]);
// "SPEED 0.5", "repeats 0:10.000 to 0:20.000 SIMULATED RE-RIG"
bool sm_condition_speed(const sm_snapshot *now, sm_text *out);
bool sm_condition_repeat(const sm_snapshot *now, sm_text *out);
// All of these but stray ones, each after ", ".
void sm_conditions_add(const sm_snapshot *now, sm_text *out);

#endif
