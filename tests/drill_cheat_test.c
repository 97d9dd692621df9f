// SPDX-License-Identifier: GPL-3.0-or-later
// Cheats: every key each second, every stop, answer and note each second, and a search over sequences of actions. No run in which somebody
// could have been hurt passes: that is judged from the rows of the log alone (drill_judge).
#include "support/drill_judge.h"
#include "support/drill_play.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// ---- one run ------------------------------------------------------------------------------------

typedef struct taker {
    const sm_drill *drill;
    sm_drill_run *run;
    drill_judge judge;
    sm_us now;
} taker;

static void begin(taker *t, const sm_drill *drill, uint64_t seed) {
    *t = (taker){.drill = drill, .judge.spotter = drill->seat == SM_SEAT_SPOTTER};
    const sm_drill_options options = {
        .seed = seed, .no_alerts = true, .sink = drill_judge_watch, .sink_context = &t->judge};
    assert_int_equal(sm_drill_run_create(drill, &options, &t->run), SM_OK);
}

static void do_line(taker *t, const char *line) {
    sm_action action;
    char why[200];
    size_t at;
    if (sm_action_read(t->drill->show, line, strlen(line), &action, why, &at) != SM_OK)
        fail_msg("%s: %s", line, why);
    sm_result result = sm_drill_act(t->run, &action, SM_SOURCE_SCRIPT, (sm_wall_time){t->now});
    assert_true(result == SM_OK || result == SM_REFUSED);
}

static bool end(taker *t) {
    assert_int_equal(sm_drill_finish(t->run, (sm_wall_time){t->now}), SM_OK);
    bool passed = sm_drill_passed(t->run);
    if (passed && t->judge.broken)
        fail_msg("%s as %s passed with %s", t->drill->name, sm_drill_seat_text(t->drill->seat),
                 t->judge.broken);
    sm_drill_run_destroy(t->run);
    return passed;
}

typedef struct field {
    sm_show *show;
    sm_drill *drills[64];
    size_t count;
} field;

// ---- every key each second ------------------------------------------------------------------------

static const char *const stops[] = {"pause", "safe", "key off"};
// All the words of the course in one answer, and what else may be said or written down.
static const char *const said[] = {
    "answer no, nobody, K stay out, I watch, L is out, not clear, clear again, see you, wait",
    "note 2 link lost fire cover called burns thunder all out B-04 itself C-02 open L in M watches",
    "report A-02",
    "report A-07",
    "report B-02",
    "wind 6 m/s",
    "wind 14 m/s",
    "inhibit aerial",
    "leave K",
    "leave L"};
static const char *const keys[] = {"call-clear J", "key on",   "arm",         "start",    "resume",
                                   "measure",      "enter K",  "leave K",     "unplug A", "repair A-05",
                                   "plug A",       "unplug B", "repair B-03", "plug B",   "allow aerial",
                                   "rerig",        "hint",     "pass-time"};

static void spam(taker *t, const char *const *lines, size_t count) {
    for (size_t i = 0; i < count; i++)
        do_line(t, lines[i]);
}
#define COUNT(lines) (sizeof(lines) / sizeof(lines)[0])

static void every_key_each_second_passes_no_drill(void **state) {
    const field *f = *state;
    for (size_t i = 0; i < f->count; i++) {
        taker t;
        begin(&t, f->drills[i], 1);
        for (int second = 1; second <= 240; second++) {
            t.now = second * SM_US_PER_S;
            spam(&t, keys, COUNT(keys));
            spam(&t, said, COUNT(said));
            spam(&t, stops, COUNT(stops));
        }
        assert_int_equal(sm_drill_score(t.run), 0); // clear over silence costs all of it
        assert_false(end(&t));
    }
}

// Nothing that a rule is against, and all that could be asked for.
static void every_stop_answer_and_note_each_second_passes_no_drill(void **state) {
    const field *f = *state;
    for (size_t i = 0; i < f->count; i++)
        for (int stopping = 0; stopping <= 3; stopping++) {
            taker t;
            begin(&t, f->drills[i], 1);
            for (int second = 1; second <= 240; second++) {
                t.now = second * SM_US_PER_S;
                spam(&t, said, COUNT(said));
                spam(&t, stops, (size_t)stopping);
            }
            if (sm_drill_score(t.run) >= f->drills[i]->pass)
                fail_msg("%s as %s: %d by saying everything and %d stops a second", f->drills[i]->name,
                         sm_drill_seat_text(f->drills[i]->seat), sm_drill_score(t.run), stopping);
            assert_false(end(&t));
        }
}

// ---- a search -------------------------------------------------------------------------------------

