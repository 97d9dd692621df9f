// SPDX-License-Identifier: GPL-3.0-or-later
// The firing line: what a slot should read, what current its igniters get, what a reading means, what is wrong with a rig.
// All functions are pure and may be called from any thread.
#ifndef SLOWMATCH_RIG_H
#define SLOWMATCH_RIG_H

#include "slowmatch/show.h"

// Resistance of LENGTH_M of one conductor at CELSIUS: r20 = (1/58 ohm mm2/m) / area x factor (IEC 60028),
// r(T) = r20 (1 + 0.00393 (T - 20)).
double sm_rig_wire_ohms(const sm_gauge *gauge, double length_m, double celsius);

// What a firing's loop should read.
typedef struct sm_rig_loop {
    double nominal_ohms, low_ohms, high_ohms; // at air; lower tolerance and copper-cold; upper and copper-hot
    double wire_ohms; // W: cable + extra wire + one pair of leads at air, without any bridge
} sm_rig_loop;
// Of FIRING (row of show->firings), as it is plugged on its own rail.
sm_rig_loop sm_rig_firing_loop(const sm_show *show, uint32_t firing);

// Firing current, worst case. Filled by sm_rig_currents for every firing of the show at once (n log n).
typedef struct sm_rig_current {
    double amps; // per igniter
    double needed_amps;
    double margin;   // amps / needed
    uint32_t others; // firings counted with it in its worst moment
} sm_rig_current;
// OUT has show->firing_count entries.
SM_MUST_CHECK sm_result sm_rig_currents(const sm_show *show, sm_rig_current *out);

typedef enum sm_verdict {
    SM_VERDICT_GOOD,
    SM_VERDICT_OPEN,
    SM_VERDICT_SHORT,
    SM_VERDICT_LOW,
    SM_VERDICT_HIGH,
    SM_VERDICT_UNSURE,
    SM_VERDICT_STRAY,
    SM_VERDICT_SPARE,
    SM_VERDICT_UNREAD,
    SM_VERDICT_UNPLUGGED,
    SM_VERDICT_COUNT
} sm_verdict;
// "good" ... "unplugged".
const char *sm_verdict_text(sm_verdict verdict);
// open, short, low, high and unsure stand in the way of arming.
bool sm_verdict_refuses(sm_verdict verdict);

// The meter's error at OHMS: meter-accuracy x ohms + meter-offset.
double sm_rig_meter_error(const sm_show *show, double ohms);

// Judges VALUE read at SLOT (show-wide number): programmed slots against the loop of their first firing; spare slots as stray or spare.
// PLUGGED false: SM_VERDICT_UNPLUGGED. SM_READ_NOTHING on a programmed slot: SM_VERDICT_UNREAD.
sm_verdict sm_rig_judge(const sm_show *show, uint32_t slot, bool plugged, sm_read_value value);
// How many igniters of a series or parallel load VALUE reads like, when that is fewer than the load has; 0 otherwise.
int sm_rig_reads_like(const sm_show *show, uint32_t slot, sm_read_value value);
// One line for people about a verdict at SLOT: "as predicted (continuity only; not proof that it fires)", "reads like 1 of 2 in series",
// which measurement would tell... appended to OUT.
void sm_rig_explain(const sm_show *show, uint32_t slot, sm_verdict verdict, sm_read_value value,
                    sm_text *out);

#endif
