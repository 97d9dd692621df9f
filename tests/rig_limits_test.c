// SPDX-License-Identifier: GPL-3.0-or-later
// Where the rules of the firing line end, to the step: format.md's bands of a partial load, checked by a load that is whole and alike.
#include "rig/evidence.h"
#include "support/rig_show.h"

#include "slowmatch/rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#define STEP_OHMS 1e-6

static int reads_like(const sm_show *show, uint32_t slot, double ohms) {
    return sm_rig_reads_like(show, slot, (sm_read_value){.kind = SM_READ_OHMS, .ohms = ohms});
}

// For e = 0.02 y + 0.2 (the format's defaults): the reading y at which y + e or y - e meets BOUND.
static double where_reading_plus_error_is(double bound) {
    return (bound - 0.2) / 1.02;
}

static double where_reading_less_error_is(double bound) {
    return (bound + 0.2) / 0.98;
}

// One of three in parallel at work is one igniter: its band is that of a slot with one.
static void one_left_of_three_in_parallel_reads_as_one(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 2);
    rig_show_cable(show, 0, 10.0, 22);
    rig_show_fire(show, 0, 1, 0, SM_LOAD_PARALLEL, 3);
    sm_rig_loop one = sm_rig_firing_loop(show, rig_show_fire(show, 0, 2, 0, SM_LOAD_ONE, 1));
    uint32_t slot = rig_show_slot(show, 0, 1);
    double most = where_reading_less_error_is(one.high_ohms);
    assert_int_equal(reads_like(show, slot, one.nominal_ohms), 1);
    assert_int_equal(reads_like(show, slot, most - STEP_OHMS), 1);
    assert_int_equal(reads_like(show, slot, most + STEP_OHMS), 0);
    assert_int_equal(reads_like(show, slot, 9.0), 0);
    rig_show_destroy(show);
}

// One of two in series at work: at the least it is one igniter alone, at the most one with its sibling's leads in the loop too.
static void one_left_of_two_in_series_reads_as_one_with_or_without_leads(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 2);
    rig_show_cable(show, 0, 10.0, 22);
    show->igniters[0].ohms = 4.0; // so that the bands of one and two lie apart
    rig_show_fire(show, 0, 1, 0, SM_LOAD_SERIES, 2);
    uint32_t alone = rig_show_fire(show, 0, 2, 0, SM_LOAD_ONE, 1), slot = rig_show_slot(show, 0, 1);
    double least = where_reading_plus_error_is(sm_rig_firing_loop(show, alone).low_ohms);
    show->igniters[0].lead_m *= 2.0;
    double most = where_reading_less_error_is(sm_rig_firing_loop(show, alone).high_ohms);
    show->igniters[0].lead_m /= 2.0;
    assert_int_equal(reads_like(show, slot, least + STEP_OHMS), 1);
    assert_int_equal(reads_like(show, slot, least - STEP_OHMS), 0);
    assert_int_equal(reads_like(show, slot, most - STEP_OHMS), 1);
    assert_int_equal(reads_like(show, slot, most + STEP_OHMS), 0);
    rig_show_destroy(show);
}

// A load of which the count is not told, or that is one, is one igniter.
static void a_load_of_no_count_is_one(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 5);
    rig_show_cable(show, 0, 10.0, 22);
    const double one = sm_rig_firing_loop(show, rig_show_fire(show, 0, 1, 0, SM_LOAD_ONE, 1)).nominal_ohms;
    static const struct {
        sm_load_kind load;
        int igniters;
    } rows[] = {{SM_LOAD_ONE, 0}, {SM_LOAD_ONE, 3}, {SM_LOAD_SERIES, 0}, {SM_LOAD_PARALLEL, 0}};
    for (uint32_t i = 0; i < 4; i++) {
        const uint32_t row = rig_show_fire(show, 0, i + 2, 0, rows[i].load, rows[i].igniters);
        show->firings[row].wire = (sm_gauge){0}; // of no length: no gauge is told
        assert_near(sm_rig_firing_loop(show, row).nominal_ohms, one, 1e-12);
    }
    rig_show_destroy(show);
}

