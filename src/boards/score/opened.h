// SPDX-License-Identifier: GPL-3.0-or-later
// Rows of the score over its cue lines: an instant of several lines is one row, its heading, and once opened also its lines.
#ifndef SLOWMATCH_BOARDS_SCORE_OPENED_H
#define SLOWMATCH_BOARDS_SCORE_OPENED_H

#include "boards/score/cue_lines.h"

// The instants that were opened, by when they are due, so that they stay so under another filter. {0} is a valid empty one.
typedef struct sm_opened {
    sm_us *due_us; // sorted
    size_t count;
} sm_opened;

void sm_opened_deinit(sm_opened *opened);
bool sm_opened_has(const sm_opened *opened, sm_us due_us);
// False: memory ran out, nothing has changed.
SM_MUST_CHECK bool sm_opened_set(sm_opened *opened, sm_us due_us, bool open);

typedef struct sm_row {
    uint32_t instant; // instant_count: behind the last row
    uint32_t line;    // SM_NONE: the heading of several lines
} sm_row;

bool sm_row_same(sm_row a, sm_row b);
// The first row of INSTANT.
sm_row sm_row_start(const sm_cue_lines *lines, uint32_t instant);
// The row that LINE is in: its own, or the heading that stands for it.
sm_row sm_row_of(const sm_cue_lines *lines, const sm_opened *opened, uint32_t line);
// The rows around ROW; ROW itself at the ends.
sm_row sm_row_next(const sm_cue_lines *lines, const sm_opened *opened, sm_row row);
sm_row sm_row_before(const sm_cue_lines *lines, const sm_opened *opened, sm_row row);
bool sm_row_is_end(const sm_cue_lines *lines, sm_row row);
// First of the lines that ROW stands for.
uint32_t sm_row_line(const sm_cue_lines *lines, sm_row row);

#endif
