// SPDX-License-Identifier: GPL-3.0-or-later
// The demo's course from the spotter's seat: every drill by trainees of whom the marks are worked out by hand, and what a spotter may and
// may not do. No outside source says what a drill is worth: the marks are those of the files, the sum is format.md's.
#include "support/drill_play.h"
#include "support/drill_scripts.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

typedef struct taken {
    const char *drill;
    const char *slow; // does the right things, too late
    int slow_score;
    const char *lazy; // calls clear as soon as everyone has answered, and watches nothing
    int lazy_score;
    const char *early; // calls clear before everyone has answered
} taken;

static const taken course[] = {
    {"01-first-arming",
     // safe after 13 s of 10: 30 x 7/10 = 21; after 9 s of 6: 30 x 3/6 = 15; the rest in time
     "hasty 13 safe\nm-answers 5 call-clear S\nwalker 9 safe\ngone 100 answer outside, clear again\n",
     21 + 20 + 15 + 20, "m-answers 5 call-clear S\n", 20, "k-answers 2 call-clear S\n"},
    {"02-one-bad-igniter",
     // 9 s of 6: 40 x 3/6 = 20; 8 s of 6: 20 x 4/6 = 13
     "inside 100 answer I see you, nobody else\nhasty 9 safe\ns-early 8 safe\nm-answers 5 call-clear S\n",
     20 + 20 + 13 + 20, "m-answers 5 call-clear S\n", 20, "k-out 1 call-clear S\n"},
    {"03-someone-went-back",
     // 7 s of 4: 30 x 1/4 = 7; 8 s of 6: 30 x 4/6 = 20
     "m-answers 5 call-clear S\ngone-in 7 safe\ns-out 3 answer outside\nhasty 8 safe\nm-again 5 call-clear "
     "S\n",
     10 + 7 + 10 + 20 + 20, "m-answers 5 call-clear S\n", 10, "k-answers 1 call-clear S\n"},
    {"04-hold-means-hold",
     // 8 s of 5: 25 x 2/5 = 10; 6 s of 5: 25 x 4/5 = 20; 7 s of 5: 30 x 3/5 = 18
     "m-answers 5 call-clear S\ngust 8 pause\nonly-a-gust 6 pause\ns-lull 9 wind 6 m/s\ns-shape 7 safe\n",
     10 + 10 + 20 + 10 + 18, "m-answers 5 call-clear S\n", 10, "k-answers 1 call-clear S\n"},
    {"05-who-has-the-button",
     // 12 s of 8: 20 x 4/8 = 10 (the lead had started after 10 s: it is stopped all the same); 10 s of 8: 25 x 6/8 = 18;
     // 9 s of 6: 15 x 3/6 = 7
     "stranger 5 note remote 2 with M\nm-answers 5 call-clear S\nit-will-do 9 safe\ns-ready 1 ask M\ns-ready "
     "5 call-clear S\n"
     "gone 10 safe\nback 2 note link away\ngoing-on 8.5 safe\n",
     10 + 10 + 17 + 10 + 18 + 10 +
         8, // nobody ended the first clear, so it stands when the second is asked for
     "m-answers 5 call-clear S\n", 20, "k-answers 1 call-clear S\n"},
    {"06-stays-lit",
     // 6 s of 4: 20 x 2/4 = 10; 12 s of 10: 25 x 8/10 = 20; 7 s of 5: 30 x 3/5 = 18
     "m-answers 5 call-clear S\nstuck 6 pause\nstuck 12 safe\nruns-in 7 safe\nstuck 60 note fire cover "
     "called, it burns\n",
     10 + 10 + 20 + 18 + 15, "m-answers 5 call-clear S\n", 10, "k-answers 1 call-clear S\n"},
    {"07-nobody-goes-in-yet",
     // 21 s of 15: 20 x 9/15 = 12; the second after 4 min: none; 6 s of 5: 40 x 4/5 = 32
     "m-answers 5 call-clear S\nlast 21 safe\nlast 25 report A-07\ngo-in 6 safe\nlast 240 report B-02\n",
     10 + 12 + 15 + 32, "m-answers 5 call-clear S\n", 10, "k-answers 1 call-clear S\n"},
    {"08-everything-at-once",
     // 6 s of 5: 15 x 4/5 = 12; 8 s of 5: 20 x 2/5 = 8; 7 s of 5: 15 x 3/5 = 9; 9 s of 5: 15 x 1/5 = 3; 11 s of 8: 15 x 5/8 = 9
     "hasty 6 safe\nm-answers 5 call-clear S\ngone-in 8 safe\nold-clear 7 safe\nm-again 5 call-clear S\n"
     "gust 9 pause\ns-gone 11 safe\n",
     12 + 10 + 8 + 9 + 10 + 3 + 9, "m-answers 5 call-clear S\n", 10, "k-answers 1 call-clear S\n"},
    {"09-first-one-back",
     // 8 s of 6: 35 x 4/6 = 23; the answers after more than 2 min: none, and L does not go before the first
     "m-answers 5 call-clear S\nrunning 200 report A-02\ns-hurry 8 safe\none-goes 130 answer I watch L\n"
     "one-back 130 answer L is out, nobody else\n",
     15 + 20 + 23, "m-answers 5 call-clear S\n", 15, "k-answers 1 call-clear S\n"},
    {"10-the-spotters-seat",
     // 8 s of 6: 20 x 4/6 = 13; 6 s of 4: 25 x 2/4 = 12; 15 s of 10: 20 x 5/10 = 10
     "silent 3 answer Not clear: K\nhasty 8 safe\ns-found 5 call-clear S\nwalker 6 pause\nwalker 15 safe\n"
     "s-gone 5 answer outside, clear again\n",
     10 + 13 + 15 + 12 + 10 + 10, "s-found 5 call-clear S\n", 15, "silent 1 call-clear S\n"},
    {"11-thunder",
     // 9 s of 6: 40 x 3/6 = 20
     "finish-first 9 safe\ns-thunder 30 note thunder, all out\ngo-back 5 answer no\n", 20 + 30 + 30,
     "go-back 1 ask K\n", 0, "begin 5 call-clear S\n"},
    {"12-by-itself",
     // 8 s of 5: 40 x 2/5 = 16; 8 s of 6: 30 x 4/6 = 20
     "m-answers 5 call-clear S\nalone 8 safe\nalone 10 note B-04 went by itself\ns-shrug 8 safe\n",
     15 + 16 + 15 + 20, "m-answers 5 call-clear S\n", 15, "k-answers 1 call-clear S\n"},
    {"13-behind-the-first",
     // 8 s of 6: 40 x 4/6 = 26
     "hasty 8 safe\ninside 4 answer I see you, nobody else\ninside 20 note C-02 was open\n"
     "m-answers 5 call-clear S\n",
     26 + 20 + 20 + 20, "m-answers 5 call-clear S\n", 20, "k-answers 1 call-clear S\n"},
};
#define COURSE (sizeof course / sizeof course[0])

