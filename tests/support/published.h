// SPDX-License-Identifier: GPL-3.0-or-later
// Figures held against a source outside the project, one line of `make test` a family: the source, how many values,
// the worst deviation.
#ifndef SLOWMATCH_TESTS_PUBLISHED_H
#define SLOWMATCH_TESTS_PUBLISHED_H

#include <stddef.h>

typedef struct published {
    const char *family, *source; // the source with how it is known
    size_t values;
    double worst; // relative
} published;

// Fails the test unless VALUE lies within RELATIVE of EXPECTED (within RELATIVE itself where EXPECTED is 0).
#define published_hold(family, value, expected, relative)                                                    \
    published_hold_at(family, value, expected, relative, __FILE__, __LINE__)
void published_hold_at(published *family, double value, double expected, double relative, const char *file,
                       int line);
// Prints the family's line; fails the test where nothing was held.
void published_print(const published *family);

#endif
