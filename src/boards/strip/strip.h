// SPDX-License-Identifier: GPL-3.0-or-later
// The strip: the music as a shape, pyro ticks, spans of flame, how much the lights do, marks, the repeat stretch, the
// playhead; of the whole show or, closer, of a stretch round now.
#ifndef SLOWMATCH_BOARDS_STRIP_H
#define SLOWMATCH_BOARDS_STRIP_H

#include "boards/view.h"

// The shortest stretch that fills the strip.
#define SM_STRIP_LEAST_US (5 * SM_US_PER_S)

typedef struct sm_strip sm_strip;

typedef struct sm_strip_window {
    sm_us from_us, to_us;
} sm_strip_window;
// The stretch that is shown of a show of LENGTH_US at NOW_US. Each of CLOSER steps halves the whole. The stretch moves by half
// its length at a time: so now lies between its first and its last quarter, and the picture mostly stands still.
sm_strip_window sm_strip_window_at(sm_us length_us, sm_us now_us, int closer);

sm_strip *sm_strip_create(void); // NULL: no memory
void sm_strip_destroy(sm_strip *strip);
// The show has changed: what was counted is counted anew.
void sm_strip_forget(sm_strip *strip);
// Fills AREA (at least two rows).
void sm_strip_draw(sm_strip *strip, const sm_view *view, sm_area area);
// A step closer or wider; there is nothing beyond the whole show and SM_STRIP_LEAST_US.
void sm_strip_zoom(sm_strip *strip, const sm_show *show, bool closer);
// The moment at column X of the strip as drawn last; that of a mark where one stands. False: it was not drawn.
bool sm_strip_moment(const sm_strip *strip, const sm_view *view, int x, sm_show_time *out);

// A stretch of the show in which some flame burns, by the score.
typedef struct sm_strip_span {
    sm_us from_us, to_us;
} sm_strip_span;
// All of them, of all flame units, in no order, into *OUT (the caller frees it). SM_NO_MEMORY: unchanged.
SM_MUST_CHECK sm_result sm_strip_flames(const sm_show *show, sm_strip_span **out, size_t *count);

#endif
