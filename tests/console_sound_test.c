// SPDX-License-Identifier: GPL-3.0-or-later
// The console and a headless sound server: tones heard as they were asked for, timecode beside them, devices listed.
#include "support/console_rig.h"
#include "support/sound_rig.h"

#include <ltc.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define RATE 48000
// With both cores busy; idle it was seen within a frame or two.
#define TOLERANCE_S 0.015

typedef struct heard {
    sound_rig rig;
    console_rig console;
} heard;

static int begin(void **state) {
    heard *own = calloc(1, sizeof *own);
    assert_non_null(own);
    int code = sound_rig_start(&own->rig, RATE);
    if (code == 77)
        print_message("no headless sound server here (pulseaudio, pulseaudio-utils): skipped\n");
    if (code != 0) {
        free(own);
        own = NULL;
    }
    *state = own;
    return code == 0 || code == 77 ? 0 : -1;
}

static int end(void **state) {
    heard *own = *state;
    if (own) {
        sound_rig_stop(&own->rig);
        free(own);
    }
    return 0;
}

static heard *own_of(void **state) {
    if (!*state)
        skip();
    return *state;
}

// A show that fires A-01 at 4 s and a comet at 7.9 s, to be seen at 8 s.
static void start(heard *own) {
    console_rig *r = &own->console;
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(r->program, sizeof r->program, "%s/slowmatch", build ? build : "build");
    short_show_make(&r->show, "1 s");
    short_show_write(&r->show, "show.ini",
                     "[show]\ntitle = Bells\nlength = 8.5\ncountdown = 1\n[limits]\narm-time = 1.5 s\n");
    short_show_write(&r->show, "cues.csv", "time,target,do\n4,A-01,fountain\n8,A-02,comet\n");
    snprintf(r->log, sizeof r->log, "%s", short_show_path(&r->show, "log.out"));
    const char *argv[] = {r->program, "rehearse", r->show.folder, "--timecode-out",
                          "right",    "--log",    r->log,         NULL};
    r->p = pty_start(120, 24, argv, NULL);
    pty_expect(r->p, "It has no way to fire anything");
    pty_type(r->p, "n");
    pty_expect(r->p, "sound default");
}

// ---- what was heard ------------------------------------------------------------------------------

typedef struct tone {
    size_t from;
    double hertz;
} tone;

// By the rising zero crossings of the tone's first 60 ms.
static double pitch_hz(const sound_recording *r, size_t from) {
    size_t crossings = 0, first = 0, last = 0;
    for (size_t i = from + 1; i < from + RATE * 6 / 100 && i < r->count; i++) {
        if (r->frames[i - 1][0] <= 0 && r->frames[i][0] > 0) {
            first = crossings++ == 0 ? i : first;
            last = i;
        }
    }
    return crossings > 1 ? (double)(crossings - 1) * RATE / (double)(last - first) : 0;
}

// Tones on the left channel, with at least 50 ms of silence before each.
static size_t find_tones(const sound_recording *r, tone *out, size_t room) {
    size_t count = 0, silent_since = 0;
    for (size_t i = 0; i < r->count && count < room; i++) {
        if (abs(r->frames[i][0]) < 100)
            continue;
        if (i - silent_since > RATE / 20)
            out[count++] = (tone){i, pitch_hz(r, i)};
        silent_since = i;
    }
    return count;
}

static bool is_pitch(const tone *heard_tone, double hertz) {
    return fabs(heard_tone->hertz / hertz - 1) < 0.02;
}

// What a desk that chases the right channel has read when it hears frame AT of the recording: seconds.
static double timecode_at(const sound_recording *r, size_t at) {
    LTCDecoder *decoder = ltc_decoder_create(RATE / 25, 64);
    assert_non_null(decoder);
    double found_s = NAN;
    for (size_t i = 0; i < r->count && isnan(found_s); i += 480) {
        short block[480];
        size_t part = r->count - i < 480 ? r->count - i : 480;
        for (size_t j = 0; j < part; j++)
            block[j] = r->frames[i + j][1];
        ltc_decoder_write_s16(decoder, block, part, (ltc_off_t)i);
        LTCFrameExt frame;
        while (ltc_decoder_read(decoder, &frame)) {
            if (frame.off_start <= (ltc_off_t)at && (ltc_off_t)at <= frame.off_end) {
                SMPTETimecode stime;
                ltc_frame_to_time(&stime, &frame.ltc, 0);
                found_s = stime.hours * 3600 + stime.mins * 60 + stime.secs + stime.frame / 25.0 +
                          (double)((ltc_off_t)at - frame.off_start) / RATE;
            }
        }
    }
    ltc_decoder_free(decoder);
    return found_s;
}

