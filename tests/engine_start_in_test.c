// SPDX-License-Identifier: GPL-3.0-or-later
// The start by itself: it comes at its moment, whatever happens in between cancels it for good, a script waits for it, a drill counts
// it, the logbook plays it again. There is no standard for it: the rules are those of the manual (common practice, no source: a start
// that nobody watches goes only when nothing happened since it was set).
#include "support/drill_play.h"
#include "support/engine_run.h"
#include "support/kept.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define CUES "1,A-01,fountain,,\n"
#define SET ENGINE_ARM "2 start-in 90 s\n2 note look\n"

static const engine_case cases[] = {
    {"it counts down and runs as a start does, and a script waits for it", CUES,
     SET "@0:00.500 note half a second\n+0 safe\n",
     "92,,engine,start,,,by itself\n"
     "92,-2,engine,state,,running,armed\n"
     "94.5,0.5,script,note,,half a second,\n"
     "94.5,0.5,script,safe,,,\n"
     "94.5,,engine,state,,safe,running\n"
     "94.5,,engine,guard,,clear,NOT MET, lapsed: made safe\n"},
    {"a stop at its very moment comes first", CUES, SET "92 safe\n",
     "92,,script,safe,,,\n"
     "92,,engine,start-in,,cancelled,made safe\n"
     "92,,engine,state,,safe,armed\n"
     "92,,engine,guard,,clear,NOT MET, lapsed: made safe\n"},
    {"what was cancelled does not come back with a new clear", CUES,
     SET "3 enter K\n4 leave K\n5 call-clear M\n200 note still here\n200 start\n+0 safe\n",
     "3,,script,enter,,K,\n"
     "3,,engine,start-in,,cancelled,K went in\n"
     "3,,engine,guard,,clear,NOT MET, lapsed: K went in\n"
     "4,,script,leave,,K,\n"
     "5,,script,call-clear,,M,\n"
     "200,,script,note,,still here,\n"
     "200,,script,start,,,\n"
     "200,-2,engine,state,,running,armed\n"
     "200,-2,script,safe,,,\n"
     "200,,engine,state,,safe,running\n"
     "200,,engine,guard,,clear,NOT MET, lapsed: made safe\n"},
    {"taken back, set anew, outrun by hand", CUES,
     SET "3 start-in off\n4 start-in 1:00:00\n5 start-in 10\n6 start\n+0 safe\n",
     "3,,script,start-in,,off,\n"
     "3,,engine,start-in,,cancelled,taken back\n"
     "4,,script,start-in,,1:00:00,\n"
     "5,,script,start-in,,10,\n"
     "6,,script,start,,,\n"
     "6,,engine,start-in,,cancelled,started by hand\n"
     "6,-2,engine,state,,running,armed\n"
     "6,-2,script,safe,,,\n"
     "6,,engine,state,,safe,running\n"
     "6,,engine,guard,,clear,NOT MET, lapsed: made safe\n"},
    {"an inhibit costs nothing", CUES, SET "3 inhibit aerial\n@0 note went\n+0 safe\n",
     "3,,script,inhibit,,aerial,\n"
     "92,,engine,start,,,by itself\n"
     "92,-2,engine,state,,running,armed\n"
     "94,0,script,note,,went,\n"
     "94,0,script,safe,,,\n"
     "94,,engine,state,,safe,running\n"
     "94,,engine,guard,,clear,NOT MET, lapsed: made safe\n"},
    {"out of its range", CUES, ENGINE_ARM "2 note look\n2 start-in 0.5 s\n2 start-in 25:00:00\n",
     "2,,script,refused,,start-in,0.5 s is outside 1 s to 24 h\n"
     "2,,script,refused,,start-in,25:00:00 is outside 1 s to 24 h\n"},
};

static void it_starts_or_is_cancelled(void **state) {
    (void)state;
    engine_run_cases(cases, COUNT(cases));
}

