// SPDX-License-Identifier: GPL-3.0-or-later
// What an action that asks for a second key will do as things stand, in words appended to OUT.
#ifndef SLOWMATCH_CONSOLE_CONSEQUENCES_H
#define SLOWMATCH_CONSOLE_CONSEQUENCES_H

#include "boards/view.h"

void sm_confirm_describe(const sm_view *view, sm_act act, sm_text *out);
// A jump to MOMENT.
void sm_jump_describe(const sm_view *view, sm_show_time moment, sm_text *out);
// Which guards that ACT asks are NOT MET, and why.
void sm_confirm_add_unmet(const sm_snapshot *now, sm_act act, sm_text *out);
// What would be started with and is easily forgotten.
void sm_confirm_add_standing(const sm_snapshot *now, sm_text *out);

#endif
