// SPDX-License-Identifier: GPL-3.0-or-later
// A jump restores what every fixture would be doing at that moment, as if played there without a pause: to the level, in random shows,
// against playing there and against a player of its own that knows nothing but the cues.
#include "support/engine_random.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define SHOW_0_S 3.0 // wall of show time 0

static void start(engine_run *run, const sm_show *show) {
    engine_run_init(run, show, NULL);
    assert_int_equal(engine_act(run, 0, "call-clear"), SM_OK);
    assert_int_equal(engine_act(run, 0, "key on"), SM_OK);
    assert_int_equal(engine_act(run, 0, "arm"), SM_OK);
    assert_int_equal(engine_act(run, 1, "start"), SM_OK);
}

static void seek(engine_run *run, double at_s, sm_us to_us) {
    char action[64];
    snprintf(action, sizeof action, "seek %lld.%06lld", (long long)(to_us / 1000000),
             (long long)(to_us % 1000000));
    assert_int_equal(engine_act(run, at_s, action), SM_OK);
    engine_to(run, at_s); // and what is due at that very moment
}

static double wall_of(sm_us show_us) {
    return SHOW_0_S + (double)show_us / 1e6;
}

static void same_levels(const char *what, uint64_t seed, const sm_snapshot *played, const sm_snapshot *jumped,
                        const bool *skip) {
    assert_int_equal(played->at.us, jumped->at.us);
    for (uint32_t c = 0; c < played->show->channel_count; c++)
        if ((!skip || !skip[c]) && played->levels[c] != jumped->levels[c])
            fail_msg("seed %llu, %s, channel %u at %lld us: played %u, jumped %u", (unsigned long long)seed,
                     what, c, (long long)played->at.us, played->levels[c], jumped->levels[c]);
}

// ---- a second player: walks over all changes of one channel in time, by the rules of cues.csv alone -----------------

typedef struct told {
    double from, to;
    sm_us began_us, fade_us, home_us; // home_us before began_us: never
} told;

static double told_level(const told *t, sm_us at_us) {
    double done = t->fade_us > 0 ? (double)(at_us - t->began_us) / (double)t->fade_us : 1;
    done = done > 1 ? 1 : done;
    return (double)(int)(t->from + (t->to - t->from) * done + 0.5 + 1e-9);
}

// The return home that falls due by AT_US is done.
static void let_return(told *t, double home, sm_us at_us) {
    if (t->home_us >= t->began_us && t->home_us <= at_us)
        *t = (told){home, home, t->home_us, 0, t->home_us - 1};
}

static int level_by_cues(const sm_show *show, uint32_t fixture, uint8_t channel, uint8_t home, sm_us at_us) {
    told now = {home, home, -1000000000, 0, -1000000001};
    for (uint32_t i = 0; i < show->event_count; i++) {
        uint32_t event = show->order[i];
        const sm_cue *cue = &show->cues[show->events[event].cue];
        if (cue->kind != SM_CUE_SET || show->events[event].target != fixture || cue->time_us > at_us)
            continue;
        uint32_t count;
        const sm_level *levels = sm_event_levels(show, event, &count);
        for (uint32_t l = 0; l < count; l++) {
            if (levels[l].channel != channel)
                continue;
            let_return(&now, home, cue->time_us);
            double from = told_level(&now, cue->time_us);
            now = (told){from, levels[l].level, cue->time_us, cue->fade_us,
                         cue->time_us + (cue->lasts_us > 0 ? (sm_us)cue->lasts_us : -1)};
        }
    }
    let_return(&now, home, at_us);
    return (int)told_level(&now, at_us);
}

static void as_the_cues_say(uint64_t seed, const sm_snapshot *s) {
    for (uint32_t f = 0; f < s->show->fixture_count; f++) {
        const sm_fixture *fixture = &s->show->fixtures[f];
        const sm_profile *profile = &s->show->profiles[fixture->profile];
        for (uint32_t c = 0; c < profile->channel_count; c++) {
            int expected = level_by_cues(s->show, f, (uint8_t)c, profile->home[c], s->at.us);
            if (s->levels[fixture->channel_base + c] != expected)
                fail_msg("seed %llu, %s %s at %lld us: %u, by the cues %d", (unsigned long long)seed,
                         fixture->name, profile->channels[c], (long long)s->at.us,
                         s->levels[fixture->channel_base + c], expected);
        }
    }
}

// ---- the trials -----------------------------------------------------------------------------

static sm_us random_moment(engine_dice *dice) {
    // Often a moment at which something happens, or the microsecond before or after.
    sm_us us = (sm_us)engine_roll(dice, 4 * ENGINE_RANDOM_LENGTH_S) * 250000;
    sm_us nudge = (sm_us)engine_roll(dice, 4) - 1;
    if (engine_roll(dice, 3) == 0)
        us += engine_roll(dice, 250000);
    return us + nudge < 0 ? 0 : us + (nudge > 1 ? 0 : nudge);
}

