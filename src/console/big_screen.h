// SPDX-License-Identifier: GPL-3.0-or-later
// The screen in big figures, to be read across a room: REHEARSAL and the state, show time, how long until what comes next.
#ifndef SLOWMATCH_CONSOLE_BIG_SCREEN_H
#define SLOWMATCH_CONSOLE_BIG_SCREEN_H

#include "boards/view.h"

// Draws them as large as AREA lets them be; where it is small, REHEARSAL or all of it is plain text.
void sm_big_screen_draw(const sm_view *view, sm_area area);

#endif
