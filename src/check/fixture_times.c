// SPDX-License-Identifier: GPL-3.0-or-later
// One walk over all fixture events, in order of due time.
//
// Every channel keeps what it was last told and since when its level holds. An event that tells it something new ends what
// went before: that is the moment to judge it. So a million events cost one sweep over them and a small state a channel,
// and no timeline is built.
//
// hold: from the cue that changes a channel's level to the moment something takes that level away (a cue with another
//       level, or the return home). Cues that tell the same level again prolong it.
// clash: a channel told something at the very moment of another cue, or while another cue's fade runs.
// span: a stretch in which a flame unit's enable or fire channel is within its range; a fade is cut where it enters or
//       leaves the range, to the microsecond, by the same rounding as the level itself.
#include "check/rule.h"
#include "check/universes.h"

#include "slowmatch/dmx.h"

#include <stdlib.h>

typedef struct channel {
    sm_us told_us; // of `event`
    sm_us held_us; // since when the level holds
    uint32_t fade_us, lasts_us;
    uint32_t event;  // that told it last; SM_NONE: none, at home
    uint32_t holder; // event that began the hold; SM_NONE: it changed nothing
    uint8_t from, to, home;
} channel;

typedef struct walk {
    sm_check *check;
    channel *channels;
    sm_us *frames_us; // two refreshes, of each fixture
    uint32_t *flames; // row of check->flames of each fixture, SM_NONE where it makes none
    bool quiet;
} walk;

sm_result check_spans_add(check_spans *spans, check_span span) {
    if (span.end_us <= span.begin_us)
        return SM_OK;
    if (spans->count == spans->capacity) {
        const size_t capacity = spans->capacity > 0 ? spans->capacity * 2 : 16;
        check_span *grown = realloc(spans->spans, capacity * sizeof *grown);
        if (!grown)
            return SM_NO_MEMORY;
        spans->spans = grown;
        spans->capacity = capacity;
    }
    spans->spans[spans->count++] = span;
    return SM_OK;
}

static bool within(sm_range range, uint8_t level) {
    return level >= range.low && level <= range.high;
}

// First moment from which on a fade is no longer on the near side of the range (PAST false), or beyond it (PAST true),
// after its beginning; its length where never.
static sm_us fade_crosses_us(const channel *state, sm_range range, bool past) {
    const bool rises = state->to >= state->from;
    sm_us low = -1, high = state->fade_us;
    while (low + 1 < high) {
        const sm_us middle = low + (high - low) / 2;
        const uint8_t level = sm_dmx_fade_level(state->from, state->to, state->fade_us, middle);
        const bool there = rises  ? (past ? level > range.high : level >= range.low)
                           : past ? level < range.low
                                  : level <= range.high;
        if (there)
            high = middle;
        else
            low = middle;
    }
    return high;
}

// The part of what STATE was told, up to END_US, that lies within RANGE.
static sm_result add_span(check_spans *spans, const channel *state, sm_range range, sm_us end_us) {
    check_span span = {.begin_us = state->told_us, .end_us = end_us, .event = state->event};
    if (state->fade_us == 0)
        return within(range, state->to) ? check_spans_add(spans, span) : SM_OK;
    const bool ends_within = within(range, state->to);
    const bool never = state->to >= state->from ? state->from > range.high || state->to < range.low
                                                : state->from < range.low || state->to > range.high;
    if (never)
        return SM_OK;
    span.begin_us += fade_crosses_us(state, range, false);
    if (!ends_within) {
        const sm_us leaves_us = state->told_us + fade_crosses_us(state, range, true);
        span.end_us = leaves_us < end_us ? leaves_us : end_us;
    }
    return check_spans_add(spans, span);
}

// ---- what ends: holds and spans --------------------------------------------------------

static bool is_fire_channel(const walk *w, uint32_t fixture, uint32_t channel_number) {
    return w->flames[fixture] != SM_NONE &&
           w->check->show->profiles[w->check->show->fixtures[fixture].profile].fire == channel_number;
}

static void put_brief(walk *w, uint32_t fixture, uint32_t channel_number, const channel *state,
                      sm_us held_us) {
    const sm_fixture *row = &w->check->show->fixtures[fixture];
    const sm_us least_us = w->frames_us[fixture];
    check_put(w->check, "too-brief", check_at_event(w->check, state->holder, "time"),
              (check_figures){FIGURE_SPAN, (double)held_us, (double)least_us, NULL},
              "%s %s=%u holds for %s; two refreshes of universe %d take %s, so it may never be seen",
              row->name, w->check->show->profiles[row->profile].channels[channel_number], state->to,
              SPAN(held_us), row->universe, SPAN(least_us));
}

