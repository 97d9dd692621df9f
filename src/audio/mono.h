// SPDX-License-Identifier: GPL-3.0-or-later
// The monotonic clock in nanoseconds.
#ifndef SM_AUDIO_MONO_H
#define SM_AUDIO_MONO_H

#include <stdint.h>
#include <time.h>

#define SM_NS_PER_S INT64_C(1000000000)
#define SM_NS_PER_MS INT64_C(1000000)

static inline int64_t sm_clock_ns(clockid_t id) {
    struct timespec now;
    clock_gettime(id, &now);
    return (int64_t)now.tv_sec * SM_NS_PER_S + now.tv_nsec;
}

static inline int64_t sm_mono_ns(void) {
    return sm_clock_ns(CLOCK_MONOTONIC);
}

#endif
