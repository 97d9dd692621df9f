// SPDX-License-Identifier: GPL-3.0-or-later
// The program following timecode through a headless sound server: this test plays it into a sink, the program hears the sink's monitor,
// and what the sink played, read by the tests' own reader, says when each moment of the show was audible.
#include "support/console_rig.h"
#include "support/ltc_reader.h"
#include "support/take.h"

#include "slowmatch/clock.h"

#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#define PLACE_S 0.005 // the specification's
#define LATE_S 0.040  // a row on its way through a pipe, on a busy machine
enum { ROWS_MAX = 400, FOUND_MAX = 1000, SHOW_START_S = 3600 };

// A light changes each quarter of a second from 4 s on; at 25 frames from 01:00:00:00.
static void make_show(short_show *show) {
    sm_text cues = {0};
    short_show_make(show, "0.3 s");
    short_show_write(show, "show.ini",
                     "[show]\ntitle = Chased\nlength = 40\ncountdown = 500 ms\ntimecode = 25\n"
                     "timecode-start = 01:00:00:00\n[limits]\narm-time = 200 ms\n");
    sm_text_printf(&cues, "time,target,do\n");
    for (int i = 16; i < 150; i++)
        sm_text_printf(&cues, "%g,par-1,red=%d\n", i * 0.25, i);
    short_show_write(show, "cues.csv", sm_text_get(&cues));
    sm_text_deinit(&cues);
}

// ---- a headless run, its rows and when they came ---------------------------------------------------------

typedef struct row {
    double mono_s; // it arrived
    double wall_s, show_s;
    char text[240];
} row;

typedef struct run {
    pid_t pid;
    int out;
    char part[4096];
    size_t length;
    row rows[ROWS_MAX];
    size_t count;
} run;

static void start(run *r, const char *const *argv) {
    int pipes[2];
    assert_int_equal(pipe(pipes), 0);
    r->pid = fork();
    assert_true(r->pid >= 0);
    if (r->pid == 0) {
        dup2(pipes[1], 1);
        close(pipes[0]);
        close(pipes[1]);
        execv(argv[0], (char *const *)(uintptr_t)argv);
        _exit(126);
    }
    close(pipes[1]);
    r->out = pipes[0];
    fcntl(r->out, F_SETFL, O_NONBLOCK);
}

static void keep_row(run *r, const char *line) {
    assert_true(r->count < ROWS_MAX);
    row *kept = &r->rows[r->count++];
    char *rest;
    kept->mono_s = (double)sm_monotonic_us() / 1e6;
    kept->wall_s = strtod(line, &rest);
    kept->show_s = *rest == ',' && rest[1] != ',' ? strtod(rest + 1, NULL) : NAN;
    snprintf(kept->text, sizeof kept->text, "%.239s", line);
}

static void take_rows(run *r) {
    ssize_t got;
    while ((got = read(r->out, r->part + r->length, sizeof r->part - 1 - r->length)) > 0) {
        r->length += (size_t)got;
        r->part[r->length] = '\0';
        for (char *end = strchr(r->part, '\n'); end; end = strchr(r->part, '\n')) {
            *end = '\0';
            keep_row(r, r->part);
            r->length -= (size_t)(end + 1 - r->part);
            memmove(r->part, end + 1, r->length + 1);
        }
    }
}

static void run_for(take *own, run *r, double seconds) {
    const int64_t until_us = sm_monotonic_us() + (int64_t)(seconds * 1e6);
    while (sm_monotonic_us() < until_us) {
        struct pollfd out = {r->out, POLLIN, 0};
        take_wait(own, 0.001);
        poll(&out, 1, 1);
        take_rows(r);
    }
}

static const row *find_row(const run *r, const char *text) {
    for (size_t i = 0; i < r->count; i++)
        if (strstr(r->rows[i].text, text))
            return &r->rows[i];
    return NULL;
}

