// SPDX-License-Identifier: GPL-3.0-or-later
#include "ltc_reader.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>

#include <cmocka.h>

enum { BITS = 80, SYNC_BITS = 16 };
// Bits 64 to 79 in the order of transmission.
static const uint8_t sync_word[SYNC_BITS] = {0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 1};

typedef struct bit {
    uint8_t value;
    double starts;
} bit;

// Between two samples of different sign the crossing is where the straight line meets zero. The line level before the first
// sample counts as one: a frame begins with a transition.
static size_t find_crossings(const float *samples, size_t count, double *out) {
    size_t found = 0;
    out[found++] = 0.0;
    for (size_t i = 1; i < count; i++)
        if ((samples[i - 1] < 0.0f) != (samples[i] < 0.0f))
            out[found++] = (double)(i - 1) + (double)(samples[i - 1] / (samples[i - 1] - samples[i]));
    return found;
}

// Biphase mark: a transition at the beginning of every bit, and one in the middle of a 1.
static size_t find_bits(const double *crossings, size_t count, double samples_a_bit, bit *out) {
    size_t found = 0;
    for (size_t i = 0; i + 1 < count;) {
        const double length = crossings[i + 1] - crossings[i];
        const bool is_half = length < 0.75 * samples_a_bit;
        if (is_half && (i + 2 >= count || crossings[i + 2] - crossings[i + 1] >= 0.75 * samples_a_bit)) {
            i++; // half a bit by itself: not in step yet
            continue;
        }
        out[found++] = (bit){is_half, crossings[i]};
        i += is_half ? 2 : 1;
    }
    return found;
}

static bool is_sync(const bit *bits) {
    for (int i = 0; i < SYNC_BITS; i++)
        if (bits[BITS - SYNC_BITS + i].value != sync_word[i])
            return false;
    return true;
}

static int number(const bit *bits, int first, int count) {
    int value = 0;
    for (int i = 0; i < count; i++)
        value += bits[first + i].value << i;
    return value;
}

static ltc_frame read_frame(const bit *bits) {
    int zeros = 0;
    for (int i = 0; i < BITS; i++)
        zeros += bits[i].value == 0;
    return (ltc_frame){.frame = number(bits, 0, 4) + 10 * number(bits, 8, 2),
                       .drop = bits[10].value != 0,
                       .seconds = number(bits, 16, 4) + 10 * number(bits, 24, 3),
                       .minutes = number(bits, 32, 4) + 10 * number(bits, 40, 3),
                       .hours = number(bits, 48, 4) + 10 * number(bits, 56, 2),
                       .even_zeros = zeros % 2 == 0,
                       .starts = bits[0].starts};
}

size_t ltc_reader_read(const float *samples, size_t count, int rate_hz, double fps, ltc_frame *out,
                       size_t room) {
    double *crossings = calloc(count + 1, sizeof *crossings);
    bit *bits = calloc(count + 1, sizeof *bits);
    assert_non_null(crossings);
    assert_non_null(bits);
    const size_t crossing_count = find_crossings(samples, count, crossings);
    const size_t bit_count = find_bits(crossings, crossing_count, rate_hz / (fps * BITS), bits);
    size_t found = 0;
    for (size_t i = 0; i + BITS <= bit_count && found < room;) {
        if (!is_sync(&bits[i])) {
            i++;
            continue;
        }
        out[found++] = read_frame(&bits[i]);
        i += BITS;
    }
    free(crossings);
    free(bits);
    return found;
}
