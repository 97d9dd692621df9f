// SPDX-License-Identifier: GPL-3.0-or-later
// Timecode in through a headless sound server: the program's own output plays timecode into a sink, a listener hears the sink's
// monitor, and the sink's recording, read by the tests' own reader, is the truth.
#include "support/ltc_reader.h"
#include "support/ltc_writer.h"
#include "support/pty.h"
#include "support/short_show.h"
#include "support/sounds.h"
#include "support/take.h"

#include "slowmatch/clock.h"
#include "slowmatch/listen.h"

#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <sndfile.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#define LOCK_S 0.300  // the specification's
#define PLACE_S 0.005 // likewise
#define NOTES_MAX 20000
enum { FOUND_MAX = 1000 };

typedef struct note {
    double mono_s; // of the look
    sm_timecode_heard heard;
} note;

typedef struct heard {
    note notes[NOTES_MAX];
    size_t count;
} heard;

// The latest of what was heard.
static const sm_timecode_heard *last_of(const heard *all) {
    return &all->notes[all->count - 1].heard;
}

// Looks each 2 ms for SECONDS.
static void listen_for(take *own, sm_listener *listener, heard *all, double seconds) {
    const int64_t until_us = sm_monotonic_us() + (int64_t)(seconds * 1e6);
    while (sm_monotonic_us() < until_us) {
        assert_true(all->count < NOTES_MAX);
        note *n = &all->notes[all->count++];
        take_wait(own, 0.002);
        sm_listener_look(listener, &n->heard);
        n->mono_s = (double)sm_monotonic_us() / 1e6;
    }
}

// Looks until it is in STATE, for 10 s.
static void listen_until(take *own, sm_listener *listener, heard *all, sm_timecode_state state) {
    for (int i = 0; i < 1000 && (all->count == 0 || last_of(all)->state != state); i++)
        listen_for(own, listener, all, 0.01);
    assert_int_equal(last_of(all)->state, state);
}

static sm_listener *open_listener(const sm_moment_base *show) {
    sm_listener *listener = NULL;
    const sm_listener_options options = {.channel = 2, .show = show, .free_run_us = SM_US_PER_S};
    assert_int_equal(sm_listener_open(&options, &listener), SM_OK);
    return listener;
}

static void wait_for_input(take *own, sm_listener *listener) {
    sm_timecode_heard h = {0};
    for (int i = 0; i < 500 && h.trouble != SM_TIMECODE_NO_SOUND; i++) {
        take_wait(own, 0.02);
        sm_listener_look(listener, &h);
    }
    assert_true(h.listens);
    assert_int_equal(h.state, SM_TIMECODE_WAITING);
    take_wait(own, 0.35); // its clock has settled
}

// What was said while locked, held against the frames that were audible. Returns the worst; *COUNT of how many looks.
static double worst_place_s(const heard *all, size_t from, size_t until, const sound_recording *rec,
                            const ltc_frame *found, size_t frames, double fps, double show0_s, int numbers,
                            int *count) {
    double worst_s = 0;
    *count = 0;
    for (size_t i = from; i < until; i++) {
        const note *n = &all->notes[i];
        if (n->heard.state != SM_TIMECODE_LOCKED)
            continue;
        const double at_s = (double)n->heard.mono_ns / 1e9;
        for (size_t f = 1; f < frames; f++) {
            const double begins_s = sound_recording_mono_s(rec, found[f].starts);
            if (at_s < begins_s || at_s >= begins_s + 1 / fps)
                continue;
            const double number =
                ((found[f].hours * 60 + found[f].minutes) * 60 + found[f].seconds) * numbers + found[f].frame;
            const double truth_s = number / fps - show0_s + at_s - begins_s;
            worst_s = fmax(worst_s, fabs(n->heard.show_us / 1e6 - truth_s));
            ++*count;
            break;
        }
    }
    return worst_s;
}

static double first_locked_s(const heard *all, size_t from) {
    for (size_t i = from; i < all->count; i++)
        if (all->notes[i].heard.state == SM_TIMECODE_LOCKED)
            return all->notes[i].mono_s;
    return NAN;
}

