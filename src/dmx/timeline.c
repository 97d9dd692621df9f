// SPDX-License-Identifier: GPL-3.0-or-later
// What each channel is told, and when.
//
// A step is one change of one channel. The steps of all channels lie in one array, channel after channel,
// each channel's in the order in which they are due (table order where equal); first[c] is where channel c's
// begin and first[c + 1] where they end. Two passes over the show's events make it: one counts the steps of
// each channel, one puts them in place.
//
// Invariant: a step's `from` is the level that its channel has at the step's moment, after any return home
// due at that very moment (ends come before beginnings) and after any earlier step of that moment. So a step
// together with its cue tells everything about its channel until the next step, and the state at any moment
// needs one binary search and nothing else.
#include "slowmatch/dmx.h"

#include <assert.h>
#include <stdlib.h>

struct sm_dmx_timeline {
    const sm_show *show;
    uint8_t *homes;     // of each show-wide channel
    size_t *first;      // channel_count + 1
    sm_dmx_step *steps; // all channels'
};

static const sm_cue *event_cue(const sm_show *show, uint32_t event) {
    return &show->cues[show->events[event].cue];
}

static sm_us step_due_us(const sm_show *show, const sm_dmx_step *step) {
    return event_cue(show, step->event)->time_us;
}

// The state that STEP leaves its channel in, once ends due before AT_US (or at it) are done.
static sm_dmx_channel state_after(const sm_dmx_timeline *timeline, uint32_t channel, const sm_dmx_step *step,
                                  sm_show_time at, bool including) {
    sm_dmx_channel state;
    sm_dmx_channel_tell(&state, timeline->show, step->event, step->from, step->to);
    sm_dmx_channel_return(&state, timeline->homes[channel], at, including);
    return state;
}

static void fill_homes(const sm_show *show, uint8_t *homes) {
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        if (fixture->profile == SM_NONE)
            continue;
        const sm_profile *profile = &show->profiles[fixture->profile];
        for (uint32_t c = 0; c < profile->channel_count; c++)
            homes[fixture->channel_base + c] = profile->home[c];
    }
}

// Show-wide number of the first channel of the fixture that EVENT sets; an event that fires has no levels.
static uint32_t event_base(const sm_show *show, uint32_t event) {
    return show->fixtures[show->events[event].target].channel_base;
}

// Counts the steps of channel c in first[c + 1], then sums, so that first[c] is where channel c begins.
static void count_steps(const sm_show *show, size_t *first) {
    for (uint32_t i = 0; i < show->event_count; i++) {
        uint32_t count;
        const sm_level *levels = sm_event_levels(show, i, &count);
        for (uint32_t l = 0; l < count; l++)
            first[event_base(show, i) + levels[l].channel + 1]++;
    }
    for (uint32_t c = 0; c < show->channel_count; c++)
        first[c + 1] += first[c];
}

// NEXT[c] is where channel c's next step goes.
static void add_step(sm_dmx_timeline *timeline, size_t *next, uint32_t channel, uint32_t event, uint8_t to) {
    const sm_show *show = timeline->show;
    size_t place = next[channel]++;
    uint8_t from = timeline->homes[channel];
    if (place > timeline->first[channel]) {
        sm_show_time now = {event_cue(show, event)->time_us};
        sm_dmx_channel state = state_after(timeline, channel, &timeline->steps[place - 1], now, true);
        from = sm_dmx_channel_level(&state, now);
    }
    timeline->steps[place] = (sm_dmx_step){.event = event, .from = from, .to = to};
}

static void fill_steps(sm_dmx_timeline *timeline, size_t *next) {
    const sm_show *show = timeline->show;
    for (uint32_t i = 0; i < show->event_count; i++) {
        uint32_t event = show->order[i];
        uint32_t count;
        const sm_level *levels = sm_event_levels(show, event, &count);
        for (uint32_t l = 0; l < count; l++)
            add_step(timeline, next, event_base(show, event) + levels[l].channel, event, levels[l].level);
    }
}

