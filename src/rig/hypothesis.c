// SPDX-License-Identifier: GPL-3.0-or-later
#include "rig/hypothesis.h"

#include "rig/loop.h"

#include <assert.h>
#include <math.h>

#define LEAST_RUN 3
#define LEAST_OFFSET_READINGS 3
// Before any reading, an offset may be anything over so many ohms.
#define OFFSET_RANGE_OHMS 20.0
// An offset is beyond the meter's error by this factor, or beyond what its cable may have by this share
// of it.
#define OFFSET_OVER_ERROR 1.8
#define OFFSET_OVER_CABLE 0.75
#define ROOT_TWO_PI 2.5066282746310002

static uint32_t rail_slots(const rig_evidence *evidence, uint32_t rail) {
    return (uint32_t)evidence->show->rails[rail].slots;
}

static uint32_t rail_base(const rig_evidence *evidence, uint32_t rail) {
    return evidence->show->rails[rail].slot_base;
}

static bool is_loaded(const rig_evidence *evidence, uint32_t slot) {
    return evidence->predictions[slot].loaded;
}

// NTH 0: every slot shows the reading of the slot before it. NTH 1: of the slot after it.
static bool propose_shifted(const rig_evidence *evidence, uint32_t nth, double *scratch, rig_proposal *out) {
    (void)scratch;
    if (nth > 1)
        return false;
    uint32_t base = rail_base(evidence, out->rail), slots = rail_slots(evidence, out->rail);
    out->shift = nth == 0 ? 1 : -1;
    for (uint32_t i = 0; i < slots; i++) {
        bool off_end = nth == 0 ? i == 0 : i + 1 == slots;
        out->claims[i].strip_slot = off_end ? SM_NONE : nth == 0 ? base + i - 1 : base + i + 1;
    }
    return true;
}

static bool propose_reversed(const rig_evidence *evidence, uint32_t nth, double *scratch, rig_proposal *out) {
    (void)scratch;
    uint32_t base = rail_base(evidence, out->rail), slots = rail_slots(evidence, out->rail);
    for (uint32_t i = 0; i < slots; i++)
        out->claims[i].strip_slot = base + slots - 1 - i;
    return nth == 0;
}

static bool propose_unplugged(const rig_evidence *evidence, uint32_t nth, double *scratch,
                              rig_proposal *out) {
    (void)scratch;
    uint32_t slots = rail_slots(evidence, out->rail);
    for (uint32_t i = 0; i < slots; i++)
        out->claims[i].strip_slot = SM_NONE;
    return nth == 0;
}

static bool reads_open(const rig_evidence *evidence, uint32_t slot) {
    return evidence->seen[slot].kind == SM_READ_OPEN;
}

static bool all_programmed_open(const rig_evidence *evidence, uint32_t rail) {
    uint32_t base = rail_base(evidence, rail);
    for (uint32_t slot = base; slot < base + rail_slots(evidence, rail); slot++) {
        bool read = evidence->seen[slot].kind != SM_READ_NOTHING;
        if (is_loaded(evidence, slot) && read && !reads_open(evidence, slot))
            return false;
    }
    return true;
}

// The next run at or after *at (slot of the rail from 0). Slots that are spare or were not read neither break
// nor make one; whatever conducts breaks it.
static uint32_t next_run(const rig_evidence *evidence, uint32_t rail, uint32_t *at, uint32_t *first,
                         uint32_t *last) {
    uint32_t base = rail_base(evidence, rail), slots = rail_slots(evidence, rail), opens = 0;
    for (; *at < slots; (*at)++) {
        uint32_t slot = base + *at;
        bool read = evidence->seen[slot].kind != SM_READ_NOTHING;
        if (read && !reads_open(evidence, slot)) {
            if (opens > 0)
                return opens;
        } else if (read && is_loaded(evidence, slot)) {
            *first = opens == 0 ? *at : *first;
            *last = *at;
            opens++;
        }
    }
    return opens;
}

