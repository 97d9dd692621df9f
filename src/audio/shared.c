// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/shared.h"

#include "audio/mono.h"

#include <math.h>

void sm_shared_callback(sm_shared *shared, float *out, size_t frames, double current_s, double dac_s) {
    sm_shared_fill(shared, out, frames, current_s, dac_s,
                   (sm_stamp){.mono_ns = sm_mono_ns(), .real_ns = sm_clock_ns(CLOCK_REALTIME)});
}

// A stream's beginning is uneven.
#define UNEVEN_BEATS 100

static void note_wait(sm_shared *shared, int64_t now_ns) {
    int64_t waited_ns = now_ns - shared->called_ns;
    shared->called_ns = now_ns;
    if (atomic_load_explicit(&shared->beats, memory_order_relaxed) > UNEVEN_BEATS &&
        waited_ns > atomic_load_explicit(&shared->longest_wait_ns, memory_order_relaxed))
        atomic_store_explicit(&shared->longest_wait_ns, waited_ns, memory_order_relaxed);
}

static void put_reading(sm_shared *shared, uint64_t frame, double current_s, double dac_s, sm_stamp now) {
    uint64_t put = atomic_load_explicit(&shared->readings_put, memory_order_relaxed);
    uint64_t got = atomic_load_explicit(&shared->readings_taken, memory_order_acquire);
    if (put - got < SM_READINGS) {
        sm_clock_reading *reading = &shared->readings[put % SM_READINGS];
        reading->frame = frame;
        reading->current_s = current_s;
        reading->dac_s = dac_s;
        reading->mono_ns = now.mono_ns;
        reading->real_ns = now.real_ns;
        atomic_store_explicit(&shared->readings_put, put + 1, memory_order_release);
    }
    atomic_fetch_add_explicit(&shared->beats, 1, memory_order_relaxed);
}

void sm_shared_fill(sm_shared *shared, float *out, size_t frames, double current_s, double dac_s,
                    sm_stamp now) {
    note_wait(shared, now.mono_ns);
    uint64_t frame = sm_ring_take(&shared->ring, out, frames, shared->channels);
    put_reading(shared, frame, current_s, dac_s, now);
}

void sm_shared_hear(sm_shared *shared, const float *in, size_t frames, double current_s, double adc_s,
                    sm_stamp now) {
    note_wait(shared, now.mono_ns);
    const size_t channels = (size_t)shared->channels;
    uint64_t frame = atomic_load_explicit(&shared->ring.written, memory_order_relaxed);
    for (size_t i = 0; i < frames; i++) {
        const float pair[1][2] = {{in[i * channels], in[i * channels + channels - 1]}};
        sm_ring_put(&shared->ring, frame + i, pair, 1);
    }
    sm_ring_publish(&shared->ring, frame + frames);
    put_reading(shared, frame, current_s, adc_s, now);
}

bool sm_shared_reading(sm_shared *shared, sm_clock_reading *out) {
    uint64_t got = atomic_load_explicit(&shared->readings_taken, memory_order_relaxed);
    if (got == atomic_load_explicit(&shared->readings_put, memory_order_acquire))
        return false;
    *out = shared->readings[got % SM_READINGS];
    atomic_store_explicit(&shared->readings_taken, got + 1, memory_order_release);
    return true;
}

// Where the stream's clock can be recognised as one of the system's (within a second), the moment is exact
// however long the callback was kept waiting between PortAudio's look at the clock and its own; else the wait
// is an error, and the loop has to smooth it.
int64_t sm_clock_reading_sounds_ns(const sm_clock_reading *reading) {
    double real_s = (double)reading->real_ns / 1e9, mono_s = (double)reading->mono_ns / 1e9;
    double ahead_s = reading->dac_s - reading->current_s;
    if (fabs(reading->current_s - real_s) < 1)
        ahead_s = reading->dac_s - real_s;
    else if (fabs(reading->current_s - mono_s) < 1)
        ahead_s = reading->dac_s - mono_s;
    return reading->mono_ns + llround(ahead_s * 1e9);
}
