// SPDX-License-Identifier: GPL-3.0-or-later
// What is done by two different keys: the first asks, Enter does it, any other key leaves it.
#ifndef SLOWMATCH_CONSOLE_MODES_SECOND_KEY_H
#define SLOWMATCH_CONSOLE_MODES_SECOND_KEY_H

#include "console/ui.h"

// Asks for the second key, which does LINE. SAYS as in sm_confirm.
void sm_ui_confirm(sm_ui *ui, sm_act act, const char *line, const char *says);
// The same for ACT, where its state allows it; else it is refused.
void sm_ui_confirm_key(sm_ui *ui, sm_act act);
// Refuses ACT here, where the screen may be behind and the engine would do it unasked: for its state, else BECAUSE.
void sm_ui_refuse(sm_ui *ui, sm_act act, const char *because);
// The second key of what leads to a firing is awaited.
bool sm_ui_asks_to_fire(const sm_ui *ui);
// Goes to TO by LINE, a `seek`. It asks first where ASKS, and where the show runs or is paused and the jump leaves something live.
void sm_ui_jump(sm_ui *ui, const char *line, sm_show_time to, bool asks);

#endif
