// SPDX-License-Identifier: GPL-3.0-or-later
// What the screen offers, asks and answers is what the engine will do: no key that leads to a refusal, no question that Enter answers
// by one, no guard board without what refuses. What is right to do next: common practice of small crews, no source.
#include "support/desk.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S
#define F5 (SM_KEY_F0 + 5)

static const int sizes[][2] = {{40, 12}, {60, 16}, {80, 24}, {200, 60}};
#define SIZES (sizeof sizes / sizeof sizes[0])

// The last row has KEY, a blank and WORD.
static bool offers(desk *r, const char *key_and_word) {
    int rows = sm_cells_rows(r->cells);
    sm_frame_draw(&r->ui, r->cells);
    return strstr(desk_row(r, rows - 1), key_and_word) != NULL;
}

static void begin_drawn(desk *r) {
    desk_look(r);
    sm_frame_draw(&r->ui, r->cells);
}

// ---- the guards board -----------------------------------------------------------------------------

static void a_hold_stands_first_on_the_guards(void **state) {
    desk *r = *state;
    desk_arm(r);
    desk_do(r, "start");
    desk_do(r, "hold M someone at the fence");
    desk_press(r, F5);
    for (size_t i = 0; i < SIZES; i++) {
        desk_size(r, sizes[i][0], sizes[i][1]);
        assert_true(desk_shows(r, "Hold STANDS, "));
        assert_true(desk_says(r, i == 0 ? "hold by M: someone at the fence"
                                        : "hold by M: someone at the fence; to be lifted when M agrees"));
        assert_true(desk_says(r, "NEXT: [g] ask M why"));
        assert_true(offers(r, "g lift"));
        assert_false(offers(r, "r resume"));
        if (i > 1)
            assert_true(desk_find(r, "! hold") < desk_find(r, "1 rails"));
    }
    assert_true(desk_shows(r, "7 resume    PAUSED"));
    assert_false(desk_shows(r, "start     done"));
    desk_do(r, "lift M J");
    begin_drawn(r);
    assert_false(desk_shows(r, "hold by M"));
    assert_true(offers(r, "r resume"));
}

static void the_key_waits_for_the_clear_on_the_guards(void **state) {
    desk *r = *state;
    desk_size(r, 120, 40);
    desk_do(r, "enter K");
    desk_press(r, F5);
    assert_true(desk_shows(r, "after the clear"));
    assert_false(desk_shows(r, "k turns the key"));
    desk_do(r, "leave K");
    desk_do(r, "call-clear J");
    begin_drawn(r);
    assert_true(desk_shows(r, "k turns the key"));
}

static void a_lost_link_stands_first_on_the_guards(void **state) {
    desk *r = *state;
    desk_arm(r);
    desk_inject(r, "link lost");
    desk_press(r, F5);
    for (size_t i = 0; i < SIZES; i++) {
        desk_size(r, sizes[i][0], sizes[i][1]);
        assert_true(desk_says(r, "Link LOST, "));
        assert_true(desk_says(r, "NEXT: [k] key off, all stay out"));
        assert_true(offers(r, "k key off"));
    }
    assert_true(desk_shows(r, "7 start     not known"));
    desk_do(r, "key off");
    begin_drawn(r);
    for (size_t i = 0; i < SIZES; i++) { // the same key would turn it on now
        desk_size(r, sizes[i][0], sizes[i][1]);
        assert_true(desk_says(r, "NEXT: all stay out"));
        assert_false(offers(r, "k key"));
        assert_true(desk_says(r, "LINK LOST TREAT AS ARMED"));
    }
}

// Somebody at product that may be live comes out first, whatever the key does.
static void who_is_in_the_field_at_a_lost_link_is_called_out(void **state) {
    desk *r = *state;
    desk_do(r, "enter K");
    desk_inject(r, "link lost");
    desk_press(r, F5);
    for (size_t i = 0; i < SIZES; i++) {
        desk_size(r, sizes[i][0], sizes[i][1]);
        begin_drawn(r);
        assert_true(offers(r, "l leave"));
        assert_true(desk_says(r, "WARNING IN FIELD 1"));
        assert_true(desk_says(r, "Call them out by name"));
        assert_false(desk_says(r, "Key off"));
        if (i >= 2) { // else there is no room for more
            assert_true(desk_says(r, "IN FIELD 1, module NOT KNOWN: K"));
            assert_true(desk_says(r, "everybody out and counted: l reports who left"));
        }
    }
}

