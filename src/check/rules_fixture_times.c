// SPDX-License-Identifier: GPL-3.0-or-later
// One walk over all fixture events, in order of due time.
//
// Every channel keeps what it was last told (sm_dmx_channel) and since when its level holds. An event that tells it something
// new ends what went before: that is the moment to judge it. So a million events cost one sweep over them and a small state a
// channel, and no timeline is built.
//
// Fixtures have nothing to do with one another: where there are hands, each strand of the walk is that of every fourth fixture.
//
// hold: from the cue that changes a channel's level to the moment something takes that level away (a cue with another
//       level, or the return home). Cues that tell the same level again prolong it.
// clash: a channel told something at the very moment of another cue, or while another cue's fade runs.
// span: a stretch in which a flame unit's enable or fire channel is within its range.
#include "check/rule.h"

#include "slowmatch/dmx.h"

#include <stdlib.h>

typedef struct channel {
    sm_dmx_channel told;
    sm_us held_us;   // since when the level holds
    uint32_t holder; // event that began the hold; SM_NONE: it changed nothing
    uint8_t home;
} channel;

typedef struct walk {
    sm_check *check;
    channel *channels;
    sm_us two_periods_us; // of the sender
    uint32_t *flames;     // row of check->flames of each fixture, SM_NONE where it makes none
    bool quiet;
    uint32_t strand,
        strands; // it is that of fixtures whose number, divided by `strands` (a power of two), leaves `strand`
    size_t moment; // place of the event in order, and of what comes home after all of them
} walk;

sm_result check_spans_add(check_spans *spans, check_span span) {
    if (span.end_us <= span.begin_us)
        return SM_OK;
    check_span *grown = sm_array_grow(spans->spans, spans->count, sizeof *grown);
    if (!grown)
        return SM_NO_MEMORY;
    spans->spans = grown;
    spans->spans[spans->count++] = span;
    return SM_OK;
}

// ---- what ends: holds and spans --------------------------------------------------------

static bool is_fire_channel(const walk *w, uint32_t fixture, uint32_t channel_number) {
    return w->flames[fixture] != SM_NONE &&
           w->check->show->profiles[w->check->show->fixtures[fixture].profile].fire == channel_number;
}

static void put_brief(walk *w, uint32_t fixture, uint32_t channel_number, const channel *state,
                      sm_us held_us) {
    const sm_fixture *row = &w->check->show->fixtures[fixture];
    const sm_us least_us = w->two_periods_us;
    check_put(
        w->check, "too-brief", check_at_event(w->check, state->holder, "time"),
        (check_figures){FIGURE_SPAN, (double)held_us, (double)least_us, NULL},
        "%s %s=%u holds for %s; two refreshes of the sender take %s ([dmx] refresh, %.4g Hz), so it may "
        "never be seen",
        row->name, w->check->show->profiles[row->profile].channels[channel_number], state->told.to,
        SPAN(held_us), SPAN(least_us), w->check->show->settings.refresh_hz);
}

static void judge_hold(walk *w, uint32_t fixture, uint32_t channel_number, const channel *state,
                       sm_us end_us) {
    const sm_us held_us = end_us - state->held_us;
    if (held_us > 0 && held_us < w->two_periods_us && state->holder != SM_NONE && !w->quiet &&
        !is_fire_channel(w, fixture, channel_number))
        put_brief(w, fixture, channel_number, state, held_us);
}

// What STATE was told is over at END_US.
static sm_result close_span(walk *w, uint32_t fixture, uint32_t channel_number, const channel *state,
                            sm_us end_us) {
    const sm_show *show = w->check->show;
    if (w->flames[fixture] == SM_NONE || state->told.event == SM_NONE)
        return SM_OK;
    const sm_profile *profile = &show->profiles[show->fixtures[fixture].profile];
    check_flame *flame = &w->check->flames[w->flames[fixture]];
    const bool enables = channel_number == profile->enable;
    if (!enables && channel_number != profile->fire)
        return SM_OK;
    const sm_show_time until = {end_us < show->length_us ? end_us : show->length_us};
    sm_show_time begin, end;
    if (!sm_dmx_channel_within(&state->told, enables ? profile->enable_range : profile->fire_range, until,
                               &begin, &end))
        return SM_OK;
    return check_spans_add(enables ? &flame->enable : &flame->fire,
                           (check_span){begin.us, end.us, state->told.event});
}