static sm_drill *load(const sm_show *show, const char *name) {
    sm_drill *drill = drill_play_load(show, name);
    assert_int_equal(sm_drill_sit(drill, SM_SEAT_SPOTTER), SM_OK);
    assert_int_equal(drill->seat, SM_SEAT_SPOTTER);
    return drill;
}

static void print_debrief(const sm_drill_run *run) {
    sm_text text = {0};
    drill_play_debrief(run, &text);
    fputs(sm_text_get(&text), stderr);
    sm_text_deinit(&text);
}

static void expect_score(const sm_show *show, const taken *t, const char *who, const char *script,
                         int score) {
    sm_drill *drill = load(show, t->drill);
    drill_play_expect_score(drill, who, script, score);
    sm_drill_destroy(drill);
}

static void every_drill_to_the_exact_marks(void **state) {
    for (size_t i = 0; i < COURSE; i++) {
        expect_score(*state, &course[i], "perfect", drill_script_perfect(course[i].drill, SM_SEAT_SPOTTER),
                     100);
        expect_score(*state, &course[i], "slow", course[i].slow, course[i].slow_score);
        expect_score(*state, &course[i], "lazy", course[i].lazy, course[i].lazy_score);
    }
}

static void the_course_is_complete(void **state) {
    sm_arena *arena = sm_arena_create();
    const char *const *names;
    size_t count;
    assert_int_equal(sm_drill_names(*state, arena, &names, &count), SM_OK);
    assert_int_equal(count, COURSE);
    for (size_t i = 0; i < COURSE; i++) {
        assert_string_equal(names[i], course[i].drill);
        sm_drill *drill = load(*state, names[i]);
        int blind = 0;
        for (uint32_t l = 0; l < drill->lead_count; l++)
            blind += drill->leads[l].blind;
        assert_int_equal(drill_play_marks_to_earn(drill), 100);
        assert_true(blind >= 1); // an error of the lead that only the spotter stops
        assert_int_equal(drill->before_count, 0);
        assert_true(drill->brief_count >= 2 && drill->answer_count == 2);
        sm_drill_destroy(drill);
    }
    sm_arena_destroy(arena);
}

