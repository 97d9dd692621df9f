// SPDX-License-Identifier: GPL-3.0-or-later
// The firings of a module as they draw on its source.
#ifndef SLOWMATCH_RIG_CURRENT_H
#define SLOWMATCH_RIG_CURRENT_H

#include "rig/loop.h"

typedef struct rig_draw {
    sm_us fire_us;
    uint32_t module, firing;
    double low_siemens; // 1 / low
    double volts;       // of the source when it begins
} rig_draw;

// Sets what the capacitor of MODULE holds when each of its COUNT draws (in order of time, at least one) begins: full at the
// first, drained by every pulse in its whole length, charged between through charge_ohms. Without charge_ohms it counts as
// full again after every pulse.
void rig_capacitor_drain(const sm_module *module, rig_draw *draws, uint32_t count);

// Of what flows at first, the share that still flows after SECONDS out of FARADS (NAN: a steady source) through OHMS.
double rig_pulse_share(double farads, double ohms, double seconds);
// Firing impulse in mJ/ohm (the integral of amps squared) that AMPS at first give in SECONDS.
double rig_pulse_impulse(double farads, double ohms, double seconds, double amps);

#endif
