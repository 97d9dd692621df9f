// SPDX-License-Identifier: GPL-3.0-or-later
// What a person chose is kept, by the XDG base directory specification (read: $XDG_CONFIG_HOME, else $HOME/.config; a relative path is to
// be ignored; folders made for it are for the user alone).
#include "console/choices.h"
#include "console/ui.h"
#include "support/console_rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

typedef struct kept {
    short_show folder; // only its folder is of use
    char config[96], environment[128], file[160];
} kept;

static void begin(kept *k) {
    short_show_make(&k->folder, "0.3 s");
    snprintf(k->config, sizeof k->config, "%s/config", k->folder.folder);
    snprintf(k->environment, sizeof k->environment, "XDG_CONFIG_HOME=%s", k->config);
    snprintf(k->file, sizeof k->file, "%s/slowmatch/console.ini", k->config);
}

static void end(kept *k) {
    char folder[160];
    unlink(k->file);
    snprintf(folder, sizeof folder, "%s/slowmatch", k->config);
    rmdir(folder);
    rmdir(k->config);
    short_show_remove(&k->folder);
}

static void write_file(kept *k, const char *text) {
    sm_choices choices;
    sm_choices_init(&choices);
    assert_int_equal(sm_choices_write(k->file, &choices), SM_OK); // makes the folders
    FILE *file = fopen(k->file, "w");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

static void begin_console(console_rig *r, const kept *k, int columns, int rows) {
    console_begin_at(r, "0.3 s", columns, rows, (const char *const[]){k->environment, NULL});
    pty_expect(r->p, "It has no way to fire anything");
    pty_expect(r->p, "2 ERRORS");
    pty_type(r->p, "n");
    pty_expect_gone(r->p, "It has no way to fire anything");
}

// ---- the file ----------------------------------------------------------------------------------

static void what_is_written_is_read_again(void **state) {
    (void)state;
    kept k;
    begin(&k);
    sm_choices first = {.board = "guards",
                        .beside = {"ground", "rails", "log"},
                        .beside_count = 3,
                        .colours = SM_PALETTE_NIGHT,
                        .big = true,
                        .mouse = false};
    assert_int_equal(sm_choices_write(k.file, &first), SM_OK);
    sm_choices second;
    char problem[SM_CHOICES_PROBLEM];
    sm_choices_init(&second);
    sm_choices_read(k.file, &second, problem);
    assert_string_equal(problem, "");
    assert_memory_equal(&first, &second, sizeof first);
    first.beside_count = 0;
    memset(first.beside, 0, sizeof first.beside);
    assert_int_equal(sm_choices_write(k.file, &first), SM_OK);
    sm_choices_read(k.file, &second, problem);
    assert_string_equal(problem, "");
    assert_int_equal(second.beside_count, 0);
    struct stat is;
    char folder[160];
    snprintf(folder, sizeof folder, "%s/slowmatch", k.config);
    assert_int_equal(stat(folder, &is), 0);
    assert_int_equal(is.st_mode & 0777, 0700);
    end(&k);
}

static void what_is_wrong_is_said_once_and_the_rest_is_used(void **state) {
    (void)state;
    static const struct {
        const char *text, *problem;
    } cases[] = {
        {"[console]\ncolours = mauve\nmouse = off\n",
         ":2:11: error: colours \"mauve\": it is plain, dark, light, "
         "colour-blind or night; the rest of it is used"},
        {"[console]\nshape = round\nmouse = off\n", ":2:1: error: no key \"shape\""},
        {"[screen]\na = b\n[console]\nmouse = off\n", ":1:2: error: no section [screen] here"},
        {"[console]\nbeside = a b c d\nmouse = off\n", ":2:10: error: beside \"a b c d\": it is up to three"},
        {"[console]\nboard = ../../x\nmouse = off\n", ":2:9: error: board"},
        {"[console]\nbig-figures = 1\nmouse = off\n", ":2:15: error: big-figures \"1\": it is on or off"},
        {"[console]\ncolours\nmouse = off\n", ":2:"},
        {"[console]\n\xFF\xFE = 3\nmouse = off\n", ":2:"},
    };
    kept k;
    begin(&k);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        write_file(&k, cases[i].text);
        sm_choices read;
        char problem[SM_CHOICES_PROBLEM];
        sm_choices_init(&read);
        sm_choices_read(k.file, &read, problem);
        if (!strstr(problem, cases[i].problem) || strchr(problem, '\n'))
            fail_msg("%zu: %s", i, problem);
        assert_false(read.mouse);
        assert_int_equal(read.colours, SM_PALETTE_PLAIN);
        assert_string_equal(read.board, "");
        assert_int_equal(read.beside_count, 2);
    }
    end(&k);
}

static void a_file_that_is_not_there_says_nothing(void **state) {
    (void)state;
    sm_choices read, as_made;
    char problem[SM_CHOICES_PROBLEM];
    memset(&read, 0, sizeof read);
    memset(&as_made, 0, sizeof as_made);
    sm_choices_init(&read);
    sm_choices_init(&as_made);
    sm_choices_read("/no/such/folder/console.ini", &read, problem);
    assert_string_equal(problem, "");
    assert_memory_equal(&read, &as_made, sizeof read);
    sm_choices_read("/", &read, problem); // a folder
    assert_non_null(strstr(problem, "/: what was chosen earlier cannot be read: "));
}