// ---- breaking the rules of the seat -----------------------------------------------------------------

// One wrong thing each into the perfect one, and what is left of 100.
static void each_rule_in_each_drill(void **state) {
    static const struct {
        const char *also;
        sm_drill_rule rule;
        int score;
    } wrongs[] = {
        {"begin 1 key on\n", SM_RULE_KEY, 60},
        {"begin 1 arm\n", SM_RULE_KEY, 60},
        {"begin 0.5 arm\nbegin 1 key on\n", SM_RULE_KEY, 60}, // once a drill
        {"running 1 start\n", SM_RULE_COUNT, 100}, // it does nothing while running, on a real module too
        {"begin 1 measure\nbegin 1 unplug A\nbegin 1 plug A\nbegin 1 repair A-05\nbegin 1 waive rails A\n",
         SM_RULE_COUNT, 100}, // refused: not the spotter's, and nothing of the field
        {"begin 0.4 call-clear S\n", SM_RULE_SILENCE, 0},
    };
    for (size_t i = 0; i < COURSE; i++) {
        sm_drill *drill = load(*state, course[i].drill);
        for (size_t w = 0; w < sizeof wrongs / sizeof wrongs[0]; w++) {
            sm_text script = {0};
            sm_text_printf(&script, "%s%s", wrongs[w].also,
                           drill_script_perfect(course[i].drill, SM_SEAT_SPOTTER));
            sm_drill_run *run = drill_play_plain(drill, sm_text_get(&script));
            for (int rule = 0; rule < SM_RULE_COUNT; rule++) {
                const sm_drill_rule_row *row = sm_drill_rule_of((sm_drill_rule)rule);
                if (drill_play_has_mark(run, row->name) != (rule == (int)wrongs[w].rule))
                    fail_msg("%s, %s: %s", course[i].drill, wrongs[w].also, row->name);
                if (rule == (int)wrongs[w].rule)
                    assert_int_equal(drill_play_got(run, row->name), -row->cost);
            }
            if (sm_drill_score(run) != wrongs[w].score) {
                print_debrief(run);
                fail_msg("%s, %s: %d, not %d", course[i].drill, wrongs[w].also, sm_drill_score(run),
                         wrongs[w].score);
            }
            sm_drill_run_destroy(run);
            sm_text_deinit(&script);
        }
        sm_drill *early = load(*state, course[i].drill);
        sm_drill_run *run = drill_play_plain(early, course[i].early);
        assert_int_equal(drill_play_got(run, "clear-over-silence"), -100);
        assert_int_equal(sm_drill_score(run), 0);
        sm_drill_run_destroy(run);
        sm_drill_destroy(early);
        sm_drill_destroy(drill);
    }
}

// ---- the lead -----------------------------------------------------------------------------------------

#define HEAD "[drill]\ntitle = T\nanswers = K, M\n"
#define ANSWERS                                                                                              \
    "[event k]\nwhen = begin + 1 s\ndo = call K Outside.\nseat = both\n"                                     \
    "[event m]\nwhen = begin + 2 s\ndo = call M Outside.\nseat = spotter\n"
#define SEQUENCE                                                                                             \
    "[lead key]\nafter = action call-clear + 2 s\ndo = key on\nsays = Key on.\n"                             \
    "[lead arms]\nafter = action key on + 2 s\ndo = arm\n"                                                   \
    "[lead starts]\nafter = armed + 2 s\ndo = start\n"

static sm_drill *sit(const sm_show *show, const char *text) {
    sm_drill *drill = drill_play_read(show, text);
    assert_int_equal(sm_drill_sit(drill, SM_SEAT_SPOTTER), SM_OK);
    return drill;
}

typedef struct heard {
    char rows[4000];
} heard;

static void hear(void *context, const sm_log_row *row) {
    heard *h = context;
    size_t used = strlen(h->rows);
    if (row->source != SM_SOURCE_ENGINE || row->kind.what == SM_LOG_STATE)
        snprintf(h->rows + used, sizeof h->rows - used, "%lld %s %s %s %s\n",
                 (long long)(row->wall.us / SM_US_PER_S), sm_source_text(row->source), sm_log_word(row->kind),
                 row->target, row->detail);
}

