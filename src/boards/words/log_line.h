// SPDX-License-Identifier: GPL-3.0-or-later
// A row of the log in words.
#ifndef SLOWMATCH_BOARDS_WORDS_LOG_LINE_H
#define SLOWMATCH_BOARDS_WORDS_LOG_LINE_H

#include "slowmatch/session.h"

// "219 fire A-05 comet-white", appended to OUT.
void sm_log_line(const sm_recent_row *row, sm_text *out);

#endif
