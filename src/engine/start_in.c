// SPDX-License-Identifier: GPL-3.0-or-later
// The start by itself. It was set with the guards met, and nobody will look at them at its moment but this: so whatever happens in
// between cancels it, for good. An inhibit does not: holding something back must never cost anything.
#include "engine/rehearsal.h"

#include <stdio.h>

void sm_start_set(sm_rehearsal *r, sm_us span) {
    r->starts_at.us = r->now.us + span;
    r->start_cancelled[0] = '\0';
}

void sm_start_cancel(sm_rehearsal *r, const char *why) {
    if (r->starts_at.us == SM_UNSET_US)
        return;
    r->starts_at.us = SM_UNSET_US;
    sm_copy_cut(r->start_cancelled, sizeof r->start_cancelled, why);
    r->start_cancelled_at = r->now;
    sm_log_goes_on(r, SM_ACT_START_IN, "cancelled", why);
}

void sm_start_now(sm_rehearsal *r) {
    static const sm_action start = {.act = SM_ACT_START, .index = SM_NONE};
    sm_text names = {0}, why = {0};
    if (r->state != SM_STATE_ARMED || r->sights.link_lost ||
        sm_guards_refuse(r, SM_ASKED_PEOPLE, &names, &why)) {
        sm_start_cancel(r, why.length > 0 ? sm_text_get(&why) : "not armed, or the link is lost");
    } else {
        r->starts_at.us = SM_UNSET_US;
        sm_log_action(r, &start, SM_SOURCE_ENGINE, "by itself");
        sm_run_from_place(r, false);
    }
    sm_text_deinit(&names);
    sm_text_deinit(&why);
}