static bool saw(const heard *all, size_t from, sm_timecode_state state) {
    for (size_t i = from; i < all->count; i++)
        if (all->notes[i].heard.state == state)
            return true;
    return false;
}

static const struct rate {
    const char *name;
    sm_moment_base show;
    int numbers;
    double fps;
} rates[] = {
    {"24", {SM_TC_24, false, 86400}, 24, 24},
    {"25", {SM_TC_25, false, 90000}, 25, 25},
    {"29.97 drop", {SM_TC_29_97, true, 0}, 30, 30000.0 / 1001}, // from 00:00:00;00
    {"29.97", {SM_TC_29_97, false, 108000}, 30, 30000.0 / 1001},
    {"30", {SM_TC_30, false, 108000}, 30, 30},
};
enum { RATES = sizeof rates / sizeof rates[0] };

static double show0_s(const struct rate *r) {
    return (double)r->show.start_frames / r->fps;
}

static float *channel_of(const sound_recording *rec, int side) {
    float *samples = calloc(rec->count, sizeof *samples);
    assert_non_null(samples);
    for (size_t i = 0; i < rec->count; i++)
        samples[i] = (float)rec->frames[i][side] / 32768;
    return samples;
}

// In a soak, of one rate: from nothing to a lock, its place while locked, and the loss after it ends.
static void listen_to(take *own, const struct rate *r) {
    static heard all;
    static ltc_frame found[FOUND_MAX];
    sound_recording rec;
    int looks;
    all.count = 0;
    sm_listener *listener = open_listener(&r->show);
    wait_for_input(own, listener);
    assert_true(sound_rig_record(&own->rig));
    const sm_audio_timecode timecode = {r->show.rate, r->show.drop, r->show.start_frames, 2};
    assert_int_equal(sm_audio_timecode_out(own->audio, &timecode), SM_OK);
    (void)take_play(own, 0.1, 5, SM_SPEED_ONE);
    listen_for(own, listener, &all, 1.6);
    take_stand(own);
    listen_for(own, listener, &all, 0.4);
    assert_true(saw(&all, 0, SM_TIMECODE_FREE_RUNNING));
    assert_int_equal(all.notes[all.count - 1].heard.jumps, 0);
    sm_listener_close(listener);
    assert_true(sound_rig_recorded(&own->rig, &rec));
    float *samples = channel_of(&rec, 1);
    const size_t frames = ltc_reader_read(samples, rec.count, TAKE_RATE, r->fps, found, FOUND_MAX);
    assert_true(frames > 30);
    // The reader takes the silence before the first frame for a part of it.
    const double first_s = sound_recording_mono_s(&rec, found[1].starts - TAKE_RATE / r->fps);
    const double lock_s = first_locked_s(&all, 0) - first_s;
    const double place_s =
        worst_place_s(&all, 0, all.count, &rec, found, frames, r->fps, show0_s(r), r->numbers, &looks);
    print_message("%s: locked %.0f ms after its first bit was audible, worst place %.2f ms in %d looks\n",
                  r->name, lock_s * 1e3, place_s * 1e3, looks);
    free(samples);
    sound_recording_deinit(&rec);
    assert_true(looks > 200);
    assert_true(lock_s > 0 && lock_s < LOCK_S);
    assert_true(place_s < PLACE_S);
}

static void each_rate_locks_and_keeps_its_place(void **state) {
    take *own = take_of(state);
    assert_true(take_open(own, TAKE_CLICKS, 10, TAKE_RATE, (sm_audio_options){0}));
    for (int r = 0; r < RATES; r++)
        listen_to(own, &rates[r]);
}

// ---- slowmatch timecode --listen -------------------------------------------------------------------

static const char *program(void) {
    static char path[512];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(path, sizeof path, "%s/slowmatch", build ? build : "build");
    return path;
}

