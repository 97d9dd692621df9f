// SPDX-License-Identifier: GPL-3.0-or-later
// What a drill may not cost, and what it must: seats, the crew, stops, what was done early, what was said. Common practice of small
// crews, no source; the sums are those of the drills' format.
#include "support/drill_play.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define HEAD "[drill]\ntitle = T\nanswers = K, M\n"
#define ASKED "begin 1 ask K\nbegin 1 ask M\n"
#define UP ASKED "begin 5 call-clear J\nbegin 6 key on\nbegin 7 arm\n"
#define RUN UP "armed 1 start\n"

static sm_drill_run *play(const sm_show *show, const char *text, const char *script, sm_drill **drill) {
    *drill = drill_play_read(show, text);
    return drill_play_plain(*drill, script);
}

static void drop(sm_drill_run *run, sm_drill *drill) {
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

static void expect(const sm_show *show, const char *text, const char *script, int score, const char *rule) {
    sm_drill *drill;
    sm_drill_run *run = play(show, text, script, &drill);
    for (int r = 0; r < SM_RULE_COUNT; r++) {
        const char *name = sm_drill_rule_of((sm_drill_rule)r)->name;
        bool expected = rule && strcmp(name, rule) == 0;
        if (drill_play_has_mark(run, name) != expected)
            fail_msg("%s\n%s\n%s was %sseen", text, script, name, expected ? "not " : "");
    }
    if (sm_drill_score(run) != score)
        fail_msg("%s\n%s\n%d, not %d", text, script, sm_drill_score(run), score);
    if (rule)
        assert_false(sm_drill_passed(run));
    drop(run, drill);
}

// ---- seats -------------------------------------------------------------------------------------

static void what_is_the_instructors_is_refused_to_everybody_else(void **state) {
    static const char *const lines[] = {"trigger gust",   "inject storm", "call K I am outside",
                                        "judge hold yes", "hold-drill",   "go-drill",
                                        "tick said yes",  "remark fine",  "remote 1 trigger gust"};
    static const sm_source sources[] = {SM_SOURCE_CONSOLE, SM_SOURCE_SCRIPT, SM_SOURCE_REMOTE};
    static const char text[] = HEAD "[event gust]\nwhen = running\ndo = wind 14 m/s\n"
                                    "[expect hold]\nafter = gust\naction = pause\nwithin = 5 s\nmarks = 5\n"
                                    "[spoken said]\nafter = armed\nwords = Armed.\nmarks = 5\n"
                                    "[lead l]\nafter = begin + 1 s\nsays = Hello.\n";
    for (int seat = 0; seat < SM_SEAT_COUNT; seat++)
        for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
            for (size_t s = 0; s < sizeof sources / sizeof sources[0]; s++) {
                sm_drill *drill = drill_play_read(*state, text);
                assert_int_equal(sm_drill_sit(drill, (sm_drill_seat)seat), SM_OK);
                const sm_drill_options options = {0};
                sm_drill_run *run = NULL;
                sm_action action;
                char why[200];
                size_t at;
                assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
                assert_int_equal(sm_action_read(*state, lines[i], strlen(lines[i]), &action, why, &at),
                                 SM_OK);
                assert_true(sm_drill_is_instructors(action.act));
                assert_int_equal(sm_drill_act(run, &action, sources[s], (sm_wall_time){SM_US_PER_S}),
                                 SM_REFUSED);
                assert_string_equal(sm_rehearsal_refusal(sm_drill_rehearsal(run)),
                                    "that is the instructor's");
                assert_false(sm_drill_is_held(run));
                drop(run, drill);
            }
}

static void the_instructor_injects_anything_at_once(void **state) {
    sm_drill *drill;
    sm_drill_run *run =
        play(*state, HEAD, RUN "!running 5 inject wind 14 m/s\nrunning 6 pause\nrunning 8 resume\n", &drill);
    assert_int_equal(drill_play_got(run, "going-over-wind"), -100);
    drop(run, drill);
    run = play(*state, HEAD, "!begin 1 inject storm\n!begin 2 inject thunderstorm\n",
               &drill); // that is refused
    assert_true(sm_rehearsal_refusal(sm_drill_rehearsal(run))[0] != '\0');
    drop(run, drill);
}

// ---- the crew ----------------------------------------------------------------------------------

static void nobody_is_left_unheard(void **state) {
    static const char silent[] = HEAD "[event no]\nwhen = armed + 1 s\ndo = no-answer K\n";
    expect(*state, HEAD, RUN "running 5 safe\n", 100, NULL);
    expect(*state, HEAD, "begin 5 call-clear J\n", 0, "clear-over-silence");
    expect(*state, HEAD, "begin 1 ask K\nbegin 5 call-clear J\n", 0, "clear-over-silence");
    expect(*state, HEAD, ASKED "begin 2 call-clear J\n", 0,
           "clear-over-silence"); // before they have answered
    // Somebody is not heard any more once all is armed.
    expect(*state, silent, UP "armed 3 start\n", 0, "start-unheard");
    expect(*state, silent, UP "armed 3 safe\n", 100, NULL);
    // Who is in the field answers from there: no answer that counts.
    expect(*state, HEAD,
           "begin 1 enter K\nbegin 2 ask K\nbegin 2 ask M\nbegin 6 leave K\nbegin 7 call-clear J\n", 0,
           "clear-over-silence");
}

static void going_on_needs_a_clear_that_stands(void **state) {
    // A person seen ends the clear while the show is paused; that they came out gives it back to nobody.
    static const char walker[] = HEAD "[event in]\nwhen = paused + 1 s\ndo = person in-field\n"
                                      "[event out]\nwhen = in + 2 s\ndo = person out\n";
    sm_drill *drill;
    sm_drill_run *run = play(*state, walker, RUN "running 5 pause\nout 1 resume\n", &drill);
    assert_int_equal(drill_play_got(run, "going-without-clear"), -100);
    assert_false(sm_drill_passed(run));
    drop(run, drill);
}

static void over_the_wind_limit_no_aerials(void **state) {
    static const char gust[] = HEAD "[event gust]\nwhen = running + 3 s\ndo = wind 14 m/s\n"
                                    "[event lull]\nwhen = gust + 20 s\ndo = wind 6 m/s\n";
    expect(*state, gust, RUN "gust 1 pause\ngust 5 resume\n", 0, "going-over-wind");
    expect(*state, gust, RUN "gust 1 pause\ngust 2 inhibit aerial\ngust 5 resume\n", 100, NULL);
    expect(*state, gust, RUN "gust 1 pause\nlull 1 resume\n", 100, NULL);
    // What is written down does not change what the meter shows.
    expect(*state, gust, RUN "gust 1 pause\ngust 2 wind 3 m/s\ngust 5 resume\n", 0, "going-over-wind");
}

// A hint leads nobody on to the clear or the key while something burns that should not.
static void no_hint_leads_on_past_a_warning(void **state) {
    static const char text[] = HEAD "[event fire]\nwhen = begin + 2 s\ndo = fire barge\n"
                                    "[event later]\nwhen = running\ndo = storm\n"
                                    "[expect stop]\nafter = later\naction = safe\nwithin = 5 s\nmarks = 5\n";
    sm_drill *drill = drill_play_read(*state, text);
    const sm_drill_options options = {.seed = 1};
    sm_drill_run *run = NULL;
    char hint[240];
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){SM_US_PER_S}), SM_OK);
    assert_int_equal(sm_drill_hint(run, hint), SM_ACT_ASK);
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){3 * SM_US_PER_S}), SM_OK);
    assert_int_equal(sm_drill_hint(run, hint), SM_ACT_COUNT);
    assert_string_equal(hint, "FIRE at barge: everybody back, call; nobody fights it.");
    drop(run, drill);
}

