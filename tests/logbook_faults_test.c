// SPDX-License-Identifier: GPL-3.0-or-later
// A logbook on a disk that fails: each write in turn, once and for good, full, broken and cut short. Whatever fails, nothing crashes,
// and the next start has every row.
#include "logbook/keeper.h"
#include "support/fault_vfs.h"
#include "support/folder.h"
#include "support/kept.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#define BATCHES_MAX 64
#define RECORDS_A_BATCH 8

// A rehearsal as batches of records.
typedef struct batches {
    char *bytes;
    size_t begin[BATCHES_MAX + 1], count;
    unsigned rows;
} batches;

// Every record of a rehearsal goes into a spill file when its logbook cannot be made at all.
static void record_rehearsal(const char *folder, batches *out) {
    char problem[400], path[256], *spill;
    size_t length;
    folder_write(folder, "no-folder", "");
    out->rows = kept_rehearse(folder, folder_path(path, folder, "no-folder/logbook.db"), NULL, problem);
    char *name = strstr(problem, "kept aside in ");
    assert_non_null(name);
    name += strlen("kept aside in ");
    assert_int_equal(sm_file_read(name, &spill, &length), SM_OK);
    const char *at = strchr(strchr(spill, '\n') + 1, '\n') + 1, *end = spill + length;
    out->bytes = spill;
    out->begin[0] = (size_t)(at - spill);
    sm_record record;
    for (size_t n = 1; sm_record_next(&at, end, &record); n++)
        if (n % RECORDS_A_BATCH == 0 || at == end) {
            assert_true(out->count < BATCHES_MAX);
            out->begin[++out->count] = (size_t)(at - spill);
        }
    assert_ptr_equal(at, end);
    unlink(name);
}

// Keeps all batches, half a second after another; every third is durable. Not ended well: as if killed. Returns how many writes
// that took; closing takes some more.
static unsigned keep_all(const batches *b, const char *path) {
    sm_keeper keeper;
    assert_int_equal(sm_keeper_init(&keeper, path, 0), SM_OK);
    for (size_t i = 0; i < b->count; i++)
        sm_keeper_take(&keeper, b->bytes + b->begin[i], b->begin[i + 1] - b->begin[i], i % 3 == 0,
                       (int64_t)i * SM_US_PER_S / 2);
    assert_false(keeper.lost);
    assert_int_equal(keeper.held.length, 0); // the spill file took what the logbook did not
    unsigned writes = fault_vfs_count();
    sm_keeper_deinit(&keeper);
    return writes;
}

static void assert_all_there(const batches *b, const char *path, fault_kind kind, unsigned at, bool lasting) {
    fault_vfs_arm(kind, 0, false);
    char why[400];
    sm_logbook *logbook = NULL;
    if (sm_logbook_open(path, true, why, &logbook) != SM_OK)
        fail_msg("fault %d at %u%s: %s", (int)kind, at, lasting ? " and on" : "", why);
    sm_logbook_close(logbook);
    long long rows = kept_number(path, "SELECT count(*) FROM row");
    if (rows != b->rows || kept_number(path, "SELECT rows FROM rehearsal") != rows)
        fail_msg("fault %d at %u%s: %lld rows of %u", (int)kind, at, lasting ? " and on" : "", rows, b->rows);
    assert_int_equal(
        kept_number(path, "SELECT count(*) FROM pragma_integrity_check WHERE integrity_check <> 'ok'"), 0);
    assert_int_equal(kept_number(path, "SELECT count(*) FROM rehearsal"), 1);
}

static unsigned count_spills(const char *folder) {
    unsigned count = 0;
    DIR *listed = opendir(folder);
    assert_non_null(listed);
    for (struct dirent *entry = readdir(listed); entry; entry = readdir(listed))
        count += strstr(entry->d_name, "spill") != NULL;
    closedir(listed);
    return count;
}

static void remove_logbook(const char *path) {
    static const char *const ends[] = {"", "-wal", "-shm", "-journal"};
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        char name[300];
        snprintf(name, sizeof name, "%s%s", path, ends[i]);
        unlink(name);
    }
}

static void every_write_fails_in_turn(void **state) {
    (void)state;
    char folder[64], path[256];
    batches b = {0};
    kept_begin(folder);
    record_rehearsal(folder, &b);
    folder_path(path, folder, "logbook.db");
    fault_vfs_arm(FAULT_FULL, 0, false);
    unsigned keeping = keep_all(&b, path), writes = fault_vfs_count(), spilled = 0;
    assert_all_there(&b, path, FAULT_FULL, 0, false);
    remove_logbook(path);
    assert_true(writes > 40);
    for (int kind = 0; kind < FAULT_KINDS; kind++)
        for (int lasting = 0; lasting < 2; lasting++)
            for (unsigned at = 1; at <= writes; at++) {
                fault_vfs_arm((fault_kind)kind, at, lasting);
                keep_all(&b, path);
                unsigned left = count_spills(folder);
                spilled += left;
                if (lasting && at <= keeping && left == 0)
                    fail_msg("fault %d from write %u on: nothing was put aside", kind, at);
                assert_all_there(&b, path, (fault_kind)kind, at, lasting);
                if (count_spills(folder) != 0)
                    fail_msg("fault %d at %u: a spill file is left", kind, at);
                remove_logbook(path);
            }
    print_message("%u writes of a rehearsal failed in turn, %u spill files were taken in\n", writes * 6,
                  spilled);
    free(b.bytes);
    kept_end(folder);
}