// Its exit status; what it says on either way is in SAID.
static int run_program(const char *arguments, char said[2000]) {
    char command[700];
    snprintf(command, sizeof command, "%s timecode --listen %s 2>&1", program(), arguments);
    FILE *out = popen(command, "r"); // NOLINT(cert-env33-c)
    assert_non_null(out);
    said[fread(said, 1, 1999, out)] = '\0';
    return WEXITSTATUS(pclose(out));
}

static void expect_said(const char *said, const char *text) {
    if (!strstr(said, text))
        fail_msg("%s\ndoes not say %s", said, text);
}

// ---- through the sink ---------------------------------------------------------------------------------

// The meter and the lines of the program, beside a listener of the test's own.
typedef struct others {
    pty *meter;
    FILE *lines;
} others;

// Reads the lines until one begins with TEXT.
static void expect_line(const others *o, const char *text) {
    char line[400] = "";
    while (strncmp(line, text, strlen(text)) != 0)
        if (!fgets(line, sizeof line, o->lines))
            fail_msg("the lines ended without %s", text);
}

// The demo is at 25 frames from 01:00:00:00.
static void begin_others(others *o) {
    const char *argv[] = {program(), "timecode", "demo-shows/lantern-quay", "--listen", "2:default", NULL};
    char command[640];
    o->meter = pty_start(80, 24, argv, NULL);
    snprintf(command, sizeof command, "exec %s timecode --listen right 2>&1", program());
    o->lines = popen(command, "r"); // NOLINT(cert-env33-c)
    assert_non_null(o->lines);
    pty_expect_row(o->meter, 2, "WAITING");
    pty_expect_row(o->meter, 2, "no sound");
    pty_expect_row(o->meter, 4, "nothing");
    pty_expect_row(o->meter, 6, "--listen right:default");
    pty_expect(o->meter, "  default (ALSA, ");
    expect_line(o, "inputs (name one, or a part of its name, after a colon: --listen right:default):");
    expect_line(o, "  default (ALSA, ");
    expect_line(o, "WAITING, no sound\n");
}

static void expect_meter_reads(const others *o) {
    pty_expect_row(o->meter, 2, "LOCKED");
    pty_expect_row(o->meter, 4, "dBFS");
    pty_expect_row(o->meter, 12, "25 frames a second");
    pty_expect_row(o->meter, 16, "0:0");
}

// q gives the terminal back; the lines end when their reader goes away.
static void end_others(others *o) {
    pty_type(o->meter, "q");
    assert_int_equal(pty_expect_end(o->meter), 0);
    assert_false(pty_is_alternate(o->meter));
    assert_true(pty_cursor_is_visible(o->meter));
    pty_destroy(o->meter);
    expect_line(o, "LOCKED, -");
    assert_int_equal(WEXITSTATUS(pclose(o->lines)), 0);
}

// From nothing to a lock; a gap is bridged, a jump told with both places; what ends is lost. Returns the looks before the gap.
static size_t hear_a_gap_and_a_jump(take *own, sm_listener *listener, const others *o, heard *all) {
    const sm_audio_timecode timecode = {SM_TC_25, false, 90000, 2};
    assert_int_equal(sm_audio_timecode_out(own->audio, &timecode), SM_OK);
    const sm_wall_time from = take_play(own, 0.1, 3, SM_SPEED_ONE);
    listen_until(own, listener, all, SM_TIMECODE_LOCKED);
    listen_for(own, listener, all, 0.6);
    expect_meter_reads(o);
    const size_t before = all->count;
    take_stand(own);
    listen_until(own, listener, all, SM_TIMECODE_FREE_RUNNING);
    const double on_s = (double)(sm_audio_now(own->audio).us - from.us) / 1e6 + 3 + 0.1;
    (void)take_play(own, 0.1, on_s, SM_SPEED_ONE);
    listen_until(own, listener, all, SM_TIMECODE_LOCKED);
    assert_int_equal(last_of(all)->jumps, 0);
    assert_false(saw(all, 0, SM_TIMECODE_LOST));
    (void)take_play(own, 0.1, 20, SM_SPEED_ONE);
    for (int i = 0; i < 1000 && last_of(all)->jumps == 0; i++)
        listen_for(own, listener, all, 0.01);
    assert_int_equal(last_of(all)->jumps, 1);
    assert_int_equal(last_of(all)->state, SM_TIMECODE_LOCKED);
    assert_true(fabs((double)last_of(all)->jumped_to.us / 1e6 - 20) < 0.4);
    assert_true(fabs((double)last_of(all)->jumped_from.us / 1e6 - on_s) < 1.5);
    take_stand(own);
    listen_until(own, listener, all, SM_TIMECODE_LOST);
    pty_expect_row(o->meter, 2, "LOST");
    return before;
}

