// SPDX-License-Identifier: GPL-3.0-or-later
// Paths that are typed: they begin at the show, and Tab completes them; what reads the folders holds no key.
#include "console/folder_names.h"
#include "support/console_rig.h"
#include "support/desk.h"

#include <locale.h>
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

// ---- what there is ------------------------------------------------------------------------------

static const sm_folder_names *wait_for(sm_folder_reader *reader, const char *folder) {
    for (int i = 0; i < 400; i++) { // that only a reader that never comes back needs
        const sm_folder_names *names = sm_folder_reader_names(reader, folder);
        if (names)
            return names;
        usleep(50000);
    }
    fail_msg("%s is never read", folder);
    return NULL;
}

static void the_names_in_a_folder(void **state) {
    (void)state;
    show_folder f = show_folder_make();
    char inside[96];
    snprintf(inside, sizeof inside, "%s/night", f.path);
    assert_int_equal(mkdir(inside, 0700), 0);
    show_folder_put(&f, "b.csv", "");
    show_folder_put(&f, "a.csv", "");
    show_folder_put(&f, ".hidden", "");
    sm_folder_reader *reader = NULL;
    assert_int_equal(sm_folder_reader_start(&reader), SM_OK);
    const sm_folder_names *names = wait_for(reader, f.path);
    assert_int_equal(names->count, 3);
    assert_string_equal(names->names[0], "a.csv");
    assert_string_equal(names->names[1], "b.csv");
    assert_string_equal(names->names[2], "night/");
    assert_int_equal(wait_for(reader, inside)->count, 0);
    assert_int_equal(wait_for(reader, "/no/such/folder")->count, 0);
    assert_int_equal(wait_for(reader, f.path)->count, 3);
    sm_folder_reader_stop(reader);
    sm_folder_reader_stop(NULL);
    rmdir(inside);
    show_folder_remove(&f);
}

// ---- typing ---------------------------------------------------------------------------------------

static char asked_for[256];

static const sm_folder_names *stand_in(void *owner, const char *folder) {
    static const sm_folder_names show = {3, {"cues.csv", "readings-1.csv", "readings-2.csv"}};
    static const sm_folder_names root = {2, {"shows/", "x.csv"}};
    (void)owner;
    snprintf(asked_for, sizeof asked_for, "%s", folder);
    return strcmp(folder, ".") == 0 ? &root : strcmp(folder, "late/") == 0 ? NULL : &show;
}

static void a_path_begins_at_the_show_and_goes_on(void **state) {
    desk *r = *state;
    r->takes_files = true;
    r->ui.names_in = stand_in;
    desk_type(r, "nf");
    char begins[128];
    snprintf(begins, sizeof begins, "file of readings: %s/", r->show->folder);
    assert_true(desk_shows(r, begins)); // shown, and not typed
    assert_string_equal(r->ui.prompt.text, "");
    assert_string_equal(asked_for, ".");
    desk_type(r, "\t");
    assert_int_equal(r->ui.prompt.length, strlen(r->show->folder) + 1);
    assert_true(desk_shows(r, "Tab: cues.csv  readings-1.csv  readings-2.csv"));
    desk_type(r, "r\t");
    assert_non_null(strstr(r->ui.prompt.text, "/readings-"));
    desk_type(r, "2\t\n");
    snprintf(begins, sizeof begins, "%s/readings-2.csv", r->show->folder);
    assert_string_equal(r->file, begins);
}

static void any_other_path_is_completed_too(void **state) {
    desk *r = *state;
    r->takes_files = true;
    r->ui.names_in = stand_in;
    desk_type(r, "nfs\t");
    assert_string_equal(r->ui.prompt.text, "shows/"); // the folder, to go on from
    desk_type(r, "c\t\n");
    assert_string_equal(r->file, "shows/cues.csv");
    desk_type(r, "flate/r\t"); // not known yet: nothing is completed, nothing is waited for
    assert_string_equal(r->ui.prompt.text, "late/r");
    desk_press(r, SM_KEY_ESCAPE);
    r->file[0] = '\0';
    desk_type(r, "f\n"); // nothing typed: the folder, to be gone on from
    assert_string_equal(r->file, "");
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    assert_int_equal(r->ui.prompt.length, strlen(r->show->folder) + 1);
}

static void the_path_of_an_action_is_completed_too(void **state) {
    desk *r = *state;
    r->ui.names_in = stand_in;
    desk_type(r, "n:paper s\t");
    assert_string_equal(r->ui.prompt.text, "paper shows/");
    desk_type(r, "c\t");
    assert_string_equal(r->ui.prompt.text, "paper shows/cues.csv");
    assert_string_equal(asked_for, "shows/");
    desk_press(r, SM_KEY_ESCAPE);
    desk_press(r, SM_KEY_F0 + 5); // where no board has that key
    desk_type(r, "Ns\t");
    assert_string_equal(r->ui.prompt.text, "shows/");
}

static int begin(void **state) {
    *state = desk_create_short(false);
    return 0;
}

static void in_the_program(void **state) {
    (void)state;
    console_rig r;
    console_begin_at(&r, "0.3 s", 100, 24, NULL);
    pty_expect(r.p, "It has no way to fire anything");
    pty_type(r.p, "n");
    pty_expect(r.p, "tones on");
    short_show_write(&r.show, "second-readings.csv", "rail,slot,reading\nA,1,1.9\n");
    pty_type(r.p, "f\tsec");
    pty_expect(r.p, "Tab: second-readings.csv");
    pty_type(r.p, "\t\r");
    pty_expect(r.p,
               "1 reading taken from second-readings.csv; u takes it back"); // its name, not its path
    short_show_write(&r.show, "third.csv", "rail,slot,reading\nA,1,1.75\n");
    pty_type(r.p, "fthird.csv\r"); // a bare name stands with the show
    pty_expect(r.p, "1 reading taken from third.csv");
    pty_type(r.p, "fno-such.csv\r");
    pty_expect(r.p, "no-such.csv cannot be opened");
    pty_type(r.p, "\033"); // what was typed stays to be mended
    pty_expect_gone(r.p, "file of readings:");
    console_quit(&r);
    console_expect_log(&r, (const char *const[]){"read,,A-01,1.9,", "read,,A-01,1.75,", NULL}); // as by hand
    console_end(&r);
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_names_in_a_folder),
        cmocka_unit_test_setup_teardown(a_path_begins_at_the_show_and_goes_on, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(any_other_path_is_completed_too, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(the_path_of_an_action_is_completed_too, begin, desk_teardown),
        cmocka_unit_test(in_the_program),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
