// SPDX-License-Identifier: GPL-3.0-or-later
// The console in a real pseudo-terminal, as people have it before them.
#include "support/at_once.h"
#include "support/console_rig.h"

#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>

#include <cmocka.h>

// ---- the whole way -------------------------------------------------------------------------

static void a_rehearsal_from_start_to_finish(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    assert_true(strncmp(pty_row(r.p, 1), " REHEARSAL SAFE key OFF", 23) == 0);
    assert_true(pty_is_reversed(r.p, 11, 1) && pty_is_reversed(r.p, 14, 1));
    assert_false(pty_is_reversed(r.p, 9, 1));
    pty_type(r.p, ":read A-02 open\r");
    pty_type(r.p, "a");        // neither clear nor key: left by Enter too
    pty_expect(r.p, "leaves"); // its question is read first
    pty_type(r.p, "\r");
    pty_expect(r.p, "not done: arm will be refused");
    pty_type(r.p, ":waive readings A-02 broken lead\r");
    pty_expect(r.p, "waive readings A-02");
    console_arm(&r);
    pty_type(r.p, "b");
    pty_expect(r.p, "START counts down");
    pty_type(r.p, "\r");
    pty_expect(r.p, "ENDED STILL ARMED");
    pty_expect(r.p, "passed over 1: LIVE, make safe, key off"); // a waived slot is inhibited: held back
    pty_expect(r.p, "passed over or held back: 1 LIVE");
    pty_expect(r.p, "wait of 05:00 not begun (your setting)");
    pty_type(r.p, " ");
    pty_expect(r.p, "SAFE key ON");
    pty_expect(r.p, "all stay out");
    pty_type(r.p, "k");
    pty_expect(r.p, "SAFE key OFF");
    pty_type(r.p, "R");
    pty_expect(r.p, "RE-RIG (simulated)");
    pty_type(r.p, "\r");
    pty_expect(r.p, "passed over or held back: 0");
    console_quit(&r);
    assert_false(pty_is_alternate(r.p));
    assert_true(pty_cursor_is_visible(r.p));
    console_expect_log(
        &r, (const char *const[]){"wall,show,source,what", "console,read,,A-02,open", "console,call-clear,,K",
                                  "console,key,,on", "console,arm", "state,,armed", "console,start",
                                  "state,,running", "fire,3,A-01,fountain", "inhibited,5,A-02",
                                  "fire,6,B-01,long", "state,,ended", "console,safe", "state,,safe",
                                  "console,key,,off", "console,rerig", "console,quit", NULL});
    console_end(&r);
}

// As the alert counts it; -1: it does not stand.
static int seconds_left(pty *p) {
    static const char alert[] = "STILL BURNING 1: B-01 ";
    char *text = pty_text(p);
    const char *at = strstr(text, alert);
    const int left = at ? atoi(at + sizeof alert - 1) : -1;
    free(text);
    return left;
}

static void burning_goes_on_in_a_pause(void **state) {
    (void)state;
    console_rig r;
    console_begin_at(&r, "2000 s", 80, 24, NULL);
    pty_expect(r.p, "earshot");
    pty_type(r.p, "y");
    pty_expect(r.p, "tones off: live product is within earshot");
    console_arm(&r);
    pty_type(r.p, "j0.5\r"); // B-01 fires at 0.6 s
    pty_expect(r.p, "START BEGINS AT 0:00.500");
    // Slowly, so that there is time to pause before the end on any machine.
    pty_type(r.p, ":speed 0.1\r");
    pty_expect(r.p, "speed 0.1");
    pty_type(r.p, "b");
    pty_expect(r.p, "Enter start"); // its question is read first
    pty_type(r.p, "\r");
    pty_expect(r.p, "burning 1");
    pty_expect(r.p, "BURNS  B-01 long");
    pty_type(r.p, "p");
    pty_expect(r.p, "PAUSED STILL ARMED");
    pty_expect(r.p, "CAUTION STILL BURNING 1: B-01");
    assert_true(pty_is_reversed(r.p, 11, 1));
    const int left = seconds_left(r.p); // counts down during the pause
    assert_in_range(left, 1000, 2000);
    for (int i = 0; i < 600 && seconds_left(r.p) >= left; i++)
        pty_listen(r.p, 100);
    assert_in_range(seconds_left(r.p), 900, left - 1);
    pty_type(r.p, "r");
    pty_expect(r.p, "RESUME counts down");
    pty_type(r.p, "x"); // any other key leaves it
    pty_expect(r.p, "left: resume was not done");
    assert_true(pty_shows(r.p, "PAUSED STILL ARMED"));
    pty_type(r.p, " ");
    pty_expect(r.p, "CAUTION wait");
    pty_expect(r.p, "MADE SAFE AT 0:0");
    console_quit(&r);
    console_end(&r);
}

// ---- sizes -----------------------------------------------------------------------------------

