// SPDX-License-Identifier: GPL-3.0-or-later
// A writer of linear timecode of the tests' own: biphase mark from the bit tables of SMPTE ST 12-1 (two public tables,
// second-hand), numbers counted by the standard's rule. It shares nothing with the program nor with the library that it uses.
#ifndef SLOWMATCH_TESTS_LTC_WRITER_H
#define SLOWMATCH_TESTS_LTC_WRITER_H

#include "ltc_reader.h"

typedef struct ltc_writer {
    int rate_hz;   // of the samples
    int numbers;   // frame numbers a second
    double fps;    // frames a second at speed 1
    ltc_frame at;  // the frame being written
    double frames; // written so far, with its fraction
    double bits;   // of the frame being written
    float level;   // 1 or -1
} ltc_writer;

void ltc_writer_init(ltc_writer *writer, int rate_hz, int numbers, double fps, ltc_frame first);
// The next COUNT samples, full scale, at SPEED.
void ltc_writer_write(ltc_writer *writer, float *out, size_t count, double speed);
// AT counted on by one: drop-frame leaves out 00 and 01 at the start of every minute but each tenth (second-hand, several).
void ltc_count_on(ltc_frame *at, int numbers);

#endif
