// SPDX-License-Identifier: GPL-3.0-or-later
// What is held back. The list of names is what counts: a slot or fixture is held as long as any name in it means it, so that allowing a
// rail does not allow the slot of it that was held by itself.
#include "engine/rehearsal.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

static void look_at_firings(sm_rehearsal *r, const sm_named *named, uint32_t count) {
    const sm_show *show = r->show;
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        r->field.slots[slot].inhibited = false;
        for (uint32_t i = 0; i < count && !r->field.slots[slot].inhibited; i++)
            r->field.slots[slot].inhibited = sm_named_has_slot(show, &named[i], slot);
    }
    for (uint32_t f = 0; f < show->firing_count; f++) {
        r->firing_inhibited[f] = false;
        for (uint32_t i = 0; i < count && !r->firing_inhibited[f]; i++)
            r->firing_inhibited[f] = sm_named_has_firing(show, &named[i], f);
        if (r->firing_inhibited[f])
            r->field.slots[show->firings[f].slot].inhibited = true;
    }
}

static void look_at_fixtures(sm_rehearsal *r, const sm_named *named, uint32_t count) {
    const sm_show *show = r->show;
    sm_show_time at = sm_place_now(r);
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        bool held = false;
        for (uint32_t i = 0; i < count && !held; i++)
            held = sm_named_has_fixture(show, &named[i], f);
        if (held == r->fixture_inhibited[f])
            continue;
        r->fixture_inhibited[f] = held;
        const sm_profile *profile = &show->profiles[show->fixtures[f].profile];
        if (held)
            sm_hold_fixture_home(r, f, at);
        else if (profile->flame) // so that a resume opens it where the show has it open
            sm_dmx_play_rebuild_channel(r->dmx, f, profile->enable, at);
    }
}

void sm_inhibits_apply(sm_rehearsal *r) {
    sm_named named[SM_INHIBITS_MAX];
    for (uint32_t i = 0; i < r->inhibit_count; i++)
        named[i] = sm_named_look(r->show, r->inhibits[i]);
    look_at_firings(r, named, r->inhibit_count);
    look_at_fixtures(r, named, r->inhibit_count);
}

void sm_inhibit_mark(const sm_show *show, const char *name, bool *slots, bool *fixtures) {
    sm_named named = sm_named_look(show, name);
    for (uint32_t slot = 0; slot < show->slot_count; slot++)
        slots[slot] = slots[slot] || sm_named_has_slot(show, &named, slot);
    for (uint32_t f = 0; f < show->firing_count; f++)
        slots[show->firings[f].slot] = slots[show->firings[f].slot] || sm_named_has_firing(show, &named, f);
    for (uint32_t f = 0; f < show->fixture_count; f++)
        fixtures[f] = fixtures[f] || sm_named_has_fixture(show, &named, f);
}

uint32_t sm_inhibit_find(const sm_rehearsal *r, const char *name) {
    for (uint32_t i = 0; i < r->inhibit_count; i++)
        if (strcmp(r->inhibits[i], name) == 0)
            return i;
    return SM_NONE;
}

void sm_inhibit_add(sm_rehearsal *r, const char *name) {
    if (sm_inhibit_find(r, name) != SM_NONE)
        return;
    assert(r->inhibit_count < SM_INHIBITS_MAX);
    snprintf(r->inhibits[r->inhibit_count++], sizeof r->inhibits[0], "%s", name);
}

void sm_inhibit_remove(sm_rehearsal *r, uint32_t at) {
    assert(at < r->inhibit_count);
    r->inhibit_count--;
    memmove(r->inhibits[at], r->inhibits[at + 1], (r->inhibit_count - at) * sizeof r->inhibits[0]);
}
