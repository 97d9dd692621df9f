// SPDX-License-Identifier: GPL-3.0-or-later
// The rehearsal clock, the loop that follows a card, and the transport.
#include "audio/follow.h"
#include "audio/mono.h"
#include "audio/rehearsal_clock.h"
#include "audio/transport.h"

#include "slowmatch/audio.h"

#include <math.h>
#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static void steering_bends_and_never_breaks(void **state) {
    (void)state;
    sm_clock clock;
    sm_clock_init(&clock, 5000);
    assert_int_equal(sm_clock_at(&clock, 5000), 0);
    assert_int_equal(sm_clock_at(&clock, 1000005000), 1000000000);
    sm_clock_steer(&clock, 1000005000, 0.99);
    assert_int_equal(sm_clock_at(&clock, 1000005000), 1000000000);
    assert_int_equal(sm_clock_at(&clock, 2000005000), 1990000000);
    sm_clock_steer(&clock, 2000005000, 1.02);
    assert_int_equal(sm_clock_at(&clock, 2000005000), 1990000000);
    assert_int_equal(sm_clock_at(&clock, 2100005000), 2092000000);
    assert_int_equal(sm_clock_when(&clock, 2092000000), 2100005000);
}

static void a_reading_never_goes_back(void **state) {
    (void)state;
    sm_clock clock;
    sm_clock_init(&clock, 0);
    assert_int_equal(sm_clock_read(&clock, 2000), 2000);
    // A reader that looked ahead of the line's change to a slower one.
    sm_clock_steer(&clock, 1000, 0.5);
    assert_int_equal(sm_clock_at(&clock, 2000), 1500);
    assert_int_equal(sm_clock_read(&clock, 2000), 2000);
    assert_int_equal(sm_clock_read(&clock, 4000), 2500);
}

typedef struct steerer {
    sm_clock *clock;
    atomic_bool stop;
} steerer;

static void *steer_main(void *context) {
    steerer *own = context;
    for (int i = 0; !atomic_load(&own->stop); i++)
        sm_clock_steer(own->clock, sm_mono_ns(), i % 2 ? 0.98 : 1.02);
    return NULL;
}

static void a_racing_reader_sees_no_step(void **state) {
    (void)state;
    sm_clock clock;
    sm_clock_init(&clock, sm_mono_ns());
    steerer own = {.clock = &clock};
    pthread_t thread;
    assert_int_equal(pthread_create(&thread, NULL, steer_main, &own), 0);
    int64_t last_before = sm_mono_ns(), last = sm_clock_read(&clock, sm_mono_ns());
    bool went_back = false, jumped = false;
    for (int i = 0; i < 300000; i++) {
        int64_t before = sm_mono_ns(), wall = sm_clock_read(&clock, sm_mono_ns()), after = sm_mono_ns();
        went_back = went_back || wall < last;
        // A steerer kept waiting between its look at the time and its word bends the line late: 20 ms allow
        // for half a second of that.
        jumped = jumped || (double)(wall - last) > (double)(after - last_before) * 1.03 + 20e6;
        last = wall;
        last_before = before;
    }
    atomic_store(&own.stop, true);
    pthread_join(thread, NULL);
    assert_false(went_back);
    assert_false(jumped);
}

