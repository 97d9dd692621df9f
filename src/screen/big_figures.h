// SPDX-License-Identifier: GPL-3.0-or-later
// Big figures and capitals, to be read across a room. They are drawn from whole blocks, five dots high, so that they read
// without colour and in ASCII.
#ifndef SLOWMATCH_SCREEN_BIG_FIGURES_H
#define SLOWMATCH_SCREEN_BIG_FIGURES_H

#include "screen/cells.h"

#define SM_FIGURE_ROWS 5 // dots

// Draws TEXT with SCALE rows a dot, as wide as there is room for, up to two columns a row. It is plain text where there is no
// room, or where a character has no figure.
void sm_figures_draw(sm_area area, int scale, sm_look look, const char *text);
// TEXT has figures in COLUMNS columns.
bool sm_figures_fit(const char *text, int columns);

#endif
