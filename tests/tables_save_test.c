// SPDX-License-Identifier: GPL-3.0-or-later
// Tables are saved: at a kill, a full disk or beside somebody else who saves, nothing is lost. rename(2) and POSIX.1 (rename): a name
// always leads to the old or the new file.
#include "support/folder.h"

#include "slowmatch/clock.h"
#include "slowmatch/files.h"
#include "slowmatch/tables.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static char folder[64], backups[256], path[256];

static int begin(void **state) {
    (void)state;
    folder_make(folder);
    folder_path(backups, folder, "kept/tables");
    folder_path(path, folder, "show/cues.csv");
    assert_int_equal(sm_folder_make_above(path, 0755), SM_OK);
    return 0;
}

static int end(void **state) {
    (void)state;
    folder_remove(folder);
    return 0;
}

static const char short_table[] = "# SPDX-License-Identifier: GPL-3.0-or-later\n"
                                  "time , \"target\",do,id,note\r\n"
                                  " 0:01.5 ,A-01, comet ,\"1\",\n"
                                  "# of the second bell\n"
                                  "2,\"A-02\",comet,,\"two\nlines\"\n"
                                  "01:00:03:00,A-03,comet,3,";

// ---- on the disk ----------------------------------------------------------------------------

static unsigned count_files(const char *in) {
    unsigned count = 0;
    DIR *const listed = opendir(in);
    for (const struct dirent *entry; listed && (entry = readdir(listed));)
        count += entry->d_name[0] != '.';
    if (listed)
        closedir(listed);
    return count;
}

static unsigned files_of_show(void) {
    char show[256];
    return count_files(folder_path(show, folder, "show"));
}

static void write_short(void) {
    folder_write(folder, "show/cues.csv", short_table);
}

static bool holds(const char *text) {
    char *bytes;
    size_t length;
    assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
    const bool same = strcmp(bytes, text) == 0;
    free(bytes);
    return same;
}

static const sm_cell_change later = {5, "time", NULL, "2.5"};
static const sm_table_edit put_later = {.changes = &later, .change_count = 1};

static sm_result save(sm_text *why) {
    sm_text_clear(why);
    return sm_table_save(path, short_table, sizeof short_table - 1, &put_later, backups, why);
}

static void assert_refused(sm_result expected, const char *expected_why) {
    sm_text why = {0};
    assert_int_equal(save(&why), expected);
    if (!strstr(sm_text_get(&why), expected_why))
        fail_msg("%s", sm_text_get(&why));
    sm_text_deinit(&why);
}

static void the_old_table_is_kept_elsewhere(void **state) {
    (void)state;
    sm_text why = {0}, kept = {0};
    char *bytes;
    size_t length;
    write_short();
    assert_int_equal(save(&why), SM_OK);
    assert_false(holds(short_table));
    assert_int_equal(files_of_show(), 1);
    assert_int_equal(count_files(backups), 1);
    DIR *listed = opendir(backups);
    const struct dirent *entry;
    while ((entry = readdir(listed)) && strncmp(entry->d_name, "show-", 5) != 0) {
    }
    assert_non_null(entry);
    sm_text_printf(&kept, "%s/%s", backups, entry->d_name);
    closedir(listed);
    listed = opendir(kept.bytes);
    while ((entry = readdir(listed)) && strncmp(entry->d_name, "cues.csv.", 9) != 0) {
    }
    assert_non_null(entry);
    sm_text_printf(&kept, "/%s", entry->d_name);
    closedir(listed);
    assert_int_equal(sm_file_read(kept.bytes, &bytes, &length), SM_OK);
    assert_string_equal(bytes, short_table);
    free(bytes);
    sm_text_deinit(&kept);
    sm_text_deinit(&why);
}

static void what_others_saved_stays(void **state) {
    (void)state;
    folder_write(folder, "show/cues.csv", "time,target,do\n");
    assert_refused(SM_REFUSED, "somebody else saved it meanwhile");
    assert_true(holds("time,target,do\n"));
    assert_int_equal(files_of_show(), 1);
}

