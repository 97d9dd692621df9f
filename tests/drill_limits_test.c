// SPDX-License-Identifier: GPL-3.0-or-later
// Drills at the very edge of a rule: the wait to the microsecond, which hint comes first.
#include "support/drill_play.h"
#include "support/engine_run.h"

#include "slowmatch/inject.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define HEAD "[drill]\ntitle = Test\n"

static int make_show(void **state) {
    static const engine_file waits[] = {
        {"show.ini", "[show]\ntitle = t\nlength = 60\ncountdown = 2\n[limits]\narm-time = 1\n"
                     "reentry-wait = 5\nmisfire-wait = 30\n"},
        {NULL, NULL}};
    *state = engine_show("1,A-01,mine,,\n2,A-02,mine,,\n", waits);
    return 0;
}

static int drop_show(void **state) {
    sm_show_destroy(*state);
    return 0;
}

static int score_of(const sm_show *show, const char *text, const char *script) {
    sm_drill *drill = drill_play_read(show, text);
    sm_drill_run *run = drill_play_plain(drill, script);
    int score = sm_drill_score(run);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
    return score;
}

#define RUN                                                                                                  \
    "begin 1 call-clear J\nbegin 2 key on\nbegin 3 arm\narmed 1 start\nrunning 4 safe\nrunning 4 key off\n"

#define CUT                                                                                                  \
    "begin 0.5 unplug A\nbegin 0.6 waive rails A is cut\nrunning 5 report A-01\nrunning 5 report A-02\n"

