// SPDX-License-Identifier: GPL-3.0-or-later
// The totals of a show.
#include "check/rule.h"
#include "check/rules_stock.h"
#include "check/universes.h"

#include <math.h>
#include <stdlib.h>

static bool make_arrays(const sm_show *show, sm_check_summary *s) {
    s->modules = sm_arena_alloc(s->arena, ((size_t)show->module_count + 1) * sizeof *s->modules);
    s->rails = sm_arena_alloc(s->arena, ((size_t)show->rail_count + 1) * sizeof *s->rails);
    s->effects = sm_arena_alloc(s->arena, ((size_t)show->effect_count + 1) * sizeof *s->effects);
    s->universes = sm_arena_alloc(s->arena, ((size_t)show->fixture_count + 1) * sizeof *s->universes);
    s->units = sm_arena_alloc(s->arena, ((size_t)show->fixture_count + 1) * sizeof *s->units);
    s->supplies = sm_arena_alloc(s->arena, ((size_t)show->feed_count + 1) * sizeof *s->supplies);
    s->sounds = sm_arena_alloc(s->arena, ((size_t)show->position_count + 1) * sizeof *s->sounds);
    return s->sounds && s->modules && s->rails && s->effects && s->universes && s->units && s->supplies;
}

static void name_shares(const sm_show *show, sm_check_summary *s) {
    s->module_count = show->module_count;
    s->rail_count = show->rail_count;
    s->effect_count = show->effect_count;
    for (uint32_t m = 0; m < show->module_count; m++)
        s->modules[m] =
            (sm_check_share){.name = show->modules[m].name, .slots = (uint32_t)show->modules[m].slots};
    for (uint32_t r = 0; r < show->rail_count; r++) {
        s->rails[r] = (sm_check_share){.name = show->rails[r].name, .slots = (uint32_t)show->rails[r].slots};
        s->slots += s->rails[r].slots;
    }
    for (uint32_t e = 0; e < show->effect_count; e++)
        s->effects[e] = (sm_check_share){.name = show->effects[e].name};
}

static void count_firings(const sm_show *show, sm_check_summary *s) {
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const sm_firing *firing = &show->firings[i];
        const uint32_t rail = show->slot_rails[firing->slot];
        const uint32_t module = show->rails[rail].module;
        const uint32_t fresh = show->slot_firings[firing->slot] == i ? 1 : 0;
        s->rails[rail].events++;
        s->rails[rail].slots_used += fresh;
        s->slots_used += fresh;
        if (module != SM_NONE) {
            s->modules[module].events++;
            s->modules[module].slots_used += fresh;
        }
        if (firing->effect != SM_NONE)
            s->effects[firing->effect].events++;
    }
}

static sm_result count_universes(const sm_show *show, sm_check_summary *s) {
    check_universe *universes;
    size_t count;
    const sm_result result = check_universes(show, s->arena, &universes, &count);
    uint32_t *of_fixture = sm_arena_alloc(s->arena, ((size_t)show->fixture_count + 1) * sizeof *of_fixture);
    if (result != SM_OK || !of_fixture)
        return SM_NO_MEMORY;
    for (size_t u = 0; u < count; u++)
        s->universes[u] = (sm_check_share){.universe = universes[u].number};
    for (uint32_t f = 0; f < show->fixture_count; f++)
        of_fixture[f] = (uint32_t)check_universe_find(universes, count, show->fixtures[f].universe);
    // Firings are in the order of events: what lies between them are fixtures' events.
    for (uint32_t i = 0, firing = 0; i < show->event_count; i++)
        if (firing < show->firing_count && show->firings[firing].event == i)
            firing++;
        else
            s->universes[of_fixture[show->events[i].target]].events++;
    s->universe_count = (uint32_t)count;
    return SM_OK;
}

