// SPDX-License-Identifier: GPL-3.0-or-later
// Stops: make safe from everywhere, signals, a terminal that goes away or stalls, Ctrl-C and Ctrl-Z.
#include "support/at_once.h"
#include "support/console_rig.h"

#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>

#include <cmocka.h>

static void make_safe_is_one_key_from_everywhere(void **state) {
    (void)state;
    console_rig r;
    static const char *const before[] = {
        "", F3, F6, "?", ":note two words ", "T", "b", ":", ":note two words "};
    static const char *const stop[] = {" ", " ", " ", " ", F8, " ", " ", " ", " "};
    console_begin(&r);
    for (size_t i = 0; i < sizeof before / sizeof before[0]; i++) {
        if (i > 0) {
            pty_type(r.p, "k"); // off again
            pty_expect(r.p, "SAFE key OFF");
        }
        console_arm(&r);
        pty_type(r.p, before[i]);
        pty_type(r.p, stop[i]);
        pty_expect(r.p, "REHEARSAL SAFE key ON");
        pty_type(r.p, "\033"); // out of help, whatever is open
        pty_expect_gone(r.p, "any other key leaves");
        pty_expect_gone(r.p, "earshot?");
    }
    console_quit(&r);
    console_end(&r);
}

static void signals_make_safe_and_give_the_terminal_back(void **state) {
    (void)state;
    static const int signals[] = {SIGTERM, SIGINT, SIGHUP, SIGQUIT};
    for (size_t i = 0; i < sizeof signals / sizeof signals[0]; i++) {
        console_rig r;
        console_begin(&r);
        console_arm(&r);
        assert_true(pty_is_alternate(r.p) && pty_marks_pastes(r.p));
        pty_signal(r.p, signals[i]);
        int status = pty_expect_end(r.p);
        assert_true(WIFSIGNALED(status));
        assert_int_equal(WTERMSIG(status), signals[i]);
        assert_false(pty_is_alternate(r.p) || pty_marks_pastes(r.p));
        assert_true(pty_cursor_is_visible(r.p));
        console_expect_log(&r,
                           (const char *const[]){"state,,armed", "console,safe", "state,,safe,armed", NULL});
        console_end(&r);
    }
}

static void a_terminal_that_goes_away_makes_safe(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    console_arm(&r);
    int status = pty_hang_up(r.p);
    assert_true(WIFSIGNALED(status));
    assert_int_equal(WTERMSIG(status), SIGHUP);
    console_expect_log(&r, (const char *const[]){"state,,armed", "console,safe", "state,,safe,armed", NULL});
    console_end(&r);
}

static void rest(void) {
    struct timespec pause = {.tv_nsec = 10000000};
    nanosleep(&pause, NULL);
}

// Waits for TEXT in the log, without reading the terminal.
static void wait_for_log(console_rig *r, const char *text) {
    for (int i = 0; i < 6000; i++) {
        char *log = short_show_read(&r->show, "log.out");
        bool found = strstr(log, text) != NULL;
        free(log);
        if (found)
            return;
        rest();
    }
    fail_msg("never came into the log: %s", text);
}

static void a_terminal_that_takes_no_more_holds_nothing(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    console_arm(&r);
    pty_type(r.p, "b");
    pty_expect(r.p, "Enter start");
    pty_type(r.p, "\r");
    for (int i = 0; i < 100; i++) { // paints that nobody reads, until the line is full
        pty_type(r.p, "\014");
        rest();
    }
    wait_for_log(&r, "state,,ended");
    pty_type(r.p, " "); // blindly
    wait_for_log(&r, "state,,safe,ended");
    pty_signal(r.p, SIGTERM);
    int status = pty_expect_end_unread(r.p);
    assert_true(WIFSIGNALED(status));
    assert_int_equal(WTERMSIG(status), SIGTERM);
    console_expect_log(&r, (const char *const[]){"state,,running", "fire,3,A-01", "state,,ended",
                                                 "console,safe", "state,,safe,ended", "console,safe", NULL});
    console_end(&r);
}

static void ctrl_c_makes_safe_and_asks(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    console_arm(&r);
    pty_type(r.p, ":note half a li\003");
    pty_expect(r.p, "quit: makes safe, and leaves. Enter does it");
    pty_expect(r.p, "SAFE key ON");
    pty_type(r.p, "\033");
    pty_expect(r.p, "left: quit was not done");
    pty_type(r.p, "?\003");
    pty_expect(r.p, "quit: makes safe, and leaves. Enter does it");
    pty_type(r.p, "\r");
    int status = pty_expect_end(r.p);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    console_expect_log(
        &r, (const char *const[]){"state,,armed", "console,safe", "state,,safe,armed", "console,quit", NULL});
    console_end(&r);
}

static void a_second_ctrl_c_ends_as_its_signal_does(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    console_arm(&r);
    pty_type(r.p, "\003");
    pty_expect(r.p, "quit: makes safe, and leaves. Enter does it");
    pty_type(r.p, "\003");
    int status = pty_expect_end(r.p);
    assert_true(WIFSIGNALED(status));
    assert_int_equal(WTERMSIG(status), SIGINT);
    console_expect_log(&r, (const char *const[]){"state,,armed", "console,safe", NULL});
    console_end(&r);
}

static void ctrl_z_makes_safe_first(void **state) {
    (void)state;
    console_rig r;
    console_begin_at(&r, "0.3 s", 80, 24, NULL);
    pty_destroy(r.p);
    char line[2048];
    snprintf(
        line, sizeof line,
        "set -m; '%s' '%s' --silent --log '%s'; echo stopped; read go; fg >/dev/null; echo came back; cat",
        r.program, r.show.folder, r.log);
    const char *argv[] = {"/bin/sh", "-c", line, NULL};
    r.p = pty_start(80, 24, argv, NULL);
    pty_expect(r.p, "It has no way to fire anything");
    pty_type(r.p, "y");
    console_arm(&r);
    assert_true(pty_tells_mouse(r.p));
    pty_type(r.p, "\032");
    pty_expect(r.p, "stopped");
    assert_false(pty_marks_pastes(r.p));
    pty_type(r.p, "\n"); // the shell brings it back
    pty_expect(r.p, "REHEARSAL SAFE key ON");
    pty_expect(r.p, "now 0:00.0");
    assert_true(pty_marks_pastes(r.p));
    pty_type(r.p, "q\r");
    pty_expect(r.p, "came back");
    assert_true(pty_shows(r.p, "stopped"));
    assert_false(pty_is_alternate(r.p));
    assert_false(pty_tells_mouse(r.p)); // what it told before, and after, was taken back each time
    console_expect_log(
        &r, (const char *const[]){"state,,armed", "console,safe", "state,,safe,armed", "console,quit", NULL});
    console_end(&r);
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(make_safe_is_one_key_from_everywhere),
        cmocka_unit_test(signals_make_safe_and_give_the_terminal_back),
        cmocka_unit_test(a_terminal_that_goes_away_makes_safe),
        cmocka_unit_test(a_terminal_that_takes_no_more_holds_nothing),
        cmocka_unit_test(ctrl_c_makes_safe_and_asks),
        cmocka_unit_test(a_second_ctrl_c_ends_as_its_signal_does),
        cmocka_unit_test(ctrl_z_makes_safe_first),
    };
    return at_once_run("stops on the console", tests, sizeof tests / sizeof tests[0], 6, argv);
}
