// SPDX-License-Identifier: GPL-3.0-or-later
// The rows over the boards that tell of a drill, and its brief.
#ifndef SLOWMATCH_CONSOLE_DRILL_ROWS_H
#define SLOWMATCH_CONSOLE_DRILL_ROWS_H

#include "screen/cells.h"

#include "slowmatch/session.h"

// Rows that it takes at COLUMNS; one when the drill is over, for what comes then needs the room.
int sm_drill_rows_count(const sm_drill_view *view, int columns);
// One row for what was seen or heard last (until then the title), the others for what is next.
void sm_drill_rows_draw(const sm_drill_view *view, const sm_snapshot *snapshot, sm_area area);
// Title and brief; returns the rows taken.
int sm_drill_rows_brief(const sm_drill_view *view, sm_area area);
// The same from row Y of the help on, which may lie above the area: it is scrolled, never cut.
int sm_drill_rows_help(const sm_drill_view *view, sm_area area, int y);

#endif
