// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/engine.h"

// Products of two 48-bit spans: 64 bits would overflow after five months of wall time at most speeds.
__extension__ typedef __int128 wide;

#define PPM 1000000

sm_show_time sm_transport_show_at(const sm_transport *transport, sm_wall_time at) {
    if (!transport->playing)
        return transport->s0;
    wide product = (wide)(at.us - transport->w0.us) * transport->speed_ppm;
    wide quotient = product / PPM;
    if (product % PPM < 0)
        quotient--;
    return (sm_show_time){transport->s0.us + (sm_us)quotient};
}

sm_wall_time sm_transport_wall_at(const sm_transport *transport, sm_show_time show) {
    if (show.us <= transport->s0.us)
        return transport->w0;
    wide product = (wide)(show.us - transport->s0.us) * PPM;
    wide quotient = (product + transport->speed_ppm - 1) / transport->speed_ppm;
    return (sm_wall_time){transport->w0.us + (sm_us)quotient};
}
