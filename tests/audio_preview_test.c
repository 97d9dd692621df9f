// SPDX-License-Identifier: GPL-3.0-or-later
// Listening to a proposal, through a real (headless) sound server: what is heard goes round to the frame, the tick stands where the cue is
// proposed to be, no timecode goes out, a stop silences it, and nothing of the show has moved.
#include "support/folder.h"
#include "support/log_text.h"
#include "support/sound_rig.h"
#include "support/sounds.h"
#include "support/take.h"

#include "slowmatch/call_tones.h"
#include "slowmatch/session.h"

#include <math.h>
#include <setjmp.h>
#include <sndfile.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#define LENGTH_S 6
#define BURST_S 3 // of the music; 0.1 s long
#define TICK_S 3.3

typedef struct rig {
    take *take;
    char folder[64], log[256];
} rig;

static void write_music(const char *folder) {
    enum { FRAMES = LENGTH_S * TAKE_RATE };
    static int16_t samples[FRAMES];
    char path[256];
    for (int i = BURST_S * TAKE_RATE; i < BURST_S * TAKE_RATE + TAKE_RATE / 10; i++)
        samples[i] = (int16_t)(20000 * cos(6.283185307 * TAKE_HERTZ * (i - BURST_S * TAKE_RATE) / TAKE_RATE));
    assert_true(sounds_write(folder_path(path, folder, "burst.wav"), SF_FORMAT_WAV | SF_FORMAT_PCM_16,
                             TAKE_RATE, 1, samples, FRAMES));
}

static int begin(void **state) {
    rig *r = calloc(1, sizeof *r);
    void *made = NULL;
    assert_non_null(r);
    if (take_setup(&made) != 0) {
        free(r);
        return -1;
    }
    r->take = made;
    folder_make(r->folder);
    folder_small_show(r->folder);
    write_music(r->folder);
    folder_write(
        r->folder, "show.ini",
        "[show]\ntitle = Small\naudio = burst.wav\nlength = 6\ncountdown = 0.5 s\n[limits]\narm-time "
        "= 1.5 s\n");
    folder_write(r->folder, "cues.csv", "time,target,do,lasts\n3,A-01,comet,\n");
    folder_path(r->log, r->folder, "log.csv");
    *state = r;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    void *made = r->take;
    folder_remove(r->folder);
    free(r);
    return take_teardown(&made);
}

static const sm_snapshot *wait_for(sm_session *session, double seconds) {
    const sm_snapshot *now = sm_session_take(session);
    const int64_t until_us = sm_session_now(session).us + (sm_us)(seconds * 1e6);
    const sm_calls_wanted wanted = {.tones = true, .calls = "pyro"};
    static sm_call_tones told;
    while (sm_session_now(session).us < until_us) {
        sm_session_want(session);
        usleep(20000);
        now = sm_session_take(session);
        assert_true(sm_call_tones_follow(&told, session, now, &wanted));
    }
    return now;
}

static void act(sm_session *session, const char *line) {
    assert_true(sm_session_act(session, line));
    wait_for(session, 0.1);
}

static bool sounds(sm_session *session) {
    sm_audio_status status = {0};
    for (int i = 0; i < 100 && (status.state != SM_AUDIO_SOUNDING || !status.decoded); i++) {
        wait_for(session, 0.1);
        sm_session_sound(session, &status);
    }
    return status.state == SM_AUDIO_SOUNDING;
}

// The first frame from FROM on that is louder than LEVEL on the left; COUNT: none is.
static size_t next_loud(const sound_recording *heard, size_t from, int level) {
    while (from < heard->count && abs(heard->frames[from][0]) < level)
        from++;
    return from;
}

// Timecode has the right side of the output.
static void assert_right_is_silent(const sound_recording *heard) {
    for (size_t i = 0; i < heard->count; i++)
        assert_int_equal(heard->frames[i][1], 0);
}

static void assert_went_round(const sound_recording *heard) {
    size_t rounds = 0, at = next_loud(heard, 0, 3000);
    assert_true(at < heard->count);
    for (size_t next; (next = next_loud(heard, at + TAKE_RATE / 2, 9000)) < heard->count; at = next) {
        const size_t tick = next_loud(heard, at + TAKE_RATE / 5, 1000);
        assert_int_equal(next - at, TAKE_RATE); // four beats of 0.25 s, to the frame
        assert_in_range(tick - at, TAKE_RATE * 0.3 - 48, TAKE_RATE * 0.3 + 96); // it rises in 2 ms
        rounds++;
    }
    print_message("%zu rounds\n", rounds);
    assert_true(rounds >= 3);
}

static void it_goes_round_to_the_frame_and_nothing_moves(void **state) {
    rig *r = *state;
    char problem[SM_SESSION_PROBLEM];
    sm_session *session = NULL;
    sound_recording heard;
    if (!r->take)
        skip();
    const sm_session_options options = {
        .show = folder_load(r->folder), .log_path = r->log, .timecode_channel = 2};
    assert_int_equal(sm_session_create(&options, problem, &session), SM_OK);
    assert_int_equal(sm_session_start(session), SM_OK);
    assert_true(sounds(session));
    static const char *const before[] = {"seek 2",      "mark beat-1",      "seek 2.25",
                                         "mark beat-2", "propose 1 0:03.3", "seek 1.5"};
    for (size_t i = 0; i < sizeof before / sizeof before[0]; i++)
        act(session, before[i]);
    assert_true(sound_rig_record(&r->take->rig));
    act(session, "listen 1"); // 2.8 to 3.8 s
    const sm_snapshot *now = wait_for(session, 5);
    assert_true(now->preview.on);
    assert_int_equal(now->at.us, 1500000);
    assert_int_equal(now->state, SM_STATE_SAFE);
    act(session, "safe");
    wait_for(session, 1.5);
    assert_true(sound_rig_recorded(&r->take->rig, &heard));
    assert_went_round(&heard);
    assert_right_is_silent(&heard);
    assert_true(next_loud(&heard, heard.count - TAKE_RATE, 1) == heard.count);
    sound_recording_deinit(&heard);
    sm_session_end(session, -1);
    sm_session_destroy(session);
    char *log = log_text_read(r->log);
    assert_non_null(strstr(log, ",listen,,1,PREVIEW 0:02.800 to 0:03.800"));
    assert_non_null(strstr(log, ",engine,listen,,1,ended: safe"));
    assert_null(strstr(log, ",fire,"));
    free(log);
}

static int all_tests(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(it_goes_round_to_the_frame_and_nothing_moves, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

int main(int argc, char **argv) {
    return take_main(argc, argv, all_tests);
}
