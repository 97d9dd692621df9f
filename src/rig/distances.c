// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/site.h"

#include <assert.h>
#include <math.h>

#define M_PER_FT 0.3048
#define MM_PER_INCH 25.4

static const sm_site_figure figures[] = {
    [SM_SITE_AERIAL] = {70.0, "70 ft an inch of calibre", SM_SITE_AERIAL_SOURCE},
    [SM_SITE_GROUND] = {75.0, "75 ft for a ground piece", SM_SITE_GROUND_SOURCE},
    [SM_SITE_WHEEL] = {125.0, "125 ft for a wheel with large drivers", SM_SITE_GROUND_SOURCE},
    [SM_SITE_NEAR] = {15.0, "15 ft, the least for a near effect", SM_SITE_NEAR_SOURCE},
    [SM_SITE_CONCUSSION] = {25.0, "25 ft for a concussion mortar", SM_SITE_NEAR_SOURCE},
    [SM_SITE_PARTICLES] = {10.0, "no glowing or flaming particles within 10 ft of people",
                           SM_SITE_NEAR_SOURCE},
    [SM_SITE_HOSPITAL] = {2.0, "twice 70 ft an inch of calibre, to hospitals and the like",
                          SM_SITE_HOSPITAL_SOURCE},
};
static_assert(sizeof figures / sizeof *figures == SM_SITE_FIGURE_COUNT, "ORDER sm_site_figure_id");

const sm_site_figure *sm_site_figure_at(sm_site_figure_id id) {
    return &figures[id];
}

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

static sm_site_need need_of(sm_site_figure_id id, double times) {
    const double feet = figures[id].feet * times;
    return (sm_site_need){feet * M_PER_FT, feet, figures[id].basis, figures[id].source};
}

static sm_site_need near_need(const sm_effect *effect) {
    const double fallout_ft = isnan(effect->fallout_m) ? 0.0 : effect->fallout_m / M_PER_FT;
    sm_site_need need =
        need_of(effect->kind == SM_EFFECT_CONCUSSION ? SM_SITE_CONCUSSION : SM_SITE_NEAR, 1.0);
    if (2.0 * fallout_ft > need.feet) {
        need.feet = 2.0 * fallout_ft;
        need.metres = need.feet * M_PER_FT;
        need.basis = "twice the fallout radius";
    }
    return need;
}

sm_site_need sm_site_effect_need(const sm_effect *effect) {
    switch (effect->zone) {
    case SM_ZONE_AERIAL:
        return need_of(SM_SITE_AERIAL, sm_site_calibre_inches(effect->calibre_mm));
    case SM_ZONE_GROUND:
        return need_of(effect->kind == SM_EFFECT_WHEEL ? SM_SITE_WHEEL : SM_SITE_GROUND, 1.0);
    case SM_ZONE_NEAR:
        return near_need(effect);
    case SM_ZONE_NONE:
    case SM_ZONE_COUNT:
        break;
    }
    return (sm_site_need){(double)NAN, (double)NAN, "", ""};
}

sm_site_need sm_site_effect_need_to(const sm_effect *effect, sm_holds holds) {
    const sm_site_need need = sm_site_effect_need(effect);
    return holds == SM_HOLDS_HOSPITAL && effect->zone == SM_ZONE_AERIAL ? need_of(SM_SITE_HOSPITAL, need.feet)
                                                                        : need;
}

double sm_site_particles_m(const sm_effect *effect) {
    return effect->zone == SM_ZONE_NEAR ? effect->fallout_m + figures[SM_SITE_PARTICLES].feet * M_PER_FT
                                        : (double)NAN;
}

// ---- gas -----------------------------------------------------------------------------

double sm_site_propane_bar(double celsius) {
    if (!(celsius >= -45.0 && celsius <= 60.0))
        return (double)NAN;
    return exp(9.21036 - 1903.394 / (celsius + 248.827));
}

// ---- sound and drift -----------------------------------------------------------------

double sm_site_sound_m_s(double celsius) {
    return 331.3 * sqrt(1.0 + celsius / 273.15);
}

double sm_site_sound_s(const sm_show *show, double x_m, double y_m) {
    const sm_spot_m *speaker = &show->settings.speaker;
    return hypot(x_m - speaker->x_m, y_m - speaker->y_m) / sm_site_sound_m_s(show->settings.air_c);
}

double sm_site_sound_to_front_s(const sm_show *show) {
    return sm_site_sound_s(show, show->settings.speaker.x_m, show->settings.audience_m);
}

double sm_site_drift_m(double wind_m_s, double fall_s) {
    return wind_m_s * fall_s;
}