static void any_size_at_any_moment(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    pty_resize(r.p, 200, 60);
    pty_expect(r.p, "at M1 from 1, left"); // rails beside the score
    pty_expect(r.p, "enable closed");      // and fixtures
    pty_expect_row(r.p, 1, "REHEARSAL SAFE key OFF");
    pty_resize(r.p, 40, 12);
    pty_expect_gone(r.p, "enable closed");
    pty_expect(r.p, "Tab: other boards");
    pty_expect_row(r.p, 1, "REHEARSAL SAFE key OFF");
    pty_expect_row(r.p, 11, "SPACE MAKE SAFE");
    pty_resize(r.p, 30, 8);
    pty_expect(r.p, "40x12");
    pty_expect_row(r.p, 0, "REHEARSAL SAFE");
    pty_expect(r.p, "SPACE makes safe");
    pty_resize(r.p, 3, 1);
    pty_resize(r.p, 1, 1);
    pty_resize(r.p, 80, 24);
    pty_expect(r.p, "now 0:00.0");
    console_quit(&r);
    console_end(&r);
}

static void the_rehearsal_goes_on_in_a_tiny_terminal(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    console_arm(&r);
    pty_type(r.p, "b");
    pty_expect(r.p, "Enter start"); // its question is read first
    pty_type(r.p, "\r");
    pty_expect(r.p, "REHEARSAL RUNNING");
    pty_resize(r.p, 20, 5);
    pty_expect(r.p, "40x12");
    pty_expect(r.p, "REHEARSAL ENDED");
    pty_type(r.p, " ");
    pty_expect(r.p, "REHEARSAL SAFE");
    pty_resize(r.p, 80, 24); // what cannot be asked here, quitting too, is asked there
    pty_expect(r.p, "fired ");
    console_quit(&r);
    console_end(&r);
}

// Kilobytes of memory that the program has held at most.
static long most_memory_kb(pty *p) {
    char path[64], line[256];
    snprintf(path, sizeof path, "/proc/%d/status", pty_pid(p));
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    long most = 0;
    while (fgets(line, sizeof line, file))
        if (strncmp(line, "VmHWM:", 6) == 0)
            most = strtol(line + 6, NULL, 10);
    fclose(file);
    assert_true(most > 0);
    return most;
}

// A window may say to be of any size up to 65535 by 65535 (TIOCSWINSZ, ioctl_tty(2)); in cells that would be 64 gigabytes.
static void a_size_that_no_screen_has_is_drawn_in_part(void **state) {
    (void)state;
    static const int sizes[][2] = {{12000, 24}, {65535, 65535}, {80, 65535}};
    console_rig r;
    console_begin_at(&r, "0.3 s", 65535, 65535, NULL);
    pty_expect(r.p, "It has no way to fire anything");
    pty_type(r.p, "n");
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        size_t before = pty_bytes(r.p);
        pty_resize(r.p, sizes[i][0], sizes[i][1]);
        while (pty_bytes(r.p) < before + 1000 &&
               !pty_is_closed(r.p)) // more than what ages send: all of it was drawn
            pty_listen(r.p, 20);
        pty_resize(r.p, 80, 24);
        pty_expect(r.p, "now 0:00.0");
        pty_expect_row(r.p, 1, "REHEARSAL SAFE key OFF");
    }
    assert_true(most_memory_kb(r.p) < 600 * 1024);
    console_quit(&r);
    console_end(&r);
}

// ---- readings -----------------------------------------------------------------------------------

static void readings_typed_on_the_rails_board(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    pty_type(r.p, F3);
    pty_expect(r.p, "at M1 from 1, left");
    pty_type(r.p, "2.01\r"); // A-01; the cursor goes on to A-02
    pty_expect(r.p, "read A-01 2.01");
    pty_type(r.p, "o"); // A-02
    pty_expect(r.p, "read A-02 open");
    pty_expect(r.p, "OPEN");
    pty_type(r.p, "\033[B\033[D"); // down to B-03, left to B-02: a spare
    pty_expect(r.p, "B-02 spare");
    pty_type(r.p, "1.9\177\177\177\033"); // typed, taken back, left
    pty_type(r.p, "s");
    pty_expect(r.p, "read B-02 short");
    pty_expect(r.p, "STRAY");
    pty_type(r.p, "u"); // undo
    pty_expect_gone(r.p, "STRAY");
    console_quit(&r);
    console_expect_log(&r, (const char *const[]){"console,read,,A-01,2.01", "console,read,,A-02,open",
                                                 "console,read,,B-02,short", "console,undo", NULL});
    console_end(&r);
}

static void readings_taken_from_a_file(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    short_show_write(&r.show, "night.csv", "rail,slot,reading\nA,1,2.05\nA,2,short\nB,1,2.07\n");
    pty_type(r.p, "f");
    pty_expect(r.p, "file of readings:");
    pty_expect(r.p, "F8 MAKE SAFE");
    pty_type(r.p, short_show_path(&r.show, "night.csv"));
    pty_type(r.p, "\r");
    pty_expect(r.p, "3 readings taken from");
    pty_type(r.p, "f/no/such.csv\r"); // what was typed stays to be mended
    pty_expect(r.p, "/no/such.csv cannot be opened");
    pty_expect(r.p, "file of readings: /no/such.csv");
    pty_type(r.p, "\033");
    pty_expect_gone(r.p, "file of readings:");
    pty_expect(r.p, "3 of 3 read");
    pty_type(r.p, F5);
    pty_expect(r.p, "A-02 short");
    short_show_write(&r.show, "night.csv", "rail,slot,reading\nA,1,good\nC,2,short\n");
    pty_type(r.p, "f");
    pty_type(r.p, short_show_path(&r.show, "night.csv"));
    pty_type(r.p, "\r");
    pty_expect(r.p, "see notes");
    pty_type(r.p, F7);
    pty_expect(r.p, "night.csv:2:5: error:");
    pty_expect(r.p, "night.csv:3:1: error:");
    console_quit(&r);
    console_end(&r);
}

