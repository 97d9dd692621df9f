// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/conditions.h"

// So many names are said; then how many more there are.
#define NAMED 4

static void count_held(const sm_snapshot *now, uint32_t *slots, uint32_t *fixtures) {
    *slots = *fixtures = 0;
    for (uint32_t slot = 0; slot < now->show->slot_count; slot++) {
        sm_slot_phase phase = now->slots[slot].phase;
        *slots += now->slots[slot].inhibited && phase != SM_SLOT_SPARE && phase != SM_SLOT_SPENT;
    }
    for (uint32_t fixture = 0; fixture < now->show->fixture_count; fixture++)
        *fixtures += now->fixture_inhibited[fixture];
}

bool sm_condition_held(const sm_snapshot *now, sm_text *out) {
    if (now->inhibit_count == 0)
        return false;
    uint32_t slots, fixtures;
    count_held(now, &slots, &fixtures);
    sm_text_printf(out, "HELD BACK %u slot%s", slots, slots == 1 ? "" : "s");
    if (fixtures > 0)
        sm_text_printf(out, ", %u fixture%s", fixtures, fixtures == 1 ? "" : "s");
    for (uint32_t i = 0; i < now->inhibit_count && i < NAMED; i++)
        sm_text_printf(out, "%s %s", i == 0 ? ":" : ",", now->inhibits[i]);
    if (now->inhibit_count > NAMED)
        sm_text_printf(out, " and %u more", now->inhibit_count - NAMED);
    return true;
}

bool sm_condition_waived(const sm_snapshot *now, sm_text *out) {
    bool any = false;
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++) {
        if (now->guards[guard].word == SM_GUARD_WAIVED) {
            sm_text_printf(out, "%s%s", any ? ", " : "WAIVED ", sm_guard_text((sm_guard)guard));
            any = true;
        }
    }
    return any;
}

bool sm_condition_any_spent(const sm_snapshot *now) {
    bool any = false;
    for (uint32_t slot = 0; slot < now->show->slot_count && !any; slot++)
        any = now->slots[slot].phase == SM_SLOT_SPENT;
    return any;
}

bool sm_condition_spent(const sm_snapshot *now, sm_text *out) {
    uint32_t spent = 0, programmed = 0;
    for (uint32_t slot = 0; slot < now->show->slot_count; slot++) {
        programmed += now->show->slot_firings[slot] != SM_NONE;
        spent += now->slots[slot].phase == SM_SLOT_SPENT;
    }
    if (spent > 0)
        sm_text_printf(out, "%u of %u spent: R re-rigs", spent, programmed);
    return spent > 0;
}

bool sm_condition_stray_beside(const sm_snapshot *now, const uint32_t rails[2], sm_text *out) {
    uint32_t count = 0;
    char name[48];
    for (uint32_t slot = 0; slot < now->show->slot_count; slot++) {
        uint32_t rail = now->show->slot_rails[slot];
        if (now->slots[slot].verdict != SM_VERDICT_STRAY || (rails && (rail == rails[0] || rail == rails[1])))
            continue;
        if (count < NAMED)
            sm_text_printf(out, "%s%s", count == 0 ? "STRAY " : ", ", sm_slot_format(now->show, slot, name));
        count++;
    }
    if (count > NAMED)
        sm_text_printf(out, " and %u more", count - NAMED);
    if (count > 0)
        sm_text_printf(out, ": something there that no cue fires");
    return count > 0;
}

bool sm_condition_stray(const sm_snapshot *now, sm_text *out) {
    return sm_condition_stray_beside(now, NULL, out);
}

bool sm_condition_swapped(const sm_snapshot *now, const uint32_t rails[2]) {
    const sm_show *show = now->show;
    if (!rails || rails[0] == SM_NONE || rails[0] == rails[1] ||
        show->rails[rails[0]].slots != show->rails[rails[1]].slots)
        return false;
    bool can = now->rail_plugged[rails[0]] && now->rail_plugged[rails[1]];
    for (uint32_t slot = 0; slot < show->slot_count && can; slot++) {
        bool on_either = show->slot_rails[slot] == rails[0] || show->slot_rails[slot] == rails[1];
        sm_slot_phase phase = now->slots[slot].phase;
        can = !on_either || (phase != SM_SLOT_SPENT && phase != SM_SLOT_MISFIRED);
    }
    return can;
}

bool sm_condition_speed(const sm_snapshot *now, sm_text *out) {
    if (now->speed_ppm == 1000000 || now->timecode.state != SM_TIMECODE_OFF) // else it is the timecode's
        return false;
    sm_text_printf(out, "SPEED %g", now->speed_ppm / 1e6);
    return true;
}

bool sm_condition_repeat(const sm_snapshot *now, sm_text *out) {
    if (!now->repeat_on)
        return false;
    char from[24], to[24];
    sm_text_printf(out, "repeats %s to %s%s", sm_clock_format(from, now->repeat_from.us),
                   sm_clock_format(to, now->repeat_to.us), now->repeat_rerig ? " SIMULATED RE-RIG" : "");
    return true;
}

void sm_conditions_add(const sm_snapshot *now, sm_text *out) {
    static bool (*const pieces[])(const sm_snapshot *snapshot, sm_text *out) = {
        sm_condition_held, sm_condition_waived, sm_condition_speed, sm_condition_repeat};
    sm_text piece = {0};
    for (size_t i = 0; i < sizeof pieces / sizeof pieces[0]; i++) {
        sm_text_clear(&piece);
        if (pieces[i](now, &piece))
            sm_text_printf(out, ", %s", sm_text_get(&piece));
    }
    sm_text_deinit(&piece);
}
