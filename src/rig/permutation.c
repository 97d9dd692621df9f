// SPDX-License-Identifier: GPL-3.0-or-later
// Rails exchanged with each other. Each pair (place, strip) has a log likelihood of its own, so the likeliest
// permutation is an assignment; whatever it moves comes in cycles, and each cycle stands or falls by itself.
#include "rig/diagnose.h"

#include "slowmatch/assign.h"

#include <math.h>

// A strip of another size seldom fits the plug.
#define OTHER_SIZE_LOG_PRIOR (-2.302585092994046) // ln 0.1
#define NEVER 1e12

rig_claim rig_claim_exchanged(const rig_evidence *evidence, uint32_t slot, uint32_t place, uint32_t strip) {
    const sm_rail *here = &evidence->show->rails[place], *there = &evidence->show->rails[strip];
    uint32_t at = slot - here->slot_base;
    return (rig_claim){.strip_slot = at < (uint32_t)there->slots ? there->slot_base + at : SM_NONE};
}

double rig_permutation_log_prior(const rig_evidence *evidence, uint32_t place, uint32_t strip) {
    const sm_show *show = evidence->show;
    // Either rail of a pair may be the one that went astray, with any of the others: half of that to each.
    double pair = rig_hypotheses[SM_RIG_RAILS_SWAPPED].prior / fmax(1.0, show->rail_count - 1.0);
    double log_prior = 0.5 * log(pair);
    return show->rails[place].slots == show->rails[strip].slots ? log_prior
                                                                : log_prior + OTHER_SIZE_LOG_PRIOR;
}

static double exchanged_log(const rig_evidence *evidence, uint32_t place, uint32_t strip) {
    const sm_rail *here = &evidence->show->rails[place];
    double sum = rig_permutation_log_prior(evidence, place, strip);
    for (uint32_t slot = here->slot_base; slot < here->slot_base + (uint32_t)here->slots; slot++)
        sum += rig_evidence_log(evidence, slot, rig_claim_exchanged(evidence, slot, place, strip));
    return sum;
}

sm_result rig_permutation_find(const rig_evidence *evidence, const double *own_log, uint32_t *out) {
    uint32_t n = evidence->show->rail_count;
    double *costs = sm_arena_alloc(evidence->arena, (size_t)n * n * sizeof *costs);
    if (!costs)
        return SM_NO_MEMORY;
    for (uint32_t place = 0; place < n; place++) {
        for (uint32_t strip = 0; strip < n; strip++) {
            double *cost = &costs[(size_t)place * n + strip];
            if (place == strip)
                *cost = -own_log[place];
            else if (evidence->plugged[place]) // and so is the strip: what moves comes in cycles
                *cost = -exchanged_log(evidence, place, strip);
            else
                *cost = NEVER;
        }
    }
    return sm_assign(costs, n, evidence->arena, out);
}
