// SPDX-License-Identifier: GPL-3.0-or-later
// The one line that turns a screen of readings into what is wrong with the rig, made anew when a reading changes.
#ifndef SLOWMATCH_RIG_EXPLAINER_H
#define SLOWMATCH_RIG_EXPLAINER_H

#include "slowmatch/engine.h"

// {0} is a valid one. deinit frees what it keeps.
typedef struct sm_rig_explainer {
    const sm_show *show;   // not owned
    sm_read_value *values; // that the line was made from
    uint32_t slot_count;
    sm_text text;
    uint32_t swapped[2]; // the two rails, where that explains most; SM_NONE
} sm_rig_explainer;

void sm_rig_explainer_deinit(sm_rig_explainer *explainer);
// The best explanation of what SNAPSHOT's readings show, one sentence, "" where there is none (or memory ran out). Owned by EXPLAINER, good
// until the next look. Diagnosing takes some 20 ms at 64 rails of 32 slots, nothing while the readings stay.
const char *sm_rig_explainer_look(sm_rig_explainer *explainer, const sm_snapshot *snapshot);

#endif
