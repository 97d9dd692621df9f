// SPDX-License-Identifier: GPL-3.0-or-later
// One runtime: the same script gives the same log, run by the headless program's loop and as the console drives it (a session with its
// thread, snapshots asked for and looked at meanwhile). To the byte on a virtual clock; on the real one but for when things came.
#include "support/folder.h"
#include "support/log_text.h"

#include "slowmatch/clock.h"
#include "slowmatch/music.h"
#include "slowmatch/session.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#define DEMO "demo-shows/lantern-quay"

typedef struct rig {
    char folder[64], show[256], script[256], log[256], other[256];
} rig;

static int begin(void **state) {
    rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    folder_make(r->folder);
    folder_path(r->script, r->folder, "script");
    folder_path(r->log, r->folder, "headless.csv");
    folder_path(r->other, r->folder, "session.csv");
    folder_path(r->show, r->folder, "show");
    assert_int_equal(mkdir(r->show, 0700), 0);
    folder_small_show(r->show);
    *state = r;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    folder_remove(r->folder);
    free(r);
    return 0;
}

// As long as its music, as the program has it.
static sm_show *load(const char *folder) {
    sm_show *show = folder_load(folder);
    sm_audio_info info;
    sm_check_options music;
    sm_music_ask(show, NULL, &info, &music);
    if (music.audio_exists)
        sm_show_set_audio_end(show, music.audio_end_us);
    return show;
}

// ---- the two roads --------------------------------------------------------------------------------

// Runs the program with ARGUMENTS behind the show; its log goes to r->log.
static void run_headless(const rig *r, const char *show, const char *verb, const char *arguments) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char command[1200];
    snprintf(command, sizeof command,
             "%s/slowmatch %s %s %s --headless --script %s --log %s >%s.out 2>&1 </dev/null",
             build ? build : "build", verb, show, arguments, r->script, r->log, r->log);
    int status = system(command);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) != 2);
}

// The session of SHOW as the console makes it: but for the operator, who stands for the hands.
static sm_session *open_session(const rig *r, sm_show *show, sm_drill_taken *drill, bool virtual_clock) {
    sm_findings *findings = sm_findings_create();
    const sm_session_options options = {.show = show,
                                        .drill = drill,
                                        .operated = true,
                                        .script_path = r->script,
                                        .script_findings = findings,
                                        .log_path = r->other,
                                        .virtual_clock = virtual_clock,
                                        .silent = true,
                                        .checks = true};
    char problem[SM_SESSION_PROBLEM];
    sm_session *session = NULL;
    assert_int_equal(sm_session_create(&options, problem, &session), SM_OK);
    assert_int_equal(sm_findings_count(findings), 0);
    sm_findings_destroy(findings);
    return session;
}

// Looks as a screen does. What it is shown never goes back.
static void look(sm_session *session, sm_wall_time *seen) {
    const sm_snapshot *snapshot = sm_session_take(session);
    assert_true(snapshot->wall.us >= seen->us);
    *seen = snapshot->wall;
    sm_findings_destroy(sm_session_findings(session));
}

// Steps of any length, now to a moment at which nothing is due, now over many at which something is.
static void run_virtual(sm_session *session, unsigned seed) {
    static const sm_us steps[] = {1, 999, 40000, 45455, 250000, 700000, 3000000};
    sm_wall_time now = {0}, seen = {0};
    for (int i = 0; sm_session_is_over(session) == SM_SESSION_GOES_ON; i++) {
        assert_true(i < 1000000);
        if (rand_r(&seed) % 3 == 0)
            sm_session_want(session);
        sm_session_step(session, now);
        look(session, &seen);
        now.us += steps[(unsigned)rand_r(&seed) % (sizeof steps / sizeof steps[0])];
    }
}

static void run_thread(sm_session *session) {
    int64_t deadline_us = sm_monotonic_us() + 60 * SM_US_PER_S;
    sm_wall_time seen = {0};
    assert_int_equal(sm_session_start(session), SM_OK);
    while (sm_session_is_over(session) == SM_SESSION_GOES_ON) {
        assert_true(sm_monotonic_us() < deadline_us);
        sm_session_want(session);
        usleep(20000);
        look(session, &seen);
    }
}

static void close_session(sm_session *session) {
    sm_session_end(session, -1);
    assert_int_equal(sm_session_log_error(session), 0);
    sm_session_destroy(session);
}

