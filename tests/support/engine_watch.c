// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine_watch.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

uint32_t watch_first_due(const sm_show *show, sm_us at_us) {
    uint32_t i = 0;
    while (i < show->event_count && sm_event_due_us(show, show->order[i]) < at_us)
        i++;
    return i;
}

void watch_begin(watch *w, const sm_show *show, const sm_dmx_timeline *timeline, uint64_t seed) {
    assert_true(show->slot_count <= WATCH_SLOTS && show->fixture_count <= WATCH_FIXTURES &&
                show->channel_count <= WATCH_CHANNELS);
    *w = (watch){.show = show,
                 .timeline = timeline,
                 .seed = seed,
                 .speed_ppm = 1000000,
                 .wait_since_us = SM_UNSET_US,
                 .floor_us = INT64_MIN,
                 .passed_us = INT64_MIN,
                 .anew = true};
}

bool watch_passes_over(const watch *w) {
    if (w->cursor == w->show->event_count)
        return false;
    const uint32_t event = w->show->order[w->cursor];
    return w->show->cues[w->show->events[event].cue].kind == SM_CUE_FIRE &&
           sm_event_due_us(w->show, event) < w->passed_us;
}

// ---- names ----------------------------------------------------------------------------------------

static unsigned find_name(char names[WATCH_NAMES][32], unsigned count, const char *name) {
    unsigned i = 0;
    while (i < count && strcmp(names[i], name) != 0)
        i++;
    return i;
}

static void add_name(char names[WATCH_NAMES][32], unsigned *count, const char *name) {
    if (find_name(names, *count, name) == *count && *count < WATCH_NAMES)
        snprintf(names[(*count)++], 32, "%s", name);
}

static void remove_name(char names[WATCH_NAMES][32], unsigned *count, const char *name) {
    const unsigned at = find_name(names, *count, name);
    if (at < *count)
        memmove(names[at], names[at + 1], (--*count - at) * sizeof names[0]);
}

// NAME is the slot, its rail, or where it stands, or what a cue fires from it is called or is so.
static bool means_slot(const sm_show *show, const char *name, uint32_t slot) {
    char text[48];
    const sm_rail *rail = &show->rails[show->slot_rails[slot]];
    bool means = strcmp(sm_slot_format(show, slot, text), name) == 0 || strcmp(rail->name, name) == 0 ||
                 (rail->position != SM_NONE && strcmp(show->positions[rail->position].name, name) == 0);
    return means;
}

static bool means_firing(const sm_show *show, const char *name, const sm_firing *firing) {
    const bool aerial = show->effects[firing->effect].zone == SM_ZONE_AERIAL && strcmp(name, "aerial") == 0;
    return aerial || means_slot(show, name, firing->slot);
}

static bool means_fixture(const sm_show *show, const char *name, uint32_t f) {
    const sm_fixture *fixture = &show->fixtures[f];
    return strcmp(fixture->name, name) == 0 ||
           (fixture->position != SM_NONE && strcmp(show->positions[fixture->position].name, name) == 0);
}

static bool firing_is_held(const watch *w, const sm_firing *firing) {
    bool held = false;
    for (unsigned i = 0; i < w->inhibit_count; i++)
        held = held || means_firing(w->show, w->inhibits[i], firing);
    return held;
}

static void hold_by_names(watch *w) {
    for (uint32_t f = 0; f < w->show->fixture_count; f++) {
        bool held = false;
        for (unsigned i = 0; i < w->inhibit_count; i++)
            held = held || means_fixture(w->show, w->inhibits[i], f);
        w->disturbed[f] = w->disturbed[f] || held != w->fixture_held[f];
        w->fixture_held[f] = held;
    }
}

// ---- what follows from an action or a state ---------------------------------------------------------

// With no link no cue reaches a flame unit.
static void disturb_flames(watch *w) {
    for (uint32_t f = 0; f < w->show->fixture_count; f++)
        w->disturbed[f] = w->disturbed[f] || w->show->profiles[w->show->fixtures[f].profile].flame;
}

static void made_anew(watch *w) {
    memset(w->disturbed, 0, sizeof w->disturbed);
    if (w->link_lost)
        disturb_flames(w);
    memset(w->fire_named, 0, sizeof w->fire_named);
    w->flames_wait = w->flames_closed = w->anew = false;
}

static void jump_to(watch *w, sm_us at_us) {
    w->cursor = watch_first_due(w->show, at_us);
    w->place_us = at_us;
    w->floor_us = INT64_MIN;
    w->jumped = true;
    made_anew(w);
}