// Of the first COUNT looks.
static void lock_and_place_are_in_time(const heard *all, size_t count, const sound_recording *rec) {
    static ltc_frame found[FOUND_MAX];
    int looks;
    float *samples = channel_of(rec, 1);
    const size_t frames = ltc_reader_read(samples, rec->count, TAKE_RATE, 25, found, FOUND_MAX);
    free(samples);
    assert_true(frames > 20);
    const double first_s = sound_recording_mono_s(rec, found[1].starts - TAKE_RATE / 25.0);
    const double lock_s = first_locked_s(all, 0) - first_s;
    const double place_s = worst_place_s(all, 0, count, rec, found, frames, 25, 3600, 25, &looks);
    print_message("locked %.0f ms after its first bit was audible, worst place %.2f ms in %d looks\n",
                  lock_s * 1e3, place_s * 1e3, looks);
    assert_true(looks > 50);
    assert_true(lock_s > 0 && lock_s < LOCK_S);
    assert_true(place_s < PLACE_S);
}

// The server stops answering, and dies: the timecode is lost at once, nobody waits, and the input is heard again when the server is back.
static void lose_the_input(take *own, sm_listener *listener, heard *all) {
    (void)take_play(own, 0.1, 3, SM_SPEED_ONE);
    listen_until(own, listener, all, SM_TIMECODE_LOCKED);
    assert_true(sound_rig_do(&own->rig, "freeze"));
    listen_until(own, listener, all, SM_TIMECODE_LOST);
    assert_int_equal(last_of(all)->trouble, SM_TIMECODE_NO_INPUT);
    assert_string_equal(last_of(all)->reason, "the device gives no more sound");
    assert_true(sound_rig_do(&own->rig, "kill"));
    assert_true(sound_rig_do(&own->rig, "restart"));
    listen_until(own, listener, all, SM_TIMECODE_LOCKED);
    assert_string_equal(last_of(all)->reason, "");
}

static void a_listener_the_meter_and_the_lines_hear_a_sink(void **state) {
    take *own = take_of(state);
    static heard all;
    sound_recording rec;
    others o;
    char said[2000];
    all.count = 0;
    assert_true(take_open(own, TAKE_CLICKS, 30, TAKE_RATE, (sm_audio_options){0}));
    sm_listener *listener = open_listener(&rates[1].show);
    begin_others(&o);
    wait_for_input(own, listener);
    assert_true(sound_rig_record(&own->rig));
    const size_t before = hear_a_gap_and_a_jump(own, listener, &o, &all);
    assert_true(sound_rig_recorded(&own->rig, &rec));
    lock_and_place_are_in_time(&all, before, &rec);
    sound_recording_deinit(&rec);
    end_others(&o);
    lose_the_input(own, listener, &all);
    sm_listener_close(listener);
    assert_int_equal(run_program("left:rig-not-there", said), 2);
    expect_said(said, "no input is called rig-not-there; inputs (name one");
    expect_said(said, "  default (ALSA, ");
}

static void where_nothing_can_be_heard_it_says_so(void **state) {
    (void)state;
    char said[2000];
    sound_rig_no_device();
    assert_int_equal(run_program("left", said), 2);
    expect_said(said, "there is no sound input here");
    assert_int_equal(run_program("middle", said), 2);
    expect_said(said, "--listen middle names no side");
}