static bool begins_with(const char *text) {
    char *bytes;
    size_t length;
    if (sm_file_read(path, &bytes, &length) != SM_OK)
        return false;
    const bool is_so = strncmp(bytes, text, strlen(text)) == 0;
    free(bytes);
    return is_so;
}

// An editor saves again and again while the table is saved here: each of its texts is either kept or was seen.
static void an_editor_loses_nothing(void **state) {
    (void)state;
    char text[64];
    const sm_cell_change change = {2, "note", NULL, "seen"};
    const sm_table_edit mark = {.changes = &change, .change_count = 1};
    folder_write(folder, "show/cues.csv", "time,note\n0,\n");
    const pid_t process = fork();
    assert_true(process >= 0);
    while (process == 0) {
        sm_text why = {0};
        if (sm_table_change(path, &mark, backups, &why) != SM_OK && !strstr(sm_text_get(&why), "meanwhile"))
            _exit(1);
        sm_text_deinit(&why);
    }
    for (int number = 1; number <= 150; number++) {
        char mine[256];
        snprintf(text, sizeof text, "time,note\n%d,\n", number);
        folder_write(folder, "show/of-the-editor", text);
        assert_int_equal(rename(folder_path(mine, folder, "show/of-the-editor"), path), 0);
        snprintf(text, sizeof text, "time,note\n%d,", number);
        // Another may stand there until it is changed back.
        for (const int64_t until_us = sm_monotonic_us() + 60 * SM_US_PER_S; !begins_with(text);)
            if (sm_monotonic_us() > until_us)
                fail_msg("text %d of the editor is lost", number);
    }
    assert_int_equal(kill(process, SIGKILL), 0);
    assert_int_equal(waitpid(process, NULL, 0), process);
}

static void links_and_modes_stay(void **state) {
    (void)state;
    char real[256], second[256];
    struct stat is;
    sm_text why = {0};
    write_short();
    folder_path(real, folder, "real.csv");
    assert_int_equal(rename(path, real), 0);
    assert_int_equal(symlink("../real.csv", path), 0);
    assert_int_equal(chmod(real, 0640), 0);
    folder_path(second, folder, "second.csv");
    assert_int_equal(link(real, second), 0);
    assert_refused(SM_REFUSED, "a hard link");
    assert_true(holds(short_table));
    assert_int_equal(unlink(second), 0);
    assert_int_equal(save(&why), SM_OK);
    assert_int_equal(lstat(path, &is), 0);
    assert_true(S_ISLNK(is.st_mode));
    assert_int_equal(stat(path, &is), 0);
    assert_int_equal(is.st_mode & 07777, 0640);
    sm_text_deinit(&why);
}

// As a user to whom neither the table nor its folder belongs.
static void read_only_is_said(void **state) {
    (void)state;
    write_short();
    assert_int_equal(chmod(folder, 0755), 0);
    assert_int_equal(chmod(path, 0444), 0);
    assert_int_equal(sm_folder_make(backups, 0777), SM_OK);
    assert_int_equal(chmod(backups, 0777), 0);
    const pid_t process = fork();
    if (process == 0) {
        sm_text why = {0};
        if (geteuid() == 0 && setresuid(65534, 65534, 65534) != 0)
            _exit(2);
        const sm_result result = save(&why);
        _exit(result == SM_UNREADABLE && strstr(why.bytes, "cannot be written: Permission denied") ? 0 : 1);
    }
    int status;
    assert_int_equal(waitpid(process, &status, 0), process);
    assert_int_equal(status, 0);
    assert_true(holds(short_table));
}

