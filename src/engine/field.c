// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/field.h"

#include "slowmatch/time_of_day.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

static void judge(sm_simulated_field *field, uint32_t slot) {
    field->slots[slot].verdict = sm_rig_judge(field->show, slot, true, field->slots[slot].reading);
}

sm_result sm_field_init(sm_simulated_field *field, const sm_show *show, bool bare) {
    *field = (sm_simulated_field){.show = show};
    field->slots = calloc(show->slot_count + 1u, sizeof *field->slots);
    field->plugged = calloc(show->rail_count + 1u, sizeof *field->plugged);
    field->rail_waived = calloc(show->rail_count + 1u, sizeof *field->rail_waived);
    if (!field->slots || !field->plugged || !field->rail_waived) {
        sm_field_deinit(field);
        return SM_NO_MEMORY;
    }
    for (uint32_t rail = 0; rail < show->rail_count; rail++)
        field->plugged[rail] = !bare;
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        field->slots[slot].read_at.us = field->slots[slot].read_when_us = SM_UNSET_US;
        judge(field, slot);
    }
    for (uint32_t i = 0; i < show->reading_count; i++) {
        const sm_reading *row = &show->readings[i];
        sm_field_read(field, row->slot, row->value, (sm_wall_time){SM_UNSET_US});
        if (!sm_time_of_day_read_date(row->when, &field->slots[row->slot].read_when_us))
            field->slots[row->slot].read_when_us = SM_UNSET_US;
    }
    return SM_OK;
}

void sm_field_deinit(sm_simulated_field *field) {
    free(field->slots);
    free(field->plugged);
    free(field->rail_waived);
    *field = (sm_simulated_field){0};
}

bool sm_field_programmed(const sm_simulated_field *field, uint32_t slot) {
    assert(slot < field->show->slot_count);
    return field->show->slot_firings[slot] != SM_NONE;
}

void sm_field_read(sm_simulated_field *field, uint32_t slot, sm_read_value value, sm_wall_time at) {
    assert(slot < field->show->slot_count);
    sm_field_slot *s = &field->slots[slot];
    s->reading = value;
    s->read_at = at;
    s->by_hand = false;
    s->read_spent = s->spent;
    s->truth = value;
    judge(field, slot);
}

sm_read_value sm_field_measure(const sm_simulated_field *field, uint32_t slot) {
    const sm_field_slot *s = &field->slots[slot];
    if (s->spent) // a burnt bridge
        return (sm_read_value){SM_READ_OPEN, 0};
    if (s->truth.kind != SM_READ_NOTHING)
        return s->truth;
    if (!sm_field_programmed(field, slot))
        return (sm_read_value){SM_READ_OPEN, 0};
    sm_rig_loop loop = sm_rig_firing_loop(field->show, field->show->slot_firings[slot]);
    return (sm_read_value){SM_READ_OHMS, loop.nominal_ohms};
}

void sm_field_repair(sm_simulated_field *field, uint32_t slot) {
    assert(slot < field->show->slot_count);
    sm_field_slot *s = &field->slots[slot];
    const bool owed =
        s->outcome == SM_OUTCOME_MISFIRED && !s->reported; // what misfired is still to be reported
    *s = (sm_field_slot){.read_at = {SM_UNSET_US},
                         .read_when_us = SM_UNSET_US,
                         .outcome = owed ? SM_OUTCOME_MISFIRED : SM_OUTCOME_NONE,
                         .mended = owed,
                         .inhibited = s->inhibited};
    judge(field, slot);
}

void sm_field_report(sm_simulated_field *field, uint32_t slot) {
    sm_field_slot *s = &field->slots[slot];
    s->reported = true;
    if (s->mended)
        s->outcome = SM_OUTCOME_NONE;
    s->mended = false;
}

