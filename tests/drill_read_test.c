// SPDX-License-Identifier: GPL-3.0-or-later
// Drill files: what is wrong in one is said where it stands, all at once.
#include "support/drill_play.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define HEAD "[drill]\ntitle = T\n"

// The lists of all verbs, which drill_check_test holds.
static void drop_lists(char *said) {
    for (char *list = strstr(said, "; there are "); list; list = strstr(said, "; there are "))
        memmove(list, strstr(list, " ["), strlen(strstr(list, " [")) + 1);
}

static void expect_findings(const sm_show *show, const char *text, const char *expected) {
    char *said = drill_play_findings(show, text);
    drop_lists(said);
    assert_string_equal(said, expected);
    free(said);
}

static void everything_wrong_is_said_at_once(void **state) {
    expect_findings(
        *state,
        "[drill]\nbrief = x\npass = 101\nhints = some\nlength = 3\n"
        "[event a]\nwhen = begn + 5 s\ndo = opne A-05\n"
        "[expect b]\nafter = a + 9 s..5 s\naction = repare A-05\nwithin = soon\nmarks = many\n",
        "1:0 [drill] title is needed: what the drill is called [value-missing]\n"
        "3:8 pass is 101; it can be 0 to 100 [range]\n"
        "4:9 \"some\" is not one of these words: full asked none [value]\n"
        "5:1 [drill] has no key \"length\" [key-unknown]\n"
        "7:8 no state, event or expectation is called \"begn\"; did you mean begin? [drill-when]\n"
        "8:6 nothing that can happen is called 'opne'; did you mean open? [drill-do]\n"
        "10:18 the window ends before it begins [drill-when]\n"
        "11:10 no action 'repare'; did you mean repair? [drill-action]\n"
        "12:10 \"soon\" is not a time with s, ms or min [value]\n"
        "13:9 \"many\" is not a whole number [value]\n");
}

