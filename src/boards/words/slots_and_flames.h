// SPDX-License-Identifier: GPL-3.0-or-later
// What one slot or one flame does, as several boards show it.
#ifndef SLOWMATCH_BOARDS_WORDS_SLOTS_AND_FLAMES_H
#define SLOWMATCH_BOARDS_WORDS_SLOTS_AND_FLAMES_H

#include "slowmatch/engine.h"

// "not fired", "burning", "misfired: LIVE" ... for people.
const char *sm_slot_phase_word(sm_slot_phase phase);

// Misfired, passed over or held back: live, and nothing will fire it.
bool sm_slot_is_left_live(sm_slot_phase phase);

#endif
