// SPDX-License-Identifier: GPL-3.0-or-later
// The log's board: kinds of row, only what went wrong, search.
#include "support/desk.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S
#define LOG (SM_KEY_F0 + 9)

static int begin(void **state) {
    desk *r = desk_create_short(true);
    desk_press(r, 'n');
    desk_inject(r, "open A-02"); // it misfires
    desk_do(r, "enter K");
    desk_do(r, "leave K");
    desk_do(r, "arm"); // refused: clear is not called
    desk_arm(r);
    desk_do(r, "start");
    desk_advance(r, 2 * S);
    desk_press(r, LOG);
    *state = r;
    return 0;
}

static void filter(desk *r, const char *text) {
    desk_type(r, "\\");
    desk_type(r, text);
    desk_type(r, "\n");
}

static void kinds_of_row_are_shown_alone(void **state) {
    desk *r = *state;
    static const struct {
        const char *typed, *shown[3], *hidden;
    } cases[] = {
        {"misfires", {"misfire A-02", NULL, NULL}, "enter K"},
        {"people", {"enter K", "leave K", "call-clear"}, "misfire A-02"},
        {"refused", {"refused arm", NULL, NULL}, "enter K"},
        {"alerts", {"alert misfired", NULL, NULL}, "enter K"},
        {"firings", {"fire A-01 fountain", "fire B-01 long", NULL}, "misfire A-02"},
        {"states", {"state ended", "state armed", NULL}, "enter K"},
        {"actions", {"start", "enter K", NULL}, "state armed"},
        {"misfires, people", {"misfire A-02", "enter K", NULL}, "state armed"},
        {"wrong", {"misfire A-02", "refused arm", NULL}, "enter K"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        filter(r, cases[i].typed);
        for (size_t j = 0; j < 3 && cases[i].shown[j]; j++)
            if (!desk_shows(r, cases[i].shown[j]))
                fail_msg("%s: no %s", cases[i].typed, cases[i].shown[j]);
        // The foot names the latest action: only the board's rows are looked at.
        assert_true(desk_find(r, cases[i].hidden) < 0);
        assert_true(desk_shows(r, "FILTER "));
    }
    filter(r, "");
    assert_false(desk_shows(r, "FILTER"));
}

static void a_kind_that_is_none_stays_to_be_mended(void **state) {
    desk *r = *state;
    filter(r, "people, ghosts");
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    assert_true(desk_says(r, "'ghosts' is no kind of row: misfires people alerts"));
    desk_press(r, SM_KEY_ESCAPE);
    assert_false(desk_shows(r, "FILTER"));
}

static void one_key_shows_what_went_wrong_and_back(void **state) {
    desk *r = *state;
    desk_type(r, "O");
    assert_true(desk_shows(r, "FILTER wrong: "));
    assert_true(desk_shows(r, "misfire A-02"));
    assert_true(desk_find(r, "fire A-01") < 0);
    desk_type(r, "O");
    assert_false(desk_shows(r, "FILTER"));
}

// The row that was found, marked as a whole; "": none.
static const char *found_row(desk *r) {
    sm_frame_draw(&r->ui, r->cells);
    for (int y = 0; y < sm_cells_rows(r->cells); y++)
        if (sm_cells_at(r->cells, sm_cells_columns(r->cells) - 1, y)->look == SM_LOOK_SELECTED)
            return desk_row(r, y);
    return "";
}

static void a_search_goes_from_row_to_row(void **state) {
    desk *r = *state;
    desk_size(r, 80, 16); // less rows than there are
    desk_type(r, "/A-0\n");
    assert_true(desk_shows(r, "“A-0”, N next"));
    char newest[200];
    snprintf(newest, sizeof newest, "%s", found_row(r));
    assert_non_null(strstr(newest, "A-0"));
    int others = 0;
    bool came_back = false;
    for (int i = 0; i < 20 && !came_back; i++) {
        desk_type(r, "N");
        assert_non_null(strstr(found_row(r), "A-0"));
        came_back = strcmp(newest, found_row(r)) == 0;
        others += !came_back;
    }
    assert_true(came_back && others >= 2);
    desk_type(r, "/needle\n");
    assert_true(desk_shows(r, "“needle” is nowhere in what is shown"));
    assert_string_equal(found_row(r), "");
    desk_press(r, SM_KEY_HOME);
    assert_false(desk_shows(r, "needle"));
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(kinds_of_row_are_shown_alone, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(a_kind_that_is_none_stays_to_be_mended, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(one_key_shows_what_went_wrong_and_back, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(a_search_goes_from_row_to_row, begin, desk_teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
