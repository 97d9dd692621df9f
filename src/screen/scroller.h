// SPDX-License-Identifier: GPL-3.0-or-later
// What scrolls: which rows are in sight, and the keys that move them.
#ifndef SLOWMATCH_SCREEN_SCROLLER_H
#define SLOWMATCH_SCREEN_SCROLLER_H

#include "screen/cells.h"

// {0} is a valid one, at the top.
typedef struct sm_scroller {
    int top;    // the first row in sight
    int rows;   // that there is room for, as drawn last
    int needed; // to show everything, as drawn last
} sm_scroller;

// After drawing from row -top on: Y is the row behind the last. Comes back when there is less than there was.
void sm_scroller_drawn(sm_scroller *scroller, int y, int rows);
// The same; where rows are left below, the last row of AREA says how many.
void sm_scroller_drawn_in(sm_scroller *scroller, int y, sm_area area);
// Up, Down, PageUp, PageDown. False: KEY is another one.
bool sm_scroller_press(sm_scroller *scroller, int key);

// The TOP nearest to the one given at which ROW of COUNT rows is in sight in ROOM rows.
int sm_scroll_to(int top, int row, int count, int room);

#endif
