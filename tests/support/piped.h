// SPDX-License-Identifier: GPL-3.0-or-later
// The console as lines over the short show, between two pipes.
#ifndef SLOWMATCH_TESTS_PIPED_H
#define SLOWMATCH_TESTS_PIPED_H

#include "short_show.h"

#include <stdbool.h>
#include <sys/types.h>

#define PATIENCE_MS 20000 // that only a hanging program meets

// The program between two pipes.
typedef struct piped {
    short_show show;
    char program[512], log[384];
    pid_t pid;
    int in, out; // -1: closed
    char text[256 * 1024];
    size_t length, read_to; // what was expected stands before it
} piped;

typedef enum piped_closed { NOTHING_CLOSED, STDIN_CLOSED, STDOUT_CLOSED } piped_closed;

void piped_start_with(piped *p, piped_closed which);
void piped_start(piped *p);
// Reads what comes within MS. False: nothing did, or no more will.
bool piped_hear(piped *p, int ms);
// TEXT comes, behind what was expected before.
void piped_expect_at(piped *p, const char *text, int line);
// The first next step that is named behind what was expected is this one.
void piped_expect_next_at(piped *p, const char *text, int line);
void piped_type(piped *p, const char *text);
// The end of the program, within patience; its output is read meanwhile if READS.
int piped_ended(piped *p, bool reads);
void piped_finish(piped *p);
void piped_expect_ended(piped *p, int with);
// TEXTS stand in the log in this order; NULL at the end.
void piped_expect_log(piped *p, const char *const *texts);
// Up to the answer of the first question.
void piped_begin(piped *p);
void piped_arm(piped *p);
#define piped_expect(p, text) piped_expect_at(p, text, __LINE__)
#define piped_expect_next(p, text) piped_expect_next_at(p, text, __LINE__)

#endif
