// SPDX-License-Identifier: GPL-3.0-or-later
// Verdicts at the edges of their rules, and what is said about them.
#include "rig/loop.h"
#include "support/rig_show.h"

#include "slowmatch/rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#define STEP_OHMS 1e-6

static sm_read_value ohms(double value) {
    return (sm_read_value){.kind = SM_READ_OHMS, .ohms = value};
}

static sm_read_value says(sm_read_kind kind) {
    return (sm_read_value){.kind = kind};
}

static void assert_verdict(const sm_show *show, uint32_t slot, double value, sm_verdict expected) {
    sm_verdict verdict = sm_rig_judge(show, slot, true, ohms(value));
    if (verdict != expected) {
        fail_msg("%.6f ohm reads %s, expected %s", value, sm_verdict_text(verdict),
                 sm_verdict_text(expected));
    }
}

// The reading y at which y + e(y) or y - e(y) meets BOUND, for e = 0.02 y + 0.2.
static double where_reading_plus_error_is(double bound) {
    return (bound - 0.2) / 1.02;
}

static double where_reading_less_error_is(double bound) {
    return (bound + 0.2) / 0.98;
}

static void edges_of_good(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 4);
    rig_show_cable(show, 0, 10.0, 22);
    sm_rig_loop loop = sm_rig_firing_loop(show, rig_show_fire(show, 0, 1, 0, SM_LOAD_ONE, 1));
    uint32_t slot = rig_show_slot(show, 0, 1);
    double least = where_reading_plus_error_is(loop.low_ohms),
           most = where_reading_less_error_is(loop.high_ohms);
    assert_verdict(show, slot, loop.nominal_ohms, SM_VERDICT_GOOD);
    assert_verdict(show, slot, least + STEP_OHMS, SM_VERDICT_GOOD);
    assert_verdict(show, slot, least - STEP_OHMS, SM_VERDICT_LOW);
    assert_verdict(show, slot, most - STEP_OHMS, SM_VERDICT_GOOD);
    assert_verdict(show, slot, most + STEP_OHMS, SM_VERDICT_HIGH);
    rig_show_destroy(show);
}

static void edges_of_short_and_open(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 4);
    rig_show_cable(show, 0, 10.0, 22);
    sm_rig_loop loop = sm_rig_firing_loop(show, rig_show_fire(show, 0, 1, 0, SM_LOAD_ONE, 1));
    uint32_t slot = rig_show_slot(show, 0, 1);
    double most = where_reading_less_error_is(loop.wire_ohms + 0.05);
    assert_verdict(show, slot, 0.0, SM_VERDICT_SHORT);
    assert_verdict(show, slot, most - STEP_OHMS, SM_VERDICT_SHORT);
    assert_verdict(show, slot, most + STEP_OHMS, SM_VERDICT_LOW);
    assert_verdict(show, slot, 999.99, SM_VERDICT_HIGH);
    assert_verdict(show, slot, 1000.0, SM_VERDICT_OPEN);
    assert_int_equal(sm_rig_judge(show, slot, true, says(SM_READ_OPEN)), SM_VERDICT_OPEN);
    assert_int_equal(sm_rig_judge(show, slot, true, says(SM_READ_SHORT)), SM_VERDICT_SHORT);
    assert_int_equal(sm_rig_judge(show, slot, true, says(SM_READ_NOTHING)), SM_VERDICT_UNREAD);
    rig_show_destroy(show);
}

