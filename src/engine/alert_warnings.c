// SPDX-License-Identifier: GPL-3.0-or-later
// Rank 1: what must be stopped, or kept out of, at once.
#include "engine/alert_table.h"

// So many names are said; then how many more there are.
#define NAMED 3

void sm_alert_put_when(const sm_alert_facts *facts, sm_wall_time at, sm_text *out) {
    char minute[16];
    if (facts->day)
        sm_text_printf(out, " %s", sm_time_of_day_minute(facts->day, at, minute));
}

bool sm_alert_is_hot(const sm_snapshot *now) {
    return now->state != SM_STATE_SAFE ||
           now->incidents.link_lost; // a lost link says nothing: treat as armed
}

// WHY goes before the names, which may be cut.
static void put_people(const sm_snapshot *now, const sm_alert_facts *facts, const char *why, sm_text *out,
                       uint32_t *essential) {
    sm_text_printf(out, "IN FIELD %u", now->people_count);
    sm_alert_essential(out, essential);
    sm_text_printf(out, "%s", why);
    for (uint32_t i = 0; i < now->people_count && i < NAMED; i++) {
        sm_text_printf(out, "%s %s", i == 0 ? ":" : ",", now->people[i].name);
        sm_alert_put_when(facts, now->people[i].since, out);
    }
    if (now->people_count > NAMED)
        sm_text_printf(out, " and %u more", now->people_count - NAMED);
}

bool sm_alert_people(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    bool stands = now->people_count > 0 && sm_alert_is_hot(now);
    if (stands)
        put_people(now, facts, now->incidents.link_lost ? ", module NOT KNOWN" : "", out, essential);
    return stands;
}

// Nobody is at product with the key on, whatever the module says.
bool sm_alert_key_on(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    bool stands = now->people_count > 0 && now->key && !sm_alert_is_hot(now);
    if (stands) {
        sm_text_printf(out, "KEY ON, ");
        put_people(now, facts, "", out, essential);
    }
    return stands;
}

// Safe and key off is not enough where something still burns, or may go late. A wait that nobody has set never ends, and is told apart.
bool sm_alert_too_early(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                        uint32_t *essential) {
    const sm_wait wait = sm_snapshot_wait(now);
    const bool burns = now->burning_count + now->flying > 0;
    const bool waits = wait.asked && !wait.has_run && wait.limit_us != SM_UNSET_US;
    if (now->people_count == 0 || now->key || sm_alert_is_hot(now) || !(burns || waits))
        return false;
    put_people(now, facts, burns ? " while product burns" : " before the wait has run", out, essential);
    return true;
}

bool sm_alert_fire(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)facts;
    bool any = false;
    for (uint32_t i = 0; i < now->show->position_count; i++) {
        if (!now->fire_at[i])
            continue;
        if (!any) {
            sm_text_printf(out, "FIRE");
            sm_alert_essential(out, essential);
        }
        sm_text_printf(out, "%s %s", any ? "," : " at", now->show->positions[i].name);
        any = true;
    }
    return any;
}

// Lit where no flame may be: outside running, or told to close and still burning.
static bool burns_wrongly(const sm_snapshot *now, uint32_t fixture) {
    sm_flame_view flame = sm_flame_look(now, fixture);
    return flame.lit && (now->state != SM_STATE_RUNNING || now->flame_faults[fixture] == SM_FLAME_STUCK);
}

bool sm_alert_flame(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)facts;
    uint32_t count = 0;
    for (uint32_t i = 0; i < now->show->fixture_count; i++) {
        if (!burns_wrongly(now, i))
            continue;
        if (count == 0) {
            sm_text_printf(out, "FLAME BURNS ON");
            sm_alert_essential(out, essential);
        }
        if (count++ < NAMED)
            sm_text_printf(out, "%s %s", count > 1 ? "," : "", now->show->fixtures[i].name);
    }
    if (count > NAMED)
        sm_text_printf(out, " and %u more", count - NAMED);
    return count > 0;
}

