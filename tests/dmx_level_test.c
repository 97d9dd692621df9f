// SPDX-License-Identifier: GPL-3.0-or-later
// Fade levels, frame times and address switches against published and recomputed rows.
#include "support/published.h"

#include "slowmatch/dmx.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

// A frame is 1/44 s in these rows; whole microseconds would not be, so a fade of n frames is given n times a
// round number.
enum { FRAME_US = 1000 };

static void fades_take_the_tabulated_levels(void **state) {
    (void)state;
    // v(k) = floor((2 (a n + (b - a) k) + n) / 2n): a product rule, values recomputed; common practice, no
    // standard fixes them.
    static const struct {
        uint8_t from, to, frames;
        struct {
            uint8_t k, level;
        } rows[7];
    } fades[] = {
        {0, 255, 44, {{1, 6}, {2, 12}, {11, 64}, {22, 128}, {33, 191}, {43, 249}, {44, 255}}},
        {255, 0, 44, {{1, 249}, {2, 243}, {11, 191}, {22, 128}, {33, 64}, {43, 6}, {44, 0}}},
        {0, 255, 88, {{1, 3}, {2, 6}, {22, 64}, {44, 128}, {66, 191}, {87, 252}, {88, 255}}},
        {10, 200, 22, {{1, 19}, {2, 27}, {5, 53}, {11, 105}, {16, 148}, {21, 191}, {22, 200}}},
        {0, 100, 132, {{1, 1}, {2, 2}, {33, 25}, {66, 50}, {99, 75}, {131, 99}, {132, 100}}},
    };
    published levels = {.family = "fades",
                        .source = "the format's own rule (recomputed; no standard fixes it)"};
    for (size_t f = 0; f < sizeof fades / sizeof *fades; f++)
        for (size_t r = 0; r < 7; r++)
            published_hold(&levels,
                           sm_dmx_fade_level(fades[f].from, fades[f].to, (sm_us)fades[f].frames * FRAME_US,
                                             (sm_us)fades[f].rows[r].k * FRAME_US),
                           fades[f].rows[r].level, 0);
    published_print(&levels);
}

static void fades_keep_their_ends(void **state) {
    (void)state;
    assert_int_equal(sm_dmx_fade_level(10, 200, 1000, -1), 10);
    assert_int_equal(sm_dmx_fade_level(10, 200, 1000, 0), 10);
    assert_int_equal(sm_dmx_fade_level(10, 200, 1000, 1000), 200);
    assert_int_equal(sm_dmx_fade_level(10, 200, 1000, SM_US_MAX), 200);
    assert_int_equal(sm_dmx_fade_level(10, 200, 0, 0), 200);
    assert_int_equal(sm_dmx_fade_level(10, 200, 0, -1), 10);
    assert_int_equal(sm_dmx_fade_level(0, 255, SM_US_MAX, SM_US_MAX / 2), 128);
    assert_int_equal(sm_dmx_fade_level(255, 0, SM_US_MAX, SM_US_MAX - 1), 0);
}

static void fades_round_halves_up(void **state) {
    (void)state;
    // 0 to 1: 1/2 is reached at exactly half the time. Down as well as up, a half is the higher level.
    assert_int_equal(sm_dmx_fade_level(0, 1, 1000, 499), 0);
    assert_int_equal(sm_dmx_fade_level(0, 1, 1000, 500), 1);
    assert_int_equal(sm_dmx_fade_level(1, 0, 1000, 500), 1);
    assert_int_equal(sm_dmx_fade_level(1, 0, 1000, 501), 0);
}

static published frames = {.family = "DMX frames and periods",
                           .source = "ANSI E1.11 table 6 (second-hand; products recomputed)"};

static void frame_times_are_those_of_the_standard(void **state) {
    (void)state;
    // ANSI E1.11 Table 6, transmitter: break 92 us, mark after break 12 us, slot 44 us, break to break 1204
    // us (second-hand; the products recomputed).
    static const struct {
        int slots;
        sm_us us;
    } rows[] = {{0, 1204},  {1, 1204},   {23, 1204},   {24, 1204},
                {25, 1248}, {100, 4548}, {256, 11412}, {512, 22676}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        published_hold(&frames, (double)sm_dmx_frame_us(rows[i].slots), (double)rows[i].us, 0);
}

// Real senders run 20 to 44 Hz (common practice); 44 Hz leaves 51 us of slack to all 512 slots (recomputed), and nobody can be
// faster than these.
static void a_sender_has_a_period(void **state) {
    (void)state;
    static const struct {
        double hz;
        sm_us us;
    } rows[] = {{20, 50000}, {25, 40000}, {44, 22727}, {50, 22676}, {1000, 22676}, {1, 1000000}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        published_hold(&frames, (double)sm_dmx_period_us(rows[i].hz), (double)rows[i].us, 0);
    published_print(&frames);
}

static void switches_are_the_address_in_binary(void **state) {
    (void)state;
    // Switch 1 has weight 1 (common practice); 10, 24, 233 and 247 also stand worked in public texts
    // (second-hand), the others recomputed.
    static const struct {
        int address;
        const char *switches;
    } rows[] = {
        {1, "100000000"},   {7, "111000000"},   {10, "010100000"},  {24, "000110000"},
        {64, "000000100"},  {100, "001001100"}, {233, "100101110"}, {247, "111011110"},
        {255, "111111110"}, {256, "000000001"}, {511, "111111111"},
    };
    char buffer[10];
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        assert_int_equal(sm_dmx_switches(rows[i].address, buffer), SM_OK);
        assert_string_equal(buffer, rows[i].switches);
    }
}

static void switches_refuse_what_they_cannot_set(void **state) {
    (void)state;
    static const int addresses[] = {0, -1, 512, 513, INT32_MAX, INT32_MIN};
    for (size_t i = 0; i < sizeof addresses / sizeof *addresses; i++) {
        char buffer[10] = "untouched";
        assert_int_equal(sm_dmx_switches(addresses[i], buffer), SM_OUT_OF_RANGE);
        assert_string_equal(buffer, "untouched");
    }
}

int main(void) {
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(fades_take_the_tabulated_levels),
        cmocka_unit_test(fades_keep_their_ends),
        cmocka_unit_test(fades_round_halves_up),
        cmocka_unit_test(frame_times_are_those_of_the_standard),
        cmocka_unit_test(a_sender_has_a_period),
        cmocka_unit_test(switches_are_the_address_in_binary),
        cmocka_unit_test(switches_refuse_what_they_cannot_set),
    };
    return cmocka_run_group_tests_name("dmx_level", tests, NULL, NULL);
}
