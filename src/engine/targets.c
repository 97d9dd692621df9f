// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/targets.h"

#include <string.h>

static sm_zone zone_named(const char *name) {
    for (int zone = SM_ZONE_GROUND; zone < SM_ZONE_COUNT; zone++)
        if (strcmp(name, sm_zone_text((sm_zone)zone)) == 0)
            return (sm_zone)zone;
    return SM_ZONE_NONE;
}

bool sm_targets_known(const sm_show *show, const char *name) {
    uint32_t slot;
    return sm_slot_find(show, name, strlen(name), &slot) == SM_OK || sm_rail_find(show, name) != SM_NONE ||
           sm_effect_find(show, name) != SM_NONE || sm_fixture_find(show, name) != SM_NONE ||
           sm_group_find(show, name) != SM_NONE || sm_position_find(show, name) != SM_NONE ||
           zone_named(name) != SM_ZONE_NONE;
}

static bool group_has(const sm_show *show, const char *name, sm_target_kind kind, uint32_t index) {
    uint32_t group = sm_group_find(show, name);
    if (group == SM_NONE)
        return false;
    for (uint32_t i = 0; i < show->groups[group].member_count; i++) {
        sm_target member = show->groups[group].members[i];
        if (member.kind == kind && member.index == index)
            return true;
    }
    return false;
}

static bool at_position(const sm_show *show, const char *name, uint32_t position) {
    return position != SM_NONE && strcmp(show->positions[position].name, name) == 0;
}

bool sm_targets_has_slot(const sm_show *show, const char *name, uint32_t slot) {
    const sm_rail *rail = &show->rails[show->slot_rails[slot]];
    uint32_t named;
    return (sm_slot_find(show, name, strlen(name), &named) == SM_OK && named == slot) ||
           strcmp(rail->name, name) == 0 || at_position(show, name, rail->position) ||
           group_has(show, name, SM_TARGET_SLOT, slot);
}

bool sm_targets_has_firing(const sm_show *show, const char *name, uint32_t firing) {
    const sm_firing *f = &show->firings[firing];
    if (sm_targets_has_slot(show, name, f->slot))
        return true;
    if (f->effect == SM_NONE)
        return false;
    const sm_effect *effect = &show->effects[f->effect];
    sm_zone zone = zone_named(name);
    return strcmp(effect->name, name) == 0 || (zone != SM_ZONE_NONE && effect->zone == zone);
}

bool sm_targets_has_fixture(const sm_show *show, const char *name, uint32_t fixture) {
    const sm_fixture *f = &show->fixtures[fixture];
    return strcmp(f->name, name) == 0 || at_position(show, name, f->position) ||
           group_has(show, name, SM_TARGET_FIXTURE, fixture);
}
