// SPDX-License-Identifier: GPL-3.0-or-later
// The loop of a firing on any rail, with any number of its igniters: what the verdicts and the diagnosis are
// made of.
#ifndef SLOWMATCH_RIG_LOOP_H
#define SLOWMATCH_RIG_LOOP_H

#include "slowmatch/rig.h"

// Keeps a loop without any resistance (a tolerance as large as the igniter) finite.
#define RIG_LEAST_OHMS 1e-6

// What is taken of copper, bridges and joints: see sm_rig_loop.
typedef enum rig_bound { RIG_NOMINAL, RIG_LOW, RIG_HIGH } rig_bound;

// What hangs at the end of the wires. In series, the leads of a shunted bridge stay in the loop: lead_pairs
// >= bridges.
typedef struct rig_load {
    sm_load_kind kind;
    int bridges, lead_pairs;
} rig_load;

// All igniters of FIRING, whole.
rig_load rig_firing_load(const sm_firing *firing);
const sm_igniter *rig_firing_igniter(const sm_show *show, const sm_firing *firing);
// The loop of FIRING with LOAD in place of its own, at the end of the cable of RAIL (row of show->rails).
sm_rig_loop rig_loop_on(const sm_show *show, uint32_t rail, const sm_firing *firing, rig_load load);

// The cable of RAIL out and back, with its joints.
double rig_cable_ohms(const sm_show *show, rig_bound bound, const sm_rail *rail);

// The circuit of a firing at its worst for one of its igniters.
typedef struct rig_worst {
    double ohms;  // of the whole circuit, as its source sees it
    double share; // of its current that this igniter gets
} rig_worst;
rig_worst rig_firing_worst(const sm_show *show, uint32_t firing);

// Open, or ohms that no igniter circuit has.
bool rig_reads_open(sm_read_value value);
// VALUE against LOOP: unread, open, short, unsure, good, low or high.
sm_verdict rig_judge_loop(const sm_show *show, const sm_rig_loop *loop, sm_read_value value);

#endif
