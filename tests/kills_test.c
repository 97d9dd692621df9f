// SPDX-License-Identifier: GPL-3.0-or-later
// What writes is killed at a random moment, and run again: each file is as it was or as it was to be, what grows holds whole rows, the
// logbook is whole, and the second run leaves what a run that nobody killed leaves, no file more. A few of each; 1,000 kills in `make soak`.
// How a logbook fares in a rehearsal that takes its time is in logbook_kill_test.
#include "support/folder.h"
#include "support/kept.h"

#include "slowmatch/logbook.h"

#include <dirent.h>
#include <fcntl.h>
#include <limits.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

enum { WORDS = 12 };

typedef enum fate {
    REPLACED, // as before, or as after
    GROWS,    // the first rows of what it is at the end
    ANEW,     // nothing while it is made; the second run makes it whole
    DATED     // as before, or new: what is new holds the moment, and ends as told
} fate;

static const struct victim {
    const char *name, *words[WORDS], *typed;
    const char *file;
    fate fate;
    const char *ends;
    bool once; // what is done already is refused
} victims[] = {
    {"rehearsal",
     {"show", "--headless", "--fast", "--log", "log.csv", "--logbook", "book.db"},
     NULL,
     "log.csv",
     GROWS,
     NULL,
     false},
    {"import",
     {"import", "list.csv", "new", "--map", "map.ini"},
     NULL,
     "new/cues.csv",
     REPLACED,
     NULL,
     false},
    {"apply", {"tune", "show", "--apply", "proposals"}, NULL, "show/cues.csv", REPLACED, NULL, true},
    {"keep-readings",
     {"show", "--lines", "--silent"},
     "read A-01 1.8\nkeep-readings J\nnote still there\nquit\n\n",
     "show/readings.csv",
     DATED,
     ",J\n",
     false},
    {"walk", {"walk", "show", "--from", "answers.csv"}, NULL, "answers.csv", REPLACED, NULL, false},
    {"paper", {"paper", "show", "--out", "paper.html"}, NULL, "paper.html", DATED, "</html>\n", false},
    {"timecode", {"timecode", "show", "code.wav"}, NULL, "code.wav", ANEW, NULL, false},
};
#define VICTIMS (sizeof victims / sizeof *victims)

static char program[PATH_MAX];

// ---- a folder to be killed in --------------------------------------------------------------------------

// What was before each change is kept under names of the moment; what lies in the folder for passing files is the system's to clear.
#define KEPT "./data/slowmatch/tables"
#define PASSING "./passing"

// The working folder from now on; what is written in it is named without it, and so the same in all of them.
static void enter(char folder[64]) {
    kept_begin_at_home(folder);
    folder_write(folder, "list.csv", "Time,Target,Effect\n0:00:04.5,A-01,fountain\n0:00:05.25,A-02,comet\n");
    folder_write(folder, "map.ini", "[time]\nis = seen\n");
    folder_write(folder, "proposals", "1 0:01.05\n");
    folder_write(folder, "answers.csv", "item,answer,value,note,by,when\n");
    char passing[256];
    assert_int_equal(chdir(folder), 0);
    assert_int_equal(mkdir(PASSING, 0700), 0);
    setenv("TMPDIR", folder_path(passing, folder, PASSING), 1);
}

static void leave(const char *folder, const char *back) {
    assert_int_equal(chdir(back), 0);
    kept_end(folder);
}

static pid_t start(const struct victim *v) {
    int typed[2];
    assert_int_equal(pipe(typed), 0);
    const pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0) {
        char name[] = "slowmatch", *argv[WORDS + 2] = {name};
        const int null = open("/dev/null", O_RDWR);
        for (size_t i = 0; i < WORDS && v->words[i]; i++)
            argv[i + 1] = strdup(v->words[i]);
        dup2(typed[0], 0);
        dup2(null, 1);
        dup2(null, 2);
        close(typed[0]);
        close(typed[1]);
        execv(program, argv);
        _exit(127);
    }
    close(typed[0]);
    if (v->typed)
        assert_int_equal(write(typed[1], v->typed, strlen(v->typed)), strlen(v->typed));
    close(typed[1]);
    return pid;
}