// format.md: waits count from the latest of the last firing, make safe and key off; with a misfire the longer one holds. When it is
// over nobody is too early.
static void whoever_enters_when_the_wait_is_over_is_not_too_early(void **state) {
    static const struct {
        const char *script;
        int score;
    } cases[] = {
        {RUN "running 304 enter K\n", 100},
        {RUN "running 303.999999 enter K\n", 0},
        {CUT RUN "running 1804 enter K\n", 100},
        {CUT RUN "running 1803.999999 enter K\n", 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        int score = score_of(*state, HEAD, cases[i].script);
        if (score != cases[i].score)
            fail_msg("%s: %d, not %d", cases[i].script, score, cases[i].score);
    }
}

#define TWO(first, second)                                                                                   \
    HEAD                                                                                                     \
        "[event e]\nwhen = begin + 1 s\ndo = storm\n[expect one]\nafter = e\naction = note\nwithin = " first \
        "\nmarks = 1\nhint = One.\n[expect two]\nafter = e\naction = report A-01\nwithin = " second          \
        "\nmarks = 1\nhint = Two.\n"

// The next right thing is what has the least time left, wherever it stands in the file: common practice, no source.
static void the_hint_is_about_what_has_the_least_time_left(void **state) {
    static const struct {
        const char *text, *hint;
    } cases[] = {{TWO("60 s", "10 s"), "Two."}, {TWO("10 s", "60 s"), "One."}, {TWO("10 s", "10 s"), "One."}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        sm_drill *drill = drill_play_read(*state, cases[i].text);
        const sm_drill_options options = {.seed = 1};
        sm_drill_run *run = NULL;
        char hint[240];
        assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
        assert_int_equal(sm_drill_run_to(run, (sm_wall_time){2 * SM_US_PER_S}), SM_OK);
        (void)sm_drill_hint(run, hint);
        assert_string_equal(hint, cases[i].hint);
        sm_drill_run_destroy(run);
        sm_drill_destroy(drill);
    }
}

// The spotter has no hand on the module but to stop it: common practice of crews with a safety officer, no source.
static void the_spotter_stops_watches_and_never_goes_on(void **state) {
    (void)state;
    const sm_drill spotter = {.seat = SM_SEAT_SPOTTER}, lead = {.seat = SM_SEAT_LEAD};
    static const sm_act key[] = {SM_ACT_KEY_ON, SM_ACT_ARM, SM_ACT_START, SM_ACT_START_IN, SM_ACT_RESUME};
    static const sm_act leads[] = {SM_ACT_PLUG,      SM_ACT_UNPLUG,  SM_ACT_REPAIR, SM_ACT_MEASURE,
                                   SM_ACT_READ,      SM_ACT_INHIBIT, SM_ACT_ALLOW,  SM_ACT_SEEK,
                                   SM_ACT_SPEED,     SM_ACT_WAIVE,   SM_ACT_RERIG,  SM_ACT_REPEAT,
                                   SM_ACT_REPEAT_OFF};
    static const sm_act own[] = {SM_ACT_PAUSE,      SM_ACT_SAFE,         SM_ACT_KEY_OFF, SM_ACT_QUIT,
                                 SM_ACT_CALL_CLEAR, SM_ACT_REPORT,       SM_ACT_NOTE,    SM_ACT_ENTER,
                                 SM_ACT_LEAVE,      SM_ACT_START_IN_OFF, SM_ACT_HINT,    SM_ACT_ANSWER};
    for (size_t i = 0; i < sizeof key / sizeof key[0]; i++)
        assert_non_null(strstr(sm_drill_not_theirs(&spotter, key[i]), "never has the key"));
    for (size_t i = 0; i < sizeof leads / sizeof leads[0]; i++)
        assert_non_null(strstr(sm_drill_not_theirs(&spotter, leads[i]), "not from the spotter's seat"));
    for (size_t i = 0; i < sizeof own / sizeof own[0]; i++)
        assert_null(sm_drill_not_theirs(&spotter, own[i]));
    for (int act = 0; act < SM_ACT_COUNT; act++)
        assert_null(sm_drill_not_theirs(&lead, (sm_act)act));
}

static void text_of(sm_drill_run *run, sm_text *text) {
    sm_text_clear(text);
    drill_play_debrief(run, text);
}

// A drill that a real emergency ended asks nobody what they think of it; what was answered all the same is there.
static void what_was_broken_off_asks_nothing(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD);
    const sm_drill_options options = {.seed = 1};
    sm_drill_run *run = NULL;
    sm_text text = {0};
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    assert_int_equal(sm_drill_no_drill(run, (sm_wall_time){5 * SM_US_PER_S}), SM_OK);
    text_of(run, &text);
    assert_null(strstr(text.bytes, "Before you read on"));
    assert_null(strstr(text.bytes, sm_drill_question(0)));
    assert_int_equal(sm_drill_answer(run, 1, "", (sm_wall_time){6 * SM_US_PER_S}), SM_OK);
    assert_int_equal(sm_drill_answer(run, 2, "it was real", (sm_wall_time){7 * SM_US_PER_S}), SM_OK);
    text_of(run, &text);
    assert_non_null(strstr(text.bytes, "Asked before the debrief showed anything:\n"));
    assert_non_null(strstr(text.bytes, "(not asked)"));
    assert_non_null(strstr(text.bytes, "(left empty)"));
    assert_non_null(strstr(text.bytes, "it was real"));
    sm_text_deinit(&text);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// What may stand after `when` and `after` is offered, whatever it is; what is only judged is not.
static void names_of_events_and_expectations_are_offered(void **state) {
    static const struct {
        const char *when, *offers;
    } cases[] = {{"gusst", "did you mean gust?"},
                 {"wholed", "did you mean whole?"},
                 {"runing", "did you mean running?"},
                 {"neverevr", NULL}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[400];
        snprintf(
            text, sizeof text,
            HEAD
            "[event gust]\nwhen = begin\ndo = storm\n[expect whole]\nafter = gust\naction = pause\nwithin = "
            "5 s\n"
            "marks = 1\n[never neverever]\naction = start\nmarks = 1\n[event it]\nwhen = %s\ndo = storm\n",
            cases[i].when);
        char *said = drill_play_findings(*state, text);
        if (cases[i].offers ? !strstr(said, cases[i].offers) : strstr(said, "did you mean") != NULL)
            fail_msg("%s: %s", cases[i].when, said);
        free(said);
    }
}

static sm_drill_run *begin_run(const sm_drill *drill) {
    const sm_drill_options options = {.seed = 1};
    sm_drill_run *run = NULL;
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    return run;
}

static void expect_hint(const sm_drill_run *run, const char *part) {
    char hint[240];
    (void)sm_drill_hint(run, hint);
    if (!strstr(hint, part))
        fail_msg("\"%s\", not \"%s\"", hint, part);
}

// The first drill's own words: K answers at 4 s, M at 9 s; who has not answered is named, and while the drill is held nothing is next.
static void the_hint_names_who_has_not_answered(void **state) {
    (void)state;
    sm_show *show = drill_play_show("demo-shows/lantern-quay");
    sm_drill *drill = drill_play_load(show, "01-first-arming");
    sm_drill_run *run = begin_run(drill);
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){3 * SM_US_PER_S}), SM_OK);
    expect_hint(run, "Not answered yet: K, M.");
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){5 * SM_US_PER_S}), SM_OK);
    expect_hint(run, "Not answered yet: M.");
    assert_int_equal(drill_play_act(run, 6, "hold-drill", SM_SOURCE_INSTRUCTOR), SM_OK);
    expect_hint(run, "The drill is held; talk.");
    assert_int_equal(drill_play_act(run, 7, "go-drill", SM_SOURCE_INSTRUCTOR), SM_OK);
    expect_hint(run, "Not answered yet: M.");
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){12 * SM_US_PER_S}), SM_OK);
    expect_hint(run, "Everyone has answered: call clear");
    assert_int_equal(sm_drill_finish(run, (sm_wall_time){13 * SM_US_PER_S}), SM_OK);
    expect_hint(run, "The drill is over.");
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
    sm_show_destroy(show);
}

