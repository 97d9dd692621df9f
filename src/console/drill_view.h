// SPDX-License-Identifier: GPL-3.0-or-later
// What the screen shows of a drill: the latest thing to be seen or heard, what is next, what was marked. Copied out of the run.
#ifndef SLOWMATCH_CONSOLE_DRILL_VIEW_H
#define SLOWMATCH_CONSOLE_DRILL_VIEW_H

#include "console/cells.h"

#include "slowmatch/drill.h"

typedef struct sm_drill_view {
    const sm_drill *drill; // NULL: no drill
    bool over, held, broken_off;
    char hint[240];
    sm_act next;     // what it is about, SM_ACT_COUNT: nothing
    char marked[96]; // the latest mark, "" while there is none
    sm_wall_time marked_at;
    char asked[240]; // the latest hint that was asked for, "" while there is none
    sm_wall_time asked_at;
} sm_drill_view;

// Fills VIEW from RUN; NULL: no drill.
void sm_drill_view_fill(sm_drill_view *view, const sm_drill_run *run);

// Rows that it takes at COLUMNS; one when the drill is over, for what comes then needs the room.
int sm_drill_view_rows(const sm_drill_view *view, int columns);
// One row for what was seen or heard last (until then the title), the others for what is next.
void sm_drill_view_draw(const sm_drill_view *view, const sm_snapshot *snapshot, sm_area area);
// Title and brief; returns the rows taken.
int sm_drill_view_brief(const sm_drill_view *view, sm_area area);
// The same from row Y of the help on, which may lie above the area: it is scrolled, never cut.
int sm_drill_view_help(const sm_drill_view *view, sm_area area, int y);

#endif