static void expect_rows(const sm_show *show, const char *text, const char *script, const char *rows) {
    sm_drill *drill = sit(show, text);
    heard h = {""};
    const drill_play_options options = {.sink = hear, .sink_context = &h};
    sm_drill_run_destroy(drill_play(drill, script, &options));
    char *score = strstr(h.rows, "drill mark score");
    assert_non_null(score);
    while (score > h.rows && score[-1] != '\n')
        score--;
    *score = '\0';
    assert_string_equal(h.rows, rows);
    sm_drill_destroy(drill);
}

static void the_lead_works_the_sequence_on_a_clear_and_says_it(void **state) {
    expect_rows(*state, HEAD SEQUENCE ANSWERS, "begin 3 call-clear S\nrunning 1 safe\n",
                "1 drill event k call K Outside.\n2 drill event m call M Outside.\n"
                "3 script call-clear S \n3 drill call Lead Clear heard.\n"
                "5 drill call Lead Key on.\n5 drill key on \n7 drill arm  \n7 engine state arming safe\n"
                "10 engine state armed arming\n12 drill start  \n12 engine state running armed\n"
                "13 script safe  \n13 engine state safe running\n13 drill call Lead Safe. Made safe.\n");
}

static void a_stop_takes_back_what_is_at_hand_and_a_new_clear_begins_again(void **state) {
    expect_rows(*state, HEAD SEQUENCE ANSWERS,
                "begin 3 call-clear S\nbegin 6 pause\n!begin 10 call K Outside.\n!begin 11 call M Outside.\n"
                "begin 20 call-clear S\nrunning 1 pause\nrunning 2 key off\n",
                "1 drill event k call K Outside.\n2 drill event m call M Outside.\n"
                "3 script call-clear S \n3 drill call Lead Clear heard.\n"
                "5 drill call Lead Key on.\n5 drill key on \n"
                "6 script safe  \n6 drill call Lead Safe. Made safe.\n" // a hold where nothing runs
                "10 instructor call K Outside.\n11 instructor call M Outside.\n"
                "20 script call-clear S \n20 drill call Lead Clear heard.\n"
                "24 drill arm  \n24 engine state arming safe\n" // the key is on already
                "27 engine state armed arming\n29 drill start  \n29 engine state running armed\n"
                "30 script pause  \n30 engine state paused running\n30 drill call Lead Hold. Holding.\n"
                "31 script key off \n31 engine state safe paused\n31 drill call Lead Key off. Key is out.\n");
}

static void the_lead_does_nothing_without_a_clear_or_with_people_in_unless_blind(void **state) {
    // The person comes in between key and arm: the lead leaves it there. Who went in must answer again with all the others.
    expect_rows(
        *state,
        HEAD SEQUENCE ANSWERS "[event in]\nwhen = begin + 6 s\ndo = person in-field\nseat = spotter\n"
                              "[lead reads]\nafter = in + 2 s\ndo = measure\n"
                              "[lead errs]\nafter = in + 3 s\ndo = measure\nblind = yes\n",
        "begin 3 call-clear S\n",
        "1 drill event k call K Outside.\n2 drill event m call M Outside.\n"
        "3 script call-clear S \n3 drill call Lead Clear heard.\n"
        "5 drill call Lead Key on.\n5 drill key on \n6 drill event in person in-field\n9 drill measure  \n");
}

// Work at terminals is done in safe with the key off, and left where the key is on.
static void the_lead_works_with_the_key_off(void **state) {
    expect_rows(*state, HEAD "[lead reads]\nafter = begin + 1 s\ndo = measure\n", "", "1 drill measure  \n");
    expect_rows(*state,
                HEAD "[lead in]\nafter = begin + 1 s\ndo = key on\nblind = yes\n"
                     "[lead reads]\nafter = begin + 2 s\ndo = measure\n",
                "", "1 drill key on \n");
}

static void what_the_module_would_refuse_is_tried_by_a_blind_lead(void **state) {
    expect_rows(*state, HEAD "[lead errs]\nafter = begin + 1 s\ndo = arm\nsays = Arming.\nblind = yes\n", "",
                "1 drill call Lead Arming.\n1 drill refused arm key clear\n");
}

