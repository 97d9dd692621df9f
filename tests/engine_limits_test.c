// SPDX-License-Identifier: GPL-3.0-or-later
// What the engine does at the edge of its rules and no further. Each is a sentence of the format's page, unless said otherwise.
#include "support/engine_run.h"

#include "slowmatch/inject.h"
#include "slowmatch/next_step.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define PAIR "1,A-01,mine,,\n2,A-02,mine,,\n"

static const engine_file limits[] = {
    {"show.ini", "[show]\ntitle = t\nlength = 60\ncountdown = 2\n[limits]\narm-time = 1\nreentry-wait = 5\n"
                 "misfire-wait = 30\nwind = 8 m/s\n"},
    {NULL, NULL}};

static void act_ok(engine_run *run, double at_s, const char *action) {
    if (engine_act(run, at_s, action) != SM_OK)
        fail_msg("%s: %s", action, sm_rehearsal_refusal(run->rehearsal));
}

// "Nothing fired or misfired: no wait." Stopped before the first firing, and with all re-rigged after it.
static void where_nothing_has_gone_there_is_no_wait(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, limits);
    engine_run run;
    engine_run_init(&run, show, NULL);
    (void)engine_play(&run, ENGINE_START "3.5 safe\n3.6 key off\n3.7 note x\n");
    engine_expect_caution(&run, "enter K", "");
    (void)engine_play(&run, "4 call-clear\n4 key on\n4 arm\n5 start\n7.9 safe\n8 key off\n8 note x\n");
    engine_expect_caution(&run, "enter K", "the wait has 5:00 to run");
    engine_to(&run, 307.9);
    engine_expect_caution(&run, "enter K", "the wait has 0:00 to run");
    engine_to(&run, 308.0);
    engine_expect_caution(&run, "enter K", "");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void inject(engine_run *run, double at_s, const char *line) {
    sm_injection injection;
    char why[200];
    size_t at;
    assert_int_equal(sm_injection_read(run->show, line, strlen(line), &injection, why, &at), SM_OK);
    assert_int_equal(
        sm_rehearsal_inject(run->rehearsal, "e", &injection, (sm_wall_time){(sm_us)(at_s * 1e6)}), SM_OK);
}

static void expect_wait(engine_run *run, const char *expected) {
    sm_text text = {0};
    (void)sm_wait_describe(engine_look(run), &text);
    assert_string_equal(sm_text_get(&text), expected);
    sm_text_deinit(&text);
}

// No wait runs while the module is live, or may be. Caution where it can hurt someone: common practice, no source.
static void no_wait_begins_before_the_module_is_known_to_be_safe(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, limits);
    static const sm_rehearsal_options options = {.drill = true};
    engine_run run;
    engine_run_init(&run, show, &options);
    (void)engine_play(&run, "0 call-clear\n0 key on\n0 arm\n1 start\n4.5 note x\n");
    engine_expect_caution(&run, "enter K", "the module is ended with the key ON; the wait has not begun");
    expect_wait(&run, "wait of 05:00 not begun (your setting)");
    inject(&run, 5, "link lost");
    act_ok(&run, 6, "key off");
    engine_to(&run, 400);
    engine_expect_caution(&run, "enter K", "the wait has not begun");
    expect_wait(&run, "wait of 05:00 not begun: module not known (your setting)");
    inject(&run, 400, "link back");
    engine_expect_caution(&run, "enter K", "the wait has 5:00 to run");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// A repair tells nobody that something misfired: common practice of small crews, no source.
