// SPDX-License-Identifier: GPL-3.0-or-later
// Timecode in, as the engine takes it: it moves the place and nothing else; arm and start stay the operator's; a loss or a jump pauses, and
// nothing goes on by itself. There is no standard for it: the rules are those of the manual (common practice, no source: who starts,
// answers for it).
#include "support/engine_run.h"

#include "slowmatch/alerts.h"
#include "slowmatch/next_step.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// A-01 at 10 s, A-02 at 20 s, B-01 at 30 s; the count is 2 s, arming takes 1 s, the show is 60 s long.
#define CUES "10,A-01,fountain,,\n20,A-02,fountain,,\n30,B-01,fountain,,\n"

static void tell(engine_run *run, double at_s, const char *change, const char *detail) {
    sm_timecode_news news;
    assert_true(sm_timecode_news_read(change, detail, &news));
    assert_int_equal(sm_rehearsal_timecode(run->rehearsal, &news, (sm_wall_time){(sm_us)(at_s * 1e6 + 0.5)}),
                     SM_OK);
    run->now.us = (sm_us)(at_s * 1e6 + 0.5);
}

static sm_show *begin(engine_run *run) {
    sm_show *show = engine_show(CUES, NULL);
    engine_run_init(run, show, NULL);
    tell(run, 0, "waiting", "no sound");
    assert_int_equal(engine_act(run, 0, "call-clear J"), SM_OK);
    assert_int_equal(engine_act(run, 0, "key on"), SM_OK);
    assert_int_equal(engine_act(run, 0, "arm"), SM_OK);
    engine_to(run, 1.5);
    return show;
}

static void end(engine_run *run, sm_show *show) {
    engine_run_deinit(run);
    sm_show_destroy(show);
}

static const sm_alert *alert(engine_run *run, sm_alert_id id) {
    return sm_alerts_find(sm_rehearsal_alerts(run->rehearsal), id);
}

// Runs from show 1 s at wall 2 s on, along a timecode that was at -1 s at wall 0: 5 s of it are gone at wall 6.
static void start_along(engine_run *run) {
    tell(run, 2, "locked", "1.000000 at 2.000000, speed 1.000000, rate 25");
    assert_int_equal(engine_act(run, 2, "start"), SM_OK);
}

static void nothing_starts_without_it(void **state) {
    (void)state;
    engine_run run;
    sm_show *show = begin(&run);
    assert_int_equal(sm_next_step(engine_look(&run), NULL).id, SM_STEP_WAIT_TIMECODE);
    assert_int_equal(engine_act(&run, 2, "start"), SM_REFUSED);
    assert_string_equal(sm_rehearsal_refusal(run.rehearsal), "the timecode is not LOCKED: WAITING, no sound");
    tell(&run, 3, "locked", "-400.000000 at 3.000000, speed 1.000000, rate 25");
    assert_int_equal(engine_act(&run, 3, "start"), SM_REFUSED);
    assert_string_equal(sm_rehearsal_refusal(run.rehearsal),
                        "the timecode is 6:40.000 before the show: look at timecode-start");
    tell(&run, 4, "jumped", "59.000000 at 4.000000, speed 1.000000, rate 25");
    assert_int_equal(engine_act(&run, 4, "start"), SM_REFUSED);
    assert_string_equal(sm_rehearsal_refusal(run.rehearsal), "the timecode is past the end of the show");
    tell(&run, 5, "free-running", "");
    assert_int_equal(engine_act(&run, 5, "start"), SM_REFUSED);
    tell(&run, 6, "lost", "no sound");
    assert_int_equal(engine_act(&run, 6, "start"), SM_REFUSED);
    assert_int_equal(sm_rehearsal_state(run.rehearsal), SM_STATE_ARMED);
    static const char *const kept[] = {"seek 5", "speed 0.5", "repeat 1 3", "start-in 10"};
    for (size_t i = 0; i < sizeof kept / sizeof *kept; i++) {
        assert_int_equal(engine_act(&run, 7, kept[i]), SM_REFUSED);
        assert_string_equal(sm_rehearsal_refusal(run.rehearsal),
                            "place and pace come with the timecode (--timecode-in)");
    }
    end(&run, show);
}

