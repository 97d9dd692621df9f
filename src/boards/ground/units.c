// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/ground/units.h"

#include "boards/words/slots_and_flames.h"

#include "slowmatch/dmx.h"
#include "slowmatch/site.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

// ---- who stands where -----------------------------------------------------------------------

const char *sm_unit_name(const sm_show *show, const sm_unit *unit) {
    return unit->kind == SM_UNIT_RAIL ? show->rails[unit->index].name : show->fixtures[unit->index].name;
}

// Unit I in the order of the tables: rails first, then fixtures.
static sm_unit unit_at(const sm_show *show, uint32_t i) {
    if (i < show->rail_count)
        return (sm_unit){SM_UNIT_RAIL, i, show->rails[i].position};
    i -= show->rail_count;
    return (sm_unit){SM_UNIT_FIXTURE, i, show->fixtures[i].position};
}

// Sorts the units by place. Each place is given room for as many as it has; units without a position come after all places.
static void place_units(sm_ground *ground) {
    uint32_t next = 0;
    for (uint32_t i = 0; i < ground->unit_count; i++) {
        sm_unit unit = unit_at(ground->show, i);
        if (unit.position != SM_NONE)
            ground->places[unit.position].count++;
    }
    for (uint32_t p = 0; p < ground->place_count; p++) {
        ground->places[p].first = next;
        next += ground->places[p].count;
        ground->places[p].count = 0;
    }
    ground->placed = next;
    for (uint32_t i = 0; i < ground->unit_count; i++) {
        sm_unit unit = unit_at(ground->show, i);
        sm_place_on_ground *place = unit.position == SM_NONE ? NULL : &ground->places[unit.position];
        uint32_t at = place ? place->first + place->count++ : next++;
        ground->units[at] = unit;
        (unit.kind == SM_UNIT_RAIL ? ground->rail_units : ground->fixture_units)[unit.index] = at;
    }
}

static void take_larger(sm_place_need *need, sm_place_need other) {
    const char *unfigured = need->unfigured;
    if (isnan(other.metres))
        unfigured = unfigured ? unfigured : other.what;
    else if (!(need->metres >= other.metres))
        *need = other;
    need->unfigured = unfigured;
    need->wanted = true;
}

static void find_needs(sm_ground *ground) {
    const sm_show *show = ground->show;
    for (uint32_t p = 0; p < ground->place_count; p++) {
        ground->places[p].position = p;
        ground->places[p].need.metres = ground->places[p].need.feet = (double)NAN;
    }
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const sm_firing *firing = &show->firings[i];
        uint32_t position = show->rails[show->slot_rails[firing->slot]].position;
        if (position == SM_NONE || firing->effect == SM_NONE)
            continue;
        const sm_effect *effect = &show->effects[firing->effect];
        sm_site_need need = sm_site_effect_need(effect);
        take_larger(&ground->places[position].need, (sm_place_need){.metres = need.metres,
                                                                    .feet = need.feet,
                                                                    .what = effect->name,
                                                                    .basis = need.basis,
                                                                    .source = need.source});
    }
    for (uint32_t i = 0; i < show->fixture_count; i++) {
        const sm_fixture *fixture = &show->fixtures[i];
        const sm_profile *profile = &show->profiles[fixture->profile];
        if (profile->flame && fixture->position != SM_NONE) {
            take_larger(&ground->places[fixture->position].need,
                        (sm_place_need){.metres = profile->clear_m,
                                        .feet = (double)NAN,
                                        .what = fixture->name,
                                        .basis = "the maker's least distance",
                                        .source = "profiles.csv"});
        }
    }
}

bool sm_need_reached(const sm_show *show, uint32_t position, const sm_place_need *need) {
    // The room that the checks leave as well, so that both say the same of a distance that is equal.
    return sm_site_audience_m(show, position) >= need->metres * (1 - 1e-9);
}

static sm_result build(sm_ground *ground) {
    const sm_show *show = ground->show;
    ground->unit_count = show->rail_count + show->fixture_count;
    ground->units = calloc(ground->unit_count + 1u, sizeof *ground->units);
    ground->doing = calloc(ground->unit_count + 1u, sizeof *ground->doing);
    ground->place_count = show->position_count;
    ground->places = calloc(ground->place_count + 1u, sizeof *ground->places);
    ground->rail_units = calloc(show->rail_count + 1u, sizeof *ground->rail_units);
    ground->fixture_units = calloc(show->fixture_count + 1u, sizeof *ground->fixture_units);
    if (!ground->units || !ground->doing || !ground->places || !ground->rail_units || !ground->fixture_units)
        return SM_NO_MEMORY;
    place_units(ground);
    for (uint32_t p = 0; p < ground->place_count; p++) {
        const sm_position *position = &show->positions[p];
        ground->at_zero += ground->places[p].count > 0 && position->x_m == 0 && position->y_m == 0;
    }
    find_needs(ground);
    return SM_OK;
}

