// SPDX-License-Identifier: GPL-3.0-or-later
// The demo's course: every drill taken by trainees of whom the marks are worked out by hand. No outside source says what a drill is
// worth: the marks are those of the files, the sum is format.md's.
#include "support/drill_play.h"
#include "support/drill_scripts.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// K and M are asked by name and answer, in some drills by 18 s.
#define UP "begin 1 ask K\nbegin 1 ask M\nbegin 19 call-clear J\nbegin 20 key on\nbegin 22 arm\n"
#define RUN UP "armed 2 start\n"

typedef struct taken {
    const char *drill;
    const char *slow; // does the right things, too late
    int slow_score;
    const char *lazy; // does the sequence and nothing else
    int lazy_score;
    const char *reckless; // one deadly thing among the right ones: nothing is left of the score
    const char *rule;     // that it breaks
    bool link_lost;       // or a rail out at the end of the perfect one: nothing can be armed any more
} taken;

static const taken course[] = {
    {"01-first-arming",
     // clear 4 min after the last answer earns none; safe after 45 s of 30: 20 x 15/30 = 10; key off after 60 s of 45: 20 x 30/45 = 13
     "begin 250 call-clear J\nbegin 251 key on\nbegin 252 arm\narmed 2 start\nenough 45 safe\nenough 60 key "
     "off\n",
     0 + 20 + 20 + 10 + 13,
     // the lazy one makes nothing safe and leaves the key in: none for these two
     RUN, 20 + 20 + 20, RUN "running 5 enter Z\n", "entry-too-early", false},
    {"02-one-bad-igniter",
     // A-05 after 7 min earns none; the rest in time; not measured again, so the order is not held: 100 - 20 - 20
     "begin 10 unplug A\nbegin 15 enter K\nbegin 421 repair A-05\nbegin 430 leave K\nbegin 431 plug A\n"
     "begin 432 measure\nbegin 450 unplug B\nbegin 455 enter K\nbegin 460 repair B-03\nbegin 461 leave K\n"
     "begin 462 plug B\nbegin 465 ask K\nbegin 465 ask M\nbegin 470 call-clear J\nbegin 471 key on\nbegin "
     "472 arm\n",
     60, RUN, 0, "begin 3 measure\nbegin 10 enter K\nbegin 30 repair A-05\nbegin 40 leave K\n",
     "repair-plugged", false},
    {"03-someone-went-back",
     // safe after 7.5 s of 5: 40 x 2.5/5 = 20; key off after 18 s of 12: 20 x 6/12 = 10
     UP
     "gone-in 7.5 safe\ngone-in 18 key off\ncame-out 10 ask K\ncame-out 10 ask M\ncame-out 20 call-clear J\n",
     20 + 10 + 20 + 20,
     // goes on: the start in `armed` costs 100
     RUN, 0, UP "gone-in 2 start\n", "people-in-field", false},
    {"04-hold-means-hold",
     // pause after 8 s of 5: 25 x 2/5 = 10; safe after 6 s of 5: 35 x 4/5 = 28
     RUN "gust 8 pause\ngust 20 inhibit aerial\nlull 10 wind 6 m/s\nshape 6 safe\n", 10 + 20 + 20 + 28, RUN,
     0, RUN "gust 2 pause\ngust 9 resume\n", "going-over-wind", false},
    {"05-who-has-the-button",
     // safe after 30 s of 20: 20 x 10/20 = 10; key off after 12 s of 8: 45 x 4/8 = 22
     "stranger 20 note remote 2 found with M\nstranger 25 call-clear J\nstranger 26 key on\nstranger 28 arm\n"
     "fading 30 safe\nchanged 1 ask K\nchanged 1 ask M\nchanged 5 call-clear J\nchanged 8 arm\nchanged 13 "
     "start\ngone 12 key off\n"
     "back 20 note link was away for 25 s\n",
     15 + 10 + 22 + 20, RUN, 0,
     "stranger 20 note remote 2 found with M\nstranger 25 call-clear J\nstranger 26 key on\nstranger 28 arm\n"
     "fading 5 safe\nchanged 1 ask K\nchanged 1 ask M\nchanged 5 call-clear J\nchanged 8 arm\nchanged 13 "
     "start\n"
     "gone 1 resume\n",
     "resume-after-link", false},
    {"06-stays-lit",
     // pause after 5 s of 4: 25 x 3/4 = 18; safe after 15 s of 10: 15; key off after 30 s of 20: 25 x 10/20 = 12
     RUN "stuck 5 pause\nstuck 15 safe\nstuck 30 key off\nstuck 60 note fire cover called, it burns\n",
     18 + 15 + 12 + 20, RUN, 0, RUN "stuck 2 pause\nstuck 5 enter K\n", "entry-too-early", false},
    {"07-nobody-goes-in-yet",
     // safe after 20 s of 15: 25 x 10/15 = 16; key off after 50 s of 30: 25 x 10/30 = 8; the second after 4 min: none
     RUN "last 20 safe\nlast 50 key off\nlast 60 report A-07\nlast 240 report B-02\n", 16 + 8 + 25, RUN, 0,
     RUN "last 3 safe\nlast 6 key off\nlast 20 enter L\n", "entry-too-early", false},
    {"08-everything-at-once",
     // safe after 7 s of 5: 25 x 3/5 = 15; pause after 6 s of 5: 15 x 4/5 = 12; key off after 10 s of 8: 25 x 6/8 = 18
     "begin 6 measure\nbegin 10 unplug B\nbegin 15 enter K\nbegin 30 repair B-06\nbegin 40 leave K\nbegin 41 "
     "plug B\n"
     "begin 45 measure\nbegin 46 ask K\nbegin 46 ask M\nbegin 50 call-clear J\nbegin 52 key on\nbegin 55 "
     "arm\ngone-in 7 safe\ngone-in 12 key "
     "off\n"
     "came-out 10 ask K\ncame-out 10 ask M\ncame-out 20 call-clear J\ncame-out 25 key on\ncame-out 30 "
     "arm\ncame-out 35 start\ngust 6 pause\ngone "
     "10 key off\n",
     10 + 15 + 10 + 15 + 12 + 18, RUN, 0,
     "begin 6 measure\nbegin 10 unplug B\nbegin 15 enter K\nbegin 30 repair B-06\nbegin 40 leave K\nbegin 41 "
     "plug B\nbegin 45 measure\nbegin 46 ask K\nbegin 46 ask M\nbegin 50 call-clear J\nbegin 52 key on\n"
     "begin 55 arm\ngone-in 2 start\n",
     "people-in-field", true},
    {"09-first-one-back",
     // safe after 20 s of 15: 15 x 10/15 = 10; key off after 40 s of 30: 15 x 20/30 = 10; nothing written down: 10 and 20 less
     RUN
     "enough 20 safe\nenough 40 key off\nenough 60 report A-02\nenough 100 pass-time\nenough 120 unplug A\n"
     "enough 130 enter L\nenough 180 leave L\n",
     10 + 10 + 20 + 10 + 0 + 0 + 10, RUN, 0,
     RUN "enough 4 safe\nenough 8 key off\nenough 60 report A-02\nenough 70 enter L\n", "entry-too-early",
     false},
    {"10-the-spotters-seat",
     // pause after 5 s of 4: 30 x 3/4 = 22; safe after 15 s of 10: 20 x 5/10 = 10
     "silent 5 answer Not clear, K has not answered\nfound 10 call-clear J\nfound 15 key on\nfound 17 "
     "arm\nfound 25 start\n"
     "walker 5 pause\nwalker 15 safe\ngone 10 answer outside, clear again\n",
     15 + 15 + 10 + 22 + 10 + 10,
     // the lazy one is not answered by K: clear over silence
     RUN, 0, "silent 1 call-clear J\nsilent 2 key on\nsilent 4 arm\nsilent 12 start\n", "clear-over-silence",
     false},
    {"11-thunder",
     // out after 3 min of 2: none; the key is off already
     "begin 10 unplug A\nbegin 15 enter K\nthunder 180 leave K\nthunder 200 note thunder, all out\n"
     "only-a-rumble 5 answer no\n",
     20 + 0 + 10 + 20 + 20, RUN, 0,
     "begin 10 unplug A\nbegin 15 enter K\nthunder 5 leave K\nthunder 8 key on\nthunder 9 enter K\n",
     "entry-too-early", false},
    {"12-by-itself",
     // safe after 7.5 s of 5: 35 x 2.5/5 = 17; key off after 18 s of 12: 25 x 6/12 = 12
     UP "alone 7.5 safe\nalone 18 key off\nalone 30 note B-04 went by itself\nkey-out 10 unplug B\n"
        "shrug 5 answer no, it is over\n",
     17 + 12 + 15 + 10 + 15, RUN, 0, UP "alone 2 safe\nalone 4 key off\nalone 6 enter K\n", "entry-too-early",
     true},
    {"13-behind-the-first",
     // plugged in after 6 min of 5: none; not measured again, so the order is not held
     "begin 361 plug C\nbegin 366 measure\nbegin 370 unplug C\nbegin 375 enter K\nbegin 390 repair C-02\n"
     "begin 400 leave K\nbegin 401 plug C\nbegin 406 ask K\nbegin 406 ask M\nbegin 410 call-clear J\n"
     "begin 412 key on\nbegin 415 arm\n",
     0 + 20 + 35 + 0, RUN, 0, "begin 3 plug C\nbegin 6 measure\nbegin 10 enter K\nbegin 20 repair C-02\n",
     "repair-plugged", false},
};
#define COURSE (sizeof course / sizeof course[0])

