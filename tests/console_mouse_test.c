// SPDX-License-Identifier: GPL-3.0-or-later
// The mouse in a real pseudo-terminal. The reports are those of xterm's control sequences, mode 1006 (read in xterm's
// ctlseqs page): ESC [ < button ; column ; row M, columns and rows from 1, m when it is released, 64 and 65 for the wheel.
#include "support/console_rig.h"

#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// Where TEXT begins on the screen, from 1. Fails where it is not there.
static void find(console_rig *r, const char *text, int *column, int *row) {
    pty_expect(r->p, text);
    for (int y = 0; y < 60; y++) {
        const char *line = pty_row(r->p, y);
        const char *found = strstr(line, text);
        if (found) {
            *column = 1;
            *row = y + 1;
            for (; line < found; line++)
                *column += (*line & 0xC0) != 0x80; // characters, all of one column here
            return;
        }
    }
    fail();
}

static void report(console_rig *r, int button, int column, int row, char end) {
    char bytes[40];
    snprintf(bytes, sizeof bytes, "\033[<%d;%d;%d%c", button, column, row, end);
    pty_type(r->p, bytes);
}

static void click(console_rig *r, const char *text) {
    int column, row;
    find(r, text, &column, &row);
    report(r, 0, column + 1, row, 'M');
    report(r, 0, column + 1, row, 'm');
}

static void a_click_chooses_a_board(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    assert_true(pty_tells_mouse(r.p));
    click(&r, "Tab: other boards"); // where they do not fit
    pty_expect(r.p, "at M1 from 1, left");
    pty_resize(r.p, 120, 40);
    click(&r, "F5 guards");
    pty_expect(r.p, "NOT MET");
    click(&r, "F2 score");
    pty_expect(r.p, "now 0:00.0");
    console_quit(&r);
    assert_false(pty_tells_mouse(r.p));
    console_end(&r);
}

static void a_click_chooses_among_boards_side_by_side(void **state) {
    (void)state;
    console_rig r;
    console_begin_at(&r, "0.3 s", 200, 60, NULL);
    pty_expect(r.p, "It has no way to fire anything");
    pty_type(r.p, "n");
    int column, row;
    find(&r, "at M1 from 1, left", &column, &row);
    report(&r, 0, column, row, 'M'); // a heading: the cursor stays
    pty_type(r.p, "2.01\r");         // the rails board has the keys
    pty_expect(r.p, "1 of 3 read");
    find(&r, "at M1 from 5, right", &column, &row);
    find(&r, "B plugged", &column, &row);
    report(&r, 0, column + 5, row + 1, 'M'); // above its first slot
    pty_type(r.p, "2.01\r");
    pty_expect(r.p, "read B-01 2.01");
    console_quit(&r);
    console_end(&r);
}

// A click makes safe, and does nothing that arms: a question stands until a key answers it.
static void a_click_makes_safe_and_never_arms(void **state) {
    (void)state;
    console_rig r;
    console_begin_at(&r, "2000 s", 80, 24, NULL);
    pty_expect(r.p, "earshot");
    pty_type(r.p, "n");
    pty_type(r.p, "cK\rk");
    pty_expect(r.p, "SAFE key ON");
    pty_type(r.p, "a");
    pty_expect(r.p, "ARM the rehearsed module");
    click(&r, "Enter arm");
    pty_expect(r.p, "left: arm was not done");
    pty_expect_row(r.p, 1, "REHEARSAL SAFE");
    pty_expect_gone(
        r.p, "Enter arm"); // the last row, painted last: else the old question is taken for the new one
    pty_type(r.p, "a");
    pty_expect(r.p, "Enter arm");
    pty_type(r.p, "\r");
    pty_expect(r.p, "ARMED START BEGINS AT");
    click(&r, "b start"); // a hint is no button
    click(&r, "MAKE SAFE");
    pty_expect_row(r.p, 1, "REHEARSAL SAFE key ON");
    pty_type(r.p, ":");
    pty_expect(r.p, "F8 MAKE SAFE");
    click(&r, "MAKE SAFE"); // where text is typed, too
    pty_expect(r.p, "SPACE MAKE SAFE");
    console_quit(&r);
    char *log = short_show_read(&r.show, "log.out");
    assert_null(strstr(log, ",start,"));
    assert_non_null(strstr(log, "console,arm"));
    free(log);
    console_end(&r);
}

// The key that makes safe is never taken for a part of a report that was cut short.
static void a_report_cut_short_takes_no_key_away(void **state) {
    (void)state;
    static const char *const cut[] = {"\033[<",   "\033[<0", "\033[<0;1", "\033[<0;1;",
                                      "\033[<;;", "\033[",   "\033[1;"};
    console_rig r;
    console_begin(&r);
    for (size_t i = 0; i < sizeof cut / sizeof cut[0]; i++) {
        console_arm(&r);
        char bytes[16];
        snprintf(bytes, sizeof bytes, "%s ", cut[i]);
        pty_type(r.p, bytes);
        pty_expect_row(r.p, 1, "REHEARSAL SAFE");
        pty_type(r.p, "k");
        pty_expect_row(r.p, 1, "key OFF");
    }
    console_quit(&r);
    console_end(&r);
}

static void the_wheel_scrolls(void **state) {
    (void)state;
    console_rig r;
    console_begin_at(&r, "0.3 s", 40, 12, NULL);
    pty_expect(r.p, "no way to fire");
    pty_type(r.p, "n");
    pty_expect(r.p, "now 0:00.0");
    pty_type(r.p, "?");
    pty_expect_row(r.p, 11, "Up Down scroll"); // painted last
    char before[200];
    snprintf(before, sizeof before, "%s", pty_row(r.p, 6));
    report(&r, 65, 5, 6, 'M');
    pty_expect_gone(r.p, before);
    report(&r, 64, 5, 6, 'M');
    pty_expect(r.p, before);
    report(&r, 0, 5, 6, 'M'); // a click leaves, as any key
    pty_expect(r.p, "now 0:00.0");
    report(&r, 0, 99999999, 99999999, 'M');
    report(&r, 0, 0, 0, 'M');
    report(&r, 1, 5, 6, 'M'); // the other buttons are nobody's
    report(&r, 2, 5, 6, 'M');
    console_quit(&r);
    console_end(&r);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_click_chooses_a_board),
        cmocka_unit_test(a_click_chooses_among_boards_side_by_side),
        cmocka_unit_test(a_click_makes_safe_and_never_arms),
        cmocka_unit_test(a_report_cut_short_takes_no_key_away),
        cmocka_unit_test(the_wheel_scrolls),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
