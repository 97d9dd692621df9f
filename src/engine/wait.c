// SPDX-License-Identifier: GPL-3.0-or-later
// The wait before anybody goes in, and what calls for make safe and key off.
#include "engine/rehearsal.h"

#include "slowmatch/inject.h"
#include "slowmatch/time_of_day.h"

sm_wait sm_wait_look(const sm_show_settings *settings, bool misfired, sm_wall_time since, bool runs,
                     sm_wall_time now) {
    sm_wait wait = {.limit_us = SM_UNSET_US};
    if (since.us == SM_UNSET_US)
        return wait;
    wait.asked = true;
    wait.limit_us = sm_wait_asked_us(settings, misfired);
    bool longer = wait.limit_us != SM_UNSET_US && wait.limit_us != settings->reentry_wait_us;
    wait.name = longer || (wait.limit_us == SM_UNSET_US && misfired) ? "misfire-wait" : "reentry-wait";
    wait.runs = runs;
    wait.gone_us = runs ? now.us - since.us : 0;
    wait.has_run = wait.limit_us != SM_UNSET_US && wait.gone_us >= wait.limit_us;
    return wait;
}

sm_wait sm_snapshot_wait(const sm_snapshot *now) {
    const bool runs = now->state == SM_STATE_SAFE && !now->incidents.link_lost; // else nobody knows it safe
    return sm_wait_look(&now->show->settings, now->misfired > 0, now->wait_since, runs, now->wall);
}

uint32_t sm_wait_describe(const sm_snapshot *now, sm_text *out) {
    const sm_wait wait = sm_snapshot_wait(now);
    const bool set = wait.limit_us != SM_UNSET_US;
    char gone[24], full[24] = "";
    if (!wait.asked)
        return 0;
    if (set)
        sm_wait_format(wait.limit_us, full);
    sm_wait_format(wait.gone_us, gone);
    size_t before = out->length;
    if (!wait.runs)
        sm_text_printf(out, "wait%s%s not begun", set ? " of " : "", full);
    else if (set)
        sm_text_printf(out, "wait %s of %s", gone, full);
    else // what has been waited, so that nobody takes it for a countdown
        sm_text_printf(out, "waited %s", gone);
    const uint32_t essential = (uint32_t)(out->length - before);
    if (!wait.runs && now->incidents.link_lost)
        sm_text_printf(out, ": module not known");
    if (wait.has_run)
        sm_text_printf(out, " has run");
    if (wait.runs)
        sm_text_printf(out, now->key ? ", BEGINS AGAIN AT KEY OFF" : " since made safe");
    if (set)
        sm_text_printf(out, " (your setting)");
    else
        sm_text_printf(out, ", NO LIMIT SET (%s)", wait.name);
    return essential;
}

bool sm_snapshot_all_stay_out(const sm_snapshot *now) {
    const sm_wait wait = sm_snapshot_wait(now);
    return (wait.asked && !wait.has_run) || now->flying + now->burning_count > 0;
}

bool sm_snapshot_aerial_goes(const sm_snapshot *now, uint32_t firing) {
    const sm_firing *f = &now->show->firings[firing];
    const sm_slot_view *slot = &now->slots[f->slot];
    return now->show->effects[f->effect].zone == SM_ZONE_AERIAL && slot->phase == SM_SLOT_WAITING &&
           !slot->inhibited;
}

bool sm_snapshot_wind_over(const sm_snapshot *now) {
    bool goes = false;
    if (!now->wind_known || !(now->wind_m_s > now->show->settings.wind_limit_m_s)) // NAN where it is not set
        return false;
    for (uint32_t i = 0; i < now->show->firing_count && !goes; i++)
        goes = sm_snapshot_aerial_goes(now, i);
    return goes;
}

bool sm_snapshot_fire(const sm_snapshot *now) {
    for (uint32_t i = 0; i < now->show->position_count; i++)
        if (now->fire_at[i])
            return true;
    return false;
}

bool sm_snapshot_danger(const sm_snapshot *now) {
    bool danger = now->incidents.storm || now->incidents.silent_open > 0 || sm_snapshot_fire(now);
    for (uint32_t i = 0; i < now->show->fixture_count && !danger; i++)
        danger = now->flame_faults[i] == SM_FLAME_STUCK;
    for (uint32_t slot = 0; slot < now->show->slot_count && !danger; slot++)
        danger = now->slots[slot].tipped || now->slots[slot].fired_alone;
    return danger;
}
