// SPDX-License-Identifier: GPL-3.0-or-later
// Where the program opens, makes, renames or removes anything, as strace sees it: the show's folder, the user's own folders of this program,
// the folder for passing files, and what was named on the command line. Nothing else, whatever the command.
#include "support/folder.h"
#include "support/kept.h"
#include "support/sanitized.h"

#include <limits.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

// A shell's words behind the program's name, in a folder that has all of it.
static const char *const commands[] = {
    "check show",
    "walk show",
    "compare show show-2",
    "paper show --out out/paper.html",
    "show --headless --fast --log out/log.csv --logbook out/book.db",
    "show --lines --silent <typed",
    "tune show --apply proposals",
    "import list.csv out/new --map map.ini",
    "logbook export out/all.db",
    "timecode show out/code.wav",
    "new out/first --title First",
};

// Below these anything; a folder that leads to one of them may be made.
static const char *const allowed[] = {
    "show",     "out", "passing", "data/slowmatch", "state/slowmatch", "cache/slowmatch", ".config/slowmatch",
    "slowmatch"};

// Nothing is kept there.
static const char *const devices[] = {"/dev/null", "/dev/tty", "/dev/pts/", "/proc/self/"};

static bool begins(const char *text, const char *head) {
    return strncmp(text, head, strlen(head)) == 0;
}

static bool is_allowed(const char *folder, const char *path, bool makes_folder) {
    for (size_t i = 0; i < sizeof devices / sizeof *devices; i++)
        if (begins(path, devices[i]))
            return true;
    if (begins(path, folder))
        path += strlen(folder) + 1;
    if (*path == '/' || strstr(path, ".."))
        return false;
    for (size_t i = 0; i < sizeof allowed / sizeof *allowed; i++) {
        const size_t length = strlen(allowed[i]);
        if (begins(path, allowed[i]) && (path[length] == '\0' || path[length] == '/'))
            return true;
        if (makes_folder && begins(allowed[i], path))
            return true;
    }
    return false;
}

// Of one call as strace -y tells it: `openat(AT_FDCWD</tmp/x>, "a/b", O_RDWR|O_CREAT, 0644) = 3</tmp/x/a/b>`. Paths are between quotes, those
// of descriptors between < and >.
static void hold_call(const char *folder, const char *command, const char *line) {
    static const char *const changing[] = {"rename", "unlink", "rmdir", "mkdir",    "link",  "symlink",
                                           "creat",  "chmod",  "chown", "fchmodat", "mknod", "truncate"};
    const char *call = line + strspn(line, "0123456789 ");
    const bool opens = begins(call, "open");
    bool writes = opens && (strstr(call, "O_WRONLY") || strstr(call, "O_RDWR") || strstr(call, "O_CREAT"));
    for (size_t i = 0; i < sizeof changing / sizeof *changing; i++)
        writes = writes || begins(call, changing[i]);
    if (!writes || strstr(call, " = -1 "))
        return;
    char below[PATH_MAX] = "", path[2 * PATH_MAX];
    if (sscanf(call, "%*[^(](%*d<%4095[^>]>", below) != 1)
        below[0] = '\0';
    for (const char *at = strchr(call, '"'); at; at = strchr(at + 1, '"')) {
        const size_t length = strcspn(++at, "\"");
        snprintf(path, sizeof path, "%s%s%.*s", *at == '/' ? "" : below, *at == '/' || !*below ? "" : "/",
                 (int)length, at);
        if (!is_allowed(folder, path, begins(call, "mkdir")))
            fail_msg("slowmatch %s: %s in\n%s", command, path, line);
        at += length;
    }
}

static unsigned hold_trace(const char *folder, const char *command) {
    char line[16384], path[256];
    unsigned calls = 0;
    FILE *trace = fopen(folder_path(path, folder, "trace"), "r");
    for (; trace && fgets(line, sizeof line, trace); calls++)
        hold_call(folder, command, line);
    if (trace)
        fclose(trace);
    return calls;
}

static void prepare(char folder[64]) {
    static const char *const folders[] = {"out", "passing"};
    char path[256];
    kept_begin_at_home(folder);
    folder_write(folder, "list.csv", "Time,Target,Effect\n0:00:04.5,A-01,fountain\n0:00:05.25,A-02,comet\n");
    folder_write(folder, "map.ini", "[time]\nis = seen\n");
    folder_write(folder, "proposals", "1 +0.05 s\n");
    folder_write(folder, "typed", "n\nread A-01 1.8\nkeep-readings J\nquit\n\n");
    for (size_t i = 0; i < sizeof folders / sizeof *folders; i++)
        assert_int_equal(mkdir(folder_path(path, folder, folders[i]), 0700), 0);
    setenv("TMPDIR", folder_path(path, folder, "passing"), 1);
    unsetenv("XDG_CONFIG_HOME");
    assert_int_equal(mkdir(folder_path(path, folder, "show-2"), 0700), 0);
    folder_small_show(path);
}

static void nothing_is_written_elsewhere(void **state) {
    (void)state;
#ifdef SANITIZED
    skip(); // leaks are looked for by tracing, and one cannot be traced twice
#endif
    const char *build = getenv("SLOWMATCH_BUILD");
    char folder[64], program[PATH_MAX];
    sm_text line = {0};
    if (system("strace -o /dev/null true >/dev/null 2>&1") != 0) // NOLINT(cert-env33-c): the tests' own
        skip();                                                  // no strace, or no tracing here
    assert_non_null(realpath(build ? build : "build", program));
    prepare(folder);
    for (size_t i = 0; i < sizeof commands / sizeof *commands; i++) {
        sm_text_clear(&line);
        sm_text_printf(&line,
                       "cd %s && strace -f -y -s 4096 -e trace=file -o trace %s/slowmatch %s >said 2>&1",
                       folder, program, commands[i]);
        const int ended = system(sm_text_get(&line)); // NOLINT(cert-env33-c)
        if (!WIFEXITED(ended) || WEXITSTATUS(ended) > 1)
            fail_msg("slowmatch %s: ended with %d", commands[i], ended);
        assert_true(hold_trace(folder, commands[i]) > 10);
    }
    sm_text_deinit(&line);
    kept_end(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_is_written_elsewhere),
    };
    return cmocka_run_group_tests_name("written_paths", tests, NULL, NULL);
}
