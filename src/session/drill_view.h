// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_SESSION_DRILL_VIEW_H
#define SLOWMATCH_SESSION_DRILL_VIEW_H

#include "slowmatch/session.h"

// Fills VIEW from RUN; NULL: no drill.
void sm_drill_view_fill(sm_drill_view *view, const sm_drill_run *run);

#endif
