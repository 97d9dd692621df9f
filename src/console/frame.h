// SPDX-License-Identifier: GPL-3.0-or-later
// Draws the whole screen.
#ifndef SLOWMATCH_CONSOLE_FRAME_H
#define SLOWMATCH_CONSOLE_FRAME_H

#include "console/ui.h"

void sm_frame_draw(sm_ui *ui, sm_cells *cells);

#endif
