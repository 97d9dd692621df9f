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

// Somebody walks in while running: a stop in time loses nothing, one too late says what stood on the screen meanwhile.
static void a_lost_mark_says_which_alert_stood(void **state) {
    static const char walk[] =
        "[drill]\ntitle = Test\n[event walk]\nwhen = running + 5 s\ndo = person in-field\n"
        "[expect hold]\nafter = walk\naction = pause\nwithin = 3 s\nmarks = 30\n";
    static const char *const stops[] = {RUN "walk 2 pause\n", RUN "walk 6 pause\n"};
    for (size_t late = 0; late < 2; late++) {
        sm_drill *drill = drill_play_read(*state, walk);
        sm_drill_run *run = drill_play_plain(drill, stops[late]);
        sm_debrief *debrief;
        assert_int_equal(sm_debrief_create(run, &debrief), SM_OK);
        const char *stood =
            strstr(step_of(debrief, SM_STEP_MARK, "hold")->text, "; alert then: WARNING IN FIELD 1");
        assert_int_equal(stood != NULL, late);
        sm_debrief_destroy(debrief);
        sm_drill_run_destroy(run);
        sm_drill_destroy(drill);
    }
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

static char *debrief_of(const sm_show *show, const char *text, const char *script) {
    sm_drill *drill = drill_play_read(show, text);
    sm_drill_run *run = drill_play_plain(drill, script);
    sm_text out = {0};
    drill_play_debrief(run, &out);
    assert_false(out.failed);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
    return out.bytes;
}

// The deadliest first, whenever it was; then nothing was done well.
static void the_worst_stands_first(void **state) {
    char *text = debrief_of(*state, HOLD "[never n]\naction = note\nmarks = 20\n",
                            "begin 0.2 waive rails no time\nbegin 0.3 note x\nbegin 0.5 repair A-01\n" RUN
                            "gust 2 pause\n");
    const char *plugged = strstr(text, "No work at a slot whose rail is plugged, at 0:00.500 (-100)"),
               *waiver = strstr(text, "No waiver that does not say what it lets go, at 0:00.200 (-20)");
    assert_true(plugged && waiver && plugged < waiver && waiver < strstr(text, "What happened"));
    assert_null(strstr(text, "Done well"));
    assert_non_null(strstr(text, "rule was"));
    free(text);
}

// Who left at once has not taken it to its end, and nothing is held up to them that never came.
static void what_never_came_is_no_lesson(void **state) {
    char *text = debrief_of(*state, HOLD, "begin 1 note x\n");
    assert_null(strstr(text, "to its end and read this"));
    assert_null(strstr(text, "Done well"));
    assert_non_null(strstr(text, "it never came to that"));
    assert_non_null(strstr(text, "To practise: the drill to its end; it did not come to 1 of what it asks."));
    free(text);
    text = debrief_of(*state, HOLD, RUN "gust 2 pause\n");
    assert_non_null(strstr(text, "Done well:   pause."));
    assert_non_null(strstr(text, "the module is paused, not made safe\n  the key is on\n"));
    free(text);
    text = debrief_of(*state, HOLD, RUN "gust 2 key off\n");
    assert_null(strstr(text, "As it was left"));
    free(text);
}

#define TWO_TASKS                                                                                            \
    "[drill]\ntitle = Test\n[event gust]\nwhen = begin + 1 s\ndo = wind 14 m/s\n"                            \
    "[event storm]\nwhen = running + 5 s\ndo = storm\n"                                                      \
    "[expect note]\nafter = gust\naction = note\nwithin = 50 s\nmarks = 10\nsay = Note the gust.\n"          \
    "[expect key]\nafter = gust\naction = key on\nwithin = 50 s\nmarks = 30\nsay = The key next.\n"          \
    "[expect away]\nafter = storm\naction = safe\nwithin = 5 s\nmarks = 20\nsay = Away at once.\n"

// Only what was not earned in full says why; of three tasks one never came, and that one alone is counted so.
static void what_was_earned_needs_no_reason(void **state) {
    char *text = debrief_of(*state, TWO_TASKS, "gust 2 note gust\ngust 3 key on\n");
    assert_non_null(strstr(text, "Done well:   key on. The key next.\n"));
    assert_null(strstr(text, "Note the gust."));
    assert_non_null(strstr(text, "it did not come to 1 of what it asks."));
    free(text);
}

// Fewer than five values are no distribution.
static void percentiles_from_five_values_on(void **state) {
    sm_text drill = {0}, script = {0};
    sm_text_printf(&drill, "[drill]\ntitle = T\n");
    for (int i = 1; i <= 5; i++) {
        sm_text_printf(
            &drill,
            "[event e%d]\nwhen = begin + %d s\ndo = wind %d m/s\n[expect x%d]\nafter = e%d\naction = "
            "key off\nwithin = 5 s\nmarks = 10\n",
            i, 20 * i, i, i, i);
        sm_text_printf(&script, "begin %d key on\nbegin %d.%d key off\n", 20 * i - 5, 20 * i + 1, i);
        char *text = debrief_of(*state, sm_text_get(&drill), sm_text_get(&script));
        assert_true((strstr(text, "median 1.30 s") != NULL) == (i == 5)); // of 1.1 to 1.5
        assert_true((strstr(text, "reaction time 1.10 s") != NULL) == (i < 5));
        free(text);
    }
    sm_text_deinit(&drill);
    sm_text_deinit(&script);
}

static void what_was_said_stands_beside_what_was_asked(void **state) {
    static const char text[] =
        "[drill]\ntitle = T\n[event in]\nwhen = begin + 1 s\ndo = call K I go in.\n"
        "[expect a]\nafter = in\naction = answer\nwithin = 60 s\nmarks = 5\nwords = stay/out, K\n"
        "[expect b]\nafter = in\naction = note\nwithin = 60 s\nmarks = 5\n";
    char *said = debrief_of(*state, text, "in 2 answer yes\nin 3 note seen\n!in 4 judge a yes I heard it\n");
    assert_non_null(strstr(said, "yes, by the instructor: I heard it (computed: 0)"));
    assert_non_null(strstr(said, "You said: \"seen\". Was that it?"));
    free(said);
    said = debrief_of(*state, text, "in 2 answer yes\n");
    assert_non_null(strstr(said, "You said: \"yes\"; asked for: stay/out, K."));
    free(said);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steps_set_what_happened_beside_what_was_done),
        cmocka_unit_test(a_lost_mark_says_which_alert_stood),
        cmocka_unit_test(the_debrief_fits_every_width),
        cmocka_unit_test(answers_stand_before_what_is_shown),
        cmocka_unit_test(the_worst_stands_first),
        cmocka_unit_test(what_never_came_is_no_lesson),
        cmocka_unit_test(what_was_earned_needs_no_reason),
        cmocka_unit_test(percentiles_from_five_values_on),
        cmocka_unit_test(what_was_said_stands_beside_what_was_asked),
    };
    return cmocka_run_group_tests_name("the debrief of a drill", tests, drill_play_load_demo,
                                       drill_play_drop_demo);
}