// ---- stops -------------------------------------------------------------------------------------

static void a_stop_while_the_drill_is_held_is_at_once(void **state) {
    static const char text[] = HEAD "[event gust]\nwhen = running + 3 s\ndo = wind 14 m/s\n"
                                    "[expect hold]\nafter = gust\naction = pause\nwithin = 5 s\nmarks = 5\n"
                                    "[expect stop]\nafter = gust\naction = safe\nwithin = 5 s\nmarks = 5\n"
                                    "[never on]\naction = resume\nwhile = paused\nmarks = 60\n";
    expect(*state, text, RUN "!gust 2 hold-drill\ngust 300 safe\n!gust 400 go-drill\n", 100, NULL);
    expect(*state, text, RUN "!gust 2 hold-drill\ngust 60 pause\n!gust 90 go-drill\ngust 92 safe\n", 100,
           NULL);
    expect(*state, text, RUN "!gust 2 hold-drill\n!gust 90 go-drill\ngust 92.5 safe\n", 100,
           NULL); // 4.5 s of 5
}

// The instructor's hold pauses the show; to go on from that is what everybody waits for.
static void going_on_from_the_instructors_hold_costs_nothing(void **state) {
    static const char text[] = HEAD "[never on]\naction = resume\nwhile = paused\nmarks = 60\n";
    expect(*state, text, RUN "!running 5 hold-drill\n!running 20 go-drill\nrunning 22 resume\n", 100, NULL);
    expect(*state, text, RUN "running 5 pause\nrunning 22 resume\n", 40, NULL);
    // Whoever stopped it too has a hold of their own to lift.
    expect(*state, text,
           RUN "!running 5 hold-drill\nrunning 8 pause\n!running 20 go-drill\nrunning 22 resume\n", 40, NULL);
}

