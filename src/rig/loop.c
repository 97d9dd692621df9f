// SPDX-License-Identifier: GPL-3.0-or-later
// What the loop of a firing should read. One conductor pair a slot; the load sits at the end of cable and
// extra wire.
#include "rig/loop.h"

#include <math.h>

// IEC 60028: annealed copper at 20 C, ohm mm2/m, and its temperature coefficient at constant mass, 1/K.
#define COPPER_OHM_MM2_M (1.0 / 58.0)
#define COPPER_ALPHA 0.00393
#define COPPER_REFERENCE_C 20.0

double sm_rig_wire_ohms(const sm_gauge *gauge, double length_m, double celsius) {
    double r20 = COPPER_OHM_MM2_M / gauge->area_mm2 * gauge->factor;
    return length_m * r20 * (1.0 + COPPER_ALPHA * (celsius - COPPER_REFERENCE_C));
}

// Out and back.
static double pair_ohms(const sm_gauge *gauge, double length_m, double celsius) {
    return length_m > 0.0 ? 2.0 * sm_rig_wire_ohms(gauge, length_m, celsius) : 0.0;
}

const sm_igniter *rig_firing_igniter(const sm_show *show, const sm_firing *firing) {
    return &show->igniters[show->effects[firing->effect].igniter];
}

static double run_ohms(const sm_rail *rail, const sm_firing *firing, double celsius) {
    return pair_ohms(&rail->cable, rail->cable_m, celsius) +
           pair_ohms(&firing->wire, firing->wire_m, celsius);
}

static double load_ohms(const rig_load *load, double bridge, double leads) {
    switch (load->kind) {
    case SM_LOAD_SERIES:
        return load->bridges * bridge + load->lead_pairs * leads;
    case SM_LOAD_PARALLEL:
        return (bridge + leads) / load->bridges;
    case SM_LOAD_ONE:
        break;
    }
    return bridge + leads;
}

sm_rig_loop rig_loop_on(const sm_show *show, uint32_t rail_index, const sm_firing *firing, rig_load load) {
    const sm_show_settings *set = &show->settings;
    const sm_rail *rail = &show->rails[rail_index];
    const sm_igniter *igniter = rig_firing_igniter(show, firing);
    double air_leads = pair_ohms(&igniter->lead, igniter->lead_m, set->air_c);
    double cold_leads = pair_ohms(&igniter->lead, igniter->lead_m, set->copper_cold_c);
    double hot_leads = pair_ohms(&igniter->lead, igniter->lead_m, set->copper_hot_c);
    double least = fmax(0.0, igniter->ohms - igniter->tolerance_ohms);
    double most = igniter->ohms + igniter->tolerance_ohms;
    double air_run = run_ohms(rail, firing, set->air_c);
    return (sm_rig_loop){
        .nominal_ohms = air_run + load_ohms(&load, igniter->ohms, air_leads),
        .low_ohms = run_ohms(rail, firing, set->copper_cold_c) + load_ohms(&load, least, cold_leads),
        .high_ohms = run_ohms(rail, firing, set->copper_hot_c) + load_ohms(&load, most, hot_leads),
        .wire_ohms = air_run + air_leads,
    };
}

rig_load rig_firing_load(const sm_firing *firing) {
    int count = firing->load == SM_LOAD_ONE || firing->igniters < 1 ? 1 : firing->igniters;
    return (rig_load){.kind = firing->load, .bridges = count, .lead_pairs = count};
}

sm_rig_loop sm_rig_firing_loop(const sm_show *show, uint32_t firing) {
    const sm_firing *row = &show->firings[firing];
    return rig_loop_on(show, show->slot_rails[row->slot], row, rig_firing_load(row));
}