// With a meter that has no error, one of three in series reads within its own tolerance, both ends included: 2 +/- 0.5 ohm.
static void the_ends_of_a_partial_load_belong_to_it(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 1);
    show->settings.meter_accuracy_percent = show->settings.meter_offset_ohms = 0.0;
    show->igniters[0].ohms = 2.0;
    show->igniters[0].tolerance_ohms = 0.5;
    show->igniters[0].lead_m = 0.0;
    show->rails[0].joints = 0;
    rig_show_fire(show, 0, 1, 0, SM_LOAD_SERIES, 3);
    static const struct {
        double ohms;
        int like;
    } rows[] = {{1.4375, 0}, {1.5, 1}, {2.5, 1}, {2.5625, 0}, {2.9375, 0}, {3.0, 2}, {4.25, 2}, {4.5, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) // 4.5 ohm is within the whole load's 4.5 to 7.5
        assert_int_equal(reads_like(show, 0, rows[i].ohms), rows[i].like);
    rig_show_destroy(show);
}

// The igniters' tolerance widens a load as it widens the band: as many times in series, shared in parallel. Half of it stands for one
// deviation, as with the meter's error.
static void the_spread_of_a_load_is_half_of_what_its_igniters_may_be_off(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 3);
    sm_arena *arena = sm_arena_create();
    assert_non_null(arena);
    const uint32_t rows[] = {rig_show_fire(show, 0, 1, 0, SM_LOAD_ONE, 1),
                             rig_show_fire(show, 0, 2, 0, SM_LOAD_SERIES, 3),
                             rig_show_fire(show, 0, 3, 0, SM_LOAD_PARALLEL, 3)};
    static const sm_read_value nothing[3];
    rig_evidence evidence;
    assert_int_equal(rig_evidence_make(show, nothing, NULL, arena, &evidence), SM_OK);
    for (uint32_t slot = 0; slot < 3; slot++) {
        double wide = sm_rig_firing_loop(show, rows[slot]).high_ohms;
        double tolerance = show->igniters[0].tolerance_ohms;
        show->igniters[0].tolerance_ohms = 0.0;
        double off = wide - sm_rig_firing_loop(show, rows[slot]).high_ohms;
        show->igniters[0].tolerance_ohms = tolerance;
        assert_near(evidence.predictions[slot].spread_ohms, off / 2.0, 1e-9);
    }
    sm_arena_destroy(arena);
    rig_show_destroy(show);
}

// Rails of 12 slots: A has no igniter at 6 and 7, B has all; all read as predicted, spare slots open.
static sm_show *twelve_each(sm_read_value *values) {
    sm_show *show = rig_show_create(2, 12);
    for (uint32_t rail = 0; rail < 2; rail++) {
        rig_show_cable(show, rail, 10.0 * (rail + 1), 22);
        for (uint32_t number = 1; number <= 12; number++) {
            sm_read_value *value = &values[rig_show_slot(show, rail, number)];
            *value = (sm_read_value){.kind = SM_READ_OPEN};
            if (rail == 0 && (number == 6 || number == 7))
                continue;
            uint32_t row = rig_show_fire(show, rail, number, 0, SM_LOAD_ONE, 1);
            *value =
                (sm_read_value){.kind = SM_READ_OHMS, .ohms = sm_rig_firing_loop(show, row).nominal_ohms};
        }
    }
    return show;
}

static uint32_t explanations(const sm_show *show, const sm_read_value *values, sm_rig_explanation *first,
                             uint32_t slots[12]) {
    sm_rig_diagnosis *diagnosis = NULL;
    assert_int_equal(sm_rig_diagnose(show, values, NULL, &diagnosis), SM_OK);
    uint32_t count = diagnosis->count;
    if (count > 0) {
        *first = diagnosis->explanations[0];
        for (uint32_t i = 0; i < first->slot_count; i++)
            slots[i] = first->slots[i];
    }
    sm_rig_diagnosis_destroy(diagnosis);
    return count;
}