static void the_path_is_the_specifications(void **state) {
    (void)state;
    static const struct {
        const char *config, *home, *path;
    } cases[] = {
        {"/c", "/h", "/c/slowmatch/console.ini"},
        {"", "/h", "/h/.config/slowmatch/console.ini"},
        {"relative", "/h", "/h/.config/slowmatch/console.ini"},
        {NULL, "/h", "/h/.config/slowmatch/console.ini"},
        {NULL, NULL, NULL},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_int_equal(
            cases[i].config ? setenv("XDG_CONFIG_HOME", cases[i].config, 1) : unsetenv("XDG_CONFIG_HOME"), 0);
        assert_int_equal(cases[i].home ? setenv("HOME", cases[i].home, 1) : unsetenv("HOME"), 0);
        char *path = sm_choices_path();
        assert_true((!path) == (!cases[i].path));
        assert_true(!path || strcmp(path, cases[i].path) == 0);
        free(path);
    }
}

static void the_thread_writes_the_latest(void **state) {
    (void)state;
    kept k;
    begin(&k);
    sm_choices_keeper *keeper;
    sm_choices choices, read;
    sm_choices_init(&choices);
    assert_int_equal(sm_choices_keeper_start(k.file, &keeper), SM_OK);
    for (int i = 0; i < 200; i++) {
        choices.colours = (sm_palette)(i % SM_PALETTE_COUNT);
        sm_choices_keeper_put(keeper, &choices);
    }
    sm_choices_keeper_stop(keeper);
    char problem[SM_CHOICES_PROBLEM];
    sm_choices_init(&read);
    sm_choices_read(k.file, &read, problem);
    assert_string_equal(problem, "");
    assert_int_equal(read.colours, SM_PALETTE_NIGHT); // 199 % 5
    end(&k);
    sm_choices_keeper_stop(NULL);
    sm_choices_keeper_put(NULL, &choices);
    assert_int_equal(sm_choices_keeper_error(NULL), 0);
}

// ---- in the console --------------------------------------------------------------------------------

static void the_console_comes_back_as_it_was_left(void **state) {
    (void)state;
    kept k;
    begin(&k);
    console_rig r;
    begin_console(&r, &k, 80, 24);
    pty_type(r.p, "VVVV");
    pty_expect(r.p, "colours: night");
    pty_type(r.p, F5);
    pty_expect(r.p, "NOT MET");
    console_quit(&r);
    console_end(&r);
    begin_console(&r, &k, 80, 24);
    pty_expect(r.p, "NOT MET");
    pty_expect_ink(r.p, 1, 1, 196);
    console_quit(&r);
    console_end(&r);
    end(&k);
}

static void a_bad_file_is_one_line_in_the_notes(void **state) {
    (void)state;
    kept k;
    begin(&k);
    write_file(&k, "[console]\ncolours = mauve\nmouse = off\n");
    console_rig r;
    begin_console(&r, &k, 160, 40);
    assert_false(pty_tells_mouse(r.p));
    pty_type(r.p, F7);
    pty_expect(r.p, "console.ini:2:11: error: colours \"mauve\"");
    console_quit(&r);
    console_end(&r);
    end(&k);
}

static void where_nothing_can_be_kept_the_notes_say_so(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r); // whose configuration lies where no file can be
    pty_resize(r.p, 100, 50);
    pty_type(r.p, "VV");
    pty_expect(r.p, "colours: light");
    pty_type(r.p, F7);
    pty_expect(r.p, "what is chosen on the screen is not kept: Not a directory");
    console_quit(&r);
    console_end(&r);
}

static void boards_stand_side_by_side_as_chosen(void **state) {
    (void)state;
    kept k;
    begin(&k);
    console_rig r;
    begin_console(&r, &k, 200, 60);
    pty_expect(r.p, "at M1 from 1, left");
    pty_expect(r.p, "enable closed");
    pty_type(r.p, F3 "=");
    pty_expect(r.p, "rails has the left half for itself");
    pty_type(r.p, F5 "=");
    pty_expect(r.p, "guards stands beside the others");
    pty_expect(r.p, "now 0:00.0"); // the first board takes the place to the left
    pty_expect(r.p, "enable closed");
    pty_expect(r.p, "NOT MET");
    assert_false(pty_shows(r.p, "at M1 from 1, left"));
    console_quit(&r);
    console_end(&r);
    begin_console(&r, &k, 200, 60);
    pty_expect(r.p, "enable closed");
    pty_expect(r.p, "NOT MET");
    pty_expect(r.p, "now 0:00.0"); // nothing is left of the rails: the score stands to the left
    pty_type(r.p, F5 "=");
    pty_expect(r.p, "guards has the left half");
    pty_type(r.p, "\033OS="); // F4, fixtures: alone
    pty_expect(r.p, "fixtures has the left half");
    pty_expect(r.p, "enable closed");
    console_quit(&r);
    console_end(&r);
    end(&k);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_written_is_read_again),
        cmocka_unit_test(what_is_wrong_is_said_once_and_the_rest_is_used),
        cmocka_unit_test(a_file_that_is_not_there_says_nothing),
        cmocka_unit_test(the_path_is_the_specifications),
        cmocka_unit_test(the_thread_writes_the_latest),
        cmocka_unit_test(the_console_comes_back_as_it_was_left),
        cmocka_unit_test(a_bad_file_is_one_line_in_the_notes),
        cmocka_unit_test(where_nothing_can_be_kept_the_notes_say_so),
        cmocka_unit_test(boards_stand_side_by_side_as_chosen),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