static void the_silent_clock_keeps_true_time(void **state) {
    (void)state;
    int64_t before = sm_mono_ns();
    sm_audio *audio = NULL;
    assert_int_equal(sm_audio_open(&(sm_audio_options){.silent = true}, &audio), SM_OK);
    int64_t after = sm_mono_ns();
    for (int i = 0; i < 1000; i++) {
        int64_t least = sm_mono_ns() - after;
        int64_t now = sm_audio_now(audio).us;
        int64_t most = sm_mono_ns() - before;
        assert_in_range(now, least > 1000 ? (uint64_t)(least / 1000 - 1) : 0, (uint64_t)(most / 1000 + 1));
    }
    int64_t at = sm_audio_monotonic_ns(audio, (sm_wall_time){10 * SM_US_PER_S});
    assert_in_range(at, (uint64_t)(before + 10 * SM_NS_PER_S - 1000),
                    (uint64_t)(after + 10 * SM_NS_PER_S + 1000));
    sm_audio_event event;
    assert_true(sm_audio_next_event(audio, &event));
    assert_int_equal(event.kind, SM_AUDIO_EVENT_SILENT);
    assert_false(sm_audio_next_event(audio, &event));
    sm_audio_status status;
    sm_audio_status_get(audio, &status);
    assert_int_equal(status.state, SM_AUDIO_SILENT);
    assert_true(status.decoded);
    assert_int_equal(sm_audio_transport(audio, (sm_wall_time){0}, (sm_show_time){0}, SM_SPEED_MAX + 1, true),
                     SM_OUT_OF_RANGE);
    assert_int_equal(sm_audio_transport(audio, (sm_wall_time){0}, (sm_show_time){0}, SM_SPEED_MIN, true),
                     SM_OK);
    sm_audio_close(audio);
    sm_audio_close(NULL);
    assert_int_equal(sm_audio_open(&(sm_audio_options){.silent = true, .sound_offset_us = 3000000}, &audio),
                     SM_OUT_OF_RANGE);
}

// ---- the loop: a model of a card ------------------------------------------------

// A card that begins at T0, 48 kHz off by PPM, read every 20 ms in pairs, its first 60 ms wrong by 25 ms, with noise
// of up to NOISE_NS to either side.
typedef struct card {
    double period_ns, noise_ns;
    int64_t t0_ns;
    uint64_t frame;
} card;

static int64_t card_sounds_ns(const card *model, double frame) {
    return model->t0_ns + llround(frame * model->period_ns);
}

static sm_follow_result card_read(card *model, sm_follow *follow) {
    int64_t sounds = card_sounds_ns(model, (double)model->frame);
    if (model->frame < 2880)
        sounds -= 25 * SM_NS_PER_MS;
    sounds += llround(model->noise_ns * (2.0 * rand() / RAND_MAX - 1));
    sm_follow_result result = sm_follow_feed(follow, model->frame, sounds);
    model->frame += 480;
    return result;
}

static double loop_error_ms(const card *model, const sm_follow *follow) {
    int64_t sounds = card_sounds_ns(model, (double)model->frame);
    return (sm_follow_frame_at(follow, sounds) - (double)model->frame) / 48;
}

static void the_loop_finds_place_and_rate(void **state) {
    (void)state;
    const double ppms[] = {0, -800, 800, 5000};
    for (size_t i = 0; i < 4; i++) {
        card model = {.period_ns = 1e9 / 48000 * (1 + ppms[i] / 1e6), .noise_ns = 1e6, .t0_ns = 123456789};
        sm_follow follow;
        sm_follow_init(&follow, 48000);
        srand(7);
        sm_follow_result result;
        while ((result = card_read(&model, &follow)) == SM_FOLLOW_WAITING)
            assert_true(model.frame < 48000);
        assert_int_equal(result, SM_FOLLOW_LOCKED);
        assert_true(model.frame <= 48000 * 3 / 10);
        assert_true(fabs(loop_error_ms(&model, &follow)) < 1.5);
        while (model.frame < 48000 * 20)
            assert_int_equal(card_read(&model, &follow), SM_FOLLOW_GOOD);
        assert_true(fabs(loop_error_ms(&model, &follow)) < 0.5);
        assert_true(fabs(sm_follow_rate(&follow) - 1 / (1 + ppms[i] / 1e6)) < 200e-6);
    }
}

