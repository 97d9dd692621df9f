// SPDX-License-Identifier: GPL-3.0-or-later
// The walk board: one item at a time, holds stop it, answers come back from earlier days, previews touch nothing.
#include "support/desk.h"
#include "support/folder.h"
#include "support/kept.h"

#include "slowmatch/logbook.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// Earlier walks are in a logbook beside the show.
typedef struct rig {
    desk desk; // what *state is
    char folder[64], path[256];
} rig;

static void sit_down(rig *r) {
    char show[256];
    folder_path(show, r->folder, "show");
    desk_begin(&r->desk, &(desk_options){.folder = show, .logbook = r->path});
}

static int begin(void **state) {
    rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    kept_begin(r->folder);
    folder_path(r->path, r->folder, "logbook.db");
    sit_down(r);
    *state = &r->desk;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    desk_end(&r->desk);
    kept_end(r->folder);
    free(r);
    return 0;
}

static void open_board(desk *r) {
    desk_look(r);
    desk_press(r, 'x'); // the first screen's question
    desk_press(r, SM_KEY_F0 + 12);
}

static const sm_walk_standing *standing(desk *r, const char *id) {
    uint32_t item = sm_walk_item_find(r->ui.view.walk->list, id);
    assert_true(item != SM_NONE);
    return &r->ui.view.walk->standings[item];
}

static void a_hold_stops_until_it_is_resolved(void **state) {
    desk *r = *state;
    open_board(r);
    assert_true(desk_shows(r, "REHEARSAL"));
    assert_true(desk_shows(r, "item 1 of "));
    assert_true(desk_shows(r, "HOLD: the walk stops here until this is resolved"));
    desk_press(r, SM_KEY_RIGHT);
    assert_true(desk_shows(r, "item 1 of "));
    desk_type(r, "1by J\n");
    assert_true(desk_shows(r, "item 2 of "));
    assert_int_equal(standing(r, r->ui.view.walk->list->items[0].id)->tick.answer, SM_WALK_YES);
    assert_string_equal(standing(r, r->ui.view.walk->list->items[0].id)->tick.by, "J");
    desk_type(r, "u"); // taken back
    assert_true(standing(r, r->ui.view.walk->list->items[0].id)->open);
    desk_press(r, SM_KEY_LEFT);
    assert_true(desk_shows(r, "not answered"));
}

static bool has_reason(desk *r, const char *text) {
    for (size_t i = 0; i < r->ui.view.walk->reason_count; i++)
        if (strcmp(r->ui.view.walk->reasons[i], text) == 0)
            return true;
    return false;
}

static void what_is_left_for_later_is_listed_and_does_not_stop(void **state) {
    desk *r = *state;
    open_board(r);
    desk_press(r, '4');
    assert_true(desk_shows(r, "item 2 of "));
    assert_true(desk_shows(r, "1 left for later"));
    desk_press(r, SM_KEY_LEFT);
    assert_true(desk_shows(r, "HOLD, left for later: it stays open"));
    desk_press(r, SM_KEY_RIGHT);
    assert_true(desk_shows(r, "item 2 of "));
    char left[200];
    snprintf(left, sizeof left, "%s: left for later", r->ui.view.walk->list->items[0].id);
    assert_true(has_reason(r, left));
    desk_press(r, SM_KEY_RIGHT); // the second is a hold that nobody left
    assert_true(desk_shows(r, "item 2 of "));
    desk_press(r, SM_KEY_HOME);
    assert_true(desk_shows(r, "item 1 of "));
}

static void notes_values_and_two_names_are_typed(void **state) {
    desk *r = *state;
    open_board(r);
    desk_type(r, "3nobody to tell by K and M\n");
    assert_true(desk_shows(r, "item 2 of "));
    const sm_walk_standing *first = standing(r, r->ui.view.walk->list->items[0].id);
    assert_string_equal(first->tick.note, "nobody to tell");
    assert_string_equal(first->first, "K");
    assert_string_equal(first->last, "M");
    for (int i = 0; i < 100 && !desk_shows(r, "then what was measured"); i++)
        desk_type(r, "1\n");
    desk_type(r, "119 m behind the wall by K\n"); // 1 is the answer yes
    const sm_walk_standing *measured = standing(r, "distance:wall");
    assert_int_equal(measured->tick.answer, SM_WALK_YES);
    assert_string_equal(measured->tick.value, "19 m");
    assert_string_equal(measured->tick.note, "behind the wall");
    assert_false(measured->open);
}

static void the_last_page_says_how_it_stands(void **state) {
    desk *r = *state;
    open_board(r);
    desk_press(r, SM_KEY_END);
    assert_true(desk_shows(r, "NO-GO"));
    bool names = false, noted = false;
    for (int i = 0; i < 40; i++) {
        desk_press(r, SM_KEY_PAGE_DOWN);
        names |= desk_shows(r, "0 of 2 names stand");
        noted |= desk_shows(r, "noted: ");
    }
    assert_true(names);
    assert_true(noted);
    assert_false(desk_shows(r, " GO"));
}

