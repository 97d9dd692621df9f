// SPDX-License-Identifier: GPL-3.0-or-later
// The most pressing alert on one line, and the next step with its key.
#ifndef SLOWMATCH_BOARDS_WORDS_ALERT_LINE_H
#define SLOWMATCH_BOARDS_WORDS_ALERT_LINE_H

#include "boards/view.h"

// "WARNING IN FIELD 1: K 21:14. Make safe, key off +2 more", appended to OUT so that it takes at most COLUMNS (40 and more): what is
// cut is never the rank, the essential words, or how many more there are. Returns its look. Nothing where nothing stands.
sm_look sm_alert_line(const sm_view *view, int columns, sm_text *out);
// The look of RANK: told apart without colour too.
sm_look sm_alert_look(sm_alert_rank rank);
// What does the next step (in a drill its hint's), SM_ACT_COUNT: nothing here does, or it is not told.
sm_act sm_view_next_act(const sm_view *view);
// Appends what the next step is about where ACT does it, as ACT takes it: "A-02", "A", "A B". False: it is not, or is not told.
bool sm_view_next_target(const sm_view *view, sm_act act, sm_text *out);
// "[P] plug rail A at the module end": the next step, its key before it where it has one. In a drill it is the drill's hint. False, nothing
// put: a drill that gives no hints by itself gives no step away either, nor does one that is followed.
bool sm_next_step_describe(const sm_view *view, sm_text *out);

#endif
