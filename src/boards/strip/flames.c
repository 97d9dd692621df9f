// SPDX-License-Identifier: GPL-3.0-or-later
// Where flame burns by the score: of each flame unit, where its enable and its fire channel are both within their ranges.
#include "boards/strip/strip.h"

#include "slowmatch/dmx.h"

#include <stdlib.h>

typedef struct spans {
    sm_strip_span *at;
    size_t count;
} spans;

static sm_result add_span(spans *all, sm_us from_us, sm_us to_us) {
    if (all->count > 0 && all->at[all->count - 1].to_us == from_us) { // goes on
        all->at[all->count - 1].to_us = to_us;
        return SM_OK;
    }
    sm_strip_span *grown = sm_array_grow(all->at, all->count, sizeof *grown);
    if (!grown)
        return SM_NO_MEMORY;
    all->at = grown;
    all->at[all->count++] = (sm_strip_span){from_us, to_us};
    return SM_OK;
}

// The next stretch in which the channel of SEGMENTS is in RANGE, before UNTIL. False: none.
static bool next_within(sm_dmx_segments *segments, sm_range range, sm_us until_us, sm_strip_span *out) {
    sm_dmx_channel channel;
    sm_show_time end, from, to;
    while (sm_dmx_segments_next(segments, &channel, &end)) {
        if (!sm_dmx_channel_within(&channel, range, end, &from, &to) || from.us >= until_us)
            continue;
        *out = (sm_strip_span){from.us, to.us < until_us ? to.us : until_us};
        return true;
    }
    return false;
}

static sm_result add_unit(const sm_dmx_timeline *timeline, const sm_show *show, const sm_fixture *fixture,
                          spans *all) {
    const sm_profile *profile = &show->profiles[fixture->profile];
    sm_dmx_segments enables = sm_dmx_segments_of(timeline, fixture->channel_base + profile->enable);
    sm_dmx_segments fires = sm_dmx_segments_of(timeline, fixture->channel_base + profile->fire);
    sm_strip_span enable, fire;
    bool more = next_within(&enables, profile->enable_range, show->length_us, &enable) &&
                next_within(&fires, profile->fire_range, show->length_us, &fire);
    sm_result result = SM_OK;
    while (more && result == SM_OK) {
        const sm_us from_us = enable.from_us > fire.from_us ? enable.from_us : fire.from_us;
        const sm_us to_us = enable.to_us < fire.to_us ? enable.to_us : fire.to_us;
        if (from_us < to_us)
            result = add_span(all, from_us, to_us);
        more = fire.to_us <= enable.to_us
                   ? next_within(&fires, profile->fire_range, show->length_us, &fire)
                   : next_within(&enables, profile->enable_range, show->length_us, &enable);
    }
    return result;
}

sm_result sm_strip_flames(const sm_show *show, sm_strip_span **out, size_t *count) {
    sm_dmx_timeline *timeline;
    spans all = {0};
    sm_result result = sm_dmx_timeline_create(show, &timeline);
    if (result != SM_OK)
        return result;
    for (uint32_t f = 0; f < show->fixture_count && result == SM_OK; f++)
        if (show->profiles[show->fixtures[f].profile].flame)
            result = add_unit(timeline, show, &show->fixtures[f], &all);
    sm_dmx_timeline_destroy(timeline);
    if (result != SM_OK) {
        free(all.at);
        return result;
    }
    *out = all.at;
    *count = all.count;
    return SM_OK;
}
