// SPDX-License-Identifier: GPL-3.0-or-later
// Accents of the music and taps along with it. The accents are held against sounds that SoX (an outside program) put at times
// written down here, and against what aubio (an outside library: `aubioonset`) finds in the music of the demo; the taps against a model of
// people who tap early or late by habit and never twice the same.
#include "support/folder.h"
#include "support/short_show.h"

#include "slowmatch/audio.h"
#include "slowmatch/clock.h"
#include "slowmatch/session.h"
#include "slowmatch/taps.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#define WITHIN_US 150000
#define PLACES 8

// A plucked string, a burst of noise, a low drum and a tone that swells within 5 ms, each twice, over a chord that goes on.
static const struct {
    double at_s;
    const char *sound;
} places[PLACES] = {
    {1.2340, "synth 0.4 pluck 220"},
    {1.9110, "synth 0.06 whitenoise fade 0 0.06 0.05 vol 0.3"},
    {2.7505, "synth 0.25 sine 90:50 fade 0.002 0.25 0.2 vol 0.7"},
    {3.4777, "synth 0.5 sine 660 fade 0.005 0.5 0.4 vol 0.3"},
    {4.1003, "synth 0.4 pluck 330"},
    {4.8421, "synth 0.03 whitenoise fade 0 0.03 0.02 vol 0.2"},
    {5.6002, "synth 0.25 sine 120:60 fade 0.002 0.25 0.2 vol 0.7"},
    {6.3333, "synth 0.5 sine 880 fade 0.005 0.5 0.4 vol 0.3"},
};

static char folder[64], music[256];

static void run(const char *command) {
    const int status = system(command);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
}

static int make_music(void **state) {
    (void)state;
    sm_text command = {0};
    folder_make(folder);
    folder_path(music, folder, "music.wav");
    sm_text_printf(&command,
                   "sox -R -m '|sox -R -n -r 44100 -c 2 -p synth 8 sine 110 synth 8 sine mix 165 synth 8 "
                   "sine mix 277 vol 0.15 fade 0.5 8 0'");
    for (size_t i = 0; i < PLACES; i++)
        sm_text_printf(&command, " '|sox -R -n -r 44100 -c 2 -p %s pad %.4f'", places[i].sound,
                       places[i].at_s);
    sm_text_printf(&command, " %s 2>/dev/null", music);
    run(sm_text_get(&command));
    sm_text_deinit(&command);
    return 0;
}

static int remove_music(void **state) {
    (void)state;
    folder_remove(folder);
    return 0;
}

static sm_audio *open_decoded(const char *path) {
    sm_audio *audio;
    sm_audio_status status = {0};
    const sm_audio_options options = {.path = path, .silent = true};
    assert_int_equal(sm_audio_open(&options, &audio), SM_OK);
    for (int i = 0; i < 3000 && !status.decoded; i++) {
        usleep(10000);
        sm_audio_status_get(audio, &status);
    }
    assert_true(status.decoded && status.has_music);
    return audio;
}

static double away_s(sm_audio *audio, double near_s, double is_s) {
    sm_show_time found;
    if (!sm_audio_accent(audio, (sm_show_time){llround(near_s * 1e6)}, WITHIN_US, &found))
        return 1;
    return fabs((double)found.us / 1e6 - is_s);
}

static void accents_stand_where_sounds_begin(void **state) {
    (void)state;
    sm_audio *const audio = open_decoded(music);
    double worst_s = 0;
    for (size_t i = 0; i < PLACES; i++)
        for (int off_ms = -130; off_ms <= 130; off_ms += 13) {
            const double away = away_s(audio, places[i].at_s + off_ms / 1000.0, places[i].at_s);
            if (away > 0.008)
                fail_msg("%.4f s asked for %d ms off: %.1f ms away", places[i].at_s, off_ms, away * 1000);
            worst_s = fmax(worst_s, away);
        }
    print_message("worst %.1f ms\n", worst_s * 1000);
    sm_audio_close(audio);
}

