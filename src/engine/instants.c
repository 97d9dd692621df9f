// SPDX-License-Identifier: GPL-3.0-or-later
// What happens by itself, instant by instant.
#include "engine/rehearsal.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

void sm_end_arming(sm_rehearsal *r) {
    assert(r->state == SM_STATE_ARMING);
    sm_enter_state(r, SM_STATE_ARMED, r->place);
}

// ---- beginnings ------------------------------------------------------------------------------

static void misfire(sm_rehearsal *r, uint32_t event, const sm_firing *firing, const char *name,
                    const char *effect, const char *why) {
    char detail[96];
    snprintf(detail, sizeof detail, "%s %s", effect, why);
    sm_log_event(r, SM_LOG_MISFIRE, event, &(sm_show_time){firing->fire_us}, name, detail);
    r->field.slots[firing->slot].outcome = SM_OUTCOME_MISFIRED;
    r->field.slots[firing->slot].reported = r->field.slots[firing->slot].mended = false;
    r->progress[r->show->events[event].target] = SM_FIRING_MISFIRED;
    r->alerts_changed = true;
    r->wait_since = r->now;
}

static void begin_firing(sm_rehearsal *r, uint32_t event) {
    assert(r->state == SM_STATE_RUNNING);
    uint32_t f = r->show->events[event].target;
    const sm_firing *firing = &r->show->firings[f];
    sm_field_slot *slot = &r->field.slots[firing->slot];
    if (r->progress[f] == SM_FIRING_PASSED)
        return;
    char name[48];
    sm_slot_format(r->show, firing->slot, name);
    const char *effect = r->show->effects[firing->effect].name;
    sm_show_time due = {firing->fire_us};
    const char *why = sm_field_misfire(&r->field, firing->slot);
    if (r->firing_inhibited[f]) {
        sm_log_event(r, SM_LOG_INHIBITED, event, &due, name, effect);
        r->progress[f] = SM_FIRING_HELD;
        if (!slot->spent && slot->outcome != SM_OUTCOME_MISFIRED)
            slot->outcome = SM_OUTCOME_HELD;
    } else if (slot->spent) {
        sm_log_event(r, SM_LOG_SPENT, event, &due, name, effect);
        if (r->progress[f] != SM_FIRING_FIRED)
            r->progress[f] = SM_FIRING_WAS_SPENT;
    } else if (sm_link_holds(r, firing->slot)) {
        sm_log_event(r, SM_LOG_PASSED, event, &due, name, effect);
        r->progress[f] = SM_FIRING_PASSED;
        if (slot->outcome != SM_OUTCOME_MISFIRED)
            slot->outcome = SM_OUTCOME_PASSED;
    } else if (why) {
        misfire(r, event, firing, name, effect, why);
    } else if (slot->late_us > 0 && sm_hang_fire(r, event, slot->late_us)) {
        misfire(r, event, firing, name, effect, "nothing seen");
    } else {
        sm_fire_event(r, event, &due, SM_FIRED_WHEN_DUE);
    }
}

static void begin_set(sm_rehearsal *r, uint32_t event) {
    assert(r->state == SM_STATE_RUNNING);
    uint32_t fixture = r->show->events[event].target;
    bool inhibited = r->fixture_inhibited[fixture] || sm_link_keeps_home(r, fixture);
    if (!inhibited)
        sm_dmx_play_set(r->dmx, event);
    sm_alerts_flame_told(r, fixture);
    char levels_room[SM_WORDS_ROOM] = "";
    sm_text levels = SM_TEXT_IN(levels_room);
    sm_event_format_levels(r->show, event, &levels);
    sm_log_event(r, inhibited ? SM_LOG_INHIBITED : SM_LOG_SET, event,
                 &(sm_show_time){sm_event_due_us(r->show, event)}, r->show->fixtures[fixture].name,
                 sm_row_words(r, &levels));
    sm_text_deinit(&levels);
}

static sm_result begin_all(sm_rehearsal *r, sm_show_time at) {
    while (r->cursor < r->show->event_count) {
        uint32_t event = r->show->order[r->cursor];
        if (sm_event_due_us(r->show, event) > at.us)
            break;
        sm_result result = sm_burning_reserve(r);
        if (result != SM_OK)
            return result;
        r->cursor++;
        if (r->show->cues[r->show->events[event].cue].kind == SM_CUE_FIRE)
            begin_firing(r, event);
        else
            begin_set(r, event);
    }
    return SM_OK;
}

static sm_result let_hung_go(sm_rehearsal *r) {
    while (r->hung_count > 0 && r->hung[0].at.us <= r->now.us) {
        sm_result result = sm_burning_reserve(r);
        if (result != SM_OK)
            return result;
        uint32_t event = r->hung[0].event;
        memmove(r->hung, r->hung + 1, --r->hung_count * sizeof r->hung[0]);
        const sm_field_slot *s = &r->field.slots[r->show->firings[r->show->events[event].target].slot];
        if (s->outcome == SM_OUTCOME_MISFIRED && !s->mended) // else a new igniter hangs there by now
            sm_fire_event(r, event, NULL, SM_FIRED_LATE);
    }
    return SM_OK;
}

// ---- ends -----------------------------------------------------------------------------------------

