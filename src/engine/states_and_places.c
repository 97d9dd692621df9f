// SPDX-License-Identifier: GPL-3.0-or-later
// From one state to another, and from one place of the show to another.
#include "engine/rehearsal.h"

#include <assert.h>
#include <string.h>

static const sm_show_time nowhere = {INT64_MIN};

// Channels stand at a place as if played there; nothing is logged.
static void rebuild_dmx(sm_rehearsal *r, sm_show_time at) {
    sm_dmx_play_rebuild(r->dmx, at, r->fixture_inhibited);
    sm_hold_quietly(r);
}

// ---- firings: pending, passed ---------------------------------------------------------------

// What was passed over, and all that has an igniter to fire.
static bool can_be_pending_again(const sm_rehearsal *r, uint32_t firing) {
    return r->progress[firing] == SM_FIRING_PASSED || !r->field.slots[r->show->firings[firing].slot].spent;
}

void sm_all_pending(sm_rehearsal *r) {
    for (uint32_t f = 0; f < r->show->firing_count; f++)
        if (can_be_pending_again(r, f))
            r->progress[f] = SM_FIRING_PENDING;
}

// Firing F is to come again: its slot was passed over, or held back, in a run of the show that is no more.
static void wait_again(sm_rehearsal *r, uint32_t f) {
    sm_field_slot *slot = &r->field.slots[r->show->firings[f].slot];
    bool left = slot->outcome == SM_OUTCOME_PASSED || slot->outcome == SM_OUTCOME_HELD;
    if (r->progress[f] == SM_FIRING_PENDING && left)
        slot->outcome = SM_OUTCOME_NONE;
}

// Firings are in table order, so the rows are too.
static void pass_before(sm_rehearsal *r, sm_show_time moment) {
    for (uint32_t f = 0; f < r->show->firing_count; f++) {
        const sm_firing *firing = &r->show->firings[f];
        if (r->progress[f] != SM_FIRING_PENDING || firing->fire_us >= moment.us)
            continue;
        r->progress[f] = SM_FIRING_PASSED;
        sm_field_slot *slot = &r->field.slots[firing->slot];
        if (slot->spent)
            continue;
        if (slot->outcome != SM_OUTCOME_MISFIRED) // a misfire stays one until it is dealt with
            slot->outcome = SM_OUTCOME_PASSED;
        char name[48];
        sm_log_event(r, SM_LOG_PASSED, firing->event, &(sm_show_time){firing->fire_us},
                     sm_slot_format(r->show, firing->slot, name), r->show->effects[firing->effect].name);
    }
}

// ---- states ---------------------------------------------------------------------------------

void sm_enter_state(sm_rehearsal *r, sm_state state, sm_show_time stood_at) {
    assert(state < SM_STATE_COUNT && state != r->state);
    sm_state old = r->state;
    r->state = state;
    r->state_since = r->now;
    r->alerts_changed = true;
    if (state != SM_STATE_RUNNING && r->timecode.state != SM_TIMECODE_OFF)
        r->clock.speed_ppm = 1000000; // the pace was the timecode's
    if (state != SM_STATE_RUNNING)
        r->clock = (sm_show_clock){r->now, r->place, r->clock.speed_ppm, false};
    sm_log_state(r, state, old);
    if (state == SM_STATE_SAFE || state == SM_STATE_PAUSED || state == SM_STATE_ENDED)
        sm_hold_all_home(r, stood_at);
}

void sm_make_safe(sm_rehearsal *r, const char *lapse) {
    sm_show_time stood_at = sm_place_now(r);
    r->made_safe_at[0] = '\0';
    if (r->state == SM_STATE_RUNNING || r->state == SM_STATE_PAUSED)
        sm_clock_format(r->made_safe_at, sm_show_now(r).us);
    sm_start_cancel(r, lapse);
    r->place = (sm_show_time){0};
    r->floor = nowhere;
    r->place_set = false;
    r->timecode.has_jumped = false;
    if (r->state != SM_STATE_SAFE)
        sm_enter_state(r, SM_STATE_SAFE, stood_at);
    r->clock = (sm_show_clock){r->now, r->place, r->clock.speed_ppm, false};
    if (r->wait_since.us != SM_UNSET_US) // nothing fired, nothing waits
        r->wait_since = r->now;
    r->link_lost_since_safe = r->incidents.link_lost;
    sm_all_pending(r);
    r->cursor = 0;
    sm_dmx_play_reset(r->dmx);
    sm_hold_quietly(r);
    sm_repeat_look(r);
    sm_lapse_clear(r, lapse);
    sm_lapse_waivers(r);
}

void sm_pause_here(sm_rehearsal *r) {
    assert(r->state == SM_STATE_RUNNING);
    sm_show_time stood_at = sm_place_now(r);
    r->place = sm_show_now(r);
    sm_enter_state(r, SM_STATE_PAUSED, stood_at);
}

// On resume the enable opens where the show has it open; the flame itself waits for its next cue.
static void reopen_enable(sm_rehearsal *r, uint32_t f) {
    const sm_fixture *fixture = &r->show->fixtures[f];
    const sm_profile *profile = &r->show->profiles[fixture->profile];
    if (!profile->flame || r->fixture_inhibited[f])
        return;
    uint32_t channel = fixture->channel_base + profile->enable;
    if (sm_dmx_play_returns_by(r->dmx, channel, sm_place_now(r))) // the show closes it at this very place
        return;
    uint8_t level = sm_dmx_play_told_level(r->dmx, channel, sm_place_now(r));
    if (!sm_dmx_in_range(profile->enable_range, level))
        level = sm_dmx_play_told_level(r->dmx, channel, (sm_show_time){SM_US_MAX}); // still fading open
    if (!sm_dmx_in_range(profile->enable_range, level))
        return;
    sm_dmx_play_release(r->dmx, f, profile->enable);
    char detail_room[SM_WORDS_ROOM] = "";
    sm_text detail = SM_TEXT_IN(detail_room);
    sm_text_printf(&detail, "%s=%u", profile->channels[profile->enable], level);
    sm_log_plain(r, SM_LOG_SET, fixture->name, sm_row_words(r, &detail));
    sm_text_deinit(&detail);
}

