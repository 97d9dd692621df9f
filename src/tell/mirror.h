// SPDX-License-Identifier: GPL-3.0-or-later
// The rehearsal as messages alone tell it: the show, the state, the latest rows of the log. It knows no clock and no network.
#ifndef SLOWMATCH_TELL_MIRROR_H
#define SLOWMATCH_TELL_MIRROR_H

#include "tell/contract.h"

#include "slowmatch/time_of_day.h"

typedef struct mirror {
    sm_show *show; // NULL: none yet
    int32_t show_number;
    sm_show *coming; // a show that was told, and whose state has not come yet; NULL: none
    int32_t coming_number;
    sm_snapshot *coming_now, *coming_spare;
    int64_t show_mono_us, state_mono_us; // stamps of the latest show and state that were taken
    char *show_rest;                     // the latest show's message from its first comma on; NULL: not kept
    size_t show_rest_length;
    tell_sizes sizes;
    sm_time_of_day day;
    sm_snapshot *now, *spare; // both have the shape of `show`
    bool has_state;
    int64_t seq;              // number of the latest event that is in `now`
    int64_t seen;             // number of the latest event that came
    int32_t told_show;        // number of the show that the latest beat named
    uint64_t missed, refused; // how many messages
    sm_recent recent;
} mirror;

void mirror_deinit(mirror *own);
// Takes a message of TOPIC; one that is malformed, old or of another show changes nothing.
void mirror_take(mirror *own, tell_topic topic, const void *bytes, size_t length);
// Takes down which show and event the console has, from a beat that the follower believes.
void mirror_take_beat(mirror *own, const tell_beat_message *beat);
// Events are missing, or the show is another one: only a whole state helps.
bool mirror_is_behind(const mirror *own);
// Besides the state, the show is missing.
bool mirror_lacks_show(const mirror *own);

#endif
