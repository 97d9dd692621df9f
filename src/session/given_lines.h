// SPDX-License-Identifier: GPL-3.0-or-later
// Lines that wait for the driver, in room set aside at the start that grows where it must. The last of it takes nothing but stops, so that a
// stop never needs memory. Whoever uses it holds the session's lock.
#ifndef SLOWMATCH_SESSION_GIVEN_LINES_H
#define SLOWMATCH_SESSION_GIVEN_LINES_H

#include "slowmatch/session.h"

#define SM_LINES_FOR_STOPS 8

typedef enum sm_stop {
    SM_STOP_NONE,
    SM_STOP_PAUSE,
    SM_STOP_SAFE // safe, key off, quit
} sm_stop;

typedef struct sm_given_line {
    sm_source source;
    char seat[SM_SEAT_NAME]; // of that source, "": none
    sm_stop stop;            // by whatever hand
    char text[SM_SESSION_LINE];
} sm_given_line;

typedef struct sm_given_lines {
    sm_given_line *ring; // room of them
    size_t room, first, count;
    uint64_t given, done; // ever
} sm_given_lines;

// SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_given_init(sm_given_lines *lines);
void sm_given_deinit(sm_given_lines *lines); // {0} is taken
// False: memory ran out, or TEXT is too long; never so of a stop, which where no room is left stands in place of the newest,
// unless that is the stronger.
bool sm_given_put(sm_given_lines *lines, sm_source source, const char *seat, const char *text);
// The oldest line into OUT. False: none waits.
bool sm_given_take(sm_given_lines *lines, sm_given_line *out);
// How many lines there are up to the last stop; 0: no stop waits.
size_t sm_given_to_last_stop(const sm_given_lines *lines);

#endif
