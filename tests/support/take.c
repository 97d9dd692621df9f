// SPDX-License-Identifier: GPL-3.0-or-later
#include "take.h"

#include "sounds.h"

#include <math.h>
#include <setjmp.h>
#include <sndfile.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

// The stream's buffer is 40 ms: whoever is kept waiting for nearly that long can have played or recorded holes.
#define SPOILT_S 0.030

static double mono_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

// How long at most the machine kept a take waiting, shared with the process that makes it. NULL: nobody asks.
static double *most_kept_s;

static void kept(double seconds) {
    if (most_kept_s && seconds > *most_kept_s)
        *most_kept_s = seconds;
}

// Sleeps 2 ms; returns how many seconds too long that was.
static double rest(void) {
    const struct timespec pause = {.tv_nsec = 2000000};
    double before_s = mono_s();
    nanosleep(&pause, NULL);
    return mono_s() - before_s - 0.002;
}

static void note(take *own) {
    double before = mono_s();
    int64_t wall_us = sm_audio_now(own->audio).us;
    double after = mono_s();
    if (own->note_count > 0) {
        const struct take_note *last = &own->notes[own->note_count - 1];
        double ahead_s = (double)(wall_us - last->wall_us) / 1e6 - (after - last->mono_s);
        own->went_back = own->went_back || wall_us < last->wall_us;
        own->most_ahead_s = fmax(own->most_ahead_s, ahead_s);
    }
    // A look that took long says little: keep those that did not.
    if (after - before < 0.0005 && own->note_count < TAKE_NOTES_MAX)
        own->notes[own->note_count++] = (struct take_note){before, wall_us};
}

take *take_create(int rate_hz, bool *missing) {
    take *own = calloc(1, sizeof *own);
    if (!own)
        return NULL;
    int code = sound_rig_start(&own->rig, rate_hz);
    *missing = code == 77;
    if (code == 0)
        return own;
    free(own);
    return NULL;
}

bool take_soaks(void) {
    return getenv("SLOWMATCH_SOAK") != NULL;
}

// Runs TESTS in a process of its own with what it says in OUT and ERR (files); returns its exit status. How long this one is kept waiting
// meanwhile speaks for those that no test can ask: a program under test, its sound process.
static int run_apart(int (*tests)(void), FILE *out, FILE *err) {
    fflush(NULL);
    pid_t pid = fork();
    if (pid == 0) {
        dup2(fileno(out), STDOUT_FILENO);
        dup2(fileno(err), STDERR_FILENO);
        exit(tests());
    }
    int status = 0;
    double late_s = 0;
    pid_t ended = 0;
    while (pid > 0 && (ended = waitpid(pid, &status, WNOHANG)) == 0)
        late_s = fmax(late_s, rest());
    if (pid < 0 || ended != pid)
        return -1;
    kept(late_s);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128;
}

static void say_again(FILE *said, FILE *to) {
    char bytes[4096];
    rewind(said);
    for (size_t got; (got = fread(bytes, 1, sizeof bytes, said)) > 0;)
        fwrite(bytes, 1, got, to);
    fclose(said);
}

int take_main(int argc, char **argv, int (*tests)(void)) {
    if (argc > 1 && strcmp(argv[1], SM_AUDIO_PROCESS_ARGUMENT) == 0)
        return sm_audio_process_main(argc, argv);
    if (take_soaks())
        return tests();
    most_kept_s = mmap(NULL, sizeof *most_kept_s, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (most_kept_s == MAP_FAILED)
        return -1;
    for (int left = 2;; left--) {
        FILE *out = tmpfile(), *err = tmpfile();
        if (!out || !err)
            return -1;
        *most_kept_s = 0;
        int code = run_apart(tests, out, err);
        bool spoilt = *most_kept_s > SPOILT_S;
        if (code == 0 || left == 0 || !spoilt) {
            say_again(out, stdout);
            say_again(err, stderr);
            if (code != 0)
                printf("server, recorder or this program were kept waiting for %.0f ms at most: %s\n",
                       *most_kept_s * 1e3, spoilt ? "a spoilt take" : "no excuse");
            return code;
        }
        printf("this run failed, and server, recorder or this program were kept waiting for %.0f ms: once "
               "more\n",
               *most_kept_s * 1e3);
        say_again(out, stdout);
        fclose(err);
    }
}

int take_setup(void **state) {
    bool missing = false;
    take *own = take_create(TAKE_RATE, &missing);
    if (!own && missing)
        print_message("no headless sound server here (pulseaudio, pulseaudio-utils): skipped\n");
    *state = own;
    return own || missing ? 0 : -1;
}

int take_teardown(void **state) {
    take_destroy(*state);
    return 0;
}

take *take_of(void **state) {
    if (!*state)
        skip();
    return *state;
}

static void compose(take_music music, int rate_hz, size_t frames, int16_t (*out)[2]) {
    for (size_t i = 0; i < frames; i++) {
        if (music == TAKE_NUMBERED) {
            out[i][0] = sounds_noise((uint32_t)i);
            out[i][1] = (int16_t)(i % TAKE_NUMBERS + 1);
        } else if (music == TAKE_TONE) {
            out[i][0] = out[i][1] = (int16_t)lround(12000 * sin(2 * M_PI * TAKE_HERTZ * (double)i / rate_hz));
        } else {
            size_t at = i % (size_t)(rate_hz / 2);
            out[i][0] = out[i][1] = (int16_t)(at < (size_t)rate_hz / 1000 ? 20000 : 0);
        }
    }
}

bool take_open(take *own, take_music music, int seconds, int rate_hz, sm_audio_options options) {
    size_t frames = (size_t)seconds * (size_t)rate_hz;
    int16_t(*samples)[2] = calloc(frames, sizeof *samples);
    if (!samples)
        return false;
    compose(music, rate_hz, frames, samples);
    snprintf(own->music, sizeof own->music, "%s/music.wav", own->rig.folder);
    bool good = sounds_write(own->music, SF_FORMAT_WAV | SF_FORMAT_PCM_16, rate_hz, 2, samples[0], frames);
    free(samples);
    options.path = own->music;
    own->note_count = 0; // a clock of its own
    if (!good || sm_audio_open(&options, &own->audio) != SM_OK)
        return false;
    sm_audio_event event;
    return take_event(own, SM_AUDIO_EVENT_DEVICE, 10, &event);
}

void take_close(take *own) {
    sm_audio_close(own->audio);
    own->audio = NULL;
}

void take_wait(take *own, double seconds) {
    int64_t end_us = sm_audio_now(own->audio).us + (int64_t)(seconds * 1e6);
    while (sm_audio_now(own->audio).us < end_us) {
        note(own);
        kept(rest());
    }
}

bool take_event(take *own, sm_audio_event_kind kind, double seconds, sm_audio_event *out) {
    int64_t end_us = sm_audio_now(own->audio).us + (int64_t)(seconds * 1e6);
    while (sm_audio_now(own->audio).us < end_us) {
        note(own);
        while (sm_audio_next_event(own->audio, out))
            if (out->kind == kind)
                return true;
        kept(rest());
    }
    return false;
}

double take_wall_s(const take *own, double at_s) {
    size_t low = 0, high = own->note_count;
    if (high < 2 || at_s < own->notes[0].mono_s || at_s > own->notes[high - 1].mono_s)
        return NAN;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (own->notes[middle].mono_s <= at_s)
            low = middle;
        else
            high = middle;
    }
    return (double)own->notes[low].wall_us / 1e6 + (at_s - own->notes[low].mono_s);
}