// Neither a rail nor a repair is advised while product may go.
static void nobody_is_sent_to_a_rail_past_a_misfire_or_a_wait(void **state) {
    desk *r = *state;
    desk_do(r, "unplug B");
    desk_press(r, F5);
    desk_size(r, 80, 24);
    begin_drawn(r);
    assert_true(desk_says(r, "P plugs a rail at the module"));
    desk_do(r, "enter K");
    begin_drawn(r);
    assert_false(desk_says(r, "P plugs a rail"));
    assert_true(desk_says(r, "everybody out of the field first"));
    desk_do(r, "leave K");
    desk_do(r, "plug B");
    desk_inject(r, "misfire A-02");
    desk_arm(r);
    desk_do(r, "start");
    desk_advance(r, 30 * S);
    desk_do(r, "safe");
    desk_do(r, "key off");
    desk_do(r, "unplug A");
    begin_drawn(r);
    assert_true(r->now->misfired > 0);
    desk_press(r, F5);
    assert_false(desk_says(r, "P plugs a rail"));
    assert_true(desk_says(r, "all stay out: a misfire stands"));
    desk_do(r, "enter K");
    begin_drawn(r);
    assert_true(desk_says(r, "NEXT: [l] everybody out and counted"));
}

static void what_is_spent_is_said_before_arming_and_nothing_leads_past_the_wait(void **state) {
    desk *r = *state;
    desk_do(r, "seek 0:01");
    desk_press(r, SM_KEY_F0 + 6);
    begin_drawn(r);
    assert_false(desk_says(r, "isolate the whole rail")); // nothing has run
    desk_do(r, "seek 0");
    desk_do(r, "measure");
    desk_arm(r);
    desk_do(r, "start");
    desk_advance(r, 30 * S);
    desk_do(r, "safe");
    desk_do(r, "key off");
    desk_press(r, F5);
    begin_drawn(r);
    assert_true(desk_says(r, "spent: R re-rigs"));
    assert_true(offers(r, "R re-rig"));
    assert_false(offers(r, "c clear")); // nobody has looked at the field: all stay out
    desk_press(r, 'c');
    begin_drawn(r);
    assert_true(desk_says(r, "ALL STAY OUT, wait 00:00 of"));
    desk_press(r, SM_KEY_ESCAPE);
    desk_do(r, "call-clear J");
    begin_drawn(r);
    assert_false(offers(r, "k key"));
    desk_do(r, "key on");
    desk_press(r, 'a');
    assert_true(desk_says(r, "spent: R re-rigs."));
    assert_true(desk_says(r, " wait 00:00 of")); // and what the wait says
    desk_press(r, SM_KEY_ESCAPE);
    desk_do(r, "key off");
    desk_do(r, "measure"); // what is spent reads so, and that is no fault to go in for
    desk_advance(r, 1801 * S);
    begin_drawn(r);
    assert_true(desk_says(r, "A-01 spent"));
    assert_true(desk_says(r, "then R re-rigs all (simulated)"));
    assert_false(desk_says(r, "F repairs"));
}

static void nothing_is_said_to_be_known_past_a_lost_link(void **state) {
    desk *r = *state;
    desk_press(r, SM_KEY_F0 + 6);
    assert_true(desk_says(r, "nothing has fired yet"));
    assert_true(desk_shows(r, "misfired: 0"));
    desk_inject(r, "link lost");
    desk_advance(r, 5 * S);
    for (size_t i = 0; i < SIZES; i++) {
        desk_size(r, sizes[i][0], sizes[i][1]);
        assert_true(desk_says(r, "LINK LOST for 5 s: what fired or misfired since is NOT KNOWN."));
        assert_false(desk_says(r, "nothing has fired yet"));
        if (i == 0)
            continue; // no room for more: it scrolls
        assert_true(desk_says(r, "not known whether anything has fired"));
        assert_true(desk_shows(r, "misfired: NOT KNOWN, last known 0"));
        assert_true(desk_shows(r, "last known: fired 0"));
        assert_true(desk_says(r, "all stay out: nothing is known of the module"));
    }
    desk_inject(r, "link back");
    begin_drawn(r);
    assert_true(desk_shows(r, "misfired: 0"));
}

