// SPDX-License-Identifier: GPL-3.0-or-later
// Every reader of what comes from outside, in one table, each taking any bytes: fuzzed by tests/tools/fuzz.c, replayed by readers_test.
#ifndef SLOWMATCH_TESTS_READERS_H
#define SLOWMATCH_TESTS_READERS_H

#include "slowmatch/base.h"

// A folder, a show and a drill for all of them; to be called from the top of the tree.
void readers_begin(void);
void readers_end(void);

// Readers are numbered from 0: those of the table, then one a file of a show, called by its name. NULL past the last.
const char *readers_name(size_t reader);
// Appends sound input number I to OUT. False: there are no more.
bool readers_seed(size_t reader, size_t i, sm_text *out);
// Reads BYTES, and uses what came of them as the program would.
void readers_take(size_t reader, const char *bytes, size_t length);

#endif