// Mostly what a hint or the usual way says, so that runs pass; now and then anything.
static void one_at_random(taker *t, uint64_t *random) {
    uint64_t drawn = sm_drill_random(random);
    char hint[240], line[128];
    sm_act act = sm_drill_hint(t->run, hint);
    if (drawn % 16 == 0) {
        size_t all = COUNT(keys) + COUNT(said) + COUNT(stops), chosen = (size_t)(drawn >> 8) % all;
        do_line(t, chosen < COUNT(keys)                 ? keys[chosen]
                   : chosen < COUNT(keys) + COUNT(said) ? said[chosen - COUNT(keys)]
                                                        : stops[chosen - COUNT(keys) - COUNT(said)]);
        return;
    }
    if (act == SM_ACT_COUNT || act == SM_ACT_QUIT || (drawn >> 32) % 8 == 0)
        return;
    drill_play_follow_hint(act, hint, line);
    bool bare = strcmp(line, sm_action_row_of(act)->name) == 0;
    if (act == SM_ACT_ANSWER || act == SM_ACT_NOTE)
        strcpy(line, said[act == SM_ACT_NOTE]);
    else if (bare && (act == SM_ACT_REPORT || act == SM_ACT_WIND || act == SM_ACT_INHIBIT))
        strcpy(line, act == SM_ACT_WIND      ? "wind 6 m/s"
                     : act == SM_ACT_INHIBIT ? "inhibit aerial"
                                             : said[2 + drawn % 3]);
    else if (bare && (act == SM_ACT_UNPLUG || act == SM_ACT_PLUG || act == SM_ACT_REPAIR))
        snprintf(line, sizeof line, "%s",
                 act == SM_ACT_UNPLUG ? "unplug A"
                 : act == SM_ACT_PLUG ? "plug C"
                                      : "repair A-05");
    do_line(t, line);
}

// Over once the drill is, or once it has found a rule broken: from then on it cannot be passed any more (drill_fair_test).
static bool search_once(const sm_drill *drill, uint64_t seed, bool *broke) {
    taker t;
    uint64_t random = seed;
    begin(&t, drill, sm_drill_random(&random));
    for (int step = 0; step < 110 && !sm_drill_is_over(t.run) && sm_drill_rules_broken(t.run) == 0; step++) {
        t.now += (sm_us)(SM_US_PER_S + (sm_us)(sm_drill_random(&random) % 3000000));
        one_at_random(&t, &random);
    }
    *broke = t.judge.broken != NULL;
    return end(&t);
}

static void no_sequence_breaks_a_rule_and_passes(void **state) {
    const field *f = *state;
    const uint64_t rounds = getenv("SLOWMATCH_SOAK") ? 1000000 : 60;
    uint64_t passed = 0, broken = 0;
    for (size_t i = 0; i < f->count; i++)
        for (uint64_t seed = 0; seed < rounds / SM_SEAT_COUNT; seed++) {
            bool broke = false;
            passed += search_once(f->drills[i], seed * 1000 + i, &broke);
            broken += broke;
        }
    print_message("%llu sequences: %llu passed, %llu broke a rule\n",
                  (unsigned long long)f->count * (rounds / SM_SEAT_COUNT), (unsigned long long)passed,
                  (unsigned long long)broken);
    assert_true(passed > 0 && broken > 0); // else it searches nowhere
}

// ---- the course -------------------------------------------------------------------------------------

static int set_up(void **state) {
    static field f;
    sm_arena *arena = sm_arena_create();
    const char *const *names;
    f.show = drill_play_show("demo-shows/lantern-quay");
    assert_int_equal(sm_drill_names(f.show, arena, &names, &f.count), SM_OK);
    f.count *= SM_SEAT_COUNT;
    assert_in_range(f.count, 2, COUNT(f.drills));
    for (size_t i = 0; i < f.count; i++) {
        f.drills[i] = drill_play_load(f.show, names[i / SM_SEAT_COUNT]);
        assert_int_equal(sm_drill_sit(f.drills[i], (sm_drill_seat)(i % SM_SEAT_COUNT)), SM_OK);
    }
    sm_arena_destroy(arena);
    *state = &f;
    return 0;
}

static int tear_down(void **state) {
    field *f = *state;
    for (size_t i = 0; i < f->count; i++)
        sm_drill_destroy(f->drills[i]);
    sm_show_destroy(f->show);
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_key_each_second_passes_no_drill),
        cmocka_unit_test(every_stop_answer_and_note_each_second_passes_no_drill),
        cmocka_unit_test(no_sequence_breaks_a_rule_and_passes),
    };
    return cmocka_run_group_tests_name("cheats", tests, set_up, tear_down);
}
