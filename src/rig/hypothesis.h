// SPDX-License-Identifier: GPL-3.0-or-later
// The hypotheses about a rig, one row each.
#ifndef SLOWMATCH_RIG_HYPOTHESIS_H
#define SLOWMATCH_RIG_HYPOTHESIS_H

#include "rig/evidence.h"

// What a hypothesis says about one rail. `claims` holds one for each of its slots.
typedef struct rig_proposal {
    rig_claim *claims;
    uint32_t rail;
    uint32_t first, last; // of a run: slots of the rail from 0, both programmed
    int shift;
    double ohms;      // of an offset
    double log_prior; // against independent faults
    bool whole_rail;  // false: concerns first to last only, and may stand beside others of its kind
} rig_proposal;

typedef struct rig_hypothesis {
    sm_rig_fault fault;
    double prior;             // of a rail, or of a rail's being exchanged with some other
    uint32_t least_explained; // readings it must explain to be said
    // Fills the NTH proposal (from 0) for OUT->rail over claims as declared; false when there are no more.
    // NULL: about several rails at once, see permutation.c. SCRATCH has room for the rail's slots.
    bool (*propose)(const rig_evidence *evidence, uint32_t nth, double *scratch, rig_proposal *out);
} rig_hypothesis;

// Indexed by fault.
extern const rig_hypothesis rig_hypotheses[SM_RIG_FAULT_COUNT];

#endif
