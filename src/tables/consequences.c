// SPDX-License-Identifier: GPL-3.0-or-later
// What must be done again: not what the tables say, but what follows for hands, meters and eyes.
#include "tables/compare.h"

#include "slowmatch/paper.h"
#include "slowmatch/walk.h"

#include <string.h>

// ---- slots and rails ---------------------------------------------------------------------

// What stands at a slot and how it is wired, in words that are equal where nobody has to go there.
static void describe_slot(const sm_show *show, uint32_t slot, sm_text *out) {
    const uint32_t row = show->slot_firings[slot];
    if (row == SM_NONE)
        return;
    const sm_firing *const firing = &show->firings[row];
    const sm_effect *const effect = &show->effects[firing->effect];
    const sm_igniter *const igniter = &show->igniters[effect->igniter];
    sm_text_printf(out, "%s %s %g %g m %s, %d %d", effect->name, igniter->name, igniter->ohms,
                   igniter->lead_m, igniter->lead.text, (int)firing->load, (int)firing->igniters);
    if (firing->wire_m > 0)
        sm_text_printf(out, ", %g m %s", firing->wire_m, firing->wire.text);
    sm_text_printf(out, ", %s", sm_firing_aim(show, firing));
}

// The rail as it is plugged, and the way of its cable.
static void describe_rail(const sm_show *show, uint32_t index, sm_text *out) {
    const sm_rail *const rail = &show->rails[index];
    sm_text_printf(out, "%s %d %d, %g m %s, %s, %d", show->modules[rail->module].name, (int)rail->first,
                   (int)rail->slots, rail->cable_m, rail->cable.text,
                   rail->position != SM_NONE ? show->positions[rail->position].name : "", (int)rail->joints);
}

// Slots of rail INDEX of NOW that hold another thing than in OLD; true: there are some. OLD_RAIL: SM_NONE where it is new.
static bool look_at_slots(sm_compare *compare, uint32_t index, uint32_t old_rail) {
    const sm_show *const old = compare->old, *const now = compare->now;
    const sm_rail *const rail = &now->rails[index];
    bool any = false;
    for (int32_t i = 0; i < rail->slots; i++) {
        sm_text was = {0}, is = {0};
        char name[48];
        const uint32_t slot = rail->slot_base + (uint32_t)i;
        if (old_rail != SM_NONE && i < old->rails[old_rail].slots)
            describe_slot(old, old->rails[old_rail].slot_base + (uint32_t)i, &was);
        describe_slot(now, slot, &is);
        if (strcmp(sm_text_get(&was), sm_text_get(&is)) != 0) {
            compare_again(compare, AGAIN_LOOK, sm_slot_format(now, slot, name));
            any = true;
        }
        compare->no_memory = compare->no_memory || was.failed || is.failed;
        sm_text_deinit(&was);
        sm_text_deinit(&is);
    }
    return any;
}

static bool rail_differs(sm_compare *compare, uint32_t index, uint32_t old_rail) {
    sm_text was = {0}, is = {0};
    if (old_rail != SM_NONE)
        describe_rail(compare->old, old_rail, &was);
    describe_rail(compare->now, index, &is);
    const bool differs = strcmp(sm_text_get(&was), sm_text_get(&is)) != 0;
    compare->no_memory = compare->no_memory || was.failed || is.failed;
    sm_text_deinit(&was);
    sm_text_deinit(&is);
    return differs;
}

static void look_at_rails(sm_compare *compare) {
    for (uint32_t i = 0; i < compare->now->rail_count; i++) {
        char room[64] = "rail ";
        sm_text thing = SM_TEXT_IN(room);
        thing.length = strlen(room);
        const char *const name = compare->now->rails[i].name;
        const uint32_t old_rail = sm_rail_find(compare->old, name);
        const bool any = look_at_slots(compare, i, old_rail);
        sm_text_printf(&thing, "%s", name);
        if (any || rail_differs(compare, i, old_rail))
            compare_again(compare, AGAIN_MEASURE, sm_text_get(&thing));
        sm_text_deinit(&thing);
    }
}

// ---- units ----------------------------------------------------------------------------------

static void look_at_fixtures(sm_compare *compare) {
    const sm_show *const old = compare->old, *const now = compare->now;
    for (uint32_t i = 0; i < now->fixture_count; i++) {
        const sm_fixture *const is = &now->fixtures[i];
        const uint32_t row = sm_fixture_find(old, is->name);
        const sm_fixture *const was = row != SM_NONE ? &old->fixtures[row] : NULL;
        if (!was || was->universe != is->universe || was->address != is->address ||
            strcmp(old->profiles[was->profile].name, now->profiles[is->profile].name) != 0)
            compare_again(compare, AGAIN_ADDRESS, is->name);
    }
}

// ---- walk and paper ------------------------------------------------------------------------

static sm_result look_at_walk(sm_compare *compare) {
    sm_walk_list *old = NULL, *now = NULL;
    sm_result result = sm_walk_list_create(compare->old, NULL, &old);
    if (result == SM_OK)
        result = sm_walk_list_create(compare->now, NULL, &now);
    for (uint32_t i = 0; result == SM_OK && i < now->count; i++) {
        const uint32_t row = sm_walk_item_find(old, now->items[i].id);
        if (row == SM_NONE || !sm_walk_hash_equal(&old->items[row].hash, &now->items[i].hash))
            compare_again(compare, AGAIN_WALK, now->items[i].id);
    }
    sm_walk_list_destroy(old);
    sm_walk_list_destroy(now);
    return result;
}

static sm_result look_at_paper(sm_compare *compare) {
    sm_paper *old = NULL, *now = NULL;
    sm_result result = sm_paper_create(compare->old, NULL, &old);
    if (result == SM_OK)
        result = sm_paper_create(compare->now, NULL, &now);
    for (uint32_t i = 0; result == SM_OK && i < now->count; i++) {
        const uint32_t row = sm_paper_find(old, now->sheets[i].name);
        if (row == SM_NONE || strcmp(old->sheets[row].words, now->sheets[i].words) != 0)
            compare_again(compare, AGAIN_PRINT, now->sheets[i].name);
    }
    for (uint32_t i = 0; result == SM_OK && i < old->count; i++)
        if (sm_paper_find(now, old->sheets[i].name) == SM_NONE) {
            char room[96] = "";
            sm_text thing = SM_TEXT_IN(room);
            sm_text_printf(&thing, "%s (throw it away)", old->sheets[i].name);
            compare_again(compare, AGAIN_PRINT, sm_text_get(&thing));
            sm_text_deinit(&thing);
        }
    sm_paper_destroy(old);
    sm_paper_destroy(now);
    return result;
}

// Cues that moved are named where they are told.
static void listen_to_music(sm_compare *compare) {
    const sm_show_settings *const old = &compare->old->settings, *const now = &compare->now->settings;
    if (strcmp(old->audio, now->audio) != 0 || old->audio_start_us != now->audio_start_us)
        compare_again(compare, AGAIN_HEAR, "the music");
}

sm_result compare_consequences(sm_compare *compare) {
    if (compare->count == 0)
        return SM_OK;
    look_at_rails(compare);
    look_at_fixtures(compare);
    listen_to_music(compare);
    const sm_result result = look_at_walk(compare);
    return result == SM_OK ? look_at_paper(compare) : result;
}
