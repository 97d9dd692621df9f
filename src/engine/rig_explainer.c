// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/rig_explainer.h"

#include <stdlib.h>

void sm_rig_explainer_deinit(sm_rig_explainer *explainer) {
    free(explainer->values);
    sm_text_deinit(&explainer->text);
    *explainer = (sm_rig_explainer){0};
}

static bool fit_to(sm_rig_explainer *explainer, const sm_show *show) {
    if (explainer->values && explainer->show == show)
        return true;
    sm_rig_explainer_deinit(explainer);
    explainer->values = calloc(show->slot_count + 1u, sizeof *explainer->values);
    explainer->show = show;
    explainer->slot_count = show->slot_count;
    explainer->swapped[0] = explainer->swapped[1] = SM_NONE;
    return explainer->values != NULL;
}

// Takes the readings over; true when any of them has changed.
static bool take(sm_rig_explainer *explainer, const sm_snapshot *snapshot) {
    bool changed = false;
    for (uint32_t slot = 0; slot < explainer->slot_count; slot++) {
        // A burnt bridge reads open: no cut cable. What was read there before still tells how the rails were plugged.
        const bool burnt = snapshot->slots[slot].phase == SM_SLOT_SPENT &&
                           snapshot->slots[slot].reading.kind == SM_READ_OPEN;
        sm_read_value *was = &explainer->values[slot];
        sm_read_value now = burnt ? *was : snapshot->slots[slot].reading;
        bool same = was->kind == now.kind && !(was->ohms < now.ohms) && !(was->ohms > now.ohms);
        changed = changed || !same;
        *was = now;
    }
    return changed;
}

const char *sm_rig_explainer_look(sm_rig_explainer *explainer, const sm_snapshot *snapshot) {
    if (!fit_to(explainer, snapshot->show))
        return "";
    if (!take(explainer, snapshot))
        return sm_text_get(&explainer->text);
    sm_text_clear(&explainer->text);
    explainer->swapped[0] = explainer->swapped[1] = SM_NONE;
    sm_rig_diagnosis *diagnosis = NULL;
    // All rails as plugged: the readings are of when they were taken. Unplugging a rail to work at it explains none of them.
    if (sm_rig_diagnose(snapshot->show, explainer->values, NULL, &diagnosis) == SM_OK &&
        diagnosis->count > 0) {
        const sm_rig_explanation *best = &diagnosis->explanations[0];
        sm_text_printf(&explainer->text, "%s", best->says);
        for (size_t i = 0; i < 2 && best->fault == SM_RIG_RAILS_SWAPPED; i++)
            explainer->swapped[i] = best->rails[i];
        if (diagnosis->count > 1)
            sm_text_printf(&explainer->text, "; and %u more", diagnosis->count - 1);
    }
    sm_rig_diagnosis_destroy(diagnosis);
    return sm_text_get(&explainer->text);
}
