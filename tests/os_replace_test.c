// SPDX-License-Identifier: GPL-3.0-or-later
// Files are replaced whole or not at all: at a full disk, at a kill, beside others that write them too. rename(2) and POSIX.1 (rename):
// a name always leads to the old or the new file.
#include "support/folder.h"

#include "slowmatch/clock.h"
#include "slowmatch/files.h"

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

#define LONG_US (60 * SM_US_PER_S)

static char folder[64], path[256];

static int begin(void **state) {
    (void)state;
    folder_make(folder);
    folder_path(path, folder, "file");
    return 0;
}

static int end(void **state) {
    (void)state;
    folder_remove(folder);
    return 0;
}

static void assert_holds(const char *expected) {
    char *bytes;
    size_t length;
    assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
    assert_string_equal(bytes, expected);
    free(bytes);
}

// Files in the folder, those that begin with a point not counted.
static unsigned count_files(void) {
    unsigned count = 0;
    DIR *listed = opendir(folder);
    assert_non_null(listed);
    for (const struct dirent *entry; (entry = readdir(listed));)
        count += entry->d_name[0] != '.';
    closedir(listed);
    return count;
}

static sm_result put(const char *text) {
    return sm_file_replace(path, &(sm_file_new){.bytes = text, .length = strlen(text), .mode = 0640});
}

static sm_result put_over(const char *old, const char *text) {
    return sm_file_replace(path, &(sm_file_new){.bytes = text,
                                                .length = strlen(text),
                                                .mode = 0640,
                                                .if_same = true,
                                                .old = old,
                                                .old_length = old ? strlen(old) : 0});
}

static void mode_and_links_stay(void **state) {
    (void)state;
    struct stat is;
    char real[256], second[256];
    umask(022);
    assert_int_equal(put("one"), SM_OK);
    assert_int_equal(stat(path, &is), 0);
    assert_int_equal(is.st_mode & 07777, 0640);
    folder_path(real, folder, "elsewhere");
    folder_path(second, folder, "second");
    assert_int_equal(rename(path, real), 0);
    assert_int_equal(chmod(real, 0604), 0);
    assert_int_equal(symlink("elsewhere", path), 0);
    assert_int_equal(put("two"), SM_OK);
    assert_holds("two");
    assert_int_equal(lstat(path, &is), 0);
    assert_true(S_ISLNK(is.st_mode));
    assert_int_equal(stat(real, &is), 0);
    assert_int_equal(is.st_mode & 07777, 0604);
    assert_int_equal(link(real, second), 0);
    const sm_file_new alone = {.bytes = "three", .length = 5, .mode = 0640, .refuse_hard_links = true};
    assert_int_equal(sm_file_replace(path, &alone), SM_REFUSED);
    assert_int_equal(errno, EMLINK);
    assert_int_equal(unlink(second), 0);
    assert_int_equal(sm_file_replace(path, &alone), SM_OK);
    assert_holds("three");
    assert_int_equal(count_files(), 2);
}

static void what_is_no_file_of_ours_is_refused(void **state) {
    (void)state;
    char none[256];
    assert_int_equal(mkfifo(path, 0600), 0);
    assert_int_equal(put("text"), SM_REFUSED);
    assert_int_equal(errno, EINVAL);
    assert_int_equal(unlink(path), 0);
    assert_int_equal(symlink("nowhere", path), 0);
    assert_int_equal(put("text"), SM_UNREADABLE);
    assert_int_equal(errno, ENOENT);
    folder_path(none, folder, "none/file");
    assert_int_equal(sm_file_replace(none, &(sm_file_new){.bytes = "", .mode = 0600}), SM_UNREADABLE);
    assert_int_equal(errno, ENOENT);
    assert_int_equal(count_files(), 1);
}

static void another_content_is_noticed(void **state) {
    (void)state;
    assert_int_equal(put_over("text", "new"), SM_REFUSED); // not there
    assert_int_equal(errno, EBUSY);
    assert_int_equal(put_over(NULL, "one"), SM_OK);
    assert_int_equal(put_over(NULL, "two"), SM_REFUSED); // there already
    assert_int_equal(errno, EBUSY);
    assert_int_equal(put_over("two", "three"), SM_REFUSED);
    assert_int_equal(put_over("on", "three"), SM_REFUSED);
    assert_int_equal(put_over("one\n", "three"), SM_REFUSED);
    assert_holds("one");
    assert_int_equal(put_over("one", ""), SM_OK);
    assert_holds("");
    assert_int_equal(put_over("", "three"), SM_OK);
    assert_holds("three");
    assert_int_equal(count_files(), 1);
}