// ---- early ---------------------------------------------------------------------------------------

static void what_was_done_early_and_stands_is_in_time(void **state) {
#define ENOUGH "[event enough]\nwhen = running + 14 s\ndo = call K That is enough.\n"
    static const char report[] =
        HEAD "[event dud]\nwhen = begin\ndo = misfire A-02\n" ENOUGH
             "[expect told]\nafter = enough\naction = report A-02\nwithin = 60 s\nmarks = 5\n";
    static const char isolate[] =
        HEAD ENOUGH "[expect out]\nafter = enough\naction = unplug A\nwithin = 60 s\nmarks = 5\n";
    static const char clear[] =
        HEAD "[event k]\nwhen = begin + 9 s\ndo = wind 2 m/s\n"
             "[expect clear]\nafter = k\naction = call-clear\nwithin = 60 s\nmarks = 5\n";
    expect(*state, report, RUN "running 13 report A-02\n", 100,
           NULL); // it misfires at 0:06 after a count of 5 s
    expect(*state, report, RUN "enough 5 report A-02\n", 100, NULL);
    expect(*state, report, RUN, 0, NULL);
    expect(*state, isolate, "begin 1 unplug A\nbegin 2 plug A\n" RUN, 0, NULL); // it does not stand
    expect(*state, clear, ASKED "begin 5 call-clear J\n", 100, NULL);
    expect(*state, clear, ASKED "begin 5 call-clear J\nbegin 6 key off\n", 0, NULL); // lapsed
    expect(*state, clear, "begin 5 call-clear J\n", 0, "clear-over-silence");        // never was one
}

// ---- what is said ----------------------------------------------------------------------------------

