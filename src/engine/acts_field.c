// SPDX-License-Identifier: GPL-3.0-or-later
// What actions do in the field: plugs, igniters, people, readings, wind.
#include "engine/act_call.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

static void lapse(const sm_act_call *c, const char *what) {
    char why[160];
    snprintf(why, sizeof why, "%s %.96s", what, c->action->target);
    sm_lapse_clear(c->r, why);
}

sm_result sm_act_rerig(const sm_act_call *c) {
    sm_act_log(c);
    sm_field_rerig(&c->r->field);
    memset(c->r->progress, SM_FIRING_PENDING, c->r->show->firing_count);
    sm_lapse_clear(c->r, "re-rigged");
    return SM_OK;
}

sm_result sm_act_plug(const sm_act_call *c) {
    assert(c->action->index < c->r->show->rail_count);
    if (c->r->field.plugged[c->action->index])
        return sm_act_refuse(c, "rail %s is plugged already", c->action->target);
    sm_act_log(c);
    c->r->field.plugged[c->action->index] = true;
    lapse(c, "plugged");
    return SM_OK;
}

sm_result sm_act_unplug(const sm_act_call *c) {
    assert(c->action->index < c->r->show->rail_count);
    if (!c->r->field.plugged[c->action->index])
        return sm_act_refuse(c, "rail %s is not plugged", c->action->target);
    sm_act_log(c);
    c->r->field.plugged[c->action->index] = false;
    lapse(c, "unplugged");
    return SM_OK;
}

static bool has_gone(const sm_rehearsal *r, uint32_t rail) {
    const sm_rail *row = &r->show->rails[rail];
    for (uint32_t n = 0; n < (uint32_t)row->slots; n++) {
        const sm_field_slot *slot = &r->field.slots[row->slot_base + n];
        if (slot->spent || slot->outcome == SM_OUTCOME_MISFIRED)
            return true;
    }
    return false;
}

sm_result sm_act_exchange(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    const uint32_t rails[] = {c->action->index, c->action->second};
    const sm_show *show = r->show;
    if (rails[0] == rails[1])
        return sm_act_refuse(c, "rail %s twice: name two", c->action->target);
    if (show->rails[rails[0]].slots != show->rails[rails[1]].slots)
        return sm_act_refuse(c, "rails %s and %s have not as many slots", show->rails[rails[0]].name,
                             show->rails[rails[1]].name);
    for (size_t i = 0; i < 2; i++) {
        if (!r->field.plugged[rails[i]])
            return sm_act_refuse(c, "rail %s is not plugged", show->rails[rails[i]].name);
        if (has_gone(r, rails[i]))
            return sm_act_refuse(c, "something on rail %s fired or misfired: not before that is dealt with",
                                 show->rails[rails[i]].name);
    }
    sm_act_log(c);
    sm_field_exchange(&r->field, rails[0], rails[1]);
    sm_undo_forget_readings(r, SM_NONE);
    sm_lapse_clear(r, "two plugs were exchanged");
    return SM_OK;
}

sm_result sm_act_repair(const sm_act_call *c) {
    assert(c->action->index < c->r->show->slot_count);
    sm_act_log(c);
    sm_field_repair(&c->r->field, c->action->index);
    sm_undo_forget_readings(c->r, c->action->index);
    lapse(c, "repaired");
    return SM_OK;
}

sm_result sm_act_enter(const sm_act_call *c) {
    sm_simulated_field *field = &c->r->field;
    if (sm_field_person(field, c->action->target) != SM_NONE)
        return sm_act_refuse(c, "%s is reported in the field already", c->action->target);
    if (field->people_count == SM_PEOPLE_MAX)
        return sm_act_refuse(c, "%d people are the most this board holds", SM_PEOPLE_MAX);
    sm_act_log(c);
    sm_person *person = &field->people[field->people_count++];
    snprintf(person->name, sizeof person->name, "%s", c->action->target);
    person->since = c->r->now;
    char why[160];
    snprintf(why, sizeof why, "%.96s went in", c->action->target);
    sm_lapse_clear(c->r, why);
    return SM_OK;
}

sm_result sm_act_leave(const sm_act_call *c) {
    sm_simulated_field *field = &c->r->field;
    uint32_t at = sm_field_person(field, c->action->target);
    if (at == SM_NONE)
        return sm_act_refuse(c, "%s is not reported in the field", c->action->target);
    sm_act_log(c);
    field->people_count--;
    memmove(&field->people[at], &field->people[at + 1], (field->people_count - at) * sizeof field->people[0]);
    return SM_OK;
}

sm_result sm_act_measure(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    sm_act_log(c);
    sm_undo_forget_readings(r, SM_NONE);
    for (uint32_t slot = 0; slot < r->show->slot_count; slot++) {
        uint32_t rail = r->show->slot_rails[slot];
        if (!r->field.plugged[rail] || (c->action->index != SM_NONE && c->action->index != rail))
            continue;
        sm_read_value truth = r->field.slots[slot].truth;
        sm_field_read(&r->field, slot, sm_field_measure(&r->field, slot), r->now);
        r->field.slots[slot].truth = truth; // measuring changes nothing out there
    }
    return SM_OK;
}

sm_result sm_act_read_slot(const sm_act_call *c) {
    assert(c->action->index < c->r->show->slot_count);
    sm_rehearsal *r = c->r;
    sm_act_log(c);
    sm_undo_remember(
        r,
        (sm_undo){.act = SM_ACT_READ, .slot = c->action->index, .before = r->field.slots[c->action->index]});
    sm_read_value truth = r->field.slots[c->action->index].truth;
    sm_field_read(&r->field, c->action->index, c->action->value, r->now);
    r->field.slots[c->action->index].by_hand = !c->action->from_file;
    if (r->options.drill)
        r->field.slots[c->action->index].truth = truth; // a number written down mends nothing
    return SM_OK;
}

sm_result sm_act_report(const sm_act_call *c) {
    assert(c->action->index < c->r->show->slot_count);
    sm_act_log(c);
    sm_field_report(&c->r->field, c->action->index);
    return SM_OK;
}

sm_result sm_act_wind(const sm_act_call *c) {
    sm_act_log(c);
    c->r->wind_known = true;
    c->r->wind_m_s = c->action->number;
    c->r->wind_at = c->r->now;
    if (c->r->wind_m_s > c->r->show->settings.wind_limit_m_s) // false where it is not set
        sm_start_cancel(c->r, "wind over your limit");
    return SM_OK;
}

sm_result sm_act_waive(const sm_act_call *c) {
    char missing[200];
    if (!sm_guard_waive(c->r, c->action->guard, c->action->detail, c->source, missing))
        return sm_act_refuse(c, "%s", missing);
    sm_act_log(c);
    return SM_OK;
}