// What STATE was told is over at END_US, and then it is at LEVEL.
static sm_result end_told(walk *w, uint32_t fixture, uint32_t channel_number, const channel *state,
                          sm_us end_us, uint8_t level) {
    if (level != state->told.to)
        judge_hold(w, fixture, channel_number, state, end_us);
    return close_span(w, fixture, channel_number, state, end_us);
}

// The return home of what STATE was told, where it comes by BY_US.
static sm_result come_home(walk *w, uint32_t fixture, uint32_t channel_number, channel *state, sm_us by_us) {
    if (!state->told.return_pending || state->told.return_at.us > by_us)
        return SM_OK;
    const sm_result result =
        end_told(w, fixture, channel_number, state, state->told.return_at.us, state->home);
    if (state->told.to != state->home)
        state->holder = SM_NONE;
    sm_dmx_channel_home(&state->told, state->home);
    return result;
}

// ---- what begins --------------------------------------------------------------------------

static void judge_clash(walk *w, uint32_t fixture, uint32_t channel_number, const channel *state,
                        uint32_t event) {
    const sm_show *show = w->check->show;
    const uint32_t before = show->events[state->told.event].cue, now = show->events[event].cue;
    const uint32_t later = before > now ? before : now, earlier = before > now ? now : before;
    const sm_us now_us = show->cues[now].time_us;
    const sm_fixture *row = &show->fixtures[fixture];
    const char *name = show->profiles[row->profile].channels[channel_number];
    char id[12];
    if (before == now)
        check_put(w->check, "two-at-once", check_at_cue(w->check, later, "target"), check_no_figures(),
                  "%s %s is told twice by this row", row->name, name);
    else if (now_us == state->told.began.us)
        check_put(w->check, "two-at-once", check_at_cue(w->check, later, "do"), check_no_figures(),
                  "%s %s is told two things at %s, here and by cue %s (line %u)", row->name, name,
                  MOMENT(now_us), sm_cue_id(show, earlier, id), show->cues[earlier].line);
    else
        check_put(w->check, "two-at-once", check_at_cue(w->check, later, "do"), check_no_figures(),
                  "%s %s: cue %s (line %u) tells it at %s while the fade of cue %s (line %u) runs until %s",
                  row->name, name, sm_cue_id(show, now, (char[12]){0}), show->cues[now].line, MOMENT(now_us),
                  sm_cue_id(show, before, id), show->cues[before].line,
                  MOMENT(state->told.began.us + state->told.fade_us));
}

// Tells channel CHANNEL_NUMBER of FIXTURE a level. *CLASHED: the cue that this event
// was last found to clash with.
static sm_result tell_channel(walk *w, uint32_t event, sm_show_time now, sm_level told, uint32_t *clashed) {
    const sm_show *show = w->check->show;
    const uint32_t fixture = show->events[event].target;
    channel *state = &w->channels[show->fixtures[fixture].channel_base + told.channel];
    sm_result result = come_home(w, fixture, told.channel, state, now.us);
    if (state->told.event != SM_NONE) {
        const sm_us began_us = state->told.began.us;
        const bool busy = began_us == now.us || now.us < began_us + state->told.fade_us;
        const uint32_t other = show->events[state->told.event].cue;
        if (busy && *clashed != other && !w->quiet) {
            judge_clash(w, fixture, told.channel, state, event);
            *clashed = other;
        }
    }
    if (result == SM_OK)
        result = end_told(w, fixture, told.channel, state, now.us, told.level);
    if (told.level != state->told.to) {
        state->held_us = now.us;
        state->holder = event;
    }
    sm_dmx_channel_tell(&state->told, show, event, sm_dmx_channel_level(&state->told, now), told.level);
    return result;
}

static bool is_of_strand(const walk *w, uint32_t fixture) {
    return (fixture & (w->strands - 1)) == w->strand && !(w->quiet && w->flames[fixture] == SM_NONE);
}