// write(2) fails with EFBIG beyond the limit, as with ENOSPC at a full disk: at the copy, or at the table.
static void a_full_disk_leaves_the_old_table(void **state) {
    (void)state;
    for (int at_table = 0; at_table < 2; at_table++) {
        write_short();
        const pid_t process = fork();
        if (process == 0) {
            sm_text why = {0};
            const rlim_t limit = sizeof short_table - (at_table ? 1 : 5); // the new table is two bytes longer
            signal(SIGXFSZ, SIG_IGN);
            setrlimit(RLIMIT_FSIZE, &(struct rlimit){limit, limit});
            const char *const expected =
                at_table ? "it cannot be written: File too large" : "no copy of it could be kept";
            _exit(save(&why) == SM_UNREADABLE && strstr(why.bytes, expected) ? 0 : 1);
        }
        int status;
        assert_int_equal(waitpid(process, &status, 0), process);
        assert_int_equal(status, 0);
        assert_true(holds(short_table));
        assert_int_equal(files_of_show(), 1);
    }
}

// ---- killed --------------------------------------------------------------------------------

static void age_the_rest(void) {
    char show[256];
    DIR *const listed = opendir(folder_path(show, folder, "show"));
    const struct timespec times[2] = {{.tv_sec = 1000000000}, {.tv_sec = 1000000000}};
    assert_non_null(listed);
    for (const struct dirent *entry; (entry = readdir(listed));)
        if (strstr(entry->d_name, ".slowmatch-new"))
            assert_int_equal(utimensat(dirfd(listed), entry->d_name, times, 0), 0);
    closedir(listed);
}

static void save_in_turn(void) {
    static const char *const times[] = {"2", "2.5"};
    for (unsigned i = 0;; i++) {
        sm_text why = {0};
        const sm_cell_change change = {5, "time", times[i % 2], times[(i + 1) % 2]};
        const sm_table_edit turn = {.changes = &change, .change_count = 1};
        if (sm_table_change(path, &turn, backups, &why) != SM_OK)
            _exit(1);
        sm_text_deinit(&why);
    }
}

static void a_kill_never_tears_a_table(void **state) {
    (void)state;
    const char *const soak = getenv("SLOWMATCH_SOAK");
    const int rounds = soak && soak[0] != '\0' && soak[0] != '0' ? 1000 : 50;
    srand(7); // the moments differ anyway
    int old = 0, left = 0;
    char changed[sizeof short_table + 2], show[256];
    const char *const cell = strstr(short_table, "\n2,");
    snprintf(changed, sizeof changed, "%.*s.5%s", (int)(cell - short_table) + 2, short_table, cell + 2);
    folder_path(show, folder, "show");
    for (int i = 0; i < rounds; i++) {
        write_short();
        const pid_t process = fork();
        assert_true(process >= 0);
        if (process == 0)
            save_in_turn();
        poll(NULL, 0, (int)rand() % 20);
        assert_int_equal(kill(process, SIGKILL), 0);
        int status;
        assert_int_equal(waitpid(process, &status, 0), process);
        assert_true(WIFSIGNALED(status));
        const bool is_old = holds(short_table);
        assert_true(is_old || holds(changed));
        old += is_old;
        left += files_of_show() > 1;
        age_the_rest();
        sm_tables_sweep(show);
        assert_int_equal(files_of_show(), 1);
    }
    print_message("%d kills: %d old, %d new, 0 torn; %d left a file beside, none is left\n", rounds, old,
                  rounds - old, left);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_old_table_is_kept_elsewhere, begin, end),
        cmocka_unit_test_setup_teardown(what_others_saved_stays, begin, end),
        cmocka_unit_test_setup_teardown(an_editor_loses_nothing, begin, end),
        cmocka_unit_test_setup_teardown(links_and_modes_stay, begin, end),
        cmocka_unit_test_setup_teardown(read_only_is_said, begin, end),
        cmocka_unit_test_setup_teardown(a_full_disk_leaves_the_old_table, begin, end),
        cmocka_unit_test_setup_teardown(a_kill_never_tears_a_table, begin, end),
    };
    return cmocka_run_group_tests_name("tables save", tests, NULL, NULL);
}