// LOCKED arms and starts nothing; a start begins where it will be after the count, and passes over what was before.
static void a_start_begins_where_it_is(void **state) {
    (void)state;
    engine_run run;
    sm_show *show = begin(&run);
    tell(&run, 2, "locked", "9.000000 at 2.000000, speed 1.000000, rate 25");
    engine_to(&run, 4);
    assert_int_equal(sm_rehearsal_state(run.rehearsal), SM_STATE_ARMED);
    assert_int_equal(engine_look(&run)->place.us, 13000000); // 11 s by now, and the count
    assert_int_equal(engine_look(&run)->next_firing, 1);
    (void)engine_act(&run, 4, "note look");
    assert_int_equal(engine_act(&run, 4, "start"), SM_OK);
    assert_true(engine_look(&run)->counting_down);
    assert_int_equal(engine_look(&run)->at.us, 11000000);
    engine_to(&run, 13.5);
    engine_expect(&run, "4,,console,start,,,\n"
                        "4,11,engine,state,,running,armed\n"
                        "4,10,engine,passed,1,A-01,fountain\n"
                        "13,20,engine,fire,2,A-02,fountain\n");
    end(&run, show);
}

static void before_the_show_it_counts_on(void **state) {
    (void)state;
    engine_run run;
    sm_show *show = begin(&run);
    tell(&run, 2, "locked", "-20.000000 at 2.000000, speed 1.000000, rate 25");
    assert_int_equal(engine_act(&run, 2, "start"), SM_OK);
    assert_int_equal(engine_look(&run)->at.us, -20000000);
    assert_true(engine_look(&run)->counting_down);
    (void)engine_act(&run, 2, "note look");
    engine_to(&run, 33);
    assert_int_equal(sm_next_step(engine_look(&run), NULL).id, SM_STEP_WATCH);
    engine_expect(&run, "32,10,engine,fire,1,A-01,fountain\n");
    end(&run, show);
}

// It is bent, never stepped: the show's time goes on without a break, and comes to where the timecode is.
static void a_running_show_is_bent_towards_it(void **state) {
    (void)state;
    static const double off_ms[] = {-40, -5, -0.4, 0.3, 3, 60};
    for (size_t i = 0; i < sizeof off_ms / sizeof *off_ms; i++) {
        engine_run run;
        sm_show *show = begin(&run);
        char detail[120];
        start_along(&run);
        snprintf(detail, sizeof detail, "%.6f at 6.000000, speed 1.001000, rate 25", 5 + off_ms[i] / 1e3);
        tell(&run, 6, "follows", detail);
        assert_int_equal(sm_rehearsal_state(run.rehearsal), SM_STATE_RUNNING);
        assert_int_equal(engine_look(&run)->at.us, 5000000);
        sm_us before = 5000000;
        for (int step = 1; step <= 100; step++) {
            engine_to(&run, 6 + step / 100.0);
            const sm_us at = engine_look(&run)->at.us;
            assert_in_range(at - before, 8900, 11200); // of 10 ms
            before = at;
            if (step % 50 == 0) { // told again where it still is off
                const double true_s = 5 + off_ms[i] / 1e3 + step / 100.0 * 1.001;
                snprintf(detail, sizeof detail, "%.6f at %.6f, speed 1.001000, rate 25", true_s,
                         6 + step / 100.0);
                tell(&run, 6 + step / 100.0, "follows", detail);
            }
        }
        const double off_us = (double)before - (5 + off_ms[i] / 1e3 + 1.001) * 1e6;
        assert_true(off_us < 600 && off_us > -600);
        assert_int_equal(engine_look(&run)->speed_ppm, 1001000);
        end(&run, show);
    }
}

static void a_loss_pauses_and_nothing_resumes_by_itself(void **state) {
    (void)state;
    engine_run run;
    sm_show *show = begin(&run);
    start_along(&run);
    tell(&run, 6, "free-running", "");
    assert_int_equal(sm_rehearsal_state(run.rehearsal), SM_STATE_RUNNING);
    assert_string_equal(alert(&run, SM_ALERT_FREE_RUNNING)->words,
                        "FREE-RUNNING: a gap in the timecode, it is taken to go on");
    tell(&run, 7, "lost", "no sound");
    assert_int_equal(sm_rehearsal_state(run.rehearsal), SM_STATE_PAUSED);
    assert_int_equal(engine_look(&run)->at.us, 6000000);
    assert_null(alert(&run, SM_ALERT_FREE_RUNNING));
    assert_string_equal(alert(&run, SM_ALERT_TIMECODE)->words,
                        "TIMECODE LOST (no sound), paused: resume when it is LOCKED, or make safe");
    assert_int_equal(engine_act(&run, 8, "resume"), SM_REFUSED);
    tell(&run, 20, "locked", "19.500000 at 20.000000, speed 1.000000, rate 25");
    assert_null(alert(&run, SM_ALERT_TIMECODE));
    engine_to(&run, 22);
    assert_int_equal(sm_rehearsal_state(run.rehearsal), SM_STATE_PAUSED);
    assert_int_equal(engine_look(&run)->place.us, 23500000);
    assert_int_equal(engine_look(&run)->next_firing, 2);
    (void)engine_act(&run, 22, "note look");
    assert_int_equal(engine_act(&run, 22, "resume"), SM_OK);
    engine_to(&run, 31);
    // What went by meanwhile is passed over; nothing fires within the count.
    engine_expect(&run, "22,6,console,resume,,,\n"
                        "22,21.5,engine,state,,running,paused\n"
                        "22,10,engine,passed,1,A-01,fountain\n"
                        "22,20,engine,passed,2,A-02,fountain\n"
                        "30.5,30,engine,fire,3,B-01,fountain\n");
    end(&run, show);
}

