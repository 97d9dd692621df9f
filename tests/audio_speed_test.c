// SPDX-License-Identifier: GPL-3.0-or-later
// Volume and speed through a real (headless) sound server.
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

static void volume_and_mute_act_without_a_click(void **state) {
    take *own = take_or_skip(state);
    assert_true(sound_rig_record(&own->rig));
    assert_true(take_open(own, TAKE_NUMBERED, 20, TAKE_RATE, (sm_audio_options){0}));
    sm_wall_time from = take_play(own, 0, 1, SM_SPEED_ONE);
    take_wait(own, 0.4);
    double loud_s = (double)sm_audio_now(own->audio).us / 1e6;
    sm_audio_volume(own->audio, 50);
    take_wait(own, 0.5);
    double half_s = (double)sm_audio_now(own->audio).us / 1e6;
    sm_audio_mute(own->audio, true);
    take_wait(own, 0.5);
    double muted_s = (double)sm_audio_now(own->audio).us / 1e6;
    sm_audio_mute(own->audio, false);
    sm_audio_volume(own->audio, 250);
    sm_audio_status status;
    sm_audio_status_get(own->audio, &status);
    assert_int_equal(status.volume_percent, 100);
    assert_false(status.muted);
    take_wait(own, 0.5);
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    take_assert_heard(own, &heard, loud_s - 0.1, 1 + loud_s - 0.1 - (double)from.us / 1e6);
    for (size_t i = 1; i < heard.count; i++) {
        double at_s = take_heard_s(own, &heard, i);
        // Half is a quarter of the amplitude: the numbers 1 to 30000 become up to 7500.
        if (at_s > half_s - 0.2 && at_s < half_s)
            assert_in_range(heard.frames[i][1], 0, TAKE_NUMBERS / 4 + 1);
        if (at_s > muted_s - 0.2 && at_s < muted_s)
            assert_int_equal(heard.frames[i][1], 0);
        // The numbers climb by one a frame and fall only when they begin again; a ramp of 10 ms adds some.
        int step = abs(heard.frames[i][1] - heard.frames[i - 1][1]);
        if (at_s > loud_s - 0.2 && heard.frames[i][1] > 200)
            assert_in_range(step, 0, 400);
    }
    sound_recording_deinit(&heard);
}

static void slow_and_fast_music_keeps_its_place(void **state) {
    take *own = take_or_skip(state);
    assert_true(sound_rig_record(&own->rig));
    assert_true(take_open(own, TAKE_CLICKS, 20, TAKE_RATE, (sm_audio_options){0}));
    static const double SPEEDS[] = {0.25, 2.0, 0.5}, LASTS_S[] = {3.2, 0.9, 1.6};
    sm_wall_time from[3];
    for (int i = 0; i < 3; i++) {
        from[i] = take_play(own, 0, 4 * i + 0.25, (int32_t)(SPEEDS[i] * SM_SPEED_ONE));
        take_wait(own, LASTS_S[i]);
    }
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    for (int i = 0; i < 3; i++) {
        double begin_s = (double)from[i].us / 1e6;
        take_clicks found =
            take_clicks_find(own, &heard, begin_s, begin_s + LASTS_S[i], from[i], 4 * i + 0.25, SPEEDS[i]);
        print_message("speed %.2f: %d clicks, %+.2f ms of music (mean; %+.2f to %+.2f)\n", SPEEDS[i],
                      found.count, found.mean_s * 1e3, found.least_s * 1e3, found.most_s * 1e3);
        assert_true(found.count >= 1);
        assert_true(fabs(found.mean_s) < 0.010);
        assert_true(found.least_s > -TAKE_TOLERANCE_S * 2 && found.most_s < TAKE_TOLERANCE_S * 2);
    }
    sound_recording_deinit(&heard);
}

int main(int argc, char **argv) {
    if (argc > 1 && strcmp(argv[1], SM_AUDIO_PROCESS_ARGUMENT) == 0)
        return sm_audio_process_main(argc, argv);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(volume_and_mute_act_without_a_click, setup, teardown),
        cmocka_unit_test_setup_teardown(slow_and_fast_music_keeps_its_place, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
