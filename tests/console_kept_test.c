// SPDX-License-Identifier: GPL-3.0-or-later
// The console's rehearsals in the logbook: kept and replayed with a reload in the middle; where the logbook cannot be written the
// rehearsal goes on, the screen has the reason, and the next opening has the rows.
#include "support/folder.h"
#include "support/kept.h"

#include "slowmatch/clock.h"
#include "slowmatch/session.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#define PATIENCE_US (60 * SM_US_PER_S) // only for what hangs

typedef struct rig {
    char folder[64], show[256], path[256], unkept[400];
    sm_session *driver;
} rig;

static void begin(rig *r, const char *logbook) {
    char problem[320];
    kept_begin(r->folder);
    folder_path(r->show, r->folder, "show");
    folder_path(r->path, r->folder, logbook);
    snprintf(r->unkept, sizeof r->unkept, "not told");
    const sm_session_options options = {
        .show = folder_load(r->show), .logbook_path = r->path, .unkept = r->unkept, .silent = true};
    assert_int_equal(sm_session_create(&options, problem, &r->driver), SM_OK);
    assert_int_equal(sm_session_start(r->driver), SM_OK);
}

static void act(rig *r, const char *line) {
    assert_true(sm_session_act(r->driver, line));
}

static void make_safe(rig *r) {
    assert_true(sm_session_make_safe(r->driver, PATIENCE_US));
}

// The latest outcome that has TEXT in it.
static void wait_for_outcome(rig *r, const char *text) {
    int64_t deadline_us = sm_monotonic_us() + PATIENCE_US;
    sm_outcome_note note = {0};
    while (!strstr(note.text, text)) {
        if (!sm_session_outcome(r->driver, &note))
            nanosleep(&(struct timespec){.tv_nsec = 5000000}, NULL);
        assert_true(sm_monotonic_us() < deadline_us);
    }
}

static void end(rig *r) {
    sm_session_destroy(r->driver);
    r->driver = NULL;
}

static void a_reload_in_the_middle_replays(void **state) {
    (void)state;
    rig r;
    begin(&r, "logbook.db");
    act(&r, "tick told yes by K");
    act(&r, "reload");
    wait_for_outcome(&r, "the show was read again");
    folder_edit(r.show, "cues.csv", "8,A-04,comet", "8,A-04,fountain");
    act(&r, "reload");
    wait_for_outcome(&r, "the show was read again");
    folder_edit(r.show, "cues.csv", "8,A-04,fountain", "8,A-04,nothing");
    act(&r, "reload");
    wait_for_outcome(&r, "the show stays as it was");
    act(&r, "call-clear K");
    act(&r, "key on");
    act(&r, "arm");
    act(&r, "start"); // refused: still arming
    make_safe(&r);
    end(&r);
    assert_string_equal(r.unkept, "");
    assert_int_equal(kept_number(r.path, "SELECT count(*) FROM load"), 2);
    assert_int_equal(kept_number(r.path, "SELECT count(*) FROM input WHERE kind = 'load'"), 2);
    assert_int_equal(kept_number(r.path, "SELECT count(*) FROM row WHERE what = 'refused'"), 2);
    assert_int_equal(kept_number(r.path, "SELECT count(*) FROM walk_tick"), 1);
    kept_assert_whole(r.path);
    kept_assert_replays(r.path, 1);
    kept_end(r.folder);
}

static void a_logbook_that_cannot_be_written_stops_nothing(void **state) {
    (void)state;
    rig r;
    char problem[400], place[256];
    begin(&r, "logbook.db");
    end(&r);
    folder_write(r.folder, "place", ""); // a file where the logbook's folder should be
    folder_path(r.path, r.folder, "place/logbook.db");
    const sm_session_options options = {
        .show = folder_load(r.show), .logbook_path = r.path, .unkept = r.unkept, .silent = true};
    assert_int_equal(sm_session_create(&options, problem, &r.driver), SM_OK);
    assert_int_equal(sm_session_start(r.driver), SM_OK);
    act(&r, "note kept aside");
    make_safe(&r);
    sm_session_logbook_problem(r.driver, problem);
    assert_non_null(strstr(problem, "place/logbook.db: "));
    end(&r);
    assert_non_null(strstr(r.unkept, "kept aside in "));
    assert_int_equal(unlink(folder_path(place, r.folder, "place")), 0);
    assert_int_equal(mkdir(place, 0700), 0);
    sm_logbook *logbook = NULL;
    assert_int_equal(sm_logbook_open(r.path, true, problem, &logbook), SM_OK);
    sm_logbook_close(logbook);
    assert_int_equal(kept_number(r.path, "SELECT count(*) FROM row WHERE what = 'note'"), 1);
    kept_assert_replays(r.path, 1);
    kept_end(r.folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_reload_in_the_middle_replays),
        cmocka_unit_test(a_logbook_that_cannot_be_written_stops_nothing),
    };
    return cmocka_run_group_tests_name("console's logbook", tests, NULL, NULL);
}
