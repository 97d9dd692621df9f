// SPDX-License-Identifier: GPL-3.0-or-later
// The report for people: words that can be read aloud over a radio, one slot a line.
#include "slowmatch/rig.h"

#include <assert.h>
#include <math.h>
#include <string.h>

static const char *plural(uint32_t count, const char *one, const char *many) {
    return count == 1 ? one : many;
}

static void say_odds(double odds, sm_text *out) {
    if (isnan(odds))
        sm_text_printf(out, "no odds: it reads further off than the meter may be");
    else if (odds >= 1e6)
        sm_text_printf(out, "over a million to 1 against independent faults");
    else
        sm_text_printf(out, "%.0f to 1 against independent faults", odds);
}

static void put_remaining(const sm_rig_report *report, sm_text *out) {
    const sm_rig_diagnosis *diagnosis = report->diagnosis;
    sm_text_printf(out, "then still off:%s", diagnosis->remaining_count == 0 ? " none" : "");
    for (uint32_t i = 0; i < diagnosis->remaining_count; i++) {
        char word[48];
        uint32_t slot = diagnosis->remaining[i], strip = diagnosis->remaining_strips[i];
        sm_text_printf(out, "%s %s %s", i > 0 ? "," : "", sm_slot_format(report->show, slot, word),
                       sm_verdict_text(diagnosis->remaining_verdicts[i]));
        if (strip != SM_NONE && strip != slot)
            sm_text_printf(out, " (in truth at %s)", sm_slot_format(report->show, strip, word));
    }
    sm_text_printf(out, "\n");
}

static void put_explanations(const sm_rig_report *report, sm_text *out) {
    const sm_rig_diagnosis *diagnosis = report->diagnosis;
    for (uint32_t i = 0; i < diagnosis->count; i++) {
        const sm_rig_explanation *explanation = &diagnosis->explanations[i];
        sm_text_printf(out, "%s (explains %u %s, leaves %u off; ", explanation->says, explanation->explains,
                       plural(explanation->explains, "reading", "readings"), explanation->remains);
        say_odds(explanation->odds, out);
        sm_text_printf(out, ")\n");
    }
    if (diagnosis->count > 0) {
        put_remaining(report, out);
    } else if (diagnosis->off > 0) {
        sm_text_printf(out, "%u %s off, no one cause found for them\n", diagnosis->off,
                       plural(diagnosis->off, "reading is", "readings are"));
    }
}

// SLOT is off as declared, and not any more under the explanations said.
static bool is_explained(const sm_rig_report *report, uint32_t slot) {
    for (uint32_t i = 0; i < report->diagnosis->remaining_count; i++)
        if (report->diagnosis->remaining[i] == slot)
            return false;
    return report->verdicts[slot] != SM_VERDICT_UNSURE;
}

static void put_slot(const sm_rig_report *report, uint32_t slot, sm_text *out) {
    const sm_show *show = report->show;
    char word[48], value[24], id[12];
    uint32_t row = show->slot_firings[slot];
    sm_verdict verdict = report->verdicts[slot];
    sm_text_printf(out, "  %-6s %-6s %5s", sm_slot_format(show, slot, word), sm_verdict_text(verdict),
                   sm_read_value_format(value, report->values[slot]));
    if (row != SM_NONE) {
        sm_rig_loop loop = sm_rig_firing_loop(show, row);
        const sm_firing *firing = &show->firings[row];
        sm_text_printf(out, "  expected %.2f to %.2f ohm  cue %s %s", loop.low_ohms, loop.high_ohms,
                       sm_cue_id(show, show->events[firing->event].cue, id),
                       show->effects[firing->effect].name);
    }
    sm_text_printf(out, "  ");
    if (is_explained(report, slot))
        sm_text_printf(out, "see above");
    else
        sm_rig_explain(show, slot, verdict, report->values[slot], out);
    sm_text_printf(out, "\n");
}

static bool is_listed(sm_verdict verdict) {
    return sm_verdict_refuses(verdict) || verdict == SM_VERDICT_STRAY;
}

static uint32_t count_in_rail(const sm_rig_report *report, const sm_rail *rail, bool (*wanted)(sm_verdict)) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < (uint32_t)rail->slots; i++)
        count += wanted(report->verdicts[rail->slot_base + i]);
    return count;
}

static bool is_unread(sm_verdict verdict) {
    return verdict == SM_VERDICT_UNREAD;
}

// The unread slots of RAIL as "A-02, A-05 to A-08".
static void put_unread(const sm_rig_report *report, const sm_rail *rail, sm_text *out) {
    uint32_t end = rail->slot_base + (uint32_t)rail->slots;
    const char *before = "  not read: ";
    for (uint32_t slot = rail->slot_base; slot < end; slot++) {
        uint32_t first = slot;
        while (slot < end && report->verdicts[slot] == SM_VERDICT_UNREAD)
            slot++;
        if (slot == first)
            continue;
        char from[48], to[48];
        sm_text_printf(out, "%s%s", before, sm_slot_format(report->show, first, from));
        if (slot - first > 1)
            sm_text_printf(out, " to %s", sm_slot_format(report->show, slot - 1, to));
        before = ", ";
    }
    sm_text_printf(out, "\n");
}

