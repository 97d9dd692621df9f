// SPDX-License-Identifier: GPL-3.0-or-later
// Music through a real (headless) sound server: what was heard against what the clock said.
#include "slowmatch/audio.h"
#include "support/sounds.h"
#include "support/take.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static int setup(void **state) {
    bool missing = false;
    take *own = take_create(TAKE_RATE, &missing);
    if (!own && !missing)
        return -1;
    if (!own)
        print_message("no headless sound server here (pulseaudio, pulseaudio-utils): skipped\n");
    *state = own;
    return 0;
}

static int teardown(void **state) {
    take_destroy(*state);
    return 0;
}

static take *take_or_skip(void **state) {
    if (!*state)
        skip();
    return *state;
}

static int compare(const void *a, const void *b) {
    double left = *(const double *)a, right = *(const double *)b;
    return left < right ? -1 : left > right;
}

// The music from its first frame to the last, bit for bit and without a gap; each frame at its time by the clock.
static void music_is_exact_and_in_step(void **state) {
    take *own = take_or_skip(state);
    const size_t SECONDS = 3, LOOKS = 30;
    assert_true(sound_rig_record(&own->rig));
    assert_true(
        take_open(own, TAKE_NUMBERED, (int)SECONDS, TAKE_RATE, (sm_audio_options){.audio_start_us = 500000}));
    sm_wall_time from = take_play(own, 0.2, 0, SM_SPEED_ONE);
    take_wait(own, 3.9);
    sm_audio_status status;
    sm_audio_status_get(own->audio, &status);
    assert_int_equal(status.rate_hz, TAKE_RATE);
    assert_int_equal(status.state, SM_AUDIO_SOUNDING);
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    size_t first = 0;
    while (first < heard.count && heard.frames[first][1] == 0)
        first++;
    assert_true(first + SECONDS * TAKE_RATE <= heard.count);
    size_t wrong = 0;
    for (uint32_t i = 0; i < SECONDS * TAKE_RATE; i++) {
        const int16_t *frame = heard.frames[first + i];
        wrong += frame[0] != sounds_noise(i) || frame[1] != (int16_t)(i % TAKE_NUMBERS + 1);
    }
    assert_int_equal(wrong, 0);
    assert_int_equal(status.gap_frames, 0);
    double off_s[30];
    for (size_t i = 0; i < LOOKS; i++) {
        double show_s = take_heard_s(own, &heard, first + i * TAKE_RATE / 10) - (double)from.us / 1e6;
        off_s[i] = show_s - 0.5 - (double)i / 10;
        assert_true(!isnan(off_s[i]));
    }
    qsort(off_s, LOOKS, sizeof *off_s, compare);
    print_message("heard %+.2f ms off the clock (median; %+.2f to %+.2f)\n", off_s[LOOKS / 2] * 1e3,
                  off_s[0] * 1e3, off_s[LOOKS - 1] * 1e3);
    assert_true(fabs(off_s[LOOKS / 2]) < TAKE_TOLERANCE_S);
    assert_false(own->went_back);
    sound_recording_deinit(&heard);
}

static void pauses_jumps_and_plans_are_followed(void **state) {
    take *own = take_or_skip(state);
    assert_true(sound_rig_record(&own->rig));
    assert_true(take_open(own, TAKE_NUMBERED, 20, TAKE_RATE, (sm_audio_options){0}));
    sm_wall_time first = take_play(own, 0, 3, SM_SPEED_ONE);
    take_wait(own, 0.6);
    take_stand(own);
    double still_s = (double)sm_audio_now(own->audio).us / 1e6;
    take_wait(own, 0.5);
    sm_wall_time second = take_play(own, 0, 10, SM_SPEED_ONE);
    take_wait(own, 0.5);
    sm_wall_time third = take_play(own, 0, 6, SM_SPEED_ONE);
    // A jump that is planned, as a repeat plans it: met to the frame.
    sm_wall_time fourth = take_play(own, 0.7, 15, SM_SPEED_ONE);
    take_wait(own, 1.2);
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    take_assert_heard(own, &heard, (double)first.us / 1e6 + 0.3, 3.3);
    assert_int_equal(take_heard_at(own, &heard, still_s + 0.25, 0), -1);
    take_assert_heard(own, &heard, (double)second.us / 1e6 + 0.3, 10.3);
    take_assert_heard(own, &heard, (double)third.us / 1e6 + 0.3, 6.3);
    take_assert_heard(own, &heard, (double)fourth.us / 1e6 + 0.1, 15.1);
    // From 6.3 to 6.69 and from 15.01 on not one frame is missing, and between them lie only the milliseconds of a fade.
    size_t i = 0;
    while (i < heard.count && !(take_heard_s(own, &heard, i) >= (double)third.us / 1e6 + 0.3))
        i++;
    int64_t number = take_numbered(heard.frames[i], 6.3 * TAKE_RATE);
    size_t start = i;
    while (i < heard.count && heard.frames[i][0] == sounds_noise((uint32_t)(number + (int64_t)(i - start))))
        i++;
    assert_true(fabs((double)(number + (int64_t)(i - start)) / TAKE_RATE - 6.7) < 0.0005);
    int64_t fade = 0, after = -1;
    for (; i + (size_t)fade < heard.count; fade++) {
        const int16_t *frame = heard.frames[i + (size_t)fade];
        after = take_numbered(frame, 15.0 * TAKE_RATE + (double)fade);
        if (after >= 0 && frame[0] == sounds_noise((uint32_t)after))
            break;
    }
    assert_true(fade <= TAKE_RATE * 6 / 1000);
    assert_true(labs((long)(after - fade - 15 * TAKE_RATE)) <= 2);
    sound_recording_deinit(&heard);
}

static void another_rate_is_converted_in_step(void **state) {
    take *own = take_or_skip(state);
    assert_true(sound_rig_record(&own->rig));
    // 22.05 kHz is below what a device is opened at: it goes through the converter.
    assert_true(take_open(own, TAKE_CLICKS, 3, 22050, (sm_audio_options){0}));
    sm_audio_status status;
    sm_audio_status_get(own->audio, &status);
    assert_int_equal(status.rate_hz, TAKE_RATE);
    sm_wall_time from = take_play(own, 0.2, 0, SM_SPEED_ONE);
    take_wait(own, 3.5);
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    take_clicks found = take_clicks_find(own, &heard, 0, (double)from.us / 1e6 + 3.2, from, 0, 1);
    print_message("%d clicks, heard %+.2f to %+.2f ms off the clock\n", found.count, found.least_s * 1e3,
                  found.most_s * 1e3);
    assert_int_equal(found.count, 6);
    assert_true(found.least_s > -TAKE_TOLERANCE_S && found.most_s < TAKE_TOLERANCE_S);
    sound_recording_deinit(&heard);
}

int main(int argc, char **argv) {
    if (argc > 1 && strcmp(argv[1], SM_AUDIO_PROCESS_ARGUMENT) == 0)
        return sm_audio_process_main(argc, argv);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(music_is_exact_and_in_step, setup, teardown),
        cmocka_unit_test_setup_teardown(pauses_jumps_and_plans_are_followed, setup, teardown),
        cmocka_unit_test_setup_teardown(another_rate_is_converted_in_step, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