static void strays_are_passed_over_and_a_stall_is_seen(void **state) {
    (void)state;
    card model = {.period_ns = 1e9 / 48000, .t0_ns = 99};
    sm_follow follow;
    sm_follow_init(&follow, 48000);
    while (model.frame < 48000 * 5)
        card_read(&model, &follow);
    // Five readings late by 40 ms: nothing moves.
    for (int i = 0; i < 5; i++, model.frame += 480)
        assert_int_equal(sm_follow_feed(&follow, model.frame,
                                        card_sounds_ns(&model, (double)model.frame) + 40 * SM_NS_PER_MS),
                         SM_FOLLOW_GOOD);
    assert_true(fabs(loop_error_ms(&model, &follow)) < 0.05);
    // The card stands still for 100 ms: seen, then found again.
    model.t0_ns += 100 * SM_NS_PER_MS;
    bool broken = false, locked = false;
    for (int i = 0; i < 60 && !locked; i++) {
        sm_follow_result result = card_read(&model, &follow);
        broken = broken || result == SM_FOLLOW_BROKEN;
        locked = result == SM_FOLLOW_LOCKED;
    }
    assert_true(broken);
    assert_true(locked);
    assert_true(fabs(loop_error_ms(&model, &follow)) < 0.05);
}

// ---- the transport ------------------------------------------------------------------

static void stretches_tell_show_time(void **state) {
    (void)state;
    sm_stretch half = {.wall_us = 1000, .show_us = -5000000, .speed_ppm = 500000, .playing = true};
    assert_int_equal(sm_stretch_show_us(&half, 1000), -5000000);
    assert_int_equal(sm_stretch_show_us(&half, 10001000), 0);
    assert_int_equal(sm_stretch_show_us(&half, 10001003), 2); // 1.5 rounds away from 0
    sm_stretch tenth = {.wall_us = 0, .show_us = 7, .speed_ppm = 100000, .playing = true};
    assert_int_equal(sm_stretch_show_us(&tenth, SM_US_MAX), 7 + SM_US_MAX / 10);
    sm_stretch still = {.wall_us = 0, .show_us = 7, .speed_ppm = 100000, .playing = false};
    assert_int_equal(sm_stretch_show_us(&still, SM_US_MAX), 7);
}

static void a_later_word_replaces_what_it_precedes(void **state) {
    (void)state;
    sm_transport transport;
    sm_transport_init(&transport);
    sm_stretch play = {.wall_us = 100, .show_us = 0, .speed_ppm = SM_SPEED_ONE, .playing = true};
    assert_true(sm_transport_add(&transport, play));
    sm_stretch jump = {.wall_us = 9000000, .show_us = 0, .speed_ppm = SM_SPEED_ONE, .playing = true};
    assert_true(sm_transport_add(&transport, jump));
    assert_int_equal(transport.count, 3);
    // The same line of show time, said again: nothing to do but forget the jump.
    sm_stretch same = {.wall_us = 500100, .show_us = 500000, .speed_ppm = SM_SPEED_ONE, .playing = true};
    assert_true(sm_transport_add(&transport, same));
    assert_int_equal(transport.count, 2);
    assert_false(sm_transport_add(&transport, same));
    sm_stretch pause = {.wall_us = 50, .show_us = 123, .speed_ppm = SM_SPEED_ONE, .playing = false};
    assert_true(sm_transport_add(&transport, pause)); // forgets play; standing is what was before
    assert_int_equal(transport.count, 1);
    assert_false(transport.at[0].playing);
    for (int i = 0; i < 20; i++)
        assert_true(sm_transport_add(&transport, (sm_stretch){.wall_us = 1000 + i,
                                                              .show_us = 100000 * i,
                                                              .speed_ppm = SM_SPEED_ONE,
                                                              .playing = true}));
    assert_int_equal(transport.count, SM_STRETCHES_MAX);
    assert_int_equal(transport.at[SM_STRETCHES_MAX - 1].wall_us, 1019);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steering_bends_and_never_breaks),
        cmocka_unit_test(a_reading_never_goes_back),
        cmocka_unit_test(a_racing_reader_sees_no_step),
        cmocka_unit_test(the_silent_clock_keeps_true_time),
        cmocka_unit_test(the_loop_finds_place_and_rate),
        cmocka_unit_test(strays_are_passed_over_and_a_stall_is_seen),
        cmocka_unit_test(stretches_tell_show_time),
        cmocka_unit_test(a_later_word_replaces_what_it_precedes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
