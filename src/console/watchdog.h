// SPDX-License-Identifier: GPL-3.0-or-later
// A terminal that takes no more (a stalled ssh) holds the screen's thread inside a write. The rehearsal goes on all the same;
// but the key that makes safe, and a signal that ends the program, must be obeyed even then: this thread sees to it.
#ifndef SLOWMATCH_CONSOLE_WATCHDOG_H
#define SLOWMATCH_CONSOLE_WATCHDOG_H

#include "slowmatch/session.h"

#include <pthread.h>
#include <stdatomic.h>
#include <termios.h>

typedef struct sm_watchdog {
    sm_session *session;
    pthread_t thread;
    bool runs;
    pthread_mutex_t lock;
    pthread_cond_t changed;
    bool ending;                      // under the lock
    bool launching;                   // under the lock: no session yet, and whatever is read may take long
    struct termios modes;             // of the terminal before it was taken over
    _Atomic int64_t writing_since_us; // monotonic; 0: not writing to the terminal
    _Atomic int signal;               // that the screen's thread is about to die by, 0
} sm_watchdog;

// Before anything long is done, and the terminal taken over: until sm_watchdog_launched a signal that ends the program does it at once.
// SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_watchdog_start(sm_watchdog *watchdog);
// SESSION NULL: there is nothing to make safe.
void sm_watchdog_launched(sm_watchdog *watchdog, sm_session *session);
// A zeroed one is taken too. Before the session is destroyed.
void sm_watchdog_stop(sm_watchdog *watchdog);
// Round everything that writes to the terminal.
void sm_watchdog_writes(sm_watchdog *watchdog, bool writes);

#endif