sm_result sm_dmx_timeline_create(const sm_show *show, sm_dmx_timeline **out) {
    size_t channels = show->channel_count;
    sm_dmx_timeline *timeline = calloc(1, sizeof *timeline);
    size_t *next = calloc(channels + 1, sizeof *next);
    if (!timeline || !next)
        goto failed;
    timeline->show = show;
    timeline->homes = calloc(channels + 1, sizeof *timeline->homes);
    timeline->first = calloc(channels + 1, sizeof *timeline->first);
    if (!timeline->homes || !timeline->first)
        goto failed;
    fill_homes(show, timeline->homes);
    count_steps(show, timeline->first);
    timeline->steps = calloc(timeline->first[channels] + 1, sizeof *timeline->steps);
    if (!timeline->steps)
        goto failed;
    for (size_t c = 0; c < channels; c++)
        next[c] = timeline->first[c];
    fill_steps(timeline, next);
    free(next);
    *out = timeline;
    return SM_OK;
failed:
    free(next);
    sm_dmx_timeline_destroy(timeline);
    return SM_NO_MEMORY;
}

void sm_dmx_timeline_destroy(sm_dmx_timeline *timeline) {
    if (!timeline)
        return;
    free(timeline->homes);
    free(timeline->first);
    free(timeline->steps);
    free(timeline);
}

const sm_dmx_step *sm_dmx_steps(const sm_dmx_timeline *timeline, uint32_t channel, size_t *count) {
    assert(channel < timeline->show->channel_count);
    *count = timeline->first[channel + 1] - timeline->first[channel];
    return timeline->steps + timeline->first[channel];
}

size_t sm_dmx_steps_before(const sm_dmx_timeline *timeline, uint32_t channel, sm_show_time at,
                           bool including) {
    size_t count;
    const sm_dmx_step *steps = sm_dmx_steps(timeline, channel, &count);
    size_t low = 0, high = count; // all below low are due before, none from high on
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        sm_us due_us = step_due_us(timeline->show, &steps[middle]);
        if (including ? due_us <= at.us : due_us < at.us)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

sm_dmx_channel sm_dmx_channel_at(const sm_dmx_timeline *timeline, uint32_t channel, sm_show_time at,
                                 bool including) {
    size_t count;
    const sm_dmx_step *steps = sm_dmx_steps(timeline, channel, &count);
    size_t before = sm_dmx_steps_before(timeline, channel, at, including);
    sm_dmx_channel home;
    sm_dmx_channel_home(&home, timeline->homes[channel]);
    if (before == 0)
        return home;
    return state_after(timeline, channel, &steps[before - 1], at, including);
}

sm_dmx_segments sm_dmx_segments_of(const sm_dmx_timeline *timeline, uint32_t channel) {
    assert(channel < timeline->show->channel_count);
    sm_dmx_segments all = {.timeline = timeline, .channel = channel};
    sm_dmx_channel_home(&all.now, timeline->homes[channel]);
    return all;
}

bool sm_dmx_segments_next(sm_dmx_segments *s, sm_dmx_channel *out, sm_show_time *end) {
    size_t count;
    const sm_dmx_step *steps = sm_dmx_steps(s->timeline, s->channel, &count);
    if (s->over)
        return false;
    s->over = s->step == count && !s->now.return_pending;
    *out = s->now;
    end->us = s->step < count ? step_due_us(s->timeline->show, &steps[s->step]) : SM_US_MAX;
    if (sm_dmx_channel_return(&s->now, s->timeline->homes[s->channel], *end, true)) {
        *end = out->return_at;
    } else if (s->step < count) {
        const sm_dmx_step *step = &steps[s->step++];
        sm_dmx_channel_tell(&s->now, s->timeline->show, step->event, step->from, step->to);
    }
    return true;
}
