// SPDX-License-Identifier: GPL-3.0-or-later
// Rehearsals that are killed at random moments: what the logbook had committed is there and whole, what is missing is not older than
// a quarter of a second, and the replay of what is there agrees. 10 of them; 200 in a soak.
#include "support/folder.h"
#include "support/kept.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#define AT_ONCE 5
#define ROWS_MAX 2000
#define MISSING_US (SM_US_PER_S / 4)
#define RUNS_US (5 * SM_US_PER_S)

// One rehearsal: what it printed, when that came in here, and when it is killed.
typedef struct victim {
    pid_t process;
    int output;
    char path[256];
    sm_text printed;
    size_t seen; // bytes of it that are split into rows
    char *rows[ROWS_MAX];
    int64_t came_us[ROWS_MAX];
    size_t count;
    int64_t kill_us, killed_us;
} victim;

static int64_t now_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * SM_US_PER_S + now.tv_nsec / 1000;
}

static uint64_t next_random(uint64_t *state) {
    *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return *state >> 33;
}

// A lamp that changes every 20 ms, so that there is always something new to keep.
static void write_dense_show(const char *folder) {
    sm_text cues = {0};
    char show[256];
    sm_text_printf(&cues, "time,target,do,lasts\n1,A-01,comet,\n3,B-01,fountain,\n");
    for (int i = 0; i < 400; i++)
        sm_text_printf(&cues, "%d.%02d,lamp-1,dim=%d,\n", i / 50, i % 50 * 2, i % 250 + 1);
    assert_false(cues.failed);
    folder_write(folder_path(show, folder, "show"), "cues.csv", cues.bytes);
    folder_edit(show, "show.ini", "countdown = 1 s", "countdown = 0 s");
    folder_edit(show, "show.ini", "arm-time = 1 s", "arm-time = 0.1 s");
    folder_write(folder, "script",
                 "0 call-clear K\n0 key on\n0 arm\n0.2 start\n@0:01 pause\n+0.1 resume\n@0:02.5 pause\n"
                 "+0.1 resume\n@0:04 note still there\n");
    sm_text_deinit(&cues);
}

static void start(victim *v, const char *folder, size_t number) {
    int ends[2];
    char name[32], show[256], script[256], program[300];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    snprintf(name, sizeof name, "logbook-%zu.db", number);
    folder_path(v->path, folder, name);
    folder_path(show, folder, "show");
    folder_path(script, folder, "script");
    assert_int_equal(pipe(ends), 0);
    v->process = fork();
    assert_true(v->process >= 0);
    if (v->process == 0) {
        dup2(ends[1], STDOUT_FILENO);
        close(ends[0]);
        close(ends[1]);
        execl(program, program, show, "--headless", "--silent", "--script", script, "--logbook", v->path,
              (char *)NULL);
        _exit(127);
    }
    close(ends[1]);
    assert_int_equal(fcntl(ends[0], F_SETFL, O_NONBLOCK), 0);
    v->output = ends[0];
}

// Rows are those that were whole when they came in. The header is none.
static void split_rows(victim *v, int64_t came_us) {
    for (char *end; v->printed.bytes && (end = strchr(v->printed.bytes + v->seen, '\n'));) {
        const char *begin = v->printed.bytes + v->seen;
        v->seen = (size_t)(end - v->printed.bytes) + 1;
        if (strncmp(begin, "wall,", 5) == 0)
            continue;
        assert_true(v->count < ROWS_MAX);
        v->rows[v->count] = strndup(begin, (size_t)(end - begin));
        v->came_us[v->count++] = came_us;
    }
}

static void take_output(victim *v) {
    char block[4096];
    for (ssize_t got; (got = read(v->output, block, sizeof block)) > 0;)
        sm_text_append(&v->printed, block, (size_t)got);
    split_rows(v, now_us());
}

// Lets all run until each has met its moment. Returns the longest that this process was held up by the machine meanwhile.
static int64_t run_and_kill(victim victims[AT_ONCE]) {
    int64_t held_up_us = 0;
    for (size_t left = AT_ONCE; left > 0;) {
        struct pollfd waited[AT_ONCE];
        for (size_t i = 0; i < AT_ONCE; i++)
            waited[i] = (struct pollfd){victims[i].killed_us == 0 ? victims[i].output : -1, POLLIN, 0};
        int64_t before_us = now_us();
        poll(waited, AT_ONCE, 5);
        for (size_t i = 0; i < AT_ONCE; i++) {
            victim *v = &victims[i];
            if (v->killed_us != 0)
                continue;
            take_output(v);
            if (now_us() < v->kill_us)
                continue;
            v->killed_us = now_us();
            kill(v->process, SIGKILL);
            left--;
        }
        int64_t took_us = now_us() - before_us;
        held_up_us = took_us > held_up_us ? took_us : held_up_us;
    }
    return held_up_us;
}

