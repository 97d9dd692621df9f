// SPDX-License-Identifier: GPL-3.0-or-later
// Timecode in: linear timecode (SMPTE ST 12-1) from a sound input, read, judged, and turned into the show's time.
#ifndef SLOWMATCH_LISTEN_H
#define SLOWMATCH_LISTEN_H

#include "slowmatch/base.h"

// Outside of these speeds it is not believed: no tape machine runs so.
#define SM_LISTEN_SLOWEST 0.8
#define SM_LISTEN_FASTEST 1.25
// A gap that is bridged, unless said otherwise, and the longest that may be said.
#define SM_LISTEN_FREE_RUN_US SM_US_PER_S

// Why nothing is believed, or what is wrong with it; the gravest.
typedef enum sm_timecode_trouble {
    SM_TIMECODE_FINE,
    SM_TIMECODE_NO_SOUND, // nothing is heard at all
    SM_TIMECODE_NO_CODE,  // there is sound, and no timecode in it
    SM_TIMECODE_NOISE,    // frames are read, and never five in a row
    SM_TIMECODE_SPEED,    // too slow or too fast
    SM_TIMECODE_BACKWARD, // it runs backward
    SM_TIMECODE_NO_RATE,  // its rate is not known before a second ends
    SM_TIMECODE_TROUBLE_COUNT
} sm_timecode_trouble;
// "no sound", "sound, but no timecode in it"...; static.
const char *sm_timecode_trouble_text(sm_timecode_trouble trouble);

#endif
