// SPDX-License-Identifier: GPL-3.0-or-later
// Whether a terminal's own paper is dark or light, by what it says of itself. Knows no terminal.
#ifndef SLOWMATCH_SCREEN_TERMINAL_GROUND_H
#define SLOWMATCH_SCREEN_TERMINAL_GROUND_H

#include "screen/theme.h"

// UNKNOWN also where the paper is so grey that neither the dark nor the light palette can be read on all of it.
typedef enum sm_ground { SM_GROUND_UNKNOWN, SM_GROUND_DARK, SM_GROUND_LIGHT } sm_ground;

// Of COLORFGBG ("15;0", "0;default;15"); NULL: not set.
sm_ground sm_ground_of_variable(const char *value);
// Of the answer to OSC 11 without what frames it ("11;rgb:1e1e/1e1e/1e1e").
sm_ground sm_ground_of_answer(const char *answer);
// The palette to paint in where CHOSEN was chosen: plain is as the ground asks for.
sm_palette sm_palette_on(sm_palette chosen, sm_ground ground);

#endif
