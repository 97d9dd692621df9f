// SPDX-License-Identifier: GPL-3.0-or-later
// What `make mutants` showed that no other test of the drills held; worked out by hand from slowmatch-drill(5) and drill.h.
#include "support/drill_play.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define HEAD "[drill]\ntitle = Test\n"
#define GUST "[event gust]\nwhen = begin + 1 s\ndo = wind 14 m/s\n"
#define TASK(name, act) "[expect " name "]\nafter = gust\naction = " act "\nwithin = 50 s\nmarks = 10\n"

typedef struct played {
    sm_drill *drill;
    sm_drill_run *run;
    sm_text debrief;
} played;

static played play(const sm_show *show, const char *text, const char *script) {
    played p = {.drill = drill_play_read(show, text)};
    p.run = drill_play_plain(p.drill, script);
    drill_play_debrief(p.run, &p.debrief);
    return p;
}

static void drop(played *p) {
    sm_drill_run_destroy(p->run);
    sm_drill_destroy(p->drill);
    sm_text_deinit(&p->debrief);
}

static bool says(const played *p, const char *part) {
    return strstr(sm_text_get(&p->debrief), part) != NULL;
}

// Whoever ends a drill with something undone has left it, and with nothing undone has not.
static void what_was_left_undone_makes_it_left(void **state) {
    static const struct {
        const char *text, *script;
        bool left;
    } cases[] = {
        {HEAD GUST TASK("one", "measure") TASK("two", "key on"), "gust 1 measure\ngust 2 key on\n", false},
        {HEAD GUST TASK("one", "measure") TASK("two", "key on"), "gust 1 measure\n", true},
        {HEAD GUST TASK("one", "measure") TASK("two", "key on"), "gust 2 key on\n", true}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        played p = play(*state, cases[i].text, cases[i].script);
        assert_int_equal(sm_drill_was_left(p.run), cases[i].left);
        drop(&p);
    }
}

static void count_calls(void *context, const sm_log_row *row) {
    *(unsigned *)context += sm_log_is_act(row->kind, SM_ACT_CALL);
}

// The lead who is played reads back what the spotter calls. Whoever sits in the lead's seat is read nothing.
static void nobody_reads_back_to_the_lead(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD "answers = K\n");
    unsigned calls = 0;
    const drill_play_options options = {.seed = 1, .sink = count_calls, .sink_context = &calls};
    sm_drill_run *run = drill_play(drill, "begin 1 call-clear J\nbegin 2 safe\nbegin 3 key off\n", &options);
    assert_int_equal(calls, 0);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// Words that are left empty are none: any action may go without.
static void empty_words_are_no_words(void **state) {
    played p = play(
        *state, HEAD GUST "[expect one]\nafter = gust\naction = key on\nwords =\nwithin = 50 s\nmarks = 10\n",
        "gust 1 key on\n");
    assert_int_equal(sm_drill_score(p.run), 100);
    drop(&p);
}

// What is asked of the trainee is named, also while somebody on the list has not answered.
static void a_task_is_not_put_off_for_answers(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD "answers = K\n" GUST TASK("one", "note"));
    const sm_drill_options options = {.seed = 1};
    sm_drill_run *run = NULL;
    char hint[240];
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){2 * SM_US_PER_S}), SM_OK);
    assert_int_equal(sm_drill_hint(run, hint), SM_ACT_NOTE);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// A mark that gives no reason has no row for one; nor has what the instructor judged a question of its own.
static void nothing_is_said_where_there_is_nothing_to_say(void **state) {
    played p =
        play(*state,
             HEAD GUST TASK("one", "note") "[spoken said]\nafter = gust\nwords = Wind!\nmarks = 10\n"
                                           "[spoken other]\nafter = gust\nwords = Stay out!\nmarks = 10\n",
             "!gust 3 tick said yes\ngust 30 safe\n");
    assert_false(says(&p, "\n      \n"));
    const char *aloud = strstr(sm_text_get(&p.debrief), "Did you say it aloud");
    assert_non_null(aloud);
    assert_non_null(strstr(aloud, "\"Stay out!\""));
    assert_null(strstr(aloud, "\"Wind!\""));
    drop(&p);
}

// "enter" without a name is met by whoever goes in, and by who is out again.
static void a_need_without_a_name_is_of_anybody(void **state) {
    played p = play(*state, HEAD "[before b]\naction = note\nneeds = enter\nmarks = 10\n",
                    "begin 1 enter K\nbegin 2 leave K\nbegin 3 note x\n");
    assert_int_equal(drill_play_got(p.run, "b"), 10);
    drop(&p);
}

// From 60 columns on what happened stands beside what was done.
static void two_columns_begin_at_sixty(void **state) {
    played p = play(*state, HEAD GUST, "gust 2 key on\n");
    sm_debrief *debrief;
    assert_int_equal(sm_debrief_create(p.run, &debrief), SM_OK);
    for (size_t columns = 59; columns <= 60; columns++) {
        sm_text_clear(&p.debrief);
        sm_debrief_text(debrief, columns, &p.debrief);
        assert_int_equal(says(&p, "what happened"), columns == 60);
    }
    sm_debrief_destroy(debrief);
    drop(&p);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_was_left_undone_makes_it_left),
        cmocka_unit_test(nobody_reads_back_to_the_lead),
        cmocka_unit_test(empty_words_are_no_words),
        cmocka_unit_test(a_task_is_not_put_off_for_answers),
        cmocka_unit_test(nothing_is_said_where_there_is_nothing_to_say),
        cmocka_unit_test(a_need_without_a_name_is_of_anybody),
        cmocka_unit_test(two_columns_begin_at_sixty),
    };
    return cmocka_run_group_tests_name("edges of the drills", tests, drill_play_load_demo,
                                       drill_play_drop_demo);
}
