// SPDX-License-Identifier: GPL-3.0-or-later
// The row that tells the latest call from a person: who, how long ago, what, and whether it was answered. Only the next
// call takes its place.
#ifndef SLOWMATCH_CONSOLE_CALL_ROW_H
#define SLOWMATCH_CONSOLE_CALL_ROW_H

#include "boards/view.h"

// Draws it into the first row of AREA; returns the rows taken, 0 where nobody has called.
int sm_call_row_draw(const sm_view *view, sm_area area);
// The row has room for the whole of the latest call on a screen of COLUMNS.
bool sm_call_fits(const sm_snapshot *snapshot, int columns);

#endif
