// SPDX-License-Identifier: GPL-3.0-or-later
// Volume and speed through a real (headless) sound server.
#include "support/sounds.h"
#include "support/take.h"

#include "slowmatch/audio.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static int compare(const void *a, const void *b) {
    double left = *(const double *)a, right = *(const double *)b;
    return left < right ? -1 : left > right;
}

static void volume_and_mute_act_without_a_click(void **state) {
    take *own = take_of(state);
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
    take *own = take_of(state);
    assert_true(sound_rig_record(&own->rig));
    assert_true(take_open(own, TAKE_CLICKS, 20, TAKE_RATE, (sm_audio_options){0}));
    static const double SPEEDS[] = {0.25, 2.0, 0.5}, LASTS_S[] = {1.4, 0.9, 1.6};
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

// Slow, fast and back while it plays: the pitch stays, and no change is a click.
static void pitch_stays_when_the_speed_changes(void **state) {
    take *own = take_of(state);
    assert_true(sound_rig_record(&own->rig));
    assert_true(take_open(own, TAKE_TONE, 30, TAKE_RATE, (sm_audio_options){0}));
    static const double SPEEDS[] = {1, 0.5, 2, 0.1, 1};
    enum { PARTS = 5 };
    double begin_s[PARTS], show_s = 2;
    for (int i = 0; i < PARTS; i++) {
        sm_wall_time from = take_play(own, 0, show_s, (int32_t)(SPEEDS[i] * SM_SPEED_ONE));
        begin_s[i] = (double)from.us / 1e6;
        take_wait(own, 0.7);
        show_s += SPEEDS[i] * ((double)sm_audio_now(own->audio).us / 1e6 - begin_s[i]);
    }
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    for (int i = 0; i < PARTS; i++) {
        // The middle of each part: rising zero crossings tell the pitch.
        int crossings = 0;
        size_t first = 0, last = 0;
        for (size_t f = 1; f < heard.count; f++) {
            double at_s = take_heard_s(own, &heard, f);
            if (!(at_s > begin_s[i] + 0.3 && at_s < begin_s[i] + 0.65) || heard.frames[f - 1][0] > 0 ||
                heard.frames[f][0] <= 0)
                continue;
            first = crossings++ == 0 ? f : first;
            last = f;
        }
        assert_true(crossings > 100);
        double hertz = (crossings - 1) * (double)TAKE_RATE / (double)(last - first);
        print_message("speed %.2f: %.2f Hz\n", SPEEDS[i], hertz);
        assert_true(fabs(hertz / TAKE_HERTZ - 1) < 0.005);
    }
    // A sine's steepest step is 2 pi f / rate of its height; twice that is no click yet.
    for (size_t f = 1; f < heard.count; f++)
        if (take_heard_s(own, &heard, f) > begin_s[0] + 0.2)
            assert_in_range(abs(heard.frames[f][0] - heard.frames[f - 1][0]), 0,
                            2 * 12000 * 6.2832 * TAKE_HERTZ / TAKE_RATE);
    sound_recording_deinit(&heard);
}

// From the word to the first sound at the sink, jumping from silence into a tone; the median of some jumps.
static double jump_ms(take *own, int32_t speed_ppm, int jumps) {
    double asked_s[32], took_ms[32];
    assert_true(sound_rig_record(&own->rig));
    for (int i = 0; i < jumps; i++) {
        take_wait(own, 0.4 + 0.013 * i); // at ever other places of the card's buffer
        asked_s[i] = (double)take_play(own, 0, 5 + i, speed_ppm).us / 1e6;
        take_wait(own, 0.4);
        take_stand(own);
    }
    take_wait(own, 0.3);
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    size_t f = 0;
    for (int i = 0; i < jumps; i++) {
        while (f < heard.count &&
               !(take_heard_s(own, &heard, f) >= asked_s[i] && abs(heard.frames[f][0]) > 1000))
            f++;
        assert_true(f < heard.count);
        took_ms[i] = (take_heard_s(own, &heard, f) - asked_s[i]) * 1e3;
    }
    sound_recording_deinit(&heard);
    qsort(took_ms, (size_t)jumps, sizeof *took_ms, compare);
    return took_ms[jumps / 2];
}

static void jumps_are_soon_heard(void **state) {
    take *own = take_of(state);
    int jumps = take_soaks() ? 30 : 2;
    assert_true(take_open(own, TAKE_TONE, 60, TAKE_RATE, (sm_audio_options){0}));
    double plain_ms = jump_ms(own, SM_SPEED_ONE, jumps), slow_ms = jump_ms(own, SM_SPEED_ONE / 2, jumps);
    print_message("a jump is heard after %.0f ms at 1.0, %.0f ms at 0.5 (medians)\n", plain_ms, slow_ms);
    assert_true(plain_ms > 0 && slow_ms > 0);
    if (take_soaks()) {
        assert_true(plain_ms < 120);
        assert_true(slow_ms < 250);
    }
}

// A minute at each speed: the mean within 10 ms of music, the last clicks where the first were.
static void no_speed_drifts(void **state) {
    take *own = take_of(state);
    if (!take_soaks())
        skip();
    static const double SPEEDS[] = {0.1, 0.25, 0.5, 0.8, 1.25, 2};
    for (int i = 0; i < 6; i++) {
        assert_true(sound_rig_record(&own->rig));
        assert_true(take_open(own, TAKE_CLICKS, 140, TAKE_RATE, (sm_audio_options){0}));
        sm_wall_time from = take_play(own, 0, 0.25, (int32_t)(SPEEDS[i] * SM_SPEED_ONE));
        take_wait(own, 63);
        sound_recording heard;
        assert_true(sound_rig_recorded(&own->rig, &heard));
        double begin_s = (double)from.us / 1e6, third_s = 20.5;
        take_clicks all = take_clicks_find(own, &heard, begin_s, begin_s + 62, from, 0.25, SPEEDS[i]);
        take_clicks head = take_clicks_find(own, &heard, begin_s, begin_s + third_s, from, 0.25, SPEEDS[i]);
        take_clicks tail =
            take_clicks_find(own, &heard, begin_s + 62 - third_s, begin_s + 62, from, 0.25, SPEEDS[i]);
        print_message("speed %.2f: %d clicks, %+.2f ms of music (mean; %+.2f to %+.2f), drift %+.2f\n",
                      SPEEDS[i], all.count, all.mean_s * 1e3, all.least_s * 1e3, all.most_s * 1e3,
                      (tail.mean_s - head.mean_s) * 1e3);
        sound_recording_deinit(&heard);
        take_close(own);
        assert_in_range(all.count, (int)(62 * 2 * SPEEDS[i]) - 1, (int)(62 * 2 * SPEEDS[i]) + 1);
        assert_true(fabs(all.mean_s) < 0.010);
        assert_true(fabs(tail.mean_s - head.mean_s) < 0.005);
        assert_true(all.least_s > -TAKE_TOLERANCE_S && all.most_s < TAKE_TOLERANCE_S);
    }
}

static int all(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(volume_and_mute_act_without_a_click, take_setup, take_teardown),
        cmocka_unit_test_setup_teardown(slow_and_fast_music_keeps_its_place, take_setup, take_teardown),
        cmocka_unit_test_setup_teardown(pitch_stays_when_the_speed_changes, take_setup, take_teardown),
        cmocka_unit_test_setup_teardown(jumps_are_soon_heard, take_setup, take_teardown),
        cmocka_unit_test_setup_teardown(no_speed_drifts, take_setup, take_teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

int main(int argc, char **argv) {
    return take_main(argc, argv, all);
}
