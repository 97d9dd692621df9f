// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/site.h"

#include <math.h>

#define M_PER_FT 0.3048
#define MM_PER_INCH 25.4

// The published figures, in feet.
#define AERIAL_FT_PER_INCH 70.0
#define GROUND_FT 75.0
#define NEAR_LEAST_FT 15.0

// Keeps a calibre that is whole to the eye (76.2 mm) from being rounded up by binary fractions.
#define HALF_INCH_ROOM 1e-9

double sm_site_between_m(const sm_show *show, uint32_t a, uint32_t b) {
    const sm_position *from = &show->positions[a];
    const sm_position *to = &show->positions[b];
    return hypot(to->x_m - from->x_m, to->y_m - from->y_m);
}

double sm_site_audience_m(const sm_show *show, uint32_t position) {
    return show->positions[position].y_m - show->settings.audience_m;
}

double sm_site_calibre_inches(double calibre_mm) {
    return ceil(calibre_mm / MM_PER_INCH * 2.0 - HALF_INCH_ROOM) / 2.0;
}

static sm_site_need near_need(const sm_effect *effect) {
    const double fallout_ft = isnan(effect->fallout_m) ? 0.0 : effect->fallout_m / M_PER_FT;
    const double twice_ft = 2.0 * fallout_ft;
    return (sm_site_need){
        .feet = fmax(NEAR_LEAST_FT, twice_ft),
        .basis = twice_ft > NEAR_LEAST_FT ? "twice the fallout radius" : "15 ft, the least for a near effect",
        .source = "New York City Fire Code 3309.12.1, as NFPA 1126",
    };
}

sm_site_need sm_site_effect_need(const sm_effect *effect) {
    sm_site_need need = {.feet = (double)NAN, .basis = "", .source = ""};
    switch (effect->zone) {
    case SM_ZONE_AERIAL:
        need = (sm_site_need){.feet = AERIAL_FT_PER_INCH * sm_site_calibre_inches(effect->calibre_mm),
                              .basis = "70 ft an inch of calibre",
                              .source = "OAR 837-012-0840(3)(a)"};
        break;
    case SM_ZONE_GROUND:
        need = (sm_site_need){.feet = GROUND_FT,
                              .basis = "75 ft for a ground piece",
                              .source = "a fire department's page applying NFPA 1123, second-hand"};
        break;
    case SM_ZONE_NEAR:
        need = near_need(effect);
        break;
    case SM_ZONE_NONE:
    case SM_ZONE_COUNT:
        break;
    }
    need.metres = need.feet * M_PER_FT;
    return need;
}
