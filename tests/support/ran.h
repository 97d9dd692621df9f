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

#endif
