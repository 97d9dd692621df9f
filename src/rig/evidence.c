// SPDX-License-Identifier: GPL-3.0-or-later
// A reading of a loaded slot is a mixture: mostly the predicted ohms with the spread of igniters and meter,
// seldom open, short, or any other ohms. A reading of an empty slot is open, seldom anything else. The rates
// are common practice without a source: they only weigh hypotheses against each other, and no verdict rests
// on them.
#include "rig/evidence.h"

#include "rig/loop.h"

#include <assert.h>
#include <math.h>
#include <string.h>

#define RATE_OPEN 0.010
#define RATE_SHORT 0.004
#define RATE_OTHER 0.006
#define RATE_STRAY 0.003
#define RATE_STRAY_SHORT 0.0005
// Ohms out of any band: even on a logarithmic scale from 0.1 ohm to 1 kohm.
#define OTHER_DECADES_LN 9.2103403719761836 // ln 1e4
#define OTHER_LEAST_OHMS 0.1
#define ROOT_TWO_PI 2.5066282746310002

static double normal_density(double value, double mean, double deviation) {
    double z = (value - mean) / deviation;
    return exp(-0.5 * z * z) / (deviation * ROOT_TWO_PI);
}

static double other_density(double ohms) {
    return 1.0 / (fmax(ohms, OTHER_LEAST_OHMS) * OTHER_DECADES_LN);
}

rig_claim rig_claim_declared(const rig_evidence *evidence, uint32_t slot) {
    return (rig_claim){.strip_slot = evidence->predictions[slot].loaded ? slot : SM_NONE};
}

static double empty_likelihood(sm_read_value seen) {
    switch (seen.kind) {
    case SM_READ_OPEN:
        return 1.0 - RATE_STRAY - RATE_STRAY_SHORT;
    case SM_READ_SHORT:
        return RATE_STRAY_SHORT;
    case SM_READ_OHMS:
        return RATE_STRAY * other_density(seen.ohms);
    case SM_READ_NOTHING:
    case SM_READ_KIND_COUNT:
        break;
    }
    return 1.0;
}

static double loaded_likelihood(const rig_evidence *evidence, sm_read_value seen, const rig_prediction *there,
                                double extra_ohms) {
    switch (seen.kind) {
    case SM_READ_OPEN:
        return RATE_OPEN;
    case SM_READ_SHORT:
        return RATE_SHORT;
    case SM_READ_OHMS: {
        // The meter's error is a bound; half of it stands for one deviation.
        double meter = fmax(0.5 * sm_rig_meter_error(evidence->show, seen.ohms), 0.005);
        double good =
            normal_density(seen.ohms, there->nominal_ohms + extra_ohms, hypot(there->spread_ohms, meter));
        double shunted = normal_density(seen.ohms, there->loop.wire_ohms + extra_ohms, meter);
        return (1.0 - RATE_OPEN - RATE_SHORT - RATE_OTHER) * good + RATE_SHORT * shunted +
               RATE_OTHER * other_density(seen.ohms);
    }
    case SM_READ_NOTHING:
    case SM_READ_KIND_COUNT:
        break;
    }
    return 1.0;
}

double rig_evidence_log(const rig_evidence *evidence, uint32_t slot, rig_claim claim) {
    sm_read_value seen = evidence->seen[slot];
    assert(claim.strip_slot == SM_NONE || claim.strip_slot < evidence->show->slot_count);
    if (seen.kind == SM_READ_NOTHING)
        return 0.0;
    if (claim.strip_slot == SM_NONE || !evidence->predictions[claim.strip_slot].loaded)
        return log(empty_likelihood(seen));
    double likelihood =
        loaded_likelihood(evidence, seen, &evidence->predictions[claim.strip_slot], claim.extra_ohms);
    assert(likelihood > 0.0); // a reading of any ohms may be
    return log(likelihood);
}

sm_verdict rig_evidence_verdict(const rig_evidence *evidence, uint32_t slot, rig_claim claim) {
    sm_read_value seen = evidence->seen[slot];
    if (claim.strip_slot == SM_NONE || !evidence->predictions[claim.strip_slot].loaded) {
        bool nothing = seen.kind == SM_READ_OPEN || seen.kind == SM_READ_NOTHING;
        return nothing ? SM_VERDICT_SPARE : SM_VERDICT_STRAY;
    }
    sm_rig_loop loop = evidence->predictions[claim.strip_slot].loop;
    loop.low_ohms += claim.extra_ohms;
    loop.high_ohms += claim.extra_ohms;
    loop.wire_ohms += claim.extra_ohms;
    return rig_judge_loop(evidence->show, &loop, seen);
}

bool rig_evidence_fits(const rig_evidence *evidence, uint32_t slot, rig_claim claim) {
    switch (rig_evidence_verdict(evidence, slot, claim)) {
    case SM_VERDICT_OPEN:
    case SM_VERDICT_SHORT:
    case SM_VERDICT_LOW:
    case SM_VERDICT_HIGH:
    case SM_VERDICT_STRAY:
        return false;
    default:
        return true;
    }
}

bool rig_evidence_is_off(const rig_evidence *evidence, uint32_t slot) {
    return !rig_evidence_fits(evidence, slot, rig_claim_declared(evidence, slot));
}

static double load_spread(const sm_show *show, const sm_firing *firing) {
    rig_load load = rig_firing_load(firing);
    double tolerance = rig_firing_igniter(show, firing)->tolerance_ohms;
    double factor = load.kind == SM_LOAD_PARALLEL ? 1.0 / load.bridges : load.bridges;
    return 0.5 * tolerance * factor;
}

static void predict(const sm_show *show, rig_prediction *predictions) {
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        uint32_t firing = show->slot_firings[slot];
        if (firing == SM_NONE)
            continue;
        sm_rig_loop loop = sm_rig_firing_loop(show, firing);
        predictions[slot] = (rig_prediction){.loaded = true,
                                             .loop = loop,
                                             .nominal_ohms = loop.nominal_ohms,
                                             .spread_ohms = load_spread(show, &show->firings[firing])};
    }
}

sm_result rig_evidence_make(const sm_show *show, const sm_read_value *values, const bool *plugged,
                            sm_arena *arena, rig_evidence *out) {
    sm_read_value *seen = sm_arena_alloc(arena, show->slot_count * sizeof *seen);
    rig_prediction *predictions = sm_arena_alloc(arena, show->slot_count * sizeof *predictions);
    bool *is_plugged = sm_arena_alloc(arena, show->rail_count * sizeof *is_plugged);
    if (!seen || !predictions || !is_plugged)
        return SM_NO_MEMORY;
    for (uint32_t rail = 0; rail < show->rail_count; rail++)
        is_plugged[rail] = !plugged || plugged[rail];
    for (uint32_t slot = 0; slot < show->slot_count; slot++)
        if (is_plugged[show->slot_rails[slot]])
            seen[slot] = rig_reads_open(values[slot]) ? (sm_read_value){.kind = SM_READ_OPEN} : values[slot];
    predict(show, predictions);
    *out = (rig_evidence){
        .show = show, .seen = seen, .predictions = predictions, .plugged = is_plugged, .arena = arena};
    return SM_OK;
}
