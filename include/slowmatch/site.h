// SPDX-License-Identifier: GPL-3.0-or-later
// The site: mains feeds and their cords, distances on the ground and to the audience. Arithmetic on what the files
// say; none of it is a permit. Local law, the maker's data and the licensed operator go first.
// All functions are pure and may be called from any thread.
#ifndef SLOWMATCH_SITE_H
#define SLOWMATCH_SITE_H

#include "slowmatch/show.h"

// ---- mains --------------------------------------------------------------------

// Volts lost over LENGTH_M (one way) of a two-conductor cord of GAUGE at AMPS: 2 L rho I / S with rho 0.0225 ohm mm2/m
// (IEC 60364-5-52 Annex G, single phase; rho from memory), times the gauge's factor, times the power factor COS_PHI, and
// 0.08 mohm/m (from memory) times its sine.
double sm_site_cord_drop_volts(const sm_gauge *gauge, double length_m, double amps, double cos_phi);

// What a flexible cord of GAUGE may carry, in amperes: BS 7671 table 4F3A for mm2 (0.5 to 4; from memory above 1.25),
// NEC table 400.5(A)(1) column B for AWG (18 to 12; second-hand); a size between takes the next size down, a larger one
// the largest listed. Copper-clad wire: less by the root of its factor (the same heat; recomputed). NAN below the
// smallest listed size: no figure.
double sm_site_cord_rating_amps(const sm_gauge *gauge);

typedef struct sm_site_feed {
    double own_watts;   // of the fixtures on this feed itself
    double watts;       // and of all feeds downstream
    double va;          // apparent power of all that
    double inrush_amps; // of all that, when it is switched on at one moment; NAN where no profile tells one
    double amps;        // va over this feed's volts
    double
        breaker_amps; // what protects its cord: its own breaker, else the next one back to the supply; NAN: none is told
    bool is_private;      // the supply at the beginning of its way
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

// The published figures of distances, one source line each: the rules, the board of the ground and the manual all say these.
typedef enum sm_site_figure_id {
    SM_SITE_AERIAL,
    SM_SITE_GROUND,
    SM_SITE_WHEEL,
    SM_SITE_NEAR,
    SM_SITE_CONCUSSION,
    SM_SITE_PARTICLES,
    SM_SITE_HOSPITAL,
    SM_SITE_FIGURE_COUNT
} sm_site_figure_id;
#define SM_SITE_AERIAL_SOURCE                                                                                \
    "OAR 837-012-0840(3)(a) (read): the floor for a lessening of the code's table, which was not seen "      \
    "itself"
#define SM_SITE_GROUND_SOURCE "a fire department's page applying NFPA 1123 (second-hand)"
#define SM_SITE_NEAR_SOURCE "New York City Fire Code 3309.12.1 to .3 (read), as NFPA 1126 (from memory)"
#define SM_SITE_HOSPITAL_SOURCE "OAR 837-012-0840(4), (5) (read)"
typedef struct sm_site_figure {
    double feet; // of an aerial: per inch of calibre; of a hospital: times the aerial figure
    const char *basis, *source;
} sm_site_figure;
const sm_site_figure *sm_site_figure_at(sm_site_figure_id id);

// The least distance that a published figure gives for an effect, to people, vehicles and combustibles on every side.
typedef struct sm_site_need {
    double metres;      // NAN: no figure (zone none, an aerial without a calibre)
    double feet;        // the figure as published
    const char *basis;  // how it comes about, for people; static
    const char *source; // where it is from; static
} sm_site_need;
// Aerial: 70 ft an inch of calibre, twice that to hospitals and the like. Ground: 75 ft, wheels 125 ft. Near: the larger of
// 15 ft (concussion mortars 25 ft) and twice the fallout radius; a fallout that is not given counts as 0.
sm_site_need sm_site_effect_need(const sm_effect *effect);
// The same to what a position HOLDS.
sm_site_need sm_site_effect_need_to(const sm_effect *effect, sm_holds holds);
// How far from people the glowing or flaming particles of a near effect must end: its fallout radius and 10 ft, as a
// distance. NAN for other zones, and where no fallout is given.
double sm_site_particles_m(const sm_effect *effect);

// ---- gas ---------------------------------------------------------------------------

// Vapour pressure of propane over its liquid, bar absolute, from -45 to 60 C (NAN beyond): ln p = A - B / (T + C), fitted here
// to 1.10 bar at -40 C, 4.76 at 0 C and 13.74 at 40 C (a public table by Lee and Kesler's relation, second-hand). A cylinder
// that is drawn from cools, and gives less.
double sm_site_propane_bar(double celsius);

// ---- sound and drift ---------------------------------------------------------------

// Speed of sound in dry air, m/s: 331.3 sqrt(1 + T / 273.15 C) (an encyclopaedia, second-hand). Humidity adds up to 0.6 %.
double sm_site_sound_m_s(double celsius);
// How long sound takes from the loudspeaker to X_M, Y_M at the show's air; NAN where the loudspeaker is not told.
double sm_site_sound_s(const sm_show *show, double x_m, double y_m);
// The same to the audience front, at its nearest to the loudspeaker.
double sm_site_sound_to_front_s(const sm_show *show);
// How far what falls drifts sideways, to first order: wind times the time of its fall (from memory). A figure with its
// inputs, never a limit.
double sm_site_drift_m(double wind_m_s, double fall_s);

#endif
