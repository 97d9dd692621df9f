// SPDX-License-Identifier: GPL-3.0-or-later
// The ground on every side: what positions hold, product beside flame units, and the crew's own places. The audience front
// is in rules_ground.c.
#include "check/rule.h"

#include <math.h>
#include <stdlib.h>

#define CAUTION "Measure on site; local law, the maker's data and the licensed operator go first"
// Room for binary fractions: what is exactly the figure is not short of it.
#define ROOM (1.0 - 1e-9)

// A distance that is short, and how far: the worst of those looked at.
typedef struct shortest {
    double found_m, needed_m;
    double part; // found over needed; 1 and more: nothing is short
    uint32_t at; // what it is short of: row of what was looked through
} shortest;

static const shortest nothing_short = {.part = 1.0};

static void take(shortest *worst, double found_m, double needed_m, uint32_t at) {
    if (found_m < needed_m * ROOM && found_m / needed_m < worst->part)
        *worst = (shortest){found_m, needed_m, found_m / needed_m, at};
}

static bool holds_people(sm_holds holds) {
    return holds == SM_HOLDS_PEOPLE || holds == SM_HOLDS_HOSPITAL;
}

static double between_m(const sm_position *position, const sm_spot_m *spot) {
    return hypot(position->x_m - spot->x_m, position->y_m - spot->y_m);
}

static int compare_fired(const void *left, const void *right) {
    const check_fired *a = left, *b = right;
    if (a->position != b->position)
        return a->position < b->position ? -1 : 1;
    if (a->effect != b->effect)
        return a->effect < b->effect ? -1 : 1;
    return a->rail < b->rail ? -1 : a->rail > b->rail;
}

sm_result check_collect_fired(sm_check *check, check_fired **out, size_t *count) {
    const sm_show *show = check->show;
    check_fired *all = sm_arena_alloc(check->arena, ((size_t)show->firing_count + 1) * sizeof *all);
    if (!all)
        return SM_NO_MEMORY;
    *count = 0;
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const sm_firing *firing = &show->firings[i];
        const uint32_t rail = show->slot_rails[firing->slot];
        if (firing->effect != SM_NONE && show->effects[firing->effect].zone != SM_ZONE_NONE)
            all[(*count)++] = (check_fired){show->rails[rail].position, firing->effect, rail};
    }
    qsort(all, *count, sizeof *all, compare_fired);
    *out = all;
    return SM_OK;
}

// ---- what positions hold ----------------------------------------------------------------

static void put_short_of(sm_check *check, const check_fired *fired, const sm_position *holder,
                         const shortest *worst) {
    const sm_show *show = check->show;
    const sm_effect *effect = &show->effects[fired->effect];
    const sm_site_need need = sm_site_effect_need_to(effect, holder->holds);
    check_put(check, "distance-short", (check_place){"positions.csv", holder->line, "holds"},
              (check_figures){FIGURE_FOUND, worst->found_m, worst->needed_m, NULL},
              "%s on rail %s at %s is %s from %s (%s); the figure used is %s (%.0f ft: %s; %s). " CAUTION,
              effect->name, show->rails[fired->rail].name, show->positions[fired->position].name,
              FOUND_M(worst->found_m), holder->name, sm_holds_text(holder->holds), NEEDED_M(worst->needed_m),
              ceil(need.feet - 1e-9), need.basis, need.source);
}

void check_put_particles(sm_check *check, const check_fired *fired, check_place place, double found_m,
                         const char *to) {
    const sm_show *show = check->show;
    const sm_effect *effect = &show->effects[fired->effect];
    const double needed_m = sm_site_particles_m(effect);
    const sm_site_figure *figure = sm_site_figure_at(SM_SITE_PARTICLES);
    check_put(check, "particles-near", place, (check_figures){FIGURE_FOUND, found_m, needed_m, NULL},
              "%s on rail %s at %s is %s from %s and falls out to %s; %s: %s (%s). " CAUTION, effect->name,
              show->rails[fired->rail].name, show->positions[fired->position].name, FOUND_M(found_m), to,
              NEEDED_M(effect->fallout_m), figure->basis, NEEDED_M(needed_m), figure->source);
}

// FIRED to before END stand at one position.
static void judge_holder(sm_check *check, const check_fired *fired, uint32_t end, uint32_t holder) {
    const sm_show *show = check->show;
    const sm_position *row = &show->positions[holder];
    const double found_m = sm_site_between_m(show, fired->position, holder);
    shortest distance = nothing_short, particles = nothing_short;
    for (uint32_t i = 0; i < end; i++) {
        const sm_effect *effect = &show->effects[fired[i].effect];
        take(&distance, found_m, sm_site_effect_need_to(effect, row->holds).metres, i);
        if (holds_people(row->holds))
            take(&particles, found_m, sm_site_particles_m(effect), i);
    }
    if (distance.part < 1.0)
        put_short_of(check, &fired[distance.at], row, &distance);
    else if (particles.part < 1.0)
        check_put_particles(check, &fired[particles.at], (check_place){"positions.csv", row->line, "holds"},
                            found_m, row->name);
}

