// SPDX-License-Identifier: GPL-3.0-or-later
// Random trainees: whatever anybody does, marks stay within 0 and 100, the same seed gives the same debrief, and nothing breaks.
#include "support/drill_play.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const char *const actions[] = {
    "key on",
    "key off",
    "call-clear J",
    "arm",
    "start",
    "pause",
    "resume",
    "safe",
    "measure",
    "unplug A",
    "plug A",
    "unplug B",
    "plug B",
    "repair A-05",
    "repair B-03",
    "repair B-06",
    "enter K",
    "leave K",
    "leave a person",
    "report A-07",
    "report B-02",
    "report A-02",
    "wind 6 m/s",
    "note seen",
    "answer yes",
    "inhibit aerial",
    "allow aerial",
    "rerig",
    "hint",
    "undo",
    "pass-time",
    "seek 0:10",
    "seek 1:20",
    "speed 2",
    "speed 0.1",
    "read A-05 open",
    "read B-03 1",
    "waive rails A",
    "waive readings A-05 B-03",
    "waive rails for lack of time",
    "remote 1 safe",
    "remote 2 arm",
    "remote 1 arm",
    "tick briefing yes",
    "mark here",
    "repeat 1 3",
    "repeat off",
    "start-in 20 s",
    "start-in off",
    "call K I am outside",
    "call M I am outside",
    "trigger walker",
    "trigger hasty",
    "hold-drill",
    "go-drill",
    "quit",
};
#define ACTIONS (sizeof actions / sizeof actions[0])

typedef struct field {
    sm_show *show;
    sm_drill *drills[32]; // each of them in both seats
    size_t drill_count;
    sm_action actions[ACTIONS];
} field;

// Up to 30 actions, half of them a step of the usual way, at random moments, from whom it may be.
static void act_at_random(const field *f, sm_drill_run *run, uint64_t *random) {
    static const unsigned usual[] = {2, 0, 3, 4, 5, 7, 1};
    sm_us at = 0;
    unsigned way = 0;
    for (uint64_t left = sm_drill_random(random) % 30; left > 0; left--) {
        uint64_t drawn = sm_drill_random(random);
        at += (sm_us)(drawn % 9000000);
        bool next = drawn >> 62 != 0 && way < sizeof usual / sizeof usual[0];
        const sm_action *action = &f->actions[next ? usual[way++] : (drawn >> 24) % ACTIONS];
        sm_source source = (drawn >> 56) % 16 == 0 ? SM_SOURCE_INSTRUCTOR : SM_SOURCE_SCRIPT;
        sm_result result = sm_drill_act(run, action, source, (sm_wall_time){at});
        assert_true(result == SM_OK || result == SM_REFUSED);
        int score = sm_drill_score(run);
        assert_in_range((unsigned)score, 0, 100);
        if ((drawn >> 50) % 16 == 0)
            assert_int_equal(sm_drill_run_to(run, (sm_wall_time){at + 4000000}), SM_OK);
    }
    assert_int_equal(sm_drill_finish(run, (sm_wall_time){at + 30 * SM_US_PER_S}), SM_OK);
}

static void judge_all(const sm_drill_run *run) {
    int64_t sum = 0, earned = 0, lost = 0;
    for (uint32_t i = 0; i < sm_drill_mark_count(run); i++) {
        sm_drill_mark mark = sm_drill_mark_at(run, i);
        bool loses = mark.kind == SM_MARK_NEVER || mark.kind == SM_MARK_RULE;
        assert_true(loses ? mark.got == 0 || mark.got == -mark.marks
                          : mark.got >= 0 && mark.got <= mark.marks);
        assert_true(mark.took_us == SM_UNSET_US || mark.took_us >= 0);
        sum += loses ? 0 : mark.marks;
        earned += loses ? 0 : mark.got;
        lost += loses ? -mark.got : 0;
    }
    int64_t score = (sum > 0 ? 100 * earned / sum : 100) - lost;
    assert_int_equal(sm_drill_score(run), score < 0 ? 0 : score);
}

static char *play(const field *f, uint64_t seed) {
    uint64_t random = seed;
    const sm_drill *drill = f->drills[sm_drill_random(&random) % f->drill_count];
    const sm_drill_options options = {.seed = sm_drill_random(&random), .bare = seed % 13 == 0};
    sm_drill_run *run = NULL;
    assert_int_equal(sm_drill_run_create(drill, &options, &run), SM_OK);
    act_at_random(f, run, &random);
    judge_all(run);
    sm_text text = {0};
    drill_play_debrief(run, &text);
    sm_drill_debrief_json(run, &text);
    assert_false(text.failed);
    sm_drill_run_destroy(run);
    return text.bytes;
}

static void random_trainees(void **state) {
    const field *f = *state;
    const uint64_t rounds = getenv("SLOWMATCH_SOAK") ? 1000000 : 10000;
    for (uint64_t seed = 0; seed < rounds; seed++) {
        char *debrief = play(f, seed);
        if (seed % 20 == 0) {
            char *again = play(f, seed);
            assert_string_equal(debrief, again);
            free(again);
        }
        free(debrief);
    }
}

static int set_up(void **state) {
    static field f;
    sm_arena *arena = sm_arena_create();
    const char *const *names;
    char why[200];
    size_t at;
    f.show = drill_play_show("demo-shows/lantern-quay");
    assert_int_equal(sm_drill_names(f.show, arena, &names, &f.drill_count), SM_OK);
    assert_in_range(f.drill_count, 1, 16);
    f.drill_count *= SM_SEAT_COUNT;
    for (size_t i = 0; i < f.drill_count; i++) {
        f.drills[i] = drill_play_load(f.show, names[i / SM_SEAT_COUNT]);
        assert_int_equal(sm_drill_sit(f.drills[i], (sm_drill_seat)(i % SM_SEAT_COUNT)), SM_OK);
    }
    for (size_t i = 0; i < ACTIONS; i++)
        if (sm_action_read(f.show, actions[i], strlen(actions[i]), &f.actions[i], why, &at) != SM_OK)
            fail_msg("%s: %s", actions[i], why);
    sm_arena_destroy(arena);
    *state = &f;
    return 0;
}

static int tear_down(void **state) {
    field *f = *state;
    for (size_t i = 0; i < f->drill_count; i++)
        sm_drill_destroy(f->drills[i]);
    sm_show_destroy(f->show);
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(random_trainees)};
    return cmocka_run_group_tests_name("random trainees", tests, set_up, tear_down);
}
