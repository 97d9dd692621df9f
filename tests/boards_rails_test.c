// SPDX-License-Identifier: GPL-3.0-or-later
// The rails board: paging through many rails, going to a slot, only what is wrong.
#include "boards/rails/rails.h"
#include "support/desk.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define RAILS_BOARD (SM_KEY_F0 + 3)
#define RAILS 64
#define SLOTS 32

// 64 rails R01 to R64 of 32 slots on 64 modules; the first slot of each is fired.
static show_folder many_rails(void) {
    show_folder f = show_folder_make();
    sm_text modules = {0}, rails = {0}, cues = {0};
    sm_text_printf(&modules, "name,slots\n");
    sm_text_printf(&rails, "name,module,first,slots\n");
    sm_text_printf(&cues, "time,target,do\n");
    for (int i = 1; i <= RAILS; i++) {
        sm_text_printf(&modules, "M%02d,%d\n", i, SLOTS);
        sm_text_printf(&rails, "R%02d,M%02d,1,%d\n", i, i, SLOTS);
        sm_text_printf(&cues, "%d,R%02d-01,comet\n", i, i);
    }
    show_folder_put(&f, "show.ini", "[show]\ntitle = Many\ncountdown = 0\n[limits]\narm-time = 0.1\n");
    show_folder_put(&f, "modules.csv", sm_text_get(&modules));
    show_folder_put(&f, "rails.csv", sm_text_get(&rails));
    show_folder_put(&f, "effects.csv", "name,lead,lasts\ncomet,0,1\n");
    show_folder_put(&f, "cues.csv", sm_text_get(&cues));
    assert_false(modules.failed || rails.failed || cues.failed);
    sm_text_deinit(&modules);
    sm_text_deinit(&rails);
    sm_text_deinit(&cues);
    return f;
}

static int begin(void **state) {
    *state = desk_at_board(many_rails(), RAILS_BOARD, false);
    return 0;
}

// Some cell is under the cursor.
static bool has_cursor(desk *r) {
    sm_frame_draw(&r->ui, r->cells);
    for (int y = 8; y < sm_cells_rows(r->cells) - 2; y++) {
        for (int x = 0; x < sm_cells_columns(r->cells); x++)
            if (sm_cells_at(r->cells, x, y)->look == SM_LOOK_SELECTED)
                return true;
    }
    return false;
}

static void pages_pass_over_no_rail(void **state) {
    desk *r = *state;
    bool seen[RAILS + 1] = {false};
    int pages = 0;
    do {
        for (int i = 1; i <= RAILS; i++) {
            char heading[24];
            snprintf(heading, sizeof heading, "R%02d plugged", i);
            seen[i] = seen[i] || desk_shows(r, heading);
        }
        assert_true(has_cursor(r));
        desk_press(r, SM_KEY_PAGE_DOWN);
        pages++;
        assert_true(pages < 2 * RAILS);
    } while (!seen[RAILS]);
    for (int i = 1; i <= RAILS; i++)
        assert_true(seen[i]);
    assert_true(pages < RAILS); // by pages, not by rails
    assert_true(desk_shows(r, "64 of 64"));
    for (int i = 0; i < pages; i++)
        desk_press(r, SM_KEY_PAGE_UP);
    assert_true(desk_shows(r, "rails 1 to "));
}

static void a_slot_is_gone_to_by_its_name(void **state) {
    desk *r = *state;
    desk_type(r, "/R40-17\n");
    assert_true(desk_shows(r, "R40-17 spare"));
    assert_true(has_cursor(r));
    desk_type(r, "/R09-5\n");
    assert_true(desk_shows(r, "R09-05 spare"));
    desk_type(r, "/R63\n"); // a rail
    assert_true(desk_shows(r, "R63-01 not fired"));
    desk_type(r, "/R65-01\n");
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    assert_true(desk_shows(r, "no slot or rail 'R65-01' in this show"));
    desk_press(r, SM_KEY_F0 + 8); // F8
    assert_string_equal(r->acted, "safe");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
}

