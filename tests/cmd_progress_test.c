// SPDX-License-Identifier: GPL-3.0-or-later
// The line that says how far something long has come, in a pseudo-terminal. Reading is made slow from
// outside: strace holds each read of one file back.
#include "support/at_once.h"
#include "support/folder.h"
#include "support/pty.h"
#include "support/show_folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

// Of the table that long_show writes: 14 reads of 0.15 s, whatever else the machine does.
#define SLOW "strace -f -qq -o /dev/null -P %s/cues.csv -e trace=read -e inject=read:delay_exit=150000 "

static const char *build(void) {
    const char *given = getenv("SLOWMATCH_BUILD");
    return given ? given : "build";
}

// A show whose cues.csv has 3.5 MB: not so long that it is read in parts.
static show_folder long_show(void) {
    const show_folder folder = show_folder_make_small();
    sm_text cues = {0};
    sm_text_printf(&cues, "time,target,do,fade\n0.5,A-01,comet,\n");
    for (int i = 0; i < 110000; i++)
        sm_text_printf(&cues, "%d.%03d,p-1,a=%d b=255 c=%d,0\n", i / 1000, i % 1000, i % 256, i * 7 % 256);
    show_folder_put(&folder, "profiles.csv", "name,channels,wire\nbar,a b c d,light\n");
    show_folder_put(&folder, "fixtures.csv", "name,profile,universe,address\np-1,bar,1,1\n");
    show_folder_put(&folder, "lines.csv", NULL);
    show_folder_put(&folder, "cues.csv", sm_text_get(&cues));
    sm_text_deinit(&cues);
    return folder;
}

static pty *in_shell(const char *line, int columns, const char *terminal) {
    char type[64];
    snprintf(type, sizeof type, "TERM=%s", terminal);
    return pty_start(columns, 24, (const char *const[]){"/bin/sh", "-c", line, NULL},
                     (const char *const[]){type, "ASAN_OPTIONS=detect_leaks=0", NULL});
}

static bool was_sent(const pty *p, const char *text) {
    size_t length;
    const char *sent = pty_sent(p, &length);
    return memmem(sent, length, text, strlen(text)) != NULL;
}

static void what_is_long_says_how_far_it_is(void **state) {
    (void)state;
    const show_folder folder = long_show();
    char line[300];
    snprintf(line, sizeof line, SLOW "%s/slowmatch check %s | tail -n 1", folder.path, build(), folder.path);
    pty *p = in_shell(line, 80, "xterm");
    pty_expect_end(p);
    assert_true(was_sent(p, "reading cues.csv: "));
    assert_true(was_sent(p, " of 3.") && was_sent(p, " MB, "));
    assert_true(was_sent(p, " a second, ") && was_sent(p, " s left"));
    assert_true(pty_shows(p, "not a statement that the show may be fired"));
    assert_false(pty_shows(p, "reading cues.csv"));
    assert_false(pty_shows(p, "checking: "));
    assert_false(pty_shows(p, "left"));
    pty_destroy(p);
    show_folder_remove(&folder);
}

static void it_is_one_line_on_a_narrow_terminal(void **state) {
    (void)state;
    const show_folder folder = long_show();
    char line[300];
    snprintf(line, sizeof line, SLOW "%s/slowmatch check %s >/dev/null; echo done", folder.path, build(),
             folder.path);
    pty *p = in_shell(line, 30, "xterm");
    pty_expect_end(p);
    assert_true(was_sent(p, "reading cues.csv: "));
    assert_string_equal(pty_row(p, 0), "done");
    pty_destroy(p);
    show_folder_remove(&folder);
}

// Not into a file, not on a terminal that cannot go back in its line; nor where it is over in a moment.
static void nothing_is_drawn_where_nobody_would_see_it(void **state) {
    (void)state;
    const show_folder folder = long_show();
    char line[400];
    snprintf(line, sizeof line, SLOW "%s/slowmatch check %s 2>%s/said >/dev/null; wc -c <%s/said",
             folder.path, build(), folder.path, folder.path, folder.path);
    pty *p = in_shell(line, 80, "xterm");
    pty_expect_end(p);
    assert_string_equal(pty_row(p, 0), "0");
    pty_destroy(p);
    snprintf(line, sizeof line, SLOW "%s/slowmatch check %s >/dev/null", folder.path, build(), folder.path);
    p = in_shell(line, 80, "dumb");
    pty_expect_end(p);
    assert_int_equal(pty_bytes(p), 0);
    pty_destroy(p);
    show_folder_remove(&folder);
}

// The demo's music, which has to be decoded to know its end.
static void music_is_counted_in_seconds(void **state) {
    (void)state;
    char data[] = "/tmp/slowmatch-progress-XXXXXX", line[500];
    assert_non_null(mkdtemp(data));
    snprintf(line, sizeof line,
             "XDG_CACHE_HOME=%s strace -f -qq -o /dev/null -P \"$PWD/demo-shows/lantern-quay/music.ogg\" -e "
             "trace=read "
             "-e inject=read:delay_exit=10000 %s/slowmatch check demo-shows/lantern-quay >/dev/null",
             data, build());
    pty *p = in_shell(line, 80, "xterm");
    pty_expect_end(p);
    assert_true(was_sent(p, "reading the music: "));
    assert_true(was_sent(p, " of 9") && was_sent(p, " s, ")); // it has some 90 s
    assert_string_equal(pty_row(p, 0), "");
    pty_destroy(p);
    snprintf(line, sizeof line, "rm -rf %s", data);
    assert_int_equal(system(line), 0); // NOLINT(cert-env33-c)
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_long_says_how_far_it_is),
        cmocka_unit_test(it_is_one_line_on_a_narrow_terminal),
        cmocka_unit_test(nothing_is_drawn_where_nobody_would_see_it),
        cmocka_unit_test(music_is_counted_in_seconds),
    };
    return at_once_run("cmd_progress", tests, sizeof tests / sizeof tests[0], 4, argv);
}
