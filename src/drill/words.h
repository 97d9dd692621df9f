// SPDX-License-Identifier: GPL-3.0-or-later
// Words of a drill's file that have to be in what a trainee says; slowmatch/said.h finds them.
#ifndef DRILL_WORDS_H
#define DRILL_WORDS_H

#include "slowmatch/said.h"

// Every alternative of WORDS has a word in it.
bool drill_words_are_whole(const char *words);

#endif
