// SPDX-License-Identifier: GPL-3.0-or-later
// A module that fires from a capacitor: what is left in it as its firings draw on it, and what a pulse gives.
//
// Between two moments at which a pulse begins or ends, the capacitor C hangs on the supply by its charging resistor and on
// the loads by the source's own resistance. Both are straight, so its voltage goes to V_supply g_charge / (g_charge +
// g_load) with the time constant C / (g_charge + g_load) (textbook).
#include "rig/current.h"

#include <assert.h>
#include <math.h>

// What adding and taking away again may leave of a sum.
#define LOAD_ROUNDING 1e-9

typedef struct store {
    const sm_module *module;
    double charge_siemens, load_siemens; // of all that draws now
    double volts;
    sm_us now_us;
} store;

static void advance(store *s, sm_us to_us) {
    assert(to_us >= s->now_us && s->load_siemens >= -LOAD_ROUNDING);
    const double load = s->load_siemens > 0.0 ? 1.0 / (s->module->source_ohms + 1.0 / s->load_siemens) : 0.0;
    const double all = s->charge_siemens + load;
    if (all > 0.0) {
        const double seconds = (double)(to_us - s->now_us) / (double)SM_US_PER_S;
        const double aim = s->module->volts_low * s->charge_siemens / all;
        s->volts = aim + (s->volts - aim) * exp(-seconds * all / s->module->capacitance_f);
    }
    s->now_us = to_us;
}

void rig_capacitor_drain(const sm_module *module, rig_draw *draws, uint32_t count) {
    assert(count > 0 && !isnan(module->capacitance_f));
    store s = {.module = module, .volts = module->volts_low, .now_us = draws[0].fire_us};
    uint32_t ends = 0; // the first draw whose pulse is not over
    if (module->charge_ohms > 0.0)
        s.charge_siemens = 1.0 / module->charge_ohms;
    for (uint32_t i = 0; i < count; i++) {
        for (; ends < i && draws[ends].fire_us + module->pulse_us <= draws[i].fire_us; ends++) {
            advance(&s, draws[ends].fire_us + module->pulse_us);
            s.load_siemens = ends + 1 == i ? 0.0 : s.load_siemens - draws[ends].low_siemens;
        }
        advance(&s, draws[i].fire_us);
        if (isnan(module->charge_ohms) && ends == i)
            s.volts = module->volts_low; // how it is charged is not known: see charge-unknown
        draws[i].volts = s.volts;
        s.load_siemens += draws[i].low_siemens;
    }
}

double rig_pulse_share(double farads, double ohms, double seconds) {
    return isnan(farads) ? 1.0 : exp(-seconds / (ohms * farads));
}

double rig_pulse_impulse(double farads, double ohms, double seconds, double amps) {
    if (isnan(farads))
        return amps * amps * seconds * 1000.0;
    const double constant_s = ohms * farads;
    return amps * amps * constant_s / 2.0 * -expm1(-2.0 * seconds / constant_s) * 1000.0;
}
