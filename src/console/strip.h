// SPDX-License-Identifier: GPL-3.0-or-later
// The strip: the music of the whole show as a shape, a tick for each cue, the playhead.
#ifndef SLOWMATCH_CONSOLE_STRIP_H
#define SLOWMATCH_CONSOLE_STRIP_H

#include "console/view.h"

typedef struct sm_strip sm_strip;

sm_strip *sm_strip_create(void); // NULL: no memory
void sm_strip_destroy(sm_strip *strip);
// The show has changed: what was counted is counted anew.
void sm_strip_forget(sm_strip *strip);
// Fills AREA (at least two rows): the music above, the ticks in the last row.
void sm_strip_draw(sm_strip *strip, const sm_view *view, sm_area area);

#endif
