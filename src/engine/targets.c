// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/targets.h"

#include <assert.h>
#include <string.h>

static sm_zone zone_named(const char *name) {
    for (int zone = SM_ZONE_GROUND; zone < SM_ZONE_COUNT; zone++)
        if (strcmp(name, sm_zone_text((sm_zone)zone)) == 0)
            return (sm_zone)zone;
    return SM_ZONE_NONE;
}

sm_named sm_named_look(const sm_show *show, const char *name) {
    sm_named named = {.slot = SM_NONE,
                      .rail = sm_rail_find(show, name),
                      .effect = sm_effect_find(show, name),
                      .fixture = sm_fixture_find(show, name),
                      .group = sm_group_find(show, name),
                      .position = sm_position_find(show, name),
                      .zone = zone_named(name)};
    if (sm_slot_find(show, name, strlen(name), &named.slot) != SM_OK)
        named.slot = SM_NONE;
    return named;
}

bool sm_named_known(const sm_named *named) {
    return named->slot != SM_NONE || named->rail != SM_NONE || named->effect != SM_NONE ||
           named->fixture != SM_NONE || named->group != SM_NONE || named->position != SM_NONE ||
           named->zone != SM_ZONE_NONE;
}

static bool group_has(const sm_show *show, uint32_t group, sm_target_kind kind, uint32_t index) {
    if (group == SM_NONE)
        return false;
    for (uint32_t i = 0; i < show->groups[group].member_count; i++) {
        sm_target member = show->groups[group].members[i];
        if (member.kind == kind && member.index == index)
            return true;
    }
    return false;
}

// SM_NONE is no thing's number, so a name that means no rail matches none.
static bool same(uint32_t named, uint32_t index) {
    return named != SM_NONE && named == index;
}

bool sm_named_has_slot(const sm_show *show, const sm_named *named, uint32_t slot) {
    assert(slot < show->slot_count);
    uint32_t rail = show->slot_rails[slot];
    return same(named->slot, slot) || same(named->rail, rail) ||
           same(named->position, show->rails[rail].position) ||
           group_has(show, named->group, SM_TARGET_SLOT, slot);
}

bool sm_named_has_firing(const sm_show *show, const sm_named *named, uint32_t firing) {
    assert(firing < show->firing_count);
    const sm_firing *f = &show->firings[firing];
    if (sm_named_has_slot(show, named, f->slot) || same(named->effect, f->effect))
        return true;
    return named->zone != SM_ZONE_NONE && f->effect != SM_NONE &&
           show->effects[f->effect].zone == named->zone;
}

bool sm_named_has_fixture(const sm_show *show, const sm_named *named, uint32_t fixture) {
    assert(fixture < show->fixture_count);
    return same(named->fixture, fixture) || same(named->position, show->fixtures[fixture].position) ||
           group_has(show, named->group, SM_TARGET_FIXTURE, fixture);
}
