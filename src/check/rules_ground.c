// SPDX-License-Identifier: GPL-3.0-or-later
// The ground: what must be known of an effect and its place, and the published distances to the audience front.
#include "check/rule.h"

#include <math.h>

static void judge_effect(sm_check *check, const sm_effect *effect) {
    if (effect->zone == SM_ZONE_AERIAL && isnan(effect->calibre_mm))
        check_put(check, "calibre-unknown", (check_place){"effects.csv", effect->line, "calibre"},
                  check_no_figures(), "%s is an aerial without a calibre: no distance can be held against it",
                  effect->name);
    if (effect->zone == SM_ZONE_NEAR && isnan(effect->fallout_m))
        check_put(check, "fallout-unknown", (check_place){"effects.csv", effect->line, "fallout"},
                  check_no_figures(),
                  "%s is a near effect without a fallout radius: only the least distance is held against it",
                  effect->name);
}

sm_result check_effect_facts(sm_check *check) {
    const sm_show *show = check->show;
    uint8_t *fired = sm_arena_alloc(check->arena, (size_t)show->effect_count + 1);
    if (!fired)
        return SM_NO_MEMORY;
    for (uint32_t i = 0; i < show->firing_count; i++)
        if (show->firings[i].effect != SM_NONE)
            fired[show->firings[i].effect] = 1;
    for (uint32_t e = 0; e < show->effect_count; e++)
        if (fired[e] != 0)
            judge_effect(check, &show->effects[e]);
    return SM_OK;
}

static void judge_distance(sm_check *check, const check_fired *fired) {
    const sm_show *show = check->show;
    const sm_effect *effect = &show->effects[fired->effect];
    const sm_position *position = &show->positions[fired->position];
    const sm_site_need need = sm_site_effect_need(effect);
    const double found_m = sm_site_audience_m(show, fired->position);
    if (isnan(need.metres) || found_m >= need.metres * (1.0 - 1e-9)) {
        if (found_m < sm_site_particles_m(effect) * (1.0 - 1e-9))
            check_put_particles(check, fired, (check_place){"positions.csv", position->line, "y"}, found_m,
                                "the audience front");
        return;
    }
    check_put(check, "distance-short", (check_place){"positions.csv", position->line, "y"},
              (check_figures){FIGURE_FOUND, found_m, need.metres, NULL},
              "%s on rail %s at %s is %s from the audience front; the figure used is %s (%.0f ft: %s; %s). "
              "Measure on "
              "site; local law, the maker's data and the licensed operator go first",
              effect->name, show->rails[fired->rail].name, position->name, FOUND_M(found_m),
              NEEDED_M(need.metres), ceil(need.feet - 1e-9), need.basis, need.source);
}

sm_result check_distances(sm_check *check) {
    check_fired *fired;
    size_t count;
    const sm_result result = check_collect_fired(check, &fired, &count);
    if (result != SM_OK)
        return result;
    for (size_t i = 0; i < count; i++) {
        const bool same =
            i > 0 && fired[i].position == fired[i - 1].position && fired[i].effect == fired[i - 1].effect;
        if (!same && fired[i].position != SM_NONE)
            judge_distance(check, &fired[i]);
    }
    check_sides(check, fired, count);
    return SM_OK;
}

static sm_result judge_rails(sm_check *check) {
    const sm_show *show = check->show;
    check_fired *fired;
    size_t count;
    uint8_t *told = sm_arena_alloc(check->arena, (size_t)show->rail_count + 1);
    const sm_result result = told ? check_collect_fired(check, &fired, &count) : SM_NO_MEMORY;
    for (size_t i = 0; result == SM_OK && i < count; i++) {
        if (fired[i].position != SM_NONE || told[fired[i].rail] != 0)
            continue;
        told[fired[i].rail] = 1;
        const sm_rail *rail = &show->rails[fired[i].rail];
        check_put(check, "position-unknown", (check_place){"rails.csv", rail->line, "position"},
                  check_no_figures(),
                  "rail %s fires %s and has no position: no distance can be held against it", rail->name,
                  show->effects[fired[i].effect].name);
    }
    return result;
}

sm_result check_unplaced(sm_check *check) {
    const sm_show *show = check->show;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        if (fixture->position == SM_NONE && fixture->profile != SM_NONE &&
            !isnan(show->profiles[fixture->profile].clear_m))
            check_put(check, "position-unknown", (check_place){"fixtures.csv", fixture->line, "position"},
                      check_no_figures(),
                      "%s has no position: the maker's least distance to people is held against nothing",
                      fixture->name);
    }
    return judge_rails(check);
}
