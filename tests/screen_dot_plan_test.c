// SPDX-License-Identifier: GPL-3.0-or-later
// The plan of the ground: metres to dots against figures worked out by hand, and dots to characters.
#include "screen/dot_plan.h"

#include <locale.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static void expect_near(double got, double wanted, double room) {
    if (!(fabs(got - wanted) <= room))
        fail_msg("%.12g is not %.12g", got, wanted);
}

// 40 m by 60 m on 40 by 15 cells: 80 by 60 dots, 79 and 59 steps. 40/79 = 0.506 m, 60/59 = 1.017 m: the larger serves
// both. Across, 79 steps are 80.339 m, so the left edge is 20.169 m left of x = -20 m.
static void one_scale_serves_both_directions(void **state) {
    (void)state;
    sm_plan plan = {0};
    sm_plan_bounds bounds = {-20, 20, 0, 60};
    assert_int_equal(sm_plan_fit(&plan, &bounds, 40, 15), SM_OK);
    expect_near(plan.metres_a_dot, 60.0 / 59, 1e-9);
    expect_near(plan.left_m, -40.1695, 1e-3);
    expect_near(plan.far_m, 60, 1e-9);
    const struct {
        double x_m, y_m;
        int x, y;
    } by_hand[] = {
        {-20, 60, 20, 0}, // 20.1695 / 1.01695 = 19.83
        {20, 48, 59, 12}, // 60.1695 / 1.01695 = 59.17; 12 / 1.01695 = 11.8
        {20, 0, 59, 59},
        {-18, 6, 22, 53}, // 22.1695 / 1.01695 = 21.8; 54 / 1.01695 = 53.1
    };
    for (size_t i = 0; i < sizeof by_hand / sizeof by_hand[0]; i++) {
        sm_plan_dot dot = sm_plan_at(&plan, by_hand[i].x_m, by_hand[i].y_m);
        assert_int_equal(dot.x, by_hand[i].x);
        assert_int_equal(dot.y, by_hand[i].y);
    }
    sm_plan_dot a = sm_plan_at(&plan, -10, 20), b = sm_plan_at(&plan, 20, 20), c = sm_plan_at(&plan, -10, 50);
    assert_in_range(abs((b.x - a.x) - (a.y - c.y)), 0, 1); // 30 m across, 30 m away
    sm_plan_deinit(&plan);
}

static void a_wide_site_is_scaled_by_its_width(void **state) {
    (void)state;
    sm_plan plan = {0};
    sm_plan_bounds bounds = {0, 158, 0, 10};
    assert_int_equal(sm_plan_fit(&plan, &bounds, 40, 15), SM_OK);
    expect_near(plan.metres_a_dot, 2, 1e-9); // 158 m over 79 steps
    assert_int_equal(sm_plan_at(&plan, 0, 0).x, 0);
    assert_int_equal(sm_plan_at(&plan, 158, 0).x, 79);
    // 10 m of the 118 m that 59 steps are, in the middle: 54 m beyond the far side, 27 steps.
    assert_int_equal(sm_plan_at(&plan, 0, 10).y, 27);
    assert_int_equal(sm_plan_at(&plan, 0, 0).y, 32);
    bounds = (sm_plan_bounds){3, 3, 7, 7}; // a single place
    assert_int_equal(sm_plan_fit(&plan, &bounds, 4, 2), SM_OK);
    expect_near(plan.metres_a_dot, 1, 1e-9);
    assert_in_range(sm_plan_at(&plan, 3, 7).x, 3, 4);
    assert_in_range(sm_plan_at(&plan, 3, 7).y, 3, 4);
    bounds = (sm_plan_bounds){-100000, 100000, -100000, 100000};
    assert_int_equal(sm_plan_fit(&plan, &bounds, 1, 1), SM_OK);
    assert_int_equal(sm_plan_at(&plan, 1e300, -1e300).x > 1, true); // far outside, and no overflow
    sm_plan_deinit(&plan);
}

