// SPDX-License-Identifier: GPL-3.0-or-later
// What `make mutants` showed that no other test held: each case is one that a small change of the code would get wrong. What should
// happen is worked out by hand from slowmatch(1) and slowmatch-show(5).
#include "support/engine_run.h"

#include "slowmatch/alerts.h"
#include "slowmatch/conditions.h"
#include "slowmatch/inject.h"
#include "slowmatch/next_step.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S
#define UNSET SM_UNSET_US
#define PAIR "1,A-01,fountain,,\n2,A-02,comet,,\n"

static void inject(engine_run *run, double at_s, const char *line) {
    sm_injection injection;
    char why[200];
    size_t fault;
    assert_int_equal(sm_injection_read(run->show, line, strlen(line), &injection, why, &fault), SM_OK);
    assert_int_equal(
        sm_rehearsal_inject(run->rehearsal, "e", &injection, (sm_wall_time){(sm_us)(at_s * 1e6)}), SM_OK);
}

static void the_longer_wait_is_asked_after_a_misfire_alone(void **state) {
    (void)state;
    static const struct {
        sm_us reentry, misfire;
        bool misfired;
        sm_us asked;
    } cases[] = {
        {60 * S, 120 * S, false, 60 * S}, {60 * S, 120 * S, true, 120 * S}, {120 * S, 60 * S, true, 120 * S},
        {UNSET, 60 * S, true, 60 * S},    {UNSET, 60 * S, false, UNSET},    {60 * S, UNSET, true, 60 * S},
        {UNSET, UNSET, true, UNSET},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const sm_show_settings settings = {.reentry_wait_us = cases[i].reentry,
                                           .misfire_wait_us = cases[i].misfire};
        assert_true(sm_wait_asked_us(&settings, cases[i].misfired) == cases[i].asked);
    }
}

static void undo_takes_back_a_proposal_when_it_was_the_last(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    static const sm_rehearsal_options options = {0};
    static const struct {
        const char *line;
        uint32_t proposed;
    } lines[] = {
        {"propose 1 +0.5 s", 1},
        {"propose 2 -0.5 s", 2},
        {"mark here", 2},
        {"undo", 2}, // the mark
        {"note x", 2},
        {"undo", 2}, // the note
        {"undo", 1},
        {"undo", 0},
    };
    engine_run run;
    engine_run_init(&run, show, &options);
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        assert_int_equal(engine_act(&run, (double)i, lines[i].line), SM_OK);
        const sm_snapshot *now = engine_look(&run);
        assert_int_equal(now->proposal_count, lines[i].proposed);
    }
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// ---- what is asked of a rehearsal from outside ------------------------------------------------------

