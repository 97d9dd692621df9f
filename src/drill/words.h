// SPDX-License-Identifier: GPL-3.0-or-later
// What has to be in an answer or a note: `words = stay/out/back, K`.
#ifndef DRILL_WORDS_H
#define DRILL_WORDS_H

#include "slowmatch/show.h"

// TEXT has one alternative of each group of WORDS, and none of a group that begins with !. SHOW (may be NULL) says which alternatives are slots.
bool drill_words_said(const sm_show *show, const char *words, const char *text);
// Every alternative of WORDS has a word in it.
bool drill_words_are_whole(const char *words);

#endif
