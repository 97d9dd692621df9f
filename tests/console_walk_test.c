// SPDX-License-Identifier: GPL-3.0-or-later
// The walk board: one item at a time, holds stop it, answers come back from earlier days, previews touch nothing.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "console/ui.h"
#include "console/walkthrough.h"
#include "slowmatch/logbook.h"
#include "support/folder.h"
#include "support/kept.h"

typedef struct rig {
    char folder[64], path[256];
    sm_show *show;
    sm_rehearsal *rehearsal;
    sm_snapshot *now;
    sm_wall_time wall;
    sm_recent recent;
    sm_day day;
    sm_findings *findings;
    sm_text noise;
    sm_audio_status sound;
    sm_walkthrough *walkthrough;
    sm_ui ui;
    sm_cells *cells;
} rig;

static void keep_row(void *context, const sm_log_row *row) {
    sm_recent_put(&((rig *)context)->recent, row);
}

static void look(rig *r) {
    sm_rehearsal_snapshot(r->rehearsal, r->wall, r->now);
    r->ui.view.snapshot = r->now;
    r->ui.view.show = r->show;
    r->ui.view.walk = sm_walkthrough_look(r->walkthrough, &r->ui.view);
    sm_ui_look(&r->ui);
}

static bool act(void *owner, const char *line) {
    rig *r = owner;
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(r->show, line, strlen(line), &action, why, &at), SM_OK);
    sm_result result = sm_rehearsal_act(r->rehearsal, &action, SM_SOURCE_CONSOLE, r->wall);
    assert_true(result == SM_OK || result == SM_REFUSED);
    look(r);
    return true;
}

static int begin(void **state) {
    rig *r = calloc(1, sizeof *r);
    char show[256];
    assert_non_null(r);
    kept_begin(r->folder);
    folder_path(r->path, r->folder, "logbook.db");
    r->show = folder_load(folder_path(show, r->folder, "show"));
    r->findings = sm_findings_create();
    r->day.launch_us = INT64_C(1780000000) * SM_US_PER_S;
    const sm_rehearsal_options options = {.sink = keep_row, .sink_context = r};
    assert_int_equal(sm_rehearsal_create(r->show, &options, &r->rehearsal), SM_OK);
    assert_int_equal(sm_snapshot_create(r->show, &r->now), SM_OK);
    assert_int_equal(sm_walkthrough_create(r->path, &r->walkthrough), SM_OK);
    r->ui.view = (sm_view){.day = &r->day,
                           .recent = &r->recent,
                           .findings = r->findings,
                           .checked = true,
                           .noise = &r->noise,
                           .rig = "",
                           .sound = &r->sound};
    r->ui.owner = r;
    r->ui.act = act;
    r->cells = sm_cells_create(80, 24);
    assert_non_null(r->cells);
    sm_rehearsal_snapshot(r->rehearsal, r->wall, r->now);
    r->ui.view.snapshot = r->now;
    r->ui.view.show = r->show;
    assert_int_equal(sm_ui_init(&r->ui), SM_OK);
    *state = r;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    sm_cells_destroy(r->cells);
    sm_ui_deinit(&r->ui);
    sm_walkthrough_destroy(r->walkthrough);
    sm_snapshot_destroy(r->now);
    sm_rehearsal_destroy(r->rehearsal);
    sm_show_destroy(r->show);
    sm_findings_destroy(r->findings);
    kept_end(r->folder);
    free(r);
    return 0;
}

static void press(rig *r, int key) {
    sm_ui_press(&r->ui, key);
    look(r);
}

static void type(rig *r, const char *keys) {
    for (; *keys; keys++) {
        press(r, *keys == '\n' ? SM_KEY_ENTER : *keys);
    }
}

static bool shows(rig *r, const char *text) {
    bool found = false;
    sm_text row = {0};
    sm_ui_draw(&r->ui, r->cells);
    for (int y = 0; y < sm_cells_rows(r->cells); y++) {
        sm_text_clear(&row);
        sm_cells_row_text(r->cells, y, &row);
        found = found || strstr(sm_text_get(&row), text);
    }
    sm_text_deinit(&row);
    return found;
}

static void open_board(rig *r) {
    look(r);
    press(r, 'x'); // the first screen's question
    press(r, SM_KEY_F0 + 12);
}

static const sm_walk_standing *standing(rig *r, const char *id) {
    uint32_t item = sm_walk_item_find(r->ui.view.walk->list, id);
    assert_true(item != SM_NONE);
    return &r->ui.view.walk->standings[item];
}

static void a_hold_stops_until_it_is_resolved(void **state) {
    rig *r = *state;
    open_board(r);
    assert_true(shows(r, "REHEARSAL"));
    assert_true(shows(r, "item 1 of "));
    assert_true(shows(r, "HOLD: the walk stops here until this is resolved"));
    press(r, SM_KEY_RIGHT);
    assert_true(shows(r, "item 1 of "));
    press(r, '4'); // later: stays open, and stops
    assert_true(shows(r, "answered later"));
    press(r, SM_KEY_RIGHT);
    assert_true(shows(r, "item 1 of "));
    type(r, "1by J\n");
    assert_true(shows(r, "item 2 of "));
    assert_int_equal(standing(r, r->ui.view.walk->list->items[0].id)->tick.answer, SM_WALK_YES);
    assert_string_equal(standing(r, r->ui.view.walk->list->items[0].id)->tick.by, "J");
    type(r, "u"); // taken back
    assert_true(standing(r, r->ui.view.walk->list->items[0].id)->open);
    press(r, SM_KEY_LEFT);
    assert_true(shows(r, "answered later"));
}

