// SPDX-License-Identifier: GPL-3.0-or-later
// Slow motion: where what begins suddenly is heard. Sounds are laid at places of the test's own, the music is played slowly through the
// stretcher, and each is sought in what came out by its loudness alone.
#include "audio/stretcher.h"
#include "support/sounds.h"

#include <math.h>
#include <setjmp.h>
#include <sndfile.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

enum { RATE = 44100, SECONDS = 4, SOUNDS_MOST = 16 };

typedef enum kind { CLICK, BURST, DRUM, DRUM_OVER_CHORD, KINDS } kind;
static const char *const NAMES[KINDS] = {"click", "burst of 5 ms", "drum", "drum over a chord"};

typedef struct fixture {
    char path[64];
    double at_s[SOUNDS_MOST];
    int count;
    sm_music *music;
} fixture;

static double noise(uint32_t n) {
    return sounds_noise(n) / 32768.0;
}

static double sound(kind which, int frame) {
    const double t = (double)frame / RATE;
    if (which == CLICK)
        return frame < 2 ? 0.9 : 0;
    if (which == BURST)
        return t < 0.005 ? 0.8 * sin(2 * M_PI * 1000 * t) : 0;
    return 0.5 * exp(-30 * t) * sin(2 * M_PI * 120 * t) + 0.25 * exp(-80 * t) * noise((uint32_t)frame);
}

static double chord(kind which, int frame) {
    const double t = 2 * M_PI * frame / RATE;
    return which == DRUM_OVER_CHORD ? 0.04 * (sin(220 * t) + sin(277 * t) + sin(330 * t)) : 0;
}

static void lay(fixture *own, kind which) {
    int16_t *samples = calloc((size_t)RATE * SECONDS, sizeof *samples);
    double *sum = calloc((size_t)RATE * SECONDS, sizeof *sum);
    assert_non_null(samples);
    assert_non_null(sum);
    own->count = 0;
    for (int at = RATE / 2; at < RATE * (SECONDS - 0.4);
         at += RATE * 4 / 10 + abs(sounds_noise((uint32_t)at)) / 2) {
        own->at_s[own->count++] = (double)at / RATE;
        for (int i = 0; i < RATE / 3 && at + i < RATE * SECONDS; i++)
            sum[at + i] += sound(which, i);
    }
    for (int i = 0; i < RATE * SECONDS; i++)
        samples[i] = (int16_t)lround(32000 * (sum[i] + chord(which, i)));
    assert_true(
        sounds_write(own->path, SF_FORMAT_WAV | SF_FORMAT_PCM_16, RATE, 1, samples, (size_t)RATE * SECONDS));
    free(samples);
    free(sum);
    assert_int_equal(sm_music_create(own->path, NULL, &own->music), SM_OK);
    sm_music_state state;
    do {
        nanosleep(&(struct timespec){.tv_nsec = 1000000}, NULL);
        sm_music_state_get(own->music, &state);
    } while (state.phase < SM_MUSIC_DONE);
    assert_int_equal(state.phase, SM_MUSIC_DONE);
}

// Loudness of the millisecond round FRAME.
static double loudness(float (*heard)[2], int64_t count, int64_t frame) {
    double sum = 0;
    for (int64_t i = frame - RATE / 2000; i < frame + RATE / 2000; i++)
        sum += i >= 0 && i < count ? heard[i][0] * heard[i][0] : 0;
    return sqrt(sum);
}

// The rise: where it first comes to half of its greatest within 0.3 s to either side of NEAR. In seconds from NEAR.
static double rise_s(float (*heard)[2], int64_t count, int64_t near) {
    const int64_t reach = RATE * 3 / 10;
    double most = 0;
    for (int64_t i = near - reach; i < near + reach; i += 4)
        most = fmax(most, loudness(heard, count, i));
    int64_t first = near - reach;
    while (first < near + reach && loudness(heard, count, first) < most / 2)
        first++;
    return (double)(first - near) / RATE;
}

// Of what has no end of its own nothing is heard but in its place: no echo ahead of it, no second time.
static void assert_once(const fixture *own, float (*heard)[2], int64_t frames, double from_s, double speed) {
    for (int64_t f = 0; f < frames; f += 20) {
        bool named = false;
        for (int i = 0; i < own->count; i++) {
            const double after_s = (double)f / RATE - (own->at_s[i] - from_s) / speed;
            named = named || (after_s > -0.010 && after_s < 0.040);
        }
        assert_true(named || fabsf(heard[f][0]) < 0.03F); // 30 dB below the click
    }
}

// From FROM_S on at SPEED; the sounds that follow are to be heard within 10 ms.
static void play(const fixture *own, kind which, double from_s, double speed) {
    const int64_t frames = (int64_t)(((own->at_s[own->count - 1] - from_s) / speed + 0.4) * RATE);
    float(*heard)[2] = calloc((size_t)frames, sizeof *heard);
    assert_non_null(heard);
    sm_stretcher stretcher;
    sm_stretcher_init(&stretcher, own->music, RATE);
    assert_true(
        sm_stretcher_seek(&stretcher, (int64_t)(from_s * RATE), (int32_t)lround(speed * SM_SPEED_ONE)));
    for (int64_t done = 0; done < frames;) {
        const int64_t part = frames - done < 441 ? frames - done : 441; // no block of anybody's
        sm_stretcher_read(&stretcher, heard + done, (size_t)part);
        done += part;
    }
    sm_stretcher_deinit(&stretcher);
    double least_s = 1, most_s = -1;
    int count = 0;
    for (int i = 0; i < own->count; i++)
        if (own->at_s[i] > from_s + 0.01) {
            const double off_s = rise_s(heard, frames, llround((own->at_s[i] - from_s) / speed * RATE));
            least_s = fmin(least_s, off_s);
            most_s = fmax(most_s, off_s);
            count++;
        }
    print_message("%s at %.2f: %d, from %+.1f to %+.1f ms\n", NAMES[which], speed, count, least_s * 1e3,
                  most_s * 1e3);
    assert_true(count > 1);
    assert_true(least_s > -0.010 && most_s < 0.010);
    if (which == CLICK || which == BURST)
        assert_once(own, heard, frames, from_s, speed);
    free(heard);
}

static void what_begins_is_heard_in_its_place(void **state) {
    fixture *own = *state;
    // A soak takes all of them; the two that are hardest to bring out are taken always.
    for (kind which = CLICK; which < KINDS; which++) {
        if (!getenv("SLOWMATCH_SOAK") && which != CLICK && which != DRUM_OVER_CHORD)
            continue;
        lay(own, which);
        play(own, which, 1.5, 0.5);
        play(own, which, 1.7, 0.25);
        play(own, which, 2.6, 0.1);
        sm_music_destroy(own->music);
    }
}

static int setup(void **state) {
    static fixture own;
    snprintf(own.path, sizeof own.path, "/tmp/slowmatch-attack.XXXXXX");
    const int file = mkstemp(own.path);
    *state = &own;
    return file < 0 ? -1 : close(file);
}

static int teardown(void **state) {
    return unlink(((fixture *)*state)->path);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(what_begins_is_heard_in_its_place, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
