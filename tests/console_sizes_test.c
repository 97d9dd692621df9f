// SPDX-License-Identifier: GPL-3.0-or-later
// Every board in a real pseudo-terminal, at four sizes, with and without UTF-8 and colours; and random keys, clicks and resizes. What
// stands on the terminal is held against what a repaint puts there: a cell that was left over, or fell outside, differs.
#include "boards/boards.h"
#include "support/at_once.h"
#include "support/console_rig.h"

#include <limits.h>
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// Opens the command line: when its last row is seen, all that was typed before has been taken in, and all rows above are painted, for
// a frame is painted from above. Returns the rows above; the caller frees.
static char *look(pty *p) {
    pty_type(p, ":");
    pty_expect(p, "F8 MAKE SAFE");
    char *text = pty_text(p);
    char *last = text + strlen(text) - 1;
    while (last > text && last[-1] != '\n')
        last--;
    *last = '\0';
    return text;
}

// Leaves it: empty, it changes nothing.
static void go_on(pty *p) {
    pty_type(p, "\r");
    pty_expect_gone(p, "F8 MAKE SAFE");
}

// Terminals that do not repeat a character by a sequence (REP): libvterm 0.1.4 repeats one too often.
#define PLAIN_TERM "TERM=screen-256color"

static const struct {
    const char *says;
    const char *environment[4];
    bool utf8, colours;
} modes[] = {
    {"UTF-8, colours", {PLAIN_TERM, NULL}, true, true},
    {"UTF-8, NO_COLOR", {PLAIN_TERM, "NO_COLOR=1", NULL}, true, false},
    {"ASCII, colours", {PLAIN_TERM, "LC_ALL=C", NULL}, false, true},
    {"ASCII, no colours", {"LC_ALL=C", "TERM=vt220", NULL}, false, false},
};

static const int sizes[][2] = {{40, 12}, {80, 24}, {120, 40}, {200, 60}};

#define COUNT(array) (sizeof(array) / sizeof *(array))

static void fail_at(pty *p, const char *what, const char *mode, const char *board, int columns, int rows,
                    const char *other) {
    char *text = pty_text(p);
    fprintf(stderr, "%s: %s, board %s, %dx%d\n%s", what, mode, board, columns, rows, text);
    if (other)
        fprintf(stderr, "--- before\n%s", other);
    free(text);
    fail();
}

static bool is_ascii(const char *text) {
    for (; *text; text++)
        if ((unsigned char)*text >= 0x80)
            return false;
    return true;
}

static void look_at_board(pty *p, size_t mode, const char *board, int columns, int rows) {
    char *before = look(p);
    if (!strstr(before, "REHEARSAL SAFE"))
        fail_at(p, "no state", modes[mode].says, board, columns, rows, NULL);
    if (!modes[mode].utf8 && !is_ascii(before))
        fail_at(p, "beyond ASCII", modes[mode].says, board, columns, rows, NULL);
    if (pty_has_colour(p) != modes[mode].colours) {
        fail_at(p, modes[mode].colours ? "no colour" : "colour", modes[mode].says, board, columns, rows,
                NULL);
    }
    go_on(p);
    pty_type(p, "\f"); // a repaint
    char *after = look(p);
    if (strcmp(before, after) != 0)
        fail_at(p, "a repaint changes it", modes[mode].says, board, columns, rows, before);
    go_on(p);
    free(before);
    free(after);
}

static void every_board_at_every_size(size_t mode) {
    console_rig r;
    console_begin_at(&r, "1 s", 80, 24, modes[mode].environment);
    pty_expect(r.p, "It has no way to fire anything");
    pty_type(r.p, "y");
    pty_expect(r.p, "2 ERRORS"); // the rules have been run: nothing more comes by itself
    for (size_t size = 0; size < COUNT(sizes); size++) {
        int columns = sizes[size][0], rows = sizes[size][1];
        pty_resize(r.p, columns, rows);
        for (size_t board = 0; board < SM_BOARDS; board++) {
            look_at_board(r.p, mode, sm_board_at(board)->name, columns, rows);
            pty_type(r.p, "\t");
        }
    }
    console_quit(&r);
    console_end(&r);
}

#define IN_MODE(test, number)                                                                                \
    static void test(void **state) {                                                                         \
        (void)state;                                                                                         \
        every_board_at_every_size(number);                                                                   \
    }
IN_MODE(boards_with_utf8_and_colours, 0)
IN_MODE(boards_with_utf8_and_no_colour, 1)
IN_MODE(boards_in_ascii_with_colours, 2)
IN_MODE(boards_in_ascii_and_no_colour, 3)

// ---- anything at all ----------------------------------------------------------------------------

// A generator of its own, so that a failure comes again: xorshift, 64 bits (Marsaglia 2003; from memory).
static uint64_t draw_number(uint64_t *seed) {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return *seed;
}

// All but what ends the program at once (q, and what Ctrl-C sends).
static const char *const keys[] = {
    "\r",       "\r",       "\t",     "\033[Z", "\033[A", "\033[B", "\033[C", "\033[D",   "\033[5~",
    "\033[6~",  "\033",     "\033OQ", F3,       "\033OS", F5,       F6,       F7,         F8,
    "\033[20~", "\033[21~", "a",      "b",      "\x7f",   "\x15",   "\033[H", "\033[F",   "\033[23~",
    "\033[24~", "cJ\r",     "k",      ":",      "/",      "1",      "2",      "\xc3\xa9", "\xe5\xa4\x9c"};

