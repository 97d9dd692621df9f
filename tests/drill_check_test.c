// SPDX-License-Identifier: GPL-3.0-or-later
// Whether a drill can be earned: a run with 100 is found in every drill and seat of the course and earns 100 when it is played again; what
// cannot be earned is told with what stands in its way. And the manual page of the format, made from the schema.
#include "support/drill_play.h"
#include "support/manual_page.h"

#include "slowmatch/files.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// The lines of a script of the operator, played on a run of their own.
static int score_of(const sm_drill *drill, const char *script) {
    const sm_drill_options options = {.seed = (uint64_t)drill->seed};
    sm_drill_run *run = NULL;
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    sm_us now = 0;
    for (const char *at = script; *at != '\0'; at += strcspn(at, "\n") + 1) {
        double seconds;
        int used;
        char line[200], why[200];
        size_t fault;
        sm_action action;
        assert_int_equal(sscanf(at, "%lf %n", &seconds, &used), 1);
        snprintf(line, sizeof line, "%.*s", (int)strcspn(at + used, "\n"), at + used);
        assert_int_equal(sm_action_read(drill->show, line, strlen(line), &action, why, &fault), SM_OK);
        now = (sm_us)(seconds * 1e6 + 0.5);
        sm_result result = sm_drill_act(run, &action, SM_SOURCE_SCRIPT, (sm_wall_time){now});
        assert_true(result == SM_OK || result == SM_REFUSED);
    }
    now += 120 * SM_US_PER_S; // what was done early is asked for later
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){now}), SM_OK);
    assert_int_equal(sm_drill_finish(run, (sm_wall_time){now}), SM_OK);
    int score = sm_drill_passed(run) ? sm_drill_score(run) : 0;
    sm_drill_run_destroy(run);
    return score;
}

static void every_drill_of_the_course_can_be_earned(void **state) {
    sm_arena *arena = sm_arena_create();
    const char *const *names;
    size_t count;
    assert_int_equal(sm_drill_names(*state, arena, &names, &count), SM_OK);
    for (size_t i = 0; i < count; i++)
        for (int seat = 0; seat < SM_SEAT_COUNT; seat++) {
            sm_drill *drill = drill_play_load(*state, names[i]);
            sm_findings *findings = sm_findings_create();
            sm_text script = {0};
            int best = 0;
            assert_int_equal(sm_drill_sit(drill, (sm_drill_seat)seat), SM_OK);
            assert_int_equal(sm_drill_check(drill, names[i], findings, &best, &script), SM_OK);
            if (best != 100)
                fail_msg("%s as %s: %d", names[i], sm_drill_seat_text((sm_drill_seat)seat), best);
            assert_int_equal(sm_findings_count(findings), 0);
            int again = score_of(drill, sm_text_get(&script));
            if (again < 100)
                fail_msg("%s as %s: %d when played again\n%s", names[i],
                         sm_drill_seat_text((sm_drill_seat)seat), again, sm_text_get(&script));
            sm_text_deinit(&script);
            sm_findings_destroy(findings);
            sm_drill_destroy(drill);
        }
    sm_arena_destroy(arena);
}

