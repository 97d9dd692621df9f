// SPDX-License-Identifier: GPL-3.0-or-later
// The program's hold on its sound process. One thread's.
#ifndef SM_AUDIO_CHILD_H
#define SM_AUDIO_CHILD_H

#include "audio/shared.h"

#define SM_CHILD_DYING 8

typedef struct sm_child {
    pid_t pid;                   // 0: none
    sm_shared *shared;           // NULL: none
    pid_t dying[SM_CHILD_DYING]; // killed, not reaped yet; 0: free place
    // How it does.
    int64_t begun_ns;
    uint64_t beats; // as seen last
    int64_t beat_ns;
    int looks;
    char why[192];
} sm_child;

// What a sound process does with devices.
typedef enum sm_child_work {
    SM_CHILD_PLAYS,
    SM_CHILD_LISTENS,
    SM_CHILD_LISTS_OUTPUTS, // and ends
    SM_CHILD_LISTS_INPUTS
} sm_child_work;

// Starts a sound process with memory of its own. SM_NO_MEMORY, or SM_UNREADABLE (errno) when it cannot be
// started.
SM_MUST_CHECK sm_result sm_child_start(sm_child *child, sm_child_work work, const char *device,
                                       const int *rates, int count);
// The card has called for, or given, sound at least once.
bool sm_child_beats(const sm_child *child);
// What is wrong with it, NULL for nothing: it has ended or says that it failed, had no first beat within some seconds, or beats no
// more. To be asked many times a second. Valid until the next call.
const char *sm_child_trouble(sm_child *child, int64_t now_ns);
// True while the process runs; false once it has ended by itself (its memory stays until sm_child_end).
bool sm_child_runs(sm_child *child);
// Kills it if it still runs, and forgets its memory. Does not wait.
void sm_child_end(sm_child *child);
// Collects those that were killed; true when none is left.
bool sm_child_reap(sm_child *child);

#endif
