// SPDX-License-Identifier: GPL-3.0-or-later
// Signals as something to read: they are blocked in every thread and taken one by one by the screen's loop.
#ifndef SLOWMATCH_CONSOLE_SIGNALS_H
#define SLOWMATCH_CONSOLE_SIGNALS_H

#include "slowmatch/base.h"

#include <signal.h>

typedef struct sm_signals {
    int descriptor; // readable when a signal has come; -1: not open
    sigset_t taken, before;
} sm_signals;

// Before any other thread is made, so that all of them inherit it. SM_UNREADABLE (errno).
SM_MUST_CHECK sm_result sm_signals_open(sm_signals *signals);
void sm_signals_close(sm_signals *signals);
// The next signal that has come, 0: none.
int sm_signals_next(const sm_signals *signals);
// SIGNAL ends the program.
bool sm_signal_ends(int signal);
// Stops the process and those of its job, as Ctrl-Z does; returns when it goes on.
void sm_signals_stop(const sm_signals *signals);
// Dies by SIGNAL. Does not return.
void sm_signals_die(int signal);

#endif
