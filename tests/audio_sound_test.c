// SPDX-License-Identifier: GPL-3.0-or-later
// Music through a real (headless) sound server: what was heard against what the clock said.
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

// How far each tenth of a second of the music was heard off the clock; FIRST is the recorded frame of the music's first,
// which the show had at BEGIN_S.
static void assert_in_step(const take *own, const sound_recording *heard, size_t first, double begin_s,
                           size_t looks) {
    double *off_s = calloc(looks, sizeof *off_s), mean_s = 0;
    assert_non_null(off_s);
    for (size_t i = 0; i < looks; i++) {
        off_s[i] = take_heard_s(own, heard, first + i * TAKE_RATE / 10) - begin_s - (double)i / 10;
        assert_true(!isnan(off_s[i]));
        mean_s += off_s[i] / (double)looks;
    }
    qsort(off_s, looks, sizeof *off_s, compare);
    double least_s = off_s[looks / 100], middle_s = off_s[looks / 2], most_s = off_s[looks - 1 - looks / 100];
    free(off_s);
    print_message("heard %+.2f ms off the clock (mean; 98 in 100 within %+.2f to %+.2f)\n", mean_s * 1e3,
                  least_s * 1e3, most_s * 1e3);
    // The recorder may be kept waiting too, on a busy machine: the median is what it cannot spoil.
    assert_true(fabs(middle_s) < TAKE_TOLERANCE_S);
    if (take_soaks()) {
        assert_true(fabs(mean_s) < 0.002);
        assert_true(most_s - least_s < 0.003);
    }
}

// The music from its first frame to the last, bit for bit and without a gap; each frame at its time by the clock.
static void music_is_exact_and_in_step(void **state) {
    take *own = take_of(state);
    const size_t seconds = take_soaks() ? 600 : 3, frames = seconds * TAKE_RATE;
    assert_true(sound_rig_record(&own->rig));
    sm_audio_options options = {.audio_start_us = 500000};
    assert_true(take_open(own, TAKE_NUMBERED, (int)seconds, TAKE_RATE, options));
    sm_wall_time from = take_play(own, 0.2, 0, SM_SPEED_ONE);
    take_wait(own, (double)seconds + 0.9);
    sm_audio_status status;
    sm_audio_status_get(own->audio, &status);
    assert_int_equal(status.rate_hz, TAKE_RATE);
    assert_int_equal(status.state, SM_AUDIO_SOUNDING);
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    size_t first = 0;
    while (first < heard.count && heard.frames[first][1] == 0)
        first++;
    assert_true(first + frames <= heard.count);
    size_t wrong = 0;
    for (uint32_t i = 0; i < frames; i++) {
        const int16_t *frame = heard.frames[first + i];
        wrong += frame[0] != sounds_noise(i) || frame[1] != (int16_t)(i % TAKE_NUMBERS + 1);
    }
    assert_int_equal(wrong, 0);
    assert_int_equal(status.gap_frames, 0);
    assert_in_step(own, &heard, first, (double)from.us / 1e6 + 0.5, seconds * 10);
    assert_false(own->went_back);
    sound_recording_deinit(&heard);
}

static void pauses_jumps_and_plans_are_followed(void **state) {
    take *own = take_of(state);
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
    take *own = take_of(state);
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

static int all(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(music_is_exact_and_in_step, take_setup, take_teardown),
        cmocka_unit_test_setup_teardown(pauses_jumps_and_plans_are_followed, take_setup, take_teardown),
        cmocka_unit_test_setup_teardown(another_rate_is_converted_in_step, take_setup, take_teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

int main(int argc, char **argv) {
    return take_main(argc, argv, all);
}
