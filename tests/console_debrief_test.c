// SPDX-License-Identifier: GPL-3.0-or-later
// The debrief board on the grid: what it asks, that it shows nothing before, its steps; and what a drill plants, in words on the boards.
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "console/view.h"
#include "support/drill_play.h"

#define DRILL                                                                                                \
    "[drill]\ntitle = Test\n[event gust]\nwhen = running + 10 s\ndo = wind 14 m/s\n"                         \
    "[expect hold]\nafter = gust\naction = pause\nwithin = 5 s\nmarks = 30\n"
#define SCRIPT                                                                                               \
    "begin 0.5 repair A-01\nbegin 1 call-clear J\nbegin 2 key on\nbegin 3 arm\narmed 1 start\ngust 2 "       \
    "pause\n"

typedef struct desk {
    sm_show *show;
    sm_drill *drill;
    sm_debrief *debrief;
    sm_drill_view drill_view;
    sm_rehearsal *rehearsal;
    sm_snapshot *now;
    sm_day day;
    sm_view view;
    void *state; // of the debrief board
} desk;

static int begin(void **state) {
    desk *d = calloc(1, sizeof *d);
    assert_non_null(d);
    d->show = drill_play_show("demo-shows/lantern-quay");
    d->drill = drill_play_read(d->show, DRILL);
    sm_drill_run *run = drill_play_plain(d->drill, SCRIPT);
    assert_int_equal(sm_debrief_create(run, &d->debrief), SM_OK);
    sm_drill_run_destroy(run);
    assert_int_equal(sm_rehearsal_create(d->show, &(sm_rehearsal_options){.drill = true}, &d->rehearsal),
                     SM_OK);
    assert_int_equal(sm_snapshot_create(d->show, &d->now), SM_OK);
    sm_rehearsal_snapshot(d->rehearsal, (sm_wall_time){0}, d->now);
    d->drill_view = (sm_drill_view){.drill = d->drill, .over = true};
    d->view = (sm_view){.snapshot = d->now,
                        .show = d->show,
                        .day = &d->day,
                        .rig = "",
                        .drill = &d->drill_view,
                        .debrief = d->debrief};
    d->state = calloc(1, sm_board_debrief.state_size);
    assert_non_null(d->state);
    *state = d;
    return 0;
}

static int end(void **state) {
    desk *d = *state;
    free(d->state);
    sm_snapshot_destroy(d->now);
    sm_rehearsal_destroy(d->rehearsal);
    sm_debrief_destroy(d->debrief);
    sm_drill_destroy(d->drill);
    sm_show_destroy(d->show);
    free(d);
    return 0;
}

// BOARD as drawn on COLUMNS by ROWS, row by row.
static char *draw(const desk *d, const sm_board *board, void *state, int columns, int rows) {
    sm_cells *cells = sm_cells_create(columns, rows);
    assert_non_null(cells);
    board->draw(state, &d->view, sm_area_of(cells), true);
    sm_text text = {0};
    for (int y = 0; y < rows; y++) {
        sm_cells_row_text(cells, y, &text);
        sm_text_append(&text, "\n", 1);
    }
    sm_cells_destroy(cells);
    return text.bytes;
}

static bool shows(const desk *d, int columns, int rows, const char *word) {
    char *text = draw(d, &sm_board_debrief, d->state, columns, rows);
    bool found = strstr(text, word) != NULL;
    free(text);
    return found;
}

static unsigned press(const desk *d, int key, sm_request *request) {
    *request = (sm_request){0};
    return sm_board_debrief.press(d->state, &d->view, key, request);
}

static void answer_all(const desk *d) {
    for (unsigned question = 0; question < SM_DRILL_QUESTIONS; question++) {
        sm_request request = {0};
        assert_true(sm_board_debrief.answer(d->state, &d->view, "", &request));
        assert_int_equal(request.question, question);
        assert_true(request.next & SM_NEXT_ANSWER);
        assert_int_equal((request.next & SM_NEXT_ASK) != 0, question + 1 < SM_DRILL_QUESTIONS);
    }
}

static void nothing_is_shown_before_the_questions(void **state) {
    desk *d = *state;
    sm_request request;
    for (int columns = 40; columns <= 200; columns += 20) {
        assert_false(shows(d, columns, 300, "Score"));
        assert_false(shows(d, columns, 300, "gust"));
        assert_false(shows(d, columns, 300, "repair-plugged"));
    }
    assert_true(shows(d, 80, 20, "4. What will you do next time?"));
    assert_true(shows(d, 40, 3, "Before the debrief, 1 of 4:"));        // no room for all
    assert_int_equal(press(d, SM_KEY_RIGHT, &request), SM_NEXT_UNUSED); // no way round them
    assert_int_equal(press(d, SM_KEY_END, &request), SM_NEXT_UNUSED);
    assert_true(press(d, SM_KEY_ENTER, &request) & SM_NEXT_ASK);
    assert_string_equal(request.line, "answer 1 of 4:");
    answer_all(d);
    assert_true(shows(d, 80, 300, "Score 0 of 100"));
}

static void nobody_is_asked_in_an_emergency(void **state) {
    desk *d = *state;
    sm_debrief broken = *d->debrief;
    broken.broken_off = true;
    d->view.debrief = &broken;
    assert_false(shows(d, 80, 24, "Enter: type your answer"));
    assert_true(shows(d, 80, 24, "repair-plugged"));
    d->view.debrief = d->debrief;
}