// Row N of the logbook as the program printed it.
static void put_kept_row(sm_text *out, sqlite3_stmt *s) {
    sm_log_row row = {.wall = {sqlite3_column_int64(s, 0)},
                      .has_show = sqlite3_column_type(s, 1) != SQLITE_NULL,
                      .show = {sqlite3_column_int64(s, 1)},
                      .cue = (const char *)sqlite3_column_text(s, 4),
                      .target = (const char *)sqlite3_column_text(s, 5),
                      .detail = (const char *)sqlite3_column_text(s, 6),
                      .late_us = sqlite3_column_int64(s, 7)};
    row.source = sm_source_named((const char *)sqlite3_column_text(s, 2));
    row.kind = sm_log_kind_read(row.source, (const char *)sqlite3_column_text(s, 3), row.target);
    sm_log_row_format(out, &row);
    out->bytes[--out->length] = '\0';
}

// The rows that are kept are the first that were printed, to the byte. Returns how many.
static size_t compare_rows(const victim *v) {
    sqlite3 *db = NULL;
    sqlite3_stmt *s = NULL;
    size_t n = 0;
    assert_int_equal(sqlite3_open(v->path, &db), SQLITE_OK);
    assert_int_equal(
        sqlite3_prepare_v2(db,
                           "SELECT wall_us, show_us, source, what, cue, target, detail, late_us, n FROM "
                           "row ORDER BY n",
                           -1, &s, NULL),
        SQLITE_OK);
    for (; sqlite3_step(s) == SQLITE_ROW; n++) {
        sm_text kept = {0};
        assert_int_equal(sqlite3_column_int64(s, 8), n);
        put_kept_row(&kept, s);
        if (n < v->count) // a row may be kept and its print not have come out
            assert_string_equal(kept.bytes, v->rows[n]);
        sm_text_deinit(&kept);
    }
    sqlite3_finalize(s);
    sqlite3_close(db);
    return n;
}

// How old the oldest row is that was printed and is not kept.
static int64_t missing_us(const victim *v, size_t kept) {
    return kept < v->count ? v->killed_us - v->came_us[kept] : 0;
}

static int64_t look(victim *v, int64_t held_up_us) {
    int status = 0;
    assert_int_equal(waitpid(v->process, &status, 0), v->process);
    take_output(v);
    close(v->output);
    assert_true(WIFSIGNALED(status)); // it was running
    if (access(v->path, F_OK) != 0) { // killed before it had begun
        assert_int_equal(v->count, 0);
        return 0;
    }
    kept_assert_whole(v->path);
    size_t kept = compare_rows(v);
    int64_t missing = missing_us(v, kept);
    if (missing > MISSING_US + held_up_us)
        fail_msg("%zu of %zu rows are kept, what is missing is %lld us old", kept, v->count,
                 (long long)missing);
    if (kept_number(v->path, "SELECT count(*) FROM rehearsal") > 0)
        kept_assert_replays(v->path, 1);
    else
        assert_int_equal(kept, 0);
    for (size_t i = 0; i < v->count; i++)
        free(v->rows[i]);
    sm_text_deinit(&v->printed);
    return missing;
}

static void killed_rehearsals_are_kept(void **state) {
    (void)state;
    char folder[64];
    const char *soak = getenv("SLOWMATCH_SOAK");
    size_t rounds = soak && soak[0] != '\0' && soak[0] != '0' ? 40 : 2, number = 0;
    uint64_t seed = (uint64_t)now_us();
    int64_t worst = 0, held_up = 0;
    victim *victims = calloc(AT_ONCE, sizeof *victims);
    assert_non_null(victims);
    kept_begin(folder);
    write_dense_show(folder);
    print_message("seed %llu\n", (unsigned long long)seed);
    for (size_t round = 0; round < rounds; round++) {
        memset(victims, 0, AT_ONCE * sizeof *victims);
        for (size_t i = 0; i < AT_ONCE; i++)
            start(&victims[i], folder, number++);
        for (size_t i = 0; i < AT_ONCE; i++)
            victims[i].kill_us = now_us() + (int64_t)(next_random(&seed) % (uint64_t)RUNS_US);
        int64_t held_up_us = run_and_kill(victims);
        held_up = held_up_us > held_up ? held_up_us : held_up;
        for (size_t i = 0; i < AT_ONCE; i++) {
            int64_t missing = look(&victims[i], held_up_us);
            worst = missing > worst ? missing : worst;
        }
    }
    print_message(
        "%zu rehearsals killed; the oldest row missing was %lld ms old; this test was held up for %lld ms\n",
        number, (long long)worst / 1000, (long long)held_up / 1000);
    kept_end(folder);
    free(victims);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(killed_rehearsals_are_kept),
    };
    return cmocka_run_group_tests_name("killed rehearsals", tests, NULL, NULL);
}
