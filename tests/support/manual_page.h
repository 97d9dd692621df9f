// SPDX-License-Identifier: GPL-3.0-or-later
// Pages of the manual that are written by the code are committed, so that they can be read and installed.
#ifndef SLOWMATCH_TESTS_MANUAL_PAGE_H
#define SLOWMATCH_TESTS_MANUAL_PAGE_H

#include "slowmatch/base.h"

// Fails the test where the file at PATH is not what MAKE appends; SLOWMATCH_WRITE_MANUAL=1 writes it anew first.
void manual_page_expect_fresh(const char *path, void (*make)(sm_text *out));

#endif