static void notes_values_and_two_names_are_typed(void **state) {
    rig *r = *state;
    open_board(r);
    type(r, "3nobody to tell by K and M\n");
    assert_true(shows(r, "item 2 of "));
    const sm_walk_standing *first = standing(r, r->ui.view.walk->list->items[0].id);
    assert_string_equal(first->tick.note, "nobody to tell");
    assert_string_equal(first->first, "K");
    assert_string_equal(first->last, "M");
    for (int i = 0; i < 100 && !shows(r, "then what was measured"); i++) {
        type(r, "1\n");
    }
    type(r, "119 m behind the wall by K\n"); // 1 is the answer yes
    const sm_walk_standing *measured = standing(r, "distance:wall");
    assert_int_equal(measured->tick.answer, SM_WALK_YES);
    assert_string_equal(measured->tick.value, "19 m");
    assert_string_equal(measured->tick.note, "behind the wall");
    assert_false(measured->open);
}

static void the_last_page_says_how_it_stands(void **state) {
    rig *r = *state;
    open_board(r);
    press(r, SM_KEY_END);
    assert_true(shows(r, "NO-GO"));
    bool names = false, noted = false;
    for (int i = 0; i < 40; i++) {
        press(r, SM_KEY_PAGE_DOWN);
        names |= shows(r, "0 of 2 names stand");
        noted |= shows(r, "noted: ");
    }
    assert_true(names);
    assert_true(noted);
    assert_false(shows(r, " GO"));
}

static bool has_reason(rig *r, const char *text) {
    for (size_t i = 0; i < r->ui.view.walk->reason_count; i++) {
        if (strcmp(r->ui.view.walk->reasons[i], text) == 0) {
            return true;
        }
    }
    return false;
}

static void readings_of_this_rehearsal_count(void **state) {
    rig *r = *state;
    open_board(r);
    assert_false(has_reason(r, "reading B-02: open"));
    type(r, ":tick readings:B yes by K\n:tick readings:A yes by K\n");
    r->wall.us += SM_US_PER_S;
    type(r, ":read B-02 open\n");
    assert_true(has_reason(r, "reading B-02: open"));
    assert_true(has_reason(r, "readings:B: changed since it was answered"));
    assert_false(standing(r, "readings:A")->open);
    type(r, ":waive readings B-02 broken lead by K\n");
    assert_false(has_reason(r, "reading B-02: open"));
    bool listed = false;
    for (size_t i = 0; i < r->ui.view.walk->note_count; i++) {
        listed = listed ||
                 strstr(r->ui.view.walk->notes[i], "waived, recorded and not approved: readings, by K: B-02");
    }
    assert_true(listed);
    type(r, ":safe\n"); // a waiver lapses
    assert_true(has_reason(r, "reading B-02: open"));
}

static void a_preview_touches_nothing(void **state) {
    rig *r = *state;
    open_board(r);
    for (int i = 0; i < 100 && !shows(r, "then what was measured"); i++) { // the first place with flame
        type(r, "1\n");
    }
    uint64_t rows = r->recent.count;
    press(r, 'V');
    assert_true(shows(r, "PREVIEW"));
    assert_true(shows(r, "lamp-1 dim=200"));
    assert_true(shows(r, "jet-1 flame=255"));
    assert_int_equal(r->recent.count, rows); // no action, no event
    assert_int_equal(r->now->state, SM_STATE_SAFE);
    for (uint32_t i = 0; i < r->show->channel_count; i++) {
        assert_int_equal(r->now->levels[i], 0);
    }
    type(r, "k"); // the key is on: the preview is over, and cannot be had again
    assert_false(shows(r, "PREVIEW"));
    press(r, 'V');
    assert_false(shows(r, "PREVIEW"));
    type(r, "k");
    press(r, 'V');
    assert_true(shows(r, "PREVIEW"));
}

static void another_day_begins_at_the_first_open_item(void **state) {
    rig *r = *state;
    char why[400];
    sm_logbook *logbook = NULL;
    sm_walk_list *list = NULL;
    assert_int_equal(sm_walk_list_create(r->show, &list), SM_OK);
    assert_int_equal(sm_logbook_open(r->path, true, why, &logbook), SM_OK);
    sm_walk_tick ticks[2];
    for (size_t i = 0; i < 2; i++) {
        ticks[i] = (sm_walk_tick){list->items[i].id,    SM_WALK_YES,        "", "", "K",
                                  r->day.launch_us - 1, list->items[i].hash};
    }
    snprintf(ticks[1].hash.hex, sizeof ticks[1].hash.hex, "of another show");
    const sm_walk_past past = {.ticks = ticks, .tick_count = 2};
    assert_int_equal(sm_logbook_keep_walk(logbook, "Small Show", &past), SM_OK);
    sm_logbook_close(logbook);
    open_board(r);
    assert_true(shows(r, "item 2 of "));
    assert_true(shows(r, "changed since it was answered"));
    sm_walk_list_destroy(list);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_hold_stops_until_it_is_resolved, begin, end),
        cmocka_unit_test_setup_teardown(notes_values_and_two_names_are_typed, begin, end),
        cmocka_unit_test_setup_teardown(the_last_page_says_how_it_stands, begin, end),
        cmocka_unit_test_setup_teardown(readings_of_this_rehearsal_count, begin, end),
        cmocka_unit_test_setup_teardown(a_preview_touches_nothing, begin, end),
        cmocka_unit_test_setup_teardown(another_day_begins_at_the_first_open_item, begin, end),
    };
    return cmocka_run_group_tests_name("walk board", tests, NULL, NULL);
}