static void it_wraps_between_words_at_every_width(void **state) {
    desk *d = *state;
    answer_all(d);
    static const char *const words[] = {"repair-plugged,", "qualification", "14.0", "hold:", "Done",
                                        "practise:",       "reached"};
    for (int columns = 40; columns <= 200; columns++) {
        char *text = draw(d, &sm_board_debrief, d->state, columns, 300);
        for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
            if (strstr(text, words[i]) == NULL) {
                fail_msg("%d columns: no whole \"%s\" in\n%s", columns, words[i], text);
            }
        }
        const char *cost = strstr(text, "This cost everything"), *steps = strstr(text, "key on"),
                   *well = strstr(text, "Done"), *score = strstr(text, "Score");
        assert_true(cost != NULL && cost < steps && steps < well && well < score);
        free(text);
    }
}

static void it_goes_through_the_drill_step_by_step(void **state) {
    desk *d = *state;
    sm_request request;
    char footer[64];
    answer_all(d);
    assert_true(shows(d, 80, 10, "Right: through it step by step"));
    for (uint32_t step = 0; step < d->debrief->step_count; step++) {
        press(d, step % 2 == 0 ? SM_KEY_RIGHT : SM_KEY_ENTER, &request);
        snprintf(footer, sizeof footer, "step %u of %u, REHEARSAL then %s, key %s", step + 1,
                 d->debrief->step_count, sm_state_text(d->debrief->steps[step].state),
                 d->debrief->steps[step].key ? "ON" : "OFF");
        assert_true(shows(d, 80, 10, footer));
        char clock[24];
        assert_true(shows(d, 80, 10, sm_clock_format(clock, d->debrief->steps[step].at_us))); // in sight
    }
    press(d, SM_KEY_RIGHT, &request); // the last one stays
    assert_true(shows(d, 80, 10, footer));
    press(d, SM_KEY_LEFT, &request);
    snprintf(footer, sizeof footer, "step %u of %u,", d->debrief->step_count - 1, d->debrief->step_count);
    assert_true(shows(d, 80, 10, footer));
    press(d, SM_KEY_END, &request);
    assert_true(shows(d, 80, 10, "Score 0 of 100"));
}

// ---- what a drill plants ----------------------------------------------------------------------------

static void plant(desk *d, const char *line) {
    sm_injection injection;
    char why[200];
    size_t at;
    assert_int_equal(sm_injection_read(d->show, line, strlen(line), &injection, why, &at), SM_OK);
    assert_int_equal(sm_rehearsal_inject(d->rehearsal, "test", &injection, (sm_wall_time){0}), SM_OK);
    sm_rehearsal_snapshot(d->rehearsal, (sm_wall_time){0}, d->now);
}

static void assert_stands(const desk *d, const char *words) {
    sm_text text = {0};
    assert_int_equal(sm_sights_standing(d->now, &text), words[0] != '\0');
    assert_string_equal(sm_text_get(&text), words);
    sm_text_deinit(&text);
}

static void what_is_planted_stands_in_words(void **state) {
    desk *d = *state;
    assert_stands(d, "");
    plant(d, "open A-05"); // only measuring tells
    plant(d, "misfire A-07");
    assert_stands(d, "");
    plant(d, "fire quay-left");
    plant(d, "tip B-02");
    plant(d, "flame-stuck jet-2");
    plant(d, "flame-out jet-3");
    plant(d, "remote-unpaired 2");
    plant(d, "remote-weak 1");
    plant(d, "storm");
    plant(d, "link lost");
    assert_stands(
        d, "FIRE at quay-left, B-02 has tipped over, jet-2 burns on, jet-3 does not light, link lost: treat "
           "as armed, remote 2 heard, not paired, remote 1 battery low, thunder");
    plant(d, "remote-good 1");
    plant(d, "link back");
    plant(d, "remote-good 2");
    assert_stands(d,
                  "FIRE at quay-left, B-02 has tipped over, jet-2 burns on, jet-3 does not light, thunder");
    sm_text older = {0};
    plant(d, "tip A-02"); // said as the latest: not a second time
    assert_true(sm_sights_older(d->now, &older));
    assert_non_null(strstr(sm_text_get(&older), "B-02 has tipped over"));
    assert_null(strstr(sm_text_get(&older), "A-02"));
    sm_text_deinit(&older);
}

static void the_boards_show_what_is_planted(void **state) {
    desk *d = *state;
    plant(d, "fire quay-left");
    plant(d, "tip B-02");
    void *rails = calloc(1, sm_board_rails.state_size), *guards = calloc(1, sm_board_guards.state_size);
    assert_true(rails != NULL && guards != NULL);
    char *text = draw(d, &sm_board_rails, rails, 80, 40);
    assert_non_null(strstr(text, "A plugged  FIRE HERE"));
    assert_non_null(strstr(text, "B plugged  1 TIPPED OVER"));
    assert_non_null(strstr(text, " TIP "));
    free(text);
    text = draw(d, &sm_board_guards, guards, 80, 60);
    assert_non_null(strstr(text, "seen      FIRE at quay-left, B-02 has tipped over"));
    free(text);
    d->view.drill = NULL; // a plain rehearsal has no such row
    text = draw(d, &sm_board_guards, guards, 80, 60);
    assert_null(strstr(text, "\n seen "));
    free(text);
    free(rails);
    free(guards);
}

int main(void) {
    setlocale(LC_CTYPE, "C.UTF-8");
#define AT_DESK(test) cmocka_unit_test_setup_teardown(test, begin, end)
    const struct CMUnitTest tests[] = {
        AT_DESK(nothing_is_shown_before_the_questions), AT_DESK(nobody_is_asked_in_an_emergency),
        AT_DESK(it_wraps_between_words_at_every_width), AT_DESK(it_goes_through_the_drill_step_by_step),
        AT_DESK(what_is_planted_stands_in_words),       AT_DESK(the_boards_show_what_is_planted)};
    return cmocka_run_group_tests_name("the debrief on the screen", tests, NULL, NULL);
}
