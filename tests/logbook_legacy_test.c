// SPDX-License-Identifier: GPL-3.0-or-later
// What earlier programs left is read: the files in tests/data/logbook were written by the last program that had a form of its own for
// spills and exports, and deflated what it kept of shows. It rehearsed the small show of tests/support/folder.c, twice for the export; for
// the spill its logbook stopped taking anything after the second answer of the walk. The export's debrief and the spill's answer that is
// taken back were there, too.
#include "logbook/legacy.h"
#include "support/folder.h"
#include "support/kept.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#define DATA "tests/data/logbook/"
#define ROWS 51     // of one such rehearsal
#define ROWS_TOLD 2 // of it in the old logbook

typedef struct old {
    char folder[64], path[256], *bytes;
    size_t length;
} old;

static void begin(old *o, const char *name) {
    kept_begin(o->folder);
    folder_path(o->path, o->folder, "logbook.db");
    o->bytes = NULL;
    assert_int_equal(sm_file_read(name, &o->bytes, &o->length), SM_OK);
}

static void end(old *o) {
    free(o->bytes);
    kept_end(o->folder);
}

static void write_bytes(const old *o, const char *name, const char *head, const char *bytes, size_t length) {
    char path[256];
    FILE *file = fopen(folder_path(path, o->folder, name), "w");
    assert_non_null(file);
    assert_true(fputs(head, file) >= 0);
    assert_int_equal(fwrite(bytes, 1, length, file), length);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(chmod(path, 0600), 0);
}

// The files of the show are there as they were, and it loads from them.
static void assert_show_is_plain(const char *path, int64_t number) {
    sm_text said = {0};
    bool same;
    assert_true(kept_number(path, "SELECT count(*) FROM file") > 5);
    assert_int_equal(kept_number(path, "SELECT count(*) FROM file WHERE length(bytes) <> size"), 0);
    assert_int_equal(
        kept_number(path, "SELECT count(*) FROM member JOIN file ON hash = file WHERE name = 'cues.csv' "
                          "AND CAST(bytes AS TEXT) GLOB 'time,target,do*'"),
        1);
    sm_logbook *logbook = kept_open(path);
    if (sm_logbook_replay(logbook, number, false, &said, &same) != SM_OK)
        fail_msg("%s", sm_logbook_problem(logbook));
    sm_logbook_close(logbook);
    sm_text_deinit(&said);
}

static void an_old_export_comes_in_once(void **state) {
    (void)state;
    old o;
    char why[400];
    int64_t count;
    sm_logbook *logbook = NULL;
    begin(&o, DATA "export-5");
    assert_int_equal(sm_logbook_open(o.path, true, why, &logbook), SM_OK);
    assert_int_equal(sm_logbook_import(logbook, DATA "export-5", &count), SM_OK);
    assert_int_equal(count, 2);
    assert_int_equal(sm_logbook_import(logbook, DATA "export-5", &count), SM_OK);
    assert_int_equal(count, 0);
    sm_logbook_close(logbook);
    assert_int_equal(kept_number(o.path, "SELECT rows FROM rehearsal WHERE id = 2"), ROWS);
    assert_int_equal(kept_number(o.path, "SELECT count(*) FROM rehearsal WHERE ended_us > began_us"), 2);
    assert_int_equal(kept_number(o.path, "SELECT count(*) FROM debrief WHERE head = 'Old head'"), 1);
    assert_int_equal(
        kept_number(o.path, "SELECT count(*) FROM drill_step WHERE within_us IS NULL AND took_us = 5"), 1);
    assert_int_equal(kept_number(o.path, "SELECT score FROM drill WHERE seat = 'spotter'"), 90);
    assert_int_equal(kept_number(o.path, "SELECT count(*) FROM walk_tick"), 1);
    assert_int_equal(kept_number(o.path, "SELECT count(*) FROM walk_sign"), 1);
    assert_int_equal(kept_number(o.path, "SELECT count(*) FROM walk_change"), 4);
    assert_int_equal(kept_number(o.path, "SELECT count(*) FROM reading WHERE origin = 'hand' AND ohms = 3.2"),
                     1);
    assert_show_is_plain(o.path, 1);
    kept_assert_whole(o.path);
    end(&o);
}

