// SPDX-License-Identifier: GPL-3.0-or-later
// What the lines tell: rows and alerts when they come, what is asked, and at each prompt the state and the next step.
#ifndef SLOWMATCH_CONSOLE_LINES_TOLD_H
#define SLOWMATCH_CONSOLE_LINES_TOLD_H

#include "console/lines/lines.h"

// What is there already when it begins is no news.
void sm_lines_told_begin(sm_lines *lines);
// The word that is typed for ACT, in place of a key.
bool sm_lines_word_of(sm_act act, char word[16]);
// Tells what is new since the last time.
void sm_lines_tell(sm_lines *lines);
// What is asked, or the state and the next step where they have changed or a line was typed; then the prompt.
void sm_lines_prompt(sm_lines *lines);

#endif