static void readings_of_this_rehearsal_count(void **state) {
    desk *r = *state;
    open_board(r);
    assert_false(has_reason(r, "reading B-02: open"));
    desk_type(r, ":tick readings:B yes read on paper by K\n:tick readings:A yes read on paper by K\n");
    r->wall.us += SM_US_PER_S;
    desk_type(r, ":read B-02 open\n");
    assert_true(has_reason(r, "reading B-02: open"));
    assert_true(has_reason(r, "readings:B: changed since it was answered"));
    assert_false(standing(r, "readings:A")->open);
    desk_type(r, ":waive readings B-02 broken lead by K\n");
    assert_false(has_reason(r, "reading B-02: open"));
    bool listed = false;
    for (size_t i = 0; i < r->ui.view.walk->note_count; i++) {
        listed = listed ||
                 strstr(r->ui.view.walk->notes[i], "waived, recorded and not approved: readings, by K: B-02");
    }
    assert_true(listed);
    desk_type(r, ":safe\n"); // a waiver lapses
    assert_true(has_reason(r, "reading B-02: open"));
}

// Hands at a slot may have moved its neighbours' leads: its rail is read again, the other rail is not.
static void work_at_a_slot_asks_for_the_readings_of_its_rail(void **state) {
    desk *r = *state;
    open_board(r);
    desk_type(r, ":tick readings:B yes read on paper by K\n:tick readings:A yes read on paper by K\n");
    r->wall.us += SM_US_PER_S;
    desk_type(r, ":unplug A\n:repair A-01\n");
    assert_true(has_reason(r, "readings:A: A-01 repaired since it was answered: read the rail again"));
    assert_false(standing(r, "readings:B")->open);
    r->wall.us += SM_US_PER_S;
    desk_type(r, ":tick readings:A yes read again on paper by K\n");
    assert_false(standing(r, "readings:A")->open);
}

static void a_preview_touches_nothing(void **state) {
    desk *r = *state;
    open_board(r);
    for (int i = 0; i < 100 && !desk_shows(r, "then what was measured"); i++) // the first place with flame
        desk_type(r, "1\n");
    uint64_t rows = r->recent.count;
    desk_press(r, 'V');
    assert_true(desk_shows(r, "PREVIEW"));
    assert_true(desk_shows(r, "lamp-1 dim=200"));
    assert_true(desk_shows(r, "jet-1 flame=255"));
    assert_int_equal(r->recent.count, rows); // no action, no event
    assert_int_equal(r->now->state, SM_STATE_SAFE);
    for (uint32_t i = 0; i < r->show->channel_count; i++)
        assert_int_equal(r->now->levels[i], 0);
    desk_type(r, "k"); // the key is on: the preview is over, and cannot be had again
    assert_false(desk_shows(r, "PREVIEW"));
    desk_press(r, 'V');
    assert_false(desk_shows(r, "PREVIEW"));
    desk_type(r, "k");
    desk_press(r, 'V');
    assert_true(desk_shows(r, "PREVIEW"));
}

static void the_words_of_the_paper_are_told(void **state) {
    desk *r = *state;
    open_board(r);
    desk_press(r, '5');
    assert_true(desk_shows(r, "The words are still being made"));
    r->ui.view.paper_words = "LOAD-A  1 page  teapot walrus kettle\n";
    desk_press(r, '5');
    desk_press(r, '5');
    assert_true(desk_shows(r, "LOAD-A  1 page  teapot walrus kettle"));
    desk_press(r, '1'); // answers nothing here
    assert_true(desk_shows(r, "teapot walrus kettle"));
    desk_press(r, '5');
    assert_false(desk_shows(r, "teapot walrus kettle"));
}

static void another_day_begins_at_the_first_open_item(void **state) {
    desk *r = *state;
    char why[400];
    sm_logbook *logbook = NULL;
    sm_walk_list *list = NULL;
    assert_int_equal(sm_walk_list_create(r->show, &(sm_walk_hash){""}, &list), SM_OK);
    assert_int_equal(sm_logbook_open(((rig *)*state)->path, true, why, &logbook), SM_OK);
    sm_walk_tick ticks[2];
    for (size_t i = 0; i < 2; i++) {
        ticks[i] = (sm_walk_tick){list->items[i].id,  SM_WALK_YES, "", "", "K", r->time_of_day.launch_us - 1,
                                  list->items[i].hash};
    }
    snprintf(ticks[1].hash.hex, sizeof ticks[1].hash.hex, "of another show");
    const sm_walk_past past = {.ticks = ticks, .tick_count = 2};
    assert_int_equal(sm_logbook_keep_walk(logbook, "Small Show", &past), SM_OK);
    sm_logbook_close(logbook);
    desk_end(r); // earlier walks are read when a desk is begun
    sit_down(*state);
    open_board(r);
    assert_true(desk_shows(r, "item 2 of "));
    assert_true(desk_shows(r, "changed since it was answered"));
    sm_walk_list_destroy(list);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_hold_stops_until_it_is_resolved, begin, end),
        cmocka_unit_test_setup_teardown(what_is_left_for_later_is_listed_and_does_not_stop, begin, end),
        cmocka_unit_test_setup_teardown(notes_values_and_two_names_are_typed, begin, end),
        cmocka_unit_test_setup_teardown(the_last_page_says_how_it_stands, begin, end),
        cmocka_unit_test_setup_teardown(readings_of_this_rehearsal_count, begin, end),
        cmocka_unit_test_setup_teardown(work_at_a_slot_asks_for_the_readings_of_its_rail, begin, end),
        cmocka_unit_test_setup_teardown(a_preview_touches_nothing, begin, end),
        cmocka_unit_test_setup_teardown(the_words_of_the_paper_are_told, begin, end),
        cmocka_unit_test_setup_teardown(another_day_begins_at_the_first_open_item, begin, end),
    };
    return cmocka_run_group_tests_name("walk board", tests, NULL, NULL);
}
