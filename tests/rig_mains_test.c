// SPDX-License-Identifier: GPL-3.0-or-later
// What hangs on each feed, and what protects and feeds it: a small rig by hand, and random ones against sums that go the other
// way, from each fixture back to the supply (the code goes from the supply, once over all feeds).
#include "slowmatch/drill.h"
#include "slowmatch/site.h"

#include <complex.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define FEEDS 9
#define PROFILES 7
#define FIXTURES 14
#define RIGS 3000

typedef struct mains {
    sm_feed feeds[FEEDS];
    sm_profile profiles[PROFILES];
    sm_fixture fixtures[FIXTURES];
    sm_show show;
    sm_site_feed out[FEEDS];
} mains;

static void point(mains *m, uint32_t feeds, uint32_t profiles, uint32_t fixtures) {
    m->show = (sm_show){.feeds = m->feeds,
                        .feed_count = feeds,
                        .profiles = m->profiles,
                        .profile_count = profiles,
                        .fixtures = m->fixtures,
                        .fixture_count = fixtures};
}

static void same(double found, double expected, const char *what, uint32_t feed) {
    if (isnan(expected) ? !isnan(found) : !(fabs(found - expected) <= 1e-9 * (1.0 + fabs(expected))))
        fail_msg("feed %u: %s is %.12g, not %.12g", (unsigned)feed, what, found, expected);
}

// ---- by hand -----------------------------------------------------------------------------------------------

// A generator with a breaker of 16 A feeds a reel without one, and that two ends: one with 10 A of its own, one without. What
// protects a cord is the next breaker back to the supply; a public supply with neither is told nothing.
static void a_breaker_protects_what_lies_behind_it(void **state) {
    (void)state;
    enum { GENERATOR, REEL, LEFT, RIGHT, PUBLIC, STAGE };
    mains m = {.profiles = {{.watts = 230.0, .va = NAN, .inrush_amps = NAN},
                            {.watts = 460.0, .va = NAN, .inrush_amps = 9.0}},
               .fixtures = {{.profile = 0, .feed = RIGHT},
                            {.profile = 1, .feed = LEFT},
                            {.profile = 0, .feed = STAGE}}};
    static const struct {
        uint32_t from;
        double breaker_amps;
        bool is_private;
    } rows[] = {
        [GENERATOR] = {SM_NONE, 16.0, true}, [REEL] = {GENERATOR, NAN, false}, [LEFT] = {REEL, 10.0, false},
        [RIGHT] = {REEL, NAN, false},        [PUBLIC] = {SM_NONE, NAN, false}, [STAGE] = {PUBLIC, NAN, true}};
    for (uint32_t f = 0; f < 6; f++)
        m.feeds[f] = (sm_feed){.from = rows[f].from,
                               .volts = 230.0,
                               .breaker_amps = rows[f].breaker_amps,
                               .cord = {.area_mm2 = 1.5, .factor = 1.0},
                               .is_private = rows[f].is_private};
    point(&m, 6, 2, 3);
    assert_int_equal(sm_site_feeds(&m.show, m.out), SM_OK);
    static const double breakers[] = {16.0, 16.0, 10.0, 16.0, NAN, NAN};
    static const double amps[] = {3.0, 3.0, 2.0, 1.0, 1.0, 1.0}; // 230 W is 1 A at 230 V
    static const double inrush[] = {9.0, 9.0, 9.0, NAN, NAN, NAN};
    static const bool privates[] = {true, true, true, true, false, false}; // the supply alone says
    for (uint32_t f = 0; f < 6; f++) {
        same(m.out[f].breaker_amps, breakers[f], "breaker", f);
        same(m.out[f].amps, amps[f], "amps", f);
        same(m.out[f].inrush_amps, inrush[f], "inrush", f);
        assert_int_equal(m.out[f].is_private, privates[f]);
        assert_false(m.out[f].in_loop);
    }
}

// ---- at random ---------------------------------------------------------------------------------------------

static uint32_t below(uint64_t *random, uint32_t count) {
    return (uint32_t)(sm_drill_random(random) % count);
}

static double one_of(uint64_t *random, const double *values, uint32_t count) {
    return values[below(random, count)];
}

static uint32_t maybe_row(uint64_t *random, uint32_t count) {
    const uint32_t row = below(random, count + 1);
    return row == count ? SM_NONE : row;
}

static void make_random(mains *m, uint64_t seed) {
    static const double volts[] = {230.0, 120.0, 400.0}, breakers[] = {NAN, 6.0, 16.0},
                        metres[] = {0.0, 10.0, 55.0}, areas[] = {1.0, 2.5}, watts[] = {NAN, 0.0, 60.0, 500.0},
                        vas[] = {NAN, 40.0, 625.0}, inrushes[] = {NAN, 0.0, 7.0, 30.0};
    uint64_t random = seed;
    const uint32_t feeds = below(&random, FEEDS + 1);
    *m = (mains){0};
    for (uint32_t f = 0; f < feeds; f++)
        m->feeds[f] = (sm_feed){.from = maybe_row(&random, feeds),
                                .volts = one_of(&random, volts, 3),
                                .breaker_amps = one_of(&random, breakers, 3),
                                .cord_m = one_of(&random, metres, 3),
                                .cord = {.area_mm2 = one_of(&random, areas, 2), .factor = 1.0},
                                .is_private = below(&random, 2) == 1};
    for (uint32_t p = 0; p < PROFILES; p++)
        m->profiles[p] = (sm_profile){.watts = one_of(&random, watts, 4),
                                      .va = one_of(&random, vas, 3),
                                      .inrush_amps = one_of(&random, inrushes, 4)};
    for (uint32_t i = 0; i < FIXTURES; i++)
        m->fixtures[i] =
            (sm_fixture){.profile = maybe_row(&random, PROFILES), .feed = maybe_row(&random, feeds)};
    point(m, feeds, PROFILES, FIXTURES);
}