static sm_result sum_units(const sm_show *show, sm_check_summary *s) {
    sm_check check = {.show = show, .arena = s->arena};
    sm_result result = check_follow_fixtures(&check, true);
    for (uint32_t i = 0; result == SM_OK && i < check.flame_count; i++) {
        const check_flame *flame = &check.flames[i];
        const sm_fixture *fixture = &show->fixtures[flame->fixture];
        check_spans burning;
        result = check_burning(flame, &burning);
        if (result != SM_OK)
            break;
        sm_us total_us = 0;
        sm_check_burn *burns = sm_arena_alloc(s->arena, (burning.count + 1) * sizeof *burns);
        for (size_t b = 0; burns && b < burning.count; b++) {
            burns[b] = (sm_check_burn){burning.spans[b].begin_us, burning.spans[b].end_us};
            total_us += burns[b].end_us - burns[b].begin_us;
        }
        free(burning.spans);
        if (!burns) {
            result = SM_NO_MEMORY;
            break;
        }
        const double seconds = (double)total_us / (double)SM_US_PER_S;
        s->units[i] = (sm_check_unit){.name = fixture->name,
                                      .fixture = flame->fixture,
                                      .burns = burns,
                                      .burn_count = (uint32_t)burning.count,
                                      .burn_s = seconds,
                                      .used_ml = seconds * show->profiles[fixture->profile].burn_ml_s,
                                      .fuel_ml = fixture->fuel_ml,
                                      .used_g = seconds * show->profiles[fixture->profile].burn_g_s,
                                      .fuel_g = fixture->fuel_g};
        s->unit_count++;
    }
    check_free_flames(&check);
    return result;
}

static sm_result sum_supplies(const sm_show *show, sm_check_summary *s) {
    sm_site_feed *feeds = sm_arena_alloc(s->arena, ((size_t)show->feed_count + 1) * sizeof *feeds);
    if (!feeds)
        return SM_NO_MEMORY;
    const sm_result result = sm_site_feeds(show, feeds);
    for (uint32_t f = 0; result == SM_OK && f < show->feed_count; f++)
        s->supplies[f] = (sm_check_supply){.name = show->feeds[f].name,
                                           .watts = feeds[f].watts,
                                           .va = feeds[f].va,
                                           .inrush_amps = feeds[f].inrush_amps,
                                           .amps = feeds[f].amps,
                                           .breaker_amps = show->feeds[f].breaker_amps};
    s->supply_count = show->feed_count;
    return result;
}

static void look_at_air(const sm_show *show, sm_check_summary *s) {
    s->propane_bar = (double)NAN;
    for (uint32_t u = 0; u < s->unit_count; u++)
        if (!isnan(s->units[u].used_g))
            s->propane_bar = sm_site_propane_bar(show->settings.air_c);
    s->sound_to_front_s = sm_site_sound_to_front_s(show);
    s->sound_count = isnan(s->sound_to_front_s) ? 0 : show->position_count;
    for (uint32_t p = 0; p < s->sound_count; p++)
        s->sounds[p] = (sm_check_sound){
            show->positions[p].name, sm_site_sound_s(show, show->positions[p].x_m, show->positions[p].y_m)};
}

static sm_result fill(const sm_show *show, sm_check_summary *s) {
    s->events = show->event_count;
    s->pyro = show->firing_count;
    s->fixture = show->event_count - show->firing_count;
    s->length_us = show->length_us;
    s->any = show->event_count > 0;
    if (s->any) {
        s->first_us = sm_event_due_us(show, show->order[0]);
        s->last_us = sm_event_due_us(show, show->order[show->event_count - 1]);
    }
    name_shares(show, s);
    count_firings(show, s);
    sm_result result = count_universes(show, s);
    if (result == SM_OK)
        result = sum_units(show, s);
    if (result == SM_OK)
        result = sum_supplies(show, s);
    look_at_air(show, s);
    return result == SM_OK ? check_count_stock(show, s) : result;
}

sm_result sm_check_summary_create(const sm_show *show, sm_check_summary **out) {
    sm_check_summary *summary = calloc(1, sizeof *summary);
    if (!summary)
        return SM_NO_MEMORY;
    summary->arena = sm_arena_create();
    sm_result result = SM_NO_MEMORY;
    if (summary->arena && make_arrays(show, summary))
        result = fill(show, summary);
    if (result != SM_OK) {
        sm_check_summary_destroy(summary);
        return result;
    }
    *out = summary;
    return SM_OK;
}

void sm_check_summary_destroy(sm_check_summary *summary) {
    if (!summary)
        return;
    sm_arena_destroy(summary->arena);
    free(summary);
}
