// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/transport.h"

#include <string.h>

#define SAME_US 10

void sm_transport_init(sm_transport *transport) {
    transport->at[0] = (sm_stretch){.wall_us = 0, .show_us = 0, .speed_ppm = SM_SPEED_ONE, .playing = false};
    transport->count = 1;
}

static bool says_the_same(const sm_stretch *old, const sm_stretch *fresh) {
    if (old->playing != fresh->playing || old->preview != fresh->preview)
        return false;
    if (!fresh->playing)
        return true; // silence is silence, wherever the show stands
    int64_t difference = sm_stretch_show_us(old, fresh->wall_us) - fresh->show_us;
    return old->speed_ppm == fresh->speed_ppm && difference <= SAME_US && difference >= -SAME_US;
}

bool sm_transport_add(sm_transport *transport, sm_stretch stretch) {
    int keep = 0;
    while (keep < transport->count && transport->at[keep].wall_us < stretch.wall_us)
        keep++;
    bool forgot = keep < transport->count;
    if (keep > 0 && says_the_same(&transport->at[keep - 1], &stretch)) {
        transport->count = keep;
        return forgot;
    }
    if (keep == SM_STRETCHES_MAX) {
        memmove(transport->at, transport->at + 1, (SM_STRETCHES_MAX - 1) * sizeof *transport->at);
        keep--;
    }
    transport->at[keep] = stretch;
    transport->count = keep + 1;
    return true;
}

int64_t sm_stretch_show_us(const sm_stretch *stretch, int64_t wall_us) {
    if (!stretch->playing)
        return stretch->show_us;
    // Whole seconds and the rest apart: no product overflows within SM_US_MAX.
    int64_t past_us = wall_us - stretch->wall_us;
    int64_t seconds = past_us / SM_US_PER_S, rest = past_us % SM_US_PER_S;
    int64_t part = rest * stretch->speed_ppm;
    part += part < 0 ? -SM_SPEED_ONE / 2 : SM_SPEED_ONE / 2;
    return stretch->show_us + seconds * stretch->speed_ppm + part / SM_SPEED_ONE;
}

bool sm_stretch_equal(const sm_stretch *a, const sm_stretch *b) {
    return a->wall_us == b->wall_us && a->show_us == b->show_us && a->speed_ppm == b->speed_ppm &&
           a->playing == b->playing && a->preview == b->preview;
}
