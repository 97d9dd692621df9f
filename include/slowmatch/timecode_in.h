// SPDX-License-Identifier: GPL-3.0-or-later
// The line of show time over wall time, and timecode that comes in, as the engine takes it: the show's place follows it, and nothing else
// does. Part of the engine.
#ifndef SLOWMATCH_TIMECODE_IN_H
#define SLOWMATCH_TIMECODE_IN_H

#include "slowmatch/show.h"

typedef struct sm_rehearsal sm_rehearsal;

// At wall W0 the show stood at S0 and went on at SPEED_PPM, or stood still (PLAYING false).
typedef struct sm_show_clock {
    sm_wall_time w0;
    sm_show_time s0;
    int32_t speed_ppm;
    bool playing;
} sm_show_clock;
// Show time at wall AT by CLOCK (rounded down), and the first wall moment at which it has reached SHOW.
sm_show_time sm_show_clock_show_at(const sm_show_clock *clock, sm_wall_time at);
sm_wall_time sm_show_clock_wall_at(const sm_show_clock *clock, sm_show_time show);

typedef enum sm_timecode_change {
    SM_TIMECODE_CHANGE_WAITING, // it is listened to from now on, or anew
    SM_TIMECODE_CHANGE_LOCKED,
    SM_TIMECODE_CHANGE_FOLLOWS, // its line is another, by a little
    SM_TIMECODE_CHANGE_FREE,    // a gap: it is taken to go on by its line
    SM_TIMECODE_CHANGE_LOST,    // a running show pauses
    SM_TIMECODE_CHANGE_JUMPED,  // likewise; it goes on from another place
    SM_TIMECODE_CHANGE_COUNT
} sm_timecode_change;
typedef struct sm_timecode_news {
    sm_timecode_change change;
    // Of LOCKED, FOLLOWS and JUMPED: what it says. The speed is over 0.
    sm_show_clock line;
    sm_timecode_rate rate;
    bool drop;
    char words[160]; // for people, "" for none
} sm_timecode_news;
// What is known of it.
typedef struct sm_timecode_in {
    sm_timecode_state state; // OFF: nobody listens; the rest is not set
    sm_wall_time since;
    sm_show_clock line; // once it was locked
    sm_timecode_rate rate;
    bool drop;
    char why[160];   // of WAITING and LOST: why nothing is believed, "" for not told
    bool has_jumped; // and nobody has started, resumed or made safe since
    sm_show_time jumped_from, jumped_to;
} sm_timecode_in;
// NEWS at AT, with a row. From the first on, the place and the pace of the show are the timecode's: `seek`, `speed`, `repeat` and
// `start-in` are refused, `start` and `resume` too unless it is LOCKED, and begin where it will be after the count. A running show follows;
// it pauses where the timecode is lost or jumps, and nothing but `resume` lets it go on.
SM_MUST_CHECK sm_result sm_rehearsal_timecode(sm_rehearsal *rehearsal, const sm_timecode_news *news,
                                              sm_wall_time at);
// The news that a row of the log tells, from its target and detail. False: it tells none.
bool sm_timecode_news_read(const char *change, const char *detail, sm_timecode_news *out);
const sm_timecode_in *sm_rehearsal_timecode_in(const sm_rehearsal *rehearsal);
// It says where the show is: locked or free-running.
bool sm_timecode_leads(const sm_timecode_in *timecode);
// LOCKED at AT, and at a place where nothing of SHOW can begin: "over 5 min before the show". NULL: it is not so. Static.
const char *sm_timecode_outside(const sm_timecode_in *timecode, const sm_show *show, sm_wall_time at);

#endif