sm_result sm_ground_create(const sm_show *show, sm_ground **out) {
    sm_ground *ground = calloc(1, sizeof *ground);
    if (!ground)
        return SM_NO_MEMORY;
    ground->show = show;
    sm_result result = build(ground);
    if (result != SM_OK) {
        sm_ground_destroy(ground);
        return result;
    }
    *out = ground;
    return SM_OK;
}

void sm_ground_destroy(sm_ground *ground) {
    if (ground) {
        free(ground->units);
        free(ground->doing);
        free(ground->places);
        free(ground->rail_units);
        free(ground->fixture_units);
        free(ground->levels);
        sm_dmx_timeline_destroy(ground->timeline);
        free(ground);
    }
}

// ---- fixtures -----------------------------------------------------------------------------------

static bool is_among(const char *name, const char *const *words, size_t count) {
    for (size_t i = 0; i < count; i++)
        if (strcmp(name, words[i]) == 0)
            return true;
    return false;
}

int sm_light_percent(const sm_show *show, uint32_t fixture, const uint8_t *levels) {
    static const char *const dimmers[] = {"dimmer", "intensity", "master"};
    static const char *const colours[] = {"red",    "green",  "blue", "white",  "amber", "cyan", "magenta",
                                          "yellow", "orange", "lime", "indigo", "uv",    "warm", "cold"};
    const sm_fixture *row = &show->fixtures[fixture];
    const sm_profile *profile = &show->profiles[row->profile];
    const uint8_t *own = levels + row->channel_base;
    int dimmer = -1, colour = -1, any = 0;
    if (profile->flame)
        return 0;
    for (uint32_t c = 0; c < profile->channel_count; c++) {
        int level = own[c];
        if (is_among(profile->channels[c], dimmers, sizeof dimmers / sizeof dimmers[0]))
            dimmer = level > dimmer ? level : dimmer;
        else if (is_among(profile->channels[c], colours, sizeof colours / sizeof colours[0]))
            colour = level > colour ? level : colour;
        any = level != profile->home[c] && level > any ? level : any;
    }
    if (dimmer >= 0 || colour >= 0)
        any = (dimmer >= 0 ? dimmer : 255) * (colour >= 0 ? colour : 255) / 255;
    int percent = (any * 100 + 127) / 255;
    return any > 0 && percent == 0 ? 1 : percent;
}

// As the LEVELS have it; faults of a drill are put on top.
static void look_at_fixture(sm_ground *ground, uint32_t fixture, const uint8_t *levels) {
    const sm_show *show = ground->show;
    const sm_fixture *row = &show->fixtures[fixture];
    const sm_profile *profile = &show->profiles[row->profile];
    sm_doing *doing = &ground->doing[ground->fixture_units[fixture]];
    if (profile->flame) {
        doing->enabled = sm_dmx_in_range(profile->enable_range, levels[row->channel_base + profile->enable]);
        doing->lit =
            doing->enabled && sm_dmx_in_range(profile->fire_range, levels[row->channel_base + profile->fire]);
    } else {
        doing->percent = sm_light_percent(show, fixture, levels);
    }
}

// ---- what is done -----------------------------------------------------------------------------

static void begin_look(sm_ground *ground) {
    for (uint32_t u = 0; u < ground->unit_count; u++)
        ground->doing[u] = (sm_doing){.seen_us = INT64_MAX};
}

static void add_firing(sm_ground *ground, uint32_t event, sm_us until_seen_us, sm_us until_out_us) {
    const sm_show *show = ground->show;
    const sm_firing *firing = &show->firings[show->events[event].target];
    sm_doing *doing = &ground->doing[ground->rail_units[show->slot_rails[firing->slot]]];
    if (until_seen_us > 0) {
        doing->flying++;
        doing->seen_us = until_seen_us < doing->seen_us ? until_seen_us : doing->seen_us;
    } else {
        doing->burning++;
        doing->aerials += firing->effect != SM_NONE && show->effects[firing->effect].zone == SM_ZONE_AERIAL;
        doing->out_us = until_out_us > doing->out_us ? until_out_us : doing->out_us;
    }
}