static void a_hold_is_said_again_while_paused(void **state) {
    static const char text[] = HEAD SEQUENCE ANSWERS
        "[event on]\nwhen = paused + 5 s\ndo = call Lead Going on.\nseat = spotter\n"
        "[lead errs]\nafter = on + 4 s\ndo = resume\nblind = yes\n"
        "[expect again]\nafter = on\naction = pause\nwithin = 3 s\nmarks = 1\nseat = spotter\n";
    // Paused already does not count while the lead is about to resume: only what is said does.
    sm_drill *drill = sit(*state, text);
    sm_drill_run *run = drill_play_plain(drill, "begin 3 call-clear S\nrunning 10 pause\n");
    assert_int_equal(sm_drill_score(run), 0);
    sm_drill_run_destroy(run);
    run = drill_play_plain(drill, "begin 3 call-clear S\nrunning 10 pause\non 2 pause\n");
    assert_int_equal(sm_drill_score(run), 100);
    assert_int_equal(sm_rehearsal_state(sm_drill_rehearsal(run)), SM_STATE_PAUSED);
    sm_drill_run_destroy(run);
    // Made safe in place of the hold, there is nothing to resume: it had been stopped before it was asked.
    run = drill_play_plain(drill, "begin 3 call-clear S\nrunning 10 pause\nrunning 12 safe\n");
    assert_true(sm_drill_mark_at(run, 0).before_asked);
    assert_int_equal(sm_drill_score(run), 100);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

static void everyone_answers_by_name_before_clear(void **state) {
    static const struct {
        const char *events, *script;
        bool silence;
    } cases[] = {
        {ANSWERS, "begin 3 call-clear S\n", false},
        {ANSWERS, "begin 1.5 call-clear S\n", true},
        {ANSWERS "[event no]\nwhen = begin + 3 s\ndo = no-answer K\nseat = spotter\n",
         "begin 4 call-clear S\n", true},
        {ANSWERS "[event no]\nwhen = begin + 3 s\ndo = no-answer K\nseat = spotter\n"
                 "[event yes]\nwhen = no + 3 s\ndo = call K Here.\nseat = spotter\n",
         "yes 1 call-clear S\n", true}, // "Here." says not where
        {ANSWERS "[event no]\nwhen = begin + 3 s\ndo = no-answer K\nseat = spotter\n"
                 "[event yes]\nwhen = no + 3 s\ndo = call K Here, outside.\nseat = spotter\n",
         "yes 1 call-clear S\n", false},
        {ANSWERS "[event no]\nwhen = begin + 3 s\ndo = no-answer K\nseat = spotter\n",
         "begin 4 ask K\nbegin 9 call-clear S\n", true}, // whoever is silent stays so
        {"", "begin 1 ask K\nbegin 1 ask m\nbegin 4.1 call-clear S\n", false},
        {"", "begin 1 ask K\nbegin 4.1 call-clear S\n", true},
        {"", "begin 1 ask K\nbegin 1 ask M\nbegin 2 call-clear S\n", true}, // they have not answered yet
        // "Clear!" by one is their own answer and nobody else's.
        {"[event k]\nwhen = begin + 1 s\ndo = false-clear K\nseat = spotter\n", "begin 3 call-clear S\n",
         true},
        {"[event k]\nwhen = begin + 1 s\ndo = false-clear K\nseat = spotter\n",
         "!begin 2 call M I am outside\nbegin 3 call-clear S\n", false}, // the instructor speaks as M
        {ANSWERS, "begin 3 enter Z\nbegin 4 leave Z\nbegin 5 call-clear S\n",
         true}, // seen going in: ask again
        {ANSWERS, "begin 3 enter Z\nbegin 4 call-clear S\n", true},
        {ANSWERS "[event in]\nwhen = begin + 3 s\ndo = person in-field\nseat = spotter\n"
                 "[event out]\nwhen = begin + 4 s\ndo = person out\nseat = spotter\n",
         "out 1 call-clear S\n", true},
        {ANSWERS, "begin 3 safe\nbegin 4 call-clear S\n",
         false}, // a stop with no clear to end needs no new answers
        {ANSWERS, "begin 3 call-clear S\nbegin 4 safe\nbegin 5 call-clear S\n", true}, // the clear has lapsed
        {ANSWERS, "begin 3 call-clear S\nbegin 4 safe\nbegin 5 ask K\nbegin 5 ask M\nbegin 9 call-clear S\n",
         false},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[900];
        snprintf(text, sizeof text, "%s%s%s", HEAD, SEQUENCE, cases[i].events);
        sm_drill *drill = sit(*state, text);
        sm_drill_run *run = drill_play_plain(drill, cases[i].script);
        if (drill_play_has_mark(run, "clear-over-silence") != cases[i].silence)
            fail_msg("%zu: %s", i, cases[i].script);
        sm_drill_run_destroy(run);
        sm_drill_destroy(drill);
    }
}

static void what_a_spotter_may_do(void **state) {
    static const char *const may[] = {"key off", "call-clear S", "pause",        "safe",
                                      "mark x",  "enter K",      "report A-05",  "wind 2 m/s",
                                      "ask K",   "sign S",       "note x",       "volume 50",
                                      "mute",    "answer x",     "start-in off", "remote 1 safe"};
    static const char *const may_not[] = {
        "key on",     "arm",        "resume",      "start",     "start-in 9 s", "seek 0:10",    "speed 2",
        "repeat 1 3", "repeat off", "rerig",       "inhibit A", "allow A",      "plug A",       "unplug A",
        "repair A-1", "measure",    "read A-05 1", "pass-time", "remote 1 arm", "waive rails A"};
    sm_drill *drill = sit(*state, HEAD SEQUENCE);
    for (size_t i = 0; i < sizeof may / sizeof may[0] + sizeof may_not / sizeof may_not[0]; i++) {
        bool allowed = i < sizeof may / sizeof may[0];
        const char *line = allowed ? may[i] : may_not[i - sizeof may / sizeof may[0]];
        const sm_drill_options options = {0};
        sm_drill_run *run = NULL;
        sm_action action;
        char why[200];
        size_t at;
        if (sm_action_read(*state, line, strlen(line), &action, why, &at) != SM_OK)
            fail_msg("%s: %s", line, why);
        assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
        sm_result result = sm_drill_act(run, &action, SM_SOURCE_CONSOLE, (sm_wall_time){SM_US_PER_S});
        const char *refusal = sm_rehearsal_refusal(sm_drill_rehearsal(run));
        if (result != (allowed ? SM_OK : SM_REFUSED) ||
            (strstr(refusal, "the lead does that") != NULL) == allowed)
            fail_msg("%s: %s %s", line, sm_result_text(result), refusal);
        sm_drill_run_destroy(run);
    }
    sm_drill_destroy(drill);
}

static void a_held_drill_goes_on_by_the_lead(void **state) {
    sm_drill *drill = sit(*state, HEAD SEQUENCE ANSWERS);
    sm_drill_run *run =
        drill_play_plain(drill, "begin 3 call-clear S\n!running 9 hold-drill\n!running 30 go-drill\n"
                                "running 40 pause\n");
    sm_show_clock at = sm_rehearsal_show_clock(sm_drill_rehearsal(run));
    // 9 s less 5 s of countdown before the hold; 10 s less 5 s after it.
    assert_int_equal(sm_show_clock_show_at(&at, sm_rehearsal_facts(sm_drill_rehearsal(run)).now).us,
                     9 * SM_US_PER_S);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// ---- the file -------------------------------------------------------------------------------------------

static void a_file_without_a_spotter_has_only_the_lead(void **state) {
    sm_drill *drill = drill_play_read(*state, "[drill]\ntitle = T\n[event e]\nwhen = begin\ndo = storm\n");
    assert_true(sm_drill_has_seat(drill, SM_SEAT_LEAD));
    assert_false(sm_drill_has_seat(drill, SM_SEAT_SPOTTER));
    assert_int_equal(sm_drill_sit(drill, SM_SEAT_SPOTTER), SM_NOT_FOUND);
    assert_int_equal(drill->seat, SM_SEAT_LEAD);
    assert_int_equal(drill->event_count, 1);
    sm_drill_destroy(drill);
}

static void one_can_sit_down_again(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD SEQUENCE ANSWERS);
    assert_int_equal(drill->event_count, 1);
    assert_int_equal(drill->lead_count, 0);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(sm_drill_sit(drill, SM_SEAT_SPOTTER), SM_OK);
        assert_int_equal(drill->event_count, 2);
        assert_int_equal(drill->lead_count, 3);
        assert_int_equal(sm_drill_sit(drill, SM_SEAT_LEAD), SM_OK);
        assert_int_equal(drill->event_count, 1);
    }
    sm_drill_destroy(drill);
}

