// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/json.h"
#include "slowmatch/rig.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>

static void put_reading(sm_json *json, const char *name, sm_read_value value) {
    char word[24];
    if (value.kind == SM_READ_OPEN || value.kind == SM_READ_SHORT)
        sm_json_text(json, name, sm_read_value_format(word, value));
    else
        sm_json_fixed(json, name, 4, value.kind == SM_READ_OHMS ? value.ohms : NAN);
}

// As in cues.csv: 1, 2s, 3p.
static void put_load(sm_json *json, const sm_firing *firing) {
    static const char *const letters[] = {
        [SM_LOAD_ONE] = "", [SM_LOAD_SERIES] = "s", [SM_LOAD_PARALLEL] = "p"};
    static_assert(sizeof letters / sizeof letters[0] == SM_LOAD_KIND_COUNT, "a letter for each load");
    char text[16];
    snprintf(text, sizeof text, "%d%s", (int)firing->igniters, letters[firing->load]);
    sm_json_text(json, "igniters", text);
}

static void put_slot(const sm_rig_report *report, uint32_t slot, sm_json *json) {
    const sm_show *show = report->show;
    char word[48], id[12];
    uint32_t row = show->slot_firings[slot];
    sm_rig_loop loop = {.low_ohms = NAN, .nominal_ohms = NAN, .high_ohms = NAN};
    sm_rig_current current = {.amps = NAN, .needed_amps = NAN, .margin = NAN, .volts = NAN};
    current.end_amps = current.impulse = current.needed_impulse = NAN;
    sm_json_open(json, NULL, '{');
    sm_json_text(json, "slot", sm_slot_format(show, slot, word));
    if (row == SM_NONE) {
        sm_json_text(json, "cue", NULL);
        sm_json_text(json, "igniters", NULL);
    } else {
        sm_json_text(json, "cue", sm_cue_id(show, show->events[show->firings[row].event].cue, id));
        put_load(json, &show->firings[row]);
        loop = sm_rig_firing_loop(show, row);
        current = report->currents[row];
    }
    sm_json_fixed(json, "low", 4, loop.low_ohms);
    sm_json_fixed(json, "nominal", 4, loop.nominal_ohms);
    sm_json_fixed(json, "high", 4, loop.high_ohms);
    put_reading(json, "reading", report->values[slot]);
    sm_json_text(json, "verdict", sm_verdict_text(report->verdicts[slot]));
    sm_json_fixed(json, "amps", 4, current.amps);
    sm_json_fixed(json, "needed", 4, current.needed_amps);
    sm_json_fixed(json, "margin", 4, current.margin);
    sm_json_fixed(json, "volts", 4, current.volts);
    sm_json_fixed(json, "end_amps", 4, current.end_amps);
    sm_json_fixed(json, "impulse", 4, current.impulse);
    sm_json_fixed(json, "needed_impulse", 4, current.needed_impulse);
    put_reading(json, "was", report->past[slot].before);
    sm_text change = {0};
    const bool is_told = sm_rig_past_explain(show, slot, &report->past[slot], &change);
    sm_json_text(json, "change", is_told ? sm_text_get(&change) : NULL);
    json->out->failed = json->out->failed || change.failed;
    sm_text_deinit(&change);
    sm_json_close(json, '}');
}

static void put_finding(const sm_rig_report *report, const sm_rig_explanation *explanation, sm_json *json) {
    bool run = explanation->fault == SM_RIG_RUN_OPEN;
    uint32_t count = run ? explanation->slot_count : explanation->rail_count;
    sm_json_open(json, NULL, '{');
    sm_json_text(json, "finding", sm_rig_fault_text(explanation->fault));
    sm_json_open(json, run ? "slots" : "rails", '[');
    for (uint32_t i = 0; i < count; i++) {
        char word[48];
        sm_json_text(json, NULL,
                     run ? sm_slot_format(report->show, explanation->slots[i], word)
                         : report->show->rails[explanation->rails[i]].name);
    }
    sm_json_close(json, ']');
    sm_json_integer(json, "explains", explanation->explains);
    sm_json_integer(json, "remains", explanation->remains);
    sm_json_fixed(json, "odds", 0, explanation->odds);
    sm_json_text(json, "says", explanation->says);
    sm_json_close(json, '}');
}

void sm_rig_report_json(const sm_rig_report *report, sm_text *out) {
    for (uint32_t slot = 0; slot < report->show->slot_count; slot++) {
        put_slot(report, slot, &(sm_json){.out = out});
        sm_text_append(out, "\n", 1);
    }
    for (uint32_t i = 0; i < report->diagnosis->count; i++) {
        put_finding(report, &report->diagnosis->explanations[i], &(sm_json){.out = out});
        sm_text_append(out, "\n", 1);
    }
}
