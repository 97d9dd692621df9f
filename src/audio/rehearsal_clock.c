// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/rehearsal_clock.h"

#include <math.h>

typedef struct line {
    int64_t mono_ns, wall_ns;
    double rate;
} line;

void sm_clock_init(sm_clock *clock, int64_t mono_ns) {
    atomic_init(&clock->version, 0);
    atomic_init(&clock->mono_ns, mono_ns);
    atomic_init(&clock->wall_ns, 0);
    atomic_init(&clock->rate, 1.0);
    atomic_init(&clock->given_ns, 0);
}

static line line_get(const sm_clock *clock) {
    line got;
    uint32_t before, after;
    do {
        before = atomic_load_explicit(&clock->version, memory_order_acquire);
        got.mono_ns = atomic_load_explicit(&clock->mono_ns, memory_order_relaxed);
        got.wall_ns = atomic_load_explicit(&clock->wall_ns, memory_order_relaxed);
        got.rate = atomic_load_explicit(&clock->rate, memory_order_relaxed);
        atomic_thread_fence(memory_order_acquire);
        after = atomic_load_explicit(&clock->version, memory_order_relaxed);
    } while (before != after || (before & 1));
    return got;
}

static int64_t line_at(const line *at, int64_t mono_ns) {
    return at->wall_ns + llround((double)(mono_ns - at->mono_ns) * at->rate);
}

void sm_clock_steer(sm_clock *clock, int64_t mono_ns, double rate) {
    line now = line_get(clock);
    int64_t wall_ns = line_at(&now, mono_ns);
    uint32_t version = atomic_load_explicit(&clock->version, memory_order_relaxed);
    atomic_store_explicit(&clock->version, version + 1, memory_order_relaxed);
    atomic_thread_fence(memory_order_release);
    atomic_store_explicit(&clock->mono_ns, mono_ns, memory_order_relaxed);
    atomic_store_explicit(&clock->wall_ns, wall_ns, memory_order_relaxed);
    atomic_store_explicit(&clock->rate, rate, memory_order_relaxed);
    atomic_store_explicit(&clock->version, version + 2, memory_order_release);
}

int64_t sm_clock_at(const sm_clock *clock, int64_t mono_ns) {
    line now = line_get(clock);
    return line_at(&now, mono_ns);
}

int64_t sm_clock_read(sm_clock *clock, int64_t mono_ns) {
    int64_t wall_ns = sm_clock_at(clock, mono_ns);
    int64_t given = atomic_load(&clock->given_ns);
    while (wall_ns > given)
        if (atomic_compare_exchange_weak(&clock->given_ns, &given, wall_ns))
            return wall_ns;
    return given;
}

int64_t sm_clock_when(const sm_clock *clock, int64_t wall_ns) {
    line now = line_get(clock);
    return now.mono_ns + llround((double)(wall_ns - now.wall_ns) / now.rate);
}