// A run of open slots is three programmed ones or more. Spare slots are open anyway and make none; they do not break one either.
static void spare_slots_make_no_run_and_break_none(void **state) {
    (void)state;
    sm_read_value values[24];
    sm_rig_explanation first = {0};
    uint32_t slots[12] = {0};
    sm_show *show = twelve_each(values);
    values[rig_show_slot(show, 0, 5)].kind = values[rig_show_slot(show, 0, 8)].kind = SM_READ_OPEN;
    assert_int_equal(explanations(show, values, &first, slots), 0); // two, and two spare ones between
    values[rig_show_slot(show, 0, 9)].kind = SM_READ_OPEN;
    assert_int_equal(explanations(show, values, &first, slots), 1);
    assert_int_equal(first.fault, SM_RIG_RUN_OPEN);
    assert_int_equal(first.slot_count, 3);
    assert_int_equal(slots[0], rig_show_slot(show, 0, 5));
    assert_int_equal(slots[2], rig_show_slot(show, 0, 9));
    values[rig_show_slot(show, 0, 4)].kind = SM_READ_NOTHING; // not read: no part of it
    assert_int_equal(explanations(show, values, &first, slots), 1);
    assert_int_equal(slots[0], rig_show_slot(show, 0, 5));
    rig_show_destroy(show);
}

// Slots are told of a run alone; and a rail that is known to be plugged is looked at as all are where nothing is known.
static void a_rail_that_is_out_is_told_as_a_rail(void **state) {
    (void)state;
    sm_read_value values[24];
    sm_show *show = twelve_each(values);
    for (uint32_t number = 1; number <= 12; number++)
        values[rig_show_slot(show, 0, number)].kind = SM_READ_OPEN;
    static const bool both[] = {true, true}, only_b[] = {false, true};
    const bool *const plugged[] = {NULL, both, only_b};
    for (size_t i = 0; i < 3; i++) {
        sm_rig_diagnosis *diagnosis = NULL;
        assert_int_equal(sm_rig_diagnose(show, values, plugged[i], &diagnosis), SM_OK);
        assert_int_equal(diagnosis->count, i == 2 ? 0 : 1);
        if (diagnosis->count > 0) {
            assert_int_equal(diagnosis->explanations[0].fault, SM_RIG_RAIL_UNPLUGGED);
            assert_int_equal(diagnosis->explanations[0].slot_count, 0);
            assert_int_equal(diagnosis->explanations[0].rail_count, 1);
        }
        sm_rig_diagnosis_destroy(diagnosis);
    }
    rig_show_destroy(show);
}

// A drift is between two figures: what was once told by a word has none.
static void a_word_and_a_figure_of_one_verdict_are_no_drift(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 1);
    rig_show_fire(show, 0, 1, 0, SM_LOAD_ONE, 1);
    static const sm_read_value open = {.kind = SM_READ_OPEN}, far = {.kind = SM_READ_OHMS, .ohms = 1500.0},
                               brief = {.kind = SM_READ_SHORT}, small = {.kind = SM_READ_OHMS, .ohms = 0.1},
                               farther = {.kind = SM_READ_OHMS, .ohms = 2500.0};
    const struct {
        sm_read_value now, before;
        bool says;
    } cases[] = {{open, far, false},
                 {far, open, false},
                 {brief, small, false},
                 {small, brief, false},
                 {far, farther, true}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const sm_rig_past past = {
            .now = cases[i].now, .before = cases[i].before, .now_set = 1, .before_set = 0};
        sm_text out = {0};
        assert_int_equal(sm_rig_past_explain(show, 0, &past, &out), cases[i].says);
        assert_int_equal(out.length > 0, cases[i].says);
        sm_text_deinit(&out);
    }
    rig_show_destroy(show);
}

// "An absent value is null"; a reading is a number, or the word that was read.
static void readings_in_a_report_are_numbers_or_words(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 4);
    sm_reading readings[3] = {{.value = {.kind = SM_READ_OHMS, .ohms = 2.0}},
                              {.value = {.kind = SM_READ_SHORT}},
                              {.value = {.kind = SM_READ_OPEN}}};
    for (uint32_t number = 1; number <= 4; number++)
        rig_show_fire(show, 0, number, 0, SM_LOAD_ONE, 1);
    for (uint32_t i = 0; i < 3; i++)
        readings[i].slot = rig_show_slot(show, 0, i + 1);
    const sm_rig_set set = {"r.csv", readings, 3};
    sm_rig_report *report = NULL;
    sm_text out = {0};
    assert_int_equal(sm_rig_report_create(show, &set, 1, &report), SM_OK);
    sm_rig_report_json(report, &out);
    static const char *const parts[] = {"\"reading\": 2", "\"reading\": \"short\", \"verdict\": \"short\"",
                                        "\"reading\": \"open\", \"verdict\": \"open\"",
                                        "\"reading\": null, \"verdict\": \"unread\""};
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        if (!strstr(out.bytes, parts[i]))
            fail_msg("no %s in %s", parts[i], out.bytes);
    sm_text_deinit(&out);
    sm_rig_report_destroy(report);
    rig_show_destroy(show);
}

