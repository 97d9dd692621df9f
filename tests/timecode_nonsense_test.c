// SPDX-License-Identifier: GPL-3.0-or-later
// What is no timecode, or none that may be followed, as samples to the reader: nothing of it is ever believed. A minute of it in all, an
// hour in a soak. That it must not be is the product's own rule; what sounds there are is common practice, no source.
#include "audio/code_reader.h"
#include "support/ltc_writer.h"

#include <math.h>
#include <setjmp.h>
#include <sndfile.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { RATE = 48000, BLOCK = 480, CHUNK_S = 5, RESONATORS = 3 };

typedef struct source {
    uint32_t random;
    double t;      // seconds, of the next sample
    double aim[2]; // what wanders: where it is, and where it goes
    double pink[3];
    double formants[RESONATORS][2];
    float level;
    int64_t half; // half bits that were sent
    ltc_writer writer;
    SNDFILE *music;
    float *chunk; // timecode to be played backward
    int left, chunk_at;
} source;

static double uniform(source *s) {
    s->random = s->random * 1664525u + 1013904223u;
    return (double)(s->random >> 8) / (1 << 24) * 2 - 1;
}

// From LEAST to MOST and back at random, over some seconds.
static double wander(source *s, double least, double most) {
    if (fabs(s->aim[0] - s->aim[1]) < 1e-3)
        s->aim[1] = uniform(s);
    s->aim[0] += (s->aim[1] > s->aim[0] ? 1 : -1) / (2.0 * RATE);
    return least + (most - least) * (s->aim[0] + 1) / 2;
}

static void begin_timecode(source *s, ltc_frame first) {
    ltc_writer_init(&s->writer, RATE, 25, 25, first);
}

// ---- kinds: the next sample of each ---------------------------------------------------------------------

static float silence(source *s) {
    (void)s;
    return 0;
}

static float white(source *s) {
    return (float)(0.3 * uniform(s));
}

// P. Kellet's economy filter (second-hand): 3 dB an octave within half a decibel.
static float pink(source *s) {
    const double in = uniform(s);
    s->pink[0] = 0.99765 * s->pink[0] + in * 0.0990460;
    s->pink[1] = 0.96300 * s->pink[1] + in * 0.2965164;
    s->pink[2] = 0.57000 * s->pink[2] + in * 1.0526913;
    return (float)(0.1 * (s->pink[0] + s->pink[1] + s->pink[2] + in * 0.1848));
}

// Bursts: pulses of a voice that rises and falls, and hiss, through three resonances, four syllables a second, with pauses.
static float speech(source *s) {
    static const double hertz[RESONATORS] = {520, 1490, 2450};
    const double syllable = sin(2 * M_PI * 2 * s->t), pause = sin(2 * M_PI * 0.31 * s->t) > -0.6;
    const double pitch = wander(s, 95, 190), voiced = fmod(s->t * pitch, 1) < 0.08;
    const double in = syllable > 0 ? voiced : 0.4 * uniform(s);
    double out = 0;
    for (int i = 0; i < RESONATORS; i++) {
        double *kept = s->formants[i], r = 0.985;
        const double next = in + 2 * r * cos(2 * M_PI * hertz[i] / RATE) * kept[0] - r * r * kept[1];
        kept[1] = kept[0];
        kept[0] = next;
        out += next;
    }
    return (float)(0.02 * out * syllable * syllable * pause);
}

// A square wave round 1 kHz and 2 kHz, the tones of a 0 and a 1 at 25 frames.
static float square(source *s) {
    s->formants[0][0] += wander(s, 700, 2800) / RATE;
    return fmod(s->formants[0][0], 1) < 0.5 ? 0.5f : -0.5f;
}

// Biphase mark of random bits at the pace of 25 frames.
static float random_bits(source *s) {
    const int64_t half = (int64_t)(s->t * 4000);
    if (half != s->half && (half % 2 == 0 || uniform(s) > 0))
        s->level = -s->level;
    s->half = half;
    return s->level;
}

static float timecode_at(source *s, double speed) {
    float sample;
    ltc_writer_write(&s->writer, &sample, 1, speed);
    return 0.5f * sample;
}

static float too_slow(source *s) {
    return timecode_at(s, wander(s, 0.5, 0.78));
}

static float too_fast(source *s) {
    return timecode_at(s, wander(s, 1.29, 2));
}

// 70 ms of it, then 70 ms of nothing, and not two of the pieces at the same place of a frame.
static float cut(source *s) {
    const float sample = timecode_at(s, 1);
    return fmod(s->t, 0.14) < 0.07 ? sample : 0;
}

// A source that stands and sends the same number all the time.
static float the_same_number(source *s) {
    const float sample = timecode_at(s, 1);
    s->writer.at = (ltc_frame){.hours = 1, .seconds = 7, .frame = 12};
    return sample;
}