static void what_fired_by_itself_stands_until_it_is_dealt_with(void **state) {
    desk *r = *state;
    desk_arm(r);
    desk_inject(r, "fires-alone A-02");
    assert_true(desk_shows(r, "WARNING FIRED BY ITSELF A-02. Make safe"));
    desk_do(r, "safe");
    desk_do(r, "key off");
    desk_advance(r, 60 * S);
    assert_true(desk_shows(r, "WARNING FIRED BY ITSELF A-02. All stay out"));
    desk_do(r, "rerig");
    begin_drawn(r);
    assert_false(desk_shows(r, "FIRED BY ITSELF"));
}

// ---- the row of keys ---------------------------------------------------------------------------------

static void no_key_is_offered_that_will_be_refused(void **state) {
    static const struct {
        const char *act, *inject; // one of them
        const char *next;
    } cases[] = {
        {"enter K", NULL, "k key off"},
        {"hold M why", NULL, "g lift"},
        {NULL, "link lost", "k key off"},
    };
    desk *r = *state;
    desk_do(r, "measure");
    desk_do(r, "call-clear J");
    desk_do(r, "key on");
    for (size_t i = 0; i < SIZES; i++) {
        desk_size(r, sizes[i][0], sizes[i][1]);
        assert_true(offers(r, "a arm")); // not hidden for want of room
    }
    for (size_t c = 0; c < sizeof cases / sizeof cases[0]; c++) {
        if (cases[c].act)
            desk_do(r, cases[c].act);
        else
            desk_inject(r, cases[c].inject);
        for (size_t i = 0; i < SIZES; i++) {
            desk_size(r, sizes[i][0], sizes[i][1]);
            begin_drawn(r);
            assert_false(offers(r, "a arm"));
            assert_false(offers(r, "c clear"));
            assert_true(offers(r, cases[c].next));
        }
        desk_do(r, c == 0 ? "leave K" : "lift M J");
        if (c == 0)
            desk_do(r, "call-clear J");
    }
}

// Silence is not an answer, and no clear is called over a fire.
static void no_clear_is_offered_before_it_is_next(void **state) {
    desk *r = *state;
    assert_true(offers(r, "M measure"));
    assert_false(offers(r, "c clear"));
    desk_do(r, "measure");
    begin_drawn(r);
    assert_true(offers(r, "c clear"));
    desk_inject(r, "no-answer M");
    begin_drawn(r);
    assert_false(offers(r, "c clear"));
}

static void start_and_resume_are_not_offered_past_people(void **state) {
    desk *r = *state;
    desk_arm(r);
    assert_true(offers(r, "b start"));
    desk_do(r, "enter K");
    begin_drawn(r);
    assert_false(offers(r, "b start"));
    desk_do(r, "leave K"); // the clear has lapsed
    begin_drawn(r);
    assert_false(offers(r, "b start"));
    desk_do(r, "safe");
    desk_arm(r);
    assert_true(offers(r, "b start"));
    desk_inject(r, "no-answer M"); // it would not be refused, but somebody may be there
    begin_drawn(r);
    assert_false(offers(r, "b start"));
}

// A storm refuses nothing, so it stands there by itself, and no remedy sends anybody to a rail.
static void a_storm_stands_on_the_guards_and_in_the_questions(void **state) {
    desk *r = *state;
    desk_do(r, "unplug A");
    desk_press(r, F5);
    assert_true(desk_says(r, "P plugs a rail"));
    desk_inject(r, "storm");
    begin_drawn(r);
    assert_true(desk_says(r, "! storm"));
    assert_true(desk_says(r, "all withdraw; do not stay to unplug"));
    assert_false(desk_shows(r, "P plugs"));
    assert_false(desk_shows(r, "M measures"));
    assert_false(desk_shows(r, "c calls clear"));
    assert_false(offers(r, "c clear"));
    desk_do(r, "plug A");
    desk_do(r, "call-clear J");
    desk_do(r, "key on");
    desk_press(r, 'a');
    assert_true(desk_says(r, "STORM: all withdraw."));
    desk_press(r, SM_KEY_ENTER); // a mistake that a drill may see made
    assert_true(desk_says(r, "ARM"));
}

// ---- questions ------------------------------------------------------------------------------------------

