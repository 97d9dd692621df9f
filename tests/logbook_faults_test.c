// SPDX-License-Identifier: GPL-3.0-or-later
// A logbook on a disk that fails: each write in turn, once and for good, full, broken and cut short. Whatever fails, nothing crashes,
// and the next start has every row.
#include "logbook/keeper.h"
#include "support/batches.h"
#include "support/fault_vfs.h"
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

// Keeps all batches, half a second after another; every third is durable. Not ended well: as if killed. Returns how many writes
// that took; closing takes some more.
static unsigned keep_all(const batches *b, const char *path) {
    sm_keeper keeper;
    assert_int_equal(sm_keeper_init(&keeper, path, 0), SM_OK);
    for (size_t i = 0; i < b->count; i++)
        sm_keeper_take(&keeper, b->entries.bytes + b->begin[i], b->begin[i + 1] - b->begin[i], i % 3 == 0,
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

static void every_write_fails_in_turn(void **state) {
    (void)state;
    char folder[64], path[256];
    batches b = {0};
    kept_begin(folder);
    batches_record(folder, &b);
    folder_path(path, folder, "logbook.db");
    fault_vfs_arm(FAULT_FULL, 0, false);
    unsigned keeping = keep_all(&b, path), writes = fault_vfs_count(), spilled = 0, failed = 0;
    assert_all_there(&b, path, FAULT_FULL, 0, false);
    batches_remove_logbook(path);
    assert_true(writes > 40);
    // Each write in every way in a soak; else each in two of the six ways, and each way at every third.
    const unsigned step = getenv("SLOWMATCH_SOAK") ? 1 : 3;
    for (int kind = 0; kind < FAULT_KINDS; kind++)
        for (int lasting = 0; lasting < 2; lasting++)
            for (unsigned at = 1 + (unsigned)(kind + lasting) % step; at <= writes; at += step) {
                failed++;
                fault_vfs_arm((fault_kind)kind, at, lasting);
                keep_all(&b, path);
                unsigned left = batches_count_spills(folder);
                spilled += left;
                if (lasting && at <= keeping && left == 0)
                    fail_msg("fault %d from write %u on: nothing was put aside", kind, at);
                assert_all_there(&b, path, (fault_kind)kind, at, lasting);
                if (batches_count_spills(folder) != 0)
                    fail_msg("fault %d at %u: a spill file is left", kind, at);
                batches_remove_logbook(path);
            }
    print_message("a rehearsal of %u writes had one fail, %u times, %u spill files were taken in\n", writes,
                  failed, spilled);
    sm_text_deinit(&b.entries);
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
    batches_record(folder, &b);
    folder_path(path, folder, "logbook.db");
    fault_vfs_arm(FAULT_FULL, 0, false);
    assert_int_equal(sm_keeper_init(&keeper, path, 0), SM_OK);
    for (size_t i = 0; i < b.count; i++) {
        if (i == 2)
            fault_vfs_arm(FAULT_FULL, 1, true);
        if (i == 5)
            fault_vfs_arm(FAULT_FULL, 0, false);
        sm_keeper_take(&keeper, b.entries.bytes + b.begin[i], b.begin[i + 1] - b.begin[i], false, (int64_t)i);
        assert_true((keeper.problem[0] != '\0') ==
                    (i >= 2)); // not tried again before some seconds have passed
    }
    assert_true(sm_keeper_finish(&keeper));
    assert_string_equal(keeper.problem, "");
    sm_keeper_deinit(&keeper);
    assert_all_there(&b, path, FAULT_FULL, 0, false);
    assert_int_equal(batches_count_spills(folder), 0);
    sm_text_deinit(&b.entries);
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

// ---- neither logbook nor spill -----------------------------------------------------------

// Logbook and spill lie on the same disk: what neither takes is held until one does.
static void a_disk_for_everything_may_fail_at_any_write(void **state) {
    (void)state;
    char folder[64], path[256];
    batches b = {0};
    kept_begin(folder);
    batches_record(folder, &b);
    folder_path(path, folder, "logbook.db");
    fault_vfs_spare(NULL);
    for (int kind = 0; kind < FAULT_KINDS; kind++)
        for (unsigned at = 1; at <= 90; at += 3 + (unsigned)kind) {
            sm_keeper keeper;
            assert_int_equal(sm_keeper_init(&keeper, path, 0), SM_OK);
            fault_vfs_arm((fault_kind)kind, at, true);
            for (size_t i = 0; i < b.count; i++) {
                if (i == b.count - 2)
                    fault_vfs_arm(FAULT_FULL, 0, false);
                sm_keeper_take(&keeper, b.entries.bytes + b.begin[i], b.begin[i + 1] - b.begin[i], i % 3 == 0,
                               (int64_t)i * SM_US_PER_S / 2);
            }
            assert_true(sm_keeper_finish(&keeper));
            assert_string_equal(keeper.problem, "");
            sm_keeper_deinit(&keeper);
            assert_all_there(&b, path, (fault_kind)kind, at, true);
            assert_int_equal(batches_count_spills(folder), 0);
            batches_remove_logbook(path);
        }
    fault_vfs_spare("slowmatch-spill");
    sm_text_deinit(&b.entries);
    kept_end(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_write_fails_in_turn),
        cmocka_unit_test(what_was_spilled_replays),
        cmocka_unit_test(a_disk_that_recovers_is_caught_up_with),
        cmocka_unit_test(a_disk_for_everything_may_fail_at_any_write),
        cmocka_unit_test(a_damaged_or_locked_logbook_is_said_and_lost_is_nothing),
    };
    fault_vfs_install("slowmatch-spill");
    return cmocka_run_group_tests_name("logbook on a failing disk", tests, NULL, NULL);
}
