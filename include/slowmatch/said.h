// SPDX-License-Identifier: GPL-3.0-or-later
// What has to be in an answer, a note or a read-back: `words = stay/out/back, K`. Any thread, nothing is kept.
#ifndef SLOWMATCH_SAID_H
#define SLOWMATCH_SAID_H

#include "slowmatch/show.h"

// TEXT has one alternative of each group of WORDS, and none of a group that begins with !. SHOW (may be NULL) says which alternatives are slots.
bool sm_words_said(const sm_show *show, const char *words, const char *text);

#endif
