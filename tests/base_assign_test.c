// SPDX-License-Identifier: GPL-3.0-or-later
// Strips to places: the cheapest assignment, against all permutations tried one by one.
#include "slowmatch/assign.h"
#include "slowmatch/drill.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define MOST 6
#define ROUNDS 300

// The least sum of COSTS (N x N) where rows from ROW on take columns that are not in TAKEN.
static double least(const double *costs, uint32_t n, uint32_t row, unsigned taken) {
    double best = row == n ? 0.0 : INFINITY;
    for (uint32_t column = 0; row < n && column < n; column++)
        if (!(taken >> column & 1u))
            best = fmin(best, costs[row * n + column] + least(costs, n, row + 1, taken | 1u << column));
    return best;
}

static void no_permutation_is_cheaper(void **state) {
    (void)state;
    uint64_t random = 1;
    for (uint32_t round = 0; round < ROUNDS; round++) {
        const uint32_t n = round % (MOST + 1);
        double costs[MOST * MOST], sum = 0.0;
        for (uint32_t i = 0; i < n * n; i++) // in half of the rounds many are alike
            costs[i] = (double)(sm_drill_random(&random) % (round % 2 == 0 ? 5 : 100000)) - 3.0;
        uint32_t column_of[MOST];
        unsigned taken = 0;
        sm_arena *arena = sm_arena_create();
        assert_non_null(arena);
        assert_int_equal(sm_assign(costs, n, arena, column_of), SM_OK);
        sm_arena_destroy(arena);
        for (uint32_t row = 0; row < n; row++) {
            assert_true(column_of[row] < n && !(taken >> column_of[row] & 1u));
            taken |= 1u << column_of[row];
            sum += costs[row * n + column_of[row]];
        }
        assert_true(sum == least(costs, n, 0, 0)); // whole numbers: exactly
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_permutation_is_cheaper)};
    return cmocka_run_group_tests_name("base assign", tests, NULL, NULL);
}
