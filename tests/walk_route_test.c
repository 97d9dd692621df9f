// SPDX-License-Identifier: GPL-3.0-or-later
// The walking order, held against every order there is, and against points whose shortest way is plain.
#include "slowmatch/walk.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define POINTS_MAX 60

static uint64_t next_random(uint64_t *state) {
    *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return *state >> 33;
}

static void scatter(uint64_t *seed, sm_walk_point *points, uint32_t count) {
    for (uint32_t i = 0; i < count; i++)
        points[i] = (sm_walk_point){(double)(next_random(seed) % 1000) / 10.0,
                                    (double)(next_random(seed) % 1000) / 10.0};
}

static double step(const sm_walk_point *points, uint32_t a, uint32_t b) {
    return hypot(points[a].x_m - points[b].x_m, points[a].y_m - points[b].y_m);
}

// Written apart from the library's search: no bound, a set of the places walked.
static double brute_force(const sm_walk_point *points, uint32_t count, uint32_t at, unsigned walked) {
    double best = INFINITY;
    if (walked == (1u << count) - 1)
        return 0;
    for (uint32_t next = 0; next < count; next++) {
        if (walked & 1u << next)
            continue;
        double metres = step(points, at, next) + brute_force(points, count, next, walked | 1u << next);
        best = metres < best ? metres : best;
    }
    return best;
}

static void assert_order(const uint32_t *order, uint32_t count, uint32_t start) {
    bool seen[POINTS_MAX] = {false};
    assert_int_equal(order[0], start);
    for (uint32_t i = 0; i < count; i++) {
        assert_true(order[i] < count);
        assert_false(seen[order[i]]);
        seen[order[i]] = true;
    }
}

static double walked_metres(const sm_walk_point *points, const uint32_t *order, uint32_t count) {
    double metres = 0;
    for (uint32_t i = 1; i < count; i++)
        metres += step(points, order[i - 1], order[i]);
    return metres;
}

static void few_places_are_walked_the_shortest_way(void **state) {
    (void)state;
    uint64_t seed = 7;
    for (int round = 0; round < 300; round++) {
        sm_walk_point points[8];
        uint32_t order[8], count = 1 + (uint32_t)(next_random(&seed) % 8);
        uint32_t start = (uint32_t)(next_random(&seed) % count);
        double metres;
        scatter(&seed, points, count);
        sm_walk_route(points, count, start, order, &metres);
        assert_order(order, count, start);
        assert_true(fabs(metres - walked_metres(points, order, count)) < 1e-6);
        assert_true(fabs(metres - brute_force(points, count, start, 1u << start)) < 1e-6);
    }
}

// No stretch of a longer walk is shorter the other way round.
static void many_places_leave_no_stretch_to_turn(void **state) {
    (void)state;
    uint64_t seed = 11;
    for (int round = 0; round < 40; round++) {
        sm_walk_point points[POINTS_MAX];
        uint32_t order[POINTS_MAX], count = 10 + (uint32_t)(next_random(&seed) % (POINTS_MAX - 9));
        double metres;
        scatter(&seed, points, count);
        sm_walk_route(points, count, 0, order, &metres);
        assert_order(order, count, 0);
        assert_true(fabs(metres - walked_metres(points, order, count)) < 1e-6);
        for (uint32_t first = 1; first < count; first++)
            for (uint32_t last = first + 1; last < count; last++) {
                uint32_t turned[POINTS_MAX];
                for (uint32_t i = 0; i < count; i++)
                    turned[i] = i < first || i > last ? order[i] : order[first + last - i];
                assert_true(walked_metres(points, turned, count) > metres - 1e-6);
            }
    }
}

// Along a straight line the shortest way from one end is the line itself, however long.
static void a_line_is_walked_from_end_to_end(void **state) {
    (void)state;
    static const uint32_t shuffled[] = {0, 7, 3, 12, 1, 9, 5, 11, 2, 8, 4, 10, 6};
    sm_walk_point points[13];
    uint32_t order[13];
    double metres;
    for (uint32_t i = 0; i < 13; i++)
        points[i] = (sm_walk_point){shuffled[i] * 3.0, shuffled[i] * 4.0};
    sm_walk_route(points, 13, 0, order, &metres);
    for (uint32_t i = 0; i < 13; i++)
        assert_int_equal(shuffled[order[i]], i);
    assert_true(fabs(metres - 60.0) < 1e-9);
}

static void places_on_one_spot_and_a_single_place(void **state) {
    (void)state;
    sm_walk_point points[12] = {{0}};
    uint32_t order[12];
    double metres;
    sm_walk_route(points, 12, 5, order, &metres);
    assert_order(order, 12, 5);
    assert_true(metres == 0);
    sm_walk_route(points, 1, 0, order, &metres);
    assert_int_equal(order[0], 0);
    assert_true(metres == 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(few_places_are_walked_the_shortest_way),
        cmocka_unit_test(many_places_leave_no_stretch_to_turn),
        cmocka_unit_test(a_line_is_walked_from_end_to_end),
        cmocka_unit_test(places_on_one_spot_and_a_single_place),
    };
    return cmocka_run_group_tests_name("walking order", tests, NULL, NULL);
}
