// SPDX-License-Identifier: GPL-3.0-or-later
// One call of the system fails, each in its turn (tests/tools/faults.c): the program says so and exits 2, or nothing is lost. Every
// call in `make soak`, a few of them otherwise.
#include "support/folder.h"
#include "support/ran.h"
#include "support/sanitized.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#define SHOW "demo-shows/first-light"
#define CALLS_MAX 200000
#define SAMPLE 4 // without SLOWMATCH_SOAK each command meets one kind of fault in four

// What is run in a new folder; @ stands for the folder. FILE is what it leaves there, held against a run without a fault.
static const struct job {
    const char *words[RAN_WORDS], *file;
    bool is_dated; // holds the minute of printing: only its exit is held
} jobs[] = {
    {{"check", SHOW}, NULL, false},
    {{"compare", SHOW, "tests/data/show/every-table"}, NULL, false},
    {{"walk", SHOW}, NULL, false},
    {{"paper", SHOW, "--out", "@/paper.html"}, NULL, true},
    {{"paper", SHOW, "--words"}, NULL, false},
    {{"rehearse", SHOW, "--headless", "--fast", "--log", "@/log.csv", "--logbook", "@/book.db"},
     "log.csv",
     false},
    {{"drill", SHOW, "first-evening", "--headless", "--fast", "--log", "@/log.csv", "--logbook", "@/book.db"},
     "log.csv",
     true},
    {{"import", "@/list.csv", "@/new", "--map", "@/map.ini"}, "new/rails.csv", false},
    {{"lights", SHOW, "--lights", "lo", "--lights-to", "127.0.0.2"}, NULL, false},
    {{"logbook", "import", "tests/data/logbook/export-5", "--logbook", "@/book.db"}, NULL, false},
};
#define JOBS (sizeof jobs / sizeof *jobs)

static const char *const kinds[] = {
    "allocation",
    "write",
    "write interrupted",
    "write cut short",
    "read",
    "read interrupted",
    "read cut short",
    "sync",
    "rename",
    "mapping",
    "socket",
    "connection",
    "file",
    "thread",
    "process",
};

typedef struct result {
    ran said;
    sm_text file;
    bool faulted;
} result;

static void result_free(result *r) {
    ran_free(&r->said);
    sm_text_deinit(&r->file);
}

static void in_folder(const char *folder, const char *word, char path[256]) {
    if (*word == '@')
        folder_path(path, folder, word + 2);
    else
        snprintf(path, 256, "%s", word);
}

static void fault_set(const char *folder, const char *kind, long at) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char path[512], number[32], mark[256];
    snprintf(path, sizeof path, "%s/faults.so", build ? build : "build");
    assert_int_equal(access(path, R_OK), 0);
    snprintf(number, sizeof number, "%ld", at);
    setenv("FAULT_AT", number, 1);
    setenv("FAULT_KIND", kind, 1);
    setenv("FAULT_MARK", folder_path(mark, folder, "faulted"), 1);
    setenv("LD_PRELOAD", path, 1);
}

// The fault of KIND at call AT; none where KIND is NULL.
static result job_run(const struct job *job, const char *kind, long at) {
    char folder[64], paths[RAN_WORDS][256], path[256];
    const char *words[RAN_WORDS] = {0};
    folder_make(folder);
    setenv("XDG_DATA_HOME", folder, 1);
    for (size_t i = 0; i < RAN_WORDS && job->words[i]; i++) {
        in_folder(folder, job->words[i], paths[i]);
        words[i] = paths[i];
    }
    folder_write(folder, "list.csv", "Time,Target,Effect\n0:00:04.5,A-01,fountain\n0:00:05.25,A-02,comet\n");
    folder_write(folder, "map.ini", "[time]\nis = seen\n");
    if (kind)
        fault_set(folder, kind, at);
    result r = {.said = ran_slowmatch(words, NULL)};
    unsetenv("LD_PRELOAD");
    r.faulted = access(folder_path(path, folder, "faulted"), F_OK) == 0;
    char *bytes = NULL;
    size_t length = 0;
    if (job->file && !sm_file_read(folder_path(path, folder, job->file), &bytes, &length))
        sm_text_append(&r.file, bytes, length);
    free(bytes);
    folder_remove(folder);
    return r;
}

static bool same(const sm_text *a, const sm_text *b) {
    return a->length == b->length && (!a->length || memcmp(a->bytes, b->bytes, a->length) == 0);
}

// Empty where all is well.
static const char *what_is_wrong(const struct job *job, const result *clean, const result *got) {
    if (got->said.status < 0)
        return "died of a signal";
    // check tells of a table that cannot be read where it tells of all errors: on standard output.
    if (got->said.status == 2)
        return got->said.err.length || got->said.out.length ? "" : "exit 2 without a word";
    // A sound file or a drill that cannot be read is an error in the show, told beside all else.
    if (got->said.status == 1 && got->said.out.length &&
        (strstr(got->said.out.bytes, "clicks.wav\": is no sound file") ||
         strstr(got->said.out.bytes, "clicks.wav\": cannot be opened: ") ||
         strstr(got->said.out.bytes, "[file-unreadable]")))
        return "";
    if (got->said.status != clean->said.status)
        return "an exit status of its own";
    if (!same(&clean->file, &got->file))
        return "the file is not whole, and it did not exit 2";
    // A path of a rehearsal's differs from run to run, but no longer or shorter.
    const bool whole =
        job->file ? clean->said.out.length == got->said.out.length : same(&clean->said.out, &got->said.out);
    return job->is_dated || whole ? "" : "not all is printed, and it did not exit 2";
}

static bool hold_call(const struct job *job, const result *clean, const char *kind, long at, int *bad) {
    result got = job_run(job, kind, at);
    const char *wrong = got.faulted ? what_is_wrong(job, clean, &got) : "";
    if (*wrong) {
        (*bad)++;
        fprintf(stderr, "slowmatch %s: %s %ld failed: %s (exit %d): %.300s\n", job->words[0], kind, at, wrong,
                got.said.status, got.said.err.length ? got.said.err.bytes : "");
    }
    const bool faulted = got.faulted;
    result_free(&got);
    return faulted;
}

static void hold_job(const struct job *job, int *bad, long *tried) {
    const bool all = getenv("SLOWMATCH_SOAK");
    result clean = job_run(job, NULL, 0);
    assert_true(clean.said.status == 0 || clean.said.status == 1);
    const size_t step = all ? 1 : SAMPLE;
    for (size_t i = all ? 0 : (size_t)(job - jobs) % step; i < sizeof kinds / sizeof *kinds; i += step)
        for (long at = 1; at < CALLS_MAX && hold_call(job, &clean, kinds[i], at, bad);
             at += all ? 1 : 30 * at)
            ++*tried;
    result_free(&clean);
}

static void each_call_that_fails_is_told_or_loses_nothing(void **state) {
    (void)state;
#ifdef SANITIZED
    skip(); // their allocator must be the first
#endif
    int bad = 0;
    long tried = 0;
    for (size_t i = 0; i < JOBS; i++)
        hold_job(&jobs[i], &bad, &tried);
    printf("faults_test: %ld calls failed in turn\n", tried);
    assert_true(tried > 20);
    assert_int_equal(bad, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_call_that_fails_is_told_or_loses_nothing),
    };
    return cmocka_run_group_tests_name("faults", tests, NULL, NULL);
}