// From the spotter's seat: clear is next when everyone has answered, and not before, nor once it was called.
static void the_spotter_is_told_to_call_clear_in_time(void **state) {
    sm_drill *drill = drill_play_read(
        *state, HEAD "answers = K\nspotter-brief = Watch.\n[event k]\nwhen = begin + 4 s\ndo = call K out\n"
                     "seat = both\n[lead key]\nafter = action call-clear + 3 s\ndo = key on\n"
                     "[expect stop]\nafter = armed\naction = safe\nwithin = 5 s\nmarks = 1\n"
                     "seat = spotter\n");
    assert_int_equal(sm_drill_sit(drill, SM_SEAT_SPOTTER), SM_OK);
    sm_drill_run *run = begin_run(drill);
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){3 * SM_US_PER_S}), SM_OK);
    expect_hint(run, "Not answered yet: K.");
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){5 * SM_US_PER_S}), SM_OK);
    expect_hint(run, "Everyone has answered: look round once more, then call clear.");
    assert_int_equal(drill_play_act(run, 7, "call-clear Ann", SM_SOURCE_SCRIPT), SM_OK);
    expect_hint(run, "Nothing is asked of you just now.");
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// "A stronger stop meets a weaker one, being stopped already counts": a pause that is refused, since the link's loss paused the show
// after it was asked for, is a stop. One that is refused while nothing stands is none.
static void a_stop_that_finds_it_stopped_is_a_stop(void **state) {
    static const char text[] = HEAD "[event gust]\nwhen = running + 0.1 s\ndo = wind 14 m/s\n"
                                    "[event gone]\nwhen = running + 0.2 s\ndo = link lost\n"
                                    "[expect stop]\nafter = gust\naction = pause\nwithin = 5 s\nmarks = 10\n";
    static const char up[] = "begin 1 call-clear J\nbegin 2 key on\nbegin 3 arm\narmed 1 start\n";
    char script[300];
    snprintf(script, sizeof script, "%sgone 1 pause\n", up);
    assert_int_equal(score_of(*state, text, script), 100);
    assert_int_equal(score_of(*state, text, up), 0);
}

// What is due next is the sooner of the drill's and the engine's.
static void what_is_due_next_is_the_sooner(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD "[event late]\nwhen = begin + 50 s\ndo = storm\n");
    sm_drill_run *run = begin_run(drill);
    sm_wall_time due;
    assert_true(sm_drill_next_due(run, &due) && due.us == 50 * SM_US_PER_S);
    assert_int_equal(drill_play_act(run, 1, "call-clear J", SM_SOURCE_SCRIPT), SM_OK);
    assert_int_equal(drill_play_act(run, 1, "key on", SM_SOURCE_SCRIPT), SM_OK);
    assert_int_equal(drill_play_act(run, 1, "arm", SM_SOURCE_SCRIPT), SM_OK);
    assert_true(sm_drill_next_due(run, &due) && due.us == 2 * SM_US_PER_S); // arm-time 1 s
    assert_int_equal(sm_drill_run_to(run, due), SM_OK);
    assert_true(sm_drill_next_due(run, &due) && due.us == 50 * SM_US_PER_S);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// What is planted so that nobody sees it is unseen; what can be seen or heard is not.
