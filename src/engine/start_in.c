// SPDX-License-Identifier: GPL-3.0-or-later
// The start by itself. It was set with the guards met, and nobody will look at them at its moment but this: so whatever happens in
// between cancels it, for good. An inhibit does not: holding something back must never cost anything.
#include "engine/rehearsal.h"

#include <assert.h>

void sm_start_set(sm_rehearsal *r, sm_us span) {
    assert(span > 0 && r->state == SM_STATE_ARMED);
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
