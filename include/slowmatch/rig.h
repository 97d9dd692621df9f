// SPDX-License-Identifier: GPL-3.0-or-later
// The firing line: what a slot should read, what current its igniters get, what a reading means, what is wrong with a rig.
// All functions are pure and may be called from any thread.
#ifndef SLOWMATCH_RIG_H
#define SLOWMATCH_RIG_H

#include "slowmatch/show.h"

// Resistance of LENGTH_M of one conductor at CELSIUS: r20 = (1/58 ohm mm2/m) / area x factor (IEC 60028),
// r(T) = r20 (1 + 0.00393 (T - 20)).
double sm_rig_wire_ohms(const sm_gauge *gauge, double length_m, double celsius);

// The most that LENGTH_M of one real conductor may have at CELSIUS: mm2 by the IEC 60228 class 5 maximum (areas that it
// does not list 1.13 times ideal copper), AWG 1.02 times ideal copper for stranding (ASTM B496), times factor.
double sm_rig_wire_most_ohms(const sm_gauge *gauge, double length_m, double celsius);
// A joint or terminal, at most: 5 to 20 mohm (common practice, no source).
#define SM_RIG_JOINT_OHMS 0.020

// What a firing's loop should read.
typedef struct sm_rig_loop {
    // Nominal: ideal copper at air. Low: ideal copper at copper-cold, bridges at the lower tolerance. High: the most of
    // real conductors at copper-hot, bridges at the upper tolerance, and the rail's joints.
    double nominal_ohms, low_ohms, high_ohms;
    double wire_ohms; // W: cable + extra wire + one pair of leads at air, without any bridge
} sm_rig_loop;
// Of FIRING (row of show->firings), as it is plugged on its own rail.
sm_rig_loop sm_rig_firing_loop(const sm_show *show, uint32_t firing);