static void an_old_export_that_is_cut_off_changes_nothing(void **state) {
    (void)state;
    old o;
    char why[400], path[256];
    int64_t count;
    sm_logbook *logbook = NULL;
    begin(&o, DATA "export-5");
    folder_path(path, o.folder, "cut");
    assert_int_equal(sm_logbook_open(o.path, true, why, &logbook), SM_OK);
    for (size_t length = SM_LEGACY_HEAD + 1; length < o.length; length += length % 97 + 1) {
        write_bytes(&o, "cut", "", o.bytes, length);
        // A record ends there by chance: then it is a whole file of fewer.
        sm_text entries = {0};
        bool whole = sm_legacy_read(o.bytes + SM_LEGACY_HEAD, length - SM_LEGACY_HEAD, &entries) == SM_OK;
        sm_text_deinit(&entries);
        if (whole)
            continue;
        assert_int_equal(sm_logbook_import(logbook, path, &count), SM_UNREADABLE);
        assert_non_null(strstr(sm_logbook_problem(logbook), "no whole export"));
    }
    sm_logbook_close(logbook);
    assert_int_equal(kept_number(o.path, "SELECT count(*) FROM file"), 0);
    end(&o);
}

// Before there were seats a drill was taken as lead.
static void a_drill_without_a_seat_was_the_leads(void **state) {
    (void)state;
    static const char records[] =
        "slowmatch records 1\nd9\n2:ab\n2:Mo\n5:first\n10:Small Show\n1:5\n2:80\n1:1\n1:0\n0:\n";
    old o;
    char why[400], path[256];
    int64_t count;
    sm_logbook *logbook = NULL;
    begin(&o, DATA "export-5");
    write_bytes(&o, "seatless", records, "", 0);
    assert_int_equal(sm_logbook_open(o.path, true, why, &logbook), SM_OK);
    assert_int_equal(sm_logbook_import(logbook, folder_path(path, o.folder, "seatless"), &count), SM_OK);
    sm_logbook_close(logbook);
    assert_int_equal(
        kept_number(o.path, "SELECT score FROM drill WHERE seat = 'lead' AND passed AND NOT with_hints"), 80);
    end(&o);
}

// ---- spills ---------------------------------------------------------------------------------

static void put_old_logbook(old *o) {
    char *sql;
    size_t length;
    assert_int_equal(sm_file_read(DATA "logbook-5.sql", &sql, &length), SM_OK);
    kept_exec(o->path, sql);
    free(sql);
    assert_int_equal(kept_number(o->path, "PRAGMA user_version"), 5);
    assert_int_equal(kept_number(o->path, "SELECT count(*) FROM row"), ROWS_TOLD);
    assert_int_equal(kept_number(o->path, "SELECT count(*) FROM walk_tick"), 2);
}

static void put_old_spill(const old *o, const char *logbook, size_t length) {
    char head[600], *real = realpath(logbook, NULL);
    const char *records = strchr(strchr(o->bytes, '\n') + 1, '\n') + 1;
    assert_non_null(real);
    snprintf(head, sizeof head, "slowmatch records 1\n%s\n", real);
    free(real);
    write_bytes(o, "0.slowmatch-spill", head, records,
                length > 0 ? length : o->length - (size_t)(records - o->bytes));
}

static void open_and_close(const char *path, const char *expected_why) {
    char why[400];
    sm_logbook *logbook = NULL;
    assert_int_equal(sm_logbook_open(path, false, why, &logbook), SM_OK);
    sm_logbook_close(logbook);
    assert_true(expected_why ? strstr(why, expected_why) != NULL : why[0] == '\0');
}

