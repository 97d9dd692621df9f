// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/rehearsal.h"

#include <assert.h>
#include <ctype.h>
#include <stdio.h>
#include <string.h>

typedef sm_guard_word (*look_fn)(const sm_rehearsal *r, sm_text *why);

static sm_guard_word look_key(const sm_rehearsal *r, sm_text *why) {
    sm_text_printf(why, "key %s", r->key ? "ON" : "OFF");
    return r->key ? SM_GUARD_MET : SM_GUARD_NOT_MET;
}

static sm_guard_word look_field(const sm_rehearsal *r, sm_text *why) {
    if (r->field.people_count == 0) {
        sm_text_printf(why, "0 people reported in the field");
        return SM_GUARD_MET;
    }
    sm_text_printf(why, "%u in the field:", r->field.people_count);
    for (uint32_t i = 0; i < r->field.people_count; i++)
        sm_text_printf(why, "%s %s", i > 0 ? "," : "", r->field.people[i].name);
    return SM_GUARD_NOT_MET;
}

static sm_guard_word look_clear(const sm_rehearsal *r, sm_text *why) {
    if (r->clear_called) {
        sm_text_printf(why, "clear called%s%s", r->clear_who[0] != '\0' ? " by " : "", r->clear_who);
        return SM_GUARD_MET;
    }
    sm_text_printf(why, "%s%s", r->clear_lapse[0] != '\0' ? "lapsed: " : "clear has not been called",
                   r->clear_lapse);
    return SM_GUARD_NOT_MET;
}

static sm_guard_word look_rails(const sm_rehearsal *r, sm_text *why) {
    unsigned out = 0, waived = 0;
    for (uint32_t rail = 0; rail < r->show->rail_count; rail++) {
        if (r->field.plugged[rail] || !sm_rail_in_use(r->show, rail))
            continue;
        if (r->field.rail_waived[rail]) {
            waived++;
            continue;
        }
        sm_text_printf(why, "%s%s", out++ > 0 ? ", " : "not plugged: ", r->show->rails[rail].name);
    }
    if (out > 0)
        return SM_GUARD_NOT_MET;
    if (waived > 0) {
        sm_text_printf(why, "%s", r->waived_by[SM_GUARD_RAILS]);
        return SM_GUARD_WAIVED;
    }
    sm_text_printf(why, "every rail with a cue is plugged");
    return SM_GUARD_MET;
}

static sm_guard_word look_readings(const sm_rehearsal *r, sm_text *why) {
    unsigned programmed = 0, unread = 0, unplugged = 0, bad = 0, waived = 0, spent = 0;
    for (uint32_t slot = 0; slot < r->show->slot_count; slot++) {
        if (!sm_field_programmed(&r->field, slot))
            continue;
        sm_verdict verdict = sm_field_verdict(&r->field, slot);
        programmed++;
        spent += r->state == SM_STATE_SAFE && r->field.slots[slot].spent; // further on it is the show
        unplugged += verdict == SM_VERDICT_UNPLUGGED;
        unread += verdict == SM_VERDICT_UNREAD || verdict == SM_VERDICT_UNPLUGGED;
        if (!sm_verdict_refuses(verdict))
            continue;
        if (r->field.slots[slot].waived) {
            waived++;
            continue;
        }
        char name[48];
        if (bad++ < 3)
            sm_text_printf(why, "%s%s %s", bad > 1 ? ", " : "", sm_slot_format(r->show, slot, name),
                           r->field.slots[slot].read_spent ? "spent" : sm_verdict_text(verdict));
    }
    if (bad > 3)
        sm_text_printf(why, " and %u more", bad - 3);
    if (bad > 0)
        return SM_GUARD_NOT_MET;
    if (waived > 0) {
        sm_text_printf(why, "%s", r->waived_by[SM_GUARD_READINGS]);
        return SM_GUARD_WAIVED;
    }
    if (unread > 0) {
        sm_text_printf(why, "%u of %u slots unread", unread, programmed);
        if (unplugged > 0)
            sm_text_printf(why, ", %u of them unplugged", unplugged);
        return SM_GUARD_NOT_CHECKED;
    }
    sm_text_printf(why, "%u of %u slots as predicted (continuity only)", programmed - spent, programmed);
    if (spent > 0) // its reading was of what hung there before
        sm_text_printf(why, ", %u of %u spent: R re-rigs", spent, programmed);
    return SM_GUARD_MET;
}

