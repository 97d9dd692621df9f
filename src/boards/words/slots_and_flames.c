// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/words/slots_and_flames.h"

#include <assert.h>

bool sm_slot_is_left_live(sm_slot_phase phase) {
    return phase == SM_SLOT_MISFIRED || phase == SM_SLOT_PASSED || phase == SM_SLOT_HELD;
}

const char *sm_slot_phase_word(sm_slot_phase phase) {
    static const char *const words[] = {
        [SM_SLOT_SPARE] = "spare",
        [SM_SLOT_WAITING] = "not fired",
        [SM_SLOT_FLYING] = "in flight",
        [SM_SLOT_BURNING] = "burning",
        [SM_SLOT_SPENT] = "spent",
        [SM_SLOT_MISFIRED] = "misfired: LIVE",
        [SM_SLOT_PASSED] = "passed over: LIVE",
        [SM_SLOT_HELD] = "held back: LIVE",
    };
    static_assert(sizeof words / sizeof words[0] == SM_SLOT_HELD + 1, "a word for each phase");
    assert(phase <= SM_SLOT_HELD);
    return words[phase];
}