static void end_burning(sm_rehearsal *r) {
    assert(r->burning_count > 0 && r->burning[0].out_at.us <= r->now.us);
    sm_burning first = r->burning[0];
    r->burning_count--;
    r->alerts_changed |= r->state != SM_STATE_RUNNING;
    memmove(r->burning, r->burning + 1, r->burning_count * sizeof *r->burning);
    const sm_firing *firing = &r->show->firings[r->show->events[first.event].target];
    if (firing->lasts_us == 0) // only its flight was followed
        return;
    char name[48];
    r->wait_since = r->now;
    sm_log_event(r, SM_LOG_OUT, first.event, NULL, sm_slot_format(r->show, first.slot, name),
                 r->show->effects[firing->effect].name);
}

static void end_return(sm_rehearsal *r, uint32_t event, sm_show_time at) {
    char names_room[SM_WORDS_ROOM] = "";
    sm_text names = SM_TEXT_IN(names_room);
    sm_dmx_play_do_return(r->dmx, &names);
    sm_alerts_flame_told(r, r->show->events[event].target);
    if (names.length > 0 || names.failed)
        sm_log_event(r, SM_LOG_HOME, event, &at, r->show->fixtures[r->show->events[event].target].name,
                     sm_row_words(r, &names));
    sm_text_deinit(&names);
}

// Burn-outs due at this instant of the wall and returns due up to SHOW (where RUNNING), in table order.
static void end_all(sm_rehearsal *r, bool running, sm_show_time show) {
    for (;;) {
        sm_show_time return_at;
        uint32_t return_event;
        bool returns =
            running && sm_dmx_play_next_return(r->dmx, &return_at, &return_event) && return_at.us <= show.us;
        bool outs = r->burning_count > 0 && r->burning[0].out_at.us <= r->now.us;
        if (outs && (!returns || r->burning[0].event <= return_event))
            end_burning(r);
        else if (returns)
            end_return(r, return_event, return_at);
        else
            return;
    }
}

// ---- instants ----------------------------------------------------------------------------------------

// The next moment of the show at which something happens while running: a return, an event, the repeat's end, the show's end.
static sm_show_time next_moment(const sm_rehearsal *r) {
    sm_show_time next = {r->show->length_us}, at;
    uint32_t event;
    if (r->repeat_ahead && r->repeat_to.us < next.us)
        next = r->repeat_to;
    if (sm_dmx_play_next_return(r->dmx, &at, &event) && at.us < next.us)
        next = at;
    if (r->cursor < r->show->event_count) {
        sm_us due = sm_event_due_us(r->show, r->show->order[r->cursor]);
        if (due < next.us)
            next.us = due;
    }
    return next;
}

bool sm_rehearsal_next_due(const sm_rehearsal *r, sm_wall_time *due) {
    sm_wall_time next = {INT64_MAX};
    if (r->state == SM_STATE_ARMING)
        next = r->arming_ends;
    if (r->burning_count > 0 && r->burning[0].out_at.us < next.us)
        next = r->burning[0].out_at;
    if (r->starts_at.us != SM_UNSET_US && r->starts_at.us < next.us)
        next = r->starts_at;
    if (r->alerts_at.us < next.us)
        next = r->alerts_at;
    sm_wall_time hung_at;
    if (sm_hung_next(r, &hung_at) && hung_at.us < next.us)
        next = hung_at;
    if (r->state == SM_STATE_RUNNING) {
        sm_wall_time moment = sm_show_clock_wall_at(&r->clock, next_moment(r));
        if (moment.us < next.us)
            next = moment;
    }
    if (next.us == INT64_MAX)
        return false;
    due->us = next.us > r->now.us ? next.us : r->now.us;
    return true;
}

// The start by itself is due: the guards are judged again, and it starts or is cancelled.
static void start_now(sm_rehearsal *r) {
    assert(r->starts_at.us != SM_UNSET_US);
    static const sm_action start = {.act = SM_ACT_START, .index = SM_NONE};
    char names_room[SM_WORDS_ROOM] = "", why_room[SM_WORDS_ROOM] = "";
    sm_text names = SM_TEXT_IN(names_room), why = SM_TEXT_IN(why_room);
    if (r->state != SM_STATE_ARMED || r->incidents.link_lost ||
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

// The show's side of one instant. Several microseconds of the show may fall into one of the wall; they go one by one.
static sm_result show_instant(sm_rehearsal *r) {
    while (r->state == SM_STATE_RUNNING) {
        sm_show_time next = next_moment(r);
        if (next.us > sm_show_now(r).us)
            break;
        bool jumps = r->repeat_ahead && next.us == r->repeat_to.us;
        if (jumps) {
            end_all(r, true, (sm_show_time){next.us - 1});
            sm_repeat_jump(r);
            continue;
        }
        end_all(r, true, next);
        sm_result result = begin_all(r, next);
        if (result != SM_OK)
            return result;
        if (next.us == r->show->length_us) {
            sm_show_time stood_at = sm_place_now(r);
            r->place = next;
            sm_enter_state(r, SM_STATE_ENDED, stood_at);
        }
    }
    end_all(r, false, (sm_show_time){0});
    return SM_OK;
}

sm_result sm_run_until(sm_rehearsal *r, sm_wall_time to, bool including) {
    sm_wall_time due;
    while (sm_rehearsal_next_due(r, &due) && (due.us < to.us || (including && due.us == to.us))) {
        r->now = due;
        if (r->state == SM_STATE_ARMING && r->arming_ends.us <= due.us)
            sm_end_arming(r);
        if (r->starts_at.us != SM_UNSET_US && r->starts_at.us <= due.us)
            start_now(r);
        sm_result result = let_hung_go(r);
        if (result == SM_OK)
            result = show_instant(r);
        sm_alerts_tell(r);
        if (result != SM_OK)
            return result;
    }
    if (to.us > r->now.us)
        r->now = to;
    return SM_OK;
}
