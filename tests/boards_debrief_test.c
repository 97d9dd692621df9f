// SPDX-License-Identifier: GPL-3.0-or-later
// The debrief board on the grid: what it asks, that it shows nothing before, its steps; and what a drill plants, in words on the boards.
#include "boards/words/planted.h"
#include "console/drill_rows.h"
#include "support/desk.h"
#include "support/drill_play.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define DRILL                                                                                                \
    "[drill]\ntitle = Test\n[event gust]\nwhen = running + 10 s\ndo = wind 14 m/s\n"                         \
    "[expect hold]\nafter = gust\naction = pause\nwithin = 5 s\nmarks = 30\n"
#define SCRIPT                                                                                               \
    "begin 0.5 repair A-01\nbegin 1 call-clear J\nbegin 2 key on\nbegin 3 arm\narmed 1 start\ngust 2 "       \
    "pause\n"

typedef struct rig {
    desk desk;
    sm_drill *drill;
    sm_debrief *debrief;
    sm_drill_view drill_view;
    void *state; // of the debrief board
} rig;

static int begin(void **state) {
    rig *d = calloc(1, sizeof *d);
    assert_non_null(d);
    desk_begin(&d->desk, &(desk_options){.folder = "demo-shows/lantern-quay", .drill = true});
    d->drill = drill_play_read(d->desk.show, DRILL);
    sm_drill_run *run = drill_play_plain(d->drill, SCRIPT);
    assert_int_equal(sm_debrief_create(run, &d->debrief), SM_OK);
    sm_drill_run_destroy(run);
    d->drill_view = (sm_drill_view){.drill = d->drill, .over = true};
    d->desk.ui.view.drill = &d->drill_view;
    d->desk.ui.view.debrief = d->debrief;
    d->state = calloc(1, sm_board_debrief.state_size);
    assert_non_null(d->state);
    *state = d;
    return 0;
}

static int end(void **state) {
    rig *d = *state;
    free(d->state);
    sm_debrief_destroy(d->debrief);
    sm_drill_destroy(d->drill);
    desk_end(&d->desk);
    free(d);
    return 0;
}

// BOARD as drawn on COLUMNS by ROWS, row by row.
static char *draw(const rig *d, const sm_board *board, void *state, int columns, int rows) {
    sm_cells *cells = sm_cells_create(columns, rows);
    assert_non_null(cells);
    board->draw(state, &d->desk.ui.view, sm_area_of(cells), true);
    sm_text text = {0};
    for (int y = 0; y < rows; y++) {
        sm_cells_row_text(cells, y, &text);
        sm_text_append(&text, "\n", 1);
    }
    sm_cells_destroy(cells);
    return text.bytes;
}

static bool shows(const rig *d, int columns, int rows, const char *word) {
    char *text = draw(d, &sm_board_debrief, d->state, columns, rows);
    bool found = strstr(text, word) != NULL;
    free(text);
    return found;
}

// The rows of a drill that goes on, as they stand below the call's.
static bool rows_say(const rig *d, const sm_drill_view *view, int columns, int row, const char *word) {
    sm_cells *cells = sm_cells_create(columns, 4);
    assert_non_null(cells);
    sm_drill_rows_draw(view, d->desk.now, sm_area_of(cells));
    sm_text text = {0};
    sm_cells_row_text(cells, row, &text);
    bool said = strstr(sm_text_get(&text), word) != NULL;
    sm_text_deinit(&text);
    sm_cells_destroy(cells);
    return said;
}

static bool drill_rows_say(const rig *d, int columns, const char *word) {
    const sm_drill_view view = {.drill = d->drill};
    return rows_say(d, &view, columns, 0, word);
}

// A hint that was asked for is told while it is still what the hint would be: a warning comes, and it is gone.
static void a_hint_goes_when_it_is_no_longer_the_hint(void **state) {
    rig *d = *state;
    sm_drill drill = {.title = "Trial", .hints = SM_HINTS_ASKED};
    sm_drill_view view = {.drill = &drill,
                          .hint = "Plug rail A in again.",
                          .asked = "Plug rail A in again.",
                          .asked_at = d->desk.now->wall};
    assert_true(rows_say(d, &view, 80, 1, "hint: Plug rail A in again."));
    snprintf(view.hint, sizeof view.hint, "STORM: all withdraw; do not stay to unplug.");
    assert_false(rows_say(d, &view, 80, 1, "hint: "));
    assert_true(rows_say(d, &view, 80, 1, "H asks what is next"));
}

