// SPDX-License-Identifier: GPL-3.0-or-later
// Tones over the music, and music put off on purpose.
#include "audio/tones.h"
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

// The frequency of a tone from FIRST on by its rising zero crossings.
static double pitch_hz(const float (*frames)[2], size_t first, size_t count, int rate_hz) {
    size_t crossings = 0, from = 0, to = 0;
    for (size_t i = first + 1; i < first + count; i++)
        if (frames[i - 1][0] <= 0 && frames[i][0] > 0) {
            from = crossings++ == 0 ? i : from;
            to = i;
        }
    return crossings > 1 ? (double)(crossings - 1) * rate_hz / (double)(to - from) : 0;
}

static void tones_have_their_pitch_and_place(void **state) {
    (void)state;
    // Equal temperament at A = 440 Hz (ISO 16): C5, E5, G5, C6; recomputed.
    const double hertz[] = {440 * pow(2, 3 / 12.0), 440 * pow(2, 7 / 12.0), 440 * pow(2, 10 / 12.0),
                            440 * pow(2, 15 / 12.0)};
    static float out[24000][2];
    for (int tone = SM_TONE_THREE; tone <= SM_TONE_GO; tone++) {
        sm_tones tones = {.gain = 1};
        memset(out, 0, sizeof out);
        sm_tones_add(&tones, 1005, (sm_tone)tone, true, 1000, 48000);
        for (size_t i = 0; i < 24000; i += 480) // in blocks, as the mixer does
            sm_tones_mix(&tones, 48000, 1000 + i, out + i, 480);
        for (size_t i = 0; i < 5; i++)
            assert_true(out[i][0] == 0);
        assert_true(out[7][0] != 0);
        assert_true(fabs(pitch_hz((const float(*)[2])out, 0, 3840, 48000) / hertz[tone] - 1) < 0.005);
        assert_true(out[23000][0] == 0);
    }
}

// Pulses with as much silence between them, and the pitch of the first.
static void alerts_are_told_from_each_other_and_from_arming(void **state) {
    (void)state;
    // Equal temperament at A = 440 Hz (ISO 16): A#5, F4, A5; recomputed.
    const struct {
        sm_tone tone;
        double hertz;
        unsigned pulses;
    } sounds[] = {{SM_TONE_WARNING, 440 * pow(2, 13 / 12.0), 5},
                  {SM_TONE_CAUTION, 440 * pow(2, -4 / 12.0), 2},
                  {SM_TONE_ARMING, 440 * pow(2, 12 / 12.0), 3}};
    static float out[48000][2];
    for (size_t i = 0; i < sizeof sounds / sizeof sounds[0]; i++) {
        sm_tones tones = {.gain = 1};
        memset(out, 0, sizeof out);
        sm_tones_add(&tones, 0, sounds[i].tone, false, 0, 48000);
        sm_tones_mix(&tones, 48000, 0, out, 48000);
        unsigned pulses = 0, still = 1000;
        for (size_t at = 0; at < 48000; at++) {
            pulses += out[at][0] != 0 && still >= 1000; // 21 ms
            still = out[at][0] != 0 ? 0 : still + 1;
        }
        assert_int_equal(pulses, sounds[i].pulses);
        assert_true(fabs(pitch_hz((const float(*)[2])out, 0, 3000, 48000) / sounds[i].hertz - 1) < 0.005);
    }
}

static void planned_tones_can_be_forgotten_and_sums_stay_in_range(void **state) {
    (void)state;
    sm_tones tones = {.gain = 1};
    sm_tones_add(&tones, 100, SM_TONE_GO, true, 0, 48000);
    sm_tones_add(&tones, 300, SM_TONE_ONE, true, 0, 48000);
    sm_tones_add(&tones, 300, SM_TONE_ARMING, false, 0, 48000);
    sm_tones_forget(&tones, 300);
    assert_int_equal(tones.count, 2);
    for (uint64_t i = 0; i < 2 * SM_TONES_MAX; i++)
        sm_tones_add(&tones, 400, SM_TONE_GO, true, 0, 48000);
    assert_int_equal(tones.count, SM_TONES_MAX);
    static float out[4800][2];
    sm_tones_mix(&tones, 48000, 0, out, 4800);
    float most = 0;
    for (size_t i = 0; i < 4800; i++)
        most = fmaxf(most, fabsf(out[i][0]));
    assert_float_equal(most, 1, 0);
    sm_tones_add(&tones, 900000, SM_TONE_GO, true, 890000, 48000); // all others are long over
    assert_int_equal(tones.count, 1);
}