// Rails of 10, 40, 80 and 120 m that read OFF_OHMS and SHARE of their wire's ohms more than predicted: what all have in common is taken
// to be the one or the other, whichever leaves less of each rail's own. Three slots a rail, which are enough, have a firing; what else
// conducts says nothing of what was predicted.
static void check_baseline(double off_ohms, double share, double expected_off_ohms, double expected_share) {
    enum { RAILS = 4, SLOTS = 7, FIRED = 3 };
    static const double lengths_m[RAILS] = {10, 40, 80, 120};
    sm_show *const show = rig_show_create(RAILS, SLOTS);
    sm_arena *const arena = sm_arena_create();
    sm_read_value values[RAILS * SLOTS] = {0};
    bool plugged[RAILS] = {true, true, true, true};
    rig_claim claims[RAILS * SLOTS];
    rig_evidence evidence;
    for (uint32_t rail = 0; rail < RAILS; rail++) {
        rig_show_cable(show, rail, lengths_m[rail], 22);
        for (uint32_t number = 1; number <= FIRED; number++)
            (void)rig_show_fire(show, rail, number, 0, SM_LOAD_ONE, 1);
    }
    assert_int_equal(rig_evidence_make(show, values, plugged, arena, &evidence), SM_OK);
    for (uint32_t slot = 0; slot < RAILS * SLOTS; slot++) {
        const sm_rig_loop *const loop = &evidence.predictions[slot].loop;
        const double ohms =
            slot % SLOTS < FIRED ? loop->nominal_ohms + off_ohms + share * loop->wire_ohms : 40.0;
        values[slot] = (sm_read_value){.kind = SM_READ_OHMS, .ohms = ohms};
    }
    assert_int_equal(rig_evidence_make(show, values, plugged, arena, &evidence), SM_OK);
    for (uint32_t slot = 0; slot < RAILS * SLOTS; slot++)
        claims[slot] = rig_claim_declared(&evidence, slot);
    assert_int_equal(rig_baseline_apply(&evidence, claims), SM_OK);
    for (uint32_t slot = 0; slot < RAILS * SLOTS; slot++) {
        const rig_prediction *const there = &evidence.predictions[slot];
        if (!there->loaded)
            continue;
        assert_near(there->nominal_ohms,
                    there->loop.nominal_ohms + expected_off_ohms + expected_share * there->loop.wire_ohms,
                    1e-6);
    }
    sm_arena_destroy(arena);
    rig_show_destroy(show);
}

static void what_all_rails_have_in_common_is_the_meter_or_the_sun(void **state) {
    (void)state;
    check_baseline(0.15, 0, 0.15, 0);
    check_baseline(-0.15, 0, -0.15, 0);
    check_baseline(0, 0.05, 0, 0.05); // copper 13 K warmer than the air
    check_baseline(0, -0.03, 0, -0.03);
    check_baseline(0, 0, 0, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_left_of_three_in_parallel_reads_as_one),
        cmocka_unit_test(one_left_of_two_in_series_reads_as_one_with_or_without_leads),
        cmocka_unit_test(a_load_of_no_count_is_one),
        cmocka_unit_test(the_ends_of_a_partial_load_belong_to_it),
        cmocka_unit_test(the_spread_of_a_load_is_half_of_what_its_igniters_may_be_off),
        cmocka_unit_test(a_rail_that_is_out_is_told_as_a_rail),
        cmocka_unit_test(a_word_and_a_figure_of_one_verdict_are_no_drift),
        cmocka_unit_test(readings_in_a_report_are_numbers_or_words),
        cmocka_unit_test(spare_slots_make_no_run_and_break_none),
        cmocka_unit_test(what_all_rails_have_in_common_is_the_meter_or_the_sun),
    };
    return cmocka_run_group_tests_name("rig limits", tests, NULL, NULL);
}