static void only_what_is_hidden_is_unseen(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD "[event hidden]\nwhen = begin + 1 s\ndo = open A-01\n"
                                                   "[event seen]\nwhen = begin + 2 s\ndo = storm\n"
                                                   "[event heard]\nwhen = begin + 3 s\ndo = call K out\n");
    sm_drill_run *run = begin_run(drill);
    const sm_log_kind event = {.what = SM_LOG_EVENT}, mark = {.what = SM_LOG_MARK};
    assert_true(sm_drill_is_unseen(run, event, "hidden"));
    assert_false(sm_drill_is_unseen(run, event, "seen"));
    assert_false(sm_drill_is_unseen(run, event, "heard"));
    assert_false(sm_drill_is_unseen(run, mark, "hidden"));
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// The instructor judges what is a mark, and nothing else.
static void an_instructor_judges_marks_alone(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD "[never n]\naction = note\nmarks = 30\n");
    sm_drill_run *run = begin_run(drill);
    assert_int_equal(drill_play_act(run, 1, "judge n yes it was asked", SM_SOURCE_INSTRUCTOR), SM_OK);
    assert_int_equal(drill_play_act(run, 2, "judge x yes it was asked", SM_SOURCE_INSTRUCTOR), SM_REFUSED);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// The show stands while people talk. Whoever sits in the lead's seat resumes it; for the spotter the lead does.
static void only_the_lead_goes_on_after_talk(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD);
    sm_drill_run *run = begin_run(drill);
    static const char *const up[] = {"call-clear J", "key on", "arm"};
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(drill_play_act(run, 1, up[i], SM_SOURCE_SCRIPT), SM_OK);
    assert_int_equal(drill_play_act(run, 3, "start", SM_SOURCE_SCRIPT), SM_OK);
    assert_int_equal(drill_play_act(run, 4, "hold-drill", SM_SOURCE_INSTRUCTOR), SM_OK);
    assert_int_equal(sm_rehearsal_state(sm_drill_rehearsal(run)), SM_STATE_PAUSED);
    assert_int_equal(drill_play_act(run, 5, "go-drill", SM_SOURCE_INSTRUCTOR), SM_OK);
    assert_int_equal(sm_rehearsal_state(sm_drill_rehearsal(run)), SM_STATE_PAUSED);
    assert_int_equal(drill_play_act(run, 6, "resume", SM_SOURCE_SCRIPT), SM_OK);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// The timeline leaves the show's own course out, but for what went by itself or late; the score is said once, last.