static void a_jump_pauses_and_asks(void **state) {
    (void)state;
    engine_run run;
    sm_show *show = begin(&run);
    start_along(&run);
    engine_to(&run, 12); // A-01 has fired at wall 11
    tell(&run, 12, "jumped", "4.000000 at 12.000000, speed 1.000000, rate 25");
    assert_int_equal(sm_rehearsal_state(run.rehearsal), SM_STATE_PAUSED);
    assert_string_equal(alert(&run, SM_ALERT_TIMECODE)->words,
                        "TIMECODE JUMPED 0:11.000 to 0:04.000, paused: resume there, or make safe");
    (void)engine_act(&run, 12, "note look");
    assert_int_equal(engine_act(&run, 13, "resume"), SM_OK);
    assert_null(alert(&run, SM_ALERT_TIMECODE));
    engine_to(&run, 29);
    engine_expect(&run, "13,11,console,resume,,,\n" // its row says where the show stood
                        "13,5,engine,state,,running,paused\n"
                        "18,10,engine,spent,1,A-01,fountain\n"
                        "21,13,engine,out,1,A-01,fountain\n"
                        "28,20,engine,fire,2,A-02,fountain\n");
    end(&run, show);
}

// Each reason stands where a person looks, and goes when it is read; a place outside the show begins and ends at its own moment, however
// the time is stepped.
static void what_it_waits_for_is_said(void **state) {
    (void)state;
    static const char *const reasons[] = {"no sound", "level too low, or nothing is sent, at -80 dBFS",
                                          "it runs backward: not followed",
                                          "no input device is called \"line\""};
    engine_run run;
    sm_show *show = begin(&run);
    for (size_t i = 0; i < sizeof reasons / sizeof *reasons; i++) {
        char words[120];
        tell(&run, 2, "waiting", reasons[i]);
        snprintf(words, sizeof words, "TIMECODE WAITING: %s", reasons[i]);
        assert_string_equal(alert(&run, SM_ALERT_TIMECODE_WAITS)->words, words);
        assert_string_equal(engine_look(&run)->timecode.why, reasons[i]);
        assert_int_equal(engine_act(&run, 2, "start"), SM_REFUSED);
        snprintf(words, sizeof words, "the timecode is not LOCKED: WAITING, %s", reasons[i]);
        assert_string_equal(sm_rehearsal_refusal(run.rehearsal), words);
    }
    tell(&run, 3, "locked", "-310.000000 at 3.000000, speed 1.000000, rate 25");
    assert_string_equal(engine_look(&run)->timecode.why, "");
    assert_string_equal(alert(&run, SM_ALERT_TIMECODE_WAITS)->words,
                        "TIMECODE OUTSIDE: over 5 min before the show");
    engine_to(&run, 400);
    // Within five minutes at wall 13 s; a start's count would end past the end at wall 371 s on.
    assert_non_null(strstr(sm_text_get(&run.log),
                           "\n13.000000,,engine,alert,,timecode-waits,\"ends, ADVISORY: "
                           "TIMECODE OUTSIDE: over 5 min before the show\""));
    assert_non_null(strstr(sm_text_get(&run.log), "\n371.000000,,engine,alert,,timecode-waits,\"begins, "
                                                  "ADVISORY: TIMECODE OUTSIDE: past the end of the show\""));
    tell(&run, 401, "lost", "no sound");
    assert_null(alert(&run, SM_ALERT_TIMECODE_WAITS)); // the caution says it
    assert_string_equal(alert(&run, SM_ALERT_TIMECODE)->words, "TIMECODE LOST (no sound)");
    assert_int_equal(engine_act(&run, 402, "safe"), SM_OK);
    assert_string_equal(alert(&run, SM_ALERT_TIMECODE_WAITS)->words, "TIMECODE LOST: no sound");
    end(&run, show);
}