void sm_field_exchange(sm_simulated_field *field, uint32_t a, uint32_t b) {
    const sm_show *show = field->show;
    assert(show->rails[a].slots == show->rails[b].slots);
    for (uint32_t n = 0; n < (uint32_t)show->rails[a].slots; n++) {
        const uint32_t slots[] = {show->rails[a].slot_base + n, show->rails[b].slot_base + n};
        const sm_field_slot before[] = {field->slots[slots[0]], field->slots[slots[1]]};
        const sm_read_value truths[] = {sm_field_measure(field, slots[0]), sm_field_measure(field, slots[1])};
        for (size_t i = 0; i < 2; i++) {
            sm_field_slot *slot = &field->slots[slots[i]];
            *slot = before[1 - i]; // what hangs there, not what it is for
            slot->truth = truths[1 - i];
            slot->inhibited = before[i].inhibited;
            slot->outcome = before[i].outcome;
            slot->waived = slot->by_hand = false;
            slot->reading = (sm_read_value){0};
            slot->read_at.us = slot->read_when_us = SM_UNSET_US;
            judge(field, slots[i]);
        }
    }
}

void sm_field_rerig_slot(sm_simulated_field *field, uint32_t slot) {
    sm_field_slot *s = &field->slots[slot];
    if (s->read_spent) {
        s->by_hand = false;
        s->reading = (sm_read_value){0};
        s->read_at.us = SM_UNSET_US;
    }
    s->truth = s->reading;
    s->spent = s->read_spent = s->reported = s->mended = s->dud = s->tipped = s->fired_alone = false;
    s->late_us = 0;
    s->outcome = SM_OUTCOME_NONE;
    judge(field, slot);
}

void sm_field_rerig(sm_simulated_field *field) {
    for (uint32_t slot = 0; slot < field->show->slot_count; slot++)
        sm_field_rerig_slot(field, slot);
}

sm_verdict sm_field_verdict(const sm_simulated_field *field, uint32_t slot) {
    assert(slot < field->show->slot_count);
    return field->plugged[field->show->slot_rails[slot]] ? field->slots[slot].verdict : SM_VERDICT_UNPLUGGED;
}

const char *sm_field_misfire(const sm_simulated_field *field, uint32_t slot) {
    assert(slot < field->show->slot_count);
    if (!field->plugged[field->show->slot_rails[slot]])
        return "rail unplugged";
    if (field->slots[slot].dud)
        return "no ignition";
    sm_read_value truth = field->slots[slot].truth;
    if (truth.kind == SM_READ_NOTHING)
        return NULL;
    sm_verdict verdict = sm_rig_judge(field->show, slot, true, truth);
    bool fails = verdict == SM_VERDICT_OPEN || verdict == SM_VERDICT_SHORT;
    return fails ? sm_verdict_text(verdict) : NULL;
}

bool sm_field_partial(const sm_simulated_field *field, uint32_t slot) {
    sm_read_value truth = field->slots[slot].truth;
    return truth.kind == SM_READ_OHMS && sm_rig_reads_like(field->show, slot, truth) > 0;
}

uint32_t sm_field_person(const sm_simulated_field *field, const char *name) {
    for (uint32_t i = 0; i < field->people_count; i++)
        if (sm_person_same(field->people[i].name, name))
            return i;
    return SM_NONE;
}

void sm_field_carry(sm_simulated_field *field, const sm_simulated_field *old) {
    memcpy(field->people, old->people, sizeof field->people);
    field->people_count = old->people_count;
    for (uint32_t rail = 0; rail < field->show->rail_count; rail++) {
        uint32_t was = sm_rail_find(old->show, field->show->rails[rail].name);
        if (was == SM_NONE)
            continue;
        field->plugged[rail] = old->plugged[was];
        field->rail_waived[rail] = old->rail_waived[was];
        uint32_t base = field->show->rails[rail].slot_base, old_base = old->show->rails[was].slot_base;
        for (int32_t n = 0; n < field->show->rails[rail].slots && n < old->show->rails[was].slots; n++) {
            field->slots[base + (uint32_t)n] = old->slots[old_base + (uint32_t)n];
            judge(field, base + (uint32_t)n);
        }
    }
}
