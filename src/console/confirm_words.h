// SPDX-License-Identifier: GPL-3.0-or-later
// What an action that asks for a second key will do as things stand, in words appended to OUT.
#ifndef SLOWMATCH_CONSOLE_CONFIRM_WORDS_H
#define SLOWMATCH_CONSOLE_CONFIRM_WORDS_H

#include "boards/view.h"

void sm_confirm_describe(const sm_view *view, sm_act act, sm_text *out);
// A jump to MOMENT.
void sm_jump_describe(const sm_view *view, sm_show_time moment, sm_text *out);
// "arm will be refused: A-05 open, C-08 short; F3 looks.", appended to OUT, where the engine would refuse ACT now. False: it would not.
bool sm_confirm_describe_refusal(const sm_view *view, sm_act act, sm_text *out);
// A jump to MOMENT passes over something that has not fired yet.
bool sm_jump_leaves_live(const sm_snapshot *now, sm_show_time moment);
// "IN FIELD 1: K; everybody out first. ", appended to OUT, where somebody is.
void sm_confirm_add_people(const sm_snapshot *now, sm_text *out);
// What would be started with and is easily forgotten.
void sm_confirm_add_standing(const sm_snapshot *now, sm_text *out);

#endif
