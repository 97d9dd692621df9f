// SPDX-License-Identifier: GPL-3.0-or-later
// A hold: any station calls it by name and needs no reason that others accept. It stops at once, as a pause does (arming: as safe does), and nothing is
// armed, started or resumed until it is lifted: by the lead, and only after whoever called it agrees.
#include "engine/act_call.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

static sm_hold *find(sm_rehearsal *r, const char *who) {
    for (uint32_t i = 0; i < r->hold_count; i++)
        if (sm_person_same(r->holds[i].who, who))
            return &r->holds[i];
    return NULL;
}

// Who called again only gives another reason. Where all places are taken, those holds stand and this one has stopped all the same.
static void remember(sm_rehearsal *r, const char *who, const char *why) {
    sm_hold *hold = find(r, who);
    assert(r->hold_count <= SM_HOLDS_MAX);
    if (!hold && r->hold_count == SM_HOLDS_MAX)
        return;
    if (!hold) {
        hold = &r->holds[r->hold_count++];
        hold->at = r->now;
        sm_copy_cut(hold->who, sizeof hold->who, who);
    }
    sm_copy_cut(hold->why, sizeof hold->why, why);
}

sm_result sm_act_hold(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    sm_act_log(c);
    remember(r, c->action->target, c->action->detail);
    char why[160];
    snprintf(why, sizeof why, "%.96s called hold", c->action->target);
    sm_start_cancel(r, why);
    if (r->state == SM_STATE_ARMING)
        sm_make_safe(r, why);
    if (r->state == SM_STATE_RUNNING)
        sm_pause_here(r);
    return SM_OK;
}

sm_result sm_act_lift(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    sm_hold *hold = find(r, c->action->target);
    if (!hold)
        return sm_act_refuse(c, "%s has called no hold that stands", c->action->target);
    sm_act_log(c);
    assert(hold < &r->holds[r->hold_count]);
    r->hold_count--;
    memmove(hold, hold + 1, (size_t)(&r->holds[r->hold_count] - hold) * sizeof *hold);
    return SM_OK;
}

void sm_holds_snapshot(const sm_rehearsal *r, sm_snapshot *s) {
    s->hold_count = r->hold_count;
    s->hold_who[0] = s->hold_why[0] = '\0';
    if (r->hold_count == 0)
        return;
    memcpy(s->hold_who, r->holds[0].who, sizeof s->hold_who);
    memcpy(s->hold_why, r->holds[0].why, sizeof s->hold_why);
    s->hold_at = r->holds[0].at;
}

void sm_hold_describe(const char *who, const char *why, uint32_t count, sm_text *out) {
    sm_text_printf(out, "hold by %s: %s", who, why);
    if (count > 1)
        sm_text_printf(out, ", and %u more", count - 1);
    sm_text_printf(out, "; to be lifted when %s agrees", count > 1 ? "each" : who);
}