// A start in mid-flame lights nothing by itself: the unit's fire waits for its next cue, as after a pause.
static void hold_flames_begun(sm_rehearsal *r) {
    for (uint32_t f = 0; f < r->show->fixture_count; f++) {
        const sm_fixture *fixture = &r->show->fixtures[f];
        const sm_profile *profile = &r->show->profiles[fixture->profile];
        if (sm_dmx_play_hold_fire(r->dmx, f, r->place))
            sm_log_plain(r, SM_LOG_HOME, fixture->name, profile->channels[profile->fire]);
    }
}

// Everything stands as played to FROM; what was due before is passed over.
static void begin_anew(sm_rehearsal *r, sm_show_time from, bool mid_show) {
    rebuild_dmx(r, from);
    if (mid_show)
        hold_flames_begun(r);
    r->cursor = sm_event_first_due(r->show, from.us);
    pass_before(r, from);
}

void sm_run_from_place(sm_rehearsal *r, bool resume) {
    assert(r->state == (resume ? SM_STATE_PAUSED : SM_STATE_ARMED));
    sm_us countdown = r->show->settings.countdown_us;
    sm_show_time first = {r->place.us - countdown};
    bool mid_show = resume || r->place.us > 0;
    sm_show_time floor = mid_show ? r->place : nowhere;
    r->floor = resume && r->floor.us > floor.us ? r->floor : floor;
    r->clock = (sm_show_clock){r->now, first, r->clock.speed_ppm, true};
    sm_enter_state(r, SM_STATE_RUNNING, first);
    if (resume)
        for (uint32_t f = 0; f < r->show->fixture_count; f++)
            reopen_enable(r, f);
    else
        begin_anew(r, mid_show ? r->place : first, mid_show);
    sm_repeat_look(r);
}

// The show is where the timecode is from this instant on; nothing fires before the count is over.
void sm_run_along_timecode(sm_rehearsal *r) {
    assert(r->timecode.state == SM_TIMECODE_LOCKED);
    const sm_show_time first = sm_show_clock_show_at(&r->timecode.line, r->now);
    const sm_show_time place = sm_timecode_begins(&r->timecode, r->show, r->now);
    const bool mid_show = place.us > 0;
    if (place.us < sm_place_now(r).us)
        sm_all_pending(r);
    r->timecode.has_jumped = false;
    r->place = place;
    r->floor = mid_show ? place : nowhere;
    r->clock = (sm_show_clock){r->now, first, r->timecode.line.speed_ppm, true};
    sm_enter_state(r, SM_STATE_RUNNING, first);
    begin_anew(r, mid_show ? place : first, mid_show);
}

// ---- places -----------------------------------------------------------------------------------

void sm_seek_to(sm_rehearsal *r, sm_show_time to) {
    assert(to.us >= 0 && to.us <= r->show->length_us);
    if (to.us < sm_place_now(r).us) { // while counting down to a place, the place is where the show stands
        sm_all_pending(r);
        for (uint32_t f = 0; f < r->show->firing_count; f++)
            wait_again(r, f);
    }
    pass_before(r, to);
    if (r->state == SM_STATE_RUNNING) {
        r->clock = (sm_show_clock){r->now, to, r->clock.speed_ppm, true};
    } else {
        r->place_set = true;
        r->clock = (sm_show_clock){r->now, to, r->clock.speed_ppm, false};
    }
    r->place = to;
    r->floor = nowhere;
    rebuild_dmx(r, to);
    r->cursor = sm_event_first_due(r->show, to.us);
    sm_repeat_look(r);
}

void sm_repeat_look(sm_rehearsal *r) {
    sm_show_time at = sm_place_now(r);
    r->repeat_ahead = r->repeat_on && at.us < r->repeat_to.us;
}

void sm_repeat_jump(sm_rehearsal *r) {
    assert(r->repeat_on && r->repeat_from.us < r->repeat_to.us);
    for (uint32_t f = 0; f < r->show->firing_count; f++) {
        const sm_firing *firing = &r->show->firings[f];
        if (firing->fire_us < r->repeat_from.us || firing->fire_us >= r->repeat_to.us)
            continue;
        if (r->repeat_rerig && r->field.slots[firing->slot].spent)
            sm_field_rerig_slot(&r->field, firing->slot);
        if (can_be_pending_again(r, f))
            r->progress[f] = SM_FIRING_PENDING;
        wait_again(r, f);
    }
    r->clock = (sm_show_clock){r->now, r->repeat_from, r->clock.speed_ppm, true};
    r->place = r->repeat_from;
    r->floor = nowhere;
    rebuild_dmx(r, r->repeat_from);
    r->alerts_changed = true; // slots may wait anew, enables stand open
    r->cursor = sm_event_first_due(r->show, r->repeat_from.us);
    char from[24];
    sm_log_goes_on(r, SM_ACT_REPEAT, sm_us_format(from, r->repeat_from.us),
                   r->repeat_rerig ? "again, simulated re-rig" : "again");
}
