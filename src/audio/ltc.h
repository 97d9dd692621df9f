// SPDX-License-Identifier: GPL-3.0-or-later
// Linear timecode of a show as sound (SMPTE ST 12-1, through libltc).
#ifndef SM_AUDIO_LTC_H
#define SM_AUDIO_LTC_H

#include "slowmatch/audio.h"

#include <ltc.h>

#define SM_LTC_ROOM 16384 // samples of the longest frame (24 a second at 192 kHz) and more

typedef struct sm_ltc {
    LTCEncoder *encoder; // NULL: none
    sm_audio_timecode timecode;
    int rate_hz;
    int64_t next; // number of the timecode frame to come, from show time 0
    float room[SM_LTC_ROOM];
    size_t made, used; // of `room`
} sm_ltc;

// False when memory runs out.
bool sm_ltc_init(sm_ltc *ltc, const sm_audio_timecode *timecode, int rate_hz);
void sm_ltc_deinit(sm_ltc *ltc);
// Begins anew with the first timecode frame that starts at or after SHOW_NS; returns the samples until it starts.
uint64_t sm_ltc_seek(sm_ltc *ltc, int64_t show_ns);
// The next samples.
void sm_ltc_read(sm_ltc *ltc, float *out, size_t frames);

#endif