// A meter without an error on a loop without wire: the edges themselves belong to what they bound.
static void an_edge_belongs_to_what_it_bounds(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 4);
    show->settings.meter_accuracy_percent = show->settings.meter_offset_ohms = 0.0;
    const sm_rig_loop loop = {.low_ohms = 1.5, .nominal_ohms = 1.75, .high_ohms = 2.0};
    static const struct {
        double ohms;
        sm_verdict verdict;
    } readings[] = {{0.05, SM_VERDICT_SHORT}, {0.0625, SM_VERDICT_LOW}, {1.25, SM_VERDICT_LOW},
                    {1.5, SM_VERDICT_GOOD},   {2.0, SM_VERDICT_GOOD},   {2.25, SM_VERDICT_HIGH}};
    for (size_t i = 0; i < sizeof readings / sizeof readings[0]; i++)
        assert_int_equal(rig_judge_loop(show, &loop, (sm_read_value){SM_READ_OHMS, readings[i].ohms}),
                         readings[i].verdict);
    rig_show_destroy(show);
}

// One igniter alone cannot be part of itself: what lies off its band is said in general.
static void one_igniter_reads_like_no_part_of_it(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 4);
    rig_show_cable(show, 0, 10.0, 22);
    sm_rig_loop loop = sm_rig_firing_loop(show, rig_show_fire(show, 0, 1, 0, SM_LOAD_ONE, 1));
    const uint32_t slot = rig_show_slot(show, 0, 1);
    const struct {
        sm_verdict verdict;
        double ohms;
        const char *says;
    } cases[] = {{SM_VERDICT_LOW, loop.low_ohms / 2, "below its band: "},
                 {SM_VERDICT_HIGH, loop.high_ohms * 2, "above its band: "}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        sm_text text = {0};
        sm_rig_explain(show, slot, cases[i].verdict, (sm_read_value){SM_READ_OHMS, cases[i].ohms}, &text);
        assert_ptr_equal(strstr(sm_text_get(&text), cases[i].says), sm_text_get(&text));
        sm_text_deinit(&text);
    }
    rig_show_destroy(show);
}

// A bridge of 0.4 ohm is lost in a meter that is 0.5 ohm off.
static void unsure_when_both_fit(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 4);
    show->igniters[0].ohms = 0.4;
    show->igniters[0].tolerance_ohms = 0.1;
    show->settings.meter_offset_ohms = 0.5;
    uint32_t slot = rig_show_slot(show, 0, 1);
    sm_rig_loop loop = sm_rig_firing_loop(show, rig_show_fire(show, 0, 1, 0, SM_LOAD_ONE, 1));
    sm_read_value value = ohms(loop.nominal_ohms);
    assert_int_equal(sm_rig_judge(show, slot, true, value), SM_VERDICT_UNSURE);
    sm_text text = {0};
    sm_rig_explain(show, slot, SM_VERDICT_UNSURE, value, &text);
    assert_non_null(strstr(sm_text_get(&text), "each igniter alone"));
    assert_non_null(strstr(sm_text_get(&text), "a meter with less offset"));
    sm_text_deinit(&text);
    rig_show_destroy(show);
}

static void spare_slots_and_unplugged_rails(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 4);
    rig_show_fire(show, 0, 1, 0, SM_LOAD_ONE, 1);
    uint32_t used = rig_show_slot(show, 0, 1), spare = rig_show_slot(show, 0, 2);
    assert_int_equal(sm_rig_judge(show, spare, true, says(SM_READ_NOTHING)), SM_VERDICT_SPARE);
    assert_int_equal(sm_rig_judge(show, spare, true, says(SM_READ_OPEN)), SM_VERDICT_SPARE);
    assert_verdict(show, spare, 1000.0, SM_VERDICT_SPARE);
    assert_verdict(show, spare, 2.0, SM_VERDICT_STRAY);
    assert_int_equal(sm_rig_judge(show, spare, true, says(SM_READ_SHORT)), SM_VERDICT_STRAY);
    assert_int_equal(sm_rig_judge(show, used, false, ohms(2.0)), SM_VERDICT_UNPLUGGED);
    assert_int_equal(sm_rig_judge(show, spare, false, says(SM_READ_NOTHING)), SM_VERDICT_UNPLUGGED);
    rig_show_destroy(show);
}

