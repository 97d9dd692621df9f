// SPDX-License-Identifier: GPL-3.0-or-later
// What the screen says to people, and what it has its owner do.
#ifndef SLOWMATCH_CONSOLE_TELL_H
#define SLOWMATCH_CONSOLE_TELL_H

#include "console/ui.h"

// Says TEXT in the message's row.
void sm_ui_say(sm_ui *ui, sm_outcome_kind kind, const char *text);
// Says that this screen acts on nothing, and what to do in its place.
// What a follower asks for that goes to another rehearsal; no action.
#define SM_NEXT_RUN "next-run"

void sm_ui_only_follows(sm_ui *ui);
// Whoever follows at a seat may do ACT there now.
bool sm_ui_seat_may(const sm_view *view, sm_act act);
// Does the action LINE; of a rehearsal that is told elsewhere none but `quit`, which leaves the screen, and at a seat `hold`, which is what
// any stop becomes there; in a drill whatever is that seat's.
void sm_ui_do(sm_ui *ui, const char *line);

#endif
