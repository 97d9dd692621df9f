// SPDX-License-Identifier: GPL-3.0-or-later
// How far something long has come. Whoever does it counts; any other thread may look, or ask that it be left. {0} is one of which nothing is
// known yet.
#ifndef SLOWMATCH_PROGRESS_H
#define SLOWMATCH_PROGRESS_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

typedef struct sm_progress {
    atomic_uint_least64_t done, whole; // in what is counted; whole 0: how much there is, is not known
    atomic_bool left;                  // what is done is to be given up
} sm_progress;

// For whoever does it. PROGRESS may be NULL: nobody looks.
static inline void sm_progress_expect(sm_progress *progress, uint64_t whole) {
    if (progress)
        atomic_store(&progress->whole, whole);
}
// Beside what is done, COUNT more are to be done.
static inline void sm_progress_expect_more(sm_progress *progress, uint64_t count) {
    if (progress)
        atomic_store(&progress->whole, atomic_load(&progress->done) + count);
}
// COUNT more are done. False: give up.
static inline bool sm_progress_count(sm_progress *progress, uint64_t count) {
    if (!progress)
        return true;
    atomic_fetch_add(&progress->done, count);
    return !atomic_load(&progress->left);
}

#endif
