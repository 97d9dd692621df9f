// SPDX-License-Identifier: GPL-3.0-or-later
// What one slot or one flame does, as several boards show it.
#ifndef SLOWMATCH_BOARDS_WORDS_SLOTS_AND_FLAMES_H
#define SLOWMATCH_BOARDS_WORDS_SLOTS_AND_FLAMES_H

#include "slowmatch/engine.h"

// "not fired", "burning", "misfired: LIVE" ... for people.
const char *sm_slot_phase_word(sm_slot_phase phase);

// Misfired, passed over or held back: live, and nothing will fire it.
bool sm_slot_is_left_live(sm_slot_phase phase);

typedef struct sm_flame_view {
    bool is_flame; // else the rest is not set
    bool enabled;  // its enable channel is open
    bool told;     // to burn, by its channels
    bool lit;      // it burns; other than `told` where it has a fault or no feed
    uint8_t level; // of the fire channel
} sm_flame_view;
sm_flame_view sm_flame_look(const sm_snapshot *snapshot, uint32_t fixture);
// Flames that burn now.
uint32_t sm_flames_lit(const sm_snapshot *snapshot);

#endif