static void what_only_goes_on_has_none(void **state) {
    (void)state;
    sm_audio *const audio = open_decoded(music);
    static const double steady_s[] = {1.0 - 0.1, 7.4, 7.6, 9, -1};
    for (size_t i = 0; i < sizeof steady_s / sizeof steady_s[0]; i++)
        if (away_s(audio, steady_s[i], steady_s[i]) < 1)
            fail_msg("an accent near %.1f s", steady_s[i]);
    sm_audio_close(audio);
    sm_show_time found;
    const sm_audio_options options = {.silent = true};
    sm_audio *none;
    assert_int_equal(sm_audio_open(&options, &none), SM_OK);
    assert_false(sm_audio_accent(none, (sm_show_time){0}, WITHIN_US, &found));
    sm_audio_close(none);
}

// Of what aubio finds in the demo's music (120 s, an orchestra, beats half a second apart and less), nine in ten are found within 10 ms by
// whoever asks 37 ms beside them. aubio's own measure of an onset is another one, so that not all can be the same.
static void most_are_where_aubio_hears_them(void **state) {
    (void)state;
    static const char path[] = "demo-shows/lantern-quay/music.ogg";
    sm_audio *const audio = open_decoded(path);
    FILE *const onsets = popen("aubioonset -i demo-shows/lantern-quay/music.ogg 2>/dev/null", "r");
    double at_s;
    int count = 0, near = 0;
    assert_non_null(onsets);
    while (fscanf(onsets, "%lf", &at_s) == 1) {
        count++;
        near += away_s(audio, at_s + 0.037, at_s) <= 0.010;
    }
    assert_int_equal(pclose(onsets), 0);
    print_message("%d of %d within 10 ms\n", near, count);
    assert_true(count >= 200 && near * 10 >= count * 9);
    sm_audio_close(audio);
}

// ---- of a rehearsal -----------------------------------------------------------------------------------

static sm_session *begin_session(const char *of_folder) {
    char problem[SM_SESSION_PROBLEM];
    sm_session *session;
    sm_findings *const findings = sm_findings_create();
    sm_session_options options = {.silent = true};
    assert_int_equal(sm_show_load(of_folder, &(sm_show_load_options){0}, findings, &options.show), SM_OK);
    sm_findings_destroy(findings);
    assert_int_equal(sm_session_create(&options, problem, &session), SM_OK);
    assert_int_equal(sm_session_start(session), SM_OK);
    return session;
}

// What the session answers about NEAR; the deadline is only for what hangs.
static sm_us answer_us(sm_session *session, sm_us near) {
    const int64_t deadline_us = sm_monotonic_us() + 60 * SM_US_PER_S;
    sm_show_time found;
    sm_session_want_accent(session, (sm_show_time){near}, WITHIN_US);
    while (!sm_session_accent(session, &found)) {
        if (sm_monotonic_us() > deadline_us)
            fail_msg("no answer came");
        usleep(1000);
    }
    return found.us;
}

// The same once the music has been decoded so far: until then there is none.
static sm_us found_us(sm_session *session, sm_us near) {
    const int64_t deadline_us = sm_monotonic_us() + 60 * SM_US_PER_S;
    sm_us found;
    do
        found = answer_us(session, near);
    while (found == SM_UNSET_US && sm_monotonic_us() < deadline_us);
    assert_true(found != SM_UNSET_US);
    return found;
}

static void a_rehearsal_answers_the_latest_question(void **state) {
    (void)state;
    sm_text command = {0};
    short_show show;
    short_show_make(&show, "2 s");
    sm_session *session = begin_session(show.folder);
    assert_true(answer_us(session, SM_US_PER_S) == SM_UNSET_US); // no music
    sm_session_destroy(session);
    sm_text_printf(&command, "cp %s %s/music.wav", music, show.folder);
    run(sm_text_get(&command));
    sm_text_deinit(&command);
    short_show_write(&show, "show.ini", "[show]\ntitle = Short Evening\nlength = 8\naudio = music.wav\n");
    session = begin_session(show.folder);
    assert_true(llabs(found_us(session, 6300000) - 6333300) <= 8000);
    for (size_t i = 0; i < 100; i++) // earlier questions are forgotten, answered or not
        sm_session_want_accent(session, (sm_show_time){(sm_us)(i % 7) * SM_US_PER_S}, WITHIN_US);
    assert_true(llabs(answer_us(session, 4150000) - 4100300) <= 8000);
    assert_true(answer_us(session, 7500000) == SM_UNSET_US);
    sm_session_destroy(session);
    short_show_remove(&show);
}

