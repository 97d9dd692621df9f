// SPDX-License-Identifier: GPL-3.0-or-later
// What is so just now, for whoever judges an action before it is done: a drill, a caution.
#include "engine/rehearsal.h"

#include "slowmatch/inject.h"

#include <assert.h>
#include <math.h>

sm_facts sm_rehearsal_facts(const sm_rehearsal *r) {
    sm_facts facts = {.now = r->now,
                      .state = r->state,
                      .key = r->key,
                      .clear_called = r->clear_called,
                      .people = r->field.people_count,
                      .wait_since = r->wait_since,
                      .link_lost_since_safe = r->link_lost_since_safe,
                      .link_lost = r->incidents.link_lost,
                      .wind_m_s = r->wind_known ? r->wind_m_s : (double)NAN};
    for (uint32_t slot = 0; slot < r->show->slot_count; slot++) {
        const sm_field_slot *s = &r->field.slots[slot];
        bool misfired = s->outcome == SM_OUTCOME_MISFIRED;
        assert(!misfired || !s->spent);
        facts.misfired += misfired;
        facts.misfired_unreported += misfired && !s->reported;
    }
    return facts;
}

sm_us sm_wait_asked_us(const sm_show_settings *settings, bool misfired) {
    sm_us wait = settings->reentry_wait_us, longer = settings->misfire_wait_us;
    return misfired && longer != SM_UNSET_US && (wait == SM_UNSET_US || longer > wait) ? longer : wait;
}

sm_verdict sm_rehearsal_verdict_read(const sm_rehearsal *r, uint32_t slot) {
    return r->field.slots[slot].verdict;
}

bool sm_rehearsal_plugged(const sm_rehearsal *r, uint32_t rail) {
    return r->field.plugged[rail];
}

bool sm_rehearsal_inhibits(const sm_rehearsal *r, const char *name) {
    return sm_inhibit_find(r, name) != SM_NONE;
}

bool sm_rehearsal_has_person(const sm_rehearsal *r, const char *name) {
    return sm_field_person(&r->field, name) != SM_NONE;
}

bool sm_rehearsal_aerials_to_come(const sm_rehearsal *r) {
    const sm_show *show = r->show;
    bool any = false;
    for (uint32_t i = 0; i < show->firing_count && !any; i++) {
        const sm_field_slot *slot = &r->field.slots[show->firings[i].slot];
        any = show->effects[show->firings[i].effect].zone == SM_ZONE_AERIAL && !slot->spent &&
              slot->outcome == SM_OUTCOME_NONE && !slot->inhibited;
    }
    return any;
}

bool sm_rehearsal_has_misfired(const sm_rehearsal *r, uint32_t slot) {
    return r->field.slots[slot].outcome == SM_OUTCOME_MISFIRED;
}

bool sm_rehearsal_was_reported(const sm_rehearsal *r, uint32_t slot) {
    return r->field.slots[slot].reported;
}

bool sm_remote_is_paired(const sm_show *show, int32_t remote) {
    for (uint32_t i = 0; i < show->settings.paired_count; i++)
        if (show->settings.paired[i] == remote)
            return true;
    return remote == 0;
}