// Dot n of a braille character is bit n - 1 of what it stands above U+2800; dots 1, 2, 3, 7 down the left column, 4, 5,
// 6, 8 down the right one (The Unicode Standard, block Braille Patterns; from memory).
static void dots_are_braille(void **state) {
    (void)state;
    static const char *const characters[2][4] = {{"⠁", "⠂", "⠄", "⡀"}, {"⠈", "⠐", "⠠", "⢀"}};
    sm_plan plan = {0};
    sm_plan_bounds bounds = {0, 1, 0, 3};
    sm_cells *cells = sm_cells_create(3, 2);
    assert_non_null(cells);
    for (int x = 0; x < 2; x++) {
        for (int y = 0; y < 4; y++) {
            assert_int_equal(sm_plan_fit(&plan, &bounds, 3, 2), SM_OK);
            sm_plan_set(&plan, (sm_plan_dot){2 + x, 4 + y}, SM_LOOK_KIND_A);
            sm_plan_set(&plan, (sm_plan_dot){-1, 0}, SM_LOOK_KIND_A); // outside: nothing
            sm_plan_set(&plan, (sm_plan_dot){6, 8}, SM_LOOK_KIND_A);
            sm_cells_clear(cells);
            sm_plan_draw(&plan, sm_area_of(cells));
            assert_string_equal(sm_cells_at(cells, 1, 1)->text, characters[x][y]);
            assert_int_equal(sm_cells_at(cells, 1, 1)->look, SM_LOOK_KIND_A);
            assert_string_equal(sm_cells_at(cells, 0, 0)->text, " ");
            sm_cells_to_ascii(cells);
            assert_string_equal(sm_cells_at(cells, 1, 1)->text, y < 2 ? "'" : ".");
        }
    }
    static const char *const ascii[][2] = {{"⠉", "-"}, {"⠒", "-"}, {"⠤", "-"}, {"⣀", "_"}, {"⡇", ":"},
                                           {"⢸", ":"}, {"⠀", " "}, {"⠋", "'"}, {"⣤", "."}, {"⣿", ":"}};
    for (size_t i = 0; i < sizeof ascii / sizeof ascii[0]; i++) {
        sm_area_text(sm_area_of(cells), 0, 0, SM_LOOK_PLAIN, ascii[i][0]);
        sm_cells_to_ascii(cells);
        assert_string_equal(sm_cells_at(cells, 0, 0)->text, ascii[i][1]);
    }
    sm_cells_destroy(cells);
    sm_plan_deinit(&plan);
}

static void a_ring_keeps_its_radius(void **state) {
    (void)state;
    sm_plan plan = {0};
    sm_plan_bounds bounds = {0, 99, 0, 99};
    assert_int_equal(sm_plan_fit(&plan, &bounds, 50, 25), SM_OK);
    sm_plan_ring(&plan, (sm_plan_dot){40, 50}, 37, SM_LOOK_DIM);
    static const uint8_t bits[2][4] = {{0x01, 0x02, 0x04, 0x40}, {0x08, 0x10, 0x20, 0x80}};
    unsigned found = 0;
    for (int y = 0; y < 100; y++) {
        for (int x = 0; x < 100; x++) {
            if (plan.dots[y / 4 * 50 + x / 2] & bits[x % 2][y % 4]) {
                assert_true(fabs(hypot(x - 40, y - 50) - 37) <= 0.71); // half a dot's diagonal
                found++;
            }
        }
    }
    assert_in_range(found, 60, 90); // every third dot of 2 pi 37 sqrt(8)/pi = 209 steps, about
    sm_plan_deinit(&plan);
}

static void a_scale_is_a_round_number(void **state) {
    (void)state;
    static const double pairs[][2] = {{0.3, 0.2}, {0.5, 0.5}, {1, 1},   {1.99, 1}, {2, 2},
                                      {9.9, 5},   {10, 10},   {49, 20}, {50, 50},  {123456, 100000}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++)
        expect_near(sm_plan_round_metres(pairs[i][0]), pairs[i][1], pairs[i][1] * 1e-9);
}

int main(void) {
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_scale_serves_both_directions),
        cmocka_unit_test(a_wide_site_is_scaled_by_its_width),
        cmocka_unit_test(dots_are_braille),
        cmocka_unit_test(a_ring_keeps_its_radius),
        cmocka_unit_test(a_scale_is_a_round_number),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