// ---- people ---------------------------------------------------------------------------------------------

static uint64_t seed = 1;

static double uniform(void) {
    seed = seed * 6364136223846793005U + 1442695040888963407U;
    return ((double)(seed >> 11) + 0.5) / 9007199254740992.0;
}

static double normal(void) {
    return sqrt(-2 * log(uniform())) * cos(2 * M_PI * uniform());
}

// COUNT taps at AT_S: off by a habit, each with a spread of 25 ms. People tap ahead of a beat, most by 20 to 80 ms (reviews of
// sensorimotor synchronisation; from memory), and a keyboard adds some delay: a habit lies between 90 ms early and 30 ms late here.
static sm_taps taps_at(double at_s, double habit_s, int count) {
    sm_taps taps = {0};
    for (int i = 0; i < count; i++)
        sm_taps_add(&taps, llround((at_s + habit_s + 0.025 * normal()) * 1e6));
    return taps;
}

static void habit_and_accent_bring_taps_to_the_cue(void **state) {
    (void)state;
    enum { PEOPLE = 300 };
    sm_audio *const audio = open_decoded(music);
    const sm_taps no_habit = {0};
    int bare = 0, without_habit = 0, by_accent = 0;
    for (int i = 0; i < PEOPLE; i++) {
        const double habit_s = -0.090 + 0.120 * uniform(), is_s = places[i % PLACES].at_s;
        sm_taps habit = {0};
        for (int cue = 0; cue < 3; cue++) { // three cues that stand right, seven rounds each
            const sm_taps known = taps_at(10 * cue, habit_s, 7);
            sm_taps_learn(&habit, &known, (sm_us)(10 * cue) * SM_US_PER_S);
        }
        const sm_taps taps = taps_at(is_s, habit_s, 7);
        const double tapped_s = (double)sm_taps_place(&taps, &habit) / 1e6;
        bare += fabs((double)sm_taps_place(&taps, &no_habit) / 1e6 - is_s) <= 0.010;
        without_habit += fabs(tapped_s - is_s) <= 0.010;
        by_accent += away_s(audio, tapped_s, is_s) <= 0.010;
    }
    print_message("within 10 ms of the truth, of %d: %d bare, %d without habit, %d by the accent\n", PEOPLE,
                  bare, without_habit, by_accent);
    assert_true(bare * 10 >= PEOPLE && bare * 10 <= PEOPLE * 3); // the model is as hard as people are
    assert_true(by_accent * 100 >= PEOPLE * 97);
    sm_audio_close(audio);
}

static void the_median_is_the_middle_one(void **state) {
    (void)state;
    sm_taps taps = {0};
    assert_int_equal(sm_taps_median(&taps), 0);
    sm_taps_add(&taps, 30);
    sm_taps_add(&taps, 10);
    assert_int_equal(sm_taps_median(&taps), 20);
    sm_taps_add(&taps, 1000000);
    assert_int_equal(sm_taps_median(&taps), 30);
    for (int i = 0; i < SM_TAPS_MAX; i++)
        sm_taps_add(&taps, 7000 + i); // the oldest are forgotten
    assert_int_equal(taps.count, SM_TAPS_MAX);
    assert_int_equal(taps.us[0], 7000);
    const sm_taps none = {0};
    assert_int_equal(sm_taps_place(&taps, &none), 7000);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_median_is_the_middle_one),
        cmocka_unit_test(accents_stand_where_sounds_begin),
        cmocka_unit_test(what_only_goes_on_has_none),
        cmocka_unit_test(a_rehearsal_answers_the_latest_question),
        cmocka_unit_test(most_are_where_aubio_hears_them),
        cmocka_unit_test(habit_and_accent_bring_taps_to_the_cue),
    };
    return cmocka_run_group_tests_name("accents", tests, make_music, remove_music);
}
