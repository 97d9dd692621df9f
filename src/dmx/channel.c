// SPDX-License-Identifier: GPL-3.0-or-later
// One channel through time: the one place that knows fades, returns home and which of them a cue cancels.
//
// What a cue tells a channel is a segment: a straight line to the level that is told, then that level, until the return home
// or until another cue takes over. After its return a segment is that of home. A level within a segment never turns back,
// so the part of it that lies within a range is one piece.
#include "slowmatch/dmx.h"

#include <assert.h>

void sm_dmx_channel_home(sm_dmx_channel *channel, uint8_t home) {
    *channel = (sm_dmx_channel){.event = SM_NONE, .from = home, .to = home, .began = {-SM_US_MAX}};
}

void sm_dmx_channel_tell(sm_dmx_channel *channel, const sm_show *show, uint32_t event, uint8_t from,
                         uint8_t to) {
    const sm_cue *cue = &show->cues[show->events[event].cue];
    assert(cue->kind == SM_CUE_SET);
    *channel = (sm_dmx_channel){.event = event,
                                .from = from,
                                .to = to,
                                .began = {cue->time_us},
                                .fade_us = cue->fade_us,
                                .return_pending = cue->lasts_us > 0,
                                .return_at = {cue->lasts_us > 0 ? cue->time_us + cue->lasts_us : 0}};
}

bool sm_dmx_channel_return(sm_dmx_channel *channel, uint8_t home, sm_show_time at, bool including) {
    const sm_us last_us = including ? at.us : at.us - 1;
    if (!channel->return_pending || channel->return_at.us > last_us)
        return false;
    *channel =
        (sm_dmx_channel){.event = channel->event, .from = home, .to = home, .began = channel->return_at};
    return true;
}

uint8_t sm_dmx_channel_level(const sm_dmx_channel *channel, sm_show_time at) {
    return sm_dmx_fade_level(channel->from, channel->to, channel->fade_us, at.us - channel->began.us);
}

bool sm_dmx_in_range(sm_range range, uint8_t level) {
    return level >= range.low && level <= range.high;
}

// How long after its beginning CHANNEL first is in RANGE, or (PAST) beyond it; the length of its fade where that comes at its
// end or never.
static sm_us crosses_us(const sm_dmx_channel *channel, sm_range range, bool past) {
    const bool rises = channel->to >= channel->from;
    sm_us low = -1, high = channel->fade_us; // it has not crossed at low
    while (low + 1 < high) {
        const sm_us middle = low + (high - low) / 2;
        const uint8_t level = sm_dmx_fade_level(channel->from, channel->to, channel->fade_us, middle);
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

bool sm_dmx_channel_within(const sm_dmx_channel *channel, sm_range range, sm_show_time until,
                           sm_show_time *begin, sm_show_time *end) {
    assert(range.low <= range.high);
    const bool rises = channel->to >= channel->from;
    const uint8_t least = rises ? channel->from : channel->to, most = rises ? channel->to : channel->from;
    *begin = channel->began;
    *end = channel->return_pending && channel->return_at.us < until.us ? channel->return_at : until;
    if (most < range.low || least > range.high)
        return false;
    begin->us += crosses_us(channel, range, false);
    if (!sm_dmx_in_range(range, channel->to)) {
        const sm_us leaves_us = channel->began.us + crosses_us(channel, range, true);
        end->us = leaves_us < end->us ? leaves_us : end->us;
    }
    return begin->us < end->us;
}
