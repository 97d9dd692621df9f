// SPDX-License-Identifier: GPL-3.0-or-later
// The demo's course as a trainee takes it who does everything right: lines of drill_play, one script a drill and seat.
#ifndef TESTS_DRILL_SCRIPTS_H
#define TESTS_DRILL_SCRIPTS_H

#include "slowmatch/drill.h"

// Comes to 100. Fails the test where the course has no DRILL. Static.
const char *drill_script_perfect(const char *drill, sm_drill_seat seat);

#endif
