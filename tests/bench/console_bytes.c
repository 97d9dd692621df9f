// SPDX-License-Identifier: GPL-3.0-or-later
// Bytes that the console sends to a terminal of 80x24 a second: while the demo show plays, on each board, and while nothing moves.
#include "../support/console_rig.h"
#include "../support/pty.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

enum { PLAYED_S = 10, STOOD_S = 3 };

int main(void) {
    static const struct {
        const char *name, *key;
    } boards[] = {{"score", "\033OQ"},   {"rails", "\033OR"}, {"fixtures", "\033OS"}, {"guards", "\033[15~"},
                  {"after", "\033[17~"}, {"log", "\033[20~"}, {"ground", "\033[21~"}, {"walk", "\033[24~"}};
    const char *build = getenv("SLOWMATCH_BUILD");
    char program[512];
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    const char *argv[] = {program, "rehearse", "demo-shows/lantern-quay", "--silent", NULL};
    pty *p = pty_start(80, 24, argv, NULL);
    pty_expect(p, "earshot?");
    pty_type(p, "y");
    pty_expect(p, "── now ");
    pty_listen(p, 1500);
    size_t before = pty_bytes(p);
    pty_listen(p, STOOD_S * 1000);
    printf("nothing moves: %zu bytes in %d s\n", pty_bytes(p) - before, STOOD_S);
    console_start_playing(p);
    for (size_t i = 0; i < sizeof boards / sizeof boards[0]; i++) {
        pty_type(p, boards[i].key);
        pty_listen(p, 300);
        before = pty_bytes(p);
        pty_listen(p, PLAYED_S * 1000);
        printf("playing, %s: %.2f KiB/s (4 at most is wanted)\n", boards[i].name,
               (double)(pty_bytes(p) - before) / 1024 / PLAYED_S);
    }
    pty_destroy(p);
    return 0;
}