static void put_rails(const sm_rig_report *report, sm_text *out) {
    const sm_show *show = report->show;
    for (uint32_t i = 0; i < show->rail_count; i++) {
        const sm_rail *rail = &show->rails[i];
        uint32_t listed = count_in_rail(report, rail, is_listed),
                 unread = count_in_rail(report, rail, is_unread);
        if (listed + unread == 0)
            continue;
        sm_text_printf(out, "rail %s%s%s\n", rail->name, rail->position != SM_NONE ? ", " : "",
                       rail->position != SM_NONE ? show->positions[rail->position].name : "");
        for (uint32_t n = 0; n < (uint32_t)rail->slots; n++)
            if (is_listed(report->verdicts[rail->slot_base + n]))
                put_slot(report, rail->slot_base + n, out);
        if (unread > 0)
            put_unread(report, rail, out);
    }
}

static const char *file_of(const sm_rig_report *report, uint32_t set) {
    const char *name = report->sets[set].name, *slash = strrchr(name, '/');
    return slash ? slash + 1 : name;
}

static void put_changes(const sm_rig_report *report, sm_text *out) {
    sm_text change = {0};
    bool changed = false;
    for (uint32_t slot = 0; slot < report->show->slot_count; slot++) {
        sm_text_clear(&change);
        const sm_rig_past *past = &report->past[slot];
        if (!sm_rig_past_explain(report->show, slot, past, &change))
            continue;
        char word[48];
        sm_text_printf(out, "%s  %-6s %s (%s, then %s)\n", changed ? "" : "changed\n",
                       sm_slot_format(report->show, slot, word), sm_text_get(&change),
                       file_of(report, past->before_set), file_of(report, past->now_set));
        changed = true;
    }
    if (report->set_count > 1 && !changed)
        sm_text_printf(out, "nothing changed between the files\n");
    out->failed = out->failed || change.failed;
    sm_text_deinit(&change);
}

// Readings that the newest file did not take anew.
static void put_older(const sm_rig_report *report, sm_text *out) {
    uint32_t older = 0;
    for (uint32_t slot = 0; slot < report->show->slot_count; slot++) {
        uint32_t set = report->past[slot].now_set;
        older += set != SM_NONE && set + 1 < report->set_count;
    }
    if (older > 0) {
        sm_text_printf(out, "%u %s not in %s and from an older file\n", older,
                       plural(older, "reading is", "readings are"),
                       file_of(report, (uint32_t)report->set_count - 1));
    }
}

static void put_totals(const sm_rig_report *report, sm_text *out) {
    uint32_t programmed =
        report->show->slot_count - report->counts[SM_VERDICT_SPARE] - report->counts[SM_VERDICT_STRAY];
    assert(programmed <= report->show->slot_count);
    sm_text_printf(out, "%u programmed %s:", programmed, plural(programmed, "slot", "slots"));
    const char *before = " ";
    for (int verdict = 0; verdict < SM_VERDICT_COUNT; verdict++) {
        bool spare = verdict == SM_VERDICT_SPARE || verdict == SM_VERDICT_STRAY;
        if (!spare && (report->counts[verdict] > 0 || verdict == SM_VERDICT_GOOD)) {
            sm_text_printf(out, "%s%u %s", before, report->counts[verdict],
                           sm_verdict_text((sm_verdict)verdict));
            before = ", ";
        }
    }
    sm_text_printf(out, "; %u spare, %u stray\n", report->counts[SM_VERDICT_SPARE],
                   report->counts[SM_VERDICT_STRAY]);
}

// What the current comes from, and whether it lasts.
static void put_source(const sm_rig_report *report, uint32_t firing, sm_text *out) {
    const sm_show *show = report->show;
    const sm_rig_current *current = &report->currents[firing];
    const sm_module *module =
        &show->modules[show->rails[show->slot_rails[show->firings[firing].slot]].module];
    if (isnan(module->capacitance_f))
        sm_text_printf(out, "  taken as a steady source: modules.csv gives no capacitance for %s\n",
                       module->name);
    else
        sm_text_printf(out, "  from %.4g uF, %.1f V of %.1f V left by then, %.2f A at the end of the pulse\n",
                       module->capacitance_f * 1e6, current->volts, module->volts_low, current->end_amps);
    sm_text_printf(out, "  impulse in its pulse %.2f mJ/ohm, %.2f mJ/ohm asked for%s\n", current->impulse,
                   current->needed_impulse,
                   current->impulse_known ? "" : " (taken as all_fire held for 20 ms: no impulse is given)");
}

static void put_weakest(const sm_rig_report *report, sm_text *out) {
    const sm_show *show = report->show;
    uint32_t weakest = SM_NONE;
    for (uint32_t i = 0; i < show->firing_count; i++) {
        double margin = report->currents[i].margin;
        if (isfinite(margin) && (weakest == SM_NONE || margin < report->currents[weakest].margin))
            weakest = i;
    }
    if (weakest == SM_NONE)
        return;
    char word[48];
    const sm_rig_current *current = &report->currents[weakest];
    sm_text_printf(out, "least firing current predicted: %s %.2f A, %.2f A asked for, %.1f times that\n",
                   sm_slot_format(show, show->firings[weakest].slot, word), current->amps,
                   current->needed_amps, current->margin);
    put_source(report, weakest, out);
}

void sm_rig_report_text(const sm_rig_report *report, sm_text *out) {
    put_explanations(report, out);
    put_rails(report, out);
    put_changes(report, out);
    put_older(report, out);
    put_totals(report, out);
    put_weakest(report, out);
    sm_text_printf(out, "good: as predicted (continuity only; not proof that it fires)\n");
    if (!report->all_good) {
        sm_text_printf(out, "before anyone goes to a slot: safe, key off and out, its rail unplugged at the "
                            "module; the local "
                            "code, the maker's data and the licensed operator go first\n");
    }
}
