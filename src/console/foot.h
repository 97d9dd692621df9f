// SPDX-License-Identifier: GPL-3.0-or-later
// The foot of the screen: the message, what is asked and typed, what it may go on with, and the keys.
#ifndef SLOWMATCH_CONSOLE_FOOT_H
#define SLOWMATCH_CONSOLE_FOOT_H

#include "console/ui.h"

// AREA ends with the keys, above them the message or what is typed, growing upwards over the board.
void sm_foot_draw(sm_ui *ui, sm_area area);
// The rows at the foot of the screen AREA: the keys, and the message with all its rows while nothing is asked.
int sm_foot_rows(const sm_ui *ui, sm_area area);

#endif
