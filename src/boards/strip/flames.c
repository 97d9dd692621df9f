// SPDX-License-Identifier: GPL-3.0-or-later
// Where flame burns by the score. The events are gone through once, in order of time; of each flame unit its enable and
// fire channel are followed, which between two changes are straight lines.
#include "boards/strip/strip.h"

#include "slowmatch/dmx.h"

#include <stdlib.h>
#include <string.h>

typedef struct channel {
    double from, to; // the fade under way or done
    sm_us began_us, fade_us;
    sm_us return_us; // INT64_MAX: no return home to come
} channel;

enum { ENABLE, FIRE, CHANNELS };

typedef struct flame {
    channel channels[CHANNELS];
    sm_us done_us; // looked at up to here
} flame;

typedef struct spans {
    sm_strip_span *at;
    size_t count, room;
    bool failed;
} spans;

static void add_span(spans *all, sm_us from_us, sm_us to_us) {
    if (to_us <= from_us || all->failed)
        return;
    if (all->count > 0 && all->at[all->count - 1].to_us == from_us) { // goes on
        all->at[all->count - 1].to_us = to_us;
        return;
    }
    if (all->count == all->room) {
        size_t room = all->room ? all->room * 2 : 64;
        sm_strip_span *grown = realloc(all->at, room * sizeof *grown);
        if (!grown) {
            all->failed = true;
            return;
        }
        all->at = grown;
        all->room = room;
    }
    all->at[all->count++] = (sm_strip_span){from_us, to_us};
}

static double level_at(const channel *c, sm_us at_us) {
    if (c->fade_us <= 0 || at_us >= c->began_us + c->fade_us)
        return c->to;
    return c->from + (c->to - c->from) * (double)(at_us - c->began_us) / (double)c->fade_us;
}

// Cuts [*FROM, *TO), in which C is a straight line, to where its level, rounded, is within RANGE.
static void cut(const channel *c, sm_range range, sm_us *from_us, sm_us *to_us) {
    double a = level_at(c, *from_us), b = level_at(c, *to_us - 1);
    double low = range.low - 0.5, high = range.high + 0.5;
    double begin = 0, end = 1;
    if (a == b || *to_us - *from_us < 2) {
        end = a >= low && a < high ? 1 : 0;
    } else {
        double enters = ((b > a ? low : high) - a) / (b - a), leaves = ((b > a ? high : low) - a) / (b - a);
        begin = enters > 0 ? enters : 0;
        end = leaves < 1 ? leaves : 1;
    }
    double length = (double)(*to_us - *from_us);
    sm_us first = *from_us;
    *from_us = begin >= end ? *to_us : first + (sm_us)(begin * length);
    *to_us = begin >= end ? *to_us : first + (sm_us)(end * length);
}

// The next moment after AT at which one of the lines of UNIT bends, at most TO.
static sm_us next_bend(const flame *unit, sm_us at_us, sm_us to_us) {
    for (int i = 0; i < CHANNELS; i++) {
        const channel *c = &unit->channels[i];
        sm_us faded = c->began_us + c->fade_us;
        to_us = faded > at_us && faded < to_us ? faded : to_us;
        to_us = c->return_us > at_us && c->return_us < to_us ? c->return_us : to_us;
    }
    return to_us;
}

static void go_to(flame *unit, const sm_profile *profile, sm_us to_us, spans *all) {
    const uint32_t numbers[CHANNELS] = {profile->enable, profile->fire};
    const sm_range ranges[CHANNELS] = {profile->enable_range, profile->fire_range};
    while (unit->done_us < to_us) {
        sm_us from = unit->done_us, end = next_bend(unit, from, to_us), upto = end;
        for (int i = 0; i < CHANNELS && from < upto; i++)
            cut(&unit->channels[i], ranges[i], &from, &upto);
        add_span(all, from, upto);
        unit->done_us = end;
        for (int i = 0; i < CHANNELS; i++) {
            channel *c = &unit->channels[i];
            if (c->return_us <= end) {
                c->from = c->to = profile->home[numbers[i]];
                c->fade_us = 0;
                c->return_us = INT64_MAX;
            }
        }
    }
}

static void take_event(flame *unit, const sm_profile *profile, const sm_show *show, uint32_t event) {
    const uint32_t numbers[CHANNELS] = {profile->enable, profile->fire};
    const sm_cue *cue = &show->cues[show->events[event].cue];
    uint32_t count;
    const sm_level *levels = sm_event_levels(show, event, &count);
    for (uint32_t l = 0; l < count; l++) {
        for (int i = 0; i < CHANNELS; i++) {
            if (levels[l].channel == numbers[i]) {
                channel *c = &unit->channels[i];
                c->from = level_at(c, cue->time_us);
                c->to = levels[l].level;
                c->began_us = cue->time_us;
                c->fade_us = cue->fade_us;
                c->return_us = cue->lasts_us > 0 ? cue->time_us + cue->lasts_us : INT64_MAX;
            }
        }
    }
}

static void follow_all(const sm_show *show, flame *units, spans *all) {
    for (uint32_t i = 0; i < show->event_count; i++) {
        uint32_t event = show->order[i];
        const sm_event *row = &show->events[event];
        if (show->cues[row->cue].kind != SM_CUE_SET)
            continue;
        const sm_profile *profile = &show->profiles[show->fixtures[row->target].profile];
        if (profile->flame) {
            go_to(&units[row->target], profile, show->cues[row->cue].time_us, all);
            take_event(&units[row->target], profile, show, event);
        }
    }
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_profile *profile = &show->profiles[show->fixtures[f].profile];
        if (profile->flame)
            go_to(&units[f], profile, show->length_us, all);
    }
}

sm_result sm_strip_flames(const sm_show *show, sm_strip_span **out, size_t *count) {
    flame *units = calloc(show->fixture_count + 1u, sizeof *units);
    spans all = {0};
    if (!units)
        return SM_NO_MEMORY;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_profile *profile = &show->profiles[show->fixtures[f].profile];
        units[f].done_us = -SM_US_MAX;
        for (int i = 0; profile->flame && i < CHANNELS; i++) {
            double home = profile->home[i == ENABLE ? profile->enable : profile->fire];
            units[f].channels[i] = (channel){.from = home, .to = home, .return_us = INT64_MAX};
        }
    }
    follow_all(show, units, &all);
    free(units);
    if (all.failed) {
        free(all.at);
        return SM_NO_MEMORY;
    }
    *out = all.at;
    *count = all.count;
    return SM_OK;
}
