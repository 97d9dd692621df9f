// SPDX-License-Identifier: GPL-3.0-or-later
// The program's console in a pseudo-terminal, over the short show, with its log. All fail the test when it does not go so.
#ifndef SLOWMATCH_TESTS_CONSOLE_RIG_H
#define SLOWMATCH_TESTS_CONSOLE_RIG_H

#include "pty.h"
#include "short_show.h"

#define F3 "\033OR"
#define F5 "\033[15~"
#define F6 "\033[17~"
#define F7 "\033[18~"
#define F8 "\033[19~"

typedef struct console_rig {
    short_show show;
    char program[512], log[384];
    pty *p;
} console_rig;

// Starts it; LASTS is how long B-01 burns.
void console_begin_at(console_rig *r, const char *lasts, int columns, int rows,
                      const char *const *environment);
// On 80x24, past the first screen.
void console_begin(console_rig *r);
void console_end(console_rig *r);
// By `q`; it must end well.
void console_quit(console_rig *r);
// From a board, up to ARMED.
void console_arm(console_rig *r);
// The same in any console at P whose key is off, and on to RUNNING: B calls clear; each question is read before it is answered.
void console_start_playing(pty *p);
// TEXTS must stand in the log in this order; NULL at the end.
void console_expect_log(console_rig *r, const char *const *texts);

#endif
