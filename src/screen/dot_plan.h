// SPDX-License-Identifier: GPL-3.0-or-later
// A plan in dots: metres to dots and back, and the dots drawn into cells as braille characters. A cell has
// two dots across and four down; it is about twice as high as wide, so that a dot is as wide as it is high and one scale
// serves both directions. (As ASCII a cell keeps its upper and its lower half, see cells.c.)
#ifndef SLOWMATCH_SCREEN_DOT_PLAN_H
#define SLOWMATCH_SCREEN_DOT_PLAN_H

#include "screen/cells.h"

#define SM_PLAN_DOTS_ACROSS 2
#define SM_PLAN_DOTS_DOWN 4

// A rectangle, in metres: x to the right, y away from who looks.
typedef struct sm_plan_bounds {
    double left_m, right_m, near_m, far_m;
} sm_plan_bounds;
// Makes BOUNDS hold X, Y too.
void sm_plan_bounds_add(sm_plan_bounds *bounds, double x_m, double y_m);

// A dot, from the upper left corner. May lie outside.
typedef struct sm_plan_dot {
    int x, y;
} sm_plan_dot;

typedef struct sm_plan {
    int columns, rows; // cells
    double metres_a_dot;
    double left_m, far_m; // of the middle of dot 0, 0
    uint8_t *dots;        // of each cell, a bit a dot as U+2800 has them
    uint8_t *looks;       // sm_look of each cell
    uint8_t *taken;       // of each cell: 1 where text must not go
    size_t room;          // cells of the three
} sm_plan;

void sm_plan_deinit(sm_plan *plan);
// The metres that a dot must stand for so that BOUNDS fits into COLUMNS by ROWS cells (1 and more each); 1 where BOUNDS
// is a point.
double sm_plan_scale(const sm_plan_bounds *bounds, int columns, int rows);
// Empties PLAN and lays BOUNDS into the middle of COLUMNS by ROWS cells. SM_NO_MEMORY: it has no cells then.
SM_MUST_CHECK sm_result sm_plan_fit(sm_plan *plan, const sm_plan_bounds *bounds, int columns, int rows);
// The dot nearest to X, Y.
sm_plan_dot sm_plan_at(const sm_plan *plan, double x_m, double y_m);
// Sets DOT where it lies inside; its cell takes LOOK.
void sm_plan_set(sm_plan *plan, sm_plan_dot dot, sm_look look);
// Every STEP-th dot of the line from FROM to TO (both included), level or upright.
void sm_plan_line(sm_plan *plan, sm_plan_dot from, sm_plan_dot to, int step, sm_look look);
// A dotted ring of RADIUS dots round CENTRE.
void sm_plan_ring(sm_plan *plan, sm_plan_dot centre, double radius, sm_look look);
// Draws the dots at the upper left corner of AREA.
void sm_plan_draw(const sm_plan *plan, sm_area area);

// True where COLUMNS cells from column X of row Y lie inside and are not taken.
bool sm_plan_is_free(const sm_plan *plan, int x, int y, int columns);
void sm_plan_take(sm_plan *plan, int x, int y, int columns);

// The longest of 1, 2, 5 times a power of ten that is at most METRES (over 0).
double sm_plan_round_metres(double metres);

#endif