static void trial(uint64_t seed) {
    engine_dice dice = {seed};
    sm_show *show = engine_random_show(&dice, 10 + engine_roll(&dice, 70));
    sm_us to = random_moment(&dice), from = random_moment(&dice), on = to + engine_roll(&dice, 6000000);
    on = on > 24900000 ? 24900000 : on;
    on = on < to ? to : on;
    engine_run played, running, paused;
    start(&played, show);
    start(&running, show);
    start(&paused, show);

    engine_to(&played, wall_of(to));
    as_the_cues_say(seed, engine_look(&played));
    seek(&running, wall_of(from), to);
    same_levels("a seek while running", seed, engine_look(&played), engine_look(&running), NULL);
    // And it goes on alike.
    engine_to(&played, wall_of(on));
    engine_to(&running, wall_of(from) + (double)(on - to) / 1e6);
    as_the_cues_say(seed, engine_look(&played));
    same_levels("running on after it", seed, engine_look(&played), engine_look(&running), NULL);

    bool flame[64] = {false};
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_profile *profile = &show->profiles[show->fixtures[f].profile];
        if (profile->flame)
            flame[show->fixtures[f].channel_base + profile->enable] =
                flame[show->fixtures[f].channel_base + profile->fire] = true;
    }
    // A resume after a seek in a pause goes on like the play, but for the flame, once past the place.
    assert_int_equal(engine_act(&paused, wall_of(from), "pause"), SM_OK);
    seek(&paused, wall_of(from), to);
    assert_int_equal(engine_act(&paused, wall_of(from) + 1, "resume"), SM_OK);
    engine_to(&paused, wall_of(from) + 1 + 2 + (double)(on - to) / 1e6);
    same_levels("running on from a resume", seed, engine_look(&played), engine_look(&paused), flame);
    engine_run_deinit(&played);
    engine_run_deinit(&running);
    engine_run_deinit(&paused);
    sm_show_destroy(show);
}

static void jumping_equals_playing(void **state) {
    (void)state;
    for (uint64_t seed = 1; seed <= (engine_soaks() ? 20000u : 400u); seed++)
        trial(seed);
}

// While it stands at a place, lamps stand as just before what is due there, and flame is home.
static void a_place_shows_the_moment_before_it(void **state) {
    (void)state;
    for (uint64_t seed = 1; seed <= (engine_soaks() ? 5000u : 100u); seed++) {
        engine_dice dice = {seed << 20};
        sm_show *show = engine_random_show(&dice, 40);
        sm_us to = random_moment(&dice);
        engine_run safe;
        engine_run_init(&safe, show, NULL);
        seek(&safe, 0, to);
        sm_dmx_timeline *timeline = NULL;
        assert_int_equal(sm_dmx_timeline_create(show, &timeline), SM_OK);
        const sm_snapshot *s = engine_look(&safe);
        for (uint32_t f = 0; f < show->fixture_count; f++) {
            const sm_profile *profile = &show->profiles[show->fixtures[f].profile];
            for (uint32_t c = 0; c < profile->channel_count; c++) {
                uint32_t channel = show->fixtures[f].channel_base + c;
                sm_dmx_channel state_there = sm_dmx_channel_at(timeline, channel, (sm_show_time){to}, false);
                bool held = profile->flame && (c == profile->enable || c == profile->fire);
                assert_int_equal(s->levels[channel],
                                 held ? profile->home[c]
                                      : sm_dmx_channel_level(&state_there, (sm_show_time){to}));
            }
        }
        sm_dmx_timeline_destroy(timeline);
        engine_run_deinit(&safe);
        sm_show_destroy(show);
    }
}

static void expect_passed(engine_run *run, uint32_t passed, sm_slot_phase first) {
    const sm_snapshot *now = engine_look(run);
    assert_int_equal(now->passed, passed);
    assert_int_equal(now->slots[0].phase, first);
}

// What was passed over on the way out waits again on the way back, and is counted again when it is passed over again.
static void a_jump_back_has_passed_over_nothing(void **state) {
    (void)state;
    sm_show *show = engine_show("10,A-01,fountain,,\n11,A-02,comet,,\n12,A-03,shell,,\n", NULL);
    engine_run run;
    start(&run, show);
    seek(&run, 4, 20 * SM_US_PER_S);
    expect_passed(&run, 3, SM_SLOT_PASSED);
    seek(&run, 5, 5 * SM_US_PER_S);
    expect_passed(&run, 0, SM_SLOT_WAITING);
    seek(&run, 6, 20 * SM_US_PER_S);
    expect_passed(&run, 3, SM_SLOT_PASSED);
    seek(&run, 7, 9 * SM_US_PER_S);
    assert_int_equal(engine_act(&run, 7, "inhibit A-01"), SM_OK);
    engine_to(&run, 8.5); // its moment, held back; the shell, which lifts off before 9 s, was passed over
    expect_passed(&run, 2, SM_SLOT_HELD);
    seek(&run, 8.5, 5 * SM_US_PER_S);
    expect_passed(&run, 0, SM_SLOT_WAITING);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(jumping_equals_playing),
        cmocka_unit_test(a_jump_back_has_passed_over_nothing),
        cmocka_unit_test(a_place_shows_the_moment_before_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
