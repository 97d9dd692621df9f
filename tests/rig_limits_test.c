// SPDX-License-Identifier: GPL-3.0-or-later
// Where the rules of the firing line end, to the step: format.md's bands of a partial load, checked by a load that is whole and alike.
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

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_left_of_three_in_parallel_reads_as_one),
        cmocka_unit_test(one_left_of_two_in_series_reads_as_one_with_or_without_leads),
    };
    return cmocka_run_group_tests_name("rig limits", tests, NULL, NULL);
}