// Frames without a fault, and no order in their numbers.
static float any_number(source *s) {
    const double before = s->writer.bits;
    const float sample = timecode_at(s, 1);
    if (s->writer.bits < before)
        s->writer.at = (ltc_frame){.hours = 1,
                                   .minutes = (int)(29.9 * (1 + uniform(s))),
                                   .seconds = (int)(29.9 * (1 + uniform(s))),
                                   .frame = (int)(12.4 * (1 + uniform(s)))};
    return sample;
}

static float backward(source *s) {
    if (s->left == 0) {
        const int at = s->chunk_at += CHUNK_S;
        begin_timecode(
            s, (ltc_frame){.hours = 1 - at / 3600, .minutes = 59 - at / 60 % 60, .seconds = 55 - at % 60});
        s->left = CHUNK_S * RATE;
        ltc_writer_write(&s->writer, s->chunk, (size_t)s->left, 1);
    }
    return s->chunk[--s->left];
}

static float music(source *s) {
    float frame[2];
    if (sf_readf_float(s->music, frame, 1) == 1)
        return frame[0];
    sf_seek(s->music, 0, SEEK_SET);
    return 0;
}

// ---- fed ------------------------------------------------------------------------------------------------

typedef struct kind {
    const char *name;
    float (*next)(source *s);
    double level_db;
    sm_timecode_trouble said; // at the end; FINE: whatever
} kind;

static const kind kinds[] = {
    {"silence", silence, 0, SM_TIMECODE_NO_SOUND},
    {"white noise", white, 0, SM_TIMECODE_FINE},
    {"an input's own hiss", white, -70, SM_TIMECODE_QUIET},
    {"pink noise", pink, 0, SM_TIMECODE_FINE},
    {"speech", speech, 0, SM_TIMECODE_FINE},
    {"music", music, 0, SM_TIMECODE_FINE},
    {"square waves", square, 0, SM_TIMECODE_FINE},
    {"random bits", random_bits, 0, SM_TIMECODE_FINE},
    {"timecode too slow", too_slow, 0, SM_TIMECODE_FINE},
    {"timecode too fast", too_fast, 0, SM_TIMECODE_FINE},
    {"timecode cut each 70 ms", cut, 0, SM_TIMECODE_FINE},
    {"one number for ever", the_same_number, 0, SM_TIMECODE_NOISE},
    {"numbers in no order", any_number, 0, SM_TIMECODE_NOISE},
    {"timecode backward", backward, 0, SM_TIMECODE_BACKWARD},
};
enum { KINDS = sizeof kinds / sizeof kinds[0] };

static void feed(const kind *k, source *s, const sm_moment_base *show, double seconds) {
    sm_code_reader reader;
    const double gain = pow(10, k->level_db / 20);
    int64_t looks = 0, believed = 0;
    assert_true(sm_code_reader_init(&reader, RATE, show, SM_US_PER_S));
    begin_timecode(s, (ltc_frame){.hours = 1});
    for (int64_t at = 0; at < llround(seconds * RATE); at += BLOCK, looks++) {
        float block[BLOCK];
        for (int i = 0; i < BLOCK; i++) {
            block[i] = (float)(k->next(s) * gain);
            s->t += 1.0 / RATE;
        }
        sm_code_reader_take(&reader, reader.samples, block, BLOCK);
        believed += reader.belief.state != SM_TIMECODE_WAITING;
    }
    print_message("%-24s %5.0f s: %6u frames read, believed in %lld of %lld looks\n", k->name, seconds,
                  (unsigned)reader.belief.read, (long long)believed, (long long)looks);
    const sm_timecode_trouble said = reader.belief.trouble;
    sm_code_reader_deinit(&reader);
    assert_int_equal(believed, 0);
    assert_int_not_equal(said, SM_TIMECODE_FINE);
    if (k->said != SM_TIMECODE_FINE)
        assert_int_equal(said, k->said);
}

// With a show of 25 frames, whose rate may be taken before it is known, and with none.
static void nothing_of_it_is_believed(void **state) {
    (void)state;
    const double seconds = (getenv("SLOWMATCH_SOAK") ? 3600.0 : 60.0) / KINDS;
    const sm_moment_base show = {SM_TC_25, false, 90000};
    SF_INFO info = {0};
    SNDFILE *file = sf_open("demo-shows/lantern-quay/music.ogg", SFM_READ, &info);
    float *chunk = calloc((size_t)CHUNK_S * RATE, sizeof *chunk);
    assert_non_null(file);
    assert_non_null(chunk);
    assert_in_range(info.channels, 1, 2);
    for (int k = 0; k < KINDS; k++) {
        source s = {.random = 99, .level = 0.5f, .music = file, .chunk = chunk};
        feed(&kinds[k], &s, k % 2 == 0 ? &show : NULL, seconds);
    }
    free(chunk);
    sf_close(file);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(nothing_of_it_is_believed)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
