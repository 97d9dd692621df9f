// SPDX-License-Identifier: GPL-3.0-or-later
// Clocks, and conditions on the monotonic one.
#ifndef SLOWMATCH_CLOCK_H
#define SLOWMATCH_CLOCK_H

#include "slowmatch/base.h"

#include <pthread.h>
#include <time.h>

static inline void sm_condition_init(pthread_cond_t *condition) {
    pthread_condattr_t attributes;
    pthread_condattr_init(&attributes);
    pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
    pthread_cond_init(condition, &attributes);
    pthread_condattr_destroy(&attributes);
}

static inline int64_t sm_monotonic_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * SM_US_PER_S + now.tv_nsec / 1000;
}

// Microseconds since 1970, as the machine's clock says.
static inline int64_t sm_unix_now_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * SM_US_PER_S + now.tv_nsec / 1000;
}

static inline struct timespec sm_monotonic_at_ns(int64_t ns) {
    return (struct timespec){.tv_sec = (time_t)(ns / 1000000000), .tv_nsec = (long)(ns % 1000000000)};
}

// The moment SPAN_US from now.
static inline struct timespec sm_monotonic_after(sm_us span_us) {
    return sm_monotonic_at_ns((sm_monotonic_us() + span_us) * 1000);
}

// Asks that the calling thread runs ahead of ordinary work, where the user's limits allow it; what it starts runs as ordinary work. False, and
// what stands in the way: nothing has changed, and nothing needs it.
#define SM_HURRY_WHY 96
bool sm_thread_hurry(char why[SM_HURRY_WHY]);
// From here on the calling thread leaves processors to whoever else wants them, and takes a tenth of one that others keep busy.
void sm_thread_stand_back(void);
// A lock that such a thread shares: whoever holds it meanwhile runs as urgently.
void sm_hurried_lock_init(pthread_mutex_t *lock);

#endif
