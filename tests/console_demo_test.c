// SPDX-License-Identifier: GPL-3.0-or-later
// The demo show on the console.
#include "support/console_rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

// The demo show, entered near its end, on a wall-sized terminal and on a small one.
static void the_demo_show(void **state) {
    (void)state;
    static const int sizes[][2] = {{80, 24}, {200, 60}};
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        console_rig r;
        console_begin_at(&r, "1 s", sizes[i][0], sizes[i][1], NULL);
        pty_destroy(r.p);
        const char *argv[] = {r.program, "demo-shows/lantern-quay", "--silent", "--log", r.log, NULL};
        r.p = pty_start(sizes[i][0], sizes[i][1], argv, NULL);
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
        console_expect_log(&r,
                           (const char *const[]){"console,seek,,1:22", "passed,102,A-01", "state,,running",
                                                 "fire,", "state,,ended", "state,,safe", NULL});
        console_end(&r);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_demo_show),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