static void an_answer_says_something_of_the_matter(void **state) {
#define CALL "[event in]\nwhen = begin + 1 s\ndo = call K I go in.\n"
#define WORDS(act, words)                                                                                    \
    HEAD CALL "[expect a]\nafter = in\naction = " act "\nwithin = 60 s\nmarks = 5\nwords = " words "\n"
    static const struct {
        const char *words, *said;
        bool fits;
    } cases[] = {
        {"stay/out/back, K", "K, stay out!", true},
        {"stay/out/back, K", "Back, everybody. K, you too", true},
        {"stay/out/back, K", "yes", false},
        {"stay/out/back, K", "stay where you are", false}, // to whom?
        {"stay/out/back, K", "okay, outside", false},      // neither K nor out as words of their own
        {"no/stay, !yes/clear", "no, stay out", true},
        {"no/stay, !yes/clear", "no, yes, stay, clear", false}, // who says everything has said nothing
        {"watch", "I am watching", true},
        {"no one", "I see no one", true},
        {"no one", "one, no", false},
        {"A-05", "misfire A-05", true},
        {"A-05", "misfire A5, live", true},
        {"A-05", "misfire a-5", true},
        {"A-05", "Alfa zero five is live", true},
        {"A-05", "alfa five", true},
        {"A-05", "A-06", false},
        {"A-05", "alfa zero fifty", false},
        {"A-05", "one did not go", false},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        for (int act = 0; act < 2; act++) {
            char text[400], script[200];
            snprintf(text, sizeof text, WORDS("%s", "%s"), act ? "note" : "answer", cases[i].words);
            snprintf(script, sizeof script, "in 5 %s %s\n", act ? "note" : "answer", cases[i].said);
            expect(*state, text, script, cases[i].fits ? 100 : 0, NULL);
        }
    expect(*state, WORDS("answer", "stay/out, K"), "in 5 answer yes\nin 9 answer stay out, K\n", 100, NULL);
}

static void without_words_only_the_instructor_judges_what_is_said(void **state) {
    static const char text[] =
        HEAD CALL "[expect a]\nafter = in\naction = answer\nwithin = 60 s\nmarks = 5\n"
                  "[expect b]\nafter = in\naction = key on\nwithin = 9 s\nmarks = 5\nlate = none\n";
    expect(*state, text, "in 2 answer whatever\nin 3 key on\n", 100, NULL); // no marks for it
    expect(*state, text, "in 3 key on\nin 4 hint\n", 50, NULL);             // silence is judged
    expect(*state, text, "in 2 answer well said\nin 20 key on\n!in 21 judge a yes good\n", 50,
           NULL); // 5 of 10
    expect(*state, text, "in 2 answer rubbish\nin 3 key on\n!in 5 judge a no beside the matter\n", 50, NULL);
    sm_drill *drill;
    sm_drill_run *run = play(*state, text, "in 2 answer well said\n!in 21 judge a yes good\n", &drill);
    assert_int_equal(sm_drill_mark_at(run, 0).computed, 0); // the program has no opinion of it
    assert_int_equal(sm_drill_mark_at(run, 0).got, 5);
    drop(run, drill);
}

static void what_is_judged_by_hand_stands_beside_what_was_computed(void **state) {
    static const char text[] =
        HEAD CALL "[expect b]\nafter = in\naction = key on\nwithin = 5 s\nmarks = 10\nlate = none\n"
                  "[never n]\naction = note\nmarks = 30\n";
    sm_drill *drill;
    sm_drill_run *run = play(*state, text,
                             "in 20 key on\nin 21 note x\n!in 30 judge b yes the horn was broken\n"
                             "!in 31 judge n yes\n!in 32 judge clear-over-silence no\n!in 33 judge x yes\n",
                             &drill);
    const sm_drill_mark b = sm_drill_mark_at(run, 0);
    assert_int_equal(b.computed, 0);
    assert_int_equal(b.got, 10);
    assert_int_equal(b.judged, 1);
    assert_string_equal(b.reason, "the horn was broken");
    assert_int_equal(drill_play_got(run, "n"), 0);
    assert_int_equal(sm_drill_score(run), 100);
    drop(run, drill);
}

static void the_wind_is_what_the_meter_showed(void **state) {
    static const char text[] = HEAD "[event lull]\nwhen = begin + 1 s\ndo = wind 6 m/s\n"
                                    "[expect w]\nafter = lull\naction = wind\nwithin = 60 s\nmarks = 5\n";
    expect(*state, text, "lull 2 wind 6 m/s\n", 100, NULL);
    expect(*state, text, "lull 2 wind 21.6 km/h\n", 100, NULL);
    expect(*state, text, "lull 2 wind 6.5 m/s\n", 100, NULL);
    expect(*state, text, "lull 2 wind 3 m/s\n", 0, NULL);
    expect(*state, text, "lull 2 wind 60 m/s\n", 0, NULL);
}

static void words_are_for_what_is_said(void **state) {
    char *said = drill_play_findings(
        *state, "[drill]\ntitle = T\n"
                "[expect a]\nafter = begin\naction = safe\nwithin = 3 s\nmarks = 1\nwords = x\n"
                "[expect b]\nafter = begin\naction = note\nwithin = 3 s\nmarks = 1\nwords = x/, y\n");
    assert_string_equal(said, "8:9 only an answer or a note has words to judge it by [drill-words]\n"
                              "14:9 a word is missing between two commas or strokes; write stay/out/back, K "
                              "[drill-words]\n");
    free(said);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_the_instructors_is_refused_to_everybody_else),
        cmocka_unit_test(the_instructor_injects_anything_at_once),
        cmocka_unit_test(nobody_is_left_unheard),
        cmocka_unit_test(going_on_needs_a_clear_that_stands),
        cmocka_unit_test(over_the_wind_limit_no_aerials),
        cmocka_unit_test(no_hint_leads_on_past_a_warning),
        cmocka_unit_test(a_stop_while_the_drill_is_held_is_at_once),
        cmocka_unit_test(going_on_from_the_instructors_hold_costs_nothing),
        cmocka_unit_test(what_was_done_early_and_stands_is_in_time),
        cmocka_unit_test(an_answer_says_something_of_the_matter),
        cmocka_unit_test(without_words_only_the_instructor_judges_what_is_said),
        cmocka_unit_test(what_is_judged_by_hand_stands_beside_what_was_computed),
        cmocka_unit_test(the_wind_is_what_the_meter_showed),
        cmocka_unit_test(words_are_for_what_is_said),
    };
    return cmocka_run_group_tests_name("what a drill may cost", tests, drill_play_load_demo,
                                       drill_play_drop_demo);
}