// What a replay needs is among what was saved.
static void what_was_spilled_replays(void **state) {
    (void)state;
    char folder[64], path[256], problem[400];
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    fault_vfs_arm(FAULT_FULL, 1, true);
    unsigned rows = kept_rehearse(folder, path, NULL, problem);
    assert_non_null(strstr(problem, "logbook.db: "));
    assert_non_null(strstr(problem, "full"));
    fault_vfs_arm(FAULT_FULL, 0, false);
    sm_logbook *logbook = NULL;
    assert_int_equal(sm_logbook_open(path, true, problem, &logbook), SM_OK);
    sm_logbook_close(logbook);
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), rows);
    kept_assert_replays(path, 1);
    kept_end(folder);
}

// The disk is full, then it is not: the rest of the same rehearsal goes into the logbook, all of it in order.
static void a_disk_that_recovers_is_caught_up_with(void **state) {
    (void)state;
    char folder[64], path[256];
    batches b = {0};
    sm_keeper keeper;
    kept_begin(folder);
    record_rehearsal(folder, &b);
    folder_path(path, folder, "logbook.db");
    fault_vfs_arm(FAULT_FULL, 0, false);
    assert_int_equal(sm_keeper_init(&keeper, path, 0), SM_OK);
    for (size_t i = 0; i < b.count; i++) {
        if (i == 2)
            fault_vfs_arm(FAULT_FULL, 1, true);
        if (i == 5)
            fault_vfs_arm(FAULT_FULL, 0, false);
        sm_keeper_take(&keeper, b.bytes + b.begin[i], b.begin[i + 1] - b.begin[i], false, (int64_t)i);
        assert_true((keeper.problem[0] != '\0') ==
                    (i >= 2)); // not tried again before some seconds have passed
    }
    assert_true(sm_keeper_finish(&keeper));
    assert_string_equal(keeper.problem, "");
    sm_keeper_deinit(&keeper);
    assert_all_there(&b, path, FAULT_FULL, 0, false);
    assert_int_equal(count_spills(folder), 0);
    free(b.bytes);
    kept_end(folder);
}

static void a_damaged_or_locked_logbook_is_said_and_lost_is_nothing(void **state) {
    (void)state;
    char folder[64], path[256], problem[400];
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    fault_vfs_arm(FAULT_FULL, 0, false);
    folder_write(folder, "logbook.db",
                 "this is no database, and is long enough to be looked at as one ..............");
    unsigned rows = kept_rehearse(folder, path, NULL, problem);
    assert_non_null(strstr(problem, "not a database"));
    char *text;
    size_t length;
    assert_int_equal(sm_file_read(path, &text, &length), SM_OK);
    assert_non_null(strstr(text, "this is no database")); // somebody's file is not written over
    free(text);
    unlink(path);
    sqlite3 *other = NULL;
    sm_logbook *logbook = NULL;
    assert_int_equal(sm_logbook_open(path, true, problem, &logbook), SM_OK);
    sm_logbook_close(logbook);
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), rows);
    assert_int_equal(sqlite3_open(path, &other), SQLITE_OK);
    assert_int_equal(sqlite3_exec(other, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    kept_rehearse(folder, path, NULL, problem);
    assert_non_null(strstr(problem, "locked"));
    assert_int_equal(sqlite3_exec(other, "COMMIT", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(other);
    sm_logbook_close(kept_open(path));
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), 2 * rows);
    kept_assert_whole(path);
    kept_end(folder);
}

static void a_spill_that_cannot_be_taken_in_keeps_nothing_out(void **state) {
    (void)state;
    char folder[64], path[256], why[400], *real;
    sm_logbook *logbook = NULL;
    sm_text spill = {0};
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    fault_vfs_arm(FAULT_FULL, 0, false);
    kept_rehearse(folder, path, NULL, NULL);
    real = realpath(path, NULL);
    assert_non_null(real);
    sm_text_printf(&spill,
                   SM_RECORD_HEADER
                   "%s\nE2\n4:none\n1:5\nr10\n4:none\n1:0\n1:0\n0:\n6:engine\n5:state\n0:\n0:\n0:\n1:0\n",
                   real);
    folder_write(folder, "0.slowmatch-spill", spill.bytes); // a row of no rehearsal
    folder_write(folder, "1.slowmatch-spill", "no spill file of this program");
    sm_text_printf(&spill, "r10\n4:no");
    spill.bytes[strlen(SM_RECORD_HEADER)] = '!'; // of another logbook
    folder_write(folder, "2.slowmatch-spill", spill.bytes);
    assert_int_equal(sm_logbook_open(path, false, why, &logbook), SM_OK);
    assert_non_null(strstr(why, "could not be taken in: NOT NULL"));
    sm_logbook_close(logbook);
    assert_int_equal(count_spills(folder), 3);
    kept_assert_whole(path);
    sm_text_deinit(&spill);
    free(real);
    kept_end(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_write_fails_in_turn),
        cmocka_unit_test(what_was_spilled_replays),
        cmocka_unit_test(a_disk_that_recovers_is_caught_up_with),
        cmocka_unit_test(a_spill_that_cannot_be_taken_in_keeps_nothing_out),
        cmocka_unit_test(a_damaged_or_locked_logbook_is_said_and_lost_is_nothing),
    };
    fault_vfs_install();
    return cmocka_run_group_tests_name("logbook on a failing disk", tests, NULL, NULL);
}
