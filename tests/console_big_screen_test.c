// SPDX-License-Identifier: GPL-3.0-or-later
// Big figures, and what is asked and typed, in the grid and in a real terminal through libvterm.
#include "support/console_rig.h"
#include "support/desk.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S

// At every size REHEARSAL, the state line, the stop and the message stay; the figures are there from 12 rows of them on.
static void big_figures_leave_what_must_be_seen(void **state) {
    desk *r = *state;
    desk_arm_by_keys(r);
    desk_type(r, "D");
    static const struct {
        int columns, rows;
        const char *rehearsal, *state; // a row of the figures
    } sizes[] = {
        {40, 12, "R E H E A R S A L", " ████ ███  █ █ █ ███  █  █"},
        {80, 24, " ███  ████ █  █ ████  ██  ███   ███  ██  █",
         " ████████  ██████    ██  ██  ██  ██████    ██    ██"},
        {200, 60, "████    ████        ████                ████        ████", "██████            ██████"},
    };
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        desk_size(r, sizes[i].columns, sizes[i].rows);
        assert_true(desk_shows(r, "REHEARSAL ARMED"));
        assert_true(desk_shows(r, sizes[i].rehearsal));
        assert_true(desk_shows(r, sizes[i].state));
        assert_true(desk_shows(r, "SPACE MAKE SAFE"));
        assert_true(desk_shows(r, "? help"));
    }
    desk_size(r, 80, 24);
    assert_true(desk_shows(r, "show time"));
    assert_false(desk_shows(r, "F2 score"));
    desk_type(r, "b");
    assert_true(desk_shows(r, "START counts down"));
    desk_type(r, "\n");
    assert_true(desk_shows(r, "next A-01 fountain in"));
    assert_true(desk_shows(r, "████████      ████████")); // 0.5: the count of 0.3 s, and 0.2 s of show
    desk_type(r, "1");                                    // keys of a board that is not seen do nothing
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    desk_type(r, " ");
    assert_int_equal(r->now->state, SM_STATE_SAFE);
    desk_type(r, "\033");
    assert_true(desk_shows(r, "F6 after"));
    desk_type(r, "D\t"); // a board leaves it
    assert_false(r->ui.choices.big);
}

// What is wrong is read across the room, not only that something is. As many of its words as there is room for; the rows are by hand.
static void a_warning_stands_big(void **state) {
    desk *r = *state;
    desk_arm(r);
    desk_do(r, "enter K");
    desk_type(r, "D");
    desk_size(r, 80, 24);
    assert_true(desk_shows(
        r, " ██  ██      ██        ████████  ██  ████████  ██      ██████            ██")); // IN FIELD 1
    assert_true(desk_shows(r, " ██  ██    ████        ██        ██  ██        ██      ██    ██          ██"));
    desk_size(r, 56, 24);
    assert_true(desk_shows(r, " █ █   █    ████ █ ████ █   ███      █")); // one column a dot
    desk_size(r, 40, 24);
    assert_true(desk_shows(r, " █ █   █    ████ █ ████ █   ███      █"));
    desk_size(r, 80, 24);
    desk_do(r, "leave K"); // CLEAR LAPSED
    assert_true(desk_shows(r, "  ███ █   ████  ██  ███     █    ██  ███   ███ ████ ███"));
    desk_size(r, 50, 24);
    assert_true(desk_shows(r, "   ██████  ██      ████████    ████    ██████")); // its first word, and bigger
    desk_do(r, "safe");
    assert_true(desk_shows(r, " ███  ████ █  █ ████  ██  ███   ███  ██  █")); // REHEARSAL again
}

static void a_call_stays_beside_big_figures(void **state) {
    desk *r = *state;
    desk_type(r, "D");
    (void)desk_act(r, "call left hold, hold, hold", SM_SOURCE_INSTRUCTOR);
    desk_type(r, ":wind 3\n");
    assert_true(desk_shows(r, "CALL left 0 s ago: hold, hold, hold"));
    assert_true(desk_shows(r, " ███  ████ █  █ ████  ██  ███   ███  ██  █"));
}

static void in_a_terminal(int columns, int rows, const char *locale, const char *block) {
    console_rig r;
    const char *const environment[] = {locale, NULL};
    console_begin_at(&r, "0.3 s", columns, rows, environment);
    pty_expect(r.p, "earshot");
    pty_type(r.p, "n");
    pty_expect(r.p, "? help");
    pty_type(r.p, "D");
    pty_expect(r.p, block);
    pty_expect_row(r.p, 1, "REHEARSAL SAFE");
    pty_type(r.p, "D");
    pty_expect_gone(r.p, block);
    pty_type(r.p, ":unp\t");
    pty_expect(r.p, "unplug RAIL: unplug");
    pty_expect_cursor(r.p, true);
    pty_type(r.p, "\t\r");
    pty_expect(r.p, "unplug A");
    pty_type(r.p, ":\033[A"); // Up: the line before
    pty_expect(r.p, ": unplug A");
    pty_type(r.p, "\025plug A\rI");
    pty_expect(r.p, "HOLD BACK which?");
    pty_type(r.p, "a");
    pty_expect(r.p, "INHIB");
    pty_type(r.p, "Aaerial\r");
    pty_expect(r.p, "ALLOW aerial: A-02 (1 slot)");
    pty_type(r.p, "\r" F5);
    pty_expect(r.p, "of 5 MET. NEXT:");
    pty_type(r.p, "cK\rka");
    pty_expect(r.p, "Enter arm"); // its question is read first
    pty_type(r.p, "\r");
    pty_expect(r.p, "ARMED START BEGINS");
    pty_type(r.p, "Sin 60 min\r");
    pty_expect(r.p, "STARTS BY ITSELF AT");
    pty_type(r.p, "\r");
    pty_expect_row(r.p, 1, "REHEARSAL ARMED STARTS BY ITSELF AT");
    pty_type(r.p, "eM\r");
    pty_expect(r.p, "ITSELF CANCELLED");
    pty_type(r.p, F8);
    pty_expect_row(r.p, 1, "REHEARSAL SAFE");
    console_quit(&r);
    console_expect_log(&r, (const char *const[]){"console,unplug,,A,", "console,inhibit,,aerial,",
                                                 "console,allow,,aerial,", "console,start-in,,",
                                                 "engine,start-in,,cancelled,M went in", NULL});
    console_end(&r);
}

static void at_80x24(void **state) {
    (void)state;
    in_a_terminal(80, 24, "LC_ALL=C.UTF-8", "██████");
}

static void at_200x60_in_ascii(void **state) {
    (void)state;
    in_a_terminal(200, 60, "LC_ALL=C", "############");
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(big_figures_leave_what_must_be_seen, desk_setup_short, desk_teardown),
        cmocka_unit_test_setup_teardown(a_warning_stands_big, desk_setup_short, desk_teardown),
        cmocka_unit_test_setup_teardown(a_call_stays_beside_big_figures, desk_setup_short_drill,
                                        desk_teardown),
        cmocka_unit_test(at_80x24),
        cmocka_unit_test(at_200x60_in_ascii),
    };
    return cmocka_run_group_tests_name("console_big", tests, NULL, NULL);
}
