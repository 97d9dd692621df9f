// SPDX-License-Identifier: GPL-3.0-or-later
// The paper of every demo show, for tests of how it is printed.
#ifndef SLOWMATCH_TESTS_PAPER_DEMOS_H
#define SLOWMATCH_TESTS_PAPER_DEMOS_H

#include "paper_pdf.h"

// Calls CHECK for each demo show.
void paper_demos_each(void (*check)(const char *html, const sm_show *show));
// Lays the paper of SHOW out. Of a show with more than PAPER_DEMOS_WHOLE firings the sheets SOME stand for all: other programs take
// minutes for hundreds of pages. The long run (SLOWMATCH_SOAK) lays all of them out.
enum { PAPER_DEMOS_WHOLE = 200 };
void paper_demos_lay_out(const char *html, const sm_show *show, const char *some, paper_size size);

#endif