// ---- faults ------------------------------------------------------------------------------

// A process whose files may have no more than LIMIT bytes: write(2) fails with EFBIG beyond that, as it does with ENOSPC at a full disk.
static void a_full_disk_leaves_the_old_file(void **state) {
    (void)state;
    static char big[100000];
    memset(big, 'x', sizeof big - 1);
    assert_int_equal(put("old"), SM_OK);
    for (rlim_t limit = 0; limit < sizeof big - 1; limit += 33333) {
        pid_t process = fork();
        assert_true(process >= 0);
        if (process == 0) {
            signal(SIGXFSZ, SIG_IGN);
            setrlimit(RLIMIT_FSIZE, &(struct rlimit){limit, limit});
            _exit(put_over("old", big) == SM_UNREADABLE && errno == EFBIG ? 0 : 1);
        }
        int status;
        assert_int_equal(waitpid(process, &status, 0), process);
        assert_int_equal(status, 0);
        assert_holds("old");
        assert_int_equal(count_files(), 1);
    }
}

// Two contents in turn, told apart by every byte.
static void put_in_turn(void) {
    static char text[2][30001];
    memset(text[0], 'a', 20000);
    memset(text[1], 'b', 30000);
    for (int i = 0;; i++)
        if (put_over(text[i % 2], text[1 - i % 2]) != SM_OK)
            _exit(1);
}

static void assert_one_of_two(void) {
    char *bytes;
    size_t length;
    assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
    assert_true(length == 20000 || length == 30000);
    for (size_t i = 0; i < length; i++)
        assert_int_equal(bytes[i], length == 20000 ? 'a' : 'b');
    free(bytes);
}

// Makes everything but the file itself look a day old.
static void age_the_rest(void) {
    DIR *listed = opendir(folder);
    assert_non_null(listed);
    const struct timespec times[2] = {{.tv_sec = time(NULL) - 86400}, {.tv_sec = time(NULL) - 86400}};
    for (const struct dirent *entry; (entry = readdir(listed));)
        if (strncmp(entry->d_name, "file.", 5) == 0)
            assert_int_equal(utimensat(dirfd(listed), entry->d_name, times, 0), 0);
    closedir(listed);
}

static void a_kill_leaves_the_old_or_the_new_file(void **state) {
    (void)state;
    static char first[20001];
    memset(first, 'a', 20000);
    const char *soak = getenv("SLOWMATCH_SOAK");
    int rounds = soak && soak[0] != '\0' && soak[0] != '0' ? 2000 : 60;
    unsigned left = 0;
    srand(4); // the moments differ anyway
    for (int i = 0; i < rounds; i++) {
        assert_int_equal(put(first), SM_OK);
        pid_t process = fork();
        assert_true(process >= 0);
        if (process == 0)
            put_in_turn();
        poll(NULL, 0, rand() % 12);
        assert_int_equal(kill(process, SIGKILL), 0);
        int status;
        assert_int_equal(waitpid(process, &status, 0), process);
        assert_true(WIFSIGNALED(status));
        assert_one_of_two();
        left += count_files() > 1;
        age_the_rest();
    }
    char other[300];
    snprintf(other, sizeof other, "%s.%ld-1.slowmatch-new", path, (long)getpid()); // of a program that runs
    assert_int_equal(close(open(other, O_CREAT | O_WRONLY | O_CLOEXEC, 0600)), 0);
    age_the_rest();
    assert_int_equal(put("swept"), SM_OK);
    assert_int_equal(count_files(), 2);
    assert_int_equal(access(other, F_OK), 0);
    print_message("%d kills, %u left a file beside, none is left\n", rounds, left);
}

// ---- others -----------------------------------------------------------------------------------

// The number behind PREFIX; -1: there is none.
static long read_number(const char *prefix) {
    char *bytes;
    size_t length;
    long number = -1;
    if (sm_file_read(path, &bytes, &length) != SM_OK)
        return -1;
    if (strncmp(bytes, prefix, strlen(prefix)) == 0 && bytes[strlen(prefix)] >= '0' &&
        bytes[strlen(prefix)] <= '9')
        number = strtol(bytes + strlen(prefix), NULL, 10);
    free(bytes);
    return number;
}

// Adds one to the number in the file; somebody else may be first, then again.
static void count_up(void) {
    char old[32], next[32];
    for (;;) {
        long number = read_number("");
        snprintf(old, sizeof old, "%ld", number);
        snprintf(next, sizeof next, "%ld", number + 1);
        if (put_over(old, next) == SM_OK)
            return;
        if (errno != EBUSY)
            _exit(1);
    }
}