// How long the recording was kept waiting; one that a failed test left running is ended first.
static void look_at_recorder(take *own) {
    char path[128];
    double seconds;
    (void)sound_rig_do(&own->rig, "endrecord");
    snprintf(path, sizeof path, "%s/recorded.kept", own->rig.folder);
    FILE *file = fopen(path, "r");
    if (file && fscanf(file, "%lf", &seconds) == 1)
        kept(seconds);
    if (file)
        fclose(file);
}

void take_destroy(take *own) {
    if (!own)
        return;
    if (most_kept_s && *own->rig.folder)
        look_at_recorder(own);
    sm_audio_close(own->audio);
    if (*own->music)
        unlink(own->music);
    sound_rig_stop(&own->rig);
    free(own);
}

int64_t take_numbered(const int16_t frame[2], double near) {
    if (frame[1] < 1 || frame[1] > TAKE_NUMBERS)
        return -1;
    double turns = round((near - (frame[1] - 1)) / TAKE_NUMBERS);
    int64_t number = (int64_t)turns * TAKE_NUMBERS + frame[1] - 1;
    return number < 0 ? -1 : number;
}

sm_wall_time take_play(take *own, double in_s, double from_s, int32_t speed_ppm) {
    sm_wall_time from = {sm_audio_now(own->audio).us + (int64_t)(in_s * 1e6)};
    sm_show_time show = {(int64_t)(from_s * 1e6)};
    assert_int_equal(sm_audio_transport(own->audio, from, show, speed_ppm, true), SM_OK);
    return from;
}

void take_stand(take *own) {
    sm_wall_time now = sm_audio_now(own->audio);
    assert_int_equal(sm_audio_transport(own->audio, now, (sm_show_time){0}, SM_SPEED_ONE, false), SM_OK);
}

double take_heard_s(const take *own, const sound_recording *heard, size_t i) {
    return take_wall_s(own, sound_recording_mono_s(heard, (double)i));
}

// The first recorded frame heard at or after WALL_S.
static size_t frame_at(const take *own, const sound_recording *heard, double wall_s) {
    size_t i = 0;
    while (i < heard->count && !(take_heard_s(own, heard, i) >= wall_s))
        i += 8;
    return i < heard->count ? i : heard->count;
}

int64_t take_heard_at(const take *own, const sound_recording *heard, double wall_s, double near_s) {
    size_t i = frame_at(own, heard, wall_s);
    if (i == heard->count)
        return -2;
    if (heard->frames[i][0] == 0 && heard->frames[i][1] == 0)
        return -1;
    int64_t number = take_numbered(heard->frames[i], near_s * TAKE_RATE);
    return number < 0 ? -2 : number;
}

void take_assert_heard(const take *own, const sound_recording *heard, double wall_s, double music_s) {
    int64_t number = take_heard_at(own, heard, wall_s, music_s);
    assert_true(number >= 0);
    assert_true(fabs((double)number / TAKE_RATE - music_s) < TAKE_TOLERANCE_S);
}

take_clicks take_clicks_find(const take *own, const sound_recording *heard, double begin_s, double end_s,
                             sm_wall_time from, double from_s, double speed) {
    take_clicks found = {.least_s = 1, .most_s = -1};
    size_t end = frame_at(own, heard, end_s);
    double apart = 0.4 / speed * heard->rate_hz, next = 0;
    for (size_t i = frame_at(own, heard, begin_s); i < end; i++) {
        if (abs(heard->frames[i][0]) < 2500 || (double)i < next)
            continue;
        next = (double)i + apart;
        double show_s = (take_heard_s(own, heard, i) - (double)from.us / 1e6) * speed + from_s;
        double off_s = show_s - round(show_s * 2) / 2;
        found.count++;
        found.mean_s += off_s;
        found.least_s = fmin(found.least_s, off_s);
        found.most_s = fmax(found.most_s, off_s);
    }
    found.mean_s /= found.count ? found.count : 1;
    return found;
}
