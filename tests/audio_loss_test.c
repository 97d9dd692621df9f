// SPDX-License-Identifier: GPL-3.0-or-later
// Sound servers that die, freeze, come back or are not there: the clock goes on, and sound comes back in step.
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

// The clock kept the monotonic clock's pace to 2 %, and never went back or jumped: most_ahead_s counts what a thread
// kept waiting between two looks cannot explain.
static void assert_steady(const take *own, const struct take_note *from) {
    const struct take_note *last = &own->notes[own->note_count - 1];
    double wall_s = (double)(last->wall_us - from->wall_us) / 1e6;
    assert_false(own->went_back);
    assert_true(own->most_ahead_s < 0.010); // a buffer
    assert_true(fabs(wall_s - (last->mono_s - from->mono_s)) < 0.025 + 0.002 * wall_s);
}

static void assert_in_step_again(take *own, sm_wall_time from) {
    assert_true(sound_rig_record(&own->rig));
    take_wait(own, 0.8);
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    double wall_s = take_heard_s(own, &heard, heard.count / 3);
    take_assert_heard(own, &heard, wall_s, wall_s - (double)from.us / 1e6);
    sound_recording_deinit(&heard);
}

static void a_killed_server_is_missed_and_found_again(void **state) {
    take *own = take_of(state);
    assert_true(take_open(own, TAKE_NUMBERED, take_soaks() ? 180 : 30, TAKE_RATE, (sm_audio_options){0}));
    sm_wall_time from = take_play(own, 0, 0, SM_SPEED_ONE);
    take_wait(own, 0.3);
    struct take_note begin = own->notes[own->note_count - 1];
    for (int i = 0; i < (take_soaks() ? 10 : 2); i++) {
        assert_true(sound_rig_do(&own->rig, "kill"));
        sm_audio_event event;
        assert_true(take_event(own, SM_AUDIO_EVENT_LOST, 10, &event));
        assert_string_not_equal(event.text, "");
        sm_audio_status status;
        sm_audio_status_get(own->audio, &status);
        assert_int_equal(status.state, SM_AUDIO_LOST);
        assert_true(sound_rig_do(&own->rig, "restart"));
        assert_true(take_event(own, SM_AUDIO_EVENT_BACK, 10, &event));
        assert_string_equal(event.text, "default");
        assert_in_step_again(own, from);
    }
    assert_steady(own, &begin);
}

static void a_frozen_server_is_missed_and_found_again(void **state) {
    take *own = take_of(state);
    assert_true(take_open(own, TAKE_NUMBERED, take_soaks() ? 180 : 30, TAKE_RATE, (sm_audio_options){0}));
    sm_wall_time from = take_play(own, 0, 0, SM_SPEED_ONE);
    take_wait(own, 0.3);
    struct take_note begin = own->notes[own->note_count - 1];
    for (int i = 0; i < (take_soaks() ? 10 : 1); i++) {
        assert_true(sound_rig_do(&own->rig, "freeze"));
        sm_audio_event event;
        assert_true(take_event(own, SM_AUDIO_EVENT_LOST, 10, &event));
        take_wait(own, 0.5);
        assert_false(sm_audio_next_event(own->audio, &event)); // it is said once
        assert_true(sound_rig_do(&own->rig, "thaw"));
        assert_true(take_event(own, SM_AUDIO_EVENT_BACK, 10, &event));
        assert_in_step_again(own, from);
    }
    assert_steady(own, &begin);
    // Closing does not wait for a frozen server.
    assert_true(sound_rig_do(&own->rig, "freeze"));
    take_close(own);
    assert_true(sound_rig_do(&own->rig, "thaw"));
}

static void without_a_device_the_clock_runs_and_says_why(void **state) {
    (void)state;
    sound_rig_no_device();
    sm_audio *audio = NULL;
    assert_int_equal(sm_audio_open(&(sm_audio_options){.device = "no such"}, &audio), SM_OK);
    take *own = calloc(1, sizeof *own);
    assert_non_null(own);
    own->audio = audio;
    sm_audio_event event;
    assert_true(take_event(own, SM_AUDIO_EVENT_SILENT, 20, &event));
    assert_string_equal(event.text, "no output device is called \"no such\"");
    sm_audio_status status;
    sm_audio_status_get(audio, &status);
    assert_int_equal(status.state, SM_AUDIO_SILENT);
    assert_string_equal(status.reason, event.text);
    take_wait(own, 0.5);
    assert_false(sm_audio_next_event(audio, &event)); // looked again, in vain: said once
    assert_false(own->went_back);
    assert_true(own->most_ahead_s < 0.001);
    assert_int_equal(sm_audio_devices(audio, &(sm_audio_device){0}, 1), 0);
    sm_audio_choose(audio, NULL);
    assert_true(take_event(own, SM_AUDIO_EVENT_SILENT, 20, &event));
    assert_string_equal(event.text, "no output device");
    take_destroy(own);
}

// PortAudio ends its process by a failed assertion when ALSA's configuration names no device at all.
static void a_sound_process_that_aborts_takes_nothing_along(void **state) {
    (void)state;
    sound_rig_no_device();
    setenv("ALSA_CONFIG_PATH", "/dev/null", 1);
    take *own = calloc(1, sizeof *own);
    assert_non_null(own);
    assert_int_equal(sm_audio_open(&(sm_audio_options){0}, &own->audio), SM_OK);
    sm_audio_event event;
    assert_true(take_event(own, SM_AUDIO_EVENT_SILENT, 20, &event));
    take_wait(own, 0.3);
    assert_false(own->went_back);
    take_destroy(own);
}

static void a_device_is_chosen_by_name(void **state) {
    take *own = take_of(state);
    assert_true(take_open(own, TAKE_NUMBERED, 5, TAKE_RATE, (sm_audio_options){.device = "DEFAU"}));
    sm_audio_device devices[SM_AUDIO_DEVICES_MAX];
    assert_int_equal(sm_audio_devices(own->audio, devices, SM_AUDIO_DEVICES_MAX),
                     3); // the rig's sink and monitor come first
    assert_string_equal(devices[2].name, "default");
    assert_string_equal(devices[2].host, "ALSA");
    assert_true(devices[2].is_default);
    assert_true(devices[2].channels >= 2);
    sm_audio_choose(own->audio, "elsewhere");
    sm_audio_event event;
    assert_true(take_event(own, SM_AUDIO_EVENT_LOST, 10, &event));
    take_wait(own, 0.4);
    sm_audio_choose(own->audio, "default");
    assert_true(take_event(own, SM_AUDIO_EVENT_BACK, 10, &event));
}

static int all(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_killed_server_is_missed_and_found_again, take_setup, take_teardown),
        cmocka_unit_test_setup_teardown(a_frozen_server_is_missed_and_found_again, take_setup, take_teardown),
        cmocka_unit_test_setup_teardown(a_device_is_chosen_by_name, take_setup, take_teardown),
        cmocka_unit_test(a_sound_process_that_aborts_takes_nothing_along),
        cmocka_unit_test(without_a_device_the_clock_runs_and_says_why),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

int main(int argc, char **argv) {
    return take_main(argc, argv, all);
}