static void make_safe(watch *w) {
    w->clear = w->start_set = false;
    if (w->wait_since_us != SM_UNSET_US)
        w->wait_since_us = w->last.us;
    w->cursor = 0;
    w->place_us = 0;
    w->floor_us = w->passed_us = INT64_MIN;
    w->jumped = true;
    made_anew(w);
    w->anew = true;
}

static bool nothing_in_the_way(const watch *w) {
    return w->people_count == 0 && w->hold_count == 0 && w->clear && w->key && !w->link_lost;
}

static void begin_running(watch *w, bool resume) {
    if (!resume) {
        const bool mid_show = w->place_us > 0;
        const sm_us from = mid_show ? w->place_us : -w->show->settings.countdown_us;
        const sm_us place = w->place_us;
        jump_to(w, from);
        w->floor_us = mid_show ? place : INT64_MIN;
        w->flames_wait = w->flames_closed = mid_show;
    } else {
        w->floor_us = w->floor_us > w->place_us ? w->floor_us : w->place_us;
        memset(w->fire_named, 0, sizeof w->fire_named);
        w->flames_wait = w->flames_closed = w->jumped = true;
    }
    w->start_set = false;
}

static void see_field_act(watch *w, const sm_action *action) {
    const uint32_t slot = action->index;
    switch (action->act) {
    case SM_ACT_RERIG:
        memset(w->spent, 0, sizeof w->spent);
        memset(w->misfired, 0, sizeof w->misfired);
        memset(w->mended, 0, sizeof w->mended);
        break;
    case SM_ACT_REPAIR:
        w->mended[slot] = w->misfired[slot] = w->misfired[slot] && !w->reported[slot];
        w->spent[slot] = w->reported[slot] = false;
        break;
    case SM_ACT_REPORT:
        w->reported[slot] = true;
        w->misfired[slot] = w->misfired[slot] && !w->mended[slot];
        w->mended[slot] = false;
        return; // no hand is at anything
    case SM_ACT_ENTER:
        add_name(w->people, &w->people_count, action->target);
        break;
    case SM_ACT_LEAVE:
        remove_name(w->people, &w->people_count, action->target);
        return;
    case SM_ACT_PLUG:
    case SM_ACT_UNPLUG:
    case SM_ACT_EXCHANGE:
        break;
    default:
        return;
    }
    w->clear = w->start_set = false;
}

static void see_inhibit(watch *w, const sm_action *action) {
    unsigned i = 0;
    while (i < w->inhibit_count && strcmp(w->inhibits[i], action->target) != 0)
        i++;
    if (action->act == SM_ACT_INHIBIT && i == w->inhibit_count && i < WATCH_NAMES)
        w->inhibits[w->inhibit_count++] = action->target;
    else if (action->act == SM_ACT_ALLOW && i < w->inhibit_count)
        w->inhibits[i] = w->inhibits[--w->inhibit_count];
    hold_by_names(w);
}

static void see_goes_on(watch *w, sm_act act) {
    static const sm_state from[SM_ACT_COUNT] = {[SM_ACT_ARM] = SM_STATE_SAFE,
                                                [SM_ACT_START] = SM_STATE_ARMED,
                                                [SM_ACT_START_IN] = SM_STATE_ARMED,
                                                [SM_ACT_RESUME] = SM_STATE_PAUSED};
    WATCH(w, NO_START, nothing_in_the_way(w));
    WATCH(w, NO_START, w->state == from[act]);
    if (act == SM_ACT_START || act == SM_ACT_RESUME)
        begin_running(w, act == SM_ACT_RESUME);
    if (act == SM_ACT_START_IN) {
        w->start_set = true;
        w->starts_at_us = w->last.us + w->acting->moment_us;
    }
}

// The longer wait runs out as if it had begun so much earlier.
static void pass_time(watch *w) {
    const sm_us ends = w->wait_since_us + sm_wait_asked_us(&w->show->settings, true);
    WATCH(w, WAIT, w->state == SM_STATE_SAFE && w->out_count == 0);
    w->wait_since_us -= ends > w->last.us ? ends - w->last.us : 0;
}

