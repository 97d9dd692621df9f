// SPDX-License-Identifier: GPL-3.0-or-later
// What a typed line does.
#ifndef SLOWMATCH_CONSOLE_LINES_TYPED_H
#define SLOWMATCH_CONSOLE_LINES_TYPED_H

#include "console/lines/lines.h"

// Does LINE, without its line feed: an answer to what is asked; else a stop, an action, a board, a key.
// LINE is one of those that stop, which are taken whatever is asked.
bool sm_lines_stops(const char *line);
void sm_lines_typed(sm_lines *lines, const char *line);

#endif