static bool propose_run(const rig_evidence *evidence, uint32_t nth, double *scratch, rig_proposal *out) {
    (void)scratch;
    if (all_programmed_open(evidence, out->rail))
        return false;
    uint32_t slots = rail_slots(evidence, out->rail);
    for (uint32_t at = 0, found = 0; at < slots;) {
        uint32_t first = 0, last = 0;
        if (next_run(evidence, out->rail, &at, &first, &last) < LEAST_RUN || found++ < nth)
            continue;
        assert(first <= last && last < slots);
        for (uint32_t i = first; i <= last; i++)
            out->claims[i].strip_slot = SM_NONE;
        out->first = first;
        out->last = last;
        out->whole_rail = false;
        out->log_prior -= log(slots); // it may begin anywhere
        return true;
    }
    return false;
}

// How far the rail's cable may lie from its prediction, to the side of OHMS, and still be within its standard.
static double cable_extent(const rig_evidence *evidence, uint32_t rail, double ohms) {
    const sm_rail *row = &evidence->show->rails[rail];
    return fabs(rig_cable_ohms(evidence->show, ohms > 0.0 ? RIG_HIGH : RIG_LOW, row) -
                rig_cable_ohms(evidence->show, RIG_NOMINAL, row));
}

static bool propose_offset(const rig_evidence *evidence, uint32_t nth, double *scratch, rig_proposal *out) {
    uint32_t base = rail_base(evidence, out->rail), slots = rail_slots(evidence, out->rail), count;
    double ohms = rig_rail_residual(evidence, out->rail, out->claims, scratch, &count);
    if (nth > 0 || count < LEAST_OFFSET_READINGS)
        return false;
    double error = 0.0, spread = 0.0;
    for (uint32_t i = 0; i < slots; i++) {
        sm_read_value seen = evidence->seen[base + i];
        if (is_loaded(evidence, base + i) && seen.kind == SM_READ_OHMS) {
            error += sm_rig_meter_error(evidence->show, seen.ohms) / count;
            spread += evidence->predictions[base + i].spread_ohms / count;
        }
        out->claims[i].extra_ohms = ohms;
    }
    double least =
        fmax(OFFSET_OVER_ERROR * error, cable_extent(evidence, out->rail, ohms) + OFFSET_OVER_CABLE * error);
    out->ohms = ohms;
    // An estimate fits better than a guess: it pays for the share of the range that the readings leave it.
    double known_to = ROOT_TWO_PI * hypot(spread, error / 2.0) / sqrt(count);
    out->log_prior -= fmax(0.0, log(OFFSET_RANGE_OHMS / known_to));
    return fabs(ohms) > least;
}

// Priors are common practice without a source: what goes wrong on a rail, most often first.
const rig_hypothesis rig_hypotheses[] = {
    [SM_RIG_RAILS_SWAPPED] = {SM_RIG_RAILS_SWAPPED, 0.01, 3, NULL},
    [SM_RIG_RAILS_PERMUTED] = {SM_RIG_RAILS_PERMUTED, 0.01, 3, NULL},
    [SM_RIG_RAIL_SHIFTED] = {SM_RIG_RAIL_SHIFTED, 0.005, 3, propose_shifted},
    [SM_RIG_RAIL_REVERSED] = {SM_RIG_RAIL_REVERSED, 0.003, 3, propose_reversed},
    [SM_RIG_RAIL_UNPLUGGED] = {SM_RIG_RAIL_UNPLUGGED, 0.01, 1, propose_unplugged},
    [SM_RIG_RUN_OPEN] = {SM_RIG_RUN_OPEN, 0.005, LEAST_RUN, propose_run},
    [SM_RIG_RAIL_OFFSET] = {SM_RIG_RAIL_OFFSET, 0.01, LEAST_OFFSET_READINGS, propose_offset},
};
static_assert(sizeof rig_hypotheses / sizeof rig_hypotheses[0] == SM_RIG_FAULT_COUNT,
              "a hypothesis for each fault");
