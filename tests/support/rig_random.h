// SPDX-License-Identifier: GPL-3.0-or-later
// Random rigs with a planted fault and random faults on top, from a seed: for the property tests and the
// confusion table.
#ifndef SLOWMATCH_TESTS_RIG_RANDOM_H
#define SLOWMATCH_TESTS_RIG_RANDOM_H

#include "rig_show.h"

#include "slowmatch/rig.h"

typedef struct rig_case {
    sm_show *show;
    sm_read_value values[RIG_SHOW_RAILS * RIG_SHOW_SLOTS];
    sm_rig_fault planted; // SM_RIG_FAULT_COUNT: none
    uint32_t rails[4];    // what reads as rails[i] is rails[i + 1], round
    uint32_t rail_count;
    uint32_t first, last; // show-wide slots of a planted run
    int shift;
    double ohms;
} rig_case;

// Makes a rig with PLANTED (SM_RIG_FAULT_COUNT: nothing) that can be told at all: at least 3 readings change
// by presence or by over 3 times the meter's error; an offset by over 3 times that error. Igniters anywhere
// within their tolerance, the meter anywhere within its error, copper anywhere within the show's bounds in
// half of the rigs; 2 % of the programmed slots have an independent fault, 0.5 % of the spare ones a stray.
// The caller destroys it.
rig_case *rig_case_create(uint64_t seed, sm_rig_fault planted);
void rig_case_destroy(rig_case *test);

// EXPLANATION names what was planted: the fault, its rails, its direction; of a run at least its slots.
bool rig_case_is_named(const rig_case *test, const sm_rig_explanation *explanation);

#endif
