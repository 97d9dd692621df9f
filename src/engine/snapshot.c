// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/rehearsal.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

sm_result sm_snapshot_create(const sm_show *show, sm_snapshot **out) {
    sm_snapshot *s = calloc(1, sizeof *s);
    if (!s)
        return SM_NO_MEMORY;
    s->show = show;
    s->starts_at.us = s->incidents.call_at.us = s->incidents.latest_at.us = SM_UNSET_US;
    s->slots = calloc(show->slot_count + 1u, sizeof *s->slots);
    s->rail_plugged = calloc(show->rail_count + 1u, sizeof *s->rail_plugged);
    s->levels = calloc(show->channel_count + 1u, sizeof *s->levels);
    s->fixture_inhibited = calloc(show->fixture_count + 1u, sizeof *s->fixture_inhibited);
    s->fire_at = calloc(show->position_count + 1u, sizeof *s->fire_at);
    s->feed_lost = calloc(show->feed_count + 1u, sizeof *s->feed_lost);
    s->fixture_dark = calloc(show->fixture_count + 1u, sizeof *s->fixture_dark);
    s->flame_faults = calloc(show->fixture_count + 1u, sizeof *s->flame_faults);
    s->permit_idle_us = calloc(show->fixture_count + 1u, sizeof *s->permit_idle_us);
    s->module_refuses = calloc(show->module_count + 1u, sizeof *s->module_refuses);
    s->burning_room = show->firing_count + 64u;
    s->burning = calloc(s->burning_room, sizeof *s->burning);
    if (!s->slots || !s->rail_plugged || !s->levels || !s->fixture_inhibited || !s->burning || !s->fire_at ||
        !s->feed_lost || !s->fixture_dark || !s->flame_faults || !s->permit_idle_us || !s->module_refuses) {
        sm_snapshot_destroy(s);
        return SM_NO_MEMORY;
    }
    *out = s;
    return SM_OK;
}

void sm_snapshot_destroy(sm_snapshot *s) {
    if (!s)
        return;
    free(s->slots);
    free(s->rail_plugged);
    free(s->levels);
    free(s->fixture_inhibited);
    free(s->burning);
    free(s->fire_at);
    free(s->feed_lost);
    free(s->fixture_dark);
    free(s->flame_faults);
    free(s->permit_idle_us);
    free(s->module_refuses);
    free(s);
}

static sm_slot_phase resting_phase(const sm_rehearsal *r, uint32_t slot) {
    const sm_field_slot *f = &r->field.slots[slot];
    if (f->spent)
        return SM_SLOT_SPENT;
    switch (f->outcome) {
    case SM_OUTCOME_MISFIRED:
        return SM_SLOT_MISFIRED;
    case SM_OUTCOME_PASSED:
        return SM_SLOT_PASSED;
    case SM_OUTCOME_HELD:
        return SM_SLOT_HELD;
    default:
        return sm_field_programmed(&r->field, slot) ? SM_SLOT_WAITING : SM_SLOT_SPARE;
    }
}

static void copy_slots(const sm_rehearsal *r, sm_snapshot *s) {
    s->misfired = s->passed = 0;
    for (uint32_t slot = 0; slot < r->show->slot_count; slot++) {
        const sm_field_slot *f = &r->field.slots[slot];
        s->slots[slot] = (sm_slot_view){.phase = resting_phase(r, slot),
                                        .reading = f->reading,
                                        .verdict = sm_field_verdict(&r->field, slot),
                                        .inhibited = f->inhibited,
                                        .reported = f->reported,
                                        .tipped = f->tipped,
                                        .fired_alone = f->fired_alone,
                                        .by_hand = f->by_hand,
                                        .read_when_us = f->read_when_us,
                                        .read_at = f->read_at};
        s->misfired += s->slots[slot].phase == SM_SLOT_MISFIRED;
        s->passed += s->slots[slot].phase == SM_SLOT_PASSED || s->slots[slot].phase == SM_SLOT_HELD;
    }
}