// Firing current, worst case: volts_low behind the source into wire and joints of High; in series all bridges high, in
// parallel the igniter's own bridge high and its siblings low; all that fires in the same pulse at Low. Filled by sm_rig_currents for every firing of the show at once (n log n).
typedef struct sm_rig_current {
    double amps; // per igniter
    double needed_amps;
    double margin;   // amps / needed
    uint32_t others; // firings counted with it in its worst moment
    // Of a module with a capacitance `amps` is what flows when the pulse begins. Of any other the source is steady.
    double volts;    // of the source when the pulse begins: volts_low, or what the capacitor holds by then
    double end_amps; // when the pulse ends
    double impulse;  // mJ/ohm that the igniter gets in the pulse: the integral of its amps squared
    double needed_impulse; // the maker's, or all_fire held for 20 ms where that is not given
    bool impulse_known;    // the maker's
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

// ---- what is wrong with the rig -------------------------------------------------

typedef enum sm_rig_fault {
    SM_RIG_RAILS_SWAPPED,
    SM_RIG_RAILS_PERMUTED,
    SM_RIG_RAIL_SHIFTED,
    SM_RIG_RAIL_REVERSED,
    SM_RIG_RAIL_UNPLUGGED,
    SM_RIG_RUN_OPEN,
    SM_RIG_RAIL_OFFSET,
    SM_RIG_FAULT_COUNT
} sm_rig_fault;
// "rails-swapped" ... "rail-offset".
const char *sm_rig_fault_text(sm_rig_fault fault);

// An explanation is said when independent faults are at least this many times less likely.
#define SM_RIG_ODDS_SAID 20.0
// Odds are not given beyond this.
#define SM_RIG_ODDS_MAX 1e9

// One cause for many readings.
typedef struct sm_rig_explanation {
    sm_rig_fault fault;
    double
        odds; // to 1 against independent faults, SM_RIG_ODDS_SAID to SM_RIG_ODDS_MAX; NAN where the model that
              // gives them does not hold: what is explained reads further off than a meter may be
    uint32_t explains; // readings that are off as declared and as predicted under this explanation; of a rail
                       // offset, all readings of the rail that agree with it
    uint32_t remains;  // readings of the whole rig that are off under this explanation alone
    const uint32_t
        *rails; // rows of show->rails. Permuted: what reads as rails[i] is rails[i + 1], round to rails[0]
    uint32_t rail_count;
    const uint32_t *slots; // of a run: its programmed slots; empty otherwise
    uint32_t slot_count;
    int shift; // of a shifted rail: +1 when slot n reads as slot n + 1, -1 the other way, else 0
    double ohms,
        cable_m;      // of a rail offset: more (or less) than predicted, and as metres of the declared gauge
                      // (NAN where that has no resistance); else 0
    const char *says; // one sentence for people
} sm_rig_explanation;

typedef struct sm_rig_diagnosis {
    const sm_rig_explanation *explanations; // best first; they concern different readings and hold together
    uint32_t count;
    uint32_t off; // readings that are off as declared: open, short, low, high or stray
    // Slots still off when all explanations hold: independent faults. With each: what is really there (the strip's own
    // slot, SM_NONE where nothing should be) and what its reading means for that.
    const uint32_t *remaining, *remaining_strips;
    const sm_verdict *remaining_verdicts;
    uint32_t remaining_count;
    sm_arena *arena;
} sm_rig_diagnosis;

// Compares VALUES (show->slot_count) with what each hypothesis predicts. PLUGGED (show->rail_count; NULL: all): a rail
// known to be unplugged takes no part. *out is destroyed by the caller. SM_NO_MEMORY leaves it unchanged.
// n rails of s slots cost n^2 s + n^3.
SM_MUST_CHECK sm_result sm_rig_diagnose(const sm_show *show, const sm_read_value *values, const bool *plugged,
                                        sm_rig_diagnosis **out);
void sm_rig_diagnosis_destroy(sm_rig_diagnosis *diagnosis);

// ---- readings over time --------------------------------------------------------

// The readings of one measuring: the rows of one file, the last row of a slot wins.
typedef struct sm_rig_set {
    const char *name; // of the file, for people
    const sm_reading *readings;
    size_t count;
} sm_rig_set;

// What is known of a slot from several sets.
typedef struct sm_rig_past {
    sm_read_value now,
        before; // the newest reading, and the one of the set before that has one; SM_READ_NOTHING where none
    uint32_t now_set, before_set; // which sets; SM_NONE where none
} sm_rig_past;

// SETS oldest first. OUT has show->slot_count entries.
void sm_rig_past_fill(const sm_show *show, const sm_rig_set *sets, size_t count, sm_rig_past *out);
// Appends what changed at SLOT, "was good, now open" or "drifted 0.61 ohm, from 4.98 to 5.59" (beyond the meter's error at
// either reading); nothing and false where nothing did.
bool sm_rig_past_explain(const sm_show *show, uint32_t slot, const sm_rig_past *past, sm_text *out);

// ---- a report ------------------------------------------------------------------

// Everything to be said about the readings of a show. The sets and the show must outlive it.
typedef struct sm_rig_report {
    const sm_show *show;
    const sm_rig_set *sets;
    size_t set_count;
    sm_rig_past *past;        // per slot
    sm_read_value *values;    // per slot: past[slot].now
    sm_verdict *verdicts;     // per slot
    sm_rig_current *currents; // per firing
    sm_rig_diagnosis *diagnosis;
    uint32_t counts[SM_VERDICT_COUNT]; // slots of each verdict
    bool all_good;                     // every programmed slot is
} sm_rig_report;

// SM_NO_MEMORY leaves *out unchanged.
SM_MUST_CHECK sm_result sm_rig_report_create(const sm_show *show, const sm_rig_set *sets, size_t count,
                                             sm_rig_report **out);
void sm_rig_report_destroy(sm_rig_report *report);
// For people: the best explanation on the first line, what is not good rail by rail, what changed, totals.
void sm_rig_report_text(const sm_rig_report *report, sm_text *out);
// One JSON object a line: a row for every slot, then the findings, best first.
void sm_rig_report_json(const sm_rig_report *report, sm_text *out);

#endif