static int run(const struct victim *v) {
    int status;
    const pid_t pid = start(v);
    assert_int_equal(waitpid(pid, &status, 0), pid);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static sm_text contents(const char *path) {
    sm_text text = {0};
    char *bytes;
    size_t length;
    if (sm_file_read(path, &bytes, &length) == SM_OK) {
        sm_text_append(&text, bytes, length);
        free(bytes);
    }
    return text;
}

static bool same(const sm_text *a, const sm_text *b) {
    return a->length == b->length && (!a->length || memcmp(a->bytes, b->bytes, a->length) == 0);
}

// Of a file that was being written; whoever writes the same file next, a minute later or more, takes it away.
#define BESIDE ".slowmatch-new"

static void make_old(const char *path) {
    const struct timespec old[2] = {{.tv_sec = time(NULL) - 120}, {.tv_sec = time(NULL) - 120}};
    if (strstr(path, BESIDE))
        assert_int_equal(utimensat(AT_FDCWD, path, old, 0), 0);
}

// The names of the files below PATH, in order, a line each.
static void put_names(const char *path, sm_text *out) {
    struct dirent **found;
    const int count =
        strcmp(path, KEPT) == 0 || strcmp(path, PASSING) == 0 ? -1 : scandir(path, &found, NULL, alphasort);
    for (int i = 0; i < count; i++) {
        char below[PATH_MAX];
        struct stat status;
        snprintf(below, sizeof below, "%s/%s", path, found[i]->d_name);
        const bool own = strcmp(found[i]->d_name, ".") == 0 || strcmp(found[i]->d_name, "..") == 0;
        if (!own && stat(below, &status) == 0 && S_ISDIR(status.st_mode))
            put_names(below, out);
        else if (!own)
            sm_text_printf(out, "%s\n", below);
        if (!own)
            make_old(below);
        free(found[i]);
    }
    if (count >= 0)
        free(found);
}

// Each line of A is one of B.
static bool is_within(const sm_text *a, const sm_text *b) {
    for (const char *at = sm_text_get(a); *at;) {
        char line[PATH_MAX + 2];
        const int length = (int)strcspn(at, "\n");
        snprintf(line, sizeof line, "%.*s\n", length, at);
        if (!strstr(sm_text_get(b), line))
            return false;
        at += length + 1;
    }
    return true;
}

// ---- what must hold ------------------------------------------------------------------------------------

typedef struct clean {
    sm_text before, after;
    sm_text names, again; // of all files after the first run, and after a second
    int64_t took_us;
} clean;

static int64_t now_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * SM_US_PER_S + now.tv_nsec / 1000;
}

static clean run_clean(const struct victim *v, const char *back) {
    char folder[64];
    enter(folder);
    clean c = {.before = contents(v->file)};
    const int64_t began = now_us();
    const int status = run(v);
    if (status != 0 && status != 1)
        fail_msg("%s: ended with %d though nobody killed it", v->name, status);
    c.took_us = now_us() - began;
    c.after = contents(v->file);
    put_names(".", &c.names);
    (void)run(v);
    put_names(".", &c.again);
    leave(folder, back);
    return c;
}

static bool is_whole(const struct victim *v, const clean *c, const sm_text *is, bool is_again) {
    const size_t tail = v->ends ? strlen(v->ends) : 0;
    switch (v->fate) {
    case REPLACED:
        return same(is, &c->before) || same(is, &c->after);
    case GROWS:
        return !is->length || (is->length <= c->after.length && is->bytes[is->length - 1] == '\n' &&
                               memcmp(is->bytes, c->after.bytes, is->length) == 0);
    case ANEW:
        return is_again ? same(is, &c->after) : true;
    default:
        return same(is, &c->before) ||
               (is->length > tail && memcmp(is->bytes + is->length - tail, v->ends, tail) == 0);
    }
}