void check_sides(sm_check *check, const check_fired *fired, size_t count) {
    const sm_show *show = check->show;
    for (size_t first = 0, end = 0; first < count; first = end) {
        while (end < count && fired[end].position == fired[first].position)
            end++;
        for (uint32_t h = 0; fired[first].position != SM_NONE && h < show->position_count; h++)
            if (show->positions[h].holds != SM_HOLDS_NOTHING)
                judge_holder(check, &fired[first], (uint32_t)(end - first), h);
    }
}

void check_clear_of_people(sm_check *check, const sm_fixture *fixture, double clear_m) {
    const sm_show *show = check->show;
    for (uint32_t h = 0; h < show->position_count; h++) {
        const sm_position *holder = &show->positions[h];
        const double found_m = sm_site_between_m(show, fixture->position, h);
        if (!holds_people(holder->holds) || found_m >= clear_m * ROOM)
            continue;
        check_put(
            check, "clear-short", (check_place){"positions.csv", holder->line, "holds"},
            (check_figures){FIGURE_FOUND, found_m, clear_m, NULL},
            "%s at %s is %s from %s (%s); its maker asks for %s to people (the profile's clear). " CAUTION,
            fixture->name, show->positions[fixture->position].name, FOUND_M(found_m), holder->name,
            sm_holds_text(holder->holds), NEEDED_M(clear_m));
    }
}

// ---- product beside flame ----------------------------------------------------------------

static double clear_of(const sm_show *show, const sm_fixture *fixture) {
    const sm_profile *profile = fixture->profile != SM_NONE ? &show->profiles[fixture->profile] : NULL;
    return profile && profile->flame && fixture->position != SM_NONE ? profile->clear_m : (double)NAN;
}

sm_result check_flame_product(sm_check *check) {
    const sm_show *show = check->show;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        const double clear_m = clear_of(show, fixture);
        shortest worst = nothing_short;
        for (uint32_t r = 0; !isnan(clear_m) && r < show->rail_count; r++)
            if (show->rails[r].position != SM_NONE && sm_rail_in_use(show, r))
                take(&worst, sm_site_between_m(show, fixture->position, show->rails[r].position), clear_m, r);
        if (worst.part >= 1.0)
            continue;
        check_put(check, "product-near-flame", (check_place){"fixtures.csv", fixture->line, "position"},
                  (check_figures){FIGURE_FOUND, worst.found_m, worst.needed_m, NULL},
                  "%s stands %s from rail %s with product; its maker lets people no nearer than %s, and no "
                  "figure for "
                  "product is known. " CAUTION,
                  fixture->name, FOUND_M(worst.found_m), show->rails[worst.at].name,
                  NEEDED_M(worst.needed_m));
    }
    return SM_OK;
}

// ---- the crew's own places ---------------------------------------------------------------

// The worst of all effects and flame units for somebody at SPOT; WHAT is its name.
static shortest worst_for(const sm_show *show, const check_fired *fired, size_t count, const sm_spot_m *spot,
                          const char **what) {
    shortest worst = nothing_short;
    for (size_t i = 0; i < count; i++)
        if (fired[i].position != SM_NONE)
            take(&worst, between_m(&show->positions[fired[i].position], spot),
                 sm_site_effect_need(&show->effects[fired[i].effect]).metres, (uint32_t)i);
    if (worst.part < 1.0)
        *what = show->effects[fired[worst.at].effect].name;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const double before = worst.part, clear_m = clear_of(show, &show->fixtures[f]);
        if (!isnan(clear_m))
            take(&worst, between_m(&show->positions[show->fixtures[f].position], spot), clear_m, f);
        if (worst.part < before)
            *what = show->fixtures[f].name;
    }
    return worst;
}

static void judge_modules(sm_check *check, const check_fired *fired, size_t count) {
    const sm_show *show = check->show;
    for (uint32_t m = 0; m < show->module_count; m++) {
        const sm_module *module = &show->modules[m];
        const char *what = "";
        if (module->position == SM_NONE)
            continue;
        const sm_position *place = &show->positions[module->position];
        const shortest worst = worst_for(show, fired, count, &(sm_spot_m){place->x_m, place->y_m}, &what);
        if (worst.part < 1.0)
            check_put_as(check, SM_WARNING, "crew-inside",
                         (check_place){"modules.csv", module->line, "position"},
                         (check_figures){FIGURE_FOUND, worst.found_m, worst.needed_m, NULL},
                         "module %s at %s is %s from %s, within its distance of %s", module->name,
                         place->name, FOUND_M(worst.found_m), what, NEEDED_M(worst.needed_m));
    }
}

sm_result check_crew(sm_check *check) {
    const sm_spot_m *lead = &check->show->settings.lead;
    check_fired *fired;
    size_t count;
    const sm_result result = check_collect_fired(check, &fired, &count);
    if (result != SM_OK)
        return result;
    judge_modules(check, fired, count);
    const char *what = "";
    const shortest worst =
        isnan(lead->x_m) ? nothing_short : worst_for(check->show, fired, count, lead, &what);
    if (worst.part < 1.0)
        check_put(check, "crew-inside", (check_place){"show.ini", 0, "site.lead"},
                  (check_figures){FIGURE_FOUND, worst.found_m, worst.needed_m, NULL},
                  "the lead stands %s from %s, within its distance of %s. " CAUTION, FOUND_M(worst.found_m),
                  what, NEEDED_M(worst.needed_m));
    return SM_OK;
}
