// SPDX-License-Identifier: GPL-3.0-or-later
// The click track of a new show: two clicks a second, every fourth higher, as a WAV file of 8 bits and 8 kHz (half a megabyte a minute).
#include "starter/plan.h"

#include <math.h>
#include <stdlib.h>

enum { RATE_HZ = 8000, HEADER = 44, SILENCE = 128, CLICK_FRAMES = RATE_HZ / 25 };
#define CLICK_US (SM_US_PER_S / 2)
#define TWO_PI 6.283185307179586

// Little-endian, BYTES of them.
static void put_number(sm_text *out, uint32_t number, int bytes) {
    for (int i = 0; i < bytes; i++) {
        const char byte = (char)(number >> 8 * i & 0xFF);
        sm_text_append(out, &byte, 1);
    }
}

// RIFF/WAVE, the one chunk of format and the one of data (Microsoft's and IBM's description of 1991, from memory).
static void put_header(sm_text *out, uint32_t frames) {
    sm_text_append(out, "RIFF", 4);
    put_number(out, HEADER - 8 + frames + frames % 2, 4);
    sm_text_append(out, "WAVEfmt ", 8);
    put_number(out, 16, 4);
    put_number(out, 1, 2); // whole numbers
    put_number(out, 1, 2); // mono
    put_number(out, RATE_HZ, 4);
    put_number(out, RATE_HZ, 4);
    put_number(out, 1, 2);
    put_number(out, 8, 2);
    sm_text_append(out, "data", 4);
    put_number(out, frames, 4);
}

static char click_at(uint32_t frame, bool is_accent) {
    const double part = (double)frame / CLICK_FRAMES;
    const double wave = sin(TWO_PI * (is_accent ? 1600 : 1000) * frame / RATE_HZ) * (1 - part) * (1 - part);
    return (char)(unsigned char)(SILENCE + lround((is_accent ? 100 : 70) * wave));
}

void starter_put_clicks(plan *p, sm_text *out) {
    const uint32_t frames = (uint32_t)(p->options->length_us * RATE_HZ / SM_US_PER_S),
                   apart = (uint32_t)(CLICK_US * RATE_HZ / SM_US_PER_S);
    put_header(out, frames);
    sm_text_reserve(out, out->length + frames + 2);
    for (uint32_t i = 0; i < frames + frames % 2; i++) {
        const uint32_t within = i % apart;
        const char byte =
            within < CLICK_FRAMES ? click_at(within, i / apart % 4 == 0) : (char)(unsigned char)SILENCE;
        sm_text_append(out, &byte, 1);
    }
}
