// SPDX-License-Identifier: GPL-3.0-or-later
// Spills: which are taken in, and which are somebody else's, or broken, and keep nothing out.
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

// The name of the spill that a rehearsal left which could not be kept at all.
static char *spill_of(char problem[400]) {
    char *name = strstr(problem, "kept aside in ");
    assert_non_null(name);
    return name + strlen("kept aside in ");
}

static void opens(const char *path, const char *expected_why) {
    char why[400];
    sm_logbook *logbook = NULL;
    assert_int_equal(sm_logbook_open(path, true, why, &logbook), SM_OK);
    sm_logbook_close(logbook);
    if (expected_why ? !strstr(why, expected_why) : why[0] != '\0')
        fail_msg("%s", why);
}

// A logbook on a full disk from the first write on; the name of its spill goes to SPILL.
static unsigned spill_all(const char *folder, const char *path, char spill[300]) {
    char problem[400];
    fault_vfs_arm(FAULT_FULL, 1, true);
    unsigned rows = kept_rehearse(folder, path, NULL, problem);
    fault_vfs_arm(FAULT_FULL, 0, false);
    snprintf(spill, 300, "%s", spill_of(problem));
    return rows;
}

static void a_spill_that_cannot_be_taken_in_keeps_nothing_out(void **state) {
    (void)state;
    char folder[64], path[256], other[256], spill[3][300];
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    folder_path(other, folder, "other.db");
    spill_all(folder, path, spill[0]);
    unsigned rows = spill_all(folder, path, spill[1]);
    spill_all(folder, other, spill[2]); // of another logbook
    assert_int_equal(batches_count_spills(folder), 3);
    FILE *damaged = fopen(spill[0], "r+");
    assert_non_null(damaged);
    assert_int_equal(fseek(damaged, 4096, SEEK_SET), 0);
    for (int i = 0; i < 4096; i++)
        fputc(0xA5, damaged);
    assert_int_equal(fclose(damaged), 0);
    opens(path, "could not be taken in: ");
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), rows);
    assert_int_equal(access(spill[0], F_OK), 0);
    assert_int_equal(access(spill[1], F_OK), -1);
    assert_int_equal(access(spill[2], F_OK), 0);
    kept_assert_whole(path);
    kept_exec(spill[2], "CREATE VIEW more AS SELECT 1");
    opens(other, "could not be taken in: it has other tables than a logbook");
    kept_exec(spill[2], "DROP VIEW more; UPDATE row SET rehearsal = 77 WHERE n = 3");
    opens(other, "could not be taken in: ");
    assert_int_equal(kept_number(other, "SELECT count(*) FROM row"), 0); // all or nothing
    kept_end(folder);
}

// Who could have put a file there is no matter of its name.
static void what_is_not_ours_alone_is_passed_over(void **state) {
    (void)state;
    char folder[64], path[256], fallback[256], spill[300], moved[300], second[330];
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    unsigned rows = spill_all(folder, path, spill);
    assert_int_equal(kept_number(spill, "SELECT rows FROM rehearsal"), rows); // it is a logbook by itself
    assert_int_equal(chmod(spill, 0620), 0);
    opens(path, NULL);
    assert_int_equal(chmod(spill, 0600), 0);
    snprintf(second, sizeof second, "%s-second", spill);
    assert_int_equal(link(spill, second), 0);
    opens(path, NULL);
    assert_int_equal(unlink(second), 0);
    assert_int_equal(rename(spill, second), 0);
    assert_int_equal(symlink(second, spill), 0);
    opens(path, NULL);
    assert_int_equal(unlink(spill), 0);
    assert_int_equal(mkfifo(spill, 0600), 0); // whoever opened it would hang
    opens(path, NULL);
    assert_int_equal(unlink(spill), 0);
    assert_int_equal(mkdir(spill, 0700), 0);
    opens(path, NULL);
    assert_int_equal(rmdir(spill), 0);
    if (geteuid() == 0) {
        assert_int_equal(chown(second, 65534, (gid_t)-1), 0);
        assert_int_equal(rename(second, spill), 0);
        opens(path, NULL);
        assert_int_equal(rename(spill, second), 0);
        assert_int_equal(chown(second, 0, (gid_t)-1), 0);
    }
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), 0);
    snprintf(fallback, sizeof fallback, "%s/slowmatch-%u", folder, (unsigned)getuid());
    snprintf(moved, sizeof moved, "%s/%s", fallback, strrchr(spill, '/') + 1);
    assert_int_equal(mkdir(fallback, 0700), 0);
    assert_int_equal(rename(second, moved), 0);
    assert_int_equal(chmod(fallback, 0770), 0);
    opens(path, NULL);
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), 0);
    assert_int_equal(chmod(fallback, 0700), 0);
    opens(path, NULL);
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), rows);
    assert_int_equal(access(moved, F_OK), -1);
    kept_end(folder);
}