static const look_fn looks[] = {
    [SM_GUARD_KEY] = look_key,     [SM_GUARD_FIELD] = look_field,       [SM_GUARD_CLEAR] = look_clear,
    [SM_GUARD_RAILS] = look_rails, [SM_GUARD_READINGS] = look_readings,
};
static_assert(sizeof looks / sizeof looks[0] == SM_GUARD_COUNT, "a look for each guard");

// The oldest reading of a programmed slot: one measured now makes the others no younger. Unset where one came from a file.
static sm_wall_time oldest_reading(const sm_rehearsal *r) {
    sm_wall_time oldest = {SM_UNSET_US};
    for (uint32_t slot = 0; slot < r->show->slot_count; slot++) {
        const sm_field_slot *s = &r->field.slots[slot];
        if (!sm_field_programmed(&r->field, slot) || s->reading.kind == SM_READ_NOTHING)
            continue;
        if (s->read_at.us == SM_UNSET_US)
            return s->read_at;
        if (oldest.us == SM_UNSET_US || s->read_at.us < oldest.us)
            oldest = s->read_at;
    }
    return oldest;
}

static sm_wall_time since(const sm_rehearsal *r, sm_guard guard, sm_guard_word word) {
    const sm_wall_time unknown = {SM_UNSET_US};
    if (word == SM_GUARD_WAIVED)
        return r->waived_at[guard];
    switch (guard) {
    case SM_GUARD_KEY:
        return r->key_at;
    case SM_GUARD_FIELD:
        return r->field.people_count > 0 ? r->field.people[0].since : unknown;
    case SM_GUARD_CLEAR:
        return r->clear_called || r->clear_lapse[0] != '\0' ? r->clear_at : unknown;
    case SM_GUARD_READINGS:
        return oldest_reading(r);
    default:
        return unknown;
    }
}

sm_guard_status sm_guard_look(const sm_rehearsal *r, sm_guard guard) {
    assert((unsigned)guard < SM_GUARD_COUNT);
    sm_guard_status status = {0};
    char why_room[SM_WORDS_ROOM] = "";
    sm_text why = SM_TEXT_IN(why_room);
    status.word = looks[guard](r, &why);
    sm_copy_cut(status.why, sizeof status.why, sm_text_get(&why));
    sm_text_deinit(&why);
    status.since = since(r, guard, status.word);
    return status;
}

bool sm_guards_refuse(const sm_rehearsal *r, unsigned asked, sm_text *names, sm_text *why) {
    bool refuse = false; // by itself: the texts may have run out of memory
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++) {
        if ((asked & 1u << guard) == 0)
            continue;
        if (guard == SM_GUARD_READINGS && r->options.readings_not_judged)
            continue;
        sm_guard_status status = sm_guard_look(r, (sm_guard)guard);
        if (status.word != SM_GUARD_NOT_MET)
            continue;
        refuse = true;
        sm_text_printf(names, "%s%s", names->length > 0 ? " " : "", sm_guard_text((sm_guard)guard));
        sm_text_printf(why, "%s%s", why->length > 0 ? "; " : "", status.why);
    }
    return refuse;
}

void sm_lapse_clear(sm_rehearsal *r, const char *why) {
    sm_start_cancel(r, why);
    if (!r->clear_called)
        return;
    r->clear_called = false;
    r->clear_at = r->now;
    snprintf(r->clear_lapse, sizeof r->clear_lapse, "%s", why);
    char detail[200];
    snprintf(detail, sizeof detail, "lapsed: %s", r->clear_lapse);
    sm_log_guard(r, SM_GUARD_CLEAR, SM_GUARD_NOT_MET, detail);
}

void sm_lapse_waivers(sm_rehearsal *r) {
    for (uint32_t rail = 0; rail < r->show->rail_count; rail++)
        r->field.rail_waived[rail] = false;
    for (uint32_t slot = 0; slot < r->show->slot_count; slot++)
        r->field.slots[slot].waived = false;
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++) {
        if (r->waived_by[guard][0] == '\0')
            continue;
        r->waived_by[guard][0] = '\0';
        sm_guard_status status = sm_guard_look(r, (sm_guard)guard);
        char why[200];
        snprintf(why, sizeof why, "the waiver lapsed: %s", status.why);
        sm_log_guard(r, (sm_guard)guard, status.word, why);
    }
}

// ---- waiving --------------------------------------------------------------------------------

