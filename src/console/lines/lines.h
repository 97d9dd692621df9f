// SPDX-License-Identifier: GPL-3.0-or-later
// The console as lines: for a dumb terminal, a slow line, a screen reader, a pipe. It is the same ui as on the screen (its questions,
// its command line, its boards), of which each line that is typed is one answer, and nothing is drawn twice.
#ifndef SLOWMATCH_CONSOLE_LINES_LINES_H
#define SLOWMATCH_CONSOLE_LINES_LINES_H

#include "console/lines/out.h"
#include "console/rehearsal_view.h"

// Which rows of the log are told as they come.
typedef enum sm_lines_rows {
    SM_LINES_SOME, // all but those of fixtures; what was passed over in one line
    SM_LINES_ALL,
    SM_LINES_NONE
} sm_lines_rows;

typedef struct sm_lines {
    sm_rehearsal_view seen;
    sm_lines_out out;
    sm_lines_rows rows;
    bool asked_anew;  // something is asked that has not been put yet
    bool shows_board; // the board at hand is to be printed
    bool late;        // the answer to the latest line, when it was last prompted
    bool typed;       // a line was, and its prompt says everything
    // What was told last:
    uint64_t told_rows, left_out;
    sm_alerts told_alerts;
    char told_hint[240], told_step[160], told_message[448];
    sm_us seen_us, marked_us, hinted_us;
    sm_state told_state;
    uint32_t told_people;
    bool told_over;
} sm_lines;

#endif