static void an_assessor_finds_what_was_done(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    static const sm_rehearsal_options options = {.drill = true};
    engine_run run;
    engine_run_init(&run, show, &options);
    const sm_rehearsal *r = run.rehearsal;
    assert_false(sm_rehearsal_inhibits(r, "aerial") || sm_rehearsal_has_person(r, "K"));
    assert_true(sm_rehearsal_aerials_to_come(r)); // A-02 is a comet
    assert_int_equal(engine_act(&run, 0, "enter K"), SM_OK);
    assert_true(sm_rehearsal_has_person(r, "K") && !sm_rehearsal_has_person(r, "M"));
    assert_int_equal(engine_act(&run, 0, "leave K"), SM_OK);
    assert_int_equal(engine_act(&run, 0, "inhibit aerial"), SM_OK);
    assert_true(sm_rehearsal_inhibits(r, "aerial"));
    assert_false(sm_rehearsal_aerials_to_come(r));
    assert_int_equal(engine_act(&run, 0, "allow aerial"), SM_OK);
    inject(&run, 0, "misfire A-02");
    static const char *const start[] = {"call-clear J", "key on", "arm"};
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(engine_act(&run, 0, start[i]), SM_OK);
    assert_int_equal(engine_act(&run, 1, "start"), SM_OK);
    engine_to(&run, 10); // A-01 fired, A-02 did not
    assert_true(sm_rehearsal_has_misfired(r, 1) && !sm_rehearsal_has_misfired(r, 0));
    assert_false(sm_rehearsal_was_reported(r, 1));
    assert_false(sm_rehearsal_aerials_to_come(r)); // one that misfired does not come any more
    assert_int_equal(engine_act(&run, 10, "report A-02"), SM_OK);
    assert_true(sm_rehearsal_was_reported(r, 1) && !sm_rehearsal_was_reported(r, 0));
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void what_is_easily_forgotten_is_told_and_a_place_is_shown_when_set(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    static const sm_rehearsal_options options = {0};
    static const struct {
        const char *line;
        bool has_show;
        const char *conditions;
    } lines[] = {
        {"note begin", false, ""},
        {"speed 1", false, ""},
        {"speed 0.5", false, ", SPEED 0.5"},
        {"repeat 1 20 rerig", false, ", SPEED 0.5, repeats 0:01.000 to 0:20.000 SIMULATED RE-RIG"},
        {"speed 1", false, ", repeats 0:01.000 to 0:20.000 SIMULATED RE-RIG"},
        {"repeat off", false, ""},
        {"seek 3", true, ""},
    };
    engine_run run;
    engine_run_init(&run, show, &options);
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        sm_text text = {0};
        assert_int_equal(engine_act(&run, (double)i, lines[i].line), SM_OK);
        sm_conditions_add(engine_look(&run), &text);
        assert_string_equal(sm_text_get(&text), lines[i].conditions);
        assert_int_equal(engine_look(&run)->has_show, lines[i].has_show);
        sm_text_deinit(&text);
    }
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// An igniter that hangs goes late; one that was replaced meanwhile does not.
static void a_new_igniter_does_not_go_when_the_old_one_would_have(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    static const sm_rehearsal_options options = {.drill = true};
    static const char *const start[] = {"call-clear J", "key on", "arm"};
    for (int renewed = 0; renewed < 2; renewed++) {
        engine_run run;
        engine_run_init(&run, show, &options);
        inject(&run, 0, "late A-02 20 s");
        for (size_t i = 0; i < 3; i++)
            assert_int_equal(engine_act(&run, 0, start[i]), SM_OK);
        assert_int_equal(engine_act(&run, 1, "start"), SM_OK);
        engine_to(&run, 8);
        assert_int_equal(engine_look(&run)->slots[1].phase, SM_SLOT_MISFIRED);
        assert_int_equal(engine_act(&run, 8, "safe"), SM_OK);
        assert_int_equal(engine_act(&run, 8, "key off"), SM_OK);
        if (renewed)
            assert_int_equal(engine_act(&run, 16, "rerig"), SM_OK);
        engine_to(&run, 40);
        assert_int_equal(engine_look(&run)->slots[1].phase, renewed ? SM_SLOT_WAITING : SM_SLOT_SPENT);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

static void arm_and_start(engine_run *run) {
    static const char *const lines[] = {"call-clear J", "key on", "arm"};
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        assert_int_equal(engine_act(run, 0, lines[i]), SM_OK);
    assert_int_equal(engine_act(run, 1, "start"), SM_OK); // show time is three seconds behind
}

static void late_igniters_go_in_the_order_of_their_moments(void **state) {
    (void)state;
    sm_show *show = engine_show("1,A-01,mine,,\n1,A-02,mine,,\n1,A-03,mine,,\n1,A-04,mine,,\n", NULL);
    static const sm_rehearsal_options options = {.drill = true};
    static const char *const late[] = {"late A-01 40 s", "late A-02 10 s", "late A-03 30 s",
                                       "late A-04 20 s"};
    static const uint32_t order[] = {1, 3, 2, 0}; // at 10, 20, 30 and 40 s after 0.8 s of show time
    engine_run run;
    engine_run_init(&run, show, &options);
    for (size_t i = 0; i < 4; i++)
        inject(&run, 0, late[i]);
    arm_and_start(&run);
    for (uint32_t gone = 0; gone <= 4; gone++) {
        engine_to(&run, 3.8 + 10 * gone + 5);
        const sm_snapshot *now = engine_look(&run);
        for (uint32_t i = 0; i < 4; i++)
            assert_int_equal(now->slots[order[i]].phase == SM_SLOT_SPENT, i < gone);
    }
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// The enable fades open from 1 s to 5 s of show time; it is open from 128 on. A resume opens it where the show has it by then, or
// where its fade ends.
static void a_resume_opens_an_enable_at_the_level_of_its_moment(void **state) {
    (void)state;
    static const struct {
        double paused_s; // wall
        const char *row;
    } cases[] = {
        {5.5, "set,,F1,permit=255"}, // at 2.5 s of the show: 96, not open yet
        {7, "set,,F1,permit=191"},   // at 4 s: three quarters of 255
        {9.5, "set,,F1,permit=255"},
    };
    sm_show *show = engine_show("1,F1,permit=255,4,20\n30,A-01,mine,,\n", NULL);
    static const sm_rehearsal_options options = {0};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        engine_run run;
        engine_run_init(&run, show, &options);
        arm_and_start(&run);
        assert_int_equal(engine_act(&run, cases[i].paused_s, "pause"), SM_OK);
        const size_t before = run.rows.length;
        assert_int_equal(engine_act(&run, 12, "resume"), SM_OK);
        if (!strstr(sm_text_get(&run.rows) + before, cases[i].row))
            fail_msg("paused at %g: %s", cases[i].paused_s, sm_text_get(&run.rows) + before);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

// The wind's alert is about what would fly: it ends with the last that flies.
static void wind_is_no_alert_any_more_when_the_last_aerial_is_gone(void **state) {
    (void)state;
    static const engine_file wind[] = {
        {"show.ini",
         "[show]\ntitle = Trial\ncountdown = 2 s\nlength = 60\n[limits]\narm-time = 1 s\nwind = 8\n"},
        {NULL, NULL}};
    sm_show *show = engine_show("5,A-02,comet,,\n40,A-01,fountain,,\n", wind);
    static const sm_rehearsal_options options = {0};
    engine_run run;
    engine_run_init(&run, show, &options);
    arm_and_start(&run);
    assert_int_equal(engine_act(&run, 4, "wind 9.5"), SM_OK);
    engine_to(&run, 7);
    const size_t before = run.log.length;
    engine_to(&run, 7.75); // it is fired half a second before 5 s
    if (!strstr(sm_text_get(&run.log) + before, "\"ends, "))
        fail_msg("%s", sm_text_get(&run.log));
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// Three are named, and how many more there are.
static void enables_left_open_are_named_or_counted(void **state) {
    (void)state;
    static const struct {
        const char *cues, *words;
    } cases[] = {
        {"1,F1 F2 F3,permit=255,0,40\n50,A-01,mine,,\n", "ENABLE OPEN F1, F2, F3, no flame for over 10 s"},
        {"1,F1 F2 F3 F4,permit=255,0,40\n50,A-01,mine,,\n",
         "ENABLE OPEN F1, F2, F3 and 1 more, no flame for over 10 s"},
    };
    static const engine_file four[] = {
        {"fixtures.csv", "name,profile,address\nF1,burner,11\nF2,burner,21\nF3,burner,31\nF4,burner,41\n"},
        {"groups.csv", "name,members\nflames,F1 F2\n"},
        {NULL, NULL}};
    static const sm_rehearsal_options options = {0};
    static const sm_alert_facts facts = {0};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        sm_show *show = engine_show(cases[i].cues, four);
        engine_run run;
        engine_run_init(&run, show, &options);
        arm_and_start(&run);
        engine_to(&run, 20);
        sm_alerts alerts = {0};
        sm_alerts_look(&alerts, engine_look(&run), &facts, NULL, NULL);
        const sm_alert *open = sm_alerts_find(&alerts, SM_ALERT_PERMIT_OPEN);
        assert_non_null(open);
        assert_string_equal(open->words, cases[i].words);
        engine_run_deinit(&run);
        sm_show_destroy(show);
    }
}

static void what_was_rigged_anew_asks_for_no_wait(void **state) {
    (void)state;
    static const engine_file waits[] = {{"show.ini", "[show]\ntitle = Trial\ncountdown = 2 s\nlength = "
                                                     "60\n[limits]\narm-time = 1 s\nreentry-wait = 5 min\n"},
                                        {NULL, NULL}};
    sm_show *show = engine_show("1,A-01,mine,,\n", waits);
    static const sm_rehearsal_options options = {0};
    engine_run run;
    engine_run_init(&run, show, &options);
    arm_and_start(&run);
    assert_int_equal(engine_act(&run, 10, "safe"), SM_OK);
    assert_int_equal(engine_act(&run, 10, "key off"), SM_OK);
    sm_action enter;
    char why[200];
    size_t fault;
    assert_int_equal(sm_action_read(show, "enter K", 7, &enter, why, &fault), SM_OK);
    for (int anew = 0; anew < 2; anew++) {
        sm_text caution = {0};
        if (anew)
            assert_int_equal(engine_act(&run, 10, "rerig"), SM_OK);
        sm_rehearsal_caution(run.rehearsal, &enter, &caution);
        assert_int_equal(strstr(sm_text_get(&caution), "the wait has 5:00 to run") != NULL, !anew);
        assert_int_equal(strstr(sm_text_get(&caution), "wait") != NULL, !anew);
        sm_text_deinit(&caution);
    }
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void two_fires_are_told_with_both_places(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    static const sm_rehearsal_options options = {.drill = true};
    static const sm_alert_facts facts = {0};
    engine_run run;
    engine_run_init(&run, show, &options);
    inject(&run, 0, "fire left");
    inject(&run, 1, "fire right");
    sm_alerts alerts = {0};
    sm_alerts_look(&alerts, engine_look(&run), &facts, NULL, NULL);
    const sm_alert *fire = sm_alerts_find(&alerts, SM_ALERT_FIRE);
    assert_non_null(fire);
    assert_string_equal(fire->words, "FIRE at left, right");
    assert_int_equal(fire->essential, strlen("FIRE"));
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// What stood behind the shorter rail's last slot is another rail's.
static void a_rail_that_grew_has_new_slots_at_its_end(void **state) {
    (void)state;
    static const engine_file longer[] = {
        {"rails.csv", "name,module,first,slots,position\nA,M,1,10,left\nB,M,11,4,right\nC,M,15,2,\n"},
        {NULL, NULL}};
    sm_show *old = engine_show(PAIR, NULL), *fresh = engine_show(PAIR, longer);
    static const sm_rehearsal_options options = {0};
    engine_run run;
    engine_run_init(&run, old, &options);
    assert_int_equal(engine_act(&run, 0, "read A-08 open"), SM_OK);
    assert_int_equal(engine_act(&run, 0, "read B-01 short"), SM_OK);
    assert_int_equal(engine_act(&run, 1, "reload"), SM_OK);
    assert_int_equal(sm_rehearsal_replace_show(run.rehearsal, fresh), SM_OK);
    sm_snapshot_destroy(run.snapshot);
    assert_int_equal(sm_snapshot_create(fresh, &run.snapshot), SM_OK);
    run.show = fresh;
    sm_show_destroy(old);
    const sm_snapshot *now = engine_look(&run);
    assert_int_equal(now->slots[engine_slot(fresh, "A-08")].reading.kind, SM_READ_OPEN);
    assert_int_equal(now->slots[engine_slot(fresh, "A-09")].reading.kind, SM_READ_NOTHING);
    assert_int_equal(now->slots[engine_slot(fresh, "B-01")].reading.kind, SM_READ_SHORT);
    engine_run_deinit(&run);
    sm_show_destroy(fresh);
}

// ---- what is read --------------------------------------------------------------------------------

static void lines_that_are_nearly_right_are_refused(void **state) {
    (void)state;
    static const struct {
        const char *line, *why; // NULL: it can be read
    } lines[] = {
        {"undo 1", NULL},
        {"undo 0", "'0' is no count; write a whole number from 1 on"},
        {"start-in 90s", NULL},
        {"start-in 90 s", NULL},
        {"start-in 1:30:00", NULL},
        {"start-in 90", NULL},
        {"start-in 0:00:00", NULL}, // what can be read; the engine refuses it
        {"start-in -90", "'-90' is no time; write 90 s, 5 min or 1:30:00"},
        {"start-in soon", "'soon' is no time; write 90 s, 5 min or 1:30:00"},
        {"tick paper LOAD-A one two three", NULL},
        {"tick paper", "which sheet? write tick paper LOAD-A WORD WORD WORD"},
        {"tick paper LOAD-A", "have its three words read aloud: tick paper LOAD-A WORD WORD WORD"},
    };
    sm_show *show = engine_show(PAIR, NULL);
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        sm_action action;
        char why[200] = "";
        size_t fault;
        const sm_result result =
            sm_action_read(show, lines[i].line, strlen(lines[i].line), &action, why, &fault);
        assert_int_equal(result == SM_OK, !lines[i].why);
        if (lines[i].why)
            assert_string_equal(why, lines[i].why);
    }
    sm_injection injection;
    char why[200];
    size_t fault;
    assert_int_not_equal(sm_injection_read(show, "", 0, &injection, why, &fault), SM_OK);
    assert_string_equal(why, "what happens is missing");
    assert_int_not_equal(sm_injection_read(show, "strom", 5, &injection, why, &fault), SM_OK);
    assert_string_equal(why, "nothing that can happen is called 'strom'; did you mean storm?");
    sm_show_destroy(show);
}

// What hangs at a slot that no cue fires is no reason to arm, and no surprise that ends a show which runs.
static void a_stray_keeps_from_starting_and_not_from_going_on(void **state) {
    (void)state;
    sm_show *show = engine_show("4,A-01,fountain,,\n", NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    assert_int_equal(engine_act(&run, 0, "measure"), SM_OK);
    assert_int_equal(engine_act(&run, 0, "read B-04 2.0"), SM_OK);
    static const char *const start[] = {"call-clear J", "key on", "arm"};
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(engine_act(&run, 0, start[i]), SM_OK);
    engine_to(&run, 1);
    assert_int_equal(sm_next_step(engine_look(&run), NULL).id, SM_STEP_MAKE_SAFE);
    assert_int_equal(engine_act(&run, 1, "start"), SM_OK);
    engine_to(&run, 4);
    assert_int_equal(engine_look(&run)->state, SM_STATE_RUNNING);
    assert_int_equal(sm_next_step(engine_look(&run), NULL).id, SM_STEP_WATCH);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// What was lit before it was armed again burns on over people who stand at the tubes: armed is no place to wait that out.
static void what_burns_on_keeps_from_starting(void **state) {
    (void)state;
    sm_show *show = engine_show("1,A-01,fountain,,\n20,A-02,fountain,,\n", NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    (void)engine_play(&run, "0 measure\n" ENGINE_START "5 safe\n5 call-clear J\n5 arm\n6 note armed\n");
    assert_int_equal(engine_look(&run)->state, SM_STATE_ARMED);
    assert_int_equal(engine_look(&run)->burning_count, 1); // from 4 s to 14 s
    assert_int_equal(sm_next_step(engine_look(&run), NULL).id, SM_STEP_MAKE_SAFE);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// Last known safe is not known safe: somebody in the field is the first of all alerts then.
static void a_lost_link_makes_people_in_the_field_a_warning(void **state) {
    (void)state;
    static const sm_rehearsal_options options = {.drill = true};
    static const sm_alert_facts facts = {0};
    sm_show *show = engine_show(PAIR, NULL);
    engine_run run;
    engine_run_init(&run, show, &options);
    assert_int_equal(engine_act(&run, 0, "enter K"), SM_OK);
    sm_alerts alerts = {0};
    sm_alerts_look(&alerts, engine_look(&run), &facts, NULL, NULL);
    assert_true(alerts.count == 0 || alerts.at[0].id != SM_ALERT_PEOPLE);
    inject(&run, 1, "link lost");
    sm_alerts_look(&alerts, engine_look(&run), &facts, NULL, NULL);
    assert_int_equal(alerts.at[0].id, SM_ALERT_PEOPLE);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// A hand at the console can but free a seat; who sits down there is told by the seat itself.
static void a_seat_is_taken_from_itself_alone(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    assert_int_equal(engine_act(&run, 0, "seat left M"), SM_REFUSED);
    assert_int_equal(engine_act(&run, 0, "seat left free"), SM_OK);
    assert_int_equal(engine_act_from(&run, 0, "seat left M", SM_SOURCE_SEAT), SM_OK);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// One more than the list of people holds ends the clear all the same, and is written nowhere.
static void a_person_more_than_the_list_holds_is_not_written_behind_it(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    static const sm_rehearsal_options options = {.drill = true};
    engine_run run;
    engine_run_init(&run, show, &options);
    for (int i = 0; i < SM_PEOPLE_MAX; i++) {
        char line[24];
        snprintf(line, sizeof line, "enter K%d", i);
        assert_int_equal(engine_act(&run, 0, line), SM_OK);
    }
    inject(&run, 1, "person in-field");
    assert_int_equal(engine_look(&run)->people_count, SM_PEOPLE_MAX);
    assert_string_equal(engine_look(&run)->people[SM_PEOPLE_MAX - 1].name, "K63");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void an_argument_is_as_long_as_its_place_at_most(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    sm_action action;
    char why[200], line[200] = "tick ";
    size_t fault;
    for (size_t length = sizeof action.target - 1; length <= sizeof action.target; length++) {
        memset(line + 5, 'x', length);
        snprintf(line + 5 + length, sizeof line - 5 - length, " yes");
        assert_int_equal(sm_action_read(show, line, strlen(line), &action, why, &fault),
                         length < sizeof action.target ? SM_OK : SM_INVALID);
    }
    assert_string_equal(why, "too long: 96 bytes, at most 95");
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_longer_wait_is_asked_after_a_misfire_alone),
        cmocka_unit_test(undo_takes_back_a_proposal_when_it_was_the_last),
        cmocka_unit_test(an_assessor_finds_what_was_done),
        cmocka_unit_test(what_is_easily_forgotten_is_told_and_a_place_is_shown_when_set),
        cmocka_unit_test(a_new_igniter_does_not_go_when_the_old_one_would_have),
        cmocka_unit_test(late_igniters_go_in_the_order_of_their_moments),
        cmocka_unit_test(a_resume_opens_an_enable_at_the_level_of_its_moment),
        cmocka_unit_test(wind_is_no_alert_any_more_when_the_last_aerial_is_gone),
        cmocka_unit_test(enables_left_open_are_named_or_counted),
        cmocka_unit_test(what_was_rigged_anew_asks_for_no_wait),
        cmocka_unit_test(two_fires_are_told_with_both_places),
        cmocka_unit_test(a_rail_that_grew_has_new_slots_at_its_end),
        cmocka_unit_test(a_stray_keeps_from_starting_and_not_from_going_on),
        cmocka_unit_test(what_burns_on_keeps_from_starting),
        cmocka_unit_test(a_lost_link_makes_people_in_the_field_a_warning),
        cmocka_unit_test(a_seat_is_taken_from_itself_alone),
        cmocka_unit_test(a_person_more_than_the_list_holds_is_not_written_behind_it),
        cmocka_unit_test(an_argument_is_as_long_as_its_place_at_most),
        cmocka_unit_test(lines_that_are_nearly_right_are_refused),
    };
    return cmocka_run_group_tests_name("edges of the engine", tests, NULL, NULL);
}