// Equal temperament at A = 440 Hz (ISO 16), recomputed: C5, E5, G5, C6; the arming tone is an A5, a caution (the wait that begins
// at the end) an F4.
static void assert_all_heard(const sound_recording *r) {
    const double count[] = {440 * pow(2, 3 / 12.0), 440 * pow(2, 7 / 12.0), 440 * pow(2, 10 / 12.0),
                            440 * pow(2, 15 / 12.0)};
    static tone tones[64];
    size_t found = find_tones(r, tones, 64), arming = 0;
    while (arming < found && is_pitch(&tones[arming], 880))
        arming++;
    print_message("%zu pulses while arming, %zu tones after them\n", arming, found - arming);
    assert_in_range(arming, 4, 6); // three a second, one and a half seconds long; the last may be cut short
    assert_in_range(found - arming, 8, 10); // the recording may end before a caution's two
    const tone *calls = tones + arming;
    for (size_t i = 8; i < found - arming; i++)
        assert_true(is_pitch(&calls[i], 440 * pow(2, -4 / 12.0)));
    for (size_t i = 0; i < 8; i++) {
        double at_s = (double)(calls[i].from - calls[0].from) / RATE;
        assert_true(is_pitch(&calls[i], count[i % 4]));
        assert_true(fabs(at_s - (double)(i % 4) - (i < 4 ? 0 : 3.9)) < TOLERANCE_S);
    }
    // A desk that chases the timecode reads the moments of the two firings at their go.
    double first_s = timecode_at(r, calls[3].from), second_s = timecode_at(r, calls[7].from);
    print_message("timecode at the two: %.3f s, %.3f s\n", first_s, second_s);
    assert_true(fabs(first_s - 3604.0) < TOLERANCE_S);
    assert_true(fabs(second_s - 3607.9) < TOLERANCE_S);
}

static void firings_are_called_by_ear(void **state) {
    heard *own = own_of(state);
    pty *p;
    start(own);
    p = own->console.p;
    pty_expect_row(p, 0, "timecode right");
    pty_type(p, "Cpyro\r");
    pty_expect_row(p, 0, "calls pyro");
    assert_true(sound_rig_record(&own->rig));
    console_arm(&own->console);
    pty_type(p, "b");
    pty_expect(p, "Enter start"); // its question is read first
    pty_type(p, "\r");
    pty_expect(p, "RUNNING");
    pty_expect(p, "ENDED");
    sound_recording r;
    assert_true(sound_rig_recorded(&own->rig, &r));
    assert_all_heard(&r);
    sound_recording_deinit(&r);
    console_quit(&own->console);
    console_end(&own->console);
}

static void a_device_is_chosen_by_number(void **state) {
    heard *own = own_of(state);
    pty *p;
    start(own);
    p = own->console.p;
    pty_type(p, "o");
    pty_expect(p, "3  default  (ALSA, 32 channels");
    pty_expect(p, "IN USE");
    pty_type(p, "7\r");
    pty_expect(p, "the list has numbers 1 to 3");
    pty_type(p, "\025no such\r");
    pty_expect(p, "SOUND LOST");
    pty_type(p, "o3\r");
    pty_expect(p, "sound is back: default");
    pty_expect_row(p, 0, "sound default");
    console_quit(&own->console);
    console_end(&own->console);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(firings_are_called_by_ear, begin, end),
        cmocka_unit_test_setup_teardown(a_device_is_chosen_by_number, begin, end),
    };
    return cmocka_run_group_tests_name("console_sound", tests, NULL, NULL);
}
