// SPDX-License-Identifier: GPL-3.0-or-later
// What `make mutants` showed that no other test of the drills held; worked out by hand from slowmatch-drill(5) and drill.h.
#include "support/drill_play.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
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

// A slip that the file counts is a slip: only a broken rule, or what costs everything, could have killed somebody.
static void a_slip_could_have_killed_nobody(void **state) {
    played p = play(*state, HEAD "[never n]\naction = note\nmarks = 20\n", "begin 1 note x\n");
    assert_int_equal(drill_play_got(p.run, "n"), -20);
    assert_false(says(&p, "could have killed somebody"));
    drop(&p);
    p = play(*state, HEAD "[never n]\naction = note\nmarks = 100\n", "begin 1 note x\n");
    assert_true(says(&p, "could have killed somebody"));
    drop(&p);
}

// A span is said in minutes where it is whole minutes, and to the tenth of a second else.
static void spans_are_said_as_they_are(void **state) {
    played p = play(*state,
                    HEAD GUST "[expect one]\nafter = gust\naction = key off\nwithin = 90 s\nmarks = 10\n"
                              "[expect two]\nafter = gust\naction = safe\nwithin = 2 min\nmarks = 10\n",
                    "gust 2 key on\ngust 3 key off\n");
    sm_debrief *debrief;
    assert_int_equal(sm_debrief_create(p.run, &debrief), SM_OK);
    sm_text_clear(&p.debrief);
    sm_debrief_text(debrief, 200, &p.debrief);
    assert_true(says(&p, "asked: key off within 90.0 s"));
    assert_true(says(&p, "asked: safe within 2 min"));
    sm_debrief_destroy(debrief);
    drop(&p);
}

// The instructor brings about the event that they name.
static void an_event_is_triggered_by_its_name(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD "[event one]\nwhen = begin + 500 s\ndo = storm\n"
                                                   "[event two]\nwhen = begin + 600 s\ndo = wind 14 m/s\n");
    const sm_drill_options options = {.seed = 1};
    sm_drill_run *run = NULL;
    sm_wall_time at;
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    assert_int_equal(drill_play_act(run, 1, "trigger two", SM_SOURCE_INSTRUCTOR), SM_OK);
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){2 * SM_US_PER_S}), SM_OK);
    assert_false(sm_drill_event_came(run, 0, &at));
    assert_true(sm_drill_event_came(run, 1, &at));
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// What was earned in part is nothing done well, and who took it alone is told as no crew.
static void only_what_was_earned_whole_is_done_well(void **state) {
    static const char late[] =
        HEAD GUST "[expect one]\nafter = gust\naction = key off\nwithin = 5 s\nmarks = 10\n";
    played p = play(*state, late, "begin 0.5 key on\ngust 8 key off\n");
    assert_in_range(drill_play_got(p.run, "one"), 1, 9);
    assert_false(says(&p, "Done well"));
    assert_true(says(&p, " as lead, seed "));
    drop(&p);
    p = play(*state, late, "begin 0.5 key on\ngust 2 key off\n");
    assert_true(says(&p, "Done well:   key off."));
    drop(&p);
}

// A real emergency ends a drill: what was done before it is told, and nothing comes after it.
static void what_came_before_an_emergency_is_told(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD GUST);
    const sm_drill_options options = {.seed = 1};
    sm_drill_run *run = NULL;
    sm_text text = {0};
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    assert_int_equal(drill_play_act(run, 0.5, "key on", SM_SOURCE_SCRIPT), SM_OK);
    assert_int_equal(sm_drill_no_drill(run, (sm_wall_time){SM_US_PER_S / 2}), SM_OK);
    assert_int_equal(drill_play_act(run, 0.6, "trigger gust", SM_SOURCE_INSTRUCTOR), SM_REFUSED);
    sm_debrief *debrief;
    assert_int_equal(sm_debrief_create(run, &debrief), SM_OK);
    sm_debrief_text(debrief, 80, &text);
    assert_non_null(strstr(sm_text_get(&text), "key on"));
    sm_debrief_destroy(debrief);
    sm_text_deinit(&text);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// How it was left: the key that is on, and a clear that stands over silence, not one that nobody called.
static void what_was_left_standing_is_told(void **state) {
    played p = play(*state, HEAD "answers = K\n" GUST, "begin 0.5 key on\n");
    assert_true(says(&p, "  the key is on\n"));
    assert_false(says(&p, "clear stands"));
    drop(&p);
    p = play(*state, HEAD "answers = K\n" GUST, "begin 0.5 call-clear J\n");
    assert_true(says(&p, "  clear stands, and not everyone is heard\n"));
    drop(&p);
}

// While the drill is held only a stop is at once; what else is done then has its time.
static void what_is_no_stop_has_its_time_in_a_hold(void **state) {
    played p = play(*state, HEAD GUST TASK("one", "key on"),
                    "!gust 1 hold-drill\ngust 2 key on\n!gust 5 go-drill\n");
    const sm_drill_mark mark = sm_drill_mark_at(p.run, 0);
    assert_int_equal(mark.got, 10);
    assert_false(mark.in_hold);
    assert_int_equal(mark.took_us, SM_US_PER_S); // the time of the hold does not count
    drop(&p);
}

// A need to hold is met where the module was made safe since: stopped is stopped.
static void made_safe_is_held(void **state) {
    played p = play(*state, HEAD "[before b]\naction = note\nneeds = pause\nmarks = 10\n",
                    "begin 1 safe\nbegin 2 note x\n");
    assert_int_equal(drill_play_got(p.run, "b"), 10);
    drop(&p);
}

static void no_delay_is_longer_than_an_hour(void **state) {
    char *const said = drill_play_findings(*state, HEAD "[event a]\nwhen = begin + 61 min\ndo = storm\n"
                                                        "[event b]\nwhen = begin + 60 min\ndo = storm\n");
    assert_string_equal(said,
                        "4:16 \"61 min\" is no time up to an hour; write 5 s or 5 s..20 s [drill-when]\n");
    free(said);
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
        cmocka_unit_test(a_slip_could_have_killed_nobody),
        cmocka_unit_test(spans_are_said_as_they_are),
        cmocka_unit_test(an_event_is_triggered_by_its_name),
        cmocka_unit_test(only_what_was_earned_whole_is_done_well),
        cmocka_unit_test(what_came_before_an_emergency_is_told),
        cmocka_unit_test(what_was_left_standing_is_told),
        cmocka_unit_test(what_is_no_stop_has_its_time_in_a_hold),
        cmocka_unit_test(made_safe_is_held),
        cmocka_unit_test(no_delay_is_longer_than_an_hour),
        cmocka_unit_test(two_columns_begin_at_sixty),
    };
    return cmocka_run_group_tests_name("edges of the drills", tests, drill_play_load_demo,
                                       drill_play_drop_demo);
}
