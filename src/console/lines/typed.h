// SPDX-License-Identifier: GPL-3.0-or-later
// What a typed line does.
#ifndef SLOWMATCH_CONSOLE_LINES_TYPED_H
#define SLOWMATCH_CONSOLE_LINES_TYPED_H

#include "console/lines/lines.h"

// Does LINE, without its line feed: an answer to what is asked; else a stop, an action, a board, a key.
void sm_lines_typed(sm_lines *lines, const char *line);

#endif