// Waits for a row with TEXT; fails after 10 s.
static const row *wait_row(take *own, run *r, const char *text) {
    for (int i = 0; i < 200 && !find_row(r, text); i++)
        run_for(own, r, 0.05);
    if (!find_row(r, text))
        fail_msg("no row has %s; the latest of %zu is %s", text, r->count, r->rows[r->count - 1].text);
    return find_row(r, text);
}

static int end(run *r) {
    int status = 0;
    kill(r->pid, SIGTERM);
    assert_int_equal(waitpid(r->pid, &status, 0), r->pid);
    close(r->out);
    return status;
}

// When show time SHOW_S was audible; NAN where no frame says so.
static double audible_s(const sound_recording *rec, const ltc_frame *found, size_t count, double show_s) {
    for (size_t i = 1; i < count; i++) {
        const double at_s = (found[i].hours * 60 + found[i].minutes) * 60 + found[i].seconds +
                            found[i].frame / 25.0 - SHOW_START_S;
        if (show_s >= at_s && show_s < at_s + 0.04)
            return sound_recording_mono_s(rec, found[i].starts) + show_s - at_s;
    }
    return NAN;
}

static size_t read_recording(const sound_recording *rec, ltc_frame *found) {
    float *samples = calloc(rec->count, sizeof *samples);
    assert_non_null(samples);
    for (size_t i = 0; i < rec->count; i++)
        samples[i] = (float)rec->frames[i][1] / 32768;
    const size_t count = ltc_reader_read(samples, rec->count, TAKE_RATE, 25, found, FOUND_MAX);
    free(samples);
    return count;
}

static void begin_timecode(take *own) {
    const sm_audio_timecode timecode = {SM_TC_25, false, (int64_t)SHOW_START_S * 25, 2};
    assert_true(take_open(own, TAKE_CLICKS, 60, TAKE_RATE, (sm_audio_options){0}));
    sm_audio_mute(own->audio, true);
    assert_int_equal(sm_audio_timecode_out(own->audio, &timecode), SM_OK);
}

static const char *program(void) {
    static char path[512];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(path, sizeof path, "%s/slowmatch", build ? build : "build");
    return path;
}

// ---- what it does ----------------------------------------------------------------------------------------

// The built-in sequence arms, waits for LOCKED, starts; its cues come when the timecode says so. Then it is lost.
static void a_headless_run_follows_and_pauses(void **state) {
    take *own = take_of(state);
    static run r;
    static ltc_frame found[FOUND_MAX];
    short_show show;
    sound_recording rec;
    char book[400], command[1200];
    memset(&r, 0, sizeof r);
    make_show(&show);
    begin_timecode(own);
    snprintf(book, sizeof book, "%s", short_show_path(&show, "book.db"));
    const char *argv[] = {program(),   show.folder, "--headless", "--timecode-in", "right", "--silent",
                          "--logbook", book,        NULL};
    start(&r, argv);
    (void)wait_row(own, &r, ",engine,timecode,,waiting,");
    (void)wait_row(own, &r, ",engine,state,,armed,arming");
    run_for(own, &r, 0.8);
    assert_null(find_row(&r, ",script,start,")); // it waits
    assert_true(sound_rig_record(&own->rig));
    (void)take_play(own, 0.1, 5, SM_SPEED_ONE);
    (void)wait_row(own, &r, ",engine,timecode,,locked,");
    (void)wait_row(own, &r, ",engine,state,,running,armed");
    run_for(own, &r, 4);
    take_stand(own);
    (void)wait_row(own, &r, ",engine,timecode,,free-running,");
    (void)wait_row(own, &r, ",engine,state,,paused,running");
    assert_non_null(find_row(&r, ",engine,timecode,,lost,"));
    assert_true(sound_rig_recorded(&own->rig, &rec));
    const size_t frames = read_recording(&rec, found);
    double first_s = 1, last_s = -1;
    int held = 0;
    for (size_t i = 0; i < r.count; i++) {
        const double truth_s =
            strstr(r.rows[i].text, ",engine,set,") ? audible_s(&rec, found, frames, r.rows[i].show_s) : NAN;
        if (isnan(truth_s))
            continue;
        const double off_s = r.rows[i].mono_s - truth_s;
        first_s = fmin(first_s, off_s);
        last_s = fmax(last_s, off_s);
        held++;
    }
    print_message("%d cues, each written between %.1f and %.1f ms after its moment was audible\n", held,
                  first_s * 1e3, last_s * 1e3);
    sound_recording_deinit(&rec);
    (void)end(&r);
    snprintf(command, sizeof command, "%s logbook replay 1 --logbook %s > /dev/null", program(), book);
    assert_int_equal(system(command), 0); // NOLINT(cert-env33-c)
    short_show_remove(&show);
    assert_true(held >= 12);
    assert_true(first_s > -PLACE_S && first_s < PLACE_S && last_s < LATE_S);
}