static void another_rate_is_said(void **state) {
    (void)state;
    engine_run run;
    sm_show *show = begin(&run);
    tell(&run, 2, "locked", "1.000000 at 2.000000, speed 1.000000, rate 29.97 drop, at -3 dBFS");
    assert_string_equal(alert(&run, SM_ALERT_TIMECODE_RATE)->words, "TIMECODE 29.97 drop, the show has 25");
    tell(&run, 3, "follows", "2.000000 at 3.000000, speed 1.000000, rate 25");
    assert_null(alert(&run, SM_ALERT_TIMECODE_RATE));
    end(&run, show);
}

// A row says all that a replay needs, to the microsecond.
static void its_rows_can_be_told_again(void **state) {
    (void)state;
    static const char *const good[][2] = {
        {"waiting", "no sound"},
        {"locked",
         "-0.000001 at 7200.123457, speed 0.800001, rate 29.97 drop, 01:00:00;00 at -3.0 dBFS from left"},
        {"follows", "86399.999999 at 1.000000, speed 1.249999, rate 30"},
        {"free-running", ""},
        {"lost", "the device gives no more sound"},
        {"jumped",
         "12.500000 at 3.250000, speed 1.000000, rate 24, 01:00:12:12 at -20.0 dBFS from right:line"},
    };
    engine_run run;
    sm_show *show = begin(&run);
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        char expected[300];
        (void)engine_act(&run, 2, "note look");
        tell(&run, 2, good[i][0], good[i][1]);
        snprintf(expected, sizeof expected, "2,,engine,timecode,,%s,%s\n", good[i][0], good[i][1]);
        engine_expect(&run, expected);
    }
    static const char *const bad[][2] = {{"found", ""},
                                         {"locked", ""},
                                         {"locked", "1 at 2"},
                                         {"jumped", "1 at 2, speed 0, rate 25"},
                                         {"follows", "x at 2, speed 1, rate 25"}};
    sm_timecode_news news;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        assert_false(sm_timecode_news_read(bad[i][0], bad[i][1], &news));
    end(&run, show);
}

// Whatever the timecode does, in whatever state: it arms and starts nothing, and time never goes back while the show runs.
static void whatever_it_does_it_starts_nothing(void **state) {
    (void)state;
    uint32_t random = 7;
    const int rounds = getenv("SLOWMATCH_SOAK") ? 3000 : 100;
    for (int round = 0; round < rounds; round++) {
        engine_run run;
        sm_show *show = begin(&run);
        double wall_s = 2, show_s = 0;
        for (int step = 0; step < 40; step++) {
            static const char *const changes[] = {"waiting",      "locked", "follows",
                                                  "free-running", "lost",   "jumped"};
            static const char *const acts[] = {"start", "resume", "pause", "safe", "key off"};
            random = random * 1664525u + 1013904223u;
            const unsigned draw = random >> 16;
            const sm_state before = sm_rehearsal_state(run.rehearsal);
            wall_s += (draw % 7) / 10.0;
            show_s += (int)(draw % 13) - 4;
            char detail[100];
            snprintf(detail, sizeof detail, "%.6f at %.6f, speed %.6f, rate 25", show_s, wall_s,
                     0.8 + draw % 45 / 100.0);
            if (draw % 3 == 0) {
                (void)engine_act(&run, wall_s, acts[draw / 3 % 5]);
                continue;
            }
            engine_to(&run, wall_s);
            const sm_state then = sm_rehearsal_state(run.rehearsal);
            tell(&run, wall_s, changes[draw / 3 % 6], detail);
            const sm_state after = sm_rehearsal_state(run.rehearsal);
            assert_true(after == then || (then == SM_STATE_RUNNING && after == SM_STATE_PAUSED));
            assert_true(before != SM_STATE_SAFE || after == SM_STATE_SAFE);
            (void)engine_look(&run);
        }
        end(&run, show);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_starts_without_it),
        cmocka_unit_test(a_start_begins_where_it_is),
        cmocka_unit_test(before_the_show_it_counts_on),
        cmocka_unit_test(a_running_show_is_bent_towards_it),
        cmocka_unit_test(a_loss_pauses_and_nothing_resumes_by_itself),
        cmocka_unit_test(a_jump_pauses_and_asks),
        cmocka_unit_test(what_it_waits_for_is_said),
        cmocka_unit_test(another_rate_is_said),
        cmocka_unit_test(its_rows_can_be_told_again),
        cmocka_unit_test(whatever_it_does_it_starts_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
