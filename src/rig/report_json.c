// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/rig.h"

#include <math.h>

// NAME and VALUE with four decimals; null where there is none.
static void put_number(sm_text *out, const char *name, double value) {
    if (isfinite(value))
        sm_text_printf(out, ", \"%s\": %.4f", name, value);
    else
        sm_text_printf(out, ", \"%s\": null", name);
}

static void put_text(sm_text *out, const char *name, const char *value) {
    sm_text_printf(out, ", \"%s\": ", name);
    sm_text_append_json(out, value);
}

static void put_reading(sm_text *out, const char *name, sm_read_value value) {
    char word[24];
    if (value.kind == SM_READ_OPEN || value.kind == SM_READ_SHORT)
        put_text(out, name, sm_read_value_format(word, value));
    else
        put_number(out, name, value.kind == SM_READ_OHMS ? value.ohms : NAN);
}

// As in cues.csv: 1, 2s, 3p.
static void put_load(sm_text *out, const sm_firing *firing) {
    static const char *const letters[] = {
        [SM_LOAD_ONE] = "", [SM_LOAD_SERIES] = "s", [SM_LOAD_PARALLEL] = "p"};
    sm_text_printf(out, ", \"igniters\": \"%d%s\"", (int)firing->igniters, letters[firing->load]);
}

static void put_slot(const sm_rig_report *report, uint32_t slot, sm_text *out) {
    const sm_show *show = report->show;
    char word[48], id[12];
    uint32_t row = show->slot_firings[slot];
    sm_rig_loop loop = {.low_ohms = NAN, .nominal_ohms = NAN, .high_ohms = NAN};
    sm_rig_current current = {.amps = NAN, .needed_amps = NAN, .margin = NAN, .volts = NAN};
    current.end_amps = current.impulse = current.needed_impulse = NAN;
    sm_text_printf(out, "{\"slot\": ");
    sm_text_append_json(out, sm_slot_format(show, slot, word));
    if (row == SM_NONE) {
        sm_text_printf(out, ", \"cue\": null, \"igniters\": null");
    } else {
        put_text(out, "cue", sm_cue_id(show, show->events[show->firings[row].event].cue, id));
        put_load(out, &show->firings[row]);
        loop = sm_rig_firing_loop(show, row);
        current = report->currents[row];
    }
    put_number(out, "low", loop.low_ohms);
    put_number(out, "nominal", loop.nominal_ohms);
    put_number(out, "high", loop.high_ohms);
    put_reading(out, "reading", report->values[slot]);
    put_text(out, "verdict", sm_verdict_text(report->verdicts[slot]));
    put_number(out, "amps", current.amps);
    put_number(out, "needed", current.needed_amps);
    put_number(out, "margin", current.margin);
    put_number(out, "volts", current.volts);
    put_number(out, "end_amps", current.end_amps);
    put_number(out, "impulse", current.impulse);
    put_number(out, "needed_impulse", current.needed_impulse);
    put_reading(out, "was", report->past[slot].before);
    sm_text change = {0};
    if (sm_rig_past_explain(show, slot, &report->past[slot], &change))
        put_text(out, "change", sm_text_get(&change));
    else
        sm_text_printf(out, ", \"change\": null");
    sm_text_deinit(&change);
    sm_text_printf(out, "}\n");
}

static void put_finding(const sm_rig_report *report, const sm_rig_explanation *explanation, sm_text *out) {
    bool run = explanation->fault == SM_RIG_RUN_OPEN;
    uint32_t count = run ? explanation->slot_count : explanation->rail_count;
    sm_text_printf(out, "{\"finding\": \"%s\", \"%s\": [", sm_rig_fault_text(explanation->fault),
                   run ? "slots" : "rails");
    for (uint32_t i = 0; i < count; i++) {
        char word[48];
        sm_text_printf(out, "%s", i > 0 ? ", " : "");
        sm_text_append_json(out, run ? sm_slot_format(report->show, explanation->slots[i], word)
                                     : report->show->rails[explanation->rails[i]].name);
    }
    sm_text_printf(out, "], \"explains\": %u, \"remains\": %u", explanation->explains, explanation->remains);
    if (isnan(explanation->odds))
        sm_text_printf(out, ", \"odds\": null");
    else
        sm_text_printf(out, ", \"odds\": %.0f", explanation->odds);
    put_text(out, "says", explanation->says);
    sm_text_printf(out, "}\n");
}

void sm_rig_report_json(const sm_rig_report *report, sm_text *out) {
    for (uint32_t slot = 0; slot < report->show->slot_count; slot++)
        put_slot(report, slot, out);
    for (uint32_t i = 0; i < report->diagnosis->count; i++)
        put_finding(report, &report->diagnosis->explanations[i], out);
}
