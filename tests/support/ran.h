// SPDX-License-Identifier: GPL-3.0-or-later
// The built program run to its end, without a shell between, so that its words may hold any byte.
#ifndef SLOWMATCH_TESTS_RAN_H
#define SLOWMATCH_TESTS_RAN_H

#include "slowmatch/base.h"

#define RAN_WORDS 16

typedef struct ran {
    sm_text out, err; // what it wrote to descriptors 1 and 2
    int status;       // of its exit; minus the signal that it died of
} ran;

// Runs the built slowmatch with WORDS (NULL behind the last), TYPED (NULL: nothing) on its standard input. Fails the test when it has not
// ended after a minute. The caller frees.
ran ran_slowmatch(const char *const words[], const char *typed);
void ran_free(ran *r);

// Fails the test unless PART is in SAID.
void ran_expect(const sm_text *said, const char *part);
// A shell's LINE in FOLDER (".": the top of the tree), where $S is the program and $DEMOS the folder of the demo shows. Both its outputs replace what was in SAID. Returns
// the exit status; fails the test where a signal ended the shell.
int ran_line(const char *folder, const char *line, sm_text *said);

#endif
