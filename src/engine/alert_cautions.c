// SPDX-License-Identifier: GPL-3.0-or-later
// Ranks 2 and 3: what must be known before the next step, and what to be aware of.
#include "engine/alert_table.h"

#include "slowmatch/conditions.h"

#define NAMED 3

// ---- rank 2 -------------------------------------------------------------------------------

// Aerials that would still go, by name; how many.
static uint32_t put_aerials(const sm_snapshot *now, sm_text *out) {
    const sm_show *show = now->show;
    uint32_t count = 0;
    char name[48];
    for (uint32_t i = 0; i < show->firing_count; i++) {
        if (!sm_snapshot_aerial_goes(now, i))
            continue;
        if (count++ < NAMED)
            sm_text_printf(out, "%s%s", count > 1 ? ", " : ": ",
                           sm_slot_format(show, show->firings[i].slot, name));
    }
    if (count > NAMED)
        sm_text_printf(out, " and %u more", count - NAMED);
    return count;
}

bool sm_alert_put_wind(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                       uint32_t *essential) {
    (void)facts;
    double limit = now->show->settings.wind_limit_m_s; // NAN where it is not set: never over
    if (!now->wind_known || !(now->wind_m_s > limit))
        return false;
    sm_text_printf(out, "WIND %.1f OVER %.1f m/s", now->wind_m_s, limit);
    sm_alert_essential(out, essential);
    sm_text_printf(out, "%s", put_aerials(now, out) > 0 ? " fly" : ", no aerials to come");
    return true;
}

bool sm_alert_wind(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    return now->state != SM_STATE_RUNNING && sm_snapshot_wind_over(now) &&
           sm_alert_put_wind(now, facts, out, essential);
}

bool sm_alert_wind_high(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                        uint32_t *essential) {
    return !sm_snapshot_wind_over(now) && sm_alert_put_wind(now, facts, out, essential);
}

bool sm_alert_misfired(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                       uint32_t *essential) {
    (void)facts;
    uint32_t count = 0;
    char name[48];
    for (uint32_t slot = 0; slot < now->show->slot_count; slot++) {
        if (now->slots[slot].phase != SM_SLOT_MISFIRED || now->slots[slot].reported)
            continue;
        if (count == 0)
            sm_text_printf(out, "MISFIRE");
        if (count++ < NAMED)
            sm_text_printf(out, " %s", sm_slot_format(now->show, slot, name));
        if (count == 1)
            sm_alert_essential(out, essential);
    }
    if (count > NAMED)
        sm_text_printf(out, " +%u more", count - NAMED);
    if (count > 0)
        sm_text_printf(out, " NOT REPORTED, LIVE");
    return count > 0;
}

bool sm_alert_wait(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)facts;
    sm_wait wait = sm_snapshot_wait(now);
    if (!wait.asked || wait.has_run || (now->state != SM_STATE_SAFE && now->state != SM_STATE_ENDED))
        return false;
    *essential = sm_wait_describe(now, out);
    return true;
}

// Where the show does not run, whatever burns is left over from it.
bool sm_alert_burning(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                      uint32_t *essential) {
    (void)facts;
    if (now->state == SM_STATE_RUNNING || now->burning_count + now->flying == 0)
        return false;
    char name[48], span[24];
    sm_text_printf(out, "STILL BURNING %u", now->burning_count + now->flying);
    sm_alert_essential(out, essential);
    for (uint32_t i = 0; i < now->burning_count + now->flying && i < NAMED; i++) {
        const sm_burning *burning = &now->burning[i];
        sm_text_printf(out, "%s %s", i == 0 ? ":" : ",", sm_slot_format(now->show, burning->slot, name));
        if (facts->day) // a span that shrinks has no place in the log
            sm_text_printf(out, " %s", sm_countdown_format(burning->out_at.us - now->wall.us, span));
    }
    return true;
}