// What moves the place, or how it goes on from there.
static void see_place_act(watch *w, const sm_action *action) {
    w->start_set = false;
    switch (action->act) {
    case SM_ACT_SEEK:
        jump_to(w, w->jump_us);
        w->passed_us = w->jump_us;
        break;
    case SM_ACT_SPEED:
        w->speed_ppm = action->speed_ppm;
        break;
    default:
        w->repeat_on = true;
        w->repeat_from_us = action->moment_us;
        w->repeat_to_us = action->end_us;
        w->repeat_rerigs = action->rerig;
    }
}

static void see_reload(watch *w) {
    jump_to(w, 0);
    w->cursor = 0;
    w->passed_us = INT64_MIN;
    w->anew = true;
    w->repeat_on = w->repeat_rerigs = false;
    hold_by_names(w);
}

// The row of the action under way, which comes before all that follows from it.
static void see_action(watch *w, const sm_action *action) {
    switch (action->act) {
    case SM_ACT_KEY_ON:
        w->key = true;
        break;
    case SM_ACT_KEY_OFF:
        w->key = false;
        make_safe(w);
        break;
    case SM_ACT_SAFE:
    case SM_ACT_QUIT:
        make_safe(w);
        break;
    case SM_ACT_CALL_CLEAR:
        WATCH(w, NO_START, w->people_count == 0);
        w->clear = true;
        break;
    case SM_ACT_ARM:
    case SM_ACT_START:
    case SM_ACT_START_IN:
    case SM_ACT_RESUME:
        see_goes_on(w, action->act);
        break;
    case SM_ACT_HOLD:
        add_name(w->holds, &w->hold_count, action->target);
        w->start_set = false;
        if (w->state == SM_STATE_ARMING)
            make_safe(w);
        break;
    case SM_ACT_LIFT:
        remove_name(w->holds, &w->hold_count, action->target);
        break;
    case SM_ACT_SEEK:
    case SM_ACT_SPEED:
    case SM_ACT_REPEAT:
        see_place_act(w, action);
        break;
    case SM_ACT_REPEAT_OFF:
        w->repeat_on = false;
        break;
    case SM_ACT_PASS_TIME:
        pass_time(w);
        break;
    case SM_ACT_RELOAD:
        see_reload(w);
        break;
    case SM_ACT_INHIBIT:
    case SM_ACT_ALLOW:
        see_inhibit(w, action);
        break;
    default:
        see_field_act(w, action);
    }
}

// ---- rows -----------------------------------------------------------------------------------------

static void see_state(watch *w, const sm_log_row *row) {
#define FROM(state) (1u << SM_STATE_##state)
    static const unsigned before[SM_STATE_COUNT] = {
        [SM_STATE_SAFE] = FROM(ARMING) | FROM(ARMED) | FROM(RUNNING) | FROM(PAUSED) | FROM(ENDED),
        [SM_STATE_ARMING] = FROM(SAFE),
        [SM_STATE_ARMED] = FROM(ARMING),
        [SM_STATE_RUNNING] = FROM(ARMED) | FROM(PAUSED),
        [SM_STATE_PAUSED] = FROM(RUNNING),
        [SM_STATE_ENDED] = FROM(RUNNING)};
    const sm_state now = row->kind.state;
    WATCH(w, STATES_IN_ORDER, before[now] >> w->state & 1);
    WATCH(w, SNAPSHOT_AGREES,
          strcmp(row->target, sm_state_text(now)) == 0 && strcmp(row->detail, sm_state_text(w->state)) == 0);
    if (now == SM_STATE_ARMED)
        WATCH(w, ARMING_TAKES_ITS_TIME, w->last.us - w->state_at.us == w->show->settings.arm_time_us);
    if (now == SM_STATE_PAUSED || now == SM_STATE_ENDED)
        w->place_us = row->show.us;
    WATCH(w, STATES_IN_ORDER, now != SM_STATE_SAFE || w->acting); // nobody else makes safe
    w->state = now;
    w->state_at = w->last;
}

static uint32_t slot_of(const watch *w, const sm_log_row *row) {
    uint32_t slot = SM_NONE;
    assert_int_equal(sm_slot_find(w->show, row->target, strlen(row->target), &slot), SM_OK);
    return slot;
}

static bool is_about(const watch *w, uint32_t event, const sm_log_row *row) {
    const sm_event *e = &w->show->events[event];
    char id[12], name[48];
    const bool fires = w->show->cues[e->cue].kind == SM_CUE_FIRE;
    const char *target = fires ? sm_slot_format(w->show, w->show->firings[e->target].slot, name)
                               : w->show->fixtures[e->target].name;
    return strcmp(sm_cue_id(w->show, e->cue, id), row->cue) == 0 && strcmp(target, row->target) == 0;
}

