// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/dmx_play.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

typedef struct played {
    sm_dmx_channel told;
    uint32_t fixture;
    uint32_t place; // in the heap of returns, SM_NONE while not in it
    uint8_t home;
    bool held_home;
} played;

struct sm_dmx_play {
    const sm_show *show;
    const sm_dmx_timeline *timeline;
    played *channels;
    uint32_t *heap; // channels with a return pending, soonest first
    uint32_t heap_count;
};

sm_dmx_play *sm_dmx_play_create(const sm_show *show, const sm_dmx_timeline *timeline) {
    sm_dmx_play *play = calloc(1, sizeof *play);
    if (!play)
        return NULL;
    play->show = show;
    play->timeline = timeline;
    play->channels = calloc(show->channel_count + 1u, sizeof *play->channels);
    play->heap = calloc(show->channel_count + 1u, sizeof *play->heap);
    if (!play->channels || !play->heap) {
        sm_dmx_play_destroy(play);
        return NULL;
    }
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        const sm_profile *profile = &show->profiles[fixture->profile];
        for (uint32_t c = 0; c < profile->channel_count; c++)
            play->channels[fixture->channel_base + c] = (played){.fixture = f, .home = profile->home[c]};
    }
    sm_dmx_play_reset(play);
    return play;
}

void sm_dmx_play_destroy(sm_dmx_play *play) {
    if (!play)
        return;
    free(play->channels);
    free(play->heap);
    free(play);
}

// ---- the heap of pending returns -------------------------------------------------------

static bool sooner(const sm_dmx_play *play, uint32_t a, uint32_t b) {
    const sm_dmx_channel *x = &play->channels[a].told, *y = &play->channels[b].told;
    if (x->return_at.us != y->return_at.us)
        return x->return_at.us < y->return_at.us;
    if (x->event != y->event)
        return x->event < y->event;
    return a < b;
}

static void put(sm_dmx_play *play, uint32_t place, uint32_t channel) {
    assert(place < play->show->channel_count && channel < play->show->channel_count);
    play->heap[place] = channel;
    play->channels[channel].place = place;
}

static void sift_up(sm_dmx_play *play, uint32_t place) {
    uint32_t channel = play->heap[place];
    while (place > 0 && sooner(play, channel, play->heap[(place - 1) / 2])) {
        put(play, place, play->heap[(place - 1) / 2]);
        place = (place - 1) / 2;
    }
    put(play, place, channel);
}

static void sift_down(sm_dmx_play *play, uint32_t place) {
    uint32_t channel = play->heap[place];
    for (;;) {
        uint32_t child = 2 * place + 1;
        if (child >= play->heap_count)
            break;
        if (child + 1 < play->heap_count && sooner(play, play->heap[child + 1], play->heap[child]))
            child++;
        if (!sooner(play, play->heap[child], channel))
            break;
        put(play, place, play->heap[child]);
        place = child;
    }
    put(play, place, channel);
}

static void forget_return(sm_dmx_play *play, uint32_t channel) {
    played *l = &play->channels[channel];
    l->told.return_pending = false;
    if (l->place == SM_NONE)
        return;
    uint32_t place = l->place;
    l->place = SM_NONE;
    uint32_t last = play->heap[--play->heap_count];
    if (last == channel)
        return;
    put(play, place, last);
    sift_up(play, place);
    sift_down(play, play->channels[last].place);
}

static void expect_return(sm_dmx_play *play, uint32_t channel) {
    assert(play->channels[channel].told.return_pending && play->channels[channel].place == SM_NONE);
    put(play, play->heap_count, channel);
    sift_up(play, play->heap_count++);
}

// ---- moves ---------------------------------------------------------------------------------

static void go_home(sm_dmx_play *play, uint32_t channel) {
    played *l = &play->channels[channel];
    sm_dmx_channel home = l->told;
    sm_dmx_channel_return(&home, l->home, home.return_at, true);
    forget_return(play, channel);
    l->told = home;
}

void sm_dmx_play_reset(sm_dmx_play *play) {
    play->heap_count = 0;
    for (uint32_t c = 0; c < play->show->channel_count; c++) {
        played *l = &play->channels[c];
        l->place = SM_NONE;
        l->held_home = false;
        sm_dmx_channel_home(&l->told, l->home);
    }
}

void sm_dmx_play_rebuild(sm_dmx_play *play, sm_show_time at, const bool *skip) {
    sm_dmx_play_reset(play);
    for (uint32_t c = 0; c < play->show->channel_count; c++) {
        played *l = &play->channels[c];
        if (skip[l->fixture])
            continue;
        l->told = sm_dmx_channel_at(play->timeline, c, at, false);
        if (l->told.return_pending)
            expect_return(play, c);
    }
}

