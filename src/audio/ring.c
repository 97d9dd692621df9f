// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/ring.h"

#include <string.h>

#define MASK (SM_RING_FRAMES - 1)

void sm_ring_put(sm_ring *ring, uint64_t at, const float (*frames)[2], size_t count) {
    for (size_t i = 0; i < count; i++) {
        uint64_t word;
        memcpy(&word, frames[i], sizeof word);
        atomic_store_explicit(&ring->frames[(at + i) & MASK], word, memory_order_relaxed);
    }
}

void sm_ring_publish(sm_ring *ring, uint64_t written) {
    atomic_store_explicit(&ring->written, written, memory_order_release);
}

static void lay_out(uint64_t word, float *out, int channels) {
    float pair[2];
    memcpy(pair, &word, sizeof pair);
    if (channels == 1) {
        out[0] = (pair[0] + pair[1]) / 2;
        return;
    }
    out[0] = pair[0];
    out[1] = pair[1];
    for (int c = 2; c < channels; c++)
        out[c] = 0;
}

uint64_t sm_ring_take(sm_ring *ring, float *out, size_t count, int channels) {
    uint64_t taken = atomic_load_explicit(&ring->taken, memory_order_relaxed);
    uint64_t written = atomic_load_explicit(&ring->written, memory_order_acquire);
    uint64_t ready = written > taken ? written - taken : 0;
    if (ready > count)
        ready = count;
    for (size_t i = 0; i < count; i++) {
        uint64_t word = 0; // two floats of 0
        if (i < ready)
            word = atomic_load_explicit(&ring->frames[(taken + i) & MASK], memory_order_relaxed);
        lay_out(word, out + i * (size_t)channels, channels);
    }
    if (written > 0 && ready < count)
        atomic_fetch_add_explicit(&ring->starved, count - ready, memory_order_relaxed);
    atomic_store_explicit(&ring->taken, taken + count, memory_order_release);
    return taken;
}

size_t sm_ring_hear(sm_ring *ring, int side, float *out, size_t room, uint64_t *at) {
    uint64_t taken = atomic_load_explicit(&ring->taken, memory_order_relaxed);
    uint64_t written = atomic_load_explicit(&ring->written, memory_order_acquire);
    if (written - taken > SM_RING_FRAMES / 2) // the writer may be about to write over the oldest
        taken = written;
    size_t count = written - taken < room ? (size_t)(written - taken) : room;
    for (size_t i = 0; i < count; i++) {
        float pair[2];
        lay_out(atomic_load_explicit(&ring->frames[(taken + i) & MASK], memory_order_relaxed), pair, 2);
        out[i] = pair[side];
    }
    atomic_store_explicit(&ring->taken, taken + count, memory_order_release);
    *at = taken;
    return count;
}
