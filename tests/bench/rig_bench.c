// SPDX-License-Identifier: GPL-3.0-or-later
// How often the diagnosis names what was planted in random rigs, as a confusion table, and what a large rig costs.
#include "../support/rig_random.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { RIGS = 1000, ROUNDS = 20, NOTHING = SM_RIG_FAULT_COUNT };

static double now_ms(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return 1e3 * (double)now.tv_sec + 1e-6 * (double)now.tv_nsec;
}

static sm_rig_diagnosis *diagnose(const sm_show *show, const sm_read_value *values) {
    sm_rig_diagnosis *diagnosis;
    if (sm_rig_diagnose(show, values, NULL, &diagnosis) != SM_OK)
        exit(2);
    return diagnosis;
}

static const char *fault_name(int fault) {
    return fault == NOTHING ? "none" : sm_rig_fault_text((sm_rig_fault)fault);
}

// One row: of RIGS rigs with PLANTED, how many had which explanation first; `exact` also has rails, way and slots right.
static void confusion_row(int planted) {
    uint32_t first[SM_RIG_FAULT_COUNT + 1] = {0}, exact = 0;
    for (uint64_t seed = 1; seed <= RIGS; seed++) {
        rig_case *test = rig_case_create(seed, (sm_rig_fault)planted);
        sm_rig_diagnosis *diagnosis = diagnose(test->show, test->values);
        first[diagnosis->count > 0 ? (int)diagnosis->explanations[0].fault : NOTHING]++;
        exact +=
            diagnosis->count > 0 ? rig_case_is_named(test, &diagnosis->explanations[0]) : planted == NOTHING;
        sm_rig_diagnosis_destroy(diagnosis);
        rig_case_destroy(test);
    }
    printf("%-15s", fault_name(planted));
    for (int fault = 0; fault <= SM_RIG_FAULT_COUNT; fault++)
        printf(" %9u", first[fault]);
    printf(" %9u\n", exact);
}

static void confusion_table(void) {
    static const char *const heads[] = {"swapped", "permuted", "shifted", "reversed", "unplugged",
                                        "run",     "offset",   "none",    "exact"};
    printf("of %d random rigs each, 2 %% independent faults on top\n%-15s", RIGS, "planted \\ named");
    for (size_t i = 0; i < sizeof heads / sizeof *heads; i++)
        printf(" %9s", heads[i]);
    printf("\n");
    for (int planted = 0; planted <= SM_RIG_FAULT_COUNT; planted++)
        confusion_row(planted);
}

// N rails of N / 2 slots, all different, all turned round by one place: every pair has to be compared.
static double round_ms(uint32_t n) {
    sm_show *show = rig_show_create(n, n / 2);
    sm_read_value *values = calloc(show->slot_count, sizeof *values);
    if (!values)
        exit(2);
    for (uint32_t rail = 0; rail < n; rail++) {
        rig_show_cable(show, rail, 5.0 + 7 * rail % 61, 22);
        for (uint32_t number = 1; number <= n / 2; number++)
            if ((number * 7 + rail * 5) % 11 != 0)
                rig_show_fire(show, rail, number, 0, SM_LOAD_ONE, 1);
    }
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        uint32_t firing = show->slot_firings[(slot + n / 2) % show->slot_count];
        values[slot].kind = firing == SM_NONE ? SM_READ_OPEN : SM_READ_OHMS;
        if (firing != SM_NONE)
            values[slot].ohms = sm_rig_firing_loop(show, firing).nominal_ohms;
    }
    double began = now_ms();
    for (int i = 0; i < ROUNDS; i++)
        sm_rig_diagnosis_destroy(diagnose(show, values));
    double took = (now_ms() - began) / ROUNDS;
    free(values);
    rig_show_destroy(show);
    return took;
}

int main(void) {
    confusion_table();
    double half = round_ms(32), whole = round_ms(64);
    printf("64 rails of 32 slots, all permuted: %.2f ms of processor a diagnosis (wanted: under 50)\n",
           whole);
    printf("against 32 rails of 16 slots: %.1f times (8 by n^2 s and n^3)\n", whole / half);
    return 0;
}