static void a_spill_that_is_being_written_is_left_alone(void **state) {
    (void)state;
    char folder[64], path[256];
    batches b = {0};
    sm_keeper keeper;
    kept_begin(folder);
    batches_record(folder, &b);
    folder_path(path, folder, "logbook.db");
    opens(path, NULL);
    assert_int_equal(sm_keeper_init(&keeper, path, 0), SM_OK);
    fault_vfs_arm(FAULT_FULL, 1, true);
    sm_keeper_take(&keeper, b.entries.bytes, b.begin[b.count - 1], false, 0);
    fault_vfs_arm(FAULT_FULL, 0, false);
    assert_true(batches_count_spills(folder) > 0);
    opens(path, NULL);
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), 0);
    sm_keeper_take(&keeper, b.entries.bytes + b.begin[b.count - 1], b.entries.length - b.begin[b.count - 1],
                   false, 1);
    sm_keeper_deinit(&keeper); // as if it had been killed
    assert_int_equal(batches_count_spills(folder), 1);
    opens(path, NULL);
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), b.rows);
    assert_int_equal(kept_number(path, "SELECT ended_us IS NOT NULL FROM rehearsal"), 1);
    assert_int_equal(batches_count_spills(folder), 0);
    sm_text_deinit(&b.entries);
    kept_end(folder);
}

static void a_folder_of_somebody_else_gets_no_spill(void **state) {
    (void)state;
    char folder[64], path[256], passing[256];
    batches b = {0};
    if (geteuid() != 0)
        skip();
    kept_begin(folder);
    batches_record(folder, &b);
    folder_write(folder, "state", "no folder");
    folder_write(folder, "none", "no folder");
    folder_path(path, folder, "none/logbook.db");
    snprintf(passing, sizeof passing, "%s/slowmatch-%u", folder, (unsigned)getuid());
    assert_int_equal(mkdir(passing, 0700), 0);
    for (int i = 0; i < 3; i++) {
        sm_keeper keeper;
        assert_int_equal(chown(passing, i == 0 ? 65534 : geteuid(), (gid_t)-1), 0);
        assert_int_equal(chmod(passing, i == 1 ? 0730 : 0700), 0);
        assert_int_equal(sm_keeper_init(&keeper, path, 0), SM_OK);
        sm_keeper_take(&keeper, b.entries.bytes, b.entries.length, false, 0);
        if (!strstr(keeper.problem, i < 2 ? "cannot be written either: Permission denied" : "kept aside in "))
            fail_msg("%d: %s", i, keeper.problem);
        sm_keeper_deinit(&keeper);
        assert_int_equal(batches_count_spills(passing), i == 2);
    }
    sm_text_deinit(&b.entries);
    kept_end(folder);
}

// The disk with the logbook is full for good while its first spill, on the same disk, is being written.
static void a_spill_that_cannot_be_written_on_goes_on_in_the_state_folder(void **state) {
    (void)state;
    char folder[64], path[256], aside[256];
    batches b = {0};
    sm_keeper keeper;
    kept_begin(folder);
    batches_record(folder, &b);
    folder_path(path, folder, "logbook.db");
    folder_path(aside, folder, "state/slowmatch");
    fault_vfs_spare("/state/slowmatch");
    assert_int_equal(sm_keeper_init(&keeper, path, 0), SM_OK);
    size_t at = b.begin[b.count / 2];
    fault_vfs_arm(FAULT_FULL, 1, false);
    sm_keeper_take(&keeper, b.entries.bytes, at, true, 0);
    assert_non_null(keeper.spill.path);
    assert_null(strstr(keeper.spill.path, "/state/"));
    fault_vfs_arm(FAULT_FULL, 1, true);
    for (size_t i = b.count / 2; i < b.count; i++) {
        size_t next = i + 1 < b.count ? b.begin[i + 1] : b.entries.length;
        sm_keeper_take(&keeper, b.entries.bytes + at, next - at, true, 1);
        at = next;
        assert_non_null(strstr(keeper.spill.path, "/state/slowmatch/"));
    }
    fault_vfs_arm(FAULT_FULL, 0, false);
    assert_true(batches_count_spills(folder) > 0 && batches_count_spills(aside) > 0); // with their journals
    assert_true(sm_keeper_finish(&keeper));
    sm_keeper_deinit(&keeper);
    fault_vfs_spare("slowmatch-spill");
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), b.rows);
    assert_int_equal(batches_count_spills(folder) + batches_count_spills(aside), 0);
    kept_assert_whole(path);
    sm_text_deinit(&b.entries);
    kept_end(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_spill_that_cannot_be_taken_in_keeps_nothing_out),
        cmocka_unit_test(what_is_not_ours_alone_is_passed_over),
        cmocka_unit_test(a_spill_that_is_being_written_is_left_alone),
        cmocka_unit_test(a_folder_of_somebody_else_gets_no_spill),
        cmocka_unit_test(a_spill_that_cannot_be_written_on_goes_on_in_the_state_folder),
    };
    fault_vfs_install("slowmatch-spill");
    return cmocka_run_group_tests_name("spills", tests, NULL, NULL);
}