// On the screen: WAITING refuses a start, LOCKED lets it, LOST pauses, and what comes back resumes nothing; a jump pauses too.
static void the_console_says_so_and_resumes_nothing(void **state) {
    take *own = take_of(state);
    console_rig r;
    make_show(&r.show);
    begin_timecode(own);
    snprintf(r.log, sizeof r.log, "%s", short_show_path(&r.show, "log.out"));
    const char *argv[] = {program(),  r.show.folder, "--timecode-in", "right",
                          "--silent", "--log",       r.log,           NULL};
    r.p = pty_start(150, 24, argv, NULL);
    pty_expect(r.p, "It has no way to fire anything");
    pty_type(r.p, "n");
    pty_expect(r.p, "timecode WAITING");
    pty_type(r.p, "cK\r");
    pty_expect(r.p, "clear called by K");
    pty_type(r.p, "k");
    pty_expect(r.p, "SAFE key ON");
    pty_type(r.p, "a");
    pty_expect(r.p, "ARM the rehearsed module");
    pty_type(r.p, "\r");
    pty_expect(r.p, "the timecode is not LOCKED: WAITING");
    (void)take_play(own, 0.1, 5, SM_SPEED_ONE);
    pty_expect(r.p, "timecode LOCKED");
    pty_expect(r.p, "ARMED START BEGINS AT 0:0");
    pty_type(r.p, "b");
    pty_expect(r.p, "Enter does it");
    pty_type(r.p, "\r");
    pty_expect(r.p, "RUNNING");
    take_wait(own, 0.5);
    (void)take_play(own, 0.1, 20, SM_SPEED_ONE);
    pty_expect(r.p, "TIMECODE JUMPED");
    pty_expect(r.p, "PAUSED STILL ARMED");
    pty_type(r.p, "r");
    pty_expect(r.p, "Enter does it");
    pty_type(r.p, "\r");
    pty_expect(r.p, "RUNNING");
    pty_expect_gone(r.p, "TIMECODE JUMPED");
    take_stand(own);
    pty_expect(r.p, "TIMECODE LOST");
    pty_expect(r.p, "PAUSED STILL ARMED");
    (void)take_play(own, 0.1, 25, SM_SPEED_ONE);
    pty_expect(r.p, "timecode LOCKED");
    take_wait(own, 0.7);
    assert_true(pty_shows(r.p, "PAUSED STILL ARMED"));
    pty_type(r.p, " ");
    pty_expect(r.p, "SAFE");
    pty_type(r.p, "q\r");
    assert_int_equal(pty_expect_end(r.p), 0);
    console_expect_log(&r, (const char *const[]){",timecode,,waiting,", ",timecode,,locked,",
                                                 ",state,,running,armed", ",timecode,,jumped,",
                                                 ",state,,paused,running", ",state,,running,paused",
                                                 ",timecode,,lost,", ",state,,paused,running",
                                                 ",timecode,,locked,", ",state,,safe,paused", NULL});
    console_end(&r);
}

static int all(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_headless_run_follows_and_pauses, take_setup, take_teardown),
        cmocka_unit_test_setup_teardown(the_console_says_so_and_resumes_nothing, take_setup, take_teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

int main(int argc, char **argv) {
    return take_main(argc, argv, all);
}
