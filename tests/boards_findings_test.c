// SPDX-License-Identifier: GPL-3.0-or-later
// What is wrong, put before people: the rig as a whole on top of the rails board, and from a finding to its cue.
#include "support/desk.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define DEMO "demo-shows/lantern-quay"

// On 80x16.
static void begin(desk *s, const char *readings) {
    desk_begin(s, &(desk_options){.folder = DEMO, .readings = readings});
    desk_size(s, 80, 16);
}

// Draws BOARD; does row Y (or, with -1, any) hold TEXT?
static bool draws(desk *s, const sm_board *board, void *state, int y, const char *text) {
    sm_area area = sm_area_of(s->cells);
    sm_cells_clear(s->cells);
    board->draw(state, &s->ui.view, area, true);
    bool found = false;
    for (int row = 0; row < sm_cells_rows(s->cells); row++) {
        sm_text line = {0};
        sm_cells_row_text(s->cells, row, &line);
        found = found || ((y < 0 || y == row) && strstr(sm_text_get(&line), text));
        sm_text_deinit(&line);
    }
    return found;
}

static void act(desk *s, const char *line) {
    assert_int_equal(desk_act(s, line, SM_SOURCE_CONSOLE), SM_OK);
}

static void swapped_rails_are_said_first(void **state) {
    (void)state;
    desk s;
    begin(&s, DEMO "/readings-swapped.csv");
    void *rails = calloc(1, sm_board_rails.state_size);
    assert_non_null(rails);
    assert_true(draws(&s, &sm_board_rails, rails, 0, "rails A and B are swapped"));
    assert_true(draws(&s, &sm_board_rails, rails, 1, "exchange their plugs (exchange A B)"));
    assert_true(draws(&s, &sm_board_rails, rails, -1, "A plugged"));
    void *guards = calloc(1, sm_board_guards.state_size + 1);
    assert_non_null(guards);
    assert_true(draws(&s, &sm_board_guards, guards, -1, "NEXT: [E] exchange the plugs of rails A and B"));
    assert_true(draws(&s, &sm_board_guards, guards, -1, "key off, E exchanges their plugs"));
    assert_false(draws(&s, &sm_board_guards, guards, -1, "F repairs"));
    free(guards);
    // The crew is sent to the plugs, not to what hangs rightly on a slot.
    const sm_alerts *alerts = &s.ui.alerts;
    assert_string_equal(sm_alerts_find(alerts, SM_ALERT_SWAPPED)->words,
                        "RAILS SWAPPED: A and B, each reads as the other");
    assert_null(sm_alerts_find(alerts, SM_ALERT_STRAY));
    act(&s, "unplug A"); // as the readings ask before anyone goes there
    assert_null(sm_alerts_find(alerts, SM_ALERT_SWAPPED));
    assert_non_null(sm_alerts_find(alerts, SM_ALERT_STRAY)); // on B, which is plugged
    assert_true(draws(&s, &sm_board_rails, rails, 0, "rails A and B are swapped"));
    free(rails);
    desk_end(&s);
}

static void the_line_follows_the_readings(void **state) {
    (void)state;
    desk s;
    begin(&s, DEMO "/readings-fixed.csv");
    assert_string_equal(s.ui.view.rig_explanation, "");
    assert_ptr_equal(sm_rig_explainer_look(&s.rig_explanation, s.now), s.ui.view.rig_explanation);
    char line[32];
    for (int slot = 4; slot <= 9; slot++) { // a run of neighbours: a cut multicore
        snprintf(line, sizeof line, "read A-%02d open", slot);
        act(&s, line);
    }
    assert_non_null(strstr(s.ui.view.rig_explanation, "A-04"));
    assert_non_null(strstr(s.ui.view.rig_explanation, "A-09"));
    act(&s, "unplug A"); // to work at it: what was read before is no other thing now
    assert_non_null(strstr(s.ui.view.rig_explanation, "A-04"));
    for (int slot = 4; slot <= 9; slot++) {
        snprintf(line, sizeof line, "repair A-%02d", slot);
        act(&s, line);
    }
    assert_string_equal(s.ui.view.rig_explanation, "");
    void *rails = calloc(1, sm_board_rails.state_size);
    assert_non_null(rails);
    assert_true(draws(&s, &sm_board_rails, rails, 0, "A UNPLUGGED"));
    free(rails);
    desk_end(&s);
}

