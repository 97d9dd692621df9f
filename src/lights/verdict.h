// SPDX-License-Identifier: GPL-3.0-or-later
// Slots that the judge has let pass. Nothing else is ever sent: the one function that sends takes a verdict, and a verdict that the
// judge did not make does not hold.
#ifndef SLOWMATCH_LIGHTS_VERDICT_H
#define SLOWMATCH_LIGHTS_VERDICT_H

#include "slowmatch/sacn.h"

typedef struct lights_verdict {
    int32_t universe;
    uint8_t slots[SM_SACN_SLOTS];
    uint8_t owned[SM_SACN_SLOTS / 8]; // bit s % 8 of byte s / 8: slot s + 1 is a named channel of a light
    uint32_t seal;                    // the judge's
} lights_verdict;

#endif
