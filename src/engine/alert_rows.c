// SPDX-License-Identifier: GPL-3.0-or-later
// A row of the log where an alert begins, and one where it ends. The list is looked at after each action, after each instant that may
// have changed it, and when one begins or ends with time alone: so the rows depend on what happened and on nothing else.
#include "engine/rehearsal.h"

#include <assert.h>

static void put_row(void *context, const sm_alert *alert, bool begins) {
    sm_rehearsal *r = context;
    const sm_alert_row *row = sm_alert_row_of(alert->id);
    char room[2 * SM_ALERT_WORDS] = "";
    sm_text detail = SM_TEXT_IN(room);
    sm_text_printf(&detail, "%s, %s: %s", begins ? "begins" : "ends", sm_alert_rank_text(row->rank),
                   alert->words);
    sm_log_alert(r, begins ? (int)row->rank : 0, row->name, sm_text_get(&detail));
    sm_text_deinit(&detail);
}

// When the wait has run.
static sm_us wait_ends_us(const sm_snapshot *now) {
    sm_wait wait = sm_snapshot_wait(now);
    bool ends = wait.runs && !wait.has_run && wait.limit_us != SM_UNSET_US;
    return ends ? now->wall.us + wait.limit_us - wait.gone_us : INT64_MAX;
}

// When an enable has been open too long with no flame.
static sm_us permit_idles_us(const sm_rehearsal *r) {
    sm_us first = INT64_MAX;
    for (uint32_t f = 0; f < r->show->fixture_count && r->state == SM_STATE_RUNNING; f++) {
        sm_us idle = r->seen->permit_idle_us[f];
        if (idle <= 0 || idle > SM_PERMIT_IDLE_US)
            continue;
        sm_show_time moment = {r->seen->at.us + SM_PERMIT_IDLE_US - idle + 1};
        sm_us due = sm_show_clock_wall_at(&r->clock, moment).us;
        first = due < first ? due : first;
    }
    return first;
}

void sm_alerts_tell(sm_rehearsal *r) {
    if (r->options.no_alerts || (!r->alerts_changed && r->alerts_at.us > r->now.us))
        return;
    sm_rehearsal_snapshot(r, r->now, r->seen);
    (void)sm_rig_explainer_look(&r->rig, r->seen);
    const sm_alert_facts facts = {.sound_lost = r->sound_lost, .swapped = r->rig.swapped};
    sm_alerts_look(&r->alerts, r->seen, &facts, put_row, r);
    sm_us wait = wait_ends_us(r->seen), idle = permit_idles_us(r);
    bool waits = r->state == SM_STATE_RUNNING && r->alerts_at.us > r->now.us; // for a flame set just now
    sm_us next = waits ? r->alerts_at.us : INT64_MAX;
    next = wait < next ? wait : next;
    const sm_us turns = sm_timecode_turns_us(&r->timecode, r->show, r->now);
    next = turns < next ? turns : next;
    r->alerts_at.us = idle < next ? idle : next;
    r->alerts_changed = false;
    assert(r->alerts_at.us > r->now.us);
}

// The unit's enable may stay open from now on with no flame: looked at when that has lasted too long.
void sm_alerts_flame_told(sm_rehearsal *r, uint32_t fixture) {
    if (r->options.no_alerts || !r->show->profiles[r->show->fixtures[fixture].profile].flame)
        return;
    r->alerts_changed |= r->seen->permit_idle_us[fixture] > SM_PERMIT_IDLE_US; // it no longer does, perhaps
    sm_show_time moment = {sm_show_now(r).us + SM_PERMIT_IDLE_US + 1};
    sm_us due = sm_show_clock_wall_at(&r->clock, moment).us;
    r->alerts_at.us = due < r->alerts_at.us ? due : r->alerts_at.us;
}

const sm_alerts *sm_rehearsal_alerts(const sm_rehearsal *r) {
    return &r->alerts;
}