static sm_result walk_events(walk *w) {
    const sm_show *show = w->check->show;
    sm_result result = SM_OK;
    for (uint32_t i = 0; result == SM_OK && i < show->event_count; i++) {
        const uint32_t event = show->order[i];
        const sm_cue *cue = &show->cues[show->events[event].cue];
        if (cue->kind != SM_CUE_SET || !is_of_strand(w, show->events[event].target))
            continue;
        w->moment = i;
        uint32_t count;
        const sm_level *levels = sm_event_levels(show, event, &count);
        uint32_t clashed = SM_NONE;
        for (uint32_t l = 0; result == SM_OK && l < count; l++)
            result = tell_channel(w, event, (sm_show_time){cue->time_us}, levels[l], &clashed);
    }
    return result;
}

static sm_result end_walk(walk *w) {
    const sm_show *show = w->check->show;
    sm_result result = SM_OK;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        const bool has_channels = fixture->profile != SM_NONE && is_of_strand(w, f);
        const uint32_t channels = has_channels ? show->profiles[fixture->profile].channel_count : 0;
        w->moment = (size_t)show->event_count + f;
        for (uint32_t c = 0; result == SM_OK && c < channels; c++) {
            channel *state = &w->channels[fixture->channel_base + c];
            result = come_home(w, f, c, state, INT64_MAX);
            if (result == SM_OK)
                result = close_span(w, f, c, state, INT64_MAX);
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
        for (uint32_t c = 0; c < profile->channel_count; c++) {
            channel *const state = &w->channels[fixture->channel_base + c];
            *state = (channel){.holder = SM_NONE, .home = profile->home[c]};
            sm_dmx_channel_home(&state->told, state->home);
        }
    }
    return SM_OK;
}

static sm_result init_fixtures(walk *w) {
    const sm_show *show = w->check->show;
    const size_t size = (size_t)show->fixture_count + 1;
    w->flames = sm_arena_alloc(w->check->arena, size * sizeof *w->flames);
    w->check->flames = calloc(size, sizeof *w->check->flames);
    if (!w->flames || !w->check->flames)
        return SM_NO_MEMORY;
    w->two_periods_us = 2 * sm_dmx_period_us(show->settings.refresh_hz);
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        w->flames[f] = SM_NONE;
        const sm_profile *profile = fixture->profile != SM_NONE ? &show->profiles[fixture->profile] : NULL;
        if (!profile || !profile->flame || profile->enable == SM_NONE || profile->fire == SM_NONE)
            continue;
        w->flames[f] = w->check->flame_count++;
        w->check->flames[w->flames[f]] = (check_flame){.fixture = f, .two_periods_us = w->two_periods_us};
    }
    return SM_OK;
}

// ---- in strands ---------------------------------------------------------------------------

typedef struct strands {
    sm_check checks[CHECK_STRANDS]; // what each puts
    walk walks[CHECK_STRANDS];
    sm_result results[CHECK_STRANDS];
} strands;

static sm_result walk_all(walk *w) {
    const sm_result result = walk_events(w);
    return result == SM_OK ? end_walk(w) : result;
}

static void walk_strand(void *context, size_t index) {
    strands *all = context;
    all->results[index] = all->checks[index].arena ? walk_all(&all->walks[index]) : SM_NO_MEMORY;
}

static sm_result walk_in_strands(const walk *whole) {
    strands all;
    sm_result result = SM_OK;
    for (uint32_t s = 0; s < CHECK_STRANDS; s++) {
        all.walks[s] = *whole;
        all.walks[s].check = &all.checks[s];
        all.walks[s].strands = CHECK_STRANDS;
        all.walks[s].strand = s;
        all.checks[s] = *whole->check;
        all.checks[s].arena = sm_arena_create();
        all.checks[s].pending = NULL;
        all.checks[s].pending_count = 0;
        all.checks[s].moment = &all.walks[s].moment;
    }
    whole->check->options.together(walk_strand, &all, CHECK_STRANDS);
    check_join(whole->check, all.checks, CHECK_STRANDS);
    for (uint32_t s = 0; s < CHECK_STRANDS; s++) {
        result = result == SM_OK ? all.results[s] : result;
        sm_arena_destroy(all.checks[s].arena);
    }
    return result;
}

sm_result check_follow_fixtures(sm_check *check, bool quiet) {
    walk w = {.check = check, .quiet = quiet, .strands = 1};
    sm_result result = init_channels(&w);
    if (result == SM_OK)
        result = init_fixtures(&w);
    if (result != SM_OK || (quiet && check->flame_count == 0))
        return result;
    return check->options.together ? walk_in_strands(&w) : walk_all(&w);
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