// What refuses nothing, and is a warning all the same, is said where somebody is about to go on.
static void the_questions_say_what_burns_and_what_tipped(void **state) {
    desk *r = *state;
    desk_inject(r, "fire left");
    desk_inject(r, "tip A-01");
    desk_do(r, "call-clear J");
    desk_do(r, "key on");
    desk_press(r, 'a');
    assert_true(desk_says(r, "FIRE at left. TIPPED OVER A-01."));
}

// Each cause by its own mend: no igniter is changed where a plug is out, and none at a slot that misfired.
static void the_refusal_of_arm_names_the_mend_of_its_cause(void **state) {
    desk *r = *state;
    desk_do(r, "unplug A");
    desk_press(r, 'a');
    assert_true(desk_says(r, "not plugged: A;"));
    assert_true(desk_says(r, "F3 looks, P plugs, W leaves out by name."));
    desk_press(r, SM_KEY_ESCAPE);
    desk_do(r, "plug A");
    desk_do(r, "read A-01 open");
    desk_press(r, 'a');
    assert_true(desk_says(r, "F3 looks, F mends, W leaves out by name."));
    desk_press(r, SM_KEY_ESCAPE);
    desk_do(r, "measure");
    desk_inject(r, "misfire A-01");
    desk_arm(r);
    desk_do(r, "start");
    desk_advance(r, 2 * SM_US_PER_S);
    desk_do(r, "safe");
    desk_do(r, "read A-01 open");
    desk_press(r, 'a');
    assert_true(desk_says(r, "arm will be refused: "));
    assert_false(desk_says(r, "F mends"));
}

// As at the start: what is held back stays so over a pause.
static void resume_says_what_is_held_back(void **state) {
    desk *r = *state;
    desk_arm(r);
    desk_do(r, "start");
    desk_do(r, "pause");
    desk_do(r, "inhibit A-02");
    desk_press(r, 'r');
    assert_true(desk_says(r, "RESUME counts down"));
    assert_true(desk_says(r, "HELD BACK 1 slot: A-02."));
}

static void a_question_that_says_refused_is_left_by_any_key(void **state) {
    static const int keys[] = {SM_KEY_ENTER, SM_KEY_ESCAPE, 'x'};
    desk *r = *state;
    desk_do(r, "enter K");
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
        desk_press(r, 'a');
        assert_true(
            desk_says(r, "arm will be refused: 1 in the field: K; clear has not been called; key OFF"));
        assert_true(desk_says(r, "Any key leaves it"));
        r->acts = 0;
        desk_press(r, keys[i]);
        assert_int_equal(r->acts, 0);
        assert_int_equal(r->ui.mode, SM_UI_BOARD);
        assert_true(desk_says(
            r, "not done: arm will be refused: 1 in the field: K; clear has not been called; key OFF"));
    }
}

// It said that any key leaves it: what has changed since then makes no start of an Enter.
static void enter_answers_the_question_as_it_was_drawn(void **state) {
    desk *r = *state;
    desk_arm(r);
    desk_do(r, "hold M why");
    desk_press(r, 'b');
    assert_true(desk_says(r, "Any key leaves it"));
    desk_do(r, "lift M J"); // not drawn yet
    r->acts = 0;
    desk_press(r, SM_KEY_ENTER);
    assert_int_equal(r->acts, 0);
    assert_int_equal(r->now->state, SM_STATE_ARMED);
    desk_type(r, "b\n");
    assert_int_equal(r->now->state, SM_STATE_RUNNING);
}

static void a_rerig_asks_and_says_who_is_in_the_field(void **state) {
    desk *r = *state;
    desk_do(r, "enter K");
    r->acts = 0;
    desk_press(r, 'R');
    assert_int_equal(r->acts, 0);
    assert_true(desk_says(r, "IN FIELD 1: K; everybody out first. RE-RIG"));
    desk_press(r, SM_KEY_ESCAPE);
    assert_int_equal(r->acts, 0);
    desk_type(r, "R\n");
    assert_string_equal(r->acted, "rerig");
    desk_type(r, ":rerig");
    assert_true(desk_says(r, "IN FIELD 1: K; everybody out first."));
}

static void a_clear_that_will_be_refused_says_so_where_it_is_asked(void **state) {
    desk *r = *state;
    desk_do(r, "enter K");
    desk_press(r, 'c');
    assert_true(desk_says(r, "call-clear will be refused: 1 in the field: K"));
}