// REASON has NAME as a word of its own.
static bool names(const char *reason, const char *name) {
    size_t length = strlen(name);
    for (const char *at = strstr(reason, name); at; at = strstr(at + 1, name)) {
        bool begins = at == reason || !(isalnum((unsigned char)at[-1]) || at[-1] == '-' || at[-1] == '_');
        char after = at[length];
        if (begins && !(isalnum((unsigned char)after) || after == '-' || after == '_'))
            return true;
    }
    return false;
}

static bool names_slot(const sm_rehearsal *r, const char *reason, uint32_t slot) {
    char name[48];
    if (names(reason, sm_slot_format(r->show, slot, name)))
        return true;
    const sm_rail *rail = &r->show->rails[r->show->slot_rails[slot]];
    snprintf(name, sizeof name, "%s-%u", rail->name, slot - rail->slot_base + 1); // A-5 reads as A-05
    return names(reason, name);
}

// What the reason names is waived; it must name all that stands in the way, and something.
static bool waive_rails(sm_rehearsal *r, const char *reason, char missing[200]) {
    bool named_any = false;
    for (uint32_t rail = 0; rail < r->show->rail_count; rail++) {
        bool named = names(reason, r->show->rails[rail].name);
        named_any = named_any || named;
        if (!named && !r->field.plugged[rail] && sm_rail_in_use(r->show, rail)) {
            snprintf(missing, 200, "the reason must name rail %s", r->show->rails[rail].name);
            return false;
        }
    }
    if (!named_any) {
        snprintf(missing, 200, "the reason must name the rails");
        return false;
    }
    for (uint32_t rail = 0; rail < r->show->rail_count; rail++)
        r->field.rail_waived[rail] = names(reason, r->show->rails[rail].name);
    return true;
}

static bool stands_in_the_way(const sm_rehearsal *r, uint32_t slot) {
    return sm_field_programmed(&r->field, slot) && sm_verdict_refuses(sm_field_verdict(&r->field, slot));
}

static bool can_waive_readings(const sm_rehearsal *r, const char *reason, char missing[200]) {
    char name[48];
    uint32_t named = 0, news = 0;
    for (uint32_t slot = 0; slot < r->show->slot_count; slot++) {
        if (names_slot(r, reason, slot)) {
            named++;
            news += sm_inhibit_find(r, sm_slot_format(r->show, slot, name)) == SM_NONE;
        } else if (stands_in_the_way(r, slot)) {
            snprintf(missing, 200, "the reason must name %s", sm_slot_format(r->show, slot, name));
            return false;
        }
    }
    if (named == 0)
        snprintf(missing, 200, "the reason must name the slots");
    else if (r->inhibit_count + news > SM_INHIBITS_MAX)
        snprintf(missing, 200, "%u more slots to inhibit, and %d names are the most", news, SM_INHIBITS_MAX);
    else
        return true;
    return false;
}

static bool waive_readings(sm_rehearsal *r, const char *reason, char missing[200]) {
    char name[48];
    if (!can_waive_readings(r, reason, missing))
        return false;
    for (uint32_t slot = 0; slot < r->show->slot_count; slot++)
        if (names_slot(r, reason, slot)) {
            r->field.slots[slot].waived = true;
            sm_inhibit_add(r, sm_slot_format(r->show, slot, name));
        }
    sm_inhibits_apply(r);
    return true;
}

bool sm_guard_waive(sm_rehearsal *r, sm_guard guard, const char *reason, sm_source source,
                    char missing[200]) {
    if (guard != SM_GUARD_RAILS && guard != SM_GUARD_READINGS) {
        snprintf(missing, 200, "%s is never waived", sm_guard_text(guard));
        return false;
    }
    if (!(guard == SM_GUARD_RAILS ? waive_rails(r, reason, missing) : waive_readings(r, reason, missing)))
        return false;
    r->waived_at[guard] = r->now;
    const char *by = NULL; // the last " by NAME" of the reason
    for (const char *at = strstr(reason, " by "); at; at = strstr(at + 1, " by "))
        by = at + 4;
    char record_room[SM_WORDS_ROOM] = "";
    sm_text record = SM_TEXT_IN(record_room);
    sm_text_printf(&record, "by %s: %s", by ? by : sm_source_text(source), reason);
    sm_copy_cut(r->waived_by[guard], sizeof r->waived_by[guard], sm_text_get(&record));
    sm_text_deinit(&record);
    return true;
}