// The next event of the show's order, which the row must be about.
static const sm_event *take_next(watch *w, const sm_log_row *row) {
    while (watch_passes_over(w) && !is_about(w, w->show->order[w->cursor], row))
        w->cursor++;
    WATCH(w, FIRES_IN_TURN, w->cursor < w->show->event_count && is_about(w, w->show->order[w->cursor], row));
    const sm_event *event = &w->show->events[w->show->order[w->cursor++]];
    WATCH(w, FIRES_AT_ITS_MOMENT,
          row->show.us == sm_event_due_us(w->show, (uint32_t)(event - w->show->events)));
    WATCH(w, FIRES_RUNNING,
          w->state == SM_STATE_RUNNING && w->key && w->hold_count == 0 && !w->acting && !w->injecting);
    // At twice the speed the count takes half its time; a jump ends it.
    const sm_us least = w->show->settings.countdown_us / 2;
    // A microsecond of the wall may hold two of the show: what falls into that of a pause comes at the resume.
    WATCH(w, COUNTS_DOWN, w->floor_us == INT64_MIN || row->show.us >= w->floor_us - 1);
    WATCH(w, COUNTS_DOWN, w->jumped || w->last.us - w->state_at.us >= least || row->show.us < w->place_us);
    return event;
}

static void see_fired(watch *w, const sm_log_row *row, const sm_firing *firing) {
    const uint32_t slot = firing->slot;
    WATCH(w, FIRES_ONCE, !w->spent[slot]);
    w->spent[slot] = true;
    w->misfired[slot] = false;
    w->fired++;
    w->wait_since_us = w->last.us;
    if (firing->lasts_us == 0)
        return;
    assert_true(w->out_count < WATCH_OUTS);
    w->outs[w->out_count].at_us = row->wall.us + firing->lead_us + firing->lasts_us;
    w->outs[w->out_count++].slot = slot;
}

static const sm_firing *firing_called(const watch *w, const sm_log_row *row) {
    const uint32_t slot = slot_of(w, row);
    char id[12];
    for (uint32_t f = 0; f < w->show->firing_count; f++) {
        const sm_firing *firing = &w->show->firings[f];
        if (firing->slot == slot &&
            strcmp(sm_cue_id(w->show, w->show->events[firing->event].cue, id), row->cue) == 0)
            return firing;
    }
    fail_msg("no firing of cue %s on %s", row->cue, row->target);
    return NULL;
}

static bool goes_on(const watch *w, uint32_t slot) {
    return w->show->modules[w->show->rails[w->show->slot_rails[slot]].module].goes_on;
}

static void see_fire(watch *w, const sm_log_row *row) {
    if (row->kind.fired != SM_FIRED_WHEN_DUE) {
        const sm_firing *firing = firing_called(w, row);
        WATCH(w, LATE_ONLY_HUNG,
              row->kind.fired == SM_FIRED_LATE ? w->misfired[firing->slot] && !w->mended[firing->slot]
                                               : w->injecting && w->injecting->what == SM_INJECT_FIRES_ALONE);
        see_fired(w, row, firing);
        return;
    }
    const sm_firing *firing = &w->show->firings[take_next(w, row)->target];
    WATCH(w, HELD_BACK, !firing_is_held(w, firing));
    WATCH(w, LINK_LOST, !w->link_lost || goes_on(w, firing->slot));
    see_fired(w, row, firing);
}

static void see_misfire(watch *w, const sm_log_row *row) {
    const uint32_t slot = w->show->firings[take_next(w, row)->target].slot;
    WATCH(w, FIRES_ONCE, !w->spent[slot]);
    w->misfired[slot] = true;
    w->reported[slot] = w->mended[slot] = false;
    w->wait_since_us = w->last.us;
}

static void see_passed(watch *w, const sm_log_row *row) {
    if (w->link_lost && !w->acting && w->state == SM_STATE_RUNNING) {
        (void)take_next(w, row);
        return;
    }
    const bool start_due = w->last.us == w->state_at.us && w->state == SM_STATE_RUNNING; // `start-in`
    WATCH(w, JUMP, w->acting || start_due);
    WATCH(w, JUMP, row->show.us < (w->place_us > 0 ? w->place_us : 0));
}