bool sm_alert_swapped(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                      uint32_t *essential) {
    if (!sm_condition_swapped(now, facts->swapped))
        return false;
    const sm_rail *rails = now->show->rails;
    sm_text_printf(out, "RAILS SWAPPED");
    sm_alert_essential(out, essential);
    sm_text_printf(out, ": %s and %s, each reads as the other", rails[facts->swapped[0]].name,
                   rails[facts->swapped[1]].name);
    return true;
}

bool sm_alert_stray(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    const bool swapped = sm_condition_swapped(now, facts->swapped); // which then explains what is odd on both
    if (!sm_condition_stray_beside(now, swapped ? facts->swapped : NULL, out))
        return false;
    *essential = (uint32_t)sizeof "STRAY A-05" - 1;
    return true;
}

bool sm_alert_permit_open(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                          uint32_t *essential) {
    (void)facts;
    uint32_t count = 0;
    for (uint32_t i = 0; i < now->show->fixture_count; i++) {
        if (now->state != SM_STATE_RUNNING || now->permit_idle_us[i] <= SM_PERMIT_IDLE_US)
            continue;
        if (count == 0) {
            sm_text_printf(out, "ENABLE OPEN");
            sm_alert_essential(out, essential);
        }
        if (count++ < NAMED)
            sm_text_printf(out, "%s %s", count > 1 ? "," : "", now->show->fixtures[i].name);
    }
    if (count > NAMED)
        sm_text_printf(out, " and %u more", count - NAMED);
    if (count > 0)
        sm_text_printf(out, ", no flame for over 10 s");
    return count > 0;
}

bool sm_alert_silent(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    if (!now->incidents.sound_lost && !facts->sound_lost)
        return false;
    sm_text_printf(out, "SOUND LOST");
    sm_alert_essential(out, essential);
    sm_text_printf(out, "%s", now->state == SM_STATE_RUNNING ? ", running silent" : "");
    return true;
}

bool sm_alert_timecode(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                       uint32_t *essential) {
    (void)facts;
    const sm_timecode_in *timecode = &now->timecode;
    char from[24], to[24];
    const bool lost = timecode->state == SM_TIMECODE_LOST && now->state != SM_STATE_SAFE;
    if (!lost && (timecode->state == SM_TIMECODE_OFF || !timecode->has_jumped))
        return false;
    sm_text_printf(out, lost ? "TIMECODE LOST" : "TIMECODE JUMPED");
    sm_alert_essential(out, essential);
    if (!lost)
        sm_text_printf(out, " %s to %s", sm_clock_format(from, timecode->jumped_from.us),
                       sm_clock_format(to, timecode->jumped_to.us));
    else if (timecode->why[0])
        sm_text_printf(out, " (%s)", timecode->why);
    if (now->state == SM_STATE_PAUSED)
        sm_text_printf(out, lost ? ", paused: resume when it is LOCKED, or make safe"
                                 : ", paused: resume there, or make safe");
    return true;
}

bool sm_alert_timecode_rate(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                            uint32_t *essential) {
    (void)facts;
    const sm_timecode_in *timecode = &now->timecode;
    const sm_moment_base *show = &now->show->settings.timecode;
    if (!sm_timecode_leads(timecode) || (timecode->rate == show->rate && timecode->drop == show->drop))
        return false;
    sm_text_printf(out, "TIMECODE %s%s", sm_timecode_rate_text(timecode->rate),
                   timecode->drop ? " drop" : "");
    sm_alert_essential(out, essential);
    sm_text_printf(out, ", the show has %s%s", sm_timecode_rate_text(show->rate), show->drop ? " drop" : "");
    return true;
}

// ---- rank 3 -------------------------------------------------------------------------------

// Puts what PUT says, with all of its first BYTES (or fewer) essential.
static bool put_condition(const sm_snapshot *now, bool (*put)(const sm_snapshot *now, sm_text *out),
                          uint32_t bytes, sm_text *out, uint32_t *essential) {
    *essential = bytes;
    return put(now, out);
}

