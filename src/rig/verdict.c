// SPDX-License-Identifier: GPL-3.0-or-later
// What one reading means at its slot. The bounds are those of the format's own page: e = accuracy x reading +
// offset.
#include "rig/loop.h"

#include <assert.h>
#include <math.h>

#define OPEN_FROM_OHMS 1000.0
#define SHORT_ABOVE_WIRE_OHMS 0.05

static const char *const verdict_texts[] = {
    [SM_VERDICT_GOOD] = "good",     [SM_VERDICT_OPEN] = "open",
    [SM_VERDICT_SHORT] = "short",   [SM_VERDICT_LOW] = "low",
    [SM_VERDICT_HIGH] = "high",     [SM_VERDICT_UNSURE] = "unsure",
    [SM_VERDICT_STRAY] = "stray",   [SM_VERDICT_SPARE] = "spare",
    [SM_VERDICT_UNREAD] = "unread", [SM_VERDICT_UNPLUGGED] = "unplugged",
};
static_assert(sizeof verdict_texts / sizeof verdict_texts[0] == SM_VERDICT_COUNT, "a text for each verdict");

const char *sm_verdict_text(sm_verdict verdict) {
    return verdict < SM_VERDICT_COUNT ? verdict_texts[verdict] : "";
}

bool sm_verdict_refuses(sm_verdict verdict) {
    return verdict == SM_VERDICT_OPEN || verdict == SM_VERDICT_SHORT || verdict == SM_VERDICT_LOW ||
           verdict == SM_VERDICT_HIGH || verdict == SM_VERDICT_UNSURE;
}

double sm_rig_meter_error(const sm_show *show, double ohms) {
    return show->settings.meter_accuracy_percent / 100.0 * ohms + show->settings.meter_offset_ohms;
}

bool rig_reads_open(sm_read_value value) {
    return value.kind == SM_READ_OPEN || (value.kind == SM_READ_OHMS && value.ohms >= OPEN_FROM_OHMS);
}

sm_verdict rig_judge_loop(const sm_show *show, const sm_rig_loop *loop, sm_read_value value) {
    if (value.kind == SM_READ_NOTHING)
        return SM_VERDICT_UNREAD;
    if (rig_reads_open(value))
        return SM_VERDICT_OPEN;
    if (value.kind == SM_READ_SHORT)
        return SM_VERDICT_SHORT;
    double error = sm_rig_meter_error(show, value.ohms);
    bool is_short = value.ohms - error <= loop->wire_ohms + SHORT_ABOVE_WIRE_OHMS;
    bool is_good = loop->low_ohms - error <= value.ohms && value.ohms <= loop->high_ohms + error;
    if (is_short)
        return is_good ? SM_VERDICT_UNSURE : SM_VERDICT_SHORT;
    if (is_good)
        return SM_VERDICT_GOOD;
    return value.ohms < loop->low_ohms ? SM_VERDICT_LOW : SM_VERDICT_HIGH;
}

sm_verdict sm_rig_judge(const sm_show *show, uint32_t slot, bool plugged, sm_read_value value) {
    assert(slot < show->slot_count);
    if (!plugged)
        return SM_VERDICT_UNPLUGGED;
    uint32_t firing = show->slot_firings[slot];
    if (firing == SM_NONE) {
        bool nothing = value.kind == SM_READ_NOTHING || rig_reads_open(value);
        return nothing ? SM_VERDICT_SPARE : SM_VERDICT_STRAY;
    }
    sm_rig_loop loop = sm_rig_firing_loop(show, firing);
    return rig_judge_loop(show, &loop, value);
}

// COUNT of the load's igniters at work: in series the others may be left out with their leads or be shunted
// with their leads still in the loop, so the band spans both.
static sm_rig_loop partial_loop(const sm_show *show, const sm_firing *firing, int count) {
    rig_load load = rig_firing_load(firing);
    uint32_t rail = show->slot_rails[firing->slot];
    load.bridges = count;
    sm_rig_loop with_leads = rig_loop_on(show, rail, firing, load);
    load.lead_pairs = count;
    sm_rig_loop loop = rig_loop_on(show, rail, firing, load);
    loop.nominal_ohms = (loop.nominal_ohms + with_leads.nominal_ohms) / 2.0;
    loop.high_ohms = with_leads.high_ohms;
    return loop;
}

int sm_rig_reads_like(const sm_show *show, uint32_t slot, sm_read_value value) {
    uint32_t row = show->slot_firings[slot];
    sm_verdict verdict = sm_rig_judge(show, slot, true, value);
    if (row == SM_NONE || (verdict != SM_VERDICT_LOW && verdict != SM_VERDICT_HIGH))
        return 0;
    const sm_firing *firing = &show->firings[row];
    double error = sm_rig_meter_error(show, value.ohms), nearest = INFINITY;
    int count = 0;
    for (int n = 1; n < rig_firing_load(firing).bridges; n++) {
        sm_rig_loop loop = partial_loop(show, firing, n);
        double off = fabs(value.ohms - loop.nominal_ohms);
        if (loop.low_ohms - error <= value.ohms && value.ohms <= loop.high_ohms + error && off < nearest) {
            nearest = off;
            count = n;
        }
    }
    return count;
}

static void explain_off_band(const sm_show *show, uint32_t slot, sm_verdict verdict, sm_read_value value,
                             sm_text *out) {
    const sm_firing *firing = &show->firings[show->slot_firings[slot]];
    int like = sm_rig_reads_like(show, slot, value);
    if (like > 0) {
        sm_text_printf(out, "reads like %d of %d in %s", like, firing->igniters,
                       firing->load == SM_LOAD_SERIES ? "series" : "parallel");
    } else if (verdict == SM_VERDICT_LOW) {
        sm_text_printf(out, "below its band: another igniter, fewer of them, or leads touching");
    } else {
        sm_text_printf(out, "above its band: a bad joint, longer wire, or another igniter");
    }
}

static const char *plain_explanation(sm_verdict verdict) {
    switch (verdict) {
    case SM_VERDICT_GOOD:
        return "as predicted (continuity only; not proof that it fires)";
    case SM_VERDICT_OPEN:
        return "nothing conducts: terminal, lead or igniter";
    case SM_VERDICT_SHORT:
        return "reads as wire alone: a shunt left on, or leads touching";
    case SM_VERDICT_UNSURE:
        return "good and short both fit within the meter's error: each igniter alone, or a meter with less "
               "offset, "
               "would tell";
    case SM_VERDICT_STRAY:
        return "something is there and no cue fires it";
    case SM_VERDICT_SPARE:
        return "no cue fires it";
    case SM_VERDICT_UNREAD:
        return "nobody has measured it";
    case SM_VERDICT_UNPLUGGED:
        return "its rail is not plugged";
    case SM_VERDICT_LOW:
    case SM_VERDICT_HIGH:
    case SM_VERDICT_COUNT:
        break;
    }
    return "";
}

void sm_rig_explain(const sm_show *show, uint32_t slot, sm_verdict verdict, sm_read_value value,
                    sm_text *out) {
    bool off_band = verdict == SM_VERDICT_LOW || verdict == SM_VERDICT_HIGH;
    if (off_band && show->slot_firings[slot] != SM_NONE) {
        explain_off_band(show, slot, verdict, value, out);
        return;
    }
    sm_text_printf(out, "%s", plain_explanation(verdict));
}