// What the call's row says whole is not said again below it; where it has no room, it is.
static void a_call_is_told_once(void **state) {
    rig *d = *state;
    sm_incidents *incidents = &d->desk.now->incidents;
    const sm_incidents before = *incidents;
    incidents->call_at = incidents->latest_at = d->desk.now->wall;
    incidents->calls_open = 1;
    snprintf(incidents->call_who, sizeof incidents->call_who, "K");
    snprintf(incidents->call_text, sizeof incidents->call_text, "Barge here, I am off it and outside.");
    snprintf(incidents->latest, sizeof incidents->latest, "K: Barge here, I am off it and outside.");
    // "CALL K 0 s ago: " and the text and " [y] answers" take 16 + 36 + 12 columns of two less than there are
    assert_false(drill_rows_say(d, 66, "Barge"));
    assert_true(drill_rows_say(d, 66, "DRILL Test"));
    assert_true(drill_rows_say(d, 65, "DRILL K: Barge here"));
    incidents->storm = true;
    assert_true(drill_rows_say(d, 66, "DRILL Test still: thunder"));
    incidents->call_at.us--; // something else was seen since
    assert_true(drill_rows_say(d, 66, "DRILL K: Barge here"));
    *incidents = before;
}

static unsigned press(const rig *d, int key, sm_request *request) {
    *request = (sm_request){0};
    return sm_board_debrief.press(d->state, &d->desk.ui.view, key, request);
}

static void answer_all(const rig *d) {
    for (unsigned question = 0; question < SM_DRILL_QUESTIONS; question++) {
        sm_request request = {0};
        assert_true(sm_board_debrief.answer(d->state, &d->desk.ui.view, "", &request));
        assert_int_equal(request.question, question);
        assert_true(request.next & SM_NEXT_ANSWER);
        assert_int_equal((request.next & SM_NEXT_ASK) != 0, question + 1 < SM_DRILL_QUESTIONS);
    }
}

static void nothing_is_shown_before_the_questions(void **state) {
    rig *d = *state;
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
    rig *d = *state;
    sm_debrief broken = *d->debrief;
    broken.broken_off = true;
    d->desk.ui.view.debrief = &broken;
    assert_false(shows(d, 80, 24, "Press Enter, type your answer"));
    assert_true(shows(d, 80, 24, "repair-plugged"));
    d->desk.ui.view.debrief = d->debrief;
}

static void it_wraps_between_words_at_every_width(void **state) {
    rig *d = *state;
    answer_all(d);
    static const char *const words[] = {"repair-plugged", "qualification", "14.0",
                                        "hold:",          "practise:",     "reached"};
    for (int columns = 40; columns <= 200; columns++) {
        char *text = draw(d, &sm_board_debrief, d->state, columns, 300);
        for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
            if (!strstr(text, words[i]))
                fail_msg("%d columns: no whole \"%s\" in\n%s", columns, words[i], text);
        const char *cost = strstr(text, "What could have"), *steps = strstr(text, "key on"),
                   *practise = strstr(text, "practise:"), *score = strstr(text, "Score");
        assert_true(cost && cost < steps && steps < practise && practise < score);
        free(text);
    }
}

