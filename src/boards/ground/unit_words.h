// SPDX-License-Identifier: GPL-3.0-or-later
// What is said of the units on the ground: short beside the dots of the plan, at length next to it.
#ifndef SLOWMATCH_BOARDS_GROUND_UNIT_WORDS_H
#define SLOWMATCH_BOARDS_GROUND_UNIT_WORDS_H

#include "boards/ground/units.h"
#include "boards/view.h"

// What matters most comes first. At each of the lengths that a plan may have room for.
typedef enum sm_doing_length {
    SM_DOING_WORDS,
    SM_DOING_LETTERS,
    SM_DOING_LETTER,
    SM_DOING_LENGTHS
} sm_doing_length;

// "LIVE 2 burns 7 s", "!2 *7", "!"; nothing where nothing is done. The look of what matters most in *LOOK.
void sm_doing_describe(const sm_doing *doing, sm_doing_length length, sm_look *look, sm_text *out);

// What one line of the letters means, for the help and under the plan.
#define SM_DOING_LEGEND                                                                                      \
    "*2 7: 2 burn, out in 7 s  ^: in flight  !3: 3 slots LIVE  F: FLAME  o: enable open  35%: light"

// The distance of PLACE to the audience front, held against the figure used for it, in words.
void sm_place_distance(const sm_show *show, const sm_place_on_ground *place, sm_text *out);

// What is to be told beside the plan.
typedef struct sm_ground_told {
    const sm_ground *ground;
    uint32_t cursor; // unit
    bool preview;
    sm_show_time at; // of the preview
} sm_ground_told;

// Draws it all from row Y on (which may be above AREA); returns the row behind the last.
int sm_ground_tell(const sm_ground_told *told, const sm_view *view, sm_area area, int y);

#endif
