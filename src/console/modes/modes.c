// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/modes/modes.h"

#include <assert.h>

const sm_mode *sm_mode_of(sm_ui_mode mode) {
    static const sm_mode *const modes[] = {
        [SM_UI_FIRST] = &sm_mode_first,     [SM_UI_BOARD] = &sm_mode_board,
        [SM_UI_PROMPT] = &sm_mode_prompt,   [SM_UI_CONFIRM] = &sm_mode_confirm,
        [SM_UI_INHIBIT] = &sm_mode_inhibit, [SM_UI_HELP] = &sm_mode_help,
        [SM_UI_ALERTS] = &sm_mode_alerts,   [SM_UI_TUNE] = &sm_mode_tune,
        [SM_UI_APPLY] = &sm_mode_apply,
    };
    static_assert(sizeof modes / sizeof modes[0] == SM_UI_MODES, "a table for each mode");
    assert(mode < SM_UI_MODES);
    return modes[mode];
}
