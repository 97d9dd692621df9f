// SPDX-License-Identifier: GPL-3.0-or-later
// Readings as evidence: how likely one is, given what hangs on the slot. A claim is what some hypothesis says
// about a slot: which strip slot is really there, and how many ohms come on top.
#ifndef SLOWMATCH_RIG_EVIDENCE_H
#define SLOWMATCH_RIG_EVIDENCE_H

#include "slowmatch/rig.h"

typedef struct rig_claim {
    uint32_t strip_slot; // show-wide slot whose igniter and cable are here; SM_NONE: nothing conducts here
    double extra_ohms;
} rig_claim;

typedef struct rig_prediction {
    bool loaded;
    sm_rig_loop loop;
    double nominal_ohms; // with what the whole rig has in common, see rig_baseline_apply
    double spread_ohms;  // of the igniters alone, one standard deviation
} rig_prediction;

typedef struct rig_evidence {
    const sm_show *show;
    const sm_read_value *seen;   // per slot; open from 1 kohm on, nothing on rails known to be unplugged
    rig_prediction *predictions; // per strip slot, on its own rail
    bool *plugged;               // per rail
    sm_arena *arena;             // for scratch and results
} rig_evidence;

// Fills *out from the arguments of sm_rig_diagnose; everything in ARENA.
SM_MUST_CHECK sm_result rig_evidence_make(const sm_show *show, const sm_read_value *values,
                                          const bool *plugged, sm_arena *arena, rig_evidence *out);
// Log likelihood of what was seen at SLOT under CLAIM; 0 where nothing was read.
double rig_evidence_log(const rig_evidence *evidence, uint32_t slot, rig_claim claim);
// What the reading at SLOT means under CLAIM; empty slots are spare or stray.
sm_verdict rig_evidence_verdict(const rig_evidence *evidence, uint32_t slot, rig_claim claim);
// What was seen at SLOT is as CLAIM predicts, or may be (unsure); true where nothing was read.
bool rig_evidence_fits(const rig_evidence *evidence, uint32_t slot, rig_claim claim);
// Something was read at SLOT and it is off as declared.
bool rig_evidence_is_off(const rig_evidence *evidence, uint32_t slot);
rig_claim rig_claim_declared(const rig_evidence *evidence, uint32_t slot);

// Sets the predictions by what all rails have in common: the meter's offset, or the copper's temperature. CLAIMS per
// slot: what is behind the readings, as far as is known; NULL: the rails are taken to have nothing in common.
SM_MUST_CHECK sm_result rig_baseline_apply(rig_evidence *evidence, const rig_claim *claims);
// The median of what the ohm readings of RAIL have over their predictions under CLAIMS (per slot of the rail, extra ohms
// aside); *count of them. SCRATCH has room for the rail's slots.
double rig_rail_residual(const rig_evidence *evidence, uint32_t rail, const rig_claim *claims,
                         double *scratch, uint32_t *count);

#endif
