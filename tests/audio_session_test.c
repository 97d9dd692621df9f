// SPDX-License-Identifier: GPL-3.0-or-later
// What a script does to the sound is heard, headless and as the console drives it: volume, mute, a drill's `sound lost`. Through a real
// (headless) sound server, and the two logs are the same but for lateness.
#include "support/folder.h"
#include "support/log_text.h"
#include "support/sound_rig.h"
#include "support/sounds.h"
#include "support/take.h"

#include "slowmatch/clock.h"
#include "slowmatch/music.h"
#include "slowmatch/session.h"

#include <math.h>
#include <setjmp.h>
#include <sndfile.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

typedef struct rig {
    take *take;
    char folder[64], script[256], log[256], other[256];
} rig;

// A sine all along; the second of the show is told by when it begins.
static void write_music(const char *folder) {
    enum { FRAMES = TAKE_RATE * 5 / 2 };
    static int16_t samples[FRAMES];
    char path[256];
    for (int i = 0; i < FRAMES; i++)
        samples[i] = (int16_t)(12000 * sin(6.283185307 * TAKE_HERTZ * i / TAKE_RATE));
    assert_true(sounds_write(folder_path(path, folder, "tone.wav"), SF_FORMAT_WAV | SF_FORMAT_PCM_16,
                             TAKE_RATE, 1, samples, FRAMES));
}

static int begin(void **state) {
    rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    void *made = NULL;
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
        "[show]\ntitle = Small\naudio = tone.wav\nlength = 2.5\ncountdown = 0.5 s\n[limits]\narm-time "
        "= 0.3 s\n");
    folder_write(r->folder, "cues.csv", "time,target,do,lasts\n1,A-01,comet,\n");
    folder_path(r->script, r->folder, "script");
    folder_path(r->log, r->folder, "headless.csv");
    folder_path(r->other, r->folder, "session.csv");
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

static rig *rig_of(void **state) {
    rig *r = *state;
    if (!r->take)
        skip();
    return r;
}

// ---- what was heard ----------------------------------------------------------------------------------

// The greatest sample between the seconds FROM and TO after the first sound, 0 where all is silence.
static int loudest(const sound_recording *heard, double from_s, double to_s) {
    size_t first = 0;
    while (first < heard->count && abs(heard->frames[first][0]) < 1000)
        first++;
    assert_true(first < heard->count);
    int most = 0;
    size_t until = first + (size_t)(to_s * heard->rate_hz);
    assert_true(until <= heard->count);
    for (size_t i = first + (size_t)(from_s * heard->rate_hz); i < until; i++)
        most = abs(heard->frames[i][0]) > most ? abs(heard->frames[i][0]) : most;
    return most;
}

// So much is left out on either side of what is asked for: what was heard may lag its row by what the device holds, and a change
// fades.
#define EDGE_S 0.3

// Silent from SILENT_S to UNTIL_S, and not before, nor after to SOUNDS_TO_S.
static void assert_heard(rig *r, double silent_s, double until_s, double sounds_to_s) {
    sound_recording heard;
    assert_true(sound_rig_recorded(&r->take->rig, &heard));
    int before = loudest(&heard, 0.1, silent_s - EDGE_S);
    int within = loudest(&heard, silent_s + EDGE_S, until_s - EDGE_S);
    int after = loudest(&heard, until_s + EDGE_S, sounds_to_s - EDGE_S);
    sound_recording_deinit(&heard);
    print_message("loudest before, in and after the silence: %d, %d, %d\n", before, within, after);
    assert_true(before > 6000);
    assert_int_equal(within, 0);
    assert_true(after > 6000);
}

// ---- the two roads --------------------------------------------------------------------------------------

static void run_program(const rig *r, const char *words) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char command[1200];
    snprintf(command, sizeof command, "%s/slowmatch %s --headless --script %s --log %s >/dev/null </dev/null",
             build ? build : "build", words, r->script, r->log);
    int status = system(command);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) != 2);
}

static void run_session(const rig *r) {
    sm_findings *findings = sm_findings_create();
    sm_show *show = folder_load(r->folder);
    const sm_session_options options = {.show = show,
                                        .operated = true,
                                        .script_path = r->script,
                                        .script_findings = findings,
                                        .log_path = r->other,
                                        .checks = true};
    char problem[SM_SESSION_PROBLEM];
    sm_session *session = NULL;
    assert_int_equal(sm_session_create(&options, problem, &session), SM_OK);
    assert_int_equal(sm_session_start(session), SM_OK);
    for (int i = 0; i < 5000 && sm_session_is_over(session) == SM_SESSION_GOES_ON; i++) {
        sm_session_want(session);
        usleep(10000);
        sm_session_take(session);
    }
    assert_int_equal(sm_session_is_over(session), SM_SESSION_DONE);
    sm_session_end(session, -1);
    sm_session_destroy(session);
    sm_findings_destroy(findings);
}

static const char script[] =
    // The device sounds before it arms.
    "0 call-clear\n0 key on\n1.2 arm\n+0.4 start\n@0.6 volume 0\n@1.4 volume 100\n@2.2 mute\n@2.4 note "
    "over\n";

static void volume_and_mute_are_heard_on_both_roads(void **state) {
    rig *r = rig_of(state);
    char words[128];
    folder_write(r->folder, "script", script);
    snprintf(words, sizeof words, "rehearse %s", r->folder);
    assert_true(sound_rig_record(&r->take->rig));
    run_program(r, words);
    assert_heard(r, 0.6, 1.4, 2.2);
    assert_true(sound_rig_record(&r->take->rig));
    run_session(r);
    assert_heard(r, 0.6, 1.4, 2.2);
    char *a = log_text_without_lateness(log_text_read(r->log)),
         *b = log_text_without_lateness(log_text_read(r->other));
    assert_string_equal(a, b);
    assert_true(strstr(a, "volume") && strstr(a, "ended"));
    free(a);
    free(b);
}

static void a_drill_takes_the_sound_away_headless_too(void **state) {
    rig *r = rig_of(state);
    char command[128], words[128];
    folder_write(r->folder, "script", "0 call-clear\n0 key on\n1.2 arm\n+0.4 start\n@2.4 note over\n");
    snprintf(command, sizeof command, "mkdir %s/drills", r->folder);
    assert_int_equal(system(command), 0);
    folder_write(
        r->folder, "drills/quiet.ini",
        "[drill]\ntitle = Quiet\nbrief = Listen.\npass = 1\n[event gone]\nwhen = @0:00.6\ndo = sound lost\n"
        "[event again]\nwhen = @0:01.4\ndo = sound back\n[expect stopped]\nafter = gone\naction = "
        "safe\nwithin "
        "= "
        "60 s\n"
        "marks = 1\nhint = Stop.\nsay = A show without music stops.\n");
    snprintf(words, sizeof words, "drill %s quiet", r->folder);
    assert_true(sound_rig_record(&r->take->rig));
    run_program(r, words);
    assert_heard(r, 0.6, 1.4, 2.4);
}

static int all_tests(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(volume_and_mute_are_heard_on_both_roads, begin, end),
        cmocka_unit_test_setup_teardown(a_drill_takes_the_sound_away_headless_too, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

int main(int argc, char **argv) {
    return take_main(argc, argv, all_tests);
}
