// SPDX-License-Identifier: GPL-3.0-or-later
// What `undo` takes back: readings, marks, ticks, notes, proposals.
#include "engine/rehearsal.h"

#include <assert.h>
#include <string.h>

void sm_undo_remember(sm_rehearsal *r, sm_undo undo) {
    assert(r->undo_count <= r->undo_room);
    if (r->undo_count == r->undo_room)
        memmove(r->undos, r->undos + 1, --r->undo_count * sizeof r->undos[0]);
    r->undos[r->undo_count++] = undo;
}

void sm_undo_forget_readings(sm_rehearsal *r, uint32_t slot) {
    uint32_t kept = 0;
    for (uint32_t i = 0; i < r->undo_count; i++)
        if (r->undos[i].act != SM_ACT_READ || (slot != SM_NONE && r->undos[i].slot != slot))
            r->undos[kept++] = r->undos[i];
    r->undo_count = kept;
}

void sm_undo_take_back(sm_rehearsal *r) {
    assert(r->undo_count > 0);
    const sm_undo *last = &r->undos[--r->undo_count];
    if (last->act == SM_ACT_READ) {
        sm_field_slot *s = &r->field.slots[last->slot];
        s->reading = last->before.reading;
        if (!r->options.drill)
            s->truth = last->before.truth;
        s->read_at = last->before.read_at;
        s->verdict = last->before.verdict;
        s->read_spent = last->before.read_spent;
    } else if (last->act == SM_ACT_MARK && r->mark_count > 0) {
        r->mark_count--;
    } else if (last->act == SM_ACT_PROPOSE && r->proposal_count > 0) {
        r->proposal_count--;
    }
}
