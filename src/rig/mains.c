// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/site.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

// IEC 60364-5-52 Annex G: 1.25 times copper at 20 C, ohm mm2/m (from memory).
#define CORD_OHM_MM2_M 0.0225
// The same page: reactance of a cord, ohm/m (from memory).
#define CORD_REACTANCE_OHM_M 0.08e-3

// Sizes compare with this much room, so that "1.5 mm2" finds 1.5.
#define AREA_ROOM_MM2 1e-6

typedef struct cord_rating {
    double size; // mm2, or AWG number
    double amps;
} cord_rating;

// BS 7671 table 4F3A, flexible cables (1.25 second-hand, the others from memory).
static const cord_rating mm2_ratings[] = {
    {0.5, 3.0}, {0.75, 6.0}, {1.0, 10.0}, {1.25, 13.0}, {1.5, 16.0}, {2.5, 25.0}, {4.0, 32.0},
};
// NEC table 400.5(A)(1) column B, two current-carrying conductors (second-hand).
static const cord_rating awg_ratings[] = {{18.0, 10.0}, {16.0, 13.0}, {14.0, 18.0}, {12.0, 25.0}};

double sm_site_cord_drop_volts(const sm_gauge *gauge, double length_m, double amps, double cos_phi) {
    const double sin_phi = sqrt(fmax(0.0, 1.0 - cos_phi * cos_phi));
    const double ohm_m = CORD_OHM_MM2_M * gauge->factor / gauge->area_mm2;
    return 2.0 * length_m * (ohm_m * cos_phi + CORD_REACTANCE_OHM_M * sin_phi) * amps;
}

double sm_site_cord_rating_amps(const sm_gauge *gauge) {
    double amps = NAN;
    if (gauge->is_awg) {
        for (size_t i = 0; i < sizeof awg_ratings / sizeof *awg_ratings; i++)
            if (gauge->awg <= awg_ratings[i].size)
                amps = awg_ratings[i].amps;
    } else {
        for (size_t i = 0; i < sizeof mm2_ratings / sizeof *mm2_ratings; i++)
            if (gauge->area_mm2 >= mm2_ratings[i].size - AREA_ROOM_MM2)
                amps = mm2_ratings[i].amps;
    }
    return gauge->factor > 1.0 ? amps / sqrt(gauge->factor) : amps;
}

// Feeds so that each comes after the feed that it hangs on. Returns how many; the rest are in a loop, or hang
// on one. STATE, all 0, and ORDER have room for every feed.
static uint32_t order_from_supply(const sm_show *show, uint32_t *state, uint32_t *order) {
    enum { NEW, WALKING, PLACED, LOOPED };
    uint32_t placed = 0;
    for (uint32_t f = 0; f < show->feed_count; f++) {
        uint32_t at = f;
        uint32_t depth = 0;
        while (at != SM_NONE && state[at] == NEW) {
            state[at] = WALKING;
            order[placed + depth++] = at; // the way back, to be turned round below
            at = show->feeds[at].from;
        }
        if (at != SM_NONE && state[at] != PLACED) {
            for (uint32_t d = 0; d < depth; d++)
                state[order[placed + d]] = LOOPED;
            continue;
        }
        for (uint32_t d = 0; d < depth / 2; d++) {
            const uint32_t swapped = order[placed + d];
            order[placed + d] = order[placed + depth - 1 - d];
            order[placed + depth - 1 - d] = swapped;
        }
        for (uint32_t d = 0; d < depth; d++)
            state[order[placed + d]] = PLACED;
        placed += depth;
        assert(placed <= show->feed_count);
    }
    return placed;
}

// Where only one of the two is told, the other is the same. Inrush that is not told counts as nothing.
static void add_unit(const sm_profile *profile, sm_site_feed *feed) {
    const double watts = isnan(profile->watts) ? profile->va : profile->watts;
    const double va = isnan(profile->va) ? profile->watts : profile->va;
    if (!isnan(watts)) {
        feed->own_watts += watts;
        feed->watts += watts;
        feed->va += fmax(va, watts);
    }
    if (!isnan(profile->inrush_amps))
        feed->inrush_amps = profile->inrush_amps + (isnan(feed->inrush_amps) ? 0.0 : feed->inrush_amps);
}

static void sum_own(const sm_show *show, sm_site_feed *out) {
    for (uint32_t i = 0; i < show->fixture_count; i++) {
        const sm_fixture *fixture = &show->fixtures[i];
        if (fixture->feed == SM_NONE || fixture->profile == SM_NONE)
            continue;
        add_unit(&show->profiles[fixture->profile], &out[fixture->feed]);
    }
}

static void fill_chain(const sm_show *show, const uint32_t *order, uint32_t count, sm_site_feed *out) {
    for (uint32_t i = count; i-- > 0;) {
        sm_site_feed *feed = &out[order[i]];
        const uint32_t from = show->feeds[order[i]].from;
        if (from == SM_NONE)
            continue;
        out[from].watts += feed->watts;
        out[from].va += feed->va;
        if (!isnan(feed->inrush_amps))
            out[from].inrush_amps =
                feed->inrush_amps + (isnan(out[from].inrush_amps) ? 0.0 : out[from].inrush_amps);
    }
    for (uint32_t i = 0; i < count; i++) {
        const sm_feed *row = &show->feeds[order[i]];
        sm_site_feed *feed = &out[order[i]];
        feed->amps = feed->va / row->volts;
        const double cos_phi = feed->va > 0.0 ? feed->watts / feed->va : 1.0;
        feed->drop_volts = sm_site_cord_drop_volts(&row->cord, row->cord_m, feed->amps, cos_phi);
        feed->is_private = row->from != SM_NONE ? out[row->from].is_private : row->is_private;
        feed->breaker_amps = isnan(row->breaker_amps) && row->from != SM_NONE ? out[row->from].breaker_amps
                                                                              : row->breaker_amps;
        feed->chain_volts = feed->drop_volts + (row->from != SM_NONE ? out[row->from].chain_volts : 0.0);
        feed->chain_percent = 100.0 * feed->chain_volts / row->volts;
        feed->in_loop = false;
    }
}

sm_result sm_site_feeds(const sm_show *show, sm_site_feed *out) {
    const uint32_t count = show->feed_count;
    uint32_t *state = calloc(2 * (size_t)count + 1, sizeof *state);
    if (!state)
        return SM_NO_MEMORY;
    uint32_t *order = state + count;
    for (uint32_t f = 0; f < count; f++)
        out[f] = (sm_site_feed){.in_loop = true, .inrush_amps = (double)NAN, .breaker_amps = (double)NAN};
    sum_own(show, out);
    const uint32_t placed = order_from_supply(show, state, order);
    fill_chain(show, order, placed, out);
    for (uint32_t f = 0; f < count; f++)
        if (out[f].in_loop)
            out[f].watts = out[f].va = out[f].amps = out[f].drop_volts = out[f].chain_volts =
                out[f].chain_percent = (double)NAN;
    free(state);
    return SM_OK;
}