static void copy_burning(const sm_rehearsal *r, sm_wall_time at, sm_snapshot *s) {
    s->flying = s->burning_count = 0;
    for (uint32_t i = 0; i < r->burning_count && s->flying + s->burning_count < s->burning_room; i++) {
        const sm_burning *b = &r->burning[i];
        if (b->out_at.us <= at.us)
            continue;
        bool flies = at.us < b->seen_at.us;
        s->burning[s->flying + s->burning_count] = *b;
        s->flying += flies;
        s->burning_count += !flies;
        s->slots[b->slot].phase = flies ? SM_SLOT_FLYING : SM_SLOT_BURNING;
        s->slots[b->slot].until = flies ? b->seen_at : b->out_at;
    }
}

// A firing that would go when its moment comes: not held back, not spent, not passed over.
// BACK: the show goes back before them.
static bool will_go(const sm_rehearsal *r, uint32_t event, bool back) {
    uint32_t f = r->show->events[event].target;
    return !r->firing_inhibited[f] && (back || r->progress[f] != SM_FIRING_PASSED) &&
           !r->field.slots[r->show->firings[f].slot].spent;
}

// The first firing of a repeat that goes when it has begun again.
static uint32_t after_the_jump(const sm_rehearsal *r) {
    for (uint32_t i = 0; i < r->show->firing_count; i++) {
        uint32_t event = r->show->order[r->firing_places[i]], f = r->show->events[event].target;
        sm_us due = sm_event_due_us(r->show, event);
        bool spent = r->field.slots[r->show->firings[f].slot].spent && !r->repeat_rerig;
        if (due >= r->repeat_to.us)
            break;
        if (due >= r->repeat_from.us && !r->firing_inhibited[f] && !spent)
            return event;
    }
    return SM_NONE;
}

// The event of the first firing still to come that will go. Looked up, not searched for: firings may be few among a million events.
static uint32_t next_firing(const sm_rehearsal *r, uint32_t cursor, bool back) {
    uint32_t low = 0, high = r->show->firing_count;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        if (r->firing_places[middle] < cursor)
            low = middle + 1;
        else
            high = middle;
    }
    for (; low < r->show->firing_count; low++) {
        uint32_t event = r->show->order[r->firing_places[low]];
        if (r->repeat_ahead && sm_event_due_us(r->show, event) >= r->repeat_to.us)
            return after_the_jump(r);
        if (will_go(r, event, back))
            return event;
    }
    return r->repeat_ahead ? after_the_jump(r) : SM_NONE;
}

void sm_rehearsal_levels(const sm_rehearsal *r, sm_wall_time at, uint8_t *levels) {
    sm_show_time stood_at = r->state == SM_STATE_RUNNING ? sm_show_at(r, at) : r->place;
    stood_at = stood_at.us < r->floor.us ? r->floor : stood_at;
    for (uint32_t channel = 0; channel < r->show->channel_count; channel++)
        levels[channel] = sm_dmx_play_level(r->dmx, channel, stood_at);
}

static void copy_show_place(const sm_rehearsal *r, sm_wall_time at, sm_snapshot *s) {
    bool running = r->state == SM_STATE_RUNNING;
    s->has_show = running || r->state == SM_STATE_PAUSED || r->state == SM_STATE_ENDED || r->place_set;
    s->at = running ? sm_show_at(r, at) : r->place;
    s->speed_ppm = r->clock.speed_ppm;
    sm_show_time begins = r->floor.us > r->place.us ? r->floor : r->place;
    s->counting_down = running && s->at.us < begins.us;
    s->place = r->place;
    sm_rehearsal_levels(r, at, s->levels);
    s->cursor = r->cursor;
    s->next_firing = next_firing(r, r->cursor, false);
    s->timecode = r->timecode;
    if (r->timecode.state == SM_TIMECODE_OFF)
        return;
    s->speed_ppm = (r->clock.speed_ppm + 500) / 1000 *
                   1000; // it is bent all the while, by less than anybody wants to read
    if (running || r->state == SM_STATE_ENDED || r->timecode.state != SM_TIMECODE_LOCKED)
        return;
    s->place = sm_timecode_begins(&r->timecode, r->show, at); // of a start or resume now
    s->cursor = sm_event_first_due(r->show, s->place.us);
    s->next_firing = next_firing(r, s->cursor, s->place.us < sm_place_now(r).us);
}

