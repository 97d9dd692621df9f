// SPDX-License-Identifier: GPL-3.0-or-later
// The sentences of the diagnosis.
#include "rig/diagnose.h"

#include <assert.h>
#include <math.h>

static const char *const fault_texts[] = {
    [SM_RIG_RAILS_SWAPPED] = "rails-swapped",   [SM_RIG_RAILS_PERMUTED] = "rails-permuted",
    [SM_RIG_RAIL_SHIFTED] = "rail-shifted",     [SM_RIG_RAIL_REVERSED] = "rail-reversed",
    [SM_RIG_RAIL_UNPLUGGED] = "rail-unplugged", [SM_RIG_RUN_OPEN] = "run-open",
    [SM_RIG_RAIL_OFFSET] = "rail-offset",
};
static_assert(sizeof fault_texts / sizeof fault_texts[0] == SM_RIG_FAULT_COUNT, "a text for each fault");

const char *sm_rig_fault_text(sm_rig_fault fault) {
    return fault < SM_RIG_FAULT_COUNT ? fault_texts[fault] : "";
}

static const char *name_of(const sm_show *show, const sm_rig_explanation *explanation, uint32_t nth) {
    return show->rails[explanation->rails[nth % explanation->rail_count]].name;
}

static void say_swapped(const sm_show *show, const sm_rig_explanation *explanation, sm_text *out) {
    const char *first = name_of(show, explanation, 0), *second = name_of(show, explanation, 1);
    sm_text_printf(
        out,
        "rails %s and %s are swapped: what reads as %s is the strip and cable of %s; exchange their plugs "
        "(exchange %s %s)",
        first, second, first, second, first, second);
}

static void say_permuted(const sm_show *show, const sm_rig_explanation *explanation, sm_text *out) {
    sm_text_printf(out, "rails");
    for (uint32_t i = 0; i < explanation->rail_count; i++) {
        const char *between = i == 0 ? "" : i + 1 == explanation->rail_count ? " and" : ",";
        sm_text_printf(out, "%s %s", between, name_of(show, explanation, i));
    }
    sm_text_printf(out, " are in each other's places:");
    for (uint32_t i = 0; i < explanation->rail_count; i++) {
        sm_text_printf(out, "%s what reads as %s is %s", i == 0 ? "" : ",", name_of(show, explanation, i),
                       name_of(show, explanation, i + 1));
    }
}

static void say_shifted(const sm_show *show, const sm_rig_explanation *explanation, sm_text *out) {
    char from[48], to[48];
    uint32_t base = show->rails[explanation->rails[0]].slot_base;
    bool up = explanation->shift > 0;
    sm_text_printf(out, "rail %s is plugged one slot %s: what belongs to %s reads as %s",
                   name_of(show, explanation, 0), up ? "up" : "down",
                   sm_slot_format(show, up ? base : base + 1, from),
                   sm_slot_format(show, up ? base + 1 : base, to));
}

static void say_reversed(const sm_show *show, const sm_rig_explanation *explanation, sm_text *out) {
    char from[48], to[48];
    const sm_rail *rail = &show->rails[explanation->rails[0]];
    sm_text_printf(out, "rail %s is plugged the wrong way round: what belongs to %s reads as %s", rail->name,
                   sm_slot_format(show, rail->slot_base, from),
                   sm_slot_format(show, rail->slot_base + (uint32_t)rail->slots - 1, to));
}

static void say_unplugged(const sm_show *show, const sm_rig_explanation *explanation, sm_text *out) {
    sm_text_printf(out,
                   "rail %s is not plugged, or its whole cable is cut: all of its programmed slots read open",
                   name_of(show, explanation, 0));
}

static void say_run(const sm_show *show, const sm_rig_explanation *explanation, sm_text *out) {
    char from[48], to[48];
    sm_text_printf(out, "%s to %s are open together: a cut cable, or a plug half out",
                   sm_slot_format(show, explanation->slots[0], from),
                   sm_slot_format(show, explanation->slots[explanation->slot_count - 1], to));
}

static void say_offset(const sm_show *show, const sm_rig_explanation *explanation, sm_text *out) {
    const sm_rail *rail = &show->rails[explanation->rails[0]];
    bool more = explanation->ohms > 0.0;
    sm_text_printf(out, "rail %s reads %.2f ohm %s than predicted on every slot", rail->name,
                   fabs(explanation->ohms), more ? "more" : "less");
    if (isfinite(explanation->cable_m)) {
        sm_text_printf(out, ", as %.1f m %s of its %s: cable length or gauge%s", fabs(explanation->cable_m),
                       more ? "more" : "less", rail->cable.text, more ? ", or a bad joint" : "");
    }
}

const char *rig_explanation_says(const rig_evidence *evidence, const sm_rig_explanation *explanation) {
    static void (*const say[SM_RIG_FAULT_COUNT])(const sm_show *, const sm_rig_explanation *, sm_text *) = {
        [SM_RIG_RAILS_SWAPPED] = say_swapped,    [SM_RIG_RAILS_PERMUTED] = say_permuted,
        [SM_RIG_RAIL_SHIFTED] = say_shifted,     [SM_RIG_RAIL_REVERSED] = say_reversed,
        [SM_RIG_RAIL_UNPLUGGED] = say_unplugged, [SM_RIG_RUN_OPEN] = say_run,
        [SM_RIG_RAIL_OFFSET] = say_offset,
    };
    sm_text text = {0};
    assert(explanation->rail_count > 0);
    say[explanation->fault](evidence->show, explanation, &text);
    const char *says = text.failed ? NULL : sm_arena_text(evidence->arena, sm_text_get(&text), text.length);
    sm_text_deinit(&text);
    return says;
}