static void a_repaired_misfire_is_still_to_be_reported(void **state) {
    static const char owed[] = "the wait has 30:00 to run; 1 misfired and not reported";
    (void)state;
    sm_show *show = engine_show(PAIR, limits);
    engine_run run;
    engine_run_init(&run, show, NULL);
    (void)engine_play(&run, "0 unplug A\n0 waive rails A out\n0 call-clear\n0 key on\n0 arm\n1 start\n"
                            "4.5 safe\n5 key off\n5 note x\n");
    engine_expect_caution(&run, "repair A-01", owed);
    act_ok(&run, 5, "repair A-01");
    engine_expect_caution(&run, "enter K", owed);
    assert_int_equal(sm_next_step(engine_look(&run), NULL).id, SM_STEP_REPORT);
    act_ok(&run, 5, "report A-01");
    assert_int_equal(engine_look(&run)->misfired, 0);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static const char *reads(engine_run *run, const char *slot) {
    static char text[24];
    return sm_read_value_format(text, engine_look(run)->slots[engine_slot(run->show, slot)].reading);
}

// In a drill a number that is written down mends nothing; taken back, it spoils nothing either: what broke meanwhile is broken.
static void taking_back_a_reading_in_a_drill_leaves_the_field_alone(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    const sm_rehearsal_options drill = {.drill = true};
    engine_run run;
    engine_run_init(&run, show, &drill);
    act_ok(&run, 0, "read A-01 1.9");
    inject(&run, 1, "open A-01");
    act_ok(&run, 2, "undo");
    assert_string_equal(reads(&run, "A-01"), "");
    act_ok(&run, 3, "measure");
    assert_string_equal(reads(&run, "A-01"), "open");
    engine_run_deinit(&run);
    // Outside a drill the field follows the hand, both ways.
    engine_run_init(&run, show, NULL);
    act_ok(&run, 0, "read A-01 open");
    act_ok(&run, 1, "undo");
    act_ok(&run, 2, "measure");
    assert_string_equal(reads(&run, "A-01"), "1.93"); // as in engine_actions_test, from IEC 60028
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// "repair: a good igniter well connected, its reading forgotten", so that undo has nothing of it to bring back.
static void a_repair_forgets_the_readings_of_its_slot_alone(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    act_ok(&run, 0, "read A-01 1.8");
    act_ok(&run, 0, "read A-02 1.7");
    act_ok(&run, 0, "read A-01 open");
    act_ok(&run, 0, "repair A-01");
    act_ok(&run, 0, "undo");
    assert_string_equal(reads(&run, "A-01"), "");
    assert_string_equal(reads(&run, "A-02"), "");
    assert_int_equal(engine_act(&run, 0, "undo"), SM_REFUSED);
    act_ok(&run, 1, "measure");
    assert_string_equal(reads(&run, "A-01"), "1.93");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// Measuring and mending take readings out of what undo may take back, and nothing else.
static void what_is_no_reading_can_be_taken_back_after_measuring(void **state) {
    (void)state;
    static const char *const acts[] = {"measure", "repair A-01"};
    sm_show *show = engine_show(PAIR, NULL);
    for (size_t i = 0; i < COUNT(acts); i++) {
        engine_run run;
        engine_run_init(&run, show, NULL);
        act_ok(&run, 0, "mark here");
        act_ok(&run, 0, "read A-01 1.8");
        act_ok(&run, 0, "note x");
        act_ok(&run, 0, acts[i]);
        act_ok(&run, 0, "undo");
        act_ok(&run, 0, "undo");
        assert_int_equal(engine_look(&run)->mark_count, 0);
        assert_int_equal(engine_act(&run, 0, "undo"), SM_REFUSED);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

// The user's limit is what may just be: equal is not over it. Common practice, no source.
static void wind_equal_to_the_limit_is_within_it(void **state) {
    (void)state;
    static const engine_case cases[] = {
        {"equal", PAIR, ENGINE_ARM "2 start-in 20 s\n2 note look\n3 wind 8 m/s\n4 start-in off\n",
         "3,,script,wind,,8 m/s,\n4,,script,start-in,,off,\n4,,engine,start-in,,cancelled,taken back\n"},
        {"over", PAIR, ENGINE_ARM "2 start-in 20 s\n2 note look\n3 wind 8.01 m/s\n",
         "3,,script,wind,,8.01 m/s,\n3,,engine,start-in,,cancelled,wind over your limit\n"}};
    for (size_t i = 0; i < COUNT(cases); i++)
        engine_run_case(&cases[i], limits);
}

// ---- what may just be, and what not any more -------------------------------------------------------------

static void expect_each(const char *const *lines, size_t count, sm_result expected) {
    sm_show *show = engine_show(PAIR, NULL);
    for (size_t i = 0; i < count; i++) {
        engine_run run;
        engine_run_init(&run, show, NULL);
        act_ok(&run, 0, "call-clear");
        act_ok(&run, 0, "key on");
        act_ok(&run, 0, "arm");
        if (engine_act(&run, 2, lines[i]) != expected)
            fail_msg("%s: %s", lines[i], sm_rehearsal_refusal(run.rehearsal));
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

// The format's page: speed 0.1 to 2, a moment within the show (60 s), a repeat of at least 100 ms; volume in per cent, a start by
// itself within a day: the actions' own help.
static void the_last_value_that_may_be_may_be(void **state) {
    (void)state;
    static const char *const may[] = {"speed 0.1",         "speed 2",          "seek 0",
                                      "seek 60",           "seek 1:00.000000", "volume 0",
                                      "volume 100",        "repeat 0 0.100",   "repeat 59.9 60",
                                      "repeat 0 60 rerig", "start-in 1",       "start-in 24:00:00"};
    static const char *const may_not[] = {
        "speed 0.099999", "speed 2.000001",  "seek -0.000001",     "seek 60.000001",
        "volume 100.1",   "repeat 1 1",      "repeat 0 60.000001", "repeat 2 1",
        "repeat -0.1 1",  "repeat 0 0.0999", "start-in 0.999999",  "start-in 24:00:00.000001"};
    expect_each(may, COUNT(may), SM_OK);
    expect_each(may_not, COUNT(may_not), SM_REFUSED);
}

static sm_result read_line(const sm_show *show, const char *line) {
    sm_action action;
    char why[200];
    size_t at;
    return sm_action_read(show, line, strlen(line), &action, why, &at);
}

// A speed is kept in millionths in 32 bits: what is far out is not read at all.
static void a_speed_far_out_is_no_speed(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    assert_int_equal(read_line(show, "speed 1000"), SM_OK);
    assert_int_equal(read_line(show, "speed -1000"), SM_OK);
    assert_int_equal(read_line(show, "speed 1000.1"), SM_INVALID);
    assert_int_equal(read_line(show, "speed -1000.1"), SM_INVALID);
    sm_show_destroy(show);
}

static void fill(engine_run *run, const char *begins, int count) {
    for (int i = 0; i < count; i++) {
        char line[64];
        snprintf(line, sizeof line, "%s%d", begins, i);
        act_ok(run, 0, line);
    }
}

// Lists are full with as many as they say, and take another once one is gone.
static void lists_hold_as_many_as_they_say(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    fill(&run, "enter K", SM_PEOPLE_MAX);
    assert_int_equal(engine_act(&run, 0, "enter M"), SM_REFUSED);
    act_ok(&run, 0, "leave K3");
    act_ok(&run, 0, "enter M");
    fill(&run, "mark m", SM_MARKS_MAX);
    assert_int_equal(engine_act(&run, 0, "mark more"), SM_REFUSED);
    act_ok(&run, 0, "undo");
    act_ok(&run, 0, "mark more");
    const sm_snapshot *now = engine_look(&run);
    assert_int_equal(now->people_count, SM_PEOPLE_MAX);
    assert_string_equal(now->people[3].name, "K4");
    assert_string_equal(now->people[SM_PEOPLE_MAX - 1].name, "M");
    assert_int_equal(now->mark_count, SM_MARKS_MAX);
    assert_string_equal(now->marks[SM_MARKS_MAX - 1].name, "more");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// Names that are held, by hand and by a waiver, are 64 at most; one that is held already takes no more room. A waiver that does not
// find room for all of its slots holds none of them.
static void inhibits_hold_as_many_as_they_say(void **state) {
    (void)state;
    static const engine_file many[] = {
        {"modules.csv", "name,slots\nM,96\n"},
        {"rails.csv", "name,module,first,slots,position\nA,M,1,80,left\nB,M,81,4,right\n"},
        {"groups.csv", "name,members\nlamps,L1 L2\nrack,A-01 A-02\n"},
        {0}};
    sm_show *show = engine_show(PAIR, many);
    engine_run run;
    engine_run_init(&run, show, NULL);
    for (int i = 1; i <= SM_INHIBITS_MAX - 1; i++) {
        char line[32];
        snprintf(line, sizeof line, "inhibit A-%02d", i);
        act_ok(&run, 0, line);
    }
    act_ok(&run, 0, "note look");
    engine_expect(&run, "");
    assert_int_equal(engine_act(&run, 0, "waive readings A-70 A-71 by K"), SM_REFUSED);
    engine_expect(&run, "0,,console,refused,,waive,2 more slots to inhibit, and 64 names are the most\n");
    assert_int_equal(engine_look(&run)->inhibit_count, SM_INHIBITS_MAX - 1);
    act_ok(&run, 0, "waive readings A-01 A-02 A-70 by K"); // the first two are held
    assert_int_equal(engine_look(&run)->inhibit_count, SM_INHIBITS_MAX);
    assert_string_equal(engine_look(&run)->inhibits[SM_INHIBITS_MAX - 1], "A-70");
    assert_int_equal(engine_act(&run, 0, "waive readings A-71 by K"), SM_REFUSED);
    assert_int_equal(engine_act(&run, 0, "inhibit A-71"), SM_REFUSED);
    act_ok(&run, 0, "inhibit A-70");
    act_ok(&run, 0, "waive readings A-01 A-70 by K");
    act_ok(&run, 0, "allow A-05");
    act_ok(&run, 0, "waive readings A-71 by K");
    const sm_snapshot *now = engine_look(&run);
    assert_int_equal(now->inhibit_count, SM_INHIBITS_MAX);
    assert_string_equal(now->inhibits[4], "A-06"); // in the order in which they came
    for (uint32_t i = 0; i < 80; i++)
        assert_int_equal(now->slots[engine_slot(show, "A-01") + i].inhibited,
                         (i < 63 && i != 4) || i == 69 || i == 70);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// ---- what the guards say ------------------------------------------------------------------------------------

static void expect_guard(engine_run *run, sm_guard guard, sm_guard_word word, const char *why,
                         double since_s) {
    const sm_guard_status *status = &engine_look(run)->guards[guard];
    assert_int_equal(status->word, word);
    assert_string_equal(status->why, why);
    assert_int_equal(status->since.us, since_s < 0 ? SM_UNSET_US : (sm_us)(since_s * 1e6));
}

#define FIVE "1,A-01,mine,,\n2,A-02,mine,,\n3,A-03,mine,,\n4,A-04,mine,,\n5,A-05,mine,,\n6,B-01,mine,,\n"

// Three bad slots by name, the rest by number; since when is since the oldest reading of a slot that has a cue.
static void the_guard_of_readings_says_which_and_how_old(void **state) {
    (void)state;
    sm_show *show = engine_show(FIVE, NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    expect_guard(&run, SM_GUARD_READINGS, SM_GUARD_NOT_CHECKED, "6 of 6 slots unread", -1);
    act_ok(&run, 1, "read A-08 1.9"); // stray: no cue fires it
    act_ok(&run, 3, "read A-02 open");
    act_ok(&run, 4, "read A-01 open");
    expect_guard(&run, SM_GUARD_READINGS, SM_GUARD_NOT_MET, "A-01 open, A-02 open", 3);
    act_ok(&run, 5, "read A-03 open");
    expect_guard(&run, SM_GUARD_READINGS, SM_GUARD_NOT_MET, "A-01 open, A-02 open, A-03 open", 3);
    act_ok(&run, 6, "read A-04 open");
    expect_guard(&run, SM_GUARD_READINGS, SM_GUARD_NOT_MET, "A-01 open, A-02 open, A-03 open and 1 more", 3);
    act_ok(&run, 7, "measure B");
    act_ok(&run, 7, "read A-02 1.9");
    act_ok(&run, 7, "read A-04 1.9");
    expect_guard(&run, SM_GUARD_READINGS, SM_GUARD_NOT_MET, "A-01 open, A-03 open", 4);
    act_ok(&run, 8, "waive readings A-01 and A-03 are cut by J, agreed by K");
    expect_guard(&run, SM_GUARD_READINGS, SM_GUARD_WAIVED, "by K: A-01 and A-03 are cut by J, agreed by K",
                 8);
    act_ok(&run, 9, "unplug B");
    act_ok(&run, 9, "repair A-01");
    act_ok(&run, 9, "repair A-03");
    expect_guard(&run, SM_GUARD_READINGS, SM_GUARD_NOT_CHECKED, "4 of 6 slots unread, 1 of them unplugged",
                 7);
    act_ok(&run, 10, "plug B");
    act_ok(&run, 10, "measure");
    expect_guard(&run, SM_GUARD_READINGS, SM_GUARD_MET, "6 of 6 slots as predicted (continuity only)", 10);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void the_other_guards_say_since_when(void **state) {
    (void)state;
    sm_show *show = engine_show(FIVE, NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    expect_guard(&run, SM_GUARD_CLEAR, SM_GUARD_NOT_MET, "clear has not been called", -1);
    expect_guard(&run, SM_GUARD_FIELD, SM_GUARD_MET, "0 people reported in the field", -1);
    act_ok(&run, 1, "call-clear J");
    expect_guard(&run, SM_GUARD_CLEAR, SM_GUARD_MET, "clear called by J", 1);
    act_ok(&run, 2, "key on");
    expect_guard(&run, SM_GUARD_KEY, SM_GUARD_MET, "key ON", 2);
    act_ok(&run, 3, "enter K");
    act_ok(&run, 4, "enter Ann Lee");
    expect_guard(&run, SM_GUARD_CLEAR, SM_GUARD_NOT_MET, "lapsed: K went in", 3);
    expect_guard(&run, SM_GUARD_FIELD, SM_GUARD_NOT_MET, "2 in the field: K, Ann Lee", 3);
    act_ok(&run, 5, "unplug A");
    act_ok(&run, 5, "unplug C"); // no cue is on it
    act_ok(&run, 5, "unplug B");
    expect_guard(&run, SM_GUARD_RAILS, SM_GUARD_NOT_MET, "not plugged: A, B", -1);
    act_ok(&run, 6, "waive rails A and B are cut");
    expect_guard(&run, SM_GUARD_RAILS, SM_GUARD_WAIVED, "by console: A and B are cut", 6);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// A reason names a thing as a word of its own: no part of a longer name.
static void a_reason_names_what_it_waives_as_a_word(void **state) {
    (void)state;
    static const struct {
        const char *line;
        bool waives;
    } cases[] = {
        {"waive readings A-01 is cut", true}, {"waive readings cut: A-1.", true},
        {"waive readings (A-01)", true},      {"waive readings A-012 cut", false},
        {"waive readings AA-01 cut", false},  {"waive readings x-A-01 cut", false},
        {"waive readings A-01-b cut", false}, {"waive readings A-01_b cut", false},
        {"waive readings _A-01 cut", false},  {"waive readings A-011 A-01", true},
        {"waive readings it is cut", false},
    };
    sm_show *show = engine_show(FIVE, NULL);
    for (size_t i = 0; i < COUNT(cases); i++) {
        engine_run run;
        engine_run_init(&run, show, NULL);
        act_ok(&run, 0, "read A-01 open");
        if ((engine_act(&run, 0, cases[i].line) == SM_OK) != cases[i].waives)
            fail_msg("%s", cases[i].line);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

// With a misfire the longer of the two waits holds; one that is not set asks for nothing.
static void the_longer_wait_holds_after_a_misfire(void **state) {
    (void)state;
    static const struct {
        sm_us reentry, misfire, asked, asked_after_misfire;
    } cases[] = {{5, 30, 5, 30},         {30, 5, 30, 30},
                 {7, 7, 7, 7},           {SM_UNSET_US, 9, SM_UNSET_US, 9},
                 {9, SM_UNSET_US, 9, 9}, {SM_UNSET_US, SM_UNSET_US, SM_UNSET_US, SM_UNSET_US}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        const sm_show_settings settings = {.reentry_wait_us = cases[i].reentry,
                                           .misfire_wait_us = cases[i].misfire};
        assert_int_equal(sm_wait_asked_us(&settings, false), cases[i].asked);
        assert_int_equal(sm_wait_asked_us(&settings, true), cases[i].asked_after_misfire);
    }
}

// Only what is text takes the rest of the line; behind a name or a number a word is too much, and said to be.
static void a_word_behind_the_last_argument_is_too_much(void **state) {
    (void)state;
    static const char *const lines[] = {"speed 1 now",       "plug A now",     "report A-01 now",
                                        "read A-01 1.9 now", "inhibit A now",  "key on now",
                                        "repeat off now",    "undo 1 now",     "volume 10 now",
                                        "wind 3 m/s now",    "start-in 5 now", "repeat 1 2 rerig now"};
    sm_show *show = engine_show(PAIR, NULL);
    for (size_t i = 0; i < COUNT(lines); i++) {
        sm_action action;
        char why[200] = "";
        size_t at = 0;
        assert_int_equal(sm_action_read(show, lines[i], strlen(lines[i]), &action, why, &at), SM_INVALID);
        if (strncmp(why, "'now' is too much", 17) != 0 || at != strlen(lines[i]) - 3)
            fail_msg("%s: at %zu: %s", lines[i], at, why);
    }
    sm_show_destroy(show);
}

// Only a flame unit can stay lit or go out; what breaks is named by what it is.
static void what_is_planted_names_a_thing_of_its_kind(void **state) {
    (void)state;
    static const struct {
        const char *line;
        bool is_good;
    } cases[] = {{"flame-stuck F1", true},    {"flame-stuck L1", false},   {"flame-out F2", true},
                 {"flame-out L2", false},     {"flame-stuck A", false},    {"open A-01", true},
                 {"open A", false},           {"unplug A", true},          {"unplug A-01", false},
                 {"late A-01 1 ms", true},    {"late A-01 0.9 ms", false}, {"late A-01 60 s", true},
                 {"late A-01 60.1 s", false}, {"refuse-arm M", true},      {"refuse-arm A", false},
                 {"remote-weak 0", false},    {"remote-weak 1", true},     {"stray A-05", true},
                 {"stray A-01", false},       {"open A-05", false},        {"remote-weak 99", true},
                 {"remote-weak 100", false},  {"fire left", true},         {"fire A", false}};
    sm_show *show = engine_show(PAIR, NULL);
    for (size_t i = 0; i < COUNT(cases); i++) {
        sm_injection injection;
        char why[200];
        size_t at;
        sm_result result =
            sm_injection_read(show, cases[i].line, strlen(cases[i].line), &injection, why, &at);
        if ((result == SM_OK) != cases[i].is_good)
            fail_msg("%s: %s", cases[i].line, result == SM_OK ? "read" : why);
    }
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(where_nothing_has_gone_there_is_no_wait),
        cmocka_unit_test(a_repaired_misfire_is_still_to_be_reported),
        cmocka_unit_test(no_wait_begins_before_the_module_is_known_to_be_safe),
        cmocka_unit_test(taking_back_a_reading_in_a_drill_leaves_the_field_alone),
        cmocka_unit_test(a_repair_forgets_the_readings_of_its_slot_alone),
        cmocka_unit_test(what_is_no_reading_can_be_taken_back_after_measuring),
        cmocka_unit_test(wind_equal_to_the_limit_is_within_it),
        cmocka_unit_test(the_last_value_that_may_be_may_be),
        cmocka_unit_test(a_speed_far_out_is_no_speed),
        cmocka_unit_test(lists_hold_as_many_as_they_say),
        cmocka_unit_test(inhibits_hold_as_many_as_they_say),
        cmocka_unit_test(the_guard_of_readings_says_which_and_how_old),
        cmocka_unit_test(the_other_guards_say_since_when),
        cmocka_unit_test(a_reason_names_what_it_waives_as_a_word),
        cmocka_unit_test(the_longer_wait_holds_after_a_misfire),
        cmocka_unit_test(a_word_behind_the_last_argument_is_too_much),
        cmocka_unit_test(what_is_planted_names_a_thing_of_its_kind),
    };
    return cmocka_run_group_tests_name("engine limits", tests, NULL, NULL);
}
