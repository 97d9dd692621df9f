// SPDX-License-Identifier: GPL-3.0-or-later
// A cue's time put right by keys: what each proposes, what is said, and that nothing but `propose` is done.
#include "support/desk.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static sm_us proposed(const desk *d, uint32_t cue) {
    return sm_proposed_us(d->show, d->now->proposals, d->now->proposal_count, cue);
}

static void keys_propose_and_say_so(void **state) {
    desk *d = *state;
    const sm_us at_us = d->show->cues[0].time_us;
    desk_type(d, "*");
    assert_int_equal(d->ui.mode, SM_UI_TUNE);
    assert_true(desk_shows(d, "CUE"));
    static const struct {
        const char *keys;
        sm_us by_us;
    } rows[] = {{".", 50000}, {">", 150000}, {")", 190000}, {",", 140000}, {"<", 40000}, {"(", 0}, {".u", 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) { // frames of 40 ms, at 25 a second
        desk_type(d, rows[i].keys);
        desk_look(d);
        assert_int_equal(proposed(d, 0), at_us + rows[i].by_us);
    }
    desk_type(d, "o>");
    desk_look(d);
    assert_true(desk_shows(d, "from here on: YES"));
    assert_true(desk_shows(d, "PROPOSED"));
    for (uint32_t i = 0; i < d->show->cue_count; i++)
        assert_int_equal(proposed(d, i),
                         d->show->cues[i].time_us + (d->show->cues[i].time_us >= at_us ? 100000 : 0));
    assert_string_equal(d->acted + strlen(d->acted) - 2, "on");
    desk_type(d, "z"); // any other key leaves
    assert_int_equal(d->ui.mode, SM_UI_BOARD);
}

static void taps_offer_their_median(void **state) {
    desk *d = *state;
    desk_type(d, "*t");
    desk_look(d);
    assert_true(desk_shows(d, "taps count while the show runs"));
    desk_type(d, "\033");
    desk_arm(d);
    desk_do(d, "start");
    desk_advance(d, d->show->settings.countdown_us + SM_US_PER_S / 5);
    desk_type(d, "*");
    static const sm_us apart_us[] = {0, 30000, 200000}; // at 0.2, 0.23 and 0.43 s: the middle one
    for (size_t i = 0; i < 3; i++) {
        desk_advance(d, apart_us[i]);
        desk_type(d, "t");
    }
    desk_look(d);
    assert_true(desk_shows(d, "3 taps: 0:00.230, Enter proposes it"));
    const uint32_t cue = d->ui.tune.cue;
    desk_type(d, "\n");
    desk_look(d);
    assert_int_equal(proposed(d, cue), 230000);
}

static void a_stop_ends_it_and_works(void **state) {
    desk *d = *state;
    desk_type(d, "* ");
    assert_string_equal(d->acted, "safe");
    static const char *const ways[] = {"@", "*@"};
    for (size_t i = 0; i < sizeof ways / sizeof ways[0]; i++) {
        desk_do(d, "note other"); // and the message with it
        desk_type(d, ways[i]);
        desk_look(d);
        assert_int_equal(d->ui.mode, SM_UI_BOARD);
        assert_true(desk_shows(d, "nothing is proposed"));
    }
}

static void not_in_a_drill(void **state) {
    desk *d = *state;
    desk_do(d, "propose 1 +1 s");
    assert_string_equal(sm_rehearsal_refusal(d->rehearsal), "not in a drill: end it first");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(keys_propose_and_say_so, desk_setup_short, desk_teardown),
        cmocka_unit_test_setup_teardown(taps_offer_their_median, desk_setup_short, desk_teardown),
        cmocka_unit_test_setup_teardown(a_stop_ends_it_and_works, desk_setup_short, desk_teardown),
        cmocka_unit_test_setup_teardown(not_in_a_drill, desk_setup_short_drill, desk_teardown),
    };
    return cmocka_run_group_tests_name("console tune", tests, NULL, NULL);
}