static void what_cannot_be_earned_is_told(void **state) {
    static const struct {
        sm_drill_seat seat;
        const char *text, *told;
    } cases[] = {
        {SM_SEAT_SPOTTER,
         "[drill]\ntitle = T\n[lead l]\nafter = begin\nsays = x\n"
         "[expect k]\nafter = begin\naction = key on\nwithin = 9 s\nmarks = 1\nseat = spotter\n",
         "k as spotter: the seat forbids it"},
        {SM_SEAT_LEAD,
         "[drill]\ntitle = T\n[expect r]\nafter = begin\naction = note\nwithin = 9 s\nmarks = 1\n"
         "[never n]\naction = note\nmarks = 5\n",
         "r as lead: [never n] takes marks for it"},
        {SM_SEAT_LEAD,
         "[drill]\ntitle = T\n[expect t]\nafter = begin\naction = trigger\nwithin = 9 s\nmarks = 1\n",
         "t as lead: trigger is the instructor's"},
        {SM_SEAT_LEAD, "[drill]\ntitle = T\n[before b]\naction = arm\nneeds = arm\nmarks = 1\n",
         "b as lead: it needs itself"},
        {SM_SEAT_LEAD,
         "[drill]\ntitle = T\n[event e]\nwhen = action reload\ndo = storm\n[expect x]\nafter = e\naction = "
         "safe\n"
         "within = 9 s\nmarks = 1\n",
         "x as lead: what it comes after never came"},
        {SM_SEAT_LEAD,
         "[drill]\ntitle = T\n[event e]\nwhen = running + 1 s\ndo = storm\n[expect x]\nafter = e\naction = "
         "unplug A\n"
         "within = 1 ms\nmarks = 1\nlate = none\n",
         "x as lead: it came, and no run"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        sm_drill *drill = drill_play_read(*state, cases[i].text);
        sm_findings *findings = sm_findings_create();
        sm_text script = {0}, said = {0};
        int best = 0;
        assert_int_equal(sm_drill_sit(drill, cases[i].seat), SM_OK);
        assert_int_equal(sm_drill_check(drill, "x.ini", findings, &best, &script), SM_OK);
        for (size_t f = 0; f < sm_findings_count(findings); f++)
            sm_text_printf(&said, "%s\n", sm_findings_at(findings, f)->message);
        if (best >= 100 || !strstr(sm_text_get(&said), cases[i].told))
            fail_msg("%d, \"%s\" and not \"%s\"", best, sm_text_get(&said), cases[i].told);
        sm_text_deinit(&said);
        sm_text_deinit(&script);
        sm_findings_destroy(findings);
        sm_drill_destroy(drill);
    }
}

static void an_unknown_verb_is_answered_with_the_nearest_and_all(void **state) {
    char *said = drill_play_findings(*state, "[drill]\ntitle = T\n[event e]\nwhen = begin\ndo = strom\n"
                                             "[never n]\naction = unplugg A\nmarks = 1\n");
    assert_non_null(strstr(said, "called 'strom'; did you mean storm?; there are open, short, "));
    assert_non_null(strstr(said, " and music-off [drill-do]"));
    assert_non_null(strstr(said, "no action 'unplugg'; did you mean unplug?; there are key on, "));
    free(said);
}

// ---- the manual ----------------------------------------------------------------------------------

static void the_manual_page_is_fresh_and_its_example_a_drill(void **state) {
    static const char path[] = "man/slowmatch-drill.5";
    manual_page_expect_fresh(path, sm_drill_manual);
    char *there = NULL;
    size_t length;
    assert_int_equal(sm_file_read(path, &there, &length), SM_OK);
    const char *example = strstr(there, ".nf\n") + 4;
    char *text = strndup(example, (size_t)(strstr(example, ".fi\n") - example));
    sm_drill *drill = drill_play_read(*state, text);
    sm_findings *findings = sm_findings_create();
    sm_text script = {0};
    int best = 0;
    assert_int_equal(sm_drill_check(drill, path, findings, &best, &script), SM_OK);
    assert_int_equal(best, 100);
    sm_text_deinit(&script);
    sm_findings_destroy(findings);
    sm_drill_destroy(drill);
    free(text);
    free(there);
}

static void the_manual_page_names_everything(void **state) {
    (void)state;
    sm_text made = {0};
    sm_drill_manual(&made);
    size_t count;
    const sm_column *columns = sm_drill_schema(&count);
    for (size_t i = 0; i < count; i++) {
        sm_text name = {0};
        sm_manual_append(&name, columns[i].name);
        assert_non_null(strstr(sm_text_get(&made), sm_text_get(&name)));
        sm_text_deinit(&name);
    }
    sm_text_deinit(&made);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_drill_of_the_course_can_be_earned),
        cmocka_unit_test(what_cannot_be_earned_is_told),
        cmocka_unit_test(an_unknown_verb_is_answered_with_the_nearest_and_all),
        cmocka_unit_test(the_manual_page_is_fresh_and_its_example_a_drill),
        cmocka_unit_test(the_manual_page_names_everything),
    };
    return cmocka_run_group_tests_name("checking drills", tests, drill_play_load_demo, drill_play_drop_demo);
}
