// SPDX-License-Identifier: GPL-3.0-or-later
// The rehearsal clock: a straight line over CLOCK_MONOTONIC whose slope is corrected, never its place.
//
// One thread steers (create, steer); any thread reads. Each new line begins where the old one is, so the
// clock cannot step; a reader that was overtaken between two lines is held at the latest value given out, so
// it cannot go back.
#ifndef SM_AUDIO_REHEARSAL_CLOCK_H
#define SM_AUDIO_REHEARSAL_CLOCK_H

#include <stdatomic.h>
#include <stdint.h>

typedef struct sm_clock {
    _Atomic uint32_t version; // odd while the line is being changed
    _Atomic int64_t mono_ns, wall_ns;
    _Atomic double rate;      // rehearsal nanoseconds a monotonic nanosecond
    _Atomic int64_t given_ns; // the latest value read
} sm_clock;

// Begins at 0, at the monotonic clock's own rate.
void sm_clock_init(sm_clock *clock, int64_t mono_ns);
// Goes on from where it is, at RATE.
void sm_clock_steer(sm_clock *clock, int64_t mono_ns, double rate);
// Rehearsal time at MONO_NS by the present line.
int64_t sm_clock_at(const sm_clock *clock, int64_t mono_ns);
// As sm_clock_at, but never less than it has given before.
int64_t sm_clock_read(sm_clock *clock, int64_t mono_ns);
// When WALL_NS comes, by the present line.
int64_t sm_clock_when(const sm_clock *clock, int64_t wall_ns);

#endif
