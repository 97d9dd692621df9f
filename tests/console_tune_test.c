// SPDX-License-Identifier: GPL-3.0-or-later
// A cue's time put right by keys: what each proposes, what is said, and that nothing but `propose` is done.
#include "support/console_rig.h"
#include "support/desk.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

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

// Up from the first cue leads nowhere: the last one would be out of sight.
static void cues_end_where_they_end_and_are_counted_once(void **state) {
    desk *d = *state;
    desk_size(d, 120, 30);
    desk_type(d, "*");
    for (uint32_t i = 0; i <= d->show->cue_count; i++)
        desk_press(d, SM_KEY_UP);
    assert_int_equal(d->ui.tune.cue, 0);
    assert_true(desk_says(d, "this is the first cue"));
    desk_type(d, "..");
    assert_int_equal(d->now->proposal_count, 2);
    assert_true(desk_says(d, "1 cue proposed, nothing written"));
    for (uint32_t i = 0; i <= d->show->cue_count; i++)
        desk_press(d, SM_KEY_DOWN);
    assert_int_equal(d->ui.tune.cue, d->show->cue_count - 1);
    assert_true(desk_says(d, "this is the last cue"));
}

static void taps_offer_their_median(void **state) {
    desk *d = *state;
    desk_type(d, "*t");
    desk_look(d);
    assert_true(desk_shows(d, "taps count while music is heard"));
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

static void let_it_sound(desk *d) {
    d->show->settings.audio = "music.wav";
    assert_int_equal(sm_rehearsal_sound(d->rehearsal, SM_SOUND_DEVICE, "a card", d->wall), SM_OK);
    desk_look(d);
}

// Taps 30 ms late at a cue that stands right are a habit; it is taken off the taps at the next cue.
static void a_habit_is_learned_and_taken_off(void **state) {
    desk *d = *state;
    let_it_sound(d);
    desk_type(d, "*h");
    desk_look(d);
    assert_true(desk_says(d, "tap along at a cue that stands right"));
    const uint32_t cue = d->ui.tune.cue;
    desk_do(d, "propose 1 0:00.8");
    desk_type(d, "\"");
    desk_look(d);
    assert_true(d->now->preview.on);
    assert_true(desk_says(d, "REHEARSAL PREVIEW SAFE HEARING cue"));
    for (int i = 0; i < 3; i++) { // from 0 to 2.8 s, round and round
        desk_advance(d, i == 0 ? 830000 : 2800000);
        desk_type(d, "t");
    }
    desk_look(d);
    assert_true(desk_says(d, "3 taps: 0:00.830, Enter proposes it"));
    desk_type(d, "h");
    desk_look(d);
    assert_true(desk_says(d, "your habit: 30 ms late"));
    desk_advance(d, 2500000);
    desk_type(d, "t");
    desk_look(d);
    assert_true(desk_says(d, "1 tap: 0:00.500, Enter proposes it"));
    desk_type(d, "a"); // no music is there to have an accent
    desk_look(d);
    assert_true(desk_says(d, "the music has no accent near there"));
    desk_type(d, "\n");
    desk_look(d);
    assert_int_equal(proposed(d, cue), 500000);
    assert_int_equal(d->now->preview.tick.us, 500000);
    assert_int_equal(d->now->at.us, 0);
}

// Its owner tells what came of a key; the question does not cover it.
static void a_refusal_is_seen_where_it_was_asked_for(void **state) {
    desk *d = *state;
    desk_type(d, "*\"");
    assert_string_equal(sm_rehearsal_refusal(d->rehearsal), "this show has no music to listen to");
    d->ui.has_message = true;
    d->ui.message.kind = SM_OUTCOME_REFUSED;
    snprintf(d->ui.message.text, sizeof d->ui.message.text, "this show has no music to listen to");
    desk_look(d);
    assert_int_equal(d->ui.mode, SM_UI_TUNE);
    assert_true(desk_says(d, "this show has no music to listen to. CUE"));
    desk_type(d, "o");
    desk_look(d);
    assert_false(desk_says(d, "this show has no music"));
}

static void a_key_listens_and_any_stop_ends_it(void **state) {
    desk *d = *state;
    desk_type(d, "\"");
    desk_look(d);
    assert_true(desk_shows(d, "no music to listen to") || desk_shows(d, "nothing can be heard"));
    let_it_sound(d);
    static const char *const ends[] = {"\"", " ", "p", "k", "*z", "* "};
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        desk_type(d, "\"");
        desk_look(d);
        assert_true(d->now->preview.on);
        assert_true(desk_shows(d, "REHEARSAL PREVIEW SAFE"));
        desk_type(d, ends[i]);
        desk_look(d);
        assert_false(d->now->preview.on);
        assert_false(desk_shows(d, "PREVIEW"));
        desk_do(d, "key off");
    }
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

// Among lines: what an apply would write is listed before it is asked for, however long looking takes.
static void an_apply_lists_first_what_it_writes(void **state) {
    (void)state;
    console_rig r;
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(r.program, sizeof r.program, "%s/slowmatch", build ? build : "build");
    short_show_make(&r.show, "12 s");
    const char *argv[] = {r.program, r.show.folder, "--lines", "--silent", NULL};
    r.p = pty_start(80, 24, argv, (const char *const[]){"TERM=dumb", NULL});
    static const char *const steps[][2] = {{"", "Is live product rigged within earshot?"},
                                           {"y\n", "tones off"},
                                           {"propose 1 0:00.05\n", "propose 1 0:00.05"},
                                           {"listen 1\n", "this show has no music to listen to"},
                                           {"apply\n", "cue 1: 0.05, was 0"},
                                           {"", "APPLY: writes this into cues.csv"},
                                           {".\n", "left: nothing was written"},
                                           {"quit\n", "quit: makes safe, and leaves"}};
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        pty_type(r.p, steps[i][0]);
        pty_expect(r.p, steps[i][1]);
    }
    pty_type(r.p, "\n");
    assert_int_equal(WEXITSTATUS(pty_expect_end(r.p)), 0);
    console_end(&r);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(keys_propose_and_say_so, desk_setup_short, desk_teardown),
        cmocka_unit_test_setup_teardown(cues_end_where_they_end_and_are_counted_once, desk_setup_short,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(taps_offer_their_median, desk_setup_short, desk_teardown),
        cmocka_unit_test_setup_teardown(a_habit_is_learned_and_taken_off, desk_setup_short, desk_teardown),
        cmocka_unit_test_setup_teardown(a_refusal_is_seen_where_it_was_asked_for, desk_setup_short,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(a_key_listens_and_any_stop_ends_it, desk_setup_short, desk_teardown),
        cmocka_unit_test_setup_teardown(a_stop_ends_it_and_works, desk_setup_short, desk_teardown),
        cmocka_unit_test(an_apply_lists_first_what_it_writes),
        cmocka_unit_test_setup_teardown(not_in_a_drill, desk_setup_short_drill, desk_teardown),
    };
    return cmocka_run_group_tests_name("console tune", tests, NULL, NULL);
}