static void programs_that_count_up_lose_nothing(void **state) {
    (void)state;
    assert_int_equal(put("0"), SM_OK);
    pid_t processes[4];
    for (size_t i = 0; i < 4; i++) {
        processes[i] = fork();
        assert_true(processes[i] >= 0);
        for (int n = 0; processes[i] == 0 && n < 50; n++)
            count_up();
        if (processes[i] == 0)
            _exit(0);
    }
    for (size_t i = 0; i < 4; i++) {
        int status;
        assert_int_equal(waitpid(processes[i], &status, 0), processes[i]);
        assert_int_equal(status, 0);
    }
    assert_holds("200");
    assert_int_equal(count_files(), 1);
}

// An editor that knows nothing of locks: each of its texts is seen by the one who replaces, or stays.
static void follow_the_editor(void) {
    char seen[32], old[32];
    for (;;) {
        long number = read_number("");
        if (number < 0)
            continue;
        snprintf(old, sizeof old, "%ld", number);
        snprintf(seen, sizeof seen, "saw %ld", number);
        if (put_over(old, seen) != SM_OK && errno != EBUSY)
            _exit(1);
    }
}

static void nothing_of_an_editor_is_lost(void **state) {
    (void)state;
    char beside[256], text[32];
    folder_path(beside, folder, "editor");
    pid_t process = fork();
    assert_true(process >= 0);
    if (process == 0)
        follow_the_editor();
    for (long number = 0; number < 200; number++) {
        snprintf(text, sizeof text, "%ld", number);
        folder_write(folder, "editor", text);
        assert_int_equal(rename(beside, path), 0);
        if (number % 3 != 0)
            continue; // and at once another one
        int64_t until_us = sm_monotonic_us() + LONG_US;
        while (read_number("saw ") != number)
            if (sm_monotonic_us() > until_us)
                fail_msg("%ld was never seen", number);
    }
    assert_int_equal(kill(process, SIGKILL), 0);
    assert_int_equal(waitpid(process, NULL, 0), process);
}

// ---- folders ------------------------------------------------------------------------------------

static void folders_are_made_with_their_mode(void **state) {
    (void)state;
    char deep[256], under[256], linked[256];
    struct stat is;
    umask(022);
    folder_path(deep, folder, "a/b/c");
    assert_int_equal(sm_folder_make(deep, 0700), SM_OK);
    assert_int_equal(sm_folder_make(deep, 0700), SM_OK);
    assert_int_equal(stat(deep, &is), 0);
    assert_int_equal(is.st_mode & 0777, 0700);
    assert_true(sm_folder_is_own(deep, 077));
    assert_int_equal(chmod(deep, 0750), 0);
    assert_false(sm_folder_is_own(deep, 077));
    assert_true(sm_folder_is_own(deep, 022));
    folder_path(linked, folder, "linked");
    assert_int_equal(symlink("a", linked), 0);
    assert_false(sm_folder_is_own(linked, 022));
    assert_int_equal(sm_folder_make(linked, 0700), SM_OK); // it leads to a folder
    folder_path(under, folder, "d/e/file");
    assert_int_equal(sm_folder_make_above(under, 0755), SM_OK);
    assert_int_equal(access(under, F_OK), -1);
    folder_write(folder, "plain", "");
    folder_path(under, folder, "plain");
    assert_int_equal(sm_folder_make(under, 0700), SM_UNREADABLE);
    assert_int_equal(errno, ENOTDIR);
    folder_path(under, folder, "plain/x/y");
    assert_int_equal(sm_folder_make(under, 0700), SM_UNREADABLE);
    assert_int_equal(errno, ENOTDIR);
    assert_int_equal(sm_folder_make_above("file", 0700), SM_OK); // in the folder where we are
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(mode_and_links_stay, begin, end),
        cmocka_unit_test_setup_teardown(what_is_no_file_of_ours_is_refused, begin, end),
        cmocka_unit_test_setup_teardown(another_content_is_noticed, begin, end),
        cmocka_unit_test_setup_teardown(a_full_disk_leaves_the_old_file, begin, end),
        cmocka_unit_test_setup_teardown(a_kill_leaves_the_old_or_the_new_file, begin, end),
        cmocka_unit_test_setup_teardown(programs_that_count_up_lose_nothing, begin, end),
        cmocka_unit_test_setup_teardown(nothing_of_an_editor_is_lost, begin, end),
        cmocka_unit_test_setup_teardown(folders_are_made_with_their_mode, begin, end),
    };
    return cmocka_run_group_tests_name("files replaced", tests, NULL, NULL);
}
