// SPDX-License-Identifier: GPL-3.0-or-later
// What all rails have in common is no rail's fault: one meter measures them all and reads a little off, one
// sun warms their copper. With three rails or more that have readings, the common part is taken out of the
// predictions, so that it neither looks like an offset of each rail nor blurs which rail is which.
#include "rig/evidence.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

#define LEAST_RAILS 3
#define LEAST_READINGS 3

typedef struct rail_residual {
    double ohms;       // median reading less prediction
    double wire_ohms;  // of its slots, on the average
    double error_ohms; // of the meter
} rail_residual;

static int compare_doubles(const void *left, const void *right) {
    double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

static double median(double *values, uint32_t count) {
    assert(count > 0);
    qsort(values, count, sizeof *values, compare_doubles);
    return count % 2 == 1 ? values[count / 2] : (values[count / 2 - 1] + values[count / 2]) / 2.0;
}

// What is predicted for an ohm reading at SLOT; NULL where none was taken or nothing should conduct.
static const rig_prediction *behind(const rig_evidence *evidence, uint32_t slot, rig_claim claim) {
    bool conducts = claim.strip_slot != SM_NONE && evidence->predictions[claim.strip_slot].loaded;
    return conducts && evidence->seen[slot].kind == SM_READ_OHMS ? &evidence->predictions[claim.strip_slot]
                                                                 : NULL;
}

double rig_rail_residual(const rig_evidence *evidence, uint32_t rail, const rig_claim *claims,
                         double *scratch, uint32_t *count) {
    const sm_rail *row = &evidence->show->rails[rail];
    *count = 0;
    for (uint32_t i = 0; i < (uint32_t)row->slots; i++) {
        const rig_prediction *there = behind(evidence, row->slot_base + i, claims[i]);
        if (there)
            scratch[(*count)++] = evidence->seen[row->slot_base + i].ohms - there->nominal_ohms;
    }
    return *count > 0 ? median(scratch, *count) : 0.0;
}

static rail_residual residual_of(const rig_evidence *evidence, uint32_t rail, const rig_claim *claims,
                                 double *scratch, uint32_t *count) {
    const sm_rail *row = &evidence->show->rails[rail];
    rail_residual residual = {.ohms = rig_rail_residual(evidence, rail, claims, scratch, count)};
    double wire = 0.0, seen = 0.0;
    for (uint32_t i = 0; i < (uint32_t)row->slots; i++) {
        const rig_prediction *there = behind(evidence, row->slot_base + i, claims[i]);
        if (there) {
            wire += there->loop.wire_ohms;
            seen += evidence->seen[row->slot_base + i].ohms;
        }
    }
    if (*count > 0) {
        residual.wire_ohms = wire / *count;
        residual.error_ohms = sm_rig_meter_error(evidence->show, seen / *count);
    }
    return residual;
}

// What is left when OFFSET and FACTOR x wire are taken out; a rail that is off by itself counts no more than
// twice the meter's error.
static double misfit(const rail_residual *rails, uint32_t count, double offset, double factor) {
    double sum = 0.0;
    for (uint32_t i = 0; i < count; i++) {
        double rest = fabs(rails[i].ohms - offset - factor * rails[i].wire_ohms);
        sum += fmin(rest, 2.0 * rails[i].error_ohms);
    }
    return sum;
}

static double common_offset(const rail_residual *rails, uint32_t count, double *scratch) {
    for (uint32_t i = 0; i < count; i++)
        scratch[i] = rails[i].ohms;
    double offset = median(scratch, count);
    for (uint32_t i = 0; i < count; i++)
        scratch[i] = rails[i].error_ohms;
    double error = median(scratch, count);
    return fmax(-error, fmin(error, offset));
}

// As a share of the wire's resistance, within what the show allows its copper and a standard its cables.
static double common_factor(const sm_show *show, const rail_residual *rails, uint32_t count,
                            double *scratch) {
    const sm_gauge copper = {.area_mm2 = 1.0, .factor = 1.0, .is_awg = true};
    double air = sm_rig_wire_ohms(&copper, 1.0, show->settings.air_c);
    double least = sm_rig_wire_ohms(&copper, 1.0, show->settings.copper_cold_c) / air - 1.0;
    double most = sm_rig_wire_most_ohms(&copper, 1.0, show->settings.copper_hot_c) / air - 1.0;
    for (uint32_t i = 0; i < show->rail_count; i++) {
        const sm_gauge *cable = &show->rails[i].cable;
        most = fmax(most, sm_rig_wire_most_ohms(cable, 1.0, show->settings.copper_hot_c) /
                                  sm_rig_wire_ohms(cable, 1.0, show->settings.air_c) -
                              1.0);
    }
    for (uint32_t i = 0; i < count; i++)
        scratch[i] = rails[i].wire_ohms > 0.0 ? rails[i].ohms / rails[i].wire_ohms : 0.0;
    return fmax(least, fmin(most, median(scratch, count)));
}

static void shift_predictions(rig_evidence *evidence, double offset, double factor) {
    for (uint32_t slot = 0; slot < evidence->show->slot_count; slot++) {
        rig_prediction *there = &evidence->predictions[slot];
        there->nominal_ohms = there->loop.nominal_ohms + offset + factor * there->loop.wire_ohms;
    }
}

sm_result rig_baseline_apply(rig_evidence *evidence, const rig_claim *claims) {
    const sm_show *show = evidence->show;
    uint32_t room = show->slot_count > show->rail_count ? show->slot_count : show->rail_count;
    double *scratch = sm_arena_alloc(evidence->arena, room * sizeof *scratch);
    rail_residual *rails = sm_arena_alloc(evidence->arena, show->rail_count * sizeof *rails);
    if (!scratch || !rails)
        return SM_NO_MEMORY;
    shift_predictions(evidence, 0.0, 0.0);
    uint32_t count = 0;
    for (uint32_t rail = 0; claims && rail < show->rail_count; rail++) {
        uint32_t readings;
        rail_residual residual =
            residual_of(evidence, rail, &claims[show->rails[rail].slot_base], scratch, &readings);
        if (readings >= LEAST_READINGS)
            rails[count++] = residual;
    }
    assert(count <= show->rail_count);
    if (count < LEAST_RAILS)
        return SM_OK;
    double offset = common_offset(rails, count, scratch), factor = common_factor(show, rails, count, scratch);
    double plain = misfit(rails, count, 0.0, 0.0);
    double with_offset = misfit(rails, count, offset, 0.0), with_factor = misfit(rails, count, 0.0, factor);
    if (with_offset < plain && with_offset <= with_factor)
        shift_predictions(evidence, offset, 0.0);
    else if (with_factor < plain)
        shift_predictions(evidence, 0.0, factor);
    return SM_OK;
}
