// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/lights.h"

#include <stdlib.h>
#include <string.h>

typedef struct light {
    sm_dmx_channel told;
    uint32_t fixture;
    uint32_t place; // in the heap of returns, SM_NONE while not in it
    uint8_t home;
    bool held_home;
} light;

struct sm_lights {
    const sm_show *show;
    const sm_dmx_timeline *timeline;
    light *channels;
    uint32_t *heap; // channels with a return pending, soonest first
    uint32_t heap_count;
};

sm_lights *sm_lights_create(const sm_show *show, const sm_dmx_timeline *timeline) {
    sm_lights *lights = calloc(1, sizeof *lights);
    if (!lights)
        return NULL;
    lights->show = show;
    lights->timeline = timeline;
    lights->channels = calloc(show->channel_count + 1u, sizeof *lights->channels);
    lights->heap = calloc(show->channel_count + 1u, sizeof *lights->heap);
    if (!lights->channels || !lights->heap) {
        sm_lights_destroy(lights);
        return NULL;
    }
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        const sm_profile *profile = &show->profiles[fixture->profile];
        for (uint32_t c = 0; c < profile->channel_count; c++)
            lights->channels[fixture->channel_base + c] = (light){.fixture = f, .home = profile->home[c]};
    }
    sm_lights_reset(lights);
    return lights;
}

void sm_lights_destroy(sm_lights *lights) {
    if (!lights)
        return;
    free(lights->channels);
    free(lights->heap);
    free(lights);
}

// ---- the heap of pending returns -------------------------------------------------------

static bool sooner(const sm_lights *lights, uint32_t a, uint32_t b) {
    const sm_dmx_channel *x = &lights->channels[a].told, *y = &lights->channels[b].told;
    if (x->return_at.us != y->return_at.us)
        return x->return_at.us < y->return_at.us;
    if (x->event != y->event)
        return x->event < y->event;
    return a < b;
}

static void put(sm_lights *lights, uint32_t place, uint32_t channel) {
    lights->heap[place] = channel;
    lights->channels[channel].place = place;
}

static void sift_up(sm_lights *lights, uint32_t place) {
    uint32_t channel = lights->heap[place];
    while (place > 0 && sooner(lights, channel, lights->heap[(place - 1) / 2])) {
        put(lights, place, lights->heap[(place - 1) / 2]);
        place = (place - 1) / 2;
    }
    put(lights, place, channel);
}

static void sift_down(sm_lights *lights, uint32_t place) {
    uint32_t channel = lights->heap[place];
    for (;;) {
        uint32_t child = 2 * place + 1;
        if (child >= lights->heap_count)
            break;
        if (child + 1 < lights->heap_count && sooner(lights, lights->heap[child + 1], lights->heap[child]))
            child++;
        if (!sooner(lights, lights->heap[child], channel))
            break;
        put(lights, place, lights->heap[child]);
        place = child;
    }
    put(lights, place, channel);
}

static void forget_return(sm_lights *lights, uint32_t channel) {
    light *l = &lights->channels[channel];
    l->told.return_pending = false;
    if (l->place == SM_NONE)
        return;
    uint32_t place = l->place;
    l->place = SM_NONE;
    uint32_t last = lights->heap[--lights->heap_count];
    if (last == channel)
        return;
    put(lights, place, last);
    sift_up(lights, place);
    sift_down(lights, lights->channels[last].place);
}

static void expect_return(sm_lights *lights, uint32_t channel) {
    put(lights, lights->heap_count, channel);
    sift_up(lights, lights->heap_count++);
}

// ---- moves ---------------------------------------------------------------------------------

static void go_home(sm_lights *lights, uint32_t channel) {
    light *l = &lights->channels[channel];
    forget_return(lights, channel);
    l->told = sm_dmx_channel_home(l->home);
}

void sm_lights_reset(sm_lights *lights) {
    lights->heap_count = 0;
    for (uint32_t c = 0; c < lights->show->channel_count; c++) {
        light *l = &lights->channels[c];
        l->place = SM_NONE;
        l->held_home = false;
        l->told = sm_dmx_channel_home(l->home);
    }
}