bool sm_alert_held_back(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                        uint32_t *essential) {
    (void)facts;
    return put_condition(now, sm_condition_held, sizeof "HELD BACK 7 slots" - 1, out, essential);
}

bool sm_alert_waived(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)facts;
    return put_condition(now, sm_condition_waived, sizeof "WAIVED readings" - 1, out, essential);
}

bool sm_alert_speed(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)facts;
    return put_condition(now, sm_condition_speed, sizeof "SPEED 0.25" - 1, out, essential);
}

bool sm_alert_repeat(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)facts;
    return put_condition(now, sm_condition_repeat, sizeof "repeats 0:10.000" - 1, out, essential);
}

// Of slots that a cue fires: by their own `when`, else by the moment in this rehearsal.
bool sm_alert_readings_old(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                           uint32_t *essential) {
    if (!facts->day)
        return false;
    sm_readings_age age = sm_snapshot_readings_age(now, facts->day);
    char span[24];
    if (age.old == 0 && age.undated == 0)
        return false;
    if (age.old > 0)
        sm_text_printf(out, "READINGS OLD %u of %u", age.old, age.read);
    else
        sm_text_printf(out, "READINGS UNDATED %u", age.undated);
    sm_alert_essential(out, essential);
    if (age.oldest_us != SM_UNSET_US)
        sm_text_printf(out, ", the oldest %s", sm_age_format(age.oldest_us, span));
    if (age.from_file > 0)
        sm_text_printf(out, ", %u from a file", age.from_file);
    return true;
}

bool sm_alert_show_changed(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                           uint32_t *essential) {
    (void)now;
    if (!facts->show_changed)
        return false;
    sm_text_printf(out, "SHOW CHANGED");
    sm_alert_essential(out, essential);
    sm_text_printf(out, ": %s", facts->show_changed);
    return true;
}

bool sm_alert_not_kept(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                       uint32_t *essential) {
    (void)now;
    if (!facts->not_kept)
        return false;
    sm_text_printf(out, "NOT BEING KEPT");
    sm_alert_essential(out, essential);
    sm_text_printf(out, ": %s", facts->not_kept);
    return true;
}

bool sm_alert_offset(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)now;
    if (!facts->sounds || facts->offset_measured)
        return false;
    sm_text_printf(out, "sound offset unknown");
    sm_alert_essential(out, essential);
    sm_text_printf(out, ": what is heard may be late by it");
    return true;
}

bool sm_alert_lights(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)now;
    if (!facts->lights)
        return false;
    *essential = (uint32_t)sizeof "LIGHTS ON THE WIRE" - 1;
    sm_text_printf(out, "%s", facts->lights);
    return true;
}

bool sm_alert_free_running(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                           uint32_t *essential) {
    (void)facts;
    if (now->timecode.state != SM_TIMECODE_FREE_RUNNING)
        return false;
    sm_text_printf(out, "FREE-RUNNING");
    sm_alert_essential(out, essential);
    sm_text_printf(out, ": a gap in the timecode, it is taken to go on");
    return true;
}

// Where a loss or a jump has stopped the show, that caution says it.
bool sm_alert_timecode_waits(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                             uint32_t *essential) {
    (void)facts;
    const sm_timecode_in *timecode = &now->timecode;
    const char *outside = sm_timecode_outside(timecode, now->show, now->wall);
    const bool unread = timecode->state == SM_TIMECODE_WAITING ||
                        (timecode->state == SM_TIMECODE_LOST && now->state == SM_STATE_SAFE);
    if ((!unread && !outside) || now->state == SM_STATE_RUNNING || now->state == SM_STATE_ENDED)
        return false;
    sm_text_printf(out, "TIMECODE %s", outside ? "OUTSIDE" : sm_timecode_state_text(timecode->state));
    sm_alert_essential(out, essential);
    const char *why = outside ? outside : timecode->why;
    sm_text_printf(out, "%s%s", why[0] ? ": " : "", why);
    return true;
}
