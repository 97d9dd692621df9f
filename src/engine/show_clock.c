// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/engine.h"

#include <assert.h>

// Products of two 48-bit spans: 64 bits would overflow after five months of wall time at most speeds.
__extension__ typedef __int128 wide;

#define PPM 1000000

sm_show_time sm_show_clock_show_at(const sm_show_clock *clock, sm_wall_time at) {
    assert(clock->speed_ppm > 0);
    if (!clock->playing)
        return clock->s0;
    wide product = (wide)(at.us - clock->w0.us) * clock->speed_ppm;
    wide quotient = product / PPM;
    if (product % PPM < 0)
        quotient--;
    return (sm_show_time){clock->s0.us + (sm_us)quotient};
}

sm_wall_time sm_show_clock_wall_at(const sm_show_clock *clock, sm_show_time show) {
    assert(clock->speed_ppm > 0);
    if (show.us <= clock->s0.us)
        return clock->w0;
    wide product = (wide)(show.us - clock->s0.us) * PPM;
    wide quotient = (product + clock->speed_ppm - 1) / clock->speed_ppm;
    return (sm_wall_time){clock->w0.us + (sm_us)quotient};
}
