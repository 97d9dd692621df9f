// SPDX-License-Identifier: GPL-3.0-or-later
// Slots, rails and the module outputs that they take.
#include "check/rule.h"

#include <math.h>

// More outputs than this a module has none; keeps a wrong `first` from asking for memory.
#define MOST_OUTPUTS 65536

sm_result check_slot_reuse(sm_check *check) {
    const sm_show *show = check->show;
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const sm_firing *firing = &show->firings[i];
        const uint32_t first = show->slot_firings[firing->slot];
        if (first == SM_NONE || first == i)
            continue;
        char slot[48], id[12];
        const uint32_t cue = show->events[show->firings[first].event].cue;
        const uint32_t first_line = show->cues[cue].line;
        check_put(check, "slot-reused", check_at_event(check, firing->event, "target"), check_no_figures(),
                  "%s is fired already by cue %s (line %u); a slot fires once",
                  sm_slot_format(show, firing->slot, slot), sm_cue_id(show, cue, id), first_line);
    }
    return SM_OK;
}

static int32_t last_output(const sm_rail *rail) {
    const int64_t last = (int64_t)rail->first + rail->slots - 1;
    return last > MOST_OUTPUTS ? MOST_OUTPUTS : (int32_t)last;
}

static void judge_rail_size(sm_check *check, const sm_rail *rail) {
    const sm_module *module = &check->show->modules[rail->module];
    const int64_t last = (int64_t)rail->first + rail->slots - 1;
    if (rail->first >= 1 && last <= module->slots)
        return;
    check_put(check, "rail-past-module",
              (check_place){"rails.csv", rail->line, rail->first < 1 ? "first" : "slots"},
              (check_figures){FIGURE_PLAIN, (double)last, module->slots, "slots"},
              "rail %s takes outputs %d to %lld, module %s has 1 to %d", rail->name, rail->first,
              (long long)last, module->name, module->slots);
}

// OWNERS[n] is one more than the rail that has output n of this module; 0: none.
static void judge_rail_overlap(sm_check *check, uint32_t number, uint32_t *owners) {
    const sm_show *show = check->show;
    const sm_rail *rail = &show->rails[number];
    bool told = false;
    for (int32_t output = rail->first < 1 ? 1 : rail->first; output <= last_output(rail); output++) {
        if (owners[output] == 0) {
            owners[output] = number + 1;
        } else if (!told) {
            const sm_rail *other = &show->rails[owners[output] - 1];
            check_put(check, "rail-overlap", (check_place){"rails.csv", rail->line, "first"},
                      (check_figures){FIGURE_PLAIN, output, (double)NAN, "output"},
                      "rails %s and %s (line %u) both take output %d of module %s", rail->name, other->name,
                      other->line, output, show->modules[rail->module].name);
            told = true;
        }
    }
}

typedef struct rail_range {
    uint32_t begin; // where its module's owners begin
    uint32_t size;
} rail_range;

// Room for the outputs of each module that its rails speak of.
static uint32_t *make_owners(sm_check *check, rail_range *ranges) {
    const sm_show *show = check->show;
    uint32_t total = 0;
    for (uint32_t r = 0; r < show->rail_count; r++) {
        const sm_rail *rail = &show->rails[r];
        if (rail->module == SM_NONE || last_output(rail) < 1)
            continue;
        const uint32_t needed = (uint32_t)last_output(rail) + 1;
        if (needed > ranges[rail->module].size)
            ranges[rail->module].size = needed;
    }
    for (uint32_t m = 0; m < show->module_count; m++) {
        ranges[m].begin = total;
        total += ranges[m].size;
    }
    return sm_arena_alloc(check->arena, ((size_t)total + 1) * sizeof(uint32_t));
}

sm_result check_rails(sm_check *check) {
    const sm_show *show = check->show;
    rail_range *ranges = sm_arena_alloc(check->arena, ((size_t)show->module_count + 1) * sizeof *ranges);
    if (!ranges)
        return SM_NO_MEMORY;
    uint32_t *owners = make_owners(check, ranges);
    if (!owners)
        return SM_NO_MEMORY;
    for (uint32_t r = 0; r < show->rail_count; r++) {
        const sm_rail *rail = &show->rails[r];
        if (rail->module == SM_NONE)
            continue;
        judge_rail_size(check, rail);
        judge_rail_overlap(check, r, owners + ranges[rail->module].begin);
    }
    return SM_OK;
}