static void what_is_wrong_with_seats_is_said(void **state) {
    char *said = drill_play_findings(*state, "[drill]\ntitle = T\nanswers = K,, M\n"
                                             "[event a]\nwhen = begin\ndo = storm\nseat = driver\n"
                                             "[lead b]\ndo = key\nblind = perhaps\n"
                                             "[lead c]\nafter = begin\ndo = plug\nmarks = 3\n");
    assert_string_equal(said,
                        "3:13 a name is missing between two commas [value]\n"
                        "7:8 \"driver\" is not one of these words: lead spotter both [value]\n"
                        "8:0 [lead b] after is needed: begin, @MOMENT, action NAME, a state, an event or an "
                        "expectation; then + 5 s or + 5 s..20 s; each time it comes [value-missing]\n"
                        "9:6 write key on or key off [drill-action]\n"
                        "10:9 \"perhaps\" is not one of these words: no yes [value]\n"
                        "13:10 'plug' needs more: write plug RAIL [drill-action]\n"
                        "14:1 [lead c] has no key \"marks\" [key-unknown]\n");
    free(said);
    said = drill_play_findings(*state,
                               "[drill]\ntitle = T\n[event a]\nwhen = begin\ndo = storm\n"
                               "[expect b]\nafter = a\naction = safe\nwithin = 3 s\nmarks = 1\nseat = both\n"
                               "[lead c]\nafter = a\ndo = key on\n"
                               "[spoken d]\nafter = b\nwords = w\nmarks = 1\nseat = spotter\n");
    assert_string_equal(said, "6:2 b waits for a, which is only in the lead's seat; give both the same seat "
                              "[drill-seat]\n"
                              "12:2 c waits for a, which is only in the lead's seat; give both the same seat "
                              "[drill-seat]\n");
    free(said);
}

