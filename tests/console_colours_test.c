// SPDX-License-Identifier: GPL-3.0-or-later
// What each kind of terminal is really sent, read back through libvterm: 38;2 (ECMA-48 leaves it to ISO 8613-6), 38;5, 90 to 97, 30 to
// 37, or nothing. Entries that the machine's terminfo database need not have are made by ncurses' own tic.
#include "support/console_rig.h"
#include "support/folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// The keys' row, as on every board: " SPACE MAKE SAFE   M measure"; and a row with text from its second column on.
#define KEY_COLUMN 20
#define KEY_ROW 23
#define TEXT_ROW 1

static const char terminals[] =
    "sm-direct|any colour,\n\tRGB, colors#0x1000000, pairs#0x10000,\n"
    "\tsetaf=\\E[%?%p1%{8}%<%t3%p1%d%e38;2;%p1%{65536}%/%d;%p1%{256}%/%{255}%&%d;%p1%{255}%&%d%;m,\n"
    "\tsetab=\\E[%?%p1%{8}%<%t4%p1%d%e48;2;%p1%{65536}%/%d;%p1%{256}%/%{255}%&%d;%p1%{255}%&%d%;m,\n"
    "\tuse=xterm-256color,\n"
    "sm-16|sixteen colours,\n\tcolors#16, pairs#256,\n"
    "\tsetaf=\\E[%?%p1%{8}%<%t%p1%{30}%+%e%p1%{82}%+%;%dm,\n"
    "\tsetab=\\E[%?%p1%{8}%<%t%p1%{40}%+%e%p1%{92}%+%;%dm,\n\tuse=xterm-256color,\n"
    "sm-8|eight colours,\n\tcolors#8, pairs#64,\n\tsetaf=\\E[3%p1%dm, "
    "setab=\\E[4%p1%dm,\n\tuse=xterm-256color,\n"
    "sm-256color|sm-direct is the same with any colour,\n\tuse=xterm-256color,\n";

typedef struct depth_case {
    const char *environment[3];
    int plain_key, plain_paper, night_key, night_text, night_paper;
    bool key_is_bold;
} depth_case;

static const depth_case cases[] = {
    {{"TERM=sm-direct"}, 0x187D7D7, -1, 0x1D75F00, 0x1FF0000, 0, true}, // black is one of the eight
    {{"TERM=sm-256color", "COLORTERM=truecolor"}, 0x187D7D7, -1, 0x1D75F00, 0x1FF0000, 0, true},
    {{"TERM=xterm-256color"}, 116, -1, 166, 196, 16, true},
    {{"TERM=xterm-256color", "COLORTERM=truecolor"}, 116, -1, 166, 196, 16, true}, // no entry: 256
    {{"TERM=sm-16"}, 14, -1, 9, 9, 0, true},
    {{"TERM=sm-8"}, 6, -1, 1, 1, 0, true},
    {{"TERM=xterm-256color", "NO_COLOR=1"}, -1, -1, -1, -1, -1, true},
    {{"TERM=xterm-256color", "NO_COLOR="}, 116, -1, 166, 196, 16, true}, // empty says nothing
    {{"TERM=vt100"}, -1, -1, -1, -1, -1, true},
};

static void make_terminals(short_show *show) {
    short_show_write(show, "terminals.ti", terminals);
    char command[512];
    snprintf(command, sizeof command, "tic -x -o %s/terminfo %s/terminals.ti", show->folder, show->folder);
    assert_int_equal(system(command), 0);
}

