// SPDX-License-Identifier: GPL-3.0-or-later
// DMX512-A: the state of every channel at any moment of the show, address switches, frame times.
#ifndef SLOWMATCH_DMX_H
#define SLOWMATCH_DMX_H

#include "slowmatch/show.h"

// The level on the way of a fade FROM -> TO that began at 0 and lasts FADE_US, AT_US after its beginning: the straight line,
// rounded half up, in integers. At and past the end, and for FADE_US 0: TO; before 0: FROM.
uint8_t sm_dmx_fade_level(uint8_t from, uint8_t to, sm_us fade_us, sm_us at_us);

// Break-to-break time of a universe whose highest slot in use is N: max(1204, 104 + 44 (N + 1)) us (E1.11 transmit minimum).
// N from 0 to 512.
sm_us sm_dmx_frame_us(int highest_slot);
// Between two packets of a sender that sends REFRESH_HZ times a second: never less than the frame of all 512 slots.
sm_us sm_dmx_period_us(double refresh_hz);

// "100000000": switches 1 to 9 of ADDRESS (switch 1 is weight 1), address 1 to 511; SM_OUT_OF_RANGE otherwise (512 has no plain
// setting on nine switches). BUFFER gets 9 characters and a NUL.
SM_MUST_CHECK sm_result sm_dmx_switches(int address, char buffer[10]);

// ---- one channel ---------------------------------------------------------------------

// What a channel was told last, and what is to come of it. The only model of a channel through time: the timeline is made of it,
// the engine plays it, the checks judge it.
typedef struct sm_dmx_channel {
    uint32_t event;     // that told it last; SM_NONE: none yet (at home)
    uint8_t from, to;   // the fade under way or done; after a return both are home
    sm_show_time began; // of the fade, or of being home again; before any event long ago
    sm_us fade_us;
    bool return_pending;    // its return home is still to come...
    sm_show_time return_at; // ...at this moment
} sm_dmx_channel;
// Nothing was told it yet. Made in its place, as the next: a check does so millions of times.
void sm_dmx_channel_home(sm_dmx_channel *channel, uint8_t home);
// EVENT (a set) tells it TO, and it stood at FROM: a fade under way ends, a return still to come is cancelled.
void sm_dmx_channel_tell(sm_dmx_channel *channel, const sm_show *show, uint32_t event, uint8_t from,
                         uint8_t to);
// Brings it HOME if its return is due before AT (INCLUDING false) or at or before it (true). False: it is not.
bool sm_dmx_channel_return(sm_dmx_channel *channel, uint8_t home, sm_show_time at, bool including);
// Its level at AT, from its beginning on until its return or its next event.
uint8_t sm_dmx_channel_level(const sm_dmx_channel *channel, sm_show_time at);
bool sm_dmx_in_range(sm_range range, uint8_t level);
// The moments, *BEGIN included and *END not, at which its level is in RANGE before it returns and before UNTIL, when it is told
// something else. False: none.
bool sm_dmx_channel_within(const sm_dmx_channel *channel, sm_range range, sm_show_time until,
                           sm_show_time *begin, sm_show_time *end);

// ---- the timeline: what each channel is told, and when -----------------------------

// One change of one channel: event EVENT tells it `to`; it stood at `from` at that moment (as played without a pause).
typedef struct sm_dmx_step {
    uint32_t event;
    uint8_t from, to;
} sm_dmx_step;

typedef struct sm_dmx_timeline sm_dmx_timeline;
// Built once a show, O(steps). Read-only then, any thread. The show must outlive it. SM_NO_MEMORY leaves *out unchanged;
// the caller destroys it (NULL is taken).
SM_MUST_CHECK sm_result sm_dmx_timeline_create(const sm_show *show, sm_dmx_timeline **out);
void sm_dmx_timeline_destroy(sm_dmx_timeline *timeline);
// Steps of show-wide CHANNEL in order of due time (table order where equal). The timeline owns them.
const sm_dmx_step *sm_dmx_steps(const sm_dmx_timeline *timeline, uint32_t channel, size_t *count);
// How many of them are due before AT (INCLUDING false) or at or before it (true). O(log n).
size_t sm_dmx_steps_before(const sm_dmx_timeline *timeline, uint32_t channel, sm_show_time at,
                           bool including);

// State of CHANNEL as played to AT without a pause, everything due before AT done; with INCLUDING also what is due at AT.
sm_dmx_channel sm_dmx_channel_at(const sm_dmx_timeline *timeline, uint32_t channel, sm_show_time at,
                                 bool including);

// All of a channel's states one by one, without a gap, from before its first event on. One that is told something else at its very
// beginning has no length.
typedef struct sm_dmx_segments {
    const sm_dmx_timeline *timeline;
    uint32_t channel;
    size_t step;        // that comes next
    sm_dmx_channel now; // to be given next
    bool over;
} sm_dmx_segments;
sm_dmx_segments sm_dmx_segments_of(const sm_dmx_timeline *timeline, uint32_t channel);
// The next one, and when it ends: SM_US_MAX for the last. False: there is none.
bool sm_dmx_segments_next(sm_dmx_segments *segments, sm_dmx_channel *out, sm_show_time *end);

#endif