static void the_timeline_keeps_what_was_not_the_shows_course(void **state) {
    sm_drill *drill = drill_play_read(
        *state, HEAD "[event by-itself]\nwhen = running + 0.5 s\ndo = fires-alone A-02\n"
                     "[expect stop]\nafter = by-itself\naction = safe\nwithin = 5 s\nmarks = 10\n");
    sm_drill_run *run =
        drill_play_plain(drill, "begin 1 call-clear J\nbegin 2 key on\nbegin 3 arm\narmed 1 start\n"
                                "running 3.5 safe\n");
    unsigned fires = 0, scores = 0;
    for (uint32_t i = 0; i < sm_drill_entry_count(run); i++)
        fires += sm_drill_entry_at(run, i).kind.what == SM_LOG_FIRE;
    assert_int_equal(fires, 1); // A-02, not A-01 which went when due
    sm_debrief *debrief = NULL;
    assert_int_equal(sm_debrief_create(run, &debrief), SM_OK);
    for (uint32_t i = 0; i < debrief->step_count; i++)
        scores += strcmp(debrief->steps[i].name, "score") == 0;
    assert_int_equal(scores, 0);
    assert_non_null(strstr(debrief->tail, "core"));
    sm_debrief_destroy(debrief);
    for (int kind = 0; kind < SM_STEP_KIND_COUNT;
         kind++) // one's own: what one did, and what it earned or cost
        assert_int_equal(sm_step_is_own((sm_step_kind)kind), kind == SM_STEP_ACTION || kind == SM_STEP_MARK);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// errno is what the last failure left: it says nothing of a folder that was opened.
static void the_drills_of_a_folder_are_there_whatever_failed_before(void **state) {
    (void)state;
    sm_show *show = drill_play_show("demo-shows/lantern-quay");
    sm_arena *arena = sm_arena_create();
    const char *const *names = NULL;
    size_t count = 0;
    errno = EACCES;
    assert_int_equal(sm_drill_names(show, arena, &names, &count), SM_OK);
    assert_true(count >= 10);
    for (size_t i = 1; i < count; i++)
        assert_true(strcmp(names[i - 1], names[i]) < 0);
    sm_arena_destroy(arena);
    sm_show_destroy(show);
}

// What the spotter stops, the lead begins again from the start: what was about to lead to arming is not done, with a new clear too.
static void a_stop_takes_back_what_the_lead_was_about_to_do(void **state) {
    static const struct {
        const char *act, *before;
        bool new_clear;
        sm_state ends_in;
    } cases[] = {
        {"call-clear Lead", "", false, SM_STATE_SAFE},
        {"key on", "", true, SM_STATE_SAFE},
        {"arm", "[lead k]\nafter = action call-clear + 0.5 s\ndo = key on\n", true, SM_STATE_ARMED},
        {"start",
         "[lead k]\nafter = action call-clear + 0.5 s\ndo = key on\n[lead a]\nafter = action key on + 0.5 "
         "s\ndo = arm\n",
         true, SM_STATE_RUNNING},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        for (int stops = 0; stops < 2; stops++) {
            char text[400];
            snprintf(text, sizeof text,
                     HEAD "spotter-brief = Watch.\n%s[lead next]\nafter = action note + 5 s\ndo = %s\n",
                     cases[i].before, cases[i].act);
            sm_drill *drill = drill_play_read(*state, text);
            assert_int_equal(sm_drill_sit(drill, SM_SEAT_SPOTTER), SM_OK);
            sm_drill_run *run = begin_run(drill);
            assert_int_equal(drill_play_act(run, 1, "note x", SM_SOURCE_SCRIPT), SM_OK);
            if (stops)
                assert_int_equal(drill_play_act(run, 2, "safe", SM_SOURCE_SCRIPT), SM_OK);
            if (cases[i].new_clear)
                assert_int_equal(drill_play_act(run, 3, "call-clear Ann", SM_SOURCE_SCRIPT), SM_OK);
            assert_int_equal(sm_drill_run_to(run, (sm_wall_time){8 * SM_US_PER_S}), SM_OK);
            sm_facts facts = sm_rehearsal_facts(sm_drill_rehearsal(run));
            bool done = i == 0 ? facts.clear_called : i == 1 ? facts.key : facts.state == cases[i].ends_in;
            if (done != (stops == 0))
                fail_msg("%s%s", cases[i].act, stops ? " after a stop" : "");
            sm_drill_run_destroy(run);
            sm_drill_destroy(drill);
        }
}

// An order that was kept says so, one that was not says why it matters.
static void an_order_says_how_it_went(void **state) {
    static const char text[] =
        HEAD "[before b]\naction = arm\nneeds = call-clear, key on\nmarks = 10\nsay = Order matters.\n";
    static const struct {
        const char *script, *detail;
    } cases[] = {{"begin 1 call-clear J\nbegin 2 key on\nbegin 3 arm\n", "10 of 10: in order"},
                 {"begin 1 call-clear J\nbegin 3 arm\n", "0 of 10: Order matters."},
                 {"begin 1 call-clear J\n", "0 of 10: it never came to that"}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        sm_drill *drill = drill_play_read(*state, text);
        sm_drill_run *run = drill_play_plain(drill, cases[i].script);
        const char *detail = "";
        for (uint32_t e = 0; e < sm_drill_entry_count(run); e++) {
            sm_drill_entry entry = sm_drill_entry_at(run, e);
            if (entry.kind.what == SM_LOG_MARK && strcmp(entry.target, "b") == 0)
                detail = entry.detail;
        }
        assert_string_equal(detail, cases[i].detail);
        sm_drill_run_destroy(run);
        sm_drill_destroy(drill);
    }
}

// Reaction times are of stops, made after they were asked for: neither of other steps, nor of what was never done.
static void reactions_are_of_stops_that_were_made(void **state) {
    static const char text[] =
        HEAD "[event gust]\nwhen = running + 0.1 s\ndo = wind 14 m/s\n"
             "[expect word]\nafter = gust\naction = note\nwithin = 60 s\nmarks = 1\nlate = none\n"
             "[expect hold]\nafter = gust\naction = pause\nwithin = 5 s\nmarks = 1\n"
             "[expect out]\nafter = gust\naction = key off\nwithin = 5 s\nmarks = 1\n";
    static const char up[] = "begin 1 call-clear J\nbegin 2 key on\nbegin 3 arm\narmed 1 start\n";
    char script[300];
    snprintf(script, sizeof script, "%sgust 1 note x\ngust 2.5 pause\n", up);
    sm_drill *drill = drill_play_read(*state, text);
    sm_drill_run *run = drill_play_plain(drill, script);
    sm_us took[4] = {0};
    assert_int_equal(sm_drill_reactions(run, took, 4), 1);
    assert_int_equal(took[0], 2500000);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// A moment of the show may be its very end (60 s here), and not what comes after it.
static void a_moment_may_be_the_end_of_the_show(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD "[event e]\nwhen = @1:00\ndo = storm\n");
    sm_drill_destroy(drill);
    char *said = drill_play_findings(*state, HEAD "[event e]\nwhen = @1:00.000001\ndo = storm\n");
    assert_non_null(strstr(said, "4:"));
    free(said);
}

// Rows alone, of a drill whose file is gone: events stand as the log has them.
static void rows_without_their_drill_are_steps(void **state) {
    (void)state;
    const sm_drill_entry entries[] = {
        {.at = {SM_US_PER_S},
         .source = SM_SOURCE_DRILL,
         .kind = sm_log_kind_read(SM_SOURCE_DRILL, "event", "gust"),
         .target = "gust",
         .detail = "wind 14 m/s"},
        {.at = {2 * SM_US_PER_S},
         .source = SM_SOURCE_SCRIPT,
         .kind = sm_log_kind_read(SM_SOURCE_SCRIPT, "safe", ""),
         .target = "",
         .detail = ""},
    };
    sm_arena *arena = sm_arena_create();
    const sm_drill_step *steps = NULL;
    uint32_t count = 0;
    assert_int_equal(sm_drill_steps_of(entries, 2, arena, &steps, &count), SM_OK);
    assert_int_equal(count, 2);
    assert_int_equal(steps[0].kind, SM_STEP_EVENT);
    assert_string_equal(steps[0].name, "gust");
    assert_non_null(strstr(steps[0].text, "wind 14 m/s"));
    assert_int_equal(steps[1].kind, SM_STEP_ACTION);
    assert_string_equal(steps[1].name, "safe");
    sm_arena_destroy(arena);
}

// "The rehearsed module just after it": the key as it was last turned, the state as it was last entered, whatever else happens.
static void each_step_says_how_the_module_stood(void **state) {
    (void)state;
    static const struct {
        sm_source source;
        const char *what, *target;
        bool key;
        sm_state state;
    } rows[] = {{SM_SOURCE_SCRIPT, "call-clear", "J", false, SM_STATE_SAFE},
                {SM_SOURCE_SCRIPT, "key", "on", true, SM_STATE_SAFE},
                {SM_SOURCE_SCRIPT, "arm", "", true, SM_STATE_SAFE},
                {SM_SOURCE_ENGINE, "state", "arming", true, SM_STATE_ARMING},
                {SM_SOURCE_ENGINE, "state", "armed", true, SM_STATE_ARMED},
                {SM_SOURCE_DRILL, "event", "gust", true, SM_STATE_ARMED},
                {SM_SOURCE_SCRIPT, "key", "off", false, SM_STATE_ARMED},
                {SM_SOURCE_ENGINE, "state", "safe", false, SM_STATE_SAFE},
                {SM_SOURCE_SCRIPT, "repeat", "off", false, SM_STATE_SAFE},
                {SM_SOURCE_SCRIPT, "key", "on", true, SM_STATE_SAFE},
                {SM_SOURCE_SCRIPT, "note", "off", true, SM_STATE_SAFE}};
    sm_drill_entry entries[sizeof rows / sizeof rows[0]];
    const size_t count = sizeof rows / sizeof rows[0];
    for (size_t i = 0; i < count; i++)
        entries[i] = (sm_drill_entry){.at = {(sm_us)(i + 3) * SM_US_PER_S},
                                      .source = rows[i].source,
                                      .kind = sm_log_kind_read(rows[i].source, rows[i].what, rows[i].target),
                                      .target = rows[i].target,
                                      .detail = ""};
    sm_arena *arena = sm_arena_create();
    const sm_drill_step *steps = NULL;
    uint32_t made = 0;
    assert_int_equal(sm_drill_steps_of(entries, (uint32_t)count, arena, &steps, &made), SM_OK);
    assert_int_equal(made, count);
    for (size_t i = 0; i < count; i++) {
        if (steps[i].key != rows[i].key || steps[i].state != rows[i].state)
            fail_msg("after %s %s: key %d, %s", rows[i].what, rows[i].target, steps[i].key,
                     sm_state_text(steps[i].state));
        assert_int_equal(steps[i].at_us - steps[0].at_us, (sm_us)i * SM_US_PER_S);
    }
    sm_arena_destroy(arena);
}

// A drill has the seats that it says anything of.
static void a_drill_has_the_seats_that_it_speaks_of(void **state) {
    static const struct {
        const char *text;
        bool has_spotter;
    } cases[] = {
        {HEAD, false},
        {HEAD "spotter-brief = Watch.\n", true},
        {HEAD "[lead l]\nafter = begin + 5 s\ndo = key on\n", true},
        {HEAD
         "[event e]\nwhen = begin\ndo = storm\nseat = both\n[expect x]\nafter = e\naction = safe\nwithin = 5 "
         "s\nmarks = 1\nseat = spotter\n",
         true},
        {HEAD
         "[event e]\nwhen = begin\ndo = storm\nseat = both\n[expect x]\nafter = e\naction = safe\nwithin = 5 "
         "s\nmarks = 1\nseat = lead\n",
         false},
        {HEAD "[never n]\naction = start\nmarks = 1\nseat = spotter\n", true},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        sm_drill *drill = drill_play_read(*state, cases[i].text);
        if (sm_drill_has_seat(drill, SM_SEAT_SPOTTER) != cases[i].has_spotter ||
            !sm_drill_has_seat(drill, SM_SEAT_LEAD))
            fail_msg("%s", cases[i].text);
        sm_drill_destroy(drill);
    }
}

// A rail's name may have a hyphen: a waiver that names it names something (drills take 20 for one that does not).
static void a_waiver_may_name_a_rail_with_a_hyphen(void **state) {
    (void)state;
    static const engine_file rails[] = {
        {"rails.csv", "name,module,first,slots,position\nfar-left,M,1,8,left\n"},
        {"groups.csv", "name,members\nlamps,L1 L2\n"},
        {NULL, NULL}};
    sm_show *show = engine_show("1,far-left-01,mine,,\n", rails);
    assert_int_equal(score_of(show, HEAD, "begin 1 unplug far-left\nbegin 2 waive rails far-left is cut\n"),
                     100);
    assert_int_equal(score_of(show, HEAD, "begin 1 unplug far-left\nbegin 2 waive rails it is cut\n"), 80);
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whoever_enters_when_the_wait_is_over_is_not_too_early),
        cmocka_unit_test(the_hint_is_about_what_has_the_least_time_left),
        cmocka_unit_test(the_spotter_stops_watches_and_never_goes_on),
        cmocka_unit_test(what_was_broken_off_asks_nothing),
        cmocka_unit_test(names_of_events_and_expectations_are_offered),
        cmocka_unit_test(the_hint_names_who_has_not_answered),
        cmocka_unit_test(the_spotter_is_told_to_call_clear_in_time),
        cmocka_unit_test(a_stop_that_finds_it_stopped_is_a_stop),
        cmocka_unit_test(what_is_due_next_is_the_sooner),
        cmocka_unit_test(only_what_is_hidden_is_unseen),
        cmocka_unit_test(an_instructor_judges_marks_alone),
        cmocka_unit_test(only_the_lead_goes_on_after_talk),
        cmocka_unit_test(the_timeline_keeps_what_was_not_the_shows_course),
        cmocka_unit_test(a_stop_takes_back_what_the_lead_was_about_to_do),
        cmocka_unit_test(an_order_says_how_it_went),
        cmocka_unit_test(reactions_are_of_stops_that_were_made),
        cmocka_unit_test(a_moment_may_be_the_end_of_the_show),
        cmocka_unit_test(rows_without_their_drill_are_steps),
        cmocka_unit_test(each_step_says_how_the_module_stood),
        cmocka_unit_test(a_drill_has_the_seats_that_it_speaks_of),
        cmocka_unit_test(a_waiver_may_name_a_rail_with_a_hyphen),
        cmocka_unit_test(the_drills_of_a_folder_are_there_whatever_failed_before),
    };
    return cmocka_run_group_tests_name("drill limits", tests, make_show, drop_show);
}