static void a_click_puts_the_cursor_on_a_slot(void **state) {
    desk *r = *state;
    desk_do(r, "read R02-01 open");
    desk_click(r, "OPEN");
    assert_true(desk_shows(r, "R02-01 not fired"));
    desk_type(r, "/R40-01\n");
    desk_do(r, "read R40-01 short");
    desk_press(r, SM_KEY_HOME);
    desk_press(r, SM_KEY_PAGE_DOWN);
    desk_type(r, "/R40-05\n");
    desk_click(r, "SHORT");
    assert_true(desk_shows(r, "R40-01 not fired"));
    desk_type(r, "O");
    desk_click(r, "R02-01");
    assert_true(desk_shows(r, "R02-01 not fired"));
    assert_int_equal(r->acts, 0);
}

// The list says exactly the slots WRONG (NULL at the end).
static void expect_wrong(desk *r, const char *const *wrong) {
    char said[64];
    int count = 0;
    for (; wrong[count]; count++) {
        int row = desk_find(r, wrong[count]);
        if (row < 0)
            fail_msg("'%s' is not listed", wrong[count]);
    }
    snprintf(said, sizeof said, "ONLY WHAT IS WRONG: %d of %d slots", count, RAILS * SLOTS);
    assert_true(desk_shows(r, said));
}

static void only_what_is_wrong_is_listed_with_why(void **state) {
    desk *r = *state;
    desk_type(r, "O");
    assert_true(desk_shows(r, "Nothing wrong is known of 64 programmed slots, 64 of them unread."));
    assert_true(desk_shows(r, "statement that they fire"));
    desk_do(r, "read R02-01 open");
    desk_do(r, "read R03-01 short");
    desk_do(r, "inhibit R64-01");
    desk_do(r, "unplug R50");
    expect_wrong(r, (const char *[]){" R02-01    reads open ·", " R03-01    reads short ·",
                                     " R50-01    the whole rail is UNPLUGGED", " R64-01    INHIBITED", NULL});
    desk_press(r, SM_KEY_END);
    assert_true(desk_shows(r, "R64-01 not fired"));
    desk_press(r, SM_KEY_UP);
    assert_true(desk_shows(r, "R50-01 not fired"));
    desk_press(r, SM_KEY_HOME);
    assert_true(desk_shows(r, "R02-01 not fired"));
    desk_press(r, SM_KEY_UP); // there is none before it
    assert_true(desk_shows(r, "R02-01 not fired"));
    desk_do(r, "plug R50");
    desk_do(r, "allow R64-01");
    expect_wrong(r, (const char *[]){"R02-01", "R03-01", NULL});
    desk_type(r, "/R10-01\n"); // not among them: all are shown again
    assert_true(desk_shows(r, "R10-01 not fired"));
    assert_false(desk_shows(r, "ONLY WHAT IS WRONG"));
}

static void a_misfire_is_wrong_until_reported_and_after(void **state) {
    desk *r = *state;
    desk_do(r, "read R01-01 open");
    desk_do(r, "waive readings R01-01 as a lesson");
    desk_do(r, "allow R01-01");
    desk_do(r, "call-clear K");
    desk_do(r, "key on");
    desk_do(r, "arm");
    desk_advance(r, SM_US_PER_S);
    desk_do(r, "start");
    desk_advance(r, 3 * SM_US_PER_S / 2);
    desk_do(r, "safe");
    desk_press(r, RAILS_BOARD);
    desk_type(r, "O");
    assert_true(desk_shows(r, "R01-01    misfired: LIVE NOT REPORTED, reads open"));
    desk_do(r, "report R01-01");
    assert_true(desk_shows(r, "R01-01    misfired: LIVE (reported)"));
}

