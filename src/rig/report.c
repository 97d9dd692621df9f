// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/rig.h"

#include <stdlib.h>

static void judge_all(sm_rig_report *report) {
    const sm_show *show = report->show;
    report->all_good = true;
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        report->values[slot] = report->past[slot].now;
        sm_verdict verdict = sm_rig_judge(show, slot, true, report->values[slot]);
        report->verdicts[slot] = verdict;
        report->counts[verdict]++;
        if (show->slot_firings[slot] != SM_NONE && verdict != SM_VERDICT_GOOD)
            report->all_good = false;
    }
}

static sm_result report_fill(sm_rig_report *report) {
    const sm_show *show = report->show;
    size_t slots = (size_t)show->slot_count + 1;
    report->past = calloc(slots, sizeof *report->past);
    report->values = calloc(slots, sizeof *report->values);
    report->verdicts = calloc(slots, sizeof *report->verdicts);
    report->currents = calloc((size_t)show->firing_count + 1, sizeof *report->currents);
    if (!report->past || !report->values || !report->verdicts || !report->currents)
        return SM_NO_MEMORY;
    sm_rig_past_fill(show, report->sets, report->set_count, report->past);
    judge_all(report);
    sm_result result = sm_rig_currents(show, report->currents);
    return result == SM_OK ? sm_rig_diagnose(show, report->values, NULL, &report->diagnosis) : result;
}

sm_result sm_rig_report_create(const sm_show *show, const sm_rig_set *sets, size_t count,
                               sm_rig_report **out) {
    sm_rig_report *report = calloc(1, sizeof *report);
    if (!report)
        return SM_NO_MEMORY;
    report->show = show;
    report->sets = sets;
    report->set_count = count;
    sm_result result = report_fill(report);
    if (result != SM_OK) {
        sm_rig_report_destroy(report);
        return result;
    }
    *out = report;
    return SM_OK;
}

void sm_rig_report_destroy(sm_rig_report *report) {
    if (!report)
        return;
    free(report->past);
    free(report->values);
    free(report->verdicts);
    free(report->currents);
    sm_rig_diagnosis_destroy(report->diagnosis);
    free(report);
}