static void judge_hold(walk *w, uint32_t fixture, uint32_t channel_number, const channel *state,
                       sm_us end_us) {
    const sm_us held_us = end_us - state->held_us;
    if (held_us > 0 && held_us < w->frames_us[fixture] && state->holder != SM_NONE && !w->quiet &&
        !is_fire_channel(w, fixture, channel_number))
        put_brief(w, fixture, channel_number, state, held_us);
}

// When what STATE was told is over by itself; INT64_MAX: never.
static sm_us return_us(const channel *state) {
    return state->lasts_us > 0 ? state->told_us + state->lasts_us : INT64_MAX;
}

static sm_result close_span(walk *w, uint32_t fixture, uint32_t channel_number, const channel *state,
                            sm_us end_us) {
    const sm_show *show = w->check->show;
    if (w->flames[fixture] == SM_NONE || state->event == SM_NONE)
        return SM_OK;
    const sm_profile *profile = &show->profiles[show->fixtures[fixture].profile];
    check_flame *flame = &w->check->flames[w->flames[fixture]];
    const sm_us shown_us = end_us < show->length_us ? end_us : show->length_us;
    if (channel_number == profile->enable)
        return add_span(&flame->enable, state, profile->enable_range, shown_us);
    if (channel_number == profile->fire)
        return add_span(&flame->fire, state, profile->fire_range, shown_us);
    return SM_OK;
}

// ---- what begins --------------------------------------------------------------------------

static void judge_clash(walk *w, uint32_t fixture, uint32_t channel_number, const channel *state,
                        uint32_t event) {
    const sm_show *show = w->check->show;
    const uint32_t before = show->events[state->event].cue, now = show->events[event].cue;
    const uint32_t later = before > now ? before : now, earlier = before > now ? now : before;
    const sm_us now_us = show->cues[now].time_us;
    const sm_fixture *row = &show->fixtures[fixture];
    const char *name = show->profiles[row->profile].channels[channel_number];
    char id[12];
    if (before == now)
        check_put(w->check, "two-at-once", check_at_cue(w->check, later, "target"), check_no_figures(),
                  "%s %s is told twice by this row", row->name, name);
    else if (now_us == state->told_us)
        check_put(w->check, "two-at-once", check_at_cue(w->check, later, "do"), check_no_figures(),
                  "%s %s is told two things at %s, here and by cue %s (line %u)", row->name, name,
                  MOMENT(now_us), sm_cue_id(show, earlier, id), show->cues[earlier].line);
    else
        check_put(w->check, "two-at-once", check_at_cue(w->check, later, "do"), check_no_figures(),
                  "%s %s: cue %s (line %u) tells it at %s while the fade of cue %s (line %u) runs until %s",
                  row->name, name, sm_cue_id(show, now, (char[12]){0}), show->cues[now].line, MOMENT(now_us),
                  sm_cue_id(show, before, id), show->cues[before].line,
                  MOMENT(state->told_us + state->fade_us));
}

// Ends what STATE was doing, at NOW_US, for something that tells it TO. Returns its level at that moment.
static sm_result end_doing(walk *w, uint32_t fixture, uint32_t channel_number, channel *state, sm_us now_us,
                           uint8_t to, uint8_t *level) {
    const sm_us over_us = return_us(state);
    const bool returned = over_us <= now_us;
    const sm_us end_us = returned ? over_us : now_us;
    if (returned && state->home != state->to)
        judge_hold(w, fixture, channel_number, state, over_us);
    else if (to != state->to)
        judge_hold(w, fixture, channel_number, state, now_us);
    const sm_result result = close_span(w, fixture, channel_number, state, end_us);
    *level = returned ? state->home
                      : sm_dmx_fade_level(state->from, state->to, state->fade_us, now_us - state->told_us);
    if (returned && state->to != state->home)
        state->holder = SM_NONE;
    return result;
}

// Tells channel CHANNEL_NUMBER of FIXTURE a level. *CLASHED: the cue that this event
// was last found to clash with.
static sm_result tell_channel(walk *w, uint32_t event, const sm_cue *cue, uint32_t fixture, sm_level told,
                              uint32_t *clashed) {
    channel *state = &w->channels[w->check->show->fixtures[fixture].channel_base + told.channel];
    uint8_t level = state->home, aim = state->home;
    sm_result result = SM_OK;
    if (state->event != SM_NONE) {
        const bool returned = return_us(state) <= cue->time_us;
        const bool busy =
            !returned && (state->told_us == cue->time_us || cue->time_us < state->told_us + state->fade_us);
        const uint32_t other = w->check->show->events[state->event].cue;
        if (busy && *clashed != other && !w->quiet) {
            judge_clash(w, fixture, told.channel, state, event);
            *clashed = other;
        }
        aim = returned ? state->home : state->to;
        result = end_doing(w, fixture, told.channel, state, cue->time_us, told.level, &level);
    }
    if (told.level != aim) {
        state->held_us = cue->time_us;
        state->holder = event;
    }
    state->told_us = cue->time_us;
    state->fade_us = cue->fade_us;
    state->lasts_us = cue->lasts_us;
    state->event = event;
    state->from = level;
    state->to = told.level;
    return result;
}