// How long each flame unit's enable has been open, or its latest flame over, with no flame since.
static void copy_permits(const sm_rehearsal *r, sm_snapshot *s) {
    for (uint32_t f = 0; f < r->show->fixture_count; f++) {
        sm_flame_view flame = sm_flame_look(s, f);
        s->permit_idle_us[f] = 0;
        if (!flame.enabled || flame.told)
            continue;
        const sm_fixture *fixture = &r->show->fixtures[f];
        const sm_profile *profile = &r->show->profiles[fixture->profile];
        sm_show_time opened = sm_dmx_play_told_at(r->dmx, fixture->channel_base + profile->enable);
        sm_show_time closed = sm_dmx_play_told_at(r->dmx, fixture->channel_base + profile->fire);
        s->permit_idle_us[f] = s->at.us - (closed.us > opened.us ? closed.us : opened.us);
    }
}

static void copy_people(const sm_rehearsal *r, sm_snapshot *s) {
    memcpy(s->people, r->field.people, sizeof s->people);
    s->people_count = r->field.people_count;
    s->key = r->key;
    s->starts_at = r->starts_at;
    memcpy(s->start_cancelled, r->start_cancelled, sizeof s->start_cancelled);
    s->start_cancelled_at = r->start_cancelled_at;
    s->clear_called = r->clear_called;
    memcpy(s->clear_who, r->clear_who, sizeof s->clear_who);
    memcpy(s->clear_lapse, r->clear_lapse, sizeof s->clear_lapse);
    s->clear_at = r->clear_at;
    s->wind_known = r->wind_known;
    s->wind_m_s = r->wind_m_s;
    s->wind_at = r->wind_at;
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++)
        s->guards[guard] = sm_guard_look(r, (sm_guard)guard);
}

static void copy_lists(const sm_rehearsal *r, sm_snapshot *s) {
    memcpy(s->marks, r->marks, sizeof s->marks);
    s->mark_count = r->mark_count;
    memcpy(s->proposals, r->proposals, r->proposal_count * sizeof r->proposals[0]);
    s->proposal_count = r->proposal_count;
    s->preview = r->preview;
    memcpy(s->inhibits, r->inhibits, sizeof s->inhibits);
    s->inhibit_count = r->inhibit_count;
    memcpy(s->rail_plugged, r->field.plugged, r->show->rail_count * sizeof *s->rail_plugged);
    memcpy(s->fixture_inhibited, r->fixture_inhibited, r->show->fixture_count * sizeof *s->fixture_inhibited);
    memcpy(s->made_safe_at, r->made_safe_at, sizeof s->made_safe_at);
}

void sm_rehearsal_snapshot(const sm_rehearsal *r, sm_wall_time at, sm_snapshot *s) {
    assert(s->show == r->show);
    s->wall = at;
    s->state = r->state;
    s->state_since = r->state_since;
    s->arming_ends = r->arming_ends;
    copy_slots(r, s);
    copy_burning(r, at, s);
    copy_show_place(r, at, s);
    copy_people(r, s);
    copy_lists(r, s);
    sm_injected_snapshot(r, s);
    sm_holds_snapshot(r, s);
    copy_permits(r, s);
    s->wait_runs = r->state != SM_STATE_ENDED;
    s->wait_since = r->wait_since;
    s->repeat_on = r->repeat_on;
    s->repeat_rerig = r->repeat_rerig;
    s->repeat_from = r->repeat_from;
    s->repeat_to = r->repeat_to;
    s->volume = r->volume;
    s->muted = r->muted;
}
