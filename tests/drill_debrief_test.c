// SPDX-License-Identifier: GPL-3.0-or-later
// The debrief of a drill: its steps, its text at every width, the answers that come before it.
#include "support/drill_play.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define RUN "begin 1 call-clear J\nbegin 2 key on\nbegin 3 arm\narmed 1 start\n"
#define HOLD                                                                                                 \
    "[drill]\ntitle = Test\n[event gust]\nwhen = running + 10 s\ndo = wind 14 m/s\n"                         \
    "[expect hold]\nafter = gust\naction = pause\nwithin = 5 s\nmarks = 30\n"

static const sm_drill_step *step_of(const sm_debrief *debrief, sm_step_kind kind, const char *name) {
    for (uint32_t i = 0; i < debrief->step_count; i++)
        if (debrief->steps[i].kind == kind && strcmp(debrief->steps[i].name, name) == 0)
            return &debrief->steps[i];
    fail_msg("no step %s %s", sm_step_kind_text(kind), name);
    return NULL;
}

// Wanted within 5 s, done after 6: what was asked, what was done, how late, and how the module stood.
static void steps_set_what_happened_beside_what_was_done(void **state) {
    sm_drill *drill = drill_play_read(*state, HOLD);
    sm_drill_run *run = drill_play_plain(drill, RUN "gust 6 pause\n");
    sm_debrief *debrief;
    assert_int_equal(sm_debrief_create(run, &debrief), SM_OK);
    const sm_drill_step *event = step_of(debrief, SM_STEP_EVENT, "gust"),
                        *asked = step_of(debrief, SM_STEP_ASKED, "hold"),
                        *done = step_of(debrief, SM_STEP_ACTION, "pause"),
                        *mark = step_of(debrief, SM_STEP_MARK, "hold");
    assert_true(event < asked && asked < done && done < mark);
    assert_int_equal(asked->at_us, event->at_us);
    assert_int_equal(done->at_us - asked->at_us, 6000000);
    assert_int_equal(mark->took_us, 6000000);
    assert_int_equal(event->state, SM_STATE_RUNNING);
    assert_int_equal(mark->state, SM_STATE_PAUSED);
    assert_true(event->key && mark->key);
    assert_false(sm_step_is_own(asked->kind));
    assert_true(sm_step_is_own(done->kind));
    char late[40];
    snprintf(late, sizeof late, "after 6.0 s, %.1f s LATE", (double)(6000000 - mark->within_us) / 1e6);
    assert_non_null(strstr(mark->text, late));
    sm_debrief_destroy(debrief);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// What happened on the left, what was done on the right, no row too long, nothing cut.
static void the_debrief_fits_every_width(void **state) {
    sm_drill *drill = drill_play_read(*state, HOLD);
    sm_drill_run *run = drill_play_plain(drill, "begin 0.5 repair A-01\n" RUN "gust 2 pause\n");
    sm_debrief *debrief;
    assert_int_equal(sm_debrief_create(run, &debrief), SM_OK);
    for (size_t columns = 40; columns <= 200; columns++) {
        sm_text text = {0};
        sm_debrief_text(debrief, columns, &text);
        for (const char *at = sm_text_get(&text); *at != '\0'; at += strcspn(at, "\n") + 1)
            assert_true(sm_utf8_count(at, strcspn(at, "\n")) <= columns);
        assert_non_null(strstr(sm_text_get(&text), columns < 60 ? "you: pause" : "| pause\n"));
        sm_text_deinit(&text);
    }
    sm_debrief_destroy(debrief);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// Asked only when it is over; what was typed stands before anything else, and in the log as a remark.
static void answers_stand_before_what_is_shown(void **state) {
    sm_drill *drill = drill_play_read(*state, HOLD);
    sm_drill_run *run = NULL;
    assert_int_equal(sm_drill_run_create(drill, &(sm_drill_options){.crew = "K"}, &run), SM_OK);
    assert_int_equal(sm_drill_finish(run, (sm_wall_time){0}), SM_OK);
    uint32_t before = sm_drill_entry_count(run);
    assert_int_equal(sm_drill_answer(run, 0, "a hold on the gust", (sm_wall_time){0}), SM_OK);
    assert_int_equal(sm_drill_answer(run, 1, "", (sm_wall_time){0}), SM_OK);
    sm_drill_entry remark = sm_drill_entry_at(run, before);
    assert_string_equal(sm_log_word(remark.kind), "remark");
    assert_string_equal(remark.target, "What was meant to happen?");
    assert_string_equal(remark.detail, "a hold on the gust");
    assert_int_equal(sm_drill_entry_count(run), before + 1); // what was left empty is no remark
    sm_debrief *debrief;
    assert_int_equal(sm_debrief_create(run, &debrief), SM_OK);
    assert_int_equal(debrief->asked, 3);
    const char *answer = strstr(debrief->head, "1. What was meant to happen?\n     a hold on the gust\n");
    assert_true(answer && strstr(answer, "(left empty)") && strstr(answer, "(not asked)"));
    for (uint32_t i = 0; i < debrief->step_count; i++)
        assert_null(strstr(debrief->steps[i].text, "a hold on the gust"));
    assert_non_null(strstr(debrief->tail, "Score 0 of 100"));
    sm_debrief_destroy(debrief);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steps_set_what_happened_beside_what_was_done),
        cmocka_unit_test(the_debrief_fits_every_width),
        cmocka_unit_test(answers_stand_before_what_is_shown),
    };
    return cmocka_run_group_tests_name("the debrief of a drill", tests, drill_play_load_demo,
                                       drill_play_drop_demo);
}