// At a place everything counts together; what is said of all must be true of each.
static void sum_places(sm_ground *ground, const bool *fire_at) {
    for (uint32_t p = 0; p < ground->place_count; p++) {
        sm_place_on_ground *place = &ground->places[p];
        sm_doing all = {.seen_us = INT64_MAX, .unplugged = place->count > 0, .dark = place->count > 0};
        for (uint32_t u = place->first; u < place->first + place->count; u++) {
            const sm_doing *one = &ground->doing[u];
            all.flying += one->flying;
            all.burning += one->burning;
            all.aerials += one->aerials;
            all.seen_us = one->seen_us < all.seen_us ? one->seen_us : all.seen_us;
            all.out_us = one->out_us > all.out_us ? one->out_us : all.out_us;
            all.live += one->live;
            all.enabled += one->enabled;
            all.lit += one->lit;
            all.percent = one->percent > all.percent ? one->percent : all.percent;
            all.unplugged = all.unplugged && one->unplugged;
            all.dark = all.dark && one->dark;
            all.tipped = all.tipped || one->tipped;
            all.held += one->held;
            all.holdable += one->holdable;
        }
        all.fire = fire_at && fire_at[p];
        place->doing = all;
    }
}

static void look_at_slots(sm_ground *ground, const sm_snapshot *now) {
    const sm_show *show = ground->show;
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        const sm_slot_view *view = &now->slots[slot];
        sm_doing *doing = &ground->doing[ground->rail_units[show->slot_rails[slot]]];
        doing->live += sm_slot_is_left_live(view->phase);
        doing->tipped = doing->tipped || view->tipped;
        doing->held += view->inhibited && show->slot_firings[slot] != SM_NONE;
        doing->holdable += show->slot_firings[slot] != SM_NONE;
    }
    for (uint32_t r = 0; r < show->rail_count; r++)
        ground->doing[ground->rail_units[r]].unplugged = !now->rail_plugged[r];
}

void sm_ground_look(sm_ground *ground, const sm_snapshot *now) {
    ground->is_preview = false;
    begin_look(ground);
    look_at_slots(ground, now);
    uint32_t lit = now->flying + now->burning_count;
    for (uint32_t i = 0; i < lit && i < now->burning_room; i++) {
        const sm_burning *burning = &now->burning[i];
        add_firing(ground, burning->event, burning->seen_at.us - now->wall.us,
                   burning->out_at.us - now->wall.us);
    }
    for (uint32_t f = 0; f < ground->show->fixture_count; f++) {
        look_at_fixture(ground, f, now->levels);
        sm_doing *doing = &ground->doing[ground->fixture_units[f]];
        if (now->flame_faults[f] != SM_FLAME_AS_TOLD) // a drill: it does not do what it is told
            doing->lit = now->flame_faults[f] == SM_FLAME_STUCK;
        doing->dark = now->fixture_dark[f];
        doing->percent = doing->dark ? 0 : doing->percent;
        doing->held = now->fixture_inhibited[f];
        doing->holdable = 1;
    }
    sum_places(ground, now->fire_at);
}

static sm_result make_timeline(sm_ground *ground) {
    if (!ground->levels)
        ground->levels = malloc(ground->show->channel_count + 1u);
    if (!ground->levels)
        return SM_NO_MEMORY;
    return ground->timeline ? SM_OK : sm_dmx_timeline_create(ground->show, &ground->timeline);
}

sm_result sm_ground_preview(sm_ground *ground, sm_show_time at) {
    const sm_show *show = ground->show;
    if (ground->is_preview && ground->at.us == at.us)
        return SM_OK; // nothing of it moves
    sm_result result = make_timeline(ground);
    if (result != SM_OK)
        return result;
    ground->is_preview = true;
    ground->at = at;
    begin_look(ground);
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const sm_firing *firing = &show->firings[i];
        sm_us seen_us = firing->fire_us + firing->lead_us, out_us = seen_us + firing->lasts_us;
        if (firing->fire_us <= at.us && (at.us < seen_us || at.us < out_us))
            add_firing(ground, firing->event, seen_us - at.us, out_us - at.us);
    }
    for (uint32_t channel = 0; channel < show->channel_count; channel++) {
        sm_dmx_channel now = sm_dmx_channel_at(ground->timeline, channel, at, true);
        ground->levels[channel] = sm_dmx_channel_level(&now, at);
    }
    for (uint32_t f = 0; f < show->fixture_count; f++)
        look_at_fixture(ground, f, ground->levels);
    sum_places(ground, NULL);
    return SM_OK;
}