static void which_stand_in_the_way_of_arming(void **state) {
    (void)state;
    static const bool refuses[SM_VERDICT_COUNT] = {
        [SM_VERDICT_OPEN] = true, [SM_VERDICT_SHORT] = true,  [SM_VERDICT_LOW] = true,
        [SM_VERDICT_HIGH] = true, [SM_VERDICT_UNSURE] = true,
    };
    for (int verdict = 0; verdict < SM_VERDICT_COUNT; verdict++) {
        assert_int_equal(sm_verdict_refuses((sm_verdict)verdict), refuses[verdict]);
        assert_true(strlen(sm_verdict_text((sm_verdict)verdict)) >= 3);
    }
    assert_string_equal(sm_verdict_text(SM_VERDICT_COUNT), ""); // none of the table's neighbours
}

// Two of 1.6 ohm in series on 10 m: about 4.75 ohm whole. One left out is about 2.97; one shunted, its leads
// still in the loop, about 3.30. Three in parallel: about 1.68 whole, 2.0 with two, 2.97 with one.
static void reads_like_fewer_igniters(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 4);
    rig_show_cable(show, 0, 10.0, 22);
    rig_show_fire(show, 0, 1, 0, SM_LOAD_SERIES, 2);
    rig_show_fire(show, 0, 2, 0, SM_LOAD_PARALLEL, 3);
    rig_show_fire(show, 0, 3, 0, SM_LOAD_ONE, 1);
    uint32_t series = rig_show_slot(show, 0, 1), parallel = rig_show_slot(show, 0, 2),
             one = rig_show_slot(show, 0, 3);
    assert_int_equal(sm_rig_reads_like(show, series, ohms(2.97)), 1);
    assert_int_equal(sm_rig_reads_like(show, series, ohms(3.30)), 1);
    assert_int_equal(sm_rig_reads_like(show, series, ohms(4.75)), 0);
    assert_int_equal(sm_rig_reads_like(show, series, ohms(9.0)), 0);
    assert_int_equal(sm_rig_reads_like(show, parallel, ohms(2.97)), 1);
    assert_int_equal(sm_rig_reads_like(show, one, ohms(9.0)), 0);
    assert_int_equal(sm_rig_reads_like(show, rig_show_slot(show, 0, 4), ohms(2.0)), 0);
    sm_text text = {0};
    sm_rig_explain(show, series, SM_VERDICT_LOW, ohms(2.97), &text);
    assert_string_equal(sm_text_get(&text), "reads like 1 of 2 in series");
    sm_text_clear(&text);
    sm_rig_explain(show, one, SM_VERDICT_GOOD, ohms(2.97), &text);
    assert_string_equal(sm_text_get(&text), "as predicted (continuity only; not proof that it fires)");
    sm_text_deinit(&text);
    rig_show_destroy(show);
}

// Every verdict has something to say, at a programmed slot and at a spare one.
static void every_verdict_explained(void **state) {
    (void)state;
    sm_show *show = rig_show_create(1, 2);
    rig_show_fire(show, 0, 1, 0, SM_LOAD_ONE, 1);
    for (int verdict = 0; verdict < SM_VERDICT_COUNT; verdict++) {
        sm_text text = {0};
        sm_rig_explain(show, rig_show_slot(show, 0, 1), (sm_verdict)verdict, ohms(2.0), &text);
        assert_true(text.length > 5);
        sm_text_deinit(&text);
    }
    rig_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(edges_of_good),
        cmocka_unit_test(edges_of_short_and_open),
        cmocka_unit_test(an_edge_belongs_to_what_it_bounds),
        cmocka_unit_test(one_igniter_reads_like_no_part_of_it),
        cmocka_unit_test(unsure_when_both_fit),
        cmocka_unit_test(spare_slots_and_unplugged_rails),
        cmocka_unit_test(which_stand_in_the_way_of_arming),
        cmocka_unit_test(reads_like_fewer_igniters),
        cmocka_unit_test(every_verdict_explained),
    };
    return cmocka_run_group_tests_name("rig verdict", tests, NULL, NULL);
}
