// SPDX-License-Identifier: GPL-3.0-or-later
// Which frame of the card sounds now: a delay-locked loop over the callback's readings.
//
// A reading says "frame N sounds at monotonic time T". The loop first gathers some tenths of a second of
// them, since the first ones of a stream are wrong while its buffers fill; then it follows place and rate as
// a second-order loop of bandwidth 0.5 Hz falling to 0.1 Hz (F. Adriaensen, "Using a DLL to filter time",
// 2005; second-hand). A reading further than a buffer from what is expected is passed over; many in a row
// mean that the card has really lost its place (a stall), and the loop asks to be begun again.
#ifndef SM_AUDIO_FOLLOW_H
#define SM_AUDIO_FOLLOW_H

#include <stdbool.h>
#include <stdint.h>

typedef enum sm_follow_result {
    SM_FOLLOW_WAITING, // not enough readings yet
    SM_FOLLOW_LOCKED,  // just now
    SM_FOLLOW_GOOD,
    SM_FOLLOW_BROKEN, // the card lost its place; the loop is waiting again
} sm_follow_result;

#define SM_FOLLOW_GATHER 64

typedef struct sm_follow {
    int rate_hz;
    bool locked;
    double nominal_ns; // a frame at the card's nominal rate
    double period_ns;  // a frame as measured
    uint64_t frame;    // the last reading's, and when the loop says that it sounds
    int64_t sounds_ns;
    double rest_ns; // fraction of sounds_ns
    uint64_t locked_frame;
    int strays;
    int count;
    uint64_t skip_until;
    int64_t offsets_ns[SM_FOLLOW_GATHER];
} sm_follow;

void sm_follow_init(sm_follow *follow, int rate_hz);
sm_follow_result sm_follow_feed(sm_follow *follow, uint64_t frame, int64_t sounds_ns);
// The frame (with its fraction) that sounds at MONO_NS; only while locked.
double sm_follow_frame_at(const sm_follow *follow, int64_t mono_ns);
// Card seconds a monotonic second: 1 for a card that runs true.
double sm_follow_rate(const sm_follow *follow);

#endif