static void names_are_looked_up_in_the_show(void **state) {
    static const struct {
        const char *what, *says;
    } cases[] = {
        {"open A-99", "5:11 no slot 'A-99'; write RAIL-NN as in rails.csv [drill-do]\n"},
        {"open A-12", "5:11 no cue fires A-12; name a slot that one fires [drill-do]\n"},
        {"stray A-05", "5:12 a cue fires A-05; name a spare slot [drill-do]\n"},
        {"unplug Q", "5:13 no rail 'Q' in the show [drill-do]\n"},
        {"late A-05 61 s", "5:16 '61 s' is no time from 1 ms to 60 s [drill-do]\n"},
        {"flame-stuck par-1", "5:18 par-1 is no flame unit [drill-do]\n"},
        {"flame-stuck jet-9", "5:18 no fixture 'jet-9'; did you mean jet-1? [drill-do]\n"},
        {"feed-lost feed-lef", "5:16 no feed 'feed-lef'; did you mean feed-left? [drill-do]\n"},
        {"fire barje", "5:11 no position 'barje'; did you mean barge? [drill-do]\n"},
        {"refuse-arm nroth", "5:17 no module 'nroth'; did you mean north? [drill-do]\n"},
        {"wind quick",
         "5:11 'quick' is no wind speed; write a number with m/s, km/h, mph or kn [drill-do]\n"},
        {"remote-weak one", "5:18 'one' is no remote's number; write 1 to 99 [drill-do]\n"},
        {"call M", "5:12 'call' needs more: write call WHO TEXT [drill-do]\n"},
        {"link", "5:6 nothing that can happen is called 'link' [drill-do]\n"},
        {"storm soon", "5:12 'soon' is too much: write storm [drill-do]\n"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[200];
        snprintf(text, sizeof text, HEAD "[event e]\nwhen = begin\ndo = %s\n", cases[i].what);
        expect_findings(*state, text, cases[i].says);
    }
}

static void every_event_of_the_format_is_read(void **state) {
    static const char *const all[] = {
        "open A-05",         "short A-05",          "stray A-12",         "mended A-05",
        "unplug A",          "misfire A-05",        "late A-05 400 ms",   "fires-alone A-05",
        "tip A-05",          "refuse-arm north",    "module-ready north", "flame-stuck jet-2",
        "flame-out jet-2",   "feed-lost feed-jets", "wind 14 m/s",        "storm",
        "fire barge",        "person in-field",     "person out",         "call K Hold, hold, hold.",
        "no-answer K",       "false-clear M",       "link lost",          "link back",
        "remote-unpaired 2", "remote-weak 1",       "remote-good 1",      "sound lost",
        "sound back",        "music-off -0.4 s"};
    assert_int_equal(sizeof all / sizeof all[0], SM_INJECT_COUNT);
    for (int i = 0; i < SM_INJECT_COUNT; i++) {
        char text[200];
        snprintf(text, sizeof text, HEAD "[event e]\nwhen = begin\ndo = %s\n", all[i]);
        sm_drill *drill = drill_play_read(*state, text);
        assert_int_equal(drill->events[0].injection.what, i);
        sm_drill_destroy(drill);
    }
}

static void no_drill_takes_marks_for_a_stop(void **state) {
    static const char *const stops[] = {"pause", "safe", "key off", "quit"};
    for (size_t i = 0; i < 4; i++) {
        char text[300];
        snprintf(text, sizeof text,
                 HEAD
                 "[never n]\naction = %s\nmarks = 1\n[before b]\naction = %s\nneeds = key on\nmarks = 1\n",
                 stops[i], stops[i]);
        expect_findings(
            *state, text,
            "4:10 no drill may take marks for a stop; pause, safe, key off and quit are always right "
            "[drill-stop]\n"
            "7:10 no drill may take marks for a stop; pause, safe, key off and quit are always right "
            "[drill-stop]\n");
    }
}

static void sections_have_one_name_each(void **state) {
    expect_findings(
        *state, "[evnt a]\n[event]\n[event armed]\n[event a b]\n[event x]\n[expect x]\n[drill x]\n",
        "0:0 the section [drill] is missing: it holds the title and the brief [drill-section]\n"
        "1:2 there is no section [evnt a]; did you mean [event]? [section-unknown]\n"
        "2:2 [event NAME] needs a name of letters, digits, - and _, at most 31 of them [drill-section]\n"
        "3:2 \"armed\" means something else after when; choose another name [drill-section]\n"
        "4:2 [event NAME] needs a name of letters, digits, - and _, at most 31 of them [drill-section]\n"
        "5:0 [event x] when is needed: begin, @MOMENT, action NAME, a state, an event or an expectation; "
        "then + 5 s or + 5 s..20 s [value-missing]\n"
        "5:0 [event x] do is needed: what happens [value-missing]\n"
        "6:2 the name \"x\" is taken in line 5 [drill-section]\n"
        "7:2 [drill] has no name [drill-section]\n");
}

static void rings_never_come(void **state) {
    expect_findings(*state,
                    HEAD "[event a]\nwhen = c + 1 s\ndo = storm\n[event b]\nwhen = a\ndo = storm\n"
                         "[expect c]\nafter = b\naction = note\nwithin = 5 s\nmarks = 1\n"
                         "[event tail]\nwhen = c\ndo = storm\n[event own]\nwhen = own\ndo = storm\n",
                    "3:2 a waits for itself, by way of what it waits for; it never comes [drill-ring]\n"
                    "6:2 b waits for itself, by way of what it waits for; it never comes [drill-ring]\n"
                    "9:2 c waits for itself, by way of what it waits for; it never comes [drill-ring]\n"
                    "17:2 own waits for itself, by way of what it waits for; it never comes [drill-ring]\n");
}

static void moments_are_read_whole(void **state) {
    sm_drill *drill =
        drill_play_read(*state, "[drill]\ntitle = T\nbrief = one\nbrief-2 = two\nends = ended + 1 min\n"
                                "[event a]\nwhen = @0:20.000 + 5 s..20 s\ndo = storm\n"
                                "[event b]\nwhen = action inhibit aerial + 250 ms\ndo = storm\n"
                                "[never n]\naction = allow aerial\nwhile = paused, running\nmarks = 5\n");
    assert_int_equal(drill->brief_count, 2);
    assert_int_equal(drill->pass, 80);
    assert_int_equal(drill->hints, SM_HINTS_FULL);
    assert_int_equal(drill->ends.on, SM_ON_STATE);
    assert_int_equal(drill->ends.state, SM_STATE_ENDED);
    assert_int_equal(drill->ends.most_us, 60 * SM_US_PER_S);
    assert_int_equal(drill->events[0].when.on, SM_ON_MOMENT);
    assert_int_equal(drill->events[0].when.moment.us, 20 * SM_US_PER_S);
    assert_int_equal(drill->events[0].when.least_us, 5 * SM_US_PER_S);
    assert_int_equal(drill->events[0].when.most_us, 20 * SM_US_PER_S);
    assert_int_equal(drill->events[1].when.on, SM_ON_ACTION);
    assert_int_equal(drill->events[1].when.action.act, SM_ACT_INHIBIT);
    assert_string_equal(drill->events[1].when.action.target, "aerial");
    assert_int_equal(drill->nevers[0].states, 1u << SM_STATE_PAUSED | 1u << SM_STATE_RUNNING);
    sm_drill_destroy(drill);
}

static void a_name_with_a_folder_is_refused(void **state) {
    sm_findings *findings = sm_findings_create();
    sm_drill *drill = NULL;
    assert_int_equal(sm_drill_load(*state, "../drills/01-first-arming", findings, &drill), SM_UNREADABLE);
    assert_int_equal(sm_drill_load(*state, "no-such", findings, &drill), SM_UNREADABLE);
    assert_null(drill);
    sm_findings_destroy(findings);
}

// Any bytes: never a crash, and a file that is not read has a finding.
static void damaged_files_are_refused_or_read(void **state) {
    static const char *const names[] = {"demo-shows/lantern-quay/drills/02-one-bad-igniter.ini",
                                        "demo-shows/lantern-quay/drills/09-first-one-back.ini"};
    uint64_t random = 7;
    unsigned refused = 0;
    for (int round = 0; round < 600; round++) {
        char *bytes;
        size_t length;
        assert_int_equal(sm_file_read(names[round % 2], &bytes, &length), SM_OK);
        for (int hit = 0; hit < 1 + round % 7; hit++) {
            static const char odd[] = "\n[]= ;,+.@\0\377a0#";
            uint64_t drawn = sm_drill_random(&random);
            bytes[drawn % length] = odd[(drawn >> 32) % (sizeof odd - 1)];
        }
        if (round % 5 == 0)
            length = sm_drill_random(&random) % length;
        sm_findings *findings = sm_findings_create();
        sm_drill *drill = NULL;
        sm_result result = sm_drill_read(*state, "drills/test.ini", bytes, length, findings, &drill);
        if (result == SM_OK) {
            assert_non_null(drill);
        } else {
            assert_int_equal(result, SM_INVALID);
            assert_true(sm_findings_count_of(findings, SM_ERROR) > 0);
            refused++;
        }
        sm_drill_destroy(drill);
        sm_findings_destroy(findings);
        free(bytes);
    }
    assert_in_range(refused, 200, 599);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(everything_wrong_is_said_at_once),
        cmocka_unit_test(names_are_looked_up_in_the_show),
        cmocka_unit_test(every_event_of_the_format_is_read),
        cmocka_unit_test(no_drill_takes_marks_for_a_stop),
        cmocka_unit_test(sections_have_one_name_each),
        cmocka_unit_test(rings_never_come),
        cmocka_unit_test(moments_are_read_whole),
        cmocka_unit_test(a_name_with_a_folder_is_refused),
        cmocka_unit_test(damaged_files_are_refused_or_read),
    };
    return cmocka_run_group_tests_name("drill files", tests, drill_play_load_demo, drill_play_drop_demo);
}
