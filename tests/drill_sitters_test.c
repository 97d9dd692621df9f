// SPDX-License-Identifier: GPL-3.0-or-later
// People who sit elsewhere, and those who are played: what each is told, and when they speak.
#include "support/drill_play.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define HEAD "[drill]\ntitle = Test\n"

typedef struct told_seat {
    sm_text lines; // "SEAT: TEXT\n"...
    unsigned calls;
} told_seat;

static void keep_told(void *context, const char *seat, const char *text) {
    sm_text_printf(&((told_seat *)context)->lines, "%s: %s\n", seat, text);
}

static void count_calls(void *context, const sm_log_row *row) {
    ((told_seat *)context)->calls += sm_log_is_act(row->kind, SM_ACT_CALL);
}

// The file's words for the spotter go to whoever sits down as one, each line of it and no empty one; a position gets none of them.
static void a_spotter_who_sits_down_is_told_the_files_words(void **state) {
    sm_drill *drill = drill_play_read(
        *state, HEAD "answers = K\nspotter-brief = Watch the crane.\nspotter-brief-2 = Call K by name.\n");
    told_seat told = {0};
    const sm_drill_options options = {.to_seat = keep_told, .sink = count_calls, .sink_context = &told};
    sm_drill_run *run = NULL;
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    sm_drill_run_sit(run, "left", "M", true);
    assert_null(strstr(sm_text_get(&told.lines), "crane"));
    sm_text_clear(&told.lines);
    sm_drill_run_sit(run, "spotter", "S", true);
    assert_non_null(strstr(sm_text_get(&told.lines),
                           "spotter: Watch the crane.\nspotter: Call K by name.\nspotter: F7 "));
    sm_text_deinit(&told.lines);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// K calls by themselves at 2 s and again at 30 s: asked between, they give no answer of their own, since the file tells their story.
static void whoever_calls_again_soon_gives_no_other_answer(void **state) {
    sm_drill *drill = drill_play_read(
        *state, HEAD "answers = K\n[event one]\nwhen = begin + 2 s\ndo = call K I am outside\n"
                     "[event two]\nwhen = one + 28 s\ndo = call K still outside\n");
    told_seat told = {0};
    const sm_drill_options options = {.sink = count_calls, .sink_context = &told};
    sm_drill_run *run = NULL;
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    assert_int_equal(drill_play_act(run, 5, "ask K", SM_SOURCE_SCRIPT), SM_OK);
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){29 * SM_US_PER_S}), SM_OK);
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){40 * SM_US_PER_S}), SM_OK);
    assert_int_equal(told.calls, 0);
    assert_int_equal(drill_play_act(run, 41, "ask K", SM_SOURCE_SCRIPT), SM_OK); // now the story is told
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){50 * SM_US_PER_S}), SM_OK);
    assert_int_equal(told.calls, 1);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

static sm_result act_from(sm_drill_run *run, const char *seat, double at_s, const char *text) {
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(sm_drill_of(run)->show, text, strlen(text), &action, why, &at), SM_OK);
    snprintf(action.seat, sizeof action.seat, "%s", seat);
    return sm_drill_act_from(run, &action, (sm_wall_time){(sm_us)(at_s * 1e6)});
}

// Where a person sits, their words are not played: they are told so and say it themselves, and what waits for it waits for them.
static void whoever_sits_there_speaks_for_themselves(void **state) {
    sm_drill *drill = drill_play_read(
        *state, HEAD "answers = K, M\n[event out]\nwhen = begin + 2 s\ndo = call K I am outside\n"
                     "[event clear]\nwhen = begin + 3 s\ndo = call M I am outside\n");
    told_seat told = {0};
    const sm_drill_options options = {.to_seat = keep_told, .sink = count_calls, .sink_context = &told};
    sm_drill_run *run = NULL;
    sm_wall_time came;
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    sm_drill_run_sit(run, "K", "Kim", true);
    sm_text_clear(&told.lines);
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){10 * SM_US_PER_S}), SM_OK);
    assert_string_equal(sm_text_get(&told.lines),
                        "K: It is so, say it in your words (answer ...): \"I am outside\"\n");
    assert_false(sm_drill_event_came(run, 0, &came));
    assert_true(sm_drill_event_came(run, 1, &came)); // nobody sits as M
    assert_int_equal(came.us, 3 * SM_US_PER_S);
    assert_int_equal(act_from(run, "K", 11, "answer I am outside"), SM_OK);
    assert_true(sm_drill_event_came(run, 0, &came));
    assert_int_equal(came.us, 11 * SM_US_PER_S);
    assert_int_equal(told.calls, 1);
    sm_text_deinit(&told.lines);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

// A seat's hold is a stop in every state: what cannot be paused is made safe, and it is no refusal.
static void a_hold_from_a_seat_is_a_stop_before_anything_runs(void **state) {
    sm_drill *drill = drill_play_read(*state, HEAD "answers = K\n");
    const sm_drill_options options = {0};
    sm_drill_run *run = NULL;
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    sm_drill_run_sit(run, "K", "Kim", true);
    assert_int_equal(drill_play_act(run, 1, "call-clear J", SM_SOURCE_SCRIPT), SM_OK);
    assert_int_equal(drill_play_act(run, 1, "key on", SM_SOURCE_SCRIPT), SM_OK);
    assert_int_equal(drill_play_act(run, 1, "arm", SM_SOURCE_SCRIPT), SM_OK);
    assert_int_equal(sm_drill_run_to(run, (sm_wall_time){30 * SM_US_PER_S}), SM_OK);
    assert_int_equal(sm_rehearsal_state(sm_drill_rehearsal(run)), SM_STATE_ARMED);
    assert_int_equal(act_from(run, "K", 31, "pause"), SM_OK);
    assert_int_equal(sm_rehearsal_state(sm_drill_rehearsal(run)), SM_STATE_SAFE);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_spotter_who_sits_down_is_told_the_files_words),
        cmocka_unit_test(whoever_sits_there_speaks_for_themselves),
        cmocka_unit_test(a_hold_from_a_seat_is_a_stop_before_anything_runs),
        cmocka_unit_test(whoever_calls_again_soon_gives_no_other_answer),
    };
    return cmocka_run_group_tests_name("drill sitters", tests, drill_play_load_demo, drill_play_drop_demo);
}