void sm_lights_rebuild(sm_lights *lights, sm_show_time at, const bool *skip) {
    sm_lights_reset(lights);
    for (uint32_t c = 0; c < lights->show->channel_count; c++) {
        light *l = &lights->channels[c];
        if (skip[l->fixture])
            continue;
        l->told = sm_dmx_channel_at(lights->timeline, c, at, false);
        if (l->told.return_pending)
            expect_return(lights, c);
    }
}

void sm_lights_rebuild_channel(sm_lights *lights, uint32_t fixture, uint32_t channel, sm_show_time at) {
    uint32_t c = lights->show->fixtures[fixture].channel_base + channel;
    forget_return(lights, c);
    lights->channels[c].told = sm_dmx_channel_at(lights->timeline, c, at, false);
    if (lights->channels[c].told.return_pending)
        expect_return(lights, c);
}

void sm_lights_set(sm_lights *lights, uint32_t event) {
    const sm_show *show = lights->show;
    uint32_t base = show->fixtures[show->events[event].target].channel_base;
    sm_show_time now = {sm_event_due_us(show, event)};
    uint32_t count;
    const sm_level *levels = sm_event_levels(show, event, &count);
    for (uint32_t i = 0; i < count; i++) {
        uint32_t c = base + levels[i].channel;
        uint8_t from = sm_lights_level(lights, c, now);
        forget_return(lights, c);
        light *l = &lights->channels[c];
        l->held_home = false;
        l->told = sm_dmx_channel_told(show, event, from, levels[i].level);
        if (l->told.return_pending)
            expect_return(lights, c);
    }
}

bool sm_lights_next_return(const sm_lights *lights, sm_show_time *at, uint32_t *event) {
    if (lights->heap_count == 0)
        return false;
    const sm_dmx_channel *told = &lights->channels[lights->heap[0]].told;
    *at = told->return_at;
    *event = told->event;
    return true;
}

void sm_lights_do_return(sm_lights *lights, sm_text *names) {
    sm_show_time at, next;
    uint32_t event, other;
    if (!sm_lights_next_return(lights, &at, &event))
        return;
    const sm_fixture *fixture = &lights->show->fixtures[lights->show->events[event].target];
    const sm_profile *profile = &lights->show->profiles[fixture->profile];
    do { // one event's channels come off the heap in channel order, which is the profile's
        uint32_t c = lights->heap[0];
        light *l = &lights->channels[c];
        if (!l->held_home)
            sm_text_printf(names, "%s%s", names->length > 0 ? " " : "",
                           profile->channels[c - fixture->channel_base]);
        go_home(lights, c);
        l->held_home = false;
    } while (sm_lights_next_return(lights, &next, &other) && next.us == at.us && other == event);
}

bool sm_lights_returns_by(const sm_lights *lights, uint32_t channel, sm_show_time at) {
    const sm_dmx_channel *told = &lights->channels[channel].told;
    return told->return_pending && told->return_at.us <= at.us;
}

uint8_t sm_lights_told_level(const sm_lights *lights, uint32_t channel, sm_show_time at) {
    return sm_dmx_channel_level(&lights->channels[channel].told, at);
}

uint8_t sm_lights_level(const sm_lights *lights, uint32_t channel, sm_show_time at) {
    const light *l = &lights->channels[channel];
    return l->held_home ? l->home : sm_lights_told_level(lights, channel, at);
}

void sm_lights_hold_home(sm_lights *lights, uint32_t fixture, sm_show_time at, sm_text *names) {
    const sm_fixture *f = &lights->show->fixtures[fixture];
    const sm_profile *profile = &lights->show->profiles[f->profile];
    if (!profile->flame)
        return;
    for (uint32_t c = 0; c < profile->channel_count; c++) {
        if (c != profile->enable && c != profile->fire)
            continue;
        light *l = &lights->channels[f->channel_base + c];
        if (sm_lights_level(lights, f->channel_base + c, at) != l->home)
            sm_text_printf(names, "%s%s", names->length > 0 ? " " : "", profile->channels[c]);
        l->held_home = true;
    }
}

void sm_lights_release(sm_lights *lights, uint32_t fixture, uint32_t channel) {
    lights->channels[lights->show->fixtures[fixture].channel_base + channel].held_home = false;
}