static void an_old_logbook_takes_its_old_spill_in(void **state) {
    (void)state;
    old o;
    char spill[256];
    begin(&o, DATA "spill-5");
    put_old_logbook(&o);
    put_old_spill(&o, o.path, 0);
    folder_path(spill, o.folder, "0.slowmatch-spill");
    open_and_close(o.path, NULL);
    assert_int_equal(access(spill, F_OK), -1);
    assert_int_equal(kept_number(o.path, "SELECT rows FROM rehearsal WHERE ended_us IS NOT NULL"), ROWS);
    assert_int_equal(kept_number(o.path, "SELECT count(*) FROM walk_tick WHERE item = 'briefing'"), 1);
    assert_int_equal(kept_number(o.path, "SELECT count(*) FROM walk_tick"), 1); // the other was taken back
    assert_show_is_plain(o.path, 1);
    kept_assert_whole(o.path);
    put_old_spill(&o, o.path, 0);
    open_and_close(o.path, NULL);
    assert_int_equal(kept_number(o.path, "SELECT rows FROM rehearsal"), ROWS);
    end(&o);
}

// A spill is of the logbook that its second line names, and of no other: not of one whose name is as long, or begins alike.
static void an_old_spill_is_of_the_logbook_that_it_names(void **state) {
    (void)state;
    static const char spill[] = "slowmatch records 1\n/a/book.db\nrecords",
                      unnamed[] = "slowmatch records 1\n/a/book.db";
    assert_true(sm_legacy_is_records(spill, sizeof spill - 1));
    assert_false(sm_legacy_is_records("slowmatch records 2\n/a/book.db\n", 31));
    assert_false(sm_legacy_is_records(spill, 10));
    assert_string_equal(sm_legacy_spill_records(spill, sizeof spill - 1, "/a/book.db"), "records");
    static const char *const others[] = {"/a/cook.db", "/a/book.d", "/a/book.db2", ""};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
        assert_null(sm_legacy_spill_records(spill, sizeof spill - 1, others[i]));
    assert_null(sm_legacy_spill_records(unnamed, sizeof unnamed - 1, "/a/book.db"));
}

static void an_old_spill_counts_as_far_as_it_is_whole(void **state) {
    (void)state;
    old o;
    begin(&o, DATA "spill-5");
    put_old_logbook(&o);
    put_old_spill(&o, o.path, o.length / 2);
    open_and_close(o.path, NULL);
    long long rows = kept_number(o.path, "SELECT rows FROM rehearsal WHERE ended_us IS NULL");
    assert_true(rows > ROWS_TOLD && rows < ROWS);
    kept_assert_whole(o.path);
    end(&o);
}

static void an_old_spill_that_cannot_be_taken_in_stays(void **state) {
    (void)state;
    old o;
    char other[256], spill[256];
    begin(&o, DATA "spill-5");
    folder_path(spill, o.folder, "0.slowmatch-spill");
    folder_path(other, o.folder, "other.db");
    put_old_logbook(&o);
    kept_exec(other, "PRAGMA user_version = 0");
    put_old_spill(&o, other, 0);
    open_and_close(o.path, NULL); // of another logbook
    assert_int_equal(access(spill, F_OK), 0);
    open_and_close(other, "could not be taken in: NOT NULL"); // rows of no rehearsal
    assert_int_equal(access(spill, F_OK), 0);
    folder_write(o.folder, "0.slowmatch-spill", "no spill file of this program");
    open_and_close(o.path, NULL);
    assert_int_equal(access(spill, F_OK), 0);
    assert_int_equal(unlink(spill), 0);
    assert_int_equal(mkfifo(spill, 0600), 0);
    open_and_close(o.path, NULL);
    assert_int_equal(kept_number(o.path, "SELECT count(*) FROM row"), ROWS_TOLD);
    end(&o);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_old_export_comes_in_once),
        cmocka_unit_test(an_old_export_that_is_cut_off_changes_nothing),
        cmocka_unit_test(a_drill_without_a_seat_was_the_leads),
        cmocka_unit_test(an_old_logbook_takes_its_old_spill_in),
        cmocka_unit_test(an_old_spill_is_of_the_logbook_that_it_names),
        cmocka_unit_test(an_old_spill_counts_as_far_as_it_is_whole),
        cmocka_unit_test(an_old_spill_that_cannot_be_taken_in_stays),
    };
    return cmocka_run_group_tests_name("what earlier programs left", tests, NULL, NULL);
}
