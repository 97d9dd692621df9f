// SPDX-License-Identifier: GPL-3.0-or-later
// Tests that mostly wait, several at once, each in a process of its own.
#ifndef SLOWMATCH_TESTS_AT_ONCE_H
#define SLOWMATCH_TESTS_AT_ONCE_H

#include <stddef.h>

// Runs COUNT TESTS (struct CMUnitTest; at most AT_ONCE_MAX), WIDTH at once, each by starting this program anew with the test's name as its
// argument. As the end of main, with main's ARGV. What they say is told in their order; cmocka counts them as if they had run here. None
// may be skipped.
#define AT_ONCE_MAX 24
struct CMUnitTest;
int at_once_run(const char *group, const struct CMUnitTest *tests, size_t count, size_t width, char **argv);

#endif
