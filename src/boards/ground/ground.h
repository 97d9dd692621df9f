// SPDX-License-Identifier: GPL-3.0-or-later
// The plan of the ground as drawn: where each place's dot and name came to stand. Shared by the board and its drawing.
#ifndef SLOWMATCH_BOARDS_GROUND_GROUND_H
#define SLOWMATCH_BOARDS_GROUND_GROUND_H

#include "boards/ground/unit_words.h"
#include "screen/dot_plan.h"

// The name beside a place's dot.
typedef struct sm_ground_label {
    int x, y, columns; // in cells of the plan; columns 0: no room was found
    bool leftward;     // ends at the dot: what is added goes to its left
} sm_ground_label;

typedef struct sm_ground_plan {
    sm_plan plan, bar;       // bar: the scale, one row
    sm_ground_label *labels; // one a place
    uint32_t unnamed;        // places with units that found no room for a name
    int x, y, columns, rows; // where it was drawn on the grid, the scale included
} sm_ground_plan;

void sm_ground_plan_deinit(sm_ground_plan *drawn);
// The bounds of all places of SHOW and the audience front.
sm_plan_bounds sm_ground_bounds(const sm_show *show);
// Draws GROUND into AREA (2 rows and more), the place of unit CURSOR marked. SM_NO_MEMORY: nothing was drawn.
SM_MUST_CHECK sm_result sm_ground_plan_draw(sm_ground_plan *drawn, const sm_ground *ground, uint32_t cursor,
                                            bool focused, sm_area area);
// The place whose dot or name is at X, Y of the plan, else the nearest within two cells; SM_NONE.
uint32_t sm_ground_plan_hit(const sm_ground_plan *drawn, const sm_ground *ground, int x, int y);

#endif