bool sm_alert_link(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    if (!now->incidents.link_lost)
        return false;
    sm_text_printf(out, facts->told_ended ? "ENDED BY THE LEAD" : "LINK LOST");
    sm_alert_essential(out, essential);
    sm_text_printf(out, ": TREAT AS ARMED, last known %s", sm_state_text(now->incidents.link_state));
    return true;
}

// WHAT and the slots of which HAS is true; the first one is essential.
static bool put_slots(const sm_snapshot *now, const char *what, bool (*has)(const sm_slot_view *slot),
                      sm_text *out, uint32_t *essential) {
    uint32_t count = 0;
    char name[48];
    for (uint32_t slot = 0; slot < now->show->slot_count; slot++) {
        if (!has(&now->slots[slot]))
            continue;
        if (count == 0)
            sm_text_printf(out, "%s", what);
        if (count++ < NAMED)
            sm_text_printf(out, " %s", sm_slot_format(now->show, slot, name));
        if (count == 1)
            sm_alert_essential(out, essential);
    }
    if (count > NAMED)
        sm_text_printf(out, " and %u more", count - NAMED);
    return count > 0;
}

static bool went_alone(const sm_slot_view *slot) {
    return slot->fired_alone;
}

bool sm_alert_age(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)now;
    if (!facts->age_not_proven)
        return false;
    sm_text_printf(out, "AGE NOT PROVEN");
    sm_alert_essential(out, essential);
    sm_text_printf(out, ", TREAT AS ARMED: it may all be late");
    return true;
}

// Also once safe with the key off: until it is dealt with, and rigged anew.
bool sm_alert_fired_alone(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                          uint32_t *essential) {
    (void)facts;
    return put_slots(now, "FIRED BY ITSELF", went_alone, out, essential);
}

static bool tipped_over(const sm_slot_view *slot) {
    return slot->tipped;
}

bool sm_alert_tipped(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)facts;
    return put_slots(now, "TIPPED OVER", tipped_over, out, essential);
}

bool sm_alert_storm(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)facts;
    if (!now->incidents.storm)
        return false;
    sm_text_printf(out, "STORM");
    sm_alert_essential(out, essential);
    return true;
}

bool sm_alert_wind_running(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                           uint32_t *essential) {
    return now->state == SM_STATE_RUNNING && sm_snapshot_wind_over(now) &&
           sm_alert_put_wind(now, facts, out, essential);
}

bool sm_alert_clear_lapsed(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                           uint32_t *essential) {
    if (now->state == SM_STATE_SAFE || now->clear_called || !now->clear_lapse[0])
        return false;
    sm_text_printf(out, "CLEAR LAPSED");
    sm_alert_essential(out, essential);
    sm_text_printf(out, ": %s", now->clear_lapse);
    sm_alert_put_when(facts, now->clear_at, out);
    return true;
}

static bool put_silent(const sm_snapshot *now, sm_text *out, uint32_t *essential) {
    sm_text_printf(out, "NO ANSWER");
    sm_alert_essential(out, essential);
    if (now->incidents.silent_who[0] != '\0')
        sm_text_printf(out, " from %s", now->incidents.silent_who);
    return true;
}

bool sm_alert_no_answer(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                        uint32_t *essential) {
    (void)facts;
    return now->incidents.silent_open > 0 && sm_alert_is_hot(now) && put_silent(now, out, essential);
}

bool sm_alert_hold(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential) {
    (void)facts;
    if (now->hold_count == 0)
        return false;
    sm_text_printf(out, "HOLD called");
    sm_alert_essential(out, essential);
    sm_text_printf(out, " by %s", now->hold_who);
    if (out->length <= SM_ALERT_ESSENTIAL) // who is to be asked
        sm_alert_essential(out, essential);
    sm_text_printf(out, ": %s", now->hold_why);
    if (now->hold_count > 1)
        sm_text_printf(out, ", and %u more", now->hold_count - 1);
    return true;
}

bool sm_alert_unheard(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out,
                      uint32_t *essential) {
    (void)facts;
    return now->incidents.silent_open > 0 && !sm_alert_is_hot(now) && put_silent(now, out, essential);
}