static void it_goes_through_the_drill_step_by_step(void **state) {
    rig *d = *state;
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

static void assert_stands(const rig *d, const char *words) {
    sm_text text = {0};
    assert_int_equal(sm_planted_describe(d->desk.now, &text), words[0] != '\0');
    assert_string_equal(sm_text_get(&text), words);
    sm_text_deinit(&text);
}

static void what_is_planted_stands_in_words(void **state) {
    rig *d = *state;
    assert_stands(d, "");
    desk_inject(&d->desk, "open A-05"); // only measuring tells
    desk_inject(&d->desk, "misfire A-07");
    assert_stands(d, "");
    desk_inject(&d->desk, "fire quay-left");
    desk_inject(&d->desk, "tip B-02");
    desk_inject(&d->desk, "flame-stuck jet-2");
    desk_inject(&d->desk, "flame-out jet-3");
    desk_inject(&d->desk, "remote-unpaired 2");
    desk_inject(&d->desk, "remote-weak 1");
    desk_inject(&d->desk, "storm");
    desk_inject(&d->desk, "link lost");
    assert_stands(
        d, "FIRE at quay-left, B-02 has tipped over, jet-2 burns on, jet-3 does not light, link lost: treat "
           "as armed, remote 2 heard, not paired, remote 1 battery low, thunder");
    desk_inject(&d->desk, "remote-good 1");
    desk_inject(&d->desk, "link back");
    desk_inject(&d->desk, "remote-good 2");
    assert_stands(d,
                  "FIRE at quay-left, B-02 has tipped over, jet-2 burns on, jet-3 does not light, thunder");
    sm_text older = {0};
    desk_inject(&d->desk, "tip A-02"); // said as the latest: not a second time
    assert_true(sm_planted_describe_older(d->desk.now, &older));
    assert_non_null(strstr(sm_text_get(&older), "B-02 has tipped over"));
    assert_null(strstr(sm_text_get(&older), "A-02"));
    sm_text_deinit(&older);
}

static void the_boards_show_what_is_planted(void **state) {
    rig *d = *state;
    desk_inject(&d->desk, "fire quay-left");
    desk_inject(&d->desk, "tip B-02");
    void *rails = calloc(1, sm_board_rails.state_size), *guards = calloc(1, sm_board_guards.state_size);
    assert_true(rails && guards);
    char *text = draw(d, &sm_board_rails, rails, 80, 40);
    assert_non_null(strstr(text, "A plugged  FIRE HERE"));
    assert_non_null(strstr(text, "B plugged  1 TIPPED OVER"));
    assert_non_null(strstr(text, " TIP "));
    free(text);
    text = draw(d, &sm_board_guards, guards, 80, 60);
    assert_non_null(strstr(text, "seen      FIRE at quay-left, B-02 has tipped over"));
    free(text);
    d->desk.ui.view.drill = NULL; // a plain rehearsal has no such row
    text = draw(d, &sm_board_guards, guards, 80, 60);
    assert_null(strstr(text, "\n seen "));
    free(text);
    free(rails);
    free(guards);
}

// Whoever followed at a seat has the text of their debrief, and no drill of their own.
static void a_seat_that_followed_has_its_debrief(void **state) {
    rig *d = *state;
    d->desk.ui.view.drill = NULL;
    d->desk.ui.view.debrief = NULL;
    char *text = draw(d, &sm_board_debrief, d->state, 80, 24);
    assert_non_null(strstr(text, "No drill is being taken here."));
    free(text);
    sm_debrief told = {.head = "taken by Kim as spotter\nScore 100 of 100\n", .tail = "", .broken_off = true};
    d->desk.ui.view.debrief = &told;
    text = draw(d, &sm_board_debrief, d->state, 80, 24);
    assert_non_null(strstr(text, "taken by Kim as spotter"));
    assert_non_null(strstr(text, "Score 100 of 100"));
    free(text);
    d->desk.ui.view.debrief = d->debrief;
}

int main(void) {
    setlocale(LC_CTYPE, "C.UTF-8");
#define AT_DESK(test) cmocka_unit_test_setup_teardown(test, begin, end)
    const struct CMUnitTest tests[] = {AT_DESK(nothing_is_shown_before_the_questions),
                                       AT_DESK(nobody_is_asked_in_an_emergency),
                                       AT_DESK(a_call_is_told_once),
                                       AT_DESK(a_hint_goes_when_it_is_no_longer_the_hint),
                                       AT_DESK(it_wraps_between_words_at_every_width),
                                       AT_DESK(it_goes_through_the_drill_step_by_step),
                                       AT_DESK(what_is_planted_stands_in_words),
                                       AT_DESK(the_boards_show_what_is_planted),
                                       AT_DESK(a_seat_that_followed_has_its_debrief)};
    return cmocka_run_group_tests_name("the debrief on the screen", tests, NULL, NULL);
}