static void what_is_typed_says_whether_it_will_be_refused(void **state) {
    desk *r = *state;
    desk_do(r, "read A-02 open");
    desk_type(r, ":arm");
    assert_true(
        desk_says(r, "arm will be refused: A-02 open; clear has not been called; key OFF; F3 looks, F mends, "
                     "W leaves out by name."));
    assert_false(offers(r, "Enter do it"));
    desk_press(r, SM_KEY_ESCAPE);
    desk_type(r, ":wind 3");
    assert_true(offers(r, "Enter do it"));
}

static void a_hold_is_lifted_by_the_name_that_is_offered(void **state) {
    desk *r = *state;
    desk_do(r, "hold M why");
    desk_type(r, "g\tJ\n");
    assert_string_equal(r->acted, "lift M J");
    assert_int_equal(r->now->hold_count, 0);
    desk_do(r, "hold K why");
    desk_type(r, ":lift \t");
    assert_string_equal(r->ui.prompt.text, "lift K "); // who lifts it comes next
}

static void no_answer_is_asked_for_outside_a_drill(void **state) {
    static const char keys[] = {'y', 'Q'};
    desk *r = *state;
    for (size_t i = 0; i < sizeof keys; i++) {
        desk_press(r, keys[i]);
        assert_int_equal(r->ui.mode, SM_UI_BOARD);
        assert_true(desk_shows(r, "refused: only in a drill"));
    }
    desk_press(r, F5);
    assert_true(desk_shows(r, "of 5 MET"));
}

// An igniter that no cue fires is there, whatever is held back.
static void a_stray_slot_is_said_on_a_rail_that_is_held_back(void **state) {
    desk *r = *state;
    desk_do(r, "inhibit A");
    desk_do(r, "read A-04 1.7");
    desk_press(r, SM_KEY_F0 + 3);
    assert_true(desk_shows(r, "INHIB INHIB"));
    assert_true(desk_shows(r, "STRAY"));
}

#define ON_A_DESK(test) cmocka_unit_test_setup_teardown(test, desk_setup_short_drill, desk_teardown)

int main(void) {
    setlocale(LC_ALL, "C.UTF-8");
    const struct CMUnitTest tests[] = {
        ON_A_DESK(a_hold_stands_first_on_the_guards),
        ON_A_DESK(a_storm_stands_on_the_guards_and_in_the_questions),
        ON_A_DESK(the_key_waits_for_the_clear_on_the_guards),
        ON_A_DESK(a_lost_link_stands_first_on_the_guards),
        ON_A_DESK(who_is_in_the_field_at_a_lost_link_is_called_out),
        ON_A_DESK(nobody_is_sent_to_a_rail_past_a_misfire_or_a_wait),
        ON_A_DESK(what_is_spent_is_said_before_arming_and_nothing_leads_past_the_wait),
        ON_A_DESK(nothing_is_said_to_be_known_past_a_lost_link),
        ON_A_DESK(what_fired_by_itself_stands_until_it_is_dealt_with),
        ON_A_DESK(no_key_is_offered_that_will_be_refused),
        ON_A_DESK(no_clear_is_offered_before_it_is_next),
        ON_A_DESK(start_and_resume_are_not_offered_past_people),
        ON_A_DESK(the_questions_say_what_burns_and_what_tipped),
        ON_A_DESK(the_refusal_of_arm_names_the_mend_of_its_cause),
        ON_A_DESK(resume_says_what_is_held_back),
        ON_A_DESK(a_question_that_says_refused_is_left_by_any_key),
        ON_A_DESK(enter_answers_the_question_as_it_was_drawn),
        ON_A_DESK(a_rerig_asks_and_says_who_is_in_the_field),
        ON_A_DESK(what_is_typed_says_whether_it_will_be_refused),
        ON_A_DESK(a_hold_is_lifted_by_the_name_that_is_offered),
        ON_A_DESK(no_answer_is_asked_for_outside_a_drill),
        ON_A_DESK(a_stray_slot_is_said_on_a_rail_that_is_held_back),
        ON_A_DESK(a_clear_that_will_be_refused_says_so_where_it_is_asked),
    };
    return cmocka_run_group_tests_name("console_honest", tests, NULL, NULL);
}
