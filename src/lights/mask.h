// SPDX-License-Identifier: GPL-3.0-or-later
// What may ever leave the sending process, made from the tables that it has read by itself. Shares no code with frame and judge.
#ifndef SLOWMATCH_LIGHTS_MASK_H
#define SLOWMATCH_LIGHTS_MASK_H

#include "slowmatch/sacn.h"
#include "slowmatch/show.h"

typedef struct lights_mask {
    int32_t universe;
    bool spoiled;                      // something in it is no light: nothing of it is ever sent
    uint8_t bits[SM_SACN_SLOTS];       // 0xFF: a named channel of a light; 0: anything else
    uint8_t home[SM_SACN_SLOTS];       // of these
    uint8_t opened[SM_SACN_SLOTS / 8]; // the same as bits: bit s % 8 of byte s / 8
} lights_mask;

typedef struct lights_masks {
    lights_mask *masks; // in the order of their first fixture or line
    size_t count;
} lights_masks;

// From the tables of SHOW, which is not needed afterwards. SM_NO_MEMORY. The caller frees MASKS.
SM_MUST_CHECK sm_result lights_masks_make(const sm_show *show, lights_masks *out);
// NULL: none, or it is spoiled.
const lights_mask *lights_mask_find(const lights_masks *masks, int32_t universe);

#endif