static void each_depth_is_sent_what_it_can_show(void **state) {
    (void)state;
    short_show made;
    short_show_make(&made, "0.3 s");
    make_terminals(&made);
    char where[128];
    snprintf(where, sizeof where, "TERMINFO=%s/terminfo", made.folder);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const depth_case *row = &cases[i];
        const char *environment[] = {where, row->environment[0], row->environment[1], NULL};
        console_rig r;
        console_begin_at(&r, "0.3 s", 80, 24, environment);
        pty_expect(r.p, "It has no way to fire anything");
        pty_expect(r.p, "2 ERRORS");
        pty_type(r.p, "n");
        pty_expect(r.p, "M measure");
        pty_expect_row(r.p, KEY_ROW, "M measure");
        pty_expect_ink(r.p, KEY_COLUMN, KEY_ROW, row->plain_key);
        assert_int_equal(pty_paper(r.p, KEY_COLUMN, KEY_ROW), row->plain_paper);
        assert_true(pty_is_bold(r.p, KEY_COLUMN, KEY_ROW));
        pty_type(r.p, "VVVV");
        pty_expect(r.p, "colours: night, red on black");
        pty_expect_ink(r.p, KEY_COLUMN, KEY_ROW, row->night_key);
        assert_int_equal(pty_ink(r.p, 1, TEXT_ROW), row->night_text);
        assert_int_equal(pty_paper(r.p, 1, TEXT_ROW), row->night_paper);
        assert_int_equal(pty_paper(r.p, 79, TEXT_ROW), row->night_paper); // where nothing stands, too
        assert_true(pty_is_reversed(r.p, 11, TEXT_ROW)); // the state word, whatever the depth
        pty_resize(r.p, 90, 30);
        pty_expect_row(r.p, 29, "M measure");
        for (int y = 0; y < 30; y++)
            assert_int_equal(pty_paper(r.p, 89, y), row->night_paper);
        pty_type(r.p, "V");
        pty_expect(r.p, "colours: plain");
        pty_expect_ink(r.p, KEY_COLUMN, 29, row->plain_key);
        assert_int_equal(pty_paper(r.p, 1, TEXT_ROW), -1);
        console_quit(&r);
        console_end(&r);
    }
    snprintf(where, sizeof where, "%s/terminfo", made.folder);
    folder_remove(where);
    short_show_remove(&made);
}

// The colour of a key on the terminal whose own paper is as COLORFGBG says, or as it answers.
static void the_palette_is_as_the_paper(void **state) {
    (void)state;
    static const struct {
        const char *variable, *answer;
        int before, after;
    } papers[] = {
        {"COLORFGBG=15;0", NULL, 116, 116},
        {"COLORFGBG=0;default;15", NULL, 24, 24},
        {"COLORFGBG=", NULL, -1, -1}, // nobody says: the terminal's own ink alone
        {"COLORFGBG=12;3", NULL, -1, -1},
        {"COLORFGBG=", "\033]11;rgb:1e1e/1e1e/1e1e\033\\", -1, 116},
        {"COLORFGBG=", "\033]11;rgb:ffff/ffff/ffff\007", -1, 24},
        {"COLORFGBG=", "\033]11;rgb:80/80/80\033\\", -1, -1}, // too grey for either
    };
    for (size_t i = 0; i < sizeof papers / sizeof papers[0]; i++) {
        console_rig r;
        console_begin_at(&r, "0.3 s", 80, 24, (const char *const[]){papers[i].variable, NULL});
        pty_expect(r.p, "It has no way to fire anything");
        pty_type(r.p, "n");
        pty_expect_row(r.p, KEY_ROW, "M measure");
        pty_expect_ink(r.p, KEY_COLUMN, KEY_ROW, papers[i].before);
        if (papers[i].answer)
            pty_type(r.p, papers[i].answer);
        pty_expect_ink(r.p, KEY_COLUMN, KEY_ROW, papers[i].after);
        assert_false(pty_shows(r.p, "no key")); // no letter of it was taken for a key
        assert_true(pty_is_bold(r.p, KEY_COLUMN, KEY_ROW));
        console_quit(&r);
        console_end(&r);
    }
}

// An answer that never ends holds no stop, and letters typed later are keys again.
static void half_an_answer_holds_no_stop(void **state) {
    (void)state;
    console_rig r;
    console_begin_at(&r, "0.3 s", 80, 24, (const char *const[]){"COLORFGBG=", NULL});
    pty_expect(r.p, "It has no way to fire anything");
    pty_type(r.p, "n");
    console_arm(&r);
    pty_type(r.p, "\033]11;rgb:ff ");
    pty_expect(r.p, "SAFE key ON");
    pty_type(r.p, "k");
    pty_expect(r.p, "SAFE key OFF");
    console_quit(&r);
    console_expect_log(&r, (const char *const[]){"state,,armed", "console,safe", "key,,off", NULL});
    console_end(&r);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_palette_is_as_the_paper),
        cmocka_unit_test(half_an_answer_holds_no_stop),
        cmocka_unit_test(each_depth_is_sent_what_it_can_show),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
