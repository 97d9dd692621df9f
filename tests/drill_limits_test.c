// SPDX-License-Identifier: GPL-3.0-or-later
// Drills at the very edge of a rule: the wait to the microsecond, which hint comes first.
#include "support/drill_play.h"
#include "support/engine_run.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define HEAD "[drill]\ntitle = Test\n"

static int make_show(void **state) {
    static const engine_file waits[] = {
        {"show.ini", "[show]\ntitle = t\nlength = 60\ncountdown = 2\n[limits]\narm-time = 1\n"
                     "reentry-wait = 5\nmisfire-wait = 30\n"},
        {NULL, NULL}};
    *state = engine_show("1,A-01,mine,,\n2,A-02,mine,,\n", waits);
    return 0;
}

static int drop_show(void **state) {
    sm_show_destroy(*state);
    return 0;
}

static int score_of(const sm_show *show, const char *text, const char *script) {
    sm_drill *drill = drill_play_read(show, text);
    sm_drill_run *run = drill_play_plain(drill, script);
    int score = sm_drill_score(run);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
    return score;
}

#define RUN                                                                                                  \
    "begin 1 call-clear J\nbegin 2 key on\nbegin 3 arm\narmed 1 start\nrunning 4 safe\nrunning 4 key off\n"

#define CUT                                                                                                  \
    "begin 0.5 unplug A\nbegin 0.6 waive rails A is cut\nrunning 5 report A-01\nrunning 5 report A-02\n"

// format.md: waits count from the latest of the last firing, make safe and key off; with a misfire the longer one holds. When it is
// over nobody is too early.
static void whoever_enters_when_the_wait_is_over_is_not_too_early(void **state) {
    static const struct {
        const char *script;
        int score;
    } cases[] = {
        {RUN "running 304 enter K\n", 100},
        {RUN "running 303.999999 enter K\n", 0},
        {CUT RUN "running 1804 enter K\n", 100},
        {CUT RUN "running 1803.999999 enter K\n", 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        int score = score_of(*state, HEAD, cases[i].script);
        if (score != cases[i].score)
            fail_msg("%s: %d, not %d", cases[i].script, score, cases[i].score);
    }
}

#define TWO(first, second)                                                                                   \
    HEAD                                                                                                     \
        "[event e]\nwhen = begin + 1 s\ndo = storm\n[expect one]\nafter = e\naction = note\nwithin = " first \
        "\nmarks = 1\nhint = One.\n[expect two]\nafter = e\naction = report A-01\nwithin = " second          \
        "\nmarks = 1\nhint = Two.\n"

// The next right thing is what has the least time left, wherever it stands in the file: common practice, no source.
static void the_hint_is_about_what_has_the_least_time_left(void **state) {
    static const struct {
        const char *text, *hint;
    } cases[] = {{TWO("60 s", "10 s"), "Two."}, {TWO("10 s", "60 s"), "One."}, {TWO("10 s", "10 s"), "One."}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        sm_drill *drill = drill_play_read(*state, cases[i].text);
        const sm_drill_options options = {.seed = 1};
        sm_drill_run *run = NULL;
        char hint[240];
        assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
        assert_int_equal(sm_drill_run_to(run, (sm_wall_time){2 * SM_US_PER_S}), SM_OK);
        (void)sm_drill_hint(run, hint);
        assert_string_equal(hint, cases[i].hint);
        sm_drill_run_destroy(run);
        sm_drill_destroy(drill);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whoever_enters_when_the_wait_is_over_is_not_too_early),
        cmocka_unit_test(the_hint_is_about_what_has_the_least_time_left),
    };
    return cmocka_run_group_tests_name("drill limits", tests, make_show, drop_show);
}
