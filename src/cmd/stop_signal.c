// SPDX-License-Identifier: GPL-3.0-or-later
// Signals that end a command which runs until it is told.
#include "cmd/cmd.h"

#include <signal.h>

static volatile sig_atomic_t stop_signal; // set by the handler alone

static void on_signal(int number) {
    stop_signal = number;
}

void cmd_catch_signals(void) {
    const struct sigaction action = {.sa_handler = on_signal};
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    sigaction(SIGHUP, &action, NULL);
    signal(SIGPIPE, SIG_IGN); // a closed pipe is a write error, said as one
}

int cmd_stop_signal(void) {
    return (int)stop_signal;
}

void cmd_die_of_signal(void) {
    if (stop_signal == 0)
        return;
    signal((int)stop_signal, SIG_DFL);
    raise((int)stop_signal);
}
