// SPDX-License-Identifier: GPL-3.0-or-later
#include "ltc_writer.h"

#include <string.h>

enum { BITS = 80 };

void ltc_count_on(ltc_frame *at, int numbers) {
    at->frame++;
    if (at->frame == numbers) {
        at->frame = 0;
        at->seconds++;
    }
    if (at->seconds == 60) {
        at->seconds = 0;
        at->minutes++;
        at->frame = at->drop && at->minutes % 10 != 0 ? 2 : 0;
    }
    if (at->minutes == 60) {
        at->minutes = 0;
        at->hours = (at->hours + 1) % 24;
    }
}

static void put_number(unsigned char bits[BITS], int first, int count, int value) {
    for (int i = 0; i < count; i++)
        bits[first + i] = (unsigned char)(value >> i & 1);
}

static void lay_bits(const ltc_frame *at, int numbers, unsigned char bits[BITS]) {
    static const unsigned char sync[16] = {0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 1};
    memset(bits, 0, BITS);
    put_number(bits, 0, 4, at->frame % 10);
    put_number(bits, 8, 2, at->frame / 10);
    bits[10] = at->drop;
    put_number(bits, 16, 4, at->seconds % 10);
    put_number(bits, 24, 3, at->seconds / 10);
    put_number(bits, 32, 4, at->minutes % 10);
    put_number(bits, 40, 3, at->minutes / 10);
    put_number(bits, 48, 4, at->hours % 10);
    put_number(bits, 56, 2, at->hours / 10);
    memcpy(bits + 64, sync, sizeof sync);
    int zeros = 0;
    for (int i = 0; i < BITS; i++)
        zeros += bits[i] == 0;
    bits[numbers == 25 ? 59 : 27] = zeros % 2 != 0; // polarity: an even number of zeros
}

void ltc_writer_init(ltc_writer *writer, int rate_hz, int numbers, double fps, ltc_frame first) {
    *writer = (ltc_writer){.rate_hz = rate_hz, .numbers = numbers, .fps = fps, .at = first, .level = 1};
}

// A transition at the beginning of every bit, and one in the middle of a 1. A sample in which the level turns is the mean of both
// sides by their share of it.
void ltc_writer_write(ltc_writer *w, float *out, size_t count, double speed) {
    unsigned char bits[BITS];
    const double step = BITS * w->fps * speed / w->rate_hz; // bits a sample, far below one half
    lay_bits(&w->at, w->numbers, bits);
    for (size_t i = 0; i < count; i++) {
        const double next = w->bits + step;
        const int bit = (int)w->bits;
        const double middle = bit + 0.5, end = bit + 1;
        const double turns = bits[bit] && w->bits < middle && next >= middle ? middle : next >= end ? end : 0;
        out[i] = w->level;
        if (turns > 0) {
            const float share = (float)((turns - w->bits) / step);
            out[i] = w->level * (2 * share - 1);
            w->level = -w->level;
        }
        w->bits = next;
        w->frames += step / BITS;
        if (next >= BITS) {
            w->bits -= BITS;
            ltc_count_on(&w->at, w->numbers);
            lay_bits(&w->at, w->numbers, bits);
        }
    }
}