static void expect_score(const sm_show *show, const taken *t, const char *who, const char *script,
                         int score) {
    sm_drill *drill = drill_play_load(show, t->drill);
    drill_play_expect_score(drill, who, script, score);
    sm_drill_destroy(drill);
}

// And the debrief puts it first, by its plain title.
static void expect_rule(const sm_show *show, const taken *t) {
    sm_drill *drill = drill_play_load(show, t->drill);
    sm_drill_run *run = drill_play_plain(drill, t->reckless);
    if (!drill_play_has_mark(run, t->rule))
        fail_msg("%s: %s was not seen", t->drill, t->rule);
    assert_false(sm_drill_passed(run));
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

static void every_drill_to_the_exact_marks(void **state) {
    const sm_show *show = *state;
    for (size_t i = 0; i < COURSE; i++) {
        expect_score(show, &course[i], "perfect", drill_script_perfect(course[i].drill, SM_SEAT_LEAD), 100);
        expect_score(show, &course[i], "slow", course[i].slow, course[i].slow_score);
        expect_score(show, &course[i], "lazy", course[i].lazy, course[i].lazy_score);
        expect_score(show, &course[i], "reckless", course[i].reckless, 0);
        expect_rule(show, &course[i]);
    }
}

static void the_course_is_complete(void **state) {
    const sm_show *show = *state;
    sm_arena *arena = sm_arena_create();
    const char *const *names;
    size_t count;
    assert_int_equal(sm_drill_names(show, arena, &names, &count), SM_OK);
    assert_int_equal(count, COURSE);
    for (size_t i = 0; i < COURSE; i++) {
        assert_string_equal(names[i], course[i].drill);
        sm_drill *drill = drill_play_load(show, names[i]);
        assert_int_equal(drill_play_marks_to_earn(drill), 100);
        sm_drill_destroy(drill);
    }
    sm_arena_destroy(arena);
}

// ---- breaking the built-in rules ------------------------------------------------------------------

// After a perfect end, at 2000 s, all that can be done wrong with everybody tired: safe, key off, the wait not over. Key off once more
// first, so that a wait runs also where the perfect one passed it.
#define THEN_WRONG                                                                                           \
    "begin 2000 key off\nbegin 2001 enter Z\nbegin 2002 key on\nbegin 2003 unplug C\nbegin 2004 repair "     \
    "D-01\n"                                                                                                 \
    "begin 2005 leave Z\nbegin 2006 waive readings in a hurry\nbegin 2007 arm\n"
// And re-rigged, with rails out: a run up to C-01's moment at 0:13.900, which misfires; then in without a word.
#define THEN_MISFIRE                                                                                         \
    "begin 2008 rerig\nbegin 2009 allow aerial\nbegin 2010 call-clear J\nbegin 2011 waive rails A and C "    \
    "stays out tonight\nbegin "                                                                              \
    "2012 arm\nbegin 2016 "                                                                                  \
    "seek 0:13\n"                                                                                            \
    "begin 2017 start\nbegin 2025 safe\nbegin 2026 key off\nbegin 2027 pass-time\nbegin 2028 enter Z\n"

static void each_rule_in_each_drill(void **state) {
    const sm_show *show = *state;
    static const sm_drill_rule wrong[] = {SM_RULE_ENTRY,   SM_RULE_PEOPLE, SM_RULE_HANDS,
                                          SM_RULE_PLUGGED, SM_RULE_WAIVER, SM_RULE_NO_CLEAR};
    for (size_t i = 0; i < COURSE; i++) {
        sm_drill *drill = drill_play_load(show, course[i].drill);
        sm_text script = {0};
        sm_text_printf(&script, "%s%s%s", drill_script_perfect(course[i].drill, SM_SEAT_LEAD), THEN_WRONG,
                       course[i].link_lost ? "" : THEN_MISFIRE);
        sm_drill_run *run = drill_play_plain(drill, sm_text_get(&script));
        for (size_t w = 0; w < sizeof wrong / sizeof wrong[0]; w++) {
            const sm_drill_rule_row *rule = sm_drill_rule_of(wrong[w]);
            if (wrong[w] == SM_RULE_ENTRY &&
                !strstr(drill_script_perfect(course[i].drill, SM_SEAT_LEAD), " arm\n"))
                continue; // nothing was ever armed: there is no wait
            if (!drill_play_has_mark(run, rule->name))
                fail_msg("%s: %s was not seen", course[i].drill, rule->name);
            assert_int_equal(drill_play_got(run, rule->name), -rule->cost);
        }
        bool unreported = drill_play_has_mark(run, sm_drill_rule_of(SM_RULE_UNREPORTED)->name);
        if (unreported == course[i].link_lost)
            fail_msg("%s: a misfire unreported was %sseen", course[i].drill, unreported ? "" : "not ");
        assert_false(drill_play_has_mark(run, sm_drill_rule_of(SM_RULE_LINK)->name));
        assert_int_equal(sm_drill_score(run), 0);
        sm_drill_run_destroy(run);
        sm_drill_destroy(drill);
        sm_text_deinit(&script);
    }
}

// One wrong thing each into the perfect first arming, and what is left of 100.
static void one_rule_at_a_time(void **state) {
    const sm_show *show = *state;
    static const struct {
        sm_drill_rule rule;
        const char *also;
        int score;
    } wrongs[] = {
        {SM_RULE_ENTRY, "running 10 enter Z\n", 0},
        {SM_RULE_HANDS, "running 10 unplug D\n", 0},
        {SM_RULE_HANDS, "running 10 unplug D\nrunning 11 unplug C\n", 0}, // once a drill
        {SM_RULE_PLUGGED, "begin 1 repair A-01\n", 0},
        {SM_RULE_PEOPLE, "begin 1 enter Z\nbegin 1.5 measure\nbegin 2.5 leave Z\n", 0},
        {SM_RULE_NO_CLEAR, "begin 1 arm\n", 100 - 40}, // refused: one slip, so the order is not lost too
        {SM_RULE_WAIVER, "begin 1 waive rails no time\n", 100 - 20},
        {SM_RULE_WAIVER, "begin 1 waive rails A is out\n",
         100}, // names the rail: refused, as nothing is out, but named
    };
    sm_drill *drill = drill_play_load(show, "01-first-arming");
    for (size_t i = 0; i < sizeof wrongs / sizeof wrongs[0]; i++) {
        sm_text script = {0};
        sm_text_printf(&script, "%s%s", wrongs[i].also, drill_script_perfect(course[0].drill, SM_SEAT_LEAD));
        sm_drill_run *run = drill_play_plain(drill, sm_text_get(&script));
        for (int rule = 0; rule < SM_RULE_COUNT; rule++) {
            bool expected = rule == (int)wrongs[i].rule && wrongs[i].score < 100;
            if (drill_play_has_mark(run, sm_drill_rule_of((sm_drill_rule)rule)->name) != expected)
                fail_msg("%s: %s", wrongs[i].also, sm_drill_rule_of((sm_drill_rule)rule)->name);
        }
        if (sm_drill_score(run) != wrongs[i].score)
            fail_msg("%s: %d, not %d", wrongs[i].also, sm_drill_score(run), wrongs[i].score);
        sm_drill_run_destroy(run);
        sm_text_deinit(&script);
    }
    sm_drill_destroy(drill);
}

static void resuming_after_a_lost_link(void **state) {
    const sm_show *show = *state;
    sm_drill *drill = drill_play_load(show, "05-who-has-the-button");
    sm_text script = {0};
    // While the link is away, and again after it came back by itself: both are one mark.
    sm_text_printf(&script, "%sgone 1 resume\n", drill_script_perfect(course[4].drill, SM_SEAT_LEAD));
    sm_drill_run *run = drill_play_plain(drill, sm_text_get(&script));
    assert_int_equal(drill_play_got(run, "resume-after-link"), -100);
    assert_int_equal(drill_play_got(run, "trust"), -60);
    assert_int_equal(sm_drill_score(run), 0);
    sm_drill_run_destroy(run);
    sm_text_deinit(&script);
    sm_drill_destroy(drill);
}

// ---- a newcomer -------------------------------------------------------------------------------------

// What a newcomer does who knows nothing but the line that says what is next: its action, and the names that the sentence says.
static bool follow(sm_drill_run *run, const sm_show *show, sm_wall_time at) {
    char hint[240], line[128];
    sm_act act = sm_drill_hint(run, hint);
    if (act == SM_ACT_COUNT || act == SM_ACT_QUIT)
        return false;
    drill_play_follow_hint(act, hint, line);
    sm_action action;
    char why[200];
    size_t fault;
    if (sm_action_read(show, line, strlen(line), &action, why, &fault) != SM_OK)
        fail_msg("%s: %s: %s", hint, line, why);
    sm_result result = sm_drill_act(run, &action, SM_SOURCE_CONSOLE, at);
    if (result != SM_OK)
        fail_msg("%s: %s: %s", hint, line, sm_rehearsal_refusal(sm_drill_rehearsal(run)));
    return true;
}

static void a_newcomer_who_follows_the_line_reaches_100(void **state) {
    const sm_show *show = *state;
    static const char *const names[] = {"01-first-arming", "02-one-bad-igniter"}; // hints: full
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        sm_drill *drill = drill_play_load(show, names[i]);
        assert_int_equal(drill->hints, SM_HINTS_FULL);
        const sm_drill_options options = {.seed = (uint64_t)drill->seed};
        sm_drill_run *run = NULL;
        assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
        sm_us at = 4 * SM_US_PER_S;
        for (int step = 0; step < 60;
             step++, at += 4 * SM_US_PER_S) { // somebody who takes four seconds for each
            assert_int_equal(sm_drill_run_to(run, (sm_wall_time){at}), SM_OK);
            follow(run, show, (sm_wall_time){at});
        }
        char hint[240];
        assert_int_equal(sm_drill_hint(run, hint), SM_ACT_QUIT);
        assert_string_equal(hint, "All that this drill asks for is done. End it when you are ready.");
        assert_int_equal(sm_drill_finish(run, (sm_wall_time){at}), SM_OK);
        assert_int_equal(sm_drill_score(run), 100);
        sm_drill_run_destroy(run);
        sm_drill_destroy(drill);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_course_is_complete),
        cmocka_unit_test(every_drill_to_the_exact_marks),
        cmocka_unit_test(each_rule_in_each_drill),
        cmocka_unit_test(one_rule_at_a_time),
        cmocka_unit_test(resuming_after_a_lost_link),
        cmocka_unit_test(a_newcomer_who_follows_the_line_reaches_100),
    };
    return cmocka_run_group_tests_name("the demo's drills", tests, drill_play_load_demo,
                                       drill_play_drop_demo);
}
