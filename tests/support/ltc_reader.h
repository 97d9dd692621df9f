// SPDX-License-Identifier: GPL-3.0-or-later
// A reader of linear timecode of the tests' own: biphase mark by zero crossings, bits by the tables of SMPTE ST 12-1 (two
// public tables, second-hand). It shares nothing with the library that writes timecode.
#ifndef SLOWMATCH_TESTS_LTC_READER_H
#define SLOWMATCH_TESTS_LTC_READER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct ltc_frame {
    int hours, minutes, seconds, frame;
    bool drop;
    bool even_zeros; // polarity
    double starts;   // sample at which its first bit begins
} ltc_frame;

// The whole frames in COUNT samples at RATE_HZ, FPS a second; returns how many of them are in OUT.
size_t ltc_reader_read(const float *samples, size_t count, int rate_hz, double fps, ltc_frame *out,
                       size_t room);

#endif