static bool is_done(const struct victim *v, const clean *c) {
    sm_text is = contents(v->file);
    const bool done = same(&is, &c->after);
    sm_text_deinit(&is);
    return done;
}

static void hold_logbook(const char *path) {
    char why[400];
    sm_logbook *book = NULL;
    sm_text said = {0};
    bool whole = false;
    if (access(path, F_OK) != 0)
        return;
    if (sm_logbook_open(path, false, why, &book) != SM_OK)
        fail_msg("%s: %s", path, why);
    assert_int_equal(sm_logbook_check(book, false, &said, &whole), SM_OK);
    if (!whole)
        fail_msg("%s: %s", path, sm_text_get(&said));
    sm_logbook_close(book);
    sm_text_deinit(&said);
}

static void hold_file(const struct victim *v, const clean *c, bool is_again) {
    sm_text is = contents(v->file);
    if (!is_whole(v, c, &is, is_again))
        fail_msg("%s %s: %s is not whole (%zu bytes; %zu before, %zu after)", v->name,
                 is_again ? "run again" : "killed", v->file, is.length, c->before.length, c->after.length);
    sm_text_deinit(&is);
    hold_logbook("book.db");
    hold_logbook("data/slowmatch/logbook.db");
}

static void kill_one(const struct victim *v, const clean *c, int64_t at_us, const char *back) {
    char folder[64];
    int status;
    sm_text names = {0};
    enter(folder);
    const pid_t pid = start(v);
    nanosleep(&(struct timespec){.tv_sec = at_us / SM_US_PER_S, .tv_nsec = at_us % SM_US_PER_S * 1000}, NULL);
    kill(pid, SIGKILL);
    assert_int_equal(waitpid(pid, &status, 0), pid);
    hold_file(v, c, false);
    put_names(".", &names);
    sm_text_clear(&names);
    status = run(v);
    hold_file(v, c, true);
    if (v->once && status == 2) // it was done when it was killed
        assert_true(is_done(v, c));
    else if (status < 0 || status > 1)
        fail_msg("%s: run again it ended with %d", v->name, status);
    put_names(".", &names);
    if (status < 2 && (!is_within(&c->names, &names) || !is_within(&names, &c->again)))
        fail_msg("%s: killed after %lld us, then run again, these files are there:\n%snot:\n%s", v->name,
                 (long long)at_us, sm_text_get(&names), sm_text_get(&c->again));
    sm_text_deinit(&names);
    leave(folder, back);
}

static void killed_at_any_moment_it_leaves_whole_files(void **state) {
    (void)state;
    const char *build = getenv("SLOWMATCH_BUILD");
    const unsigned rounds = getenv("SLOWMATCH_SOAK") ? 1000 / VICTIMS + 1 : 2;
    char back[PATH_MAX], path[PATH_MAX - 16];
    unsigned kills = 0;
    uint64_t random = (uint64_t)now_us();
    assert_non_null(getcwd(back, sizeof back));
    assert_non_null(realpath(build ? build : "build", path));
    snprintf(program, sizeof program, "%s/slowmatch", path);
    for (size_t i = 0; i < VICTIMS; i++) {
        clean c = run_clean(&victims[i], back);
        for (unsigned k = 0; k < rounds; k++, kills++) {
            random = random * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407); // Knuth's MMIX
            kill_one(&victims[i], &c, (int64_t)((random >> 33) % (uint64_t)(c.took_us + 1)), back);
        }
        sm_text_deinit(&c.before);
        sm_text_deinit(&c.after);
        sm_text_deinit(&c.names);
        sm_text_deinit(&c.again);
    }
    print_message("kills_test: %u killed at random moments, and run again\n", kills);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(killed_at_any_moment_it_leaves_whole_files),
    };
    return cmocka_run_group_tests_name("kills", tests, NULL, NULL);
}
