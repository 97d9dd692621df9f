// SPDX-License-Identifier: GPL-3.0-or-later
// What a sheet of paper shows, taken back out of the HTML by reading it as HTML: nothing of the part that made it is used.
#ifndef SLOWMATCH_TESTS_PAPER_TEXT_H
#define SLOWMATCH_TESTS_PAPER_TEXT_H

#include "slowmatch/base.h"

// The text between the tags of LENGTH bytes at HTML, entities undone, a line break at <br> and a blank at other tags; for boxes and the
// shapes of drawings the tag as it stands. The caller deinits it.
sm_text paper_text_of(const char *html, size_t length);
// The next `<NAME` or `<NAME ...>` behind AT, NULL: none.
const char *paper_text_tag(const char *at, const char *name);

#endif
