// SPDX-License-Identifier: GPL-3.0-or-later
// From a key to the changed screen: the console with the demo show while it plays and while it stands, against cat's echo of a line, in
// the same pseudo-terminal. Keys come at uneven moments, as people's do. One frame is 33 ms.
#include "../support/console_rig.h"
#include "../support/pty.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include <cmocka.h>

enum { KEYS = 200 };

typedef struct spread {
    double median_ms, p99_ms, most_ms;
} spread;

static double now_ms(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec * 1e3 + 1e-6 * (double)now.tv_nsec;
}

static int compare(const void *left, const void *right) {
    const double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static void breathe(pty *p, int i) {
    pty_listen(p, 60 + i * 37 % 90);
}

// Types FIRST and SECOND in turn; each shows its text.
static spread measure(pty *p, const char *const keys[2], const char *const texts[2]) {
    double took_ms[KEYS];
    for (int i = 0; i < KEYS; i++) {
        breathe(p, i);
        double began_ms = now_ms();
        pty_type(p, keys[i % 2]);
        pty_expect(p, texts[i % 2]);
        took_ms[i] = now_ms() - began_ms;
    }
    qsort(took_ms, KEYS, sizeof *took_ms, compare);
    return (spread){took_ms[KEYS / 2], took_ms[KEYS * 99 / 100], took_ms[KEYS - 1]};
}

static void tell(const char *what, spread of) {
    printf("%s: median %.1f ms, 99 %% within %.1f ms, most %.1f ms\n", what, of.median_ms, of.p99_ms,
           of.most_ms);
}

static spread of_cat(void) {
    const char *argv[] = {"/bin/cat", NULL};
    pty *p = pty_start(80, 24, argv, NULL);
    double took_ms[KEYS];
    for (int i = 0; i < KEYS; i++) {
        char line[16], text[16];
        snprintf(line, sizeof line, "k%d.\r", i);
        snprintf(text, sizeof text, "k%d.", i);
        breathe(p, i);
        double began_ms = now_ms();
        pty_type(p, line);
        pty_expect(p, text);
        took_ms[i] = now_ms() - began_ms;
    }
    pty_destroy(p);
    qsort(took_ms, KEYS, sizeof *took_ms, compare);
    return (spread){took_ms[KEYS / 2], took_ms[KEYS * 99 / 100], took_ms[KEYS - 1]};
}

int main(void) {
    static const char *const keys[] = {"\033[15~", "\033OQ"}; // F5 guards, F2 score
    static const char *const texts[] = {"NOT CHECKED", "── now "};
    const char *build = getenv("SLOWMATCH_BUILD");
    char program[512];
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    tell("cat's echo of a line", of_cat());
    const char *argv[] = {program, "rehearse", "demo-shows/lantern-quay", "--silent", NULL};
    pty *p = pty_start(80, 24, argv, NULL);
    pty_expect(p, "earshot?");
    pty_type(p, "y");
    pty_expect(p, "── now ");
    tell("console, standing: key to another board", measure(p, keys, texts));
    console_start_playing(p);
    tell("console, playing: key to another board", measure(p, keys, texts));
    pty_destroy(p);
    return 0;
}
