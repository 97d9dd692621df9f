// SPDX-License-Identifier: GPL-3.0-or-later
// The program started once more, as a process of its own for work that must not take it along.
#ifndef SLOWMATCH_START_SELF_H
#define SLOWMATCH_START_SELF_H

#include <sys/types.h>

// Starts this same program with the arguments ARGV (NULL at the end; argv[0] is its name). It finds DESCRIPTOR as TARGET, and of those
// not marked close-on-exec all others. In a session of its own, so that keys typed at the terminal do not signal it; with no signal
// blocked or ignored. Returns 0 and *PID, or an errno. Any thread.
int sm_start_self(char *const argv[], int descriptor, int target, pid_t *pid);

#endif
