// SPDX-License-Identifier: GPL-3.0-or-later
// Tones beside the music: call tones before firings, a tick at each cue. For any one thread; nothing waits.
#ifndef SLOWMATCH_CALL_TONES_H
#define SLOWMATCH_CALL_TONES_H

#include "slowmatch/session.h"

#define SM_CALLS_BYTES 96

// What is to be heard.
typedef struct sm_calls_wanted {
    bool tones;        // somebody answered that no live product is within earshot; else nothing
    const char *calls; // for this: a target or "pyro"; "" for none
    bool ticks;        // one at each cue
} sm_calls_wanted;

// What the sound part was told last.
typedef struct sm_call_tones {
    bool told, tones, ticks, lost;
    bool preview;      // one was heard, and
    sm_show_time tick; // its cue was there
    const sm_show *show;
    char calls[SM_CALLS_BYTES];
    char inhibits[SM_INHIBITS_MAX][96];
    uint32_t inhibit_count;
} sm_call_tones;

// The tones at moments of the show: for what CALLS names ("": nothing, "pyro": every firing, else a target), and with TICKS
// one at each cue. A firing is counted from three seconds of show before the module fires (a fixture: before it is set), or
// from as much of that as the one before leaves; what is inhibited is not called. While a cue is listened to, its own tick alone. *OUT is the caller's to free, NULL where
// *COUNT is 0. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_call_tones_make(const sm_snapshot *snapshot, const char *calls, bool ticks,
                                           sm_audio_call **out, size_t *count);
// NAME is "pyro" or can be a target.
bool sm_call_tones_know(const sm_show *show, const char *name);

// Tells the sound of SESSION (NULL: nobody) what has changed since the last time, of what is WANTED and of the rehearsal NOW. False: memory ran out, it is
// tried again next time.
bool sm_call_tones_follow(sm_call_tones *was, sm_session *session, const sm_snapshot *now,
                          const sm_calls_wanted *wanted);

#endif
