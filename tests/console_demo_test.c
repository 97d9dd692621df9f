// SPDX-License-Identifier: GPL-3.0-or-later
// The demo show on the console.
#include "support/at_once.h"
#include "support/console_rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

// The demo show, entered near its end.
static void at_size(int columns, int rows) {
    console_rig r;
    console_begin_at(&r, "1 s", columns, rows, NULL);
    pty_destroy(r.p);
    const char *argv[] = {r.program, "demo-shows/lantern-quay", "--silent", "--log", r.log, NULL};
    r.p = pty_start(columns, rows, argv, NULL);
    pty_expect(r.p, "It has no way to fire anything");
    pty_expect_row(r.p, 0, "Lantern Quay");
    pty_type(r.p, "y");
    pty_type(r.p, "cK\rk");
    pty_expect(r.p, "SAFE key ON");
    pty_type(r.p, ":speed 2\rj1:22\r");
    pty_expect(r.p, "START WILL BEGIN AT 1:22.000");
    pty_type(r.p, "a");
    pty_expect(r.p, "Enter arm"); // its question is read first
    pty_type(r.p, "\r");
    pty_expect(r.p, "START BEGINS AT 1:22.000 after 2.5 s");
    pty_type(r.p, "b");
    pty_expect(r.p, "Enter start"); // its question is read first
    pty_type(r.p, "\r");
    pty_expect(r.p, "COUNT");
    pty_expect(r.p, "comet-white"); // of the last chord
    pty_expect(r.p, "ENDED STILL ARMED");
    pty_expect(r.p, "passed over 39: LIVE, make safe");
    pty_type(r.p, " ");
    pty_expect(r.p, "SAFE key ON");
    console_quit(&r);
    console_expect_log(&r, (const char *const[]){"console,seek,,1:22", "passed,102,A-01", "state,,running",
                                                 "fire,", "state,,ended", "state,,safe", NULL});
    console_end(&r);
}

static void on_a_small_terminal(void **state) {
    (void)state;
    at_size(80, 24);
}

static void on_a_wall_sized_terminal(void **state) {
    (void)state;
    at_size(200, 60);
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(on_a_small_terminal),
        cmocka_unit_test(on_a_wall_sized_terminal),
    };
    return at_once_run("the demo show", tests, sizeof tests / sizeof tests[0], 2, argv);
}