// Each of these, in the armed state, cancels it, and it is said why.
static void whatever_happens_cancels_it(void **state) {
    (void)state;
    static const engine_file changes[] = {{"show.ini", "[show]\ntitle = T\nlength = 60\ncountdown = 2 s\n"
                                                       "[limits]\narm-time = 1 s\nwind = 8\n"},
                                          {NULL, NULL}};
    static const char *const causes[][2] = {
        {"safe", "made safe"},
        {"key off", "key off"},
        {"quit", "quit"},
        {"enter K", "K went in"},
        {"unplug C", "unplugged C"},
        {"repair A-01", "repaired A-01"},
        {"seek 5", "another place was set"},
        {"speed 0.5", "the speed was changed"},
        {"repeat 1 3", "a repeat was set"},
        {"wind 9", "wind over your limit"},
        {"remote 7 pause", "remote 7 is not paired: heard, nothing else"},
    };
    sm_show *show = engine_show(CUES, changes);
    for (size_t i = 0; i < COUNT(causes); i++) {
        engine_run run;
        engine_run_init(&run, show, NULL);
        assert_int_equal(engine_act(&run, 0, "call-clear J"), SM_OK);
        assert_int_equal(engine_act(&run, 0, "key on"), SM_OK);
        assert_int_equal(engine_act(&run, 0, "arm"), SM_OK);
        assert_int_equal(engine_act(&run, 1, "start-in 10"), SM_OK);
        assert_int_equal(engine_look(&run)->starts_at.us, 11000000);
        assert_int_equal(engine_act(&run, 1, "wind 7"), SM_OK); // within the limit: nothing
        const sm_result done = engine_act(&run, 2, causes[i][0]);
        if (strncmp(causes[i][0], "wind", 4) == 0 &&
            done == SM_OK) // and over the limit it cannot be set anew
            assert_int_equal(engine_act(&run, 2, "start-in 10"), SM_REFUSED);
        assert_int_equal(engine_look(&run)->starts_at.us, SM_UNSET_US);
        assert_string_equal(engine_look(&run)->start_cancelled, causes[i][1]);
        assert_int_equal(engine_look(&run)->start_cancelled_at.us, 2000000);
        engine_to(&run, 500);
        assert_int_not_equal(engine_look(&run)->state, SM_STATE_RUNNING);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

static void it_is_said_what_is_no_time(void **state) {
    (void)state;
    static const char *const wrong[] = {"start-in", "start-in soon", "start-in -5", "start-in 5 s x"};
    sm_show *show = engine_show(CUES, NULL);
    sm_action action;
    char why[200];
    size_t at;
    for (size_t i = 0; i < COUNT(wrong); i++)
        assert_int_equal(sm_action_read(show, wrong[i], strlen(wrong[i]), &action, why, &at), SM_INVALID);
    assert_int_equal(sm_action_read(show, "start-in 5 min", 14, &action, why, &at), SM_OK);
    assert_int_equal(action.moment_us, 300 * SM_US_PER_S);
    assert_string_equal(action.target, "5 min");
    sm_show_destroy(show);
}

// What is seen or heard in a drill cancels it; what makes things better does not.
static void in_a_drill(void **state) {
    (void)state;
    static const struct {
        const char *what;
        bool cancels;
    } events[] = {{"link lost", true},
                  {"remote-weak 1", true},
                  {"remote-unpaired 3", true},
                  {"storm", true},
                  {"person in-field", true},
                  {"call left hold hold hold", true},
                  {"no-answer left", true},
                  {"sound lost", true},
                  {"tip A-05", true},
                  {"remote-good 1", false},
                  {"sound back", false},
                  {"person out", false},
                  {"misfire A-05", false /* nobody can see it */}};
    sm_show *show = drill_play_show("demo-shows/lantern-quay");
    for (size_t i = 0; i < COUNT(events); i++) {
        char text[500];
        snprintf(text, sizeof text,
                 "[drill]\ntitle = T\nends = @0:05\n[event it]\nwhen = armed + 5 s\ndo = %s\n"
                 "[expect run]\nafter = armed\naction = start\nwithin = 60 s\nmarks = 10\n",
                 events[i].what);
        sm_drill *drill = drill_play_read(show, text);
        sm_drill_run *run = drill_play_plain(
            drill,
            "begin 1 call-clear J\nbegin 2 key on\nbegin 3 arm\narmed 1 start-in 20 s\nit 40 note here\n");
        if (drill_play_got(run, "run") != (events[i].cancels ? 0 : 10))
            fail_msg("%s: %d", events[i].what, drill_play_got(run, "run"));
        sm_drill_run_destroy(run);
        sm_drill_destroy(drill);
    }
    sm_show_destroy(show);
}

static void the_logbook_plays_it_again(void **state) {
    (void)state;
    char folder[64], path[128], problem[400] = "";
    kept_begin(folder);
    snprintf(path, sizeof path, "%s/l.db", folder);
    unsigned rows = kept_rehearse(folder, path,
                                  "0 call-clear\n0 key on\n0 arm\n+5 start-in 3 s\n+1 inhibit aerial\n"
                                  "+1 start-in off\n+1 start-in 2\n@0:00.100 read A-01 2\n+0 read A-02 2\n"
                                  "+0 undo 2\n",
                                  problem);
    assert_string_equal(problem, "");
    assert_true(rows > 12);
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row WHERE detail = 'by itself'"), 1);
    kept_assert_replays(path, 1);
    kept_end(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_starts_or_is_cancelled),  cmocka_unit_test(whatever_happens_cancels_it),
        cmocka_unit_test(it_is_said_what_is_no_time), cmocka_unit_test(in_a_drill),
        cmocka_unit_test(the_logbook_plays_it_again),
    };
    return cmocka_run_group_tests_name("engine_start_in", tests, NULL, NULL);
}
