// SPDX-License-Identifier: GPL-3.0-or-later
// What a process that was confined can still do, and what it cannot. Each is tried in a process of its own.
#include "support/folder.h"

#include "slowmatch/base.h"
#include "slowmatch/confine.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ptrace.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static char made[256]; // a file that is there

static bool reads(void) {
    char *bytes = NULL;
    size_t length;
    const bool done = sm_file_read(made, &bytes, &length) == SM_OK;
    free(bytes);
    return done;
}

static bool writes(void) {
    return open(made, O_WRONLY | O_APPEND) >= 0;
}

static bool makes(void) {
    char path[300];
    snprintf(path, sizeof path, "%s-new", made);
    return creat(path, 0600) >= 0;
}

static bool removes(void) {
    return unlink(made) == 0;
}

static bool makes_folders(void) {
    char path[300];
    snprintf(path, sizeof path, "%s-folder", made);
    return mkdir(path, 0700) == 0;
}

static bool starts(void) {
    execl("/bin/true", "true", (char *)NULL);
    return false; // where it could, its exit status is 0, that of what is done
}

static void *nothing(void *data) {
    return data;
}

static bool has_threads(void) {
    pthread_t thread;
    return pthread_create(&thread, NULL, nothing, NULL) == 0 && pthread_join(thread, NULL) == 0;
}

static bool sends(void) {
    return socket(AF_INET, SOCK_DGRAM, 0) >= 0;
}

static bool asks_the_kernel(void) { // by a socket
    return socket(AF_NETLINK, SOCK_RAW, 0) >= 0;
}

static bool looks_into_others(void) {
    return ptrace(PTRACE_ATTACH, getppid(), NULL, NULL) == 0;
}

static const struct trial {
    const char *name;
    bool (*done)(void);
    bool may[SM_CONFINEMENT_COUNT];
} trials[] = {
    {"reads", reads, {true, true}},
    {"has threads", has_threads, {true, true}},
    {"sends", sends, {true, true}},
    {"writes", writes, {true, false}},
    {"makes a file", makes, {true, false}},
    {"makes a folder", makes_folders, {true, false}},
    {"asks the kernel", asks_the_kernel, {true, false}},
    {"starts a program", starts, {false, false}},
    {"looks into others", looks_into_others, {false, false}},
    {"removes", removes, {true, false}},
};

static bool try(const struct trial *trial, sm_confinement how) {
    const pid_t pid = fork();
    int status;
    assert_true(pid >= 0);
    if (pid == 0)
        _exit(!sm_confine(how) ? 9 : trial->done() ? 0 : 1);
    assert_int_equal(waitpid(pid, &status, 0), pid);
    assert_true(WIFEXITED(status));
    if (WEXITSTATUS(status) == 9)
        skip(); // no filters here
    return WEXITSTATUS(status) == 0;
}

static void what_is_not_needed_is_refused(void **state) {
    (void)state;
    char folder[64];
    folder_make(folder);
    folder_write(folder, "file", "text");
    folder_path(made, folder, "file");
    for (int how = SM_CONFINEMENT_COUNT - 1; how >= 0; how--)
        for (size_t i = 0; i < sizeof trials / sizeof *trials; i++)
            if (try(&trials[i], (sm_confinement)how) != trials[i].may[how])
                fail_msg("confined as %d it %s: %s", how, trials[i].name,
                         trials[i].may[how] ? "cannot" : "can");
    folder_remove(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_not_needed_is_refused),
    };
    return cmocka_run_group_tests_name("os_confine", tests, NULL, NULL);
}
