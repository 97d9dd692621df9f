// SPDX-License-Identifier: GPL-3.0-or-later
// What goes and what then burns. The burning are sorted, soonest out first: few burn at once.
#include "engine/rehearsal.h"

#include <assert.h>
#include <stdlib.h>

sm_result sm_burning_reserve(sm_rehearsal *r) {
    if (r->burning_count < r->burning_capacity)
        return SM_OK;
    uint32_t capacity = r->burning_capacity == 0 ? 64 : r->burning_capacity * 2;
    sm_burning *grown = realloc(r->burning, capacity * sizeof *grown);
    if (!grown)
        return SM_NO_MEMORY;
    r->burning = grown;
    r->burning_capacity = capacity;
    return SM_OK;
}

static void burning_add(sm_rehearsal *r, sm_burning burning) {
    assert(r->burning_count < r->burning_capacity);
    assert(burning.seen_at.us <= burning.out_at.us);
    uint32_t at = r->burning_count;
    while (at > 0 && (r->burning[at - 1].out_at.us > burning.out_at.us ||
                      (r->burning[at - 1].out_at.us == burning.out_at.us &&
                       r->burning[at - 1].event > burning.event))) {
        r->burning[at] = r->burning[at - 1];
        at--;
    }
    r->burning[at] = burning;
    r->burning_count++;
}

void sm_fire_event(sm_rehearsal *r, uint32_t event, const sm_show_time *show, sm_fired fired) {
    assert(r->show->cues[r->show->events[event].cue].kind == SM_CUE_FIRE);
    const sm_firing *firing = &r->show->firings[r->show->events[event].target];
    sm_field_slot *slot = &r->field.slots[firing->slot];
    char name[48];
    char detail_room[SM_WORDS_ROOM] = "";
    sm_text detail = SM_TEXT_IN(detail_room);
    sm_text_printf(&detail, "%s%s", r->show->effects[firing->effect].name,
                   sm_field_partial(&r->field, firing->slot) ? " partial" : "");
    sm_log_fired(r, fired, event, show, sm_slot_format(r->show, firing->slot, name),
                 sm_row_words(r, &detail));
    sm_text_deinit(&detail);
    slot->spent = true;
    slot->outcome = SM_OUTCOME_FIRED;
    r->progress[r->show->events[event].target] = SM_FIRING_FIRED;
    r->wait_since = r->now;
    r->alerts_changed |= r->state != SM_STATE_RUNNING || fired != SM_FIRED_WHEN_DUE || r->wind_known;
    sm_us seen = r->now.us + firing->lead_us;
    if (firing->lasts_us > 0 || firing->lead_us > 0)
        burning_add(r, (sm_burning){event, firing->slot, {seen}, {seen + firing->lasts_us}});
}
