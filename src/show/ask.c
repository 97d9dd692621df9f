// SPDX-License-Identifier: GPL-3.0-or-later
// Questions to a loaded show.
#include "show/load.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

const char *sm_zone_text(sm_zone zone) {
    static const char *const texts[SM_ZONE_COUNT] = {[SM_ZONE_NONE] = "none",
                                                     [SM_ZONE_GROUND] = "ground",
                                                     [SM_ZONE_AERIAL] = "aerial",
                                                     [SM_ZONE_NEAR] = "near"};
    return texts[zone];
}

const char *sm_holds_text(sm_holds holds) {
    static const char *const texts[SM_HOLDS_COUNT] = {[SM_HOLDS_NOTHING] = "nothing",
                                                      [SM_HOLDS_PEOPLE] = "people",
                                                      [SM_HOLDS_VEHICLES] = "vehicles",
                                                      [SM_HOLDS_COMBUSTIBLE] = "combustible",
                                                      [SM_HOLDS_HOSPITAL] = "hospital"};
    return texts[holds];
}

static bool is_word(const char *text, size_t length, const char *word) {
    return strlen(word) == length && memcmp(text, word, length) == 0;
}

sm_result sm_read_value_read(const char *text, size_t length, sm_read_value *out) {
    double ohms;
    if (is_word(text, length, "open"))
        *out = (sm_read_value){.kind = SM_READ_OPEN};
    else if (is_word(text, length, "short"))
        *out = (sm_read_value){.kind = SM_READ_SHORT};
    else if (sm_measure_read(SM_QUANTITY_RESISTANCE, text, length, &ohms) == SM_OK && ohms >= 0)
        *out = (sm_read_value){.kind = SM_READ_OHMS, .ohms = ohms};
    else
        return SM_INVALID;
    return SM_OK;
}

char *sm_read_value_format(char buffer[24], sm_read_value value) {
    static const char *const words[] = {
        [SM_READ_NOTHING] = "", [SM_READ_OPEN] = "open", [SM_READ_SHORT] = "short"};
    static_assert(sizeof words / sizeof words[0] == SM_READ_KIND_COUNT, "a word for each kind");
    if (value.kind != SM_READ_OHMS)
        snprintf(buffer, 24, "%s", words[value.kind]);
    else if (value.ohms < 1e15)
        snprintf(buffer, 24, "%.2f", value.ohms);
    else
        snprintf(buffer, 24, "%.3g", value.ohms);
    return buffer;
}

const char *sm_show_text(const sm_show *show, uint32_t offset) {
    return offset != 0 ? show->text_pool + offset : "";
}

const char *sm_firing_aim(const sm_show *show, const sm_firing *firing) {
    return firing->aim != 0 ? sm_show_text(show, firing->aim) : show->effects[firing->effect].aim;
}

const char *sm_cue_id(const sm_show *show, uint32_t cue, char buffer[12]) {
    if (show->cues[cue].id != 0)
        return sm_show_text(show, show->cues[cue].id);
    snprintf(buffer, 12, "%u", (unsigned)cue + 1);
    return buffer;
}

uint32_t sm_cue_event_count(const sm_show *show, uint32_t cue) {
    const uint32_t end = cue + 1 < show->cue_count ? show->cues[cue + 1].first_event : show->event_count;
    return end - show->cues[cue].first_event;
}

sm_us sm_event_due_us(const sm_show *show, uint32_t event) {
    const sm_event *const each = &show->events[event];
    const sm_cue *const cue = &show->cues[each->cue];
    return cue->kind == SM_CUE_FIRE ? show->firings[each->target].fire_us : cue->time_us;
}

uint32_t sm_event_first_due(const sm_show *show, sm_us at_us) {
    uint32_t low = 0, high = show->event_count;
    while (low < high) {
        const uint32_t middle = low + (high - low) / 2;
        if (sm_event_due_us(show, show->order[middle]) < at_us)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

char *sm_slot_format(const sm_show *show, uint32_t slot, char buffer[48]) {
    const sm_rail *const rail = &show->rails[show->slot_rails[slot]];
    snprintf(buffer, 48, "%s-%02u", rail->name, (unsigned)(slot - rail->slot_base + 1));
    return buffer;
}

bool sm_target_split(const char *text, size_t length, size_t *rail_length, int32_t *number) {
    const char *const dash = memrchr(text, '-', length);
    if (!dash || dash == text || dash + 1 == text + length)
        return false;
    const size_t digits = (size_t)(text + length - dash - 1);
    for (size_t i = 0; i < digits; i++)
        if (dash[1 + i] < '0' || dash[1 + i] > '9')
            return false;
    *rail_length = (size_t)(dash - text);
    return sm_integer_read(dash + 1, digits, number) == SM_OK;
}

sm_result sm_slot_find(const sm_show *show, const char *text, size_t length, uint32_t *out) {
    size_t rail_length;
    int32_t number;
    if (!sm_target_split(text, length, &rail_length, &number))
        return SM_NOT_FOUND;
    const sm_name_entry *const rail = sm_names_find(&show->index->names[SM_SCHEMA_RAILS], text, rail_length);
    if (!rail || rail->value == SM_NONE || number < 1 || number > show->rails[rail->value].slots)
        return SM_NOT_FOUND;
    *out = show->rails[rail->value].slot_base + (uint32_t)number - 1;
    return SM_OK;
}

static uint32_t find_row(const sm_show *show, sm_table_id table, const char *name) {
    const sm_name_entry *const entry = sm_names_find(&show->index->names[table], name, strlen(name));
    return entry ? entry->value : SM_NONE;
}

uint32_t sm_rail_find(const sm_show *show, const char *name) {
    return find_row(show, SM_SCHEMA_RAILS, name);
}

uint32_t sm_fixture_find(const sm_show *show, const char *name) {
    return find_row(show, SM_SCHEMA_FIXTURES, name);
}

uint32_t sm_group_find(const sm_show *show, const char *name) {
    return find_row(show, SM_SCHEMA_GROUPS, name);
}

uint32_t sm_effect_find(const sm_show *show, const char *name) {
    return find_row(show, SM_SCHEMA_EFFECTS, name);
}

uint32_t sm_position_find(const sm_show *show, const char *name) {
    return find_row(show, SM_SCHEMA_POSITIONS, name);
}

bool sm_rail_in_use(const sm_show *show, uint32_t rail) {
    const sm_rail *const row = &show->rails[rail];
    for (uint32_t i = 0; i < (uint32_t)row->slots; i++)
        if (show->slot_firings[row->slot_base + i] != SM_NONE)
            return true;
    return false;
}

const sm_level *sm_event_levels(const sm_show *show, uint32_t event, uint32_t *count) {
    const sm_cue *const cue = &show->cues[show->events[event].cue];
    *count = cue->level_count;
    if (cue->level_count == 0)
        return NULL;
    const uint32_t first =
        cue->mixed ? show->level_runs[cue->levels + (event - cue->first_event)] : cue->levels;
    return show->levels + first;
}

void sm_event_format_levels(const sm_show *show, uint32_t event, sm_text *out) {
    uint32_t count;
    const sm_level *const levels = sm_event_levels(show, event, &count);
    if (count == 0)
        return;
    const sm_profile *const profile = &show->profiles[show->fixtures[show->events[event].target].profile];
    for (uint32_t i = 0; i < count; i++)
        sm_text_printf(out, "%s%s=%u", i > 0 ? " " : "", profile->channels[levels[i].channel],
                       (unsigned)levels[i].level);
}
