// SPDX-License-Identifier: GPL-3.0-or-later
// Loops and firing currents against worked examples; the worst moment against a slow search of the same rule.
#include "support/rig_show.h"

#include "slowmatch/rig.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>

#include <cmocka.h>

#define FT_M 0.3048

// No tolerance, no leads, everything at 20 C: the conditions of the worked examples.
static sm_show *plain_show(double igniter_ohms) {
    sm_show *show = rig_show_create(1, 32);
    show->settings.air_c = show->settings.copper_hot_c = show->settings.copper_cold_c = 20.0;
    show->igniters[0].ohms = igniter_ohms;
    show->igniters[0].tolerance_ohms = 0.0;
    show->igniters[0].lead_m = 0.0;
    return show;
}

static sm_rig_current current_of(const sm_show *show, uint32_t firing) {
    sm_rig_current *currents = calloc(show->firing_count, sizeof *currents);
    assert_non_null(currents);
    assert_int_equal(sm_rig_currents(show, currents), SM_OK);
    sm_rig_current current = currents[firing];
    free(currents);
    return current;
}

// FM 5-250 appendix E: 2 ohm caps in series at 1.5 A (read in the manual) over 500 ft of two-wire 18 AWG; R =
// 2n + 6.385, U = 1.5 R (recomputed).
static void series_of_field_manual(void **state) {
    (void)state;
    static const double rows[][3] = {{1, 8.385, 12.578},
                                     {5, 16.385, 24.578},
                                     {10, 26.385, 39.578},
                                     {20, 46.385, 69.578},
                                     {50, 106.385, 159.578}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        sm_show *show = plain_show(2.0);
        rig_show_cable(show, 0, 500.0 * FT_M, 18);
        show->modules[0].source_ohms = 0.0;
        show->modules[0].volts_low = rows[i][2];
        uint32_t firing = rig_show_fire(show, 0, 1, 0, SM_LOAD_SERIES, (int)rows[i][0]);
        assert_near(sm_rig_firing_loop(show, firing).nominal_ohms, rows[i][1], 0.001);
        assert_near(current_of(show, firing).amps, 1.5, 0.001);
        rig_show_destroy(show);
    }
}

// A mining course text's question (inputs second-hand, result recomputed): 30 detonators of 2 ohm, 50 m of
// connecting wire of 0.1 ohm/m, 200 m of two-core cable of 0.05 ohm/m: 75 ohm, 112.5 V for 1.5 A.
static void series_of_course_text(void **state) {
    (void)state;
    sm_show *show = plain_show(2.0);
    show->rails[0].cable_m = 200.0;
    show->rails[0].cable =
        (sm_gauge){.area_mm2 = 1.0 / 58.0 / 0.025, .factor = 1.0}; // 0.05 ohm a metre of pair
    uint32_t firing = rig_show_fire(show, 0, 1, 0, SM_LOAD_SERIES, 30);
    show->firings[firing].wire_m = 25.0; // out and back: 50 m of conductor
    show->firings[firing].wire = (sm_gauge){.area_mm2 = 1.0 / 58.0 / 0.1, .factor = 1.0};
    show->modules[0].source_ohms = 0.0;
    show->modules[0].volts_low = 112.5;
    assert_near(sm_rig_firing_loop(show, firing).nominal_ohms, 75.0, 1e-9);
    assert_near(current_of(show, firing).amps, 1.5, 1e-9);
    rig_show_destroy(show);
}

// Recomputed: 24 V behind 0.5 ohm, 200 ft of two-wire 18 AWG (2.554 ohm), igniters of 1.6 ohm.
static void rail_model(void **state) {
    (void)state;
    static const struct {
        sm_load_kind load;
        int igniters;
        double amps;
    } rows[] = {{SM_LOAD_SERIES, 1, 5.1569},   {SM_LOAD_SERIES, 2, 3.8375},   {SM_LOAD_SERIES, 4, 2.5386},
                {SM_LOAD_SERIES, 8, 1.5138},   {SM_LOAD_PARALLEL, 1, 5.1569}, {SM_LOAD_PARALLEL, 2, 3.1136},
                {SM_LOAD_PARALLEL, 4, 1.7371}, {SM_LOAD_ONE, 1, 5.1569}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        sm_show *show = plain_show(1.6);
        rig_show_cable(show, 0, 200.0 * FT_M, 18);
        show->modules[0].volts_low = 24.0;
        uint32_t firing = rig_show_fire(show, 0, 1, 0, rows[i].load, rows[i].igniters);
        sm_rig_current current = current_of(show, firing);
        assert_near(current.amps, rows[i].amps, 0.001);
        bool series = rows[i].load == SM_LOAD_SERIES && rows[i].igniters > 1;
        assert_near(current.needed_amps, series ? 1.0 : 0.5, 0.0);
        assert_near(current.margin, current.amps / current.needed_amps, 1e-12);
        rig_show_destroy(show);
    }
}

