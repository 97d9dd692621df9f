// SPDX-License-Identifier: GPL-3.0-or-later
// What the loop of a firing should read. One conductor pair a slot; the load sits at the end of cable and
// extra wire.
#include "rig/loop.h"

#include <assert.h>
#include <math.h>

const sm_igniter *rig_firing_igniter(const sm_show *show, const sm_firing *firing) {
    return &show->igniters[show->effects[firing->effect].igniter];
}

// Out and back.
static double pair_ohms(const sm_show_settings *set, rig_bound bound, const sm_gauge *gauge,
                        double length_m) {
    if (length_m <= 0.0)
        return 0.0;
    switch (bound) {
    case RIG_LOW:
        return 2.0 * sm_rig_wire_ohms(gauge, length_m, set->copper_cold_c);
    case RIG_HIGH:
        return 2.0 * sm_rig_wire_most_ohms(gauge, length_m, set->copper_hot_c);
    case RIG_NOMINAL:
        break;
    }
    return 2.0 * sm_rig_wire_ohms(gauge, length_m, set->air_c);
}

double rig_cable_ohms(const sm_show *show, rig_bound bound, const sm_rail *rail) {
    const double joints = bound == RIG_HIGH ? rail->joints * SM_RIG_JOINT_OHMS : 0.0;
    return pair_ohms(&show->settings, bound, &rail->cable, rail->cable_m) + joints;
}

static double run_ohms(const sm_show *show, rig_bound bound, const sm_rail *rail, const sm_firing *firing) {
    return rig_cable_ohms(show, bound, rail) +
           pair_ohms(&show->settings, bound, &firing->wire, firing->wire_m);
}

static double bridge_ohms(const sm_igniter *igniter, rig_bound bound) {
    switch (bound) {
    case RIG_LOW:
        return fmax(0.0, igniter->ohms - igniter->tolerance_ohms);
    case RIG_HIGH:
        return igniter->ohms + igniter->tolerance_ohms;
    case RIG_NOMINAL:
        break;
    }
    return igniter->ohms;
}

static double load_ohms(const rig_load *load, double bridge, double leads) {
    assert(load->bridges >= 1 && load->lead_pairs >= load->bridges);
    switch (load->kind) {
    case SM_LOAD_SERIES:
        return load->bridges * bridge + load->lead_pairs * leads;
    case SM_LOAD_PARALLEL:
        return (bridge + leads) / load->bridges;
    case SM_LOAD_ONE:
    case SM_LOAD_KIND_COUNT:
        break;
    }
    return bridge + leads;
}

sm_rig_loop rig_loop_on(const sm_show *show, uint32_t rail, const sm_firing *firing, rig_load load) {
    const sm_igniter *igniter = rig_firing_igniter(show, firing);
    double ohms[RIG_HIGH + 1], wire = 0.0;
    for (rig_bound bound = RIG_NOMINAL; bound <= RIG_HIGH; bound++) {
        const double run = run_ohms(show, bound, &show->rails[rail], firing);
        const double leads = pair_ohms(&show->settings, bound, &igniter->lead, igniter->lead_m);
        ohms[bound] = run + load_ohms(&load, bridge_ohms(igniter, bound), leads);
        wire = bound == RIG_NOMINAL ? run + leads : wire;
    }
    return (sm_rig_loop){.nominal_ohms = ohms[RIG_NOMINAL],
                         .low_ohms = ohms[RIG_LOW],
                         .high_ohms = ohms[RIG_HIGH],
                         .wire_ohms = wire};
}

rig_load rig_firing_load(const sm_firing *firing) {
    int count = firing->load == SM_LOAD_ONE || firing->igniters < 1 ? 1 : firing->igniters;
    return (rig_load){.kind = firing->load, .bridges = count, .lead_pairs = count};
}

sm_rig_loop sm_rig_firing_loop(const sm_show *show, uint32_t firing) {
    const sm_firing *row = &show->firings[firing];
    return rig_loop_on(show, show->slot_rails[row->slot], row, rig_firing_load(row));
}

// In parallel an igniter gets least when its own bridge is high and all others on its node are low.
rig_worst rig_firing_worst(const sm_show *show, uint32_t firing) {
    const sm_firing *row = &show->firings[firing];
    const sm_igniter *igniter = rig_firing_igniter(show, row);
    const rig_load load = rig_firing_load(row);
    if (load.kind != SM_LOAD_PARALLEL)
        return (rig_worst){.ohms = sm_rig_firing_loop(show, firing).high_ohms, .share = 1.0};
    const double leads = pair_ohms(&show->settings, RIG_HIGH, &igniter->lead, igniter->lead_m);
    const double own = 1.0 / (bridge_ohms(igniter, RIG_HIGH) + leads);
    const double sibling = 1.0 / fmax(bridge_ohms(igniter, RIG_LOW) + leads, RIG_LEAST_OHMS);
    const double all = own + (load.bridges - 1) * sibling;
    const double run = run_ohms(show, RIG_HIGH, &show->rails[show->slot_rails[row->slot]], row);
    return (rig_worst){.ohms = run + 1.0 / all, .share = own / all};
}
