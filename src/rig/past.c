// SPDX-License-Identifier: GPL-3.0-or-later
// Readings of one show at several times. A set that leaves a slot out says nothing about it.
#include "slowmatch/rig.h"

#include <assert.h>
#include <math.h>

void sm_rig_past_fill(const sm_show *show, const sm_rig_set *sets, size_t count, sm_rig_past *out) {
    for (uint32_t slot = 0; slot < show->slot_count; slot++)
        out[slot] = (sm_rig_past){.now_set = SM_NONE, .before_set = SM_NONE};
    for (size_t set = 0; set < count; set++) {
        for (size_t i = 0; i < sets[set].count; i++) {
            const sm_reading *row = &sets[set].readings[i];
            assert(row->slot < show->slot_count);
            sm_rig_past *past = &out[row->slot];
            if (past->now_set != SM_NONE && past->now_set != set) {
                past->before = past->now;
                past->before_set = past->now_set;
            }
            past->now = row->value;
            past->now_set = (uint32_t)set;
        }
    }
}

bool sm_rig_past_explain(const sm_show *show, uint32_t slot, const sm_rig_past *past, sm_text *out) {
    if (past->before_set == SM_NONE)
        return false;
    sm_verdict now = sm_rig_judge(show, slot, true, past->now);
    sm_verdict before = sm_rig_judge(show, slot, true, past->before);
    if (now != before) {
        sm_text_printf(out, "was %s, now %s", sm_verdict_text(before), sm_verdict_text(now));
        return true;
    }
    if (past->now.kind != SM_READ_OHMS || past->before.kind != SM_READ_OHMS)
        return false;
    double drift = fabs(past->now.ohms - past->before.ohms);
    if (drift <= sm_rig_meter_error(show, fmax(past->now.ohms, past->before.ohms)))
        return false;
    sm_text_printf(out, "drifted %.2f ohm, from %.2f to %.2f", drift, past->before.ohms, past->now.ohms);
    return true;
}