void sm_dmx_play_rebuild_channel(sm_dmx_play *play, uint32_t fixture, uint32_t channel, sm_show_time at) {
    uint32_t c = play->show->fixtures[fixture].channel_base + channel;
    forget_return(play, c);
    play->channels[c].told = sm_dmx_channel_at(play->timeline, c, at, false);
    if (play->channels[c].told.return_pending)
        expect_return(play, c);
}

void sm_dmx_play_set(sm_dmx_play *play, uint32_t event) {
    const sm_show *show = play->show;
    uint32_t base = show->fixtures[show->events[event].target].channel_base;
    sm_show_time now = {sm_event_due_us(show, event)};
    uint32_t count;
    const sm_level *levels = sm_event_levels(show, event, &count);
    for (uint32_t i = 0; i < count; i++) {
        uint32_t c = base + levels[i].channel;
        uint8_t from = sm_dmx_play_level(play, c, now);
        forget_return(play, c);
        played *l = &play->channels[c];
        l->held_home = false;
        sm_dmx_channel_tell(&l->told, show, event, from, levels[i].level);
        if (l->told.return_pending)
            expect_return(play, c);
    }
}

bool sm_dmx_play_next_return(const sm_dmx_play *play, sm_show_time *at, uint32_t *event) {
    if (play->heap_count == 0)
        return false;
    const sm_dmx_channel *told = &play->channels[play->heap[0]].told;
    *at = told->return_at;
    *event = told->event;
    return true;
}

void sm_dmx_play_do_return(sm_dmx_play *play, sm_text *names) {
    sm_show_time at, next;
    uint32_t event, other;
    if (!sm_dmx_play_next_return(play, &at, &event))
        return;
    const sm_fixture *fixture = &play->show->fixtures[play->show->events[event].target];
    const sm_profile *profile = &play->show->profiles[fixture->profile];
    do { // one event's channels come off the heap in channel order, which is the profile's
        uint32_t c = play->heap[0];
        played *l = &play->channels[c];
        if (!l->held_home)
            sm_text_printf(names, "%s%s", names->length > 0 ? " " : "",
                           profile->channels[c - fixture->channel_base]);
        go_home(play, c);
        l->held_home = false;
    } while (sm_dmx_play_next_return(play, &next, &other) && next.us == at.us && other == event);
}

bool sm_dmx_play_returns_by(const sm_dmx_play *play, uint32_t channel, sm_show_time at) {
    const sm_dmx_channel *told = &play->channels[channel].told;
    return told->return_pending && told->return_at.us <= at.us;
}

uint8_t sm_dmx_play_told_level(const sm_dmx_play *play, uint32_t channel, sm_show_time at) {
    return sm_dmx_channel_level(&play->channels[channel].told, at);
}

sm_show_time sm_dmx_play_told_at(const sm_dmx_play *play, uint32_t channel) {
    return play->channels[channel].told.began;
}

uint8_t sm_dmx_play_level(const sm_dmx_play *play, uint32_t channel, sm_show_time at) {
    assert(channel < play->show->channel_count);
    const played *l = &play->channels[channel];
    return l->held_home ? l->home : sm_dmx_play_told_level(play, channel, at);
}

void sm_dmx_play_hold_home(sm_dmx_play *play, uint32_t fixture, sm_show_time at, sm_text *names) {
    assert(fixture < play->show->fixture_count);
    const sm_fixture *f = &play->show->fixtures[fixture];
    const sm_profile *profile = &play->show->profiles[f->profile];
    if (!profile->flame)
        return;
    for (uint32_t c = 0; c < profile->channel_count; c++) {
        if (c != profile->enable && c != profile->fire)
            continue;
        played *l = &play->channels[f->channel_base + c];
        if (sm_dmx_play_level(play, f->channel_base + c, at) != l->home)
            sm_text_printf(names, "%s%s", names->length > 0 ? " " : "", profile->channels[c]);
        l->held_home = true;
    }
}

bool sm_dmx_play_hold_fire(sm_dmx_play *play, uint32_t fixture, sm_show_time at) {
    const sm_fixture *f = &play->show->fixtures[fixture];
    const sm_profile *profile = &play->show->profiles[f->profile];
    if (!profile->flame)
        return false;
    const uint32_t channel = f->channel_base + profile->fire;
    played *l = &play->channels[channel];
    const uint8_t later = sm_dmx_play_told_level(play, channel, (sm_show_time){SM_US_MAX});
    if (l->held_home || (sm_dmx_play_level(play, channel, at) == l->home && later == l->home))
        return false;
    l->held_home = true;
    return true;
}

void sm_dmx_play_release(sm_dmx_play *play, uint32_t fixture, uint32_t channel) {
    assert(fixture < play->show->fixture_count);
    play->channels[play->show->fixtures[fixture].channel_base + channel].held_home = false;
}
