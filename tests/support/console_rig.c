// SPDX-License-Identifier: GPL-3.0-or-later
#include "console_rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#include <cmocka.h>

void console_begin_at(console_rig *r, const char *lasts, int columns, int rows,
                      const char *const *environment) {
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(r->program, sizeof r->program, "%s/slowmatch", build ? build : "build");
    short_show_make(&r->show, lasts);
    snprintf(r->log, sizeof r->log, "%s", short_show_path(&r->show, "log.out"));
    const char *argv[] = {r->program, "rehearse", r->show.folder, "--silent", "--log", r->log, NULL};
    r->p = pty_start(columns, rows, argv, environment);
}

void console_begin(console_rig *r) {
    console_begin_at(r, "0.3 s", 80, 24, NULL);
    pty_expect(r->p, "It has no way to fire anything");
    pty_type(r->p, "n");
    pty_expect(r->p, "tones on");
}

void console_end(console_rig *r) {
    pty_destroy(r->p);
    short_show_remove(&r->show);
}

void console_quit(console_rig *r) {
    pty_type(r->p, "q\r");
    int status = pty_expect_end(r->p);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
}

void console_arm(console_rig *r) {
    pty_type(r->p, "cK\r");
    pty_expect(r->p, "clear called by K");
    pty_type(r->p, "k");
    pty_expect(r->p, "SAFE key ON");
    pty_type(r->p, "a");
    pty_expect(r->p, "ARM the rehearsed module");
    pty_type(r->p, "\r");
    pty_expect(r->p, "ARMED START BEGINS AT 0:00.000 after");
}

void console_start_playing(pty *p) {
    pty_type(p, "cB\r");
    pty_expect(p, "clear called by B");
    pty_type(p, "ka");
    pty_expect(p, "Enter arm");
    pty_type(p, "\r");
    pty_expect(p, "ARMED START BEGINS");
    pty_type(p, "b");
    pty_expect(p, "Enter start");
    pty_type(p, "\r");
    pty_expect(p, "RUNNING");
}

void console_expect_log(console_rig *r, const char *const *texts) {
    char *log = short_show_read(&r->show, "log.out");
    const char *at = log;
    for (; *texts; texts++) {
        const char *found = strstr(at, *texts);
        if (!found) {
            fprintf(stderr, "not in the log, or not there: %s\n%s", *texts, log);
            fail();
        }
        at = found + strlen(*texts);
    }
    free(log);
}
