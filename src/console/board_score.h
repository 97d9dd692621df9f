// SPDX-License-Identifier: GPL-3.0-or-later
// What the files of the score share: how one of its rows is drawn.
#ifndef SLOWMATCH_CONSOLE_BOARD_SCORE_H
#define SLOWMATCH_CONSOLE_BOARD_SCORE_H

#include "console/fold.h"
#include "console/view.h"

typedef struct sm_score_row {
    sm_row row;
    bool past;
    bool next; // among what is due next
    bool open; // a heading whose lines are shown under it
    bool selected;
} sm_score_row;

void sm_score_row_draw(const sm_view *view, const sm_roll *roll, sm_area area, int y,
                       const sm_score_row *row);
// "A-01 fountain +1": what fires at the moment of EVENT, a firing; appended to OUT.
void sm_score_firing_format(const sm_view *view, uint32_t event, sm_text *out);
// What is in the air, burning and in flame.
void sm_score_burning_draw(const sm_view *view, sm_area area);

#endif
