// SPDX-License-Identifier: GPL-3.0-or-later
// One call of the system fails, each in its turn (tests/tools/faults.c), under a console in a pseudo-terminal: it goes on, or ends and says
// why, and in both cases the terminal is given back. Each kind a few times; many more in `make soak`.
#include "support/console_rig.h"
#include "support/sanitized.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#include <cmocka.h>

#define TRIES_MS 20000 // that only a hanging console meets
#define CALLS_MAX 20000

static const struct kind {
    const char *name;
    long at[2]; // 0: none
} kinds[] = {
    {"allocation", {40, 900}},   {"thread", {1, 2}}, {"file", {3, 0}},    {"write", {2, 0}},
    {"write cut short", {9, 0}}, {"read", {1, 0}},   {"mapping", {1, 0}}, {"socket", {1, 0}},
};

// "" where all is well.
static const char *console_under(const char *kind, long at) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char layer[512], at_text[40], kind_text[64];
    console_rig r;
    snprintf(layer, sizeof layer, "LD_PRELOAD=%s/faults.so", build ? build : "build");
    snprintf(at_text, sizeof at_text, "FAULT_AT=%ld", at);
    snprintf(kind_text, sizeof kind_text, "FAULT_KIND=%s", kind);
    console_begin_at(&r, "0.3 s", 80, 24, (const char *[]){layer, at_text, kind_text, NULL});
    int waited_ms = 0;
    for (; !pty_is_closed(r.p) && !pty_shows(r.p, "It has no way to fire anything") && waited_ms < TRIES_MS;
         waited_ms += 20)
        pty_listen(r.p, 20);
    // What a fault swallowed is typed again, as a person would.
    for (const char *keys = "ncK\rk:note two words\r"; !pty_is_closed(r.p) && waited_ms < TRIES_MS;
         waited_ms += 200, keys = "\033q\r") {
        pty_type(r.p, keys);
        pty_listen(r.p, 200);
    }
    const char *wrong = pty_is_closed(r.p) ? "" : "it does not quit";
    if (!*wrong) {
        const int status = pty_expect_end(r.p);
        const bool ended = WIFEXITED(status) && (WEXITSTATUS(status) == 0 || WEXITSTATUS(status) == 2);
        wrong = !ended ? "it died"
                : pty_is_alternate(r.p) || pty_tells_mouse(r.p) || pty_marks_pastes(r.p) ||
                        !pty_cursor_is_visible(r.p)
                    ? "the terminal is not given back"
                    : "";
    }
    if (*wrong) {
        char *screen = pty_text(r.p);
        fprintf(stderr, "console, %s %ld failed: %s\n%s", kind, at, wrong, screen);
        free(screen);
    }
    console_end(&r);
    return wrong;
}

static void the_terminal_is_given_back(void **state) {
    (void)state;
#ifdef SANITIZED
    skip(); // their allocator must be the first
#endif
    const bool all = getenv("SLOWMATCH_SOAK");
    unsigned tried = 0, bad = 0;
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        for (size_t k = 0; k < 2 && kinds[i].at[k]; k++, tried++)
            bad += *console_under(kinds[i].name, kinds[i].at[k]) != '\0';
        for (long at = 1; all && at < CALLS_MAX; at += 1 + at / 8, tried++)
            bad += *console_under(kinds[i].name, at) != '\0';
    }
    print_message("faults_console_test: %u consoles\n", tried);
    assert_int_equal(bad, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_terminal_is_given_back),
    };
    return cmocka_run_group_tests_name("faults_console", tests, NULL, NULL);
}
