// SPDX-License-Identifier: GPL-3.0-or-later
// The screen as data: a grid of cells to draw into. What a cell looks like is said by meaning; terminal.c turns that into
// what the terminal at hand can do. Knows no terminal, so that tests can read the grid.
#ifndef SLOWMATCH_SCREEN_CELLS_H
#define SLOWMATCH_SCREEN_CELLS_H

#include "slowmatch/base.h"

// What a cell is for. Who draws says what stands for a badge or for a kind.
typedef enum sm_look {
    SM_LOOK_PLAIN,
    SM_LOOK_TITLE,
    SM_LOOK_BADGE,       // a word in a fixed place that says how things stand
    SM_LOOK_BADGE_ALERT, // the same while it matters most
    SM_LOOK_HEADING,
    SM_LOOK_NOW,    // where time stands, what comes next
    SM_LOOK_WARN,   // what a person must not miss
    SM_LOOK_KIND_A, // three kinds of things that are told apart
    SM_LOOK_KIND_B,
    SM_LOOK_KIND_C,
    SM_LOOK_DIM,        // beside the matter: past, spare, units
    SM_LOOK_SELECTED,   // under the cursor
    SM_LOOK_KEY,        // a key to press
    SM_LOOK_STOP,       // the key that stops
    SM_LOOK_SHAPE,      // a shape, no text
    SM_LOOK_SHAPE_PAST, // likewise
    SM_LOOK_COUNT
} sm_look;

// One column of one row. A wide character fills its cell and leaves the next one with width 0.
typedef struct sm_cell {
    char text[14]; // UTF-8: one character and what combines with it; NUL-terminated
    uint8_t width; // 1, 2, or 0 for the right half of a wide character
    uint8_t look;  // sm_look
} sm_cell;

typedef struct sm_cells sm_cells;

// The most that is drawn: a screen of 7680 by 4320 dots has fewer in letters of 4 by 9.
#define SM_CELLS_COLUMNS_MAX 2000
#define SM_CELLS_ROWS_MAX 500

// COLUMNS and ROWS from 1 up to these. All blank. NULL when memory runs out.
sm_cells *sm_cells_create(int columns, int rows);
void sm_cells_destroy(sm_cells *cells);
int sm_cells_columns(const sm_cells *cells);
int sm_cells_rows(const sm_cells *cells);
void sm_cells_clear(sm_cells *cells);
// Makes TO (of the same size) the same as FROM.
void sm_cells_copy(sm_cells *to, const sm_cells *from);
const sm_cell *sm_cells_at(const sm_cells *cells, int column, int row);
// Row ROW as text without the blanks at its end, appended to OUT.
void sm_cells_row_text(const sm_cells *cells, int row, sm_text *out);
// Puts in place of every character outside ASCII the nearest in it, '?' for those that have none.
void sm_cells_to_ascii(sm_cells *cells);

// A rectangle of the grid. Drawing outside of it is cut off; coordinates count from its upper left corner.
typedef struct sm_area {
    sm_cells *cells;
    int x, y, columns, rows;
} sm_area;

sm_area sm_area_of(sm_cells *cells);
// The part of AREA at X, Y, cut to what lies inside.
sm_area sm_area_part(sm_area area, int x, int y, int columns, int rows);
// Draws TEXT (UTF-8; what is not harmless becomes '?') and returns how many columns it takes when
// nothing is cut off.
int sm_area_text(sm_area area, int x, int y, sm_look look, const char *text);
int sm_area_printf(sm_area area, int x, int y, sm_look look, const char *format, ...) SM_PRINTF(5, 6);
// Draws TEXT in a field of COLUMNS columns: cut with an ellipsis when it is longer, blanks after it when shorter.
void sm_area_field(sm_area area, int x, int y, int columns, sm_look look, const char *text);
// Gives COLUMNS cells from X on another look.
void sm_area_look(sm_area area, int x, int y, int columns, sm_look look);
// Draws TEXT over as many rows as it needs, broken at blanks, from row Y on; returns the rows it needs at this width.
// Lines after the first begin at column INDENT.
int sm_area_wrap(sm_area area, int y, int indent, sm_look look, const char *text);
// The same from row 0 on; where it needs more rows than AREA has, the last one ends in an ellipsis.
void sm_area_wrap_cut(sm_area area, int indent, sm_look look, const char *text);

// Columns that TEXT takes on a terminal.
int sm_text_columns(const char *text);

#endif