static void see_set(watch *w, const sm_log_row *row) {
    if (row->cue[0] == '\0') { // an enable that a resume opens
        WATCH(w, FIRES_RUNNING, w->state == SM_STATE_RUNNING);
        return;
    }
    const sm_event *event = take_next(w, row);
    const uint32_t f = event->target;
    const sm_profile *profile = &w->show->profiles[w->show->fixtures[f].profile];
    WATCH(w, HELD_BACK, !w->fixture_held[f]);
    WATCH(w, LINK_LOST, !w->link_lost || !profile->flame);
    uint32_t count;
    const sm_level *levels = sm_event_levels(w->show, (uint32_t)(event - w->show->events), &count);
    for (uint32_t i = 0; i < count; i++)
        w->fire_named[f] = w->fire_named[f] || levels[i].channel == profile->fire;
}

static void see_out(watch *w, const sm_log_row *row) {
    const uint32_t slot = slot_of(w, row);
    unsigned i = 0;
    while (i < w->out_count && (w->outs[i].at_us != row->wall.us || w->outs[i].slot != slot))
        i++;
    WATCH(w, BURNS_TO_ITS_END, i < w->out_count);
    w->outs[i] = w->outs[--w->out_count];
    w->wait_since_us = w->last.us;
}

// What the engine goes on with by itself.
static void see_by_itself(watch *w, const sm_log_row *row) {
    if (row->kind.act == SM_ACT_START) {
        WATCH(w, STARTS_BY_ITSELF, w->start_set && w->starts_at_us == w->last.us);
        WATCH(w, STARTS_BY_ITSELF, nothing_in_the_way(w) && w->state == SM_STATE_ARMED);
        begin_running(w, false);
    } else if (row->kind.act == SM_ACT_REPEAT) {
        WATCH(w, JUMP, w->repeat_on && w->state == SM_STATE_RUNNING);
        jump_to(w, w->repeat_from_us);
        for (uint32_t f = 0; f < w->show->firing_count && w->repeat_rerigs; f++)
            if (w->show->firings[f].fire_us >= w->repeat_from_us &&
                w->show->firings[f].fire_us < w->repeat_to_us)
                w->spent[w->show->firings[f].slot] = false;
    } else if (row->kind.act == SM_ACT_START_IN) {
        w->start_set = false;
    }
}

static void see_event(watch *w) {
    switch (w->injecting->what) {
    case SM_INJECT_LINK_LOST:
        w->link_lost = w->flames_closed = true;
        disturb_flames(w);
        break;
    case SM_INJECT_LINK_BACK:
        if (w->link_lost && w->wait_since_us != SM_UNSET_US)
            w->wait_since_us = w->last.us;
        w->link_lost = false;
        break;
    case SM_INJECT_PERSON_IN:
        add_name(w->people, &w->people_count, "a person");
        w->clear = false;
        break;
    case SM_INJECT_PERSON_OUT:
        remove_name(w->people, &w->people_count, "a person");
        break;
    case SM_INJECT_UNPLUG:
        w->clear = false;
        break;
    default:
        break;
    }
}

void watch_row(watch *w, const sm_log_row *row) {
    w->rows++;
    WATCH(w, ROWS_IN_ORDER, row->wall.us >= w->last.us);
    WATCH(w, FIRES_AT_ITS_MOMENT, row->late_us == 0);
    w->last = row->wall;
    const sm_log_what what = row->kind.what;
    const bool by_hand = row->source != SM_SOURCE_ENGINE && what != SM_LOG_EVENT;
    if (by_hand) {
        WATCH(w, ONE_ROW, w->acting && !w->act_logged);
        w->act_logged = true;
    }
    if (what == SM_LOG_ACTION && by_hand)
        see_action(w, w->acting);
    else if (what == SM_LOG_ACTION)
        see_by_itself(w, row);
    else if (what == SM_LOG_STATE)
        see_state(w, row);
    else if (what == SM_LOG_FIRE)
        see_fire(w, row);
    else if (what == SM_LOG_MISFIRE)
        see_misfire(w, row);
    else if (what == SM_LOG_SPENT || what == SM_LOG_INHIBITED)
        (void)take_next(w, row);
    else if (what == SM_LOG_PASSED)
        see_passed(w, row);
    else if (what == SM_LOG_SET)
        see_set(w, row);
    else if (what == SM_LOG_OUT)
        see_out(w, row);
    else if (what == SM_LOG_EVENT)
        see_event(w);
    w->refused += what == SM_LOG_REFUSED || what == SM_LOG_UNPAIRED;
}
