// SPDX-License-Identifier: GPL-3.0-or-later
// Keys and mouse of a mode that only shows rows: they scroll, anything else leaves.
#ifndef SLOWMATCH_CONSOLE_MODES_SCROLLED_H
#define SLOWMATCH_CONSOLE_MODES_SCROLLED_H

#include "console/modes/mode.h"

void sm_scrolled_press(sm_ui *ui, int key);
bool sm_scrolled_point(sm_ui *ui, sm_hit hit, sm_mouse mouse);
void sm_scrolled_keys(sm_ui *ui, sm_area row, int x);

#endif
