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
#define LATE_S 0.040  // a row on its way through a pipe, where nothing else runs
enum { ROWS_MAX = 400, FOUND_MAX = 1000, SHOW_START_S = 3600 };

// A light changes each tenth of a second from 4 s to 10 s; at 25 frames from 01:00:00:00.
static void make_show(short_show *show) {
    sm_text cues = {0};
    short_show_make(show, "0.3 s");
    short_show_write(show, "show.ini",
                     "[show]\ntitle = Chased\nlength = 40\ncountdown = 300 ms\ntimecode = 25\n"
                     "timecode-start = 01:00:00:00\ntimecode-gap = 500 ms\n[limits]\narm-time = 100 ms\n");
    sm_text_printf(&cues, "time,target,do\n");
    for (int i = 40; i < 100; i++)
        sm_text_printf(&cues, "%g,par-1,red=%d\n", i * 0.1, i);
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

// What it says on standard error goes into the file SAID.
static void start(run *r, const char *const *argv, const char *said) {
    int pipes[2];
    assert_int_equal(pipe(pipes), 0);
    r->pid = fork();
    assert_true(r->pid >= 0);
    if (r->pid == 0) {
        dup2(pipes[1], 1);
        dup2(open(said, O_WRONLY | O_CREAT, 0600), 2);
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

typedef struct scene {
    take *own;
    run headless;
    console_rig console;
    char book[400], said[400];
    size_t watched; // rows before these were not read when they came
} scene;

static void begin_headless(scene *s) {
    snprintf(s->book, sizeof s->book, "%s", short_show_path(&s->console.show, "book.db"));
    snprintf(s->said, sizeof s->said, "%s", short_show_path(&s->console.show, "said"));
    const char *argv[] = {program(),    s->console.show.folder,
                          "--headless", "--timecode-in",
                          "right",      "--silent",
                          "--logbook",  s->book,
                          NULL};
    start(&s->headless, argv, s->said);
}

static void begin_console(scene *s) {
    console_rig *r = &s->console;
    snprintf(r->log, sizeof r->log, "%s", short_show_path(&r->show, "log.out"));
    const char *argv[] = {program(),  r->show.folder, "--timecode-in", "right",
                          "--silent", "--log",        r->log,          NULL};
    r->p = pty_start(150, 24, argv, NULL);
}

// Both are armed, and wait: one on its standard error, one on its screen.
static void arm_both(scene *s) {
    pty *p = s->console.p;
    char *said = NULL;
    size_t length;
    pty_expect(p, "It has no way to fire anything");
    pty_type(p, "n");
    pty_expect(p, "timecode WAITING: no sound");
    pty_type(p, "cK\r");
    pty_expect(p, "clear called by K");
    pty_type(p, "k");
    pty_expect(p, "SAFE key ON");
    pty_type(p, "a");
    pty_expect(p, "ARM the rehearsed module");
    pty_type(p, "\r");
    pty_expect(p, "TIMECODE WAITING: no sound");
    pty_expect_row(p, 1, "WOULD BE REFUSED");
    pty_expect_row(p, 1, "timecode WAITING: no sound");
    (void)wait_row(s->own, &s->headless, ",engine,timecode,,waiting,");
    (void)wait_row(s->own, &s->headless,
                   ",engine,alert,,timecode-waits,\"begins, ADVISORY: TIMECODE WAITING");
    (void)wait_row(s->own, &s->headless, ",engine,state,,armed,arming");
    for (int i = 0; i < 200 && (!said || !strstr(said, "REHEARSAL armed: nothing goes on")); i++) {
        free(said);
        run_for(s->own, &s->headless, 0.05);
        assert_int_equal(sm_file_read(s->said, &said, &length), SM_OK);
    }
    assert_non_null(
        strstr(said, "REHEARSAL armed: nothing goes on before the timecode is LOCKED within the show; it is "
                     "WAITING, no "));
    free(said);
    assert_null(find_row(&s->headless, ",script,start,"));
}

// LOCKED starts the built-in sequence, and lets a person start. The lights come when the timecode says so; then it is lost.
static void both_follow_and_pause(scene *s) {
    run *r = &s->headless;
    pty *p = s->console.p;
    (void)take_play(s->own, 0.1, 3.2, SM_SPEED_ONE);
    pty_expect(p, "timecode LOCKED");
    pty_expect(p, "ARMED START BEGINS AT 0:0");
    pty_type(p, "b");
    pty_expect(p, "Enter does it");
    pty_type(p, "\r");
    pty_expect(p, "RUNNING");
    (void)wait_row(s->own, r, ",engine,timecode,,locked,");
    (void)wait_row(s->own, r, ",engine,state,,running,armed");
    s->watched = r->count;
    run_for(s->own, r, 1.7);
    take_stand(s->own);
    (void)wait_row(s->own, r, ",engine,timecode,,free-running,");
    (void)wait_row(s->own, r, ",engine,state,,paused,running");
    assert_non_null(find_row(r, ",engine,timecode,,lost,"));
    pty_expect(p, "TIMECODE LOST");
    pty_expect(p, "PAUSED STILL ARMED");
}

// What comes back resumes nothing; a person does; a jump pauses again.
static void the_console_goes_on_by_hand_alone(scene *s) {
    pty *p = s->console.p;
    (void)take_play(s->own, 0.1, 20, SM_SPEED_ONE);
    pty_expect(p, "timecode LOCKED");
    take_wait(s->own, 0.3);
    assert_true(pty_shows(p, "PAUSED STILL ARMED"));
    pty_type(p, "r");
    pty_expect(p, "Enter does it");
    pty_type(p, "\r");
    pty_expect(p, "RUNNING");
    (void)take_play(s->own, 0.1, 10, SM_SPEED_ONE);
    pty_expect(p, "TIMECODE JUMPED");
    pty_expect(p, "PAUSED STILL ARMED");
    pty_type(p, " ");
    pty_expect(p, "SAFE");
    pty_type(p, "q\r");
    assert_int_equal(pty_expect_end(p), 0);
    console_expect_log(&s->console, (const char *const[]){
                                        ",timecode,,waiting,", ",timecode,,locked,", ",state,,running,armed",
                                        ",timecode,,lost,", ",state,,paused,running", ",timecode,,locked,",
                                        ",state,,running,paused", ",timecode,,jumped,",
                                        ",state,,paused,running", ",state,,safe,paused", NULL});
}

// When each light was written, against when its moment was audible: none before it, and on a busy machine some later.
static void the_lights_came_at_their_moments(const scene *s, const sound_recording *rec) {
    const run *r = &s->headless;
    static ltc_frame found[FOUND_MAX];
    const size_t frames = read_recording(rec, found);
    double first_s = 1, last_s = -1;
    int held = 0;
    for (size_t i = s->watched; i < r->count; i++) {
        const double truth_s =
            strstr(r->rows[i].text, ",engine,set,") ? audible_s(rec, found, frames, r->rows[i].show_s) : NAN;
        if (isnan(truth_s))
            continue;
        const double off_s = r->rows[i].mono_s - truth_s;
        first_s = fmin(first_s, off_s);
        last_s = fmax(last_s, off_s);
        held++;
    }
    print_message("%d cues, each written between %.1f and %.1f ms after its moment was audible\n", held,
                  first_s * 1e3, last_s * 1e3);
    assert_true(held >= 10);
    assert_true(first_s > -PLACE_S && first_s < PLACE_S);
    assert_true(!take_soaks() || last_s < LATE_S);
}

static void a_headless_run_and_a_console_follow(void **state) {
    static scene s;
    sound_recording rec;
    char command[1200];
    memset(&s, 0, sizeof s);
    s.own = take_of(state);
    make_show(&s.console.show);
    begin_timecode(s.own);
    begin_headless(&s);
    begin_console(&s);
    arm_both(&s);
    assert_true(sound_rig_record(&s.own->rig));
    both_follow_and_pause(&s);
    assert_true(sound_rig_recorded(&s.own->rig, &rec));
    the_lights_came_at_their_moments(&s, &rec);
    sound_recording_deinit(&rec);
    (void)end(&s.headless);
    snprintf(command, sizeof command, "%s logbook replay 1 --logbook %s > /dev/null", program(), s.book);
    assert_int_equal(system(command), 0); // NOLINT(cert-env33-c)
    the_console_goes_on_by_hand_alone(&s);
    console_end(&s.console);
}

static int all(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_headless_run_and_a_console_follow, take_setup, take_teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

int main(int argc, char **argv) {
    return take_main(argc, argv, all);
}
