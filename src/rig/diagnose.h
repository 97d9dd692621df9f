// SPDX-License-Identifier: GPL-3.0-or-later
// Between the search for explanations and their wording.
#ifndef SLOWMATCH_RIG_DIAGNOSE_H
#define SLOWMATCH_RIG_DIAGNOSE_H

#include "rig/hypothesis.h"

// A hypothesis that was found likely enough, with what it says about each slot it concerns.
typedef struct rig_found {
    sm_rig_explanation explanation;
    double log_odds;
} rig_found;

// The permutation of rails that, with the other explanations of each rail, is the likeliest of all: what
// reads as rail r is rail out[r]. OWN_LOG per rail: log likelihood of its readings as it is explained best
// without being exchanged.
SM_MUST_CHECK sm_result rig_permutation_find(const rig_evidence *evidence, const double *own_log,
                                             uint32_t *out);
// What rail STRIP would read at SLOT of rail PLACE.
rig_claim rig_claim_exchanged(const rig_evidence *evidence, uint32_t slot, uint32_t place, uint32_t strip);
// Log prior of one rail's being exchanged with STRIP.
double rig_permutation_log_prior(const rig_evidence *evidence, uint32_t place, uint32_t strip);

// sm_rig_diagnose into OUT, with everything in OUT->arena.
SM_MUST_CHECK sm_result rig_diagnose_into(const sm_show *show, const sm_read_value *values,
                                          const bool *plugged, sm_rig_diagnosis *out);

// The sentence for EXPLANATION, in the evidence's arena; NULL when memory runs out.
const char *rig_explanation_says(const rig_evidence *evidence, const sm_rig_explanation *explanation);

#endif