// Ticks at each half second of the show, whatever its speed; none while it stands.
static void ticks_follow_the_show(void **state) {
    take *own = take_of(state);
    sm_audio_call calls[80];
    for (int i = 0; i < 80; i++)
        calls[i] = (sm_audio_call){{i * 500000}, SM_TONE_TICK};
    assert_true(sound_rig_record(&own->rig));
    assert_true(take_open(own, TAKE_NUMBERED, 40, TAKE_RATE, (sm_audio_options){0}));
    sm_audio_mute(own->audio, true);
    assert_int_equal(sm_audio_calls(own->audio, calls, 80), SM_OK);
    calls[1].show.us = 0;
    calls[2].show.us = -1;
    assert_int_equal(sm_audio_calls(own->audio, calls, 80), SM_INVALID);
    sm_wall_time first = take_play(own, 0, 1.2, SM_SPEED_ONE);
    take_wait(own, 1.5); // 1.5, 2.0, 2.5
    sm_wall_time second = take_play(own, 0, 10.2, SM_SPEED_ONE / 2);
    take_wait(own, 1.8); // 10.5, 11.0
    take_stand(own);
    double still_s = (double)sm_audio_now(own->audio).us / 1e6;
    take_wait(own, 0.7);
    sm_audio_tone(own->audio, SM_TONE_ARMING);
    double arming_s = (double)sm_audio_now(own->audio).us / 1e6;
    take_wait(own, 0.7);
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    double first_s = (double)first.us / 1e6, second_s = (double)second.us / 1e6;
    take_clicks found = take_clicks_find(own, &heard, first_s, second_s, first, 1.2, 1);
    assert_int_equal(found.count, 3);
    assert_true(found.least_s > -TAKE_TOLERANCE_S && found.most_s < TAKE_TOLERANCE_S);
    found = take_clicks_find(own, &heard, second_s + 0.2, still_s, second, 10.2, 0.5);
    assert_int_equal(found.count, 2);
    assert_true(found.least_s > -TAKE_TOLERANCE_S && found.most_s < TAKE_TOLERANCE_S);
    found = take_clicks_find(own, &heard, still_s + 0.2, arming_s, first, 0, 1);
    assert_int_equal(found.count, 0);
    found = take_clicks_find(own, &heard, arming_s, arming_s + 0.4, first, 0, 1);
    assert_int_equal(found.count, 1); // it is soon there
    sound_recording_deinit(&heard);
}

static void music_can_be_put_off_on_purpose(void **state) {
    take *own = take_of(state);
    assert_true(sound_rig_record(&own->rig));
    assert_true(take_open(own, TAKE_NUMBERED, 10, TAKE_RATE, (sm_audio_options){.sound_offset_us = 40000}));
    sm_wall_time from = take_play(own, 0, 3, SM_SPEED_ONE);
    take_wait(own, 0.6);
    double off_s = (double)sm_audio_now(own->audio).us / 1e6;
    sm_audio_music_off(own->audio, 200000);
    take_wait(own, 0.6);
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    double from_s = (double)from.us / 1e6;
    take_assert_heard(own, &heard, from_s + 0.4, 3.4 + 0.04); // sound that reaches the ear late is sent early
    take_assert_heard(own, &heard, off_s + 0.4, 3.4 + 0.04 - 0.2 + off_s - from_s);
    sound_recording_deinit(&heard);
}

static int all(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tones_have_their_pitch_and_place),
        cmocka_unit_test(alerts_are_told_from_each_other_and_from_arming),
        cmocka_unit_test(planned_tones_can_be_forgotten_and_sums_stay_in_range),
        cmocka_unit_test_setup_teardown(ticks_follow_the_show, take_setup, take_teardown),
        cmocka_unit_test_setup_teardown(music_can_be_put_off_on_purpose, take_setup, take_teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

int main(int argc, char **argv) {
    return take_main(argc, argv, all);
}
