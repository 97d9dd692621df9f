// SPDX-License-Identifier: GPL-3.0-or-later
// The site: mains feeds and their cords, distances on the ground and to the audience. Arithmetic on what the files
// say; none of it is a permit. Local law, the maker's data and the licensed operator go first.
// All functions are pure and may be called from any thread.
#ifndef SLOWMATCH_SITE_H
#define SLOWMATCH_SITE_H

#include "slowmatch/show.h"

// ---- mains --------------------------------------------------------------------

// Volts lost over LENGTH_M (one way) of a two-conductor cord of GAUGE at AMPS: 2 L rho I / S with rho 0.0225 ohm mm2/m
// (IEC 60364-5-52 Annex G, single phase, cos phi 1; rho from memory), times the gauge's factor.
double sm_site_cord_drop_volts(const sm_gauge *gauge, double length_m, double amps);

// What a flexible cord of GAUGE may carry, in amperes: BS 7671 table 4F3A for mm2 (0.5 to 4; from memory above 1.25),
// NEC table 400.5(A)(1) column B for AWG (18 to 12; second-hand); a size between takes the next size down, a larger one
// the largest listed. Copper-clad wire: less by the root of its factor (the same heat; recomputed). NAN below the
// smallest listed size: no figure.
double sm_site_cord_rating_amps(const sm_gauge *gauge);

typedef struct sm_site_feed {
    double own_watts;     // of the fixtures on this feed itself
    double watts;         // and of all feeds downstream
    double amps;          // watts over this feed's volts
    double drop_volts;    // over its own cord
    double chain_volts;   // summed over its own and all cords back to the supply
    double chain_percent; // of this feed's volts
    bool in_loop;         // its way back never reaches the supply: all the figures are NAN
} sm_site_feed;

// Fills OUT (show->feed_count entries). O(fixtures + feeds). SM_NO_MEMORY leaves OUT undefined.
SM_MUST_CHECK sm_result sm_site_feeds(const sm_show *show, sm_site_feed *out);

// ---- ground ---------------------------------------------------------------------

// Metres between two positions (rows of show->positions).
double sm_site_between_m(const sm_show *show, uint32_t a, uint32_t b);
// Metres from a position to the audience front (the line y = settings.audience_m); negative: behind that line.
double sm_site_audience_m(const sm_show *show, uint32_t position);

// Calibre in inches, rounded up to the half inch: 75 mm is 3, 80 mm is 3.5.
double sm_site_calibre_inches(double calibre_mm);

// The least distance to the audience front that a published figure gives for an effect.
typedef struct sm_site_need {
    double metres;      // NAN: no figure (zone none, an aerial without a calibre)
    double feet;        // the figure as published
    const char *basis;  // how it comes about, for people; static
    const char *source; // where it is from; static
} sm_site_need;
// Aerial: 70 ft an inch of calibre (OAR 837-012-0840(3)(a), read). Ground: 75 ft (second-hand, a fire department's page
// applying NFPA 1123). Near: the larger of 15 ft and twice the fallout radius (NYC Fire Code 3309.12.1, read); a
// fallout that is not given counts as 0.
sm_site_need sm_site_effect_need(const sm_effect *effect);

#endif
