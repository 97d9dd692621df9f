// SPDX-License-Identifier: GPL-3.0-or-later
// Keeps batches of entries whatever happens to the disk: in the logbook, else in a spill file, else in memory for a while. Knows no
// thread; one at a time may use it.
#ifndef SLOWMATCH_LOGBOOK_KEEPER_H
#define SLOWMATCH_LOGBOOK_KEEPER_H

#include "logbook/spill.h"
#include "logbook/store.h"

// What memory holds at most when neither logbook nor spill file can be written.
#define SM_KEEPER_MEMORY ((size_t)64 << 20)
// How long after a failure the logbook is tried again.
#define SM_KEEPER_RETRY_US (5 * SM_US_PER_S)

typedef struct sm_keeper {
    char *path;
    sm_store store;
    bool open;
    int in_use;       // descriptor of its lock as one that is used, -1: none
    int64_t retry_us; // monotonic
    sm_spill spill;
    sm_text begun;              // entries that later ones point at: a spill begins with them
    sm_text held;               // batches that could be put nowhere yet
    bool lost;                  // entries were dropped for want of room
    char problem[SM_STORE_WHY]; // "" while all is in the logbook
} sm_keeper;

// NOW_US is the monotonic time. SM_NO_MEMORY only: a logbook that cannot be opened is a problem, no failure.
SM_MUST_CHECK sm_result sm_keeper_init(sm_keeper *keeper, const char *path, int64_t now_us);
void sm_keeper_take(sm_keeper *keeper, const char *bytes, size_t length, bool durable, int64_t now_us);
// Tries once more what is not in the logbook; true: everything is in it.
bool sm_keeper_finish(sm_keeper *keeper);
void sm_keeper_deinit(sm_keeper *keeper);

#endif
