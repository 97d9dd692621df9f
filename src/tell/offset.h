// SPDX-License-Identifier: GPL-3.0-or-later
// How far a sender's clock is from ours, by beats that come one way: the least difference between when one came and when it was sent.
// What a delay adds can only make it greater, so it is wrong by the shortest delay there was. The latest beats count, not the latest
// seconds: a broker that was silent for an hour and hands over what is old does not become the measure.
#ifndef SLOWMATCH_TELL_OFFSET_H
#define SLOWMATCH_TELL_OFFSET_H

#include <stdbool.h>
#include <stdint.h>

// Ten seconds of beats.
#define TELL_OFFSET_BEATS 40

// {0} is a valid empty one.
typedef struct tell_offset {
    int64_t differences[TELL_OFFSET_BEATS];
    uint32_t count, next;
    int64_t put_us; // when the latest came
} tell_offset;

// A beat that was sent at MONO_US came at LOCAL_US. Returns how old it was then by all that is known, 0 at least.
int64_t tell_offset_put(tell_offset *offset, int64_t local_us, int64_t mono_us);
// LOCAL_US on the sender's clock.
int64_t tell_offset_mono_us(const tell_offset *offset, int64_t local_us);

#endif