// How many cords lie between FEED and the supply, its own included; 0 where the way never gets there.
static uint32_t way(const mains *m, uint32_t feed, uint32_t on_it[FEEDS]) {
    uint32_t length = 0;
    for (; feed != SM_NONE; feed = m->feeds[feed].from) {
        if (length == FEEDS)
            return 0;
        on_it[length++] = feed;
    }
    return length;
}

// Adds unit FIXTURE to each feed on its way to the supply. Of a unit that tells one of W and VA the other is the same, and no unit
// takes fewer VA than W.
static void add_along(const mains *m, uint32_t fixture, sm_site_feed *expected) {
    const sm_fixture *unit = &m->fixtures[fixture];
    uint32_t on_it[FEEDS];
    const uint32_t length = unit->feed != SM_NONE && unit->profile != SM_NONE ? way(m, unit->feed, on_it) : 0;
    for (uint32_t i = 0; i < length; i++) {
        const sm_profile *profile = &m->profiles[unit->profile];
        const double told[2] = {profile->watts, profile->va};
        sm_site_feed *feed = &expected[on_it[i]];
        if (!isnan(told[0]) || !isnan(told[1])) {
            const double w = isnan(told[0]) ? told[1] : told[0], va = isnan(told[1]) ? told[0] : told[1];
            feed->own_watts += i == 0 ? w : 0.0;
            feed->watts += w;
            feed->va += va > w ? va : w;
        }
        if (!isnan(profile->inrush_amps))
            feed->inrush_amps = (isnan(feed->inrush_amps) ? 0.0 : feed->inrush_amps) + profile->inrush_amps;
    }
}

// What a load of W and VA loses in the cord: the real part of current by impedance, as phasors (0.0225 ohm mm2/m and 0.08 mohm/m of
// IEC 60364-5-52 Annex G, from memory).
static double lost_volts(const sm_feed *feed, double watts, double va) {
    if (va <= 0.0)
        return 0.0;
    const double complex amps = va / feed->volts * cexp(-I * acos(watts / va));
    const double complex ohms = 2.0 * feed->cord_m * (0.0225 / feed->cord.area_mm2 + I * 0.08e-3);
    return creal(amps * ohms);
}

static void check_feed(const mains *m, const sm_site_feed *expected, uint32_t f) {
    uint32_t on_it[FEEDS];
    const uint32_t length = way(m, f, on_it);
    const sm_site_feed *found = &m->out[f];
    assert_int_equal(found->in_loop, length == 0);
    if (length == 0) {
        const double figures[] = {found->watts,      found->va,          found->amps,
                                  found->drop_volts, found->chain_volts, found->chain_percent};
        for (uint32_t i = 0; i < sizeof figures / sizeof figures[0]; i++)
            same(figures[i], NAN, "a figure of a loop", f);
        return;
    }
    double breaker = NAN, chain = 0.0;
    for (uint32_t i = length; i-- > 0;) {
        const sm_feed *row = &m->feeds[on_it[i]];
        breaker = isnan(row->breaker_amps) ? breaker : row->breaker_amps;
        chain += lost_volts(row, expected[on_it[i]].watts, expected[on_it[i]].va);
    }
    same(found->own_watts, expected[f].own_watts, "own watts", f);
    same(found->watts, expected[f].watts, "watts", f);
    same(found->va, expected[f].va, "VA", f);
    same(found->inrush_amps, expected[f].inrush_amps, "inrush", f);
    same(found->amps, expected[f].va / m->feeds[f].volts, "amps", f);
    same(found->drop_volts, lost_volts(&m->feeds[f], expected[f].watts, expected[f].va), "drop", f);
    same(found->chain_volts, chain, "drop of the way", f);
    same(found->chain_percent, chain / m->feeds[f].volts * 100.0, "its percent", f);
    same(found->breaker_amps, breaker, "breaker", f);
    assert_int_equal(found->is_private, m->feeds[on_it[length - 1]].is_private);
}

static void random_feeds_hold_what_hangs_on_them(void **state) {
    (void)state;
    mains *m = calloc(1, sizeof *m);
    assert_non_null(m);
    uint32_t deepest = 0, loops = 0;
    for (uint64_t seed = 1; seed <= RIGS; seed++) {
        make_random(m, seed);
        sm_site_feed expected[FEEDS];
        for (uint32_t f = 0; f < FEEDS; f++)
            expected[f] = (sm_site_feed){.inrush_amps = NAN};
        for (uint32_t i = 0; i < FIXTURES; i++)
            add_along(m, i, expected);
        assert_int_equal(sm_site_feeds(&m->show, m->out), SM_OK);
        for (uint32_t f = 0; f < m->show.feed_count; f++) {
            uint32_t on_it[FEEDS];
            const uint32_t length = way(m, f, on_it);
            deepest = length > deepest ? length : deepest;
            loops += length == 0;
            check_feed(m, expected, f);
        }
    }
    assert_true(deepest >= 6 && loops > 1000);
    free(m);
}

int main(void) {
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_breaker_protects_what_lies_behind_it),
        cmocka_unit_test(random_feeds_hold_what_hangs_on_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