// ---- on a virtual clock -----------------------------------------------------------------------------

static const char evening[] =
    "0 enter K\n0 leave K\n0 call-clear J\n0 key on\n0.5 arm\n0.6 volume 40\n"
    "0.7 note who's there, \"all\" of us\n+5 start\n@0:02 mute\n@2.5 pause\n+0.3 plug A\n"
    "+0.2 unplug B\n+1 plug B\n+0 call-clear J\n+0.5 resume\n@4 speed 2\n@5 repeat 1 6 rerig\n"
    "+9.123456 repeat off\n@7 seek 3\n+2 inhibit A\n+1 safe\n+0 reload\n+0 undo\n"
    "+1 rerig\n+0 call-clear J\n+0 arm\n+6 start\n@11.9 remote 7 pause\n+40 key off\n";

static void assert_same_virtual(const rig *r, sm_drill *drill, sm_show *show, unsigned seed) {
    sm_drill_taken taken = {.drill = drill, .seed = 5};
    sm_session *session = open_session(r, show, drill ? &taken : NULL, true);
    run_virtual(session, seed);
    close_session(session);
    char *a = log_text_read(r->log), *b = log_text_read(r->other);
    assert_true(strlen(a) > 500);
    assert_string_equal(a, b);
    free(a);
    free(b);
    sm_debrief_destroy(taken.debrief);
    sm_text_deinit(&taken.json);
}

static void the_same_to_the_byte_on_a_virtual_clock(void **state) {
    rig *r = *state;
    folder_write(r->folder, "script", evening);
    run_headless(r, r->show, "rehearse", "--fast");
    for (unsigned seed = 1; seed <= 5; seed++)
        assert_same_virtual(r, NULL, folder_load(r->show), seed);
}

static void a_drill_is_the_same_too(void **state) {
    rig *r = *state;
    folder_write(r->folder, "script",
                 "0 call-clear\n0 key on\n1 arm\n+5 start\n@0:30 pause\n+20 resume\n+60 safe\n+1 key off\n");
    static const char *const names[] = {"01-first-arming", "08-everything-at-once"};
    for (size_t i = 0; i < 2; i++) {
        char arguments[96];
        snprintf(arguments, sizeof arguments, "%s --fast --seed 5", names[i]);
        run_headless(r, DEMO, "drill", arguments);
        for (unsigned seed = 1; seed <= 3; seed++) {
            sm_findings *findings = sm_findings_create();
            sm_show *show = load(DEMO);
            sm_drill *drill = NULL;
            assert_int_equal(sm_drill_load(show, names[i], findings, &drill), SM_OK);
            sm_findings_destroy(findings);
            assert_same_virtual(r, drill, show, seed);
            sm_drill_destroy(drill);
        }
    }
}

// ---- on the real one ----------------------------------------------------------------------------------

static void the_same_but_for_lateness_on_the_real_clock(void **state) {
    rig *r = *state;
    folder_write(r->show, "show.ini",
                 "[show]\ntitle = Small\nlength = 1.2\ncountdown = 0.2 s\n[limits]\narm-time = 0.2 s\n");
    folder_write(r->folder, "script",
                 "0 call-clear\n0 key on\n0.1 arm\n+0.4 start\n@0.2 volume 30\n@0.3 repeat 0.1 0.4 rerig\n+1 "
                 "repeat off\n"
                 "@0.6 pause\n+0.2 note here\n+0 resume\n@0.8 speed 0.5\n@1 safe\n+0 reload\n+0 plug A\n+0 "
                 "unplug A\n");
    run_headless(r, r->show, "rehearse", "--silent");
    sm_session *session = open_session(r, folder_load(r->show), NULL, false);
    run_thread(session);
    close_session(session);
    char *a = log_text_without_lateness(log_text_read(r->log)),
         *b = log_text_without_lateness(log_text_read(r->other));
    assert_true(strlen(a) > 500 && strstr(a, ",reload,") && strstr(a, "repeat,,0.100000,"));
    assert_string_equal(a, b);
    free(a);
    free(b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_same_to_the_byte_on_a_virtual_clock, begin, end),
        cmocka_unit_test_setup_teardown(a_drill_is_the_same_too, begin, end),
        cmocka_unit_test_setup_teardown(the_same_but_for_lateness_on_the_real_clock, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
