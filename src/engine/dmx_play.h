// SPDX-License-Identifier: GPL-3.0-or-later
// What every DMX channel stands at, played event by event, and what is kept at home for safety's sake.
//
// Two layers. Below: what the show has told each channel (fade, pending return), moving with show time and standing still with it.
// Above: `held_home` on the enable and fire channels of hazard fixtures, whose wire level is then home whatever lies below.
// Each channel has at most one pending return, so the heap of returns never grows past the number of channels.
#ifndef ENGINE_DMX_PLAY_H
#define ENGINE_DMX_PLAY_H

#include "slowmatch/dmx.h"

typedef struct sm_dmx_play sm_dmx_play;

// TIMELINE and SHOW must outlive it. NULL when memory runs out.
sm_dmx_play *sm_dmx_play_create(const sm_show *show, const sm_dmx_timeline *timeline);
void sm_dmx_play_destroy(sm_dmx_play *play);

// Every channel at home, nothing pending, nothing held.
void sm_dmx_play_reset(sm_dmx_play *play);
// As played to AT without a pause, what is due at AT still to come. Fixtures that SKIP (one flag each) marks stay at home.
void sm_dmx_play_rebuild(sm_dmx_play *play, sm_show_time at, const bool *skip);
// One fixture's CHANNEL (of its profile) as above.
void sm_dmx_play_rebuild_channel(sm_dmx_play *play, uint32_t fixture, uint32_t channel, sm_show_time at);

// Event EVENT (a set) happens now.
void sm_dmx_play_set(sm_dmx_play *play, uint32_t event);

// The next return home: its show time and the event whose `lasts` it ends. False: none pending.
bool sm_dmx_play_next_return(const sm_dmx_play *play, sm_show_time *at, uint32_t *event);
// Does that return; appends the names of its channels that were not at home already by a hold (space between, in the profile's order).
void sm_dmx_play_do_return(sm_dmx_play *play, sm_text *names);

// Level on the wire of show-wide CHANNEL at AT.
uint8_t sm_dmx_play_level(const sm_dmx_play *play, uint32_t channel, sm_show_time at);

// Enable and fire of hazard FIXTURE go home and stay there; appends the names of those that were away. Others: nothing.
void sm_dmx_play_hold_home(sm_dmx_play *play, uint32_t fixture, sm_show_time at, sm_text *names);
// The fire of hazard FIXTURE goes home and stays there, where it is away at AT or on its way; false: it is home by itself.
bool sm_dmx_play_hold_fire(sm_dmx_play *play, uint32_t fixture, sm_show_time at);
// Ends the hold of one channel of FIXTURE.
void sm_dmx_play_release(sm_dmx_play *play, uint32_t fixture, uint32_t channel);
// CHANNEL is still to return home, and does so by AT.
bool sm_dmx_play_returns_by(const sm_dmx_play *play, uint32_t channel, sm_show_time at);
// When the show told CHANNEL its latest level, or it returned home; before any event long ago.
sm_show_time sm_dmx_play_told_at(const sm_dmx_play *play, uint32_t channel);
// The level that the show has below any hold.
uint8_t sm_dmx_play_told_level(const sm_dmx_play *play, uint32_t channel, sm_show_time at);

#endif