// Every slot that the list names is wrong by the snapshot, and the other way round, whatever happened.
static void the_list_goes_by_what_the_engine_knows(void **state) {
    desk *r = *state;
    static const char *const values[] = {"open", "short", "2", "0.01", "900"};
    for (int i = 1; i <= RAILS; i += 3) {
        char line[48];
        snprintf(line, sizeof line, "read R%02d-01 %s", i, values[i % 5]);
        desk_do(r, line);
    }
    uint32_t wrong = 0, at = 0;
    for (uint32_t slot = 0; slot < r->show->slot_count; slot++) {
        sm_verdict v = r->now->slots[slot].verdict;
        bool expected = v == SM_VERDICT_OPEN || v == SM_VERDICT_SHORT || v == SM_VERDICT_LOW ||
                        v == SM_VERDICT_HIGH || v == SM_VERDICT_UNSURE || v == SM_VERDICT_STRAY;
        assert_int_equal(sm_slot_is_wrong(&r->ui.view, slot), expected);
        if (expected) {
            at =
                wrong == 0 ? sm_rails_step_wrong(&r->ui.view, 0, 0) : sm_rails_step_wrong(&r->ui.view, at, 1);
            assert_int_equal(at, slot);
            assert_int_equal(sm_rails_wrong_at(&r->ui.view, 0, 1 + (int)wrong), slot);
            wrong++;
        }
    }
    assert_true(wrong > 5);
    assert_int_equal(sm_rails_step_wrong(&r->ui.view, at, 5), at); // the last one
    assert_int_equal(sm_rails_step_wrong(&r->ui.view, r->show->slot_count - 1, 0), at);
}

// Keys typed at once reach a board before its first frame.
static void keys_may_come_before_the_first_frame(void **state) {
    (void)state;
    static const int keys[] = {SM_KEY_PAGE_DOWN, SM_KEY_PAGE_UP, SM_KEY_DOWN, SM_KEY_UP,
                               SM_KEY_END,       SM_KEY_HOME,    'O',         SM_KEY_PAGE_DOWN};
    desk d;
    desk_begin(&d, &(desk_options){.folder = "demo-shows/lantern-quay"});
    desk_press(&d, 'y');
    for (size_t board = 0; board < SM_BOARDS; board++) {
        for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
            desk_press(&d, sm_board_at(board)->key);
            desk_press(&d, keys[i]);
        }
    }
    desk_press(&d, RAILS_BOARD);
    desk_press(&d, 'O');
    desk_press(&d, SM_KEY_HOME);
    assert_true(desk_shows(&d, "A-01 "));
    desk_end(&d);
}

// At 80 by 24 six rails have no room for numbers of their own: one row of numbers stands above all.
static void six_rails_have_their_slot_numbers_on_a_small_terminal(void **state) {
    (void)state;
    show_folder f = show_folder_make();
    show_folder_put(&f, "show.ini", "[show]\ntitle = Six\nlength = 9\n");
    show_folder_put(&f, "modules.csv", "name,slots\nM1,72\n");
    sm_text rails = {0};
    sm_text_printf(&rails, "name,module,first,slots\n");
    for (int i = 0; i < 6; i++)
        sm_text_printf(&rails, "%c,M1,%d,12\n", 'A' + i, 1 + 12 * i);
    show_folder_put(&f, "rails.csv", sm_text_get(&rails));
    sm_text_deinit(&rails);
    show_folder_put(&f, "effects.csv", "name,lead,lasts\ncomet,0,1\n");
    show_folder_put(&f, "cues.csv", "time,target,do\n1,A-01,comet\n2,F-12,comet\n");
    desk *r = desk_at_board(f, RAILS_BOARD, false);
    int row = desk_find(r, "01    02    03    04    05    06    07    08    09    10    11    12");
    assert_true(row > 0);
    assert_non_null(strstr(desk_row(r, row + 1), "A plugged"));
    assert_true(desk_shows(r, "F plugged"));
    desk_click(r, "F plugged"); // no slot
    assert_true(desk_shows(r, "A-01 not fired"));
    int last = desk_find(r, "F plugged") + 1;
    sm_ui_point(&r->ui, (sm_mouse){5 + 11 * 6, last, SM_MOUSE_CLICK});
    assert_true(desk_shows(r, "F-12 not fired"));
    desk_destroy(r);
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keys_may_come_before_the_first_frame),
        cmocka_unit_test(six_rails_have_their_slot_numbers_on_a_small_terminal),
        cmocka_unit_test_setup_teardown(pages_pass_over_no_rail, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(a_slot_is_gone_to_by_its_name, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(a_click_puts_the_cursor_on_a_slot, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(only_what_is_wrong_is_listed_with_why, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(a_misfire_is_wrong_until_reported_and_after, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(the_list_goes_by_what_the_engine_knows, begin, desk_teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