static void do_anything(pty *p, uint64_t number) {
    static const char printable[] =
        " !#$%&'()*+,-./0123456789:;<=>?@ABCDEFGHIJKLMNOPRSTUVWXYZ[]^_abcdefghijklmnoprstuvwxyz{|}~";
    unsigned a = (unsigned)(number >> 8), b = (unsigned)(number >> 32);
    switch (number % 8) {
    case 0:
        pty_click(p, (int)(a % 200), (int)(b % 60), (int[]){1, 1, 4, 5}[(number >> 4) % 4]);
        break;
    case 1:
        if (a % 4 == 0)
            pty_resize(p, 10 + (int)(a / 4 % 190), 3 + (int)(b % 57));
        break;
    case 2:
    case 3:
    case 4:
        pty_type(p, keys[a % COUNT(keys)]);
        break;
    default:
        pty_type(p, (char[]){printable[a % (sizeof printable - 1)], '\0'});
        break;
    }
}

// Numbers move by themselves, and what stands behind them moves with them: digits are one '0', blanks one blank.
static void blur(char *text) {
    char *const start = text, *out = text;
    for (; *text; text++) {
        char c = *text >= '0' && *text <= '9' ? '0' : *text;
        bool again = out > start && (c == '0' || c == ' ') && out[-1] == c;
        if (!again)
            *out++ = c;
    }
    *out = '\0';
    // An age grows from "59 s" to "1 min".
    for (char *at = strstr(start, "0 min ago"); at; at = strstr(at, "0 min ago")) {
        memmove(at + 2, at + 4, strlen(at + 4) + 1);
        at[2] = 's';
    }
}

// Back to a board of a terminal large enough, whatever was done before.
static void come_back(pty *p) {
    pty_resize(p, 80, 24);
    pty_type(p, F8); // leaves whatever is typed or asked
    pty_type(p, "\033");
    pty_listen(p, 120); // a lone Escape is told from a sequence by time
    pty_type(p, F8);
}

// A key is drawn at once, and what the engine says to it a little later: looks until two looks agree.
static char *look_settled(pty *p) {
    char *text = look(p);
    go_on(p);
    blur(text);
    for (int i = 0; i < 20; i++) {
        char *next = look(p);
        go_on(p);
        blur(next);
        bool same = strcmp(text, next) == 0;
        free(text);
        text = next;
        if (same)
            break;
    }
    return text;
}

// Rows that stand otherwise after a repaint than before, and then stand still, held what should not have been there.
static void expect_no_strays(pty *p, int step) {
    char *before = look_settled(p);
    pty_type(p, "\f");
    char *after = look(p);
    go_on(p);
    char *later = look(p);
    go_on(p);
    blur(after);
    blur(later);
    if (strcmp(before, after) != 0 && strcmp(after, later) == 0) {
        fprintf(stderr, "step %d: a repaint changes it\n--- before\n%s--- after\n%s", step, before, after);
        fail();
    }
    free(before);
    free(after);
    free(later);
}

static void begin_again(console_rig *r) {
    char program[PATH_MAX]; // what is typed by chance may name a file: it is written into the show's folder
    assert_non_null(realpath(r->program, program));
    const char *argv[] = {"/bin/sh",      "-c",    "cd \"$0\" && exec \"$1\" . --silent",
                          r->show.folder, program, NULL};
    r->p = pty_start(80, 24, argv, (const char *[]){PLAIN_TERM, NULL});
    pty_expect(r->p, "It has no way to fire anything");
    pty_type(r->p, "y");
    pty_expect(r->p, "2 ERRORS");
}

static void any_keys_clicks_and_sizes(uint64_t seed) {
    console_rig r;
    int steps = getenv("SLOWMATCH_SOAK") ? 50000 : 1000;
    console_begin_at(&r, "20 s", 80, 24, NULL);
    pty_destroy(r.p);
    begin_again(&r);
    for (int step = 1; step <= steps; step++) {
        do_anything(r.p, draw_number(&seed));
        if (step % 50 != 0)
            continue;
        come_back(r.p);
        if (pty_is_closed(r.p)) { // somehow it was told to quit
            assert_int_equal(pty_expect_end(r.p), 0);
            pty_destroy(r.p);
            begin_again(&r);
        }
        pty_expect(r.p, "REHEARSAL SAFE");
        expect_no_strays(r.p, step);
    }
    console_quit(&r);
    console_end(&r);
}

static void any_keys(void **state) {
    (void)state;
    any_keys_clicks_and_sizes(0x9E3779B97F4A7C15);
}

static void any_other_keys(void **state) {
    (void)state;
    any_keys_clicks_and_sizes(0xD1B54A32D192ED03);
}

int main(int argc, char **argv) {
    (void)argc;
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_keys),
        cmocka_unit_test(any_other_keys),
        cmocka_unit_test(boards_with_utf8_and_colours),
        cmocka_unit_test(boards_with_utf8_and_no_colour),
        cmocka_unit_test(boards_in_ascii_with_colours),
        cmocka_unit_test(boards_in_ascii_and_no_colour),
    };
    return at_once_run("boards at all sizes", tests, sizeof tests / sizeof tests[0], 6, argv);
}