// ---- a poor line, in a soak -------------------------------------------------------------------------------

// What comes in one after another, and how it stands shortly before the end of each.
typedef struct part {
    const char *name;
    double seconds, speed, level, noise; // linear
    int numbers, jump_to;                // numbers 0: silence; jump_to 0: it goes on
    sm_timecode_state state;
    sm_timecode_trouble trouble;
    uint64_t jumps; // so far
} part;

static const part parts[] = {
    {"clean", 3, 1, 0.5, 0, 25, 20, SM_TIMECODE_LOCKED, SM_TIMECODE_FINE, 0},
    {"noise 10 dB below", 3, 1, 0.3, 0.095, 25, 0, SM_TIMECODE_LOCKED, SM_TIMECODE_FINE, 0},
    {"speed 0.9", 3, 0.9, 0.5, 0, 25, 0, SM_TIMECODE_LOCKED, SM_TIMECODE_FINE, 0},
    {"speed 1.1", 3, 1.1, 0.5, 0, 25, 0, SM_TIMECODE_LOCKED, SM_TIMECODE_FINE, 0},
    {"a jump", 2, 1, 0.5, 0, 25, 50, SM_TIMECODE_LOCKED, SM_TIMECODE_FINE, 1},
    {"peak -60 dBFS", 3, 1, 0.001, 0, 25, 0, SM_TIMECODE_LOCKED, SM_TIMECODE_FINE, 1},
    {"silence", 3, 1, 0, 0, 0, 0, SM_TIMECODE_LOST, SM_TIMECODE_NO_SOUND, 1},
    {"30 frames in a show of 25", 3, 1, 0.5, 0, 30, 70, SM_TIMECODE_LOCKED, SM_TIMECODE_FINE, 1},
    {"speed 0.6", 3, 0.6, 0.5, 0, 25, 20, SM_TIMECODE_LOST, SM_TIMECODE_SPEED, 1},
    {"noise alone", 3, 1, 0, 0.3, 0, 0, SM_TIMECODE_LOST, SM_TIMECODE_NO_CODE, 1},
    {"hiss at -80 dBFS", 3, 1, 0, 0.0001, 0, 0, SM_TIMECODE_LOST, SM_TIMECODE_QUIET, 1},
    {"clean again", 2, 1, 0.5, 0, 25, 100, SM_TIMECODE_LOCKED, SM_TIMECODE_FINE, 1},
};
enum { PARTS = sizeof parts / sizeof parts[0] };

// All parts as music of both sides.
static void open_poor_line(take *own) {
    ltc_writer writer = {0};
    uint32_t random = 5;
    size_t frames = 0, at = 0;
    sm_audio_event event;
    for (int p = 0; p < PARTS; p++)
        frames += (size_t)(parts[p].seconds * TAKE_RATE);
    int16_t(*samples)[2] = calloc(frames, sizeof *samples);
    assert_non_null(samples);
    for (int p = 0; p < PARTS; p++) {
        const part *one = &parts[p];
        if (one->jump_to > 0)
            ltc_writer_init(
                &writer, TAKE_RATE, one->numbers, one->numbers,
                (ltc_frame){.hours = 1, .minutes = one->jump_to / 60, .seconds = one->jump_to % 60});
        for (const size_t until = at + (size_t)(one->seconds * TAKE_RATE); at < until; at++) {
            float code = 0;
            double noise = 0;
            if (one->numbers > 0)
                ltc_writer_write(&writer, &code, 1, one->speed);
            for (int i = 0; i < 12; i++) { // near enough to a normal one
                random = random * 1664525u + 1013904223u;
                noise += (double)(random >> 8) / (1 << 24) - 0.5;
            }
            samples[at][0] = samples[at][1] =
                (int16_t)lround(32767 * (one->level * code + one->noise * noise));
        }
    }
    snprintf(own->music, sizeof own->music, "%s/music.wav", own->rig.folder);
    assert_true(sounds_write(own->music, SF_FORMAT_WAV | SF_FORMAT_PCM_16, TAKE_RATE, 2, samples[0], frames));
    free(samples);
    const sm_audio_options options = {.path = own->music};
    assert_int_equal(sm_audio_open(&options, &own->audio), SM_OK);
    assert_true(take_event(own, SM_AUDIO_EVENT_DEVICE, 10, &event));
}

