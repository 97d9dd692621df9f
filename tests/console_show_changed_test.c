// SPDX-License-Identifier: GPL-3.0-or-later
// A file of the show that changes while it is rehearsed: told once, with the key that reads it again.
#include "console/show_watch.h"
#include "support/at_once.h"
#include "support/console_rig.h"
#include "support/show_folder.h"

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

#define PATIENCE 400 // times 50 ms, that only a watch that sees nothing needs

static bool comes_to_see(sm_show_watch *watch, const char *name) {
    char seen[SM_SHOW_WATCH_NAME] = "";
    for (int i = 0; i < PATIENCE; i++) {
        if (sm_show_watch_look(watch, seen))
            break;
        usleep(50000);
    }
    if (strcmp(seen, name) != 0)
        fail_msg("'%s' is seen, not '%s'", seen, name);
    return true;
}

// Two looks have gone by, and nothing was seen in them.
static void sees_nothing(sm_show_watch *watch) {
    char seen[SM_SHOW_WATCH_NAME];
    for (int i = 0; i < 50; i++) {
        if (sm_show_watch_look(watch, seen))
            fail_msg("'%s' is seen", seen);
        usleep(50000);
    }
}

typedef struct watched {
    show_folder f;
    sm_show *show;
    sm_show_watch *watch;
} watched;

static watched begin(void) {
    watched w = {.f = show_folder_make_small()};
    w.show = show_folder_load(&w.f, SM_OK);
    assert_int_equal(sm_show_watch_start(NULL, &w.watch), SM_OK);
    return w;
}

// It was read just now.
static void read_again(const watched *w) {
    sm_show_watch_begin(w->watch, w->show);
    sees_nothing(w->watch);
}

static void end(watched *w) {
    sm_show_watch_stop(w->watch);
    sm_show_destroy(w->show);
    show_folder_remove(&w->f);
}

static void what_changes_is_seen_and_what_the_rehearsal_writes_is_not(void **state) {
    (void)state;
    watched w = begin();
    read_again(&w);
    show_folder_put(&w.f, "readings.csv",
                    "rail,slot,reading\nA,1,1.9\n"); // what the rehearsal itself may write
    show_folder_put(&w.f, "run.log", "x");
    sees_nothing(w.watch);
    show_folder_put(&w.f, "cues.csv", "time,target,do\n1,A-02,comet\n");
    comes_to_see(w.watch, "cues.csv");
    read_again(&w);
    end(&w);
    sm_show_watch_stop(NULL);
}

// By whatever way the file of --readings is named, and also where it was put in place of the old one.
static void readings_kept_in_another_file_are_no_news(void **state) {
    (void)state;
    char given[160];
    watched w = begin();
    sm_show_watch_stop(w.watch);
    show_folder_put(&w.f, "readings-first.csv", "rail,slot,reading\nA,1,1.9\n");
    show_folder_put(&w.f, "readings-other.csv", "rail,slot,reading\nA,1,1.9\n");
    snprintf(given, sizeof given, "%s/./readings-first.csv", w.f.path);
    assert_int_equal(sm_show_watch_start(given, &w.watch), SM_OK);
    read_again(&w);
    show_folder_put(&w.f, "readings-first.csv", NULL);
    show_folder_put(&w.f, "readings-first.csv", "rail,slot,reading\nA,1,1.9\nA,2,1.8\n");
    sees_nothing(w.watch);
    show_folder_put(&w.f, "readings-other.csv", NULL);
    comes_to_see(w.watch, "readings-other.csv");
    end(&w);
}

static void what_comes_and_goes_is_seen(void **state) {
    (void)state;
    watched w = begin();
    read_again(&w);
    show_folder_put(&w.f, "allow.csv", "rule,reason\n");
    comes_to_see(w.watch, "allow.csv");
    read_again(&w);
    show_folder_put(&w.f, "allow.csv", NULL);
    comes_to_see(w.watch, "allow.csv");
    end(&w);
}

static void a_drill_that_comes_is_seen(void **state) {
    (void)state;
    char drills[96], drill[128];
    watched w = begin();
    snprintf(drills, sizeof drills, "%s/drills", w.f.path);
    snprintf(drill, sizeof drill, "%s/one.ini", drills);
    assert_int_equal(mkdir(drills, 0700), 0);
    read_again(&w);
    FILE *file = fopen(drill, "w");
    assert_non_null(file);
    fputs("[drill]\n", file);
    fclose(file);
    comes_to_see(w.watch, "one.ini");
    unlink(drill);
    rmdir(drills);
    end(&w);
}

static void the_console_says_it_and_reads_again(void **state) {
    (void)state;
    console_rig r;
    console_begin(&r);
    pty_listen(r.p, 1500); // the first look
    short_show_write(&r.show, "positions.csv", "name,x,y\nleft,-6,20\nright,6,20\n");
    pty_expect_row(r.p, 2, "ADVISORY SHOW CHANGED: positions.csv. Read the show again (L, while safe)");
    console_arm(&r); // it holds nothing up
    pty_expect_row(r.p, 2, "ADVISORY SHOW CHANGED: positions.csv");
    pty_type(r.p, "L");
    pty_expect(r.p, "reload refused: not while armed");
    pty_type(r.p, " L");
    pty_expect_gone(r.p, "SHOW CHANGED");
    console_quit(&r);
    console_expect_log(
        &r, (const char *const[]){"state,,armed", "refused,,reload", "console,safe", "reload", NULL});
    console_end(&r);
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_changes_is_seen_and_what_the_rehearsal_writes_is_not),
        cmocka_unit_test(readings_kept_in_another_file_are_no_news),
        cmocka_unit_test(what_comes_and_goes_is_seen),
        cmocka_unit_test(a_drill_that_comes_is_seen),
        cmocka_unit_test(the_console_says_it_and_reads_again),
    };
    return at_once_run("a show that is changed", tests, sizeof tests / sizeof tests[0], 6, argv);
}