// Bounds of a default loop, from the formula by hand: 10 m of 22 AWG (52.963 ohm/km at 20 C, recomputed wire
// table) and 2 m of 24 AWG leads (84.215 ohm/km); factors 1 + 0.00393 (T - 20) = 0.98035 at 15 C, 0.9214 at 0
// C, 1.0786 at 40 C.
static void band_of_a_default_loop(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 8);
    rig_show_cable(show, 0, 10.0, 22);
    double wire20 = 2 * 0.52963 + 2 * 0.16843;
    sm_rig_loop loop = sm_rig_firing_loop(show, rig_show_fire(show, 0, 1, 0, SM_LOAD_ONE, 1));
    assert_near(loop.wire_ohms, wire20 * 0.98035, 1e-4);
    assert_near(loop.nominal_ohms, 1.6 + wire20 * 0.98035, 1e-4);
    assert_near(loop.low_ohms, 1.3 + wire20 * 0.9214, 1e-4);
    assert_near(loop.high_ohms, 1.9 + wire20 * 1.0786, 1e-4);

    loop = sm_rig_firing_loop(show, rig_show_fire(show, 0, 2, 0, SM_LOAD_SERIES, 3));
    assert_near(loop.nominal_ohms, 3 * 1.6 + (2 * 0.52963 + 6 * 0.16843) * 0.98035, 1e-4);
    assert_near(loop.wire_ohms, wire20 * 0.98035, 1e-4); // one pair of leads, whatever the load
    loop = sm_rig_firing_loop(show, rig_show_fire(show, 0, 3, 0, SM_LOAD_PARALLEL, 2));
    assert_near(loop.high_ohms, (1.9 + 2 * 0.16843 * 1.0786) / 2 + 2 * 0.52963 * 1.0786, 1e-4);
    rig_show_destroy(show);
}

// Three at once share the source: by hand, 1.6 ohm loops on 15 V behind 0.5 ohm. V = 15 / (1 + 0.5 x 3 / 1.6)
// = 7.742.
static void others_sag_the_supply(void **state) {
    (void)state;
    sm_show *show = plain_show(1.6);
    for (uint32_t slot = 1; slot <= 3; slot++)
        rig_show_fire(show, 0, slot, 1000000, SM_LOAD_ONE, 1);
    uint32_t alone =
        rig_show_fire(show, 0, 4, 1040000, SM_LOAD_ONE, 1); // one pulse later: no longer with them
    sm_rig_current current = current_of(show, 1);
    assert_int_equal(current.others, 2);
    assert_near(current.amps, 15.0 / (1.0 + 0.5 * 3.0 / 1.6) / 1.6, 1e-9);
    current = current_of(show, alone);
    assert_int_equal(current.others, 0);
    assert_near(current.amps, 15.0 / (1.0 + 0.5 / 1.6) / 1.6, 1e-9);
    rig_show_destroy(show);
}

// A before B before C, 30 ms apart with pulses of 40 ms: B meets A and C, never both.
static void worst_moment_is_one_moment(void **state) {
    (void)state;
    sm_show *show = plain_show(1.6);
    rig_show_fire(show, 0, 1, 0, SM_LOAD_ONE, 1);
    uint32_t middle = rig_show_fire(show, 0, 2, 30000, SM_LOAD_ONE, 1);
    rig_show_fire(show, 0, 3, 60000, SM_LOAD_ONE, 1);
    assert_int_equal(current_of(show, middle).others, 1);
    rig_show_destroy(show);
}

static uint32_t next_random(uint32_t *seed) {
    *seed = *seed * UINT32_C(1664525) + UINT32_C(1013904223);
    return *seed >> 8;
}

// The rule as written, tried at the start of every firing.
static double slow_amps(const sm_show *show, uint32_t own) {
    sm_us pulse = show->modules[0].pulse_us;
    double worst = 0.0;
    for (uint32_t i = 0; i < show->firing_count; i++) {
        sm_us now = show->firings[i].fire_us, began = show->firings[own].fire_us;
        if (now < began || now - began >= pulse)
            continue;
        double sum = 0.0;
        for (uint32_t j = 0; j < show->firing_count; j++) {
            sm_us age = now - show->firings[j].fire_us;
            if (j != own && age >= 0 && age < pulse)
                sum += 1.0 / sm_rig_firing_loop(show, j).low_ohms;
        }
        worst = fmax(worst, sum);
    }
    double high = sm_rig_firing_loop(show, own).high_ohms;
    double volts = show->modules[0].volts_low / (1.0 + show->modules[0].source_ohms * (1.0 / high + worst));
    double parallel = show->firings[own].load == SM_LOAD_PARALLEL ? show->firings[own].igniters : 1;
    return volts / high / parallel;
}

static void sweep_equals_slow_search(void **state) {
    (void)state;
    uint32_t seed = 7;
    for (int round = 0; round < 60; round++) {
        sm_show *show = rig_show_create(2, 32);
        rig_show_cable(show, 0, 20.0, 22);
        for (uint32_t i = 0; i < 60; i++) {
            sm_us at = (sm_us)(next_random(&seed) % 60) * 5000; // many at one instant, many one pulse apart
            rig_show_fire(show, i % 2, 1 + i / 2, at, (sm_load_kind)(next_random(&seed) % 3),
                          1 + (int)(next_random(&seed) % 4));
        }
        sm_rig_current currents[60];
        assert_int_equal(sm_rig_currents(show, currents), SM_OK);
        for (uint32_t i = 0; i < 60; i++)
            assert_near(currents[i].amps, slow_amps(show, i), 1e-9);
        rig_show_destroy(show);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(series_of_field_manual),
        cmocka_unit_test(series_of_course_text),
        cmocka_unit_test(rail_model),
        cmocka_unit_test(band_of_a_default_loop),
        cmocka_unit_test(others_sag_the_supply),
        cmocka_unit_test(worst_moment_is_one_moment),
        cmocka_unit_test(sweep_equals_slow_search),
    };
    return cmocka_run_group_tests_name("rig current", tests, NULL, NULL);
}