static void a_poor_line_through_the_sink(void **state) {
    take *own = take_of(state);
    static heard all;
    all.count = 0;
    open_poor_line(own);
    sm_listener *listener = open_listener(&rates[1].show);
    wait_for_input(own, listener);
    const sm_wall_time from = take_play(own, 0.1, 0, SM_SPEED_ONE);
    double ends_s = (double)from.us / 1e6;
    for (int p = 0; p < PARTS; p++) {
        const part *one = &parts[p];
        ends_s += one->seconds;
        listen_for(own, listener, &all, ends_s - 0.1 - (double)sm_audio_now(own->audio).us / 1e6);
        const sm_timecode_heard *h = last_of(&all);
        print_message("%-26s %s, %s, %.1f dBFS, speed %.3f, %u jumps\n", one->name,
                      sm_timecode_state_text(h->state), sm_timecode_trouble_text(h->trouble), h->level_dbfs,
                      h->speed, (unsigned)h->jumps);
        assert_int_equal(h->state, one->state);
        assert_int_equal(h->trouble, one->trouble);
        assert_int_equal(h->jumps, one->jumps);
        assert_true(h->state != SM_TIMECODE_LOCKED || fabs(h->speed - one->speed) < 0.005);
        assert_true(h->state != SM_TIMECODE_LOCKED || h->differs == (one->numbers != 25));
    }
    sm_listener_close(listener);
}

// However late its first step is: with no time for arming, the built-in sequence would start in it.
static void nothing_starts_before_the_first_word_of_the_timecode(void **state) {
    (void)state;
    short_show show;
    char command[1000], line[400] = "";
    sound_rig_no_device();
    short_show_make(&show, "1 s");
    short_show_write(&show, "show.ini", "[show]\ntitle = Chased\nlength = 5\n[limits]\narm-time = 0 s\n");
    snprintf(command, sizeof command, "echo $$; exec %s %s --headless --silent --timecode-in left 2>&1",
             program(), show.folder);
    FILE *out = popen(command, "r"); // NOLINT(cert-env33-c)
    assert_non_null(out);
    assert_non_null(fgets(line, sizeof line, out));
    const pid_t pid = (pid_t)strtol(line, NULL, 10);
    bool waits = false;
    while (!strstr(line, "REHEARSAL armed: nothing goes on before the timecode is LOCKED") &&
           fgets(line, sizeof line, out)) {
        assert_null(strstr(line, ",script,start,"));
        assert_true(waits || !strstr(line, ",script,arm,"));
        waits |= strstr(line, ",engine,timecode,,waiting,no input") != NULL;
    }
    assert_true(waits && pid > 1);
    assert_non_null(strstr(line, "REHEARSAL armed: "));
    kill(pid, SIGTERM);
    (void)pclose(out);
    short_show_remove(&show);
}

static int all_tests(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_listener_the_meter_and_the_lines_hear_a_sink, take_setup,
                                        take_teardown),
        cmocka_unit_test(where_nothing_can_be_heard_it_says_so),
        cmocka_unit_test(nothing_starts_before_the_first_word_of_the_timecode),
    };
    const struct CMUnitTest longer[] = {
        cmocka_unit_test_setup_teardown(each_rate_locks_and_keeps_its_place, take_setup, take_teardown),
        cmocka_unit_test_setup_teardown(a_poor_line_through_the_sink, take_setup, take_teardown),
    };
    const int failed = take_soaks() ? cmocka_run_group_tests(longer, NULL, NULL) : 0;
    return failed + cmocka_run_group_tests(tests, NULL, NULL);
}

int main(int argc, char **argv) {
    return take_main(argc, argv, all_tests);
}