static void a_finding_leads_to_its_cue(void **state) {
    (void)state;
    desk s;
    begin(&s, NULL);
    uint32_t cue = s.show->cue_count / 2;
    for (int i = 0; i < 40; i++) // more than fit, so that it has to be scrolled to
        sm_findings_add(s.findings, "show.ini", 1, 1, SM_NOTE, "range", "about no cue, number %d", i);
    sm_findings_add(s.findings, "cues.csv", s.show->cues[cue].line, 1, SM_ERROR, "slot-reused",
                    "about a cue");
    void *notes = calloc(1, sm_board_notes.state_size), *score = calloc(1, sm_board_score.state_size);
    assert_non_null(notes);
    assert_non_null(score);
    sm_request request = {0};
    assert_false(draws(&s, &sm_board_notes, notes, -1, "about a cue"));
    assert_false(sm_board_notes.press(notes, &s.ui.view, SM_KEY_ENTER, &request) & SM_NEXT_CUE);
    for (int i = 0; i < 60; i++)
        sm_board_notes.press(notes, &s.ui.view, SM_KEY_DOWN, &request);
    assert_true(draws(&s, &sm_board_notes, notes, -1, "about a cue"));
    assert_true(sm_board_notes.press(notes, &s.ui.view, SM_KEY_ENTER, &request) & SM_NEXT_CUE);
    assert_int_equal(request.cue, cue);
    char id[12], shown[16];
    snprintf(shown, sizeof shown, " %s ", sm_cue_id(s.show, cue, id));
    assert_false(draws(&s, &sm_board_score, score, -1, shown));
    sm_board_score.show_cue(score, &s.ui.view, cue);
    assert_true(draws(&s, &sm_board_score, score, -1, shown));
    for (int i = 0; i < 60; i++)
        sm_board_notes.press(notes, &s.ui.view, SM_KEY_UP, &request);
    assert_true(draws(&s, &sm_board_notes, notes, 0, "number 0"));
    sm_board_score.forget(score);
    free(notes);
    free(score);
    desk_end(&s);
}

static const char *next_slot(const desk *s, char name[48]) {
    if (s->now->next_firing == SM_NONE)
        return "none";
    const sm_event *event = &s->show->events[s->now->next_firing];
    return sm_slot_format(s->show, s->show->firings[event->target].slot, name);
}

// What is announced as next is what will go.
static void what_is_held_back_is_not_announced(void **state) {
    (void)state;
    desk s;
    char name[48];
    begin(&s, NULL);
    assert_string_equal(next_slot(&s, name), "A-01");
    act(&s, "inhibit A-01");
    assert_string_equal(next_slot(&s, name), "B-01"); // fired by the same cue
    act(&s, "inhibit B");
    assert_string_equal(next_slot(&s, name), "A-02");
    act(&s, "inhibit A");
    act(&s, "inhibit C");
    act(&s, "inhibit D");
    assert_string_equal(next_slot(&s, name), "none");
    act(&s, "allow A");
    assert_string_equal(next_slot(&s, name), "A-02"); // A-01 is held by its own name
    desk_end(&s);
}

// While a number is typed a letter is a slip, not a key: nothing is reported, plugged or read by it.
static void letters_in_a_number_do_nothing(void **state) {
    (void)state;
    desk s;
    begin(&s, NULL);
    void *rails = calloc(1, sm_board_rails.state_size);
    assert_non_null(rails);
    sm_request request = {0};
    assert_true(draws(&s, &sm_board_rails, rails, 0, "A plugged"));
    assert_true(sm_board_rails.press(rails, &s.ui.view, 'x', &request) &
                SM_NEXT_UNUSED); // a key of the table
    for (const char *at = "5x.-o2"; *at != '\0'; at++)
        assert_int_equal(sm_board_rails.press(rails, &s.ui.view, *at, &request), SM_NEXT_REDRAW);
    assert_true(sm_board_rails.press(rails, &s.ui.view, SM_KEY_ENTER, &request) & SM_NEXT_ACT);
    assert_string_equal(request.line, "read A-01 5.2");
    free(rails);
    desk_end(&s);
}

static void what_does_not_fit_says_so(void **state) {
    (void)state;
    sm_cells *cells = sm_cells_create(10, 3);
    assert_non_null(cells);
    sm_area two = sm_area_part(sm_area_of(cells), 0, 0, 10, 2);
    sm_text row = {0};
    sm_cells_clear(cells);
    sm_area_wrap_cut(two, 0, SM_LOOK_PLAIN, "one two three four five six");
    sm_cells_row_text(cells, 1, &row);
    assert_non_null(strstr(sm_text_get(&row), "…"));
    sm_text_clear(&row);
    sm_cells_row_text(cells, 2, &row);
    assert_string_equal(sm_text_get(&row), "");
    sm_cells_clear(cells);
    sm_area_wrap_cut(two, 0, SM_LOOK_PLAIN, "one two three");
    sm_text_clear(&row);
    sm_cells_row_text(cells, 1, &row);
    assert_null(strstr(sm_text_get(&row), "…"));
    sm_text_deinit(&row);
    sm_cells_destroy(cells);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(swapped_rails_are_said_first),
        cmocka_unit_test(the_line_follows_the_readings),
        cmocka_unit_test(a_finding_leads_to_its_cue),
        cmocka_unit_test(what_is_held_back_is_not_announced),
        cmocka_unit_test(letters_in_a_number_do_nothing),
        cmocka_unit_test(what_does_not_fit_says_so),
    };
    return cmocka_run_group_tests_name("console findings", tests, NULL, NULL);
}