// ---- reload --------------------------------------------------------------------------------------------

static void reload_keeps_readings(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    pty_type(r.p, ":read A-01 2.05\r");
    pty_expect(r.p, "1 of 3 read");
    char *cues = short_show_read(&r.show, "cues.csv");
    char more[2048];
    snprintf(more, sizeof more, "%s0.9,A-04,comet,,,7,the late one\n", cues);
    short_show_write(&r.show, "cues.csv", more);
    pty_type(r.p, "L");
    pty_expect(r.p, "the show was read again");
    pty_expect(r.p, "the late one");
    pty_expect(r.p, "1 of 4 read");
    snprintf(more, sizeof more, "%s0.9,A-09,comet,,,7,\n0.9,Z-01,comet,,,8,\n", cues);
    short_show_write(&r.show, "cues.csv", more);
    pty_type(r.p, "L");
    pty_expect(r.p, "the show stays as it was");
    pty_expect(r.p, "the late one");
    pty_type(r.p, F7);
    pty_expect(r.p, "cues.csv:8:");
    pty_expect(r.p, "cues.csv:9:");
    free(cues);
    console_quit(&r);
    console_end(&r);
}

// ---- terminals of all kinds -------------------------------------------------------------------------------

static void without_utf8_there_is_only_ascii(void **state) {
    (void)state;
    console_rig r;
    console_begin_at(&r, "0.3 s", 80, 24, (const char *const[]){"LC_ALL=C", NULL});
    pty_expect(r.p, "It has no way to fire anything");
    pty_type(r.p, "n");
    pty_expect(r.p, "-- now 0:00.0");
    for (int row = 0; row < 24; row++)
        for (const char *at = pty_row(r.p, row); *at; at++)
            assert_true((unsigned char)*at < 0x80);
    console_quit(&r);
    console_end(&r);
}

static void without_colours_the_state_is_still_reversed(void **state) {
    (void)state;
    static const char *const terms[][3] = {
        {"TERM=vt100", NULL}, {"TERM=xterm-256color", "NO_COLOR=1", NULL}, {"TERM=linux", NULL}};
    for (size_t i = 0; i < sizeof terms / sizeof terms[0]; i++) {
        console_rig r;
        console_begin_at(&r, "0.3 s", 80, 24, terms[i]);
        pty_expect(r.p, "It has no way to fire anything");
        pty_type(r.p, "n");
        console_arm(&r);
        pty_expect_row(r.p, 1, "REHEARSAL ARMED");
        assert_true(pty_is_reversed(r.p, 11, 1));
        console_quit(&r);
        console_end(&r);
    }
}

static void nothing_is_sent_while_nothing_changes(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    pty_listen(r.p, 500); // until what was still on its way has come
    size_t before = pty_bytes(r.p);
    pty_listen(r.p, 1500);
    assert_int_equal(pty_bytes(r.p), before);
    console_quit(&r);
    console_end(&r);
}

static void trouble_is_one_line_and_exit_2(void **state) {
    (void)state;
    console_rig r;
    console_begin_at(&r, "0.3 s", 80, 24, NULL);
    pty_destroy(r.p);
    const char *argv[] = {r.program, r.show.folder, "--silent", "--log", "/no/such/folder/log.csv", NULL};
    r.p = pty_start(120, 24, argv, NULL);
    int status = pty_expect_end(r.p);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 2);
    assert_true(
        pty_shows(r.p, "/no/such/folder/log.csv: the log cannot be written: No such file or directory"));
    console_end(&r);
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_rehearsal_from_start_to_finish),
        cmocka_unit_test(burning_goes_on_in_a_pause),
        cmocka_unit_test(any_size_at_any_moment),
        cmocka_unit_test(a_size_that_no_screen_has_is_drawn_in_part),
        cmocka_unit_test(the_rehearsal_goes_on_in_a_tiny_terminal),
        cmocka_unit_test(readings_typed_on_the_rails_board),
        cmocka_unit_test(readings_taken_from_a_file),
        cmocka_unit_test(reload_keeps_readings),
        cmocka_unit_test(without_utf8_there_is_only_ascii),
        cmocka_unit_test(without_colours_the_state_is_still_reversed),
        cmocka_unit_test(nothing_is_sent_while_nothing_changes),
        cmocka_unit_test(trouble_is_one_line_and_exit_2),
    };
    return at_once_run("a terminal", tests, sizeof tests / sizeof tests[0], 6, argv);
}