// ---- a newcomer -----------------------------------------------------------------------------------------

static void a_newcomer_who_follows_the_line_reaches_100(void **state) {
    static const char *const names[] = {"01-first-arming", "02-one-bad-igniter"}; // hints: full
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        sm_drill *drill = load(*state, names[i]);
        assert_int_equal(drill->hints, SM_HINTS_FULL);
        const sm_drill_options options = {.seed = (uint64_t)drill->seed};
        sm_drill_run *run = NULL;
        assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
        sm_us at = 0;
        for (int step = 0; step < 200; step++, at += 2 * SM_US_PER_S) { // looks up every two seconds
            char hint[240], line[128], why[200];
            size_t fault;
            sm_action action;
            assert_int_equal(sm_drill_run_to(run, (sm_wall_time){at}), SM_OK);
            sm_act act = sm_drill_hint(run, hint);
            if (act == SM_ACT_COUNT || act == SM_ACT_QUIT)
                continue;
            drill_play_follow_hint(act, hint, line);
            assert_int_equal(sm_action_read(*state, line, strlen(line), &action, why, &fault), SM_OK);
            assert_int_equal(sm_drill_act(run, &action, SM_SOURCE_CONSOLE, (sm_wall_time){at}), SM_OK);
        }
        assert_int_equal(sm_drill_finish(run, (sm_wall_time){at}), SM_OK);
        if (sm_drill_score(run) != 100)
            print_debrief(run);
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
        cmocka_unit_test(the_lead_works_the_sequence_on_a_clear_and_says_it),
        cmocka_unit_test(a_stop_takes_back_what_is_at_hand_and_a_new_clear_begins_again),
        cmocka_unit_test(the_lead_does_nothing_without_a_clear_or_with_people_in_unless_blind),
        cmocka_unit_test(the_lead_works_with_the_key_off),
        cmocka_unit_test(what_the_module_would_refuse_is_tried_by_a_blind_lead),
        cmocka_unit_test(a_hold_is_said_again_while_paused),
        cmocka_unit_test(everyone_answers_by_name_before_clear),
        cmocka_unit_test(what_a_spotter_may_do),
        cmocka_unit_test(a_held_drill_goes_on_by_the_lead),
        cmocka_unit_test(a_file_without_a_spotter_has_only_the_lead),
        cmocka_unit_test(one_can_sit_down_again),
        cmocka_unit_test(what_is_wrong_with_seats_is_said),
        cmocka_unit_test(a_newcomer_who_follows_the_line_reaches_100),
    };
    return cmocka_run_group_tests_name("the spotter's seat", tests, drill_play_load_demo,
                                       drill_play_drop_demo);
}