static sm_result walk_events(walk *w) {
    const sm_show *show = w->check->show;
    sm_result result = SM_OK;
    for (uint32_t i = 0; result == SM_OK && i < show->event_count; i++) {
        const uint32_t event = show->order[i];
        const sm_cue *cue = &show->cues[show->events[event].cue];
        if (cue->kind != SM_CUE_SET)
            continue;
        const uint32_t fixture = show->events[event].target;
        if (w->quiet && w->flames[fixture] == SM_NONE)
            continue;
        uint32_t count;
        const sm_level *levels = sm_event_levels(show, event, &count);
        uint32_t clashed = SM_NONE;
        for (uint32_t l = 0; result == SM_OK && l < count; l++)
            result = tell_channel(w, event, cue, fixture, levels[l], &clashed);
    }
    return result;
}

static sm_result end_walk(walk *w) {
    const sm_show *show = w->check->show;
    sm_result result = SM_OK;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        const uint32_t channels =
            fixture->profile != SM_NONE ? show->profiles[fixture->profile].channel_count : 0;
        for (uint32_t c = 0; result == SM_OK && c < channels; c++) {
            const channel *state = &w->channels[fixture->channel_base + c];
            if (state->event == SM_NONE)
                continue;
            if (state->lasts_us > 0 && state->home != state->to)
                judge_hold(w, f, c, state, return_us(state));
            result = close_span(w, f, c, state, return_us(state));
        }
    }
    return result;
}

// ---- making ---------------------------------------------------------------------------------

static sm_result init_channels(walk *w) {
    const sm_show *show = w->check->show;
    w->channels = sm_arena_alloc(w->check->arena, ((size_t)show->channel_count + 1) * sizeof *w->channels);
    if (!w->channels)
        return SM_NO_MEMORY;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        if (fixture->profile == SM_NONE)
            continue;
        const sm_profile *profile = &show->profiles[fixture->profile];
        for (uint32_t c = 0; c < profile->channel_count; c++)
            w->channels[fixture->channel_base + c] =
                (channel){.event = SM_NONE, .holder = SM_NONE, .home = profile->home[c]};
    }
    return SM_OK;
}

static sm_result init_fixtures(walk *w) {
    const sm_show *show = w->check->show;
    const size_t size = (size_t)show->fixture_count + 1;
    check_universe *universes;
    size_t universe_count;
    w->frames_us = sm_arena_alloc(w->check->arena, size * sizeof *w->frames_us);
    w->flames = sm_arena_alloc(w->check->arena, size * sizeof *w->flames);
    w->check->flames = calloc(size, sizeof *w->check->flames);
    if (!w->frames_us || !w->flames || !w->check->flames)
        return SM_NO_MEMORY;
    const sm_result result = check_universes(show, w->check->arena, &universes, &universe_count);
    for (uint32_t f = 0; result == SM_OK && f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        const size_t at = check_universe_find(universes, universe_count, fixture->universe);
        w->frames_us[f] = 2 * sm_dmx_frame_us(universes[at].highest);
        w->flames[f] = SM_NONE;
        const sm_profile *profile = fixture->profile != SM_NONE ? &show->profiles[fixture->profile] : NULL;
        if (!profile || !profile->flame || profile->enable == SM_NONE || profile->fire == SM_NONE)
            continue;
        w->flames[f] = w->check->flame_count++;
        w->check->flames[w->flames[f]] = (check_flame){.fixture = f, .two_frames_us = w->frames_us[f]};
    }
    return result;
}

sm_result check_follow_fixtures(sm_check *check, bool quiet) {
    walk w = {.check = check, .quiet = quiet};
    sm_result result = init_channels(&w);
    if (result == SM_OK)
        result = init_fixtures(&w);
    if (result == SM_OK)
        result = walk_events(&w);
    return result == SM_OK ? end_walk(&w) : result;
}

void check_free_flames(sm_check *check) {
    for (uint32_t i = 0; check->flames && i < check->flame_count; i++) {
        free(check->flames[i].enable.spans);
        free(check->flames[i].fire.spans);
    }
    free(check->flames);
    check->flames = NULL;
    check->flame_count = 0;
}

sm_result check_fixture_times(sm_check *check) {
    return check_follow_fixtures(check, false);
}
