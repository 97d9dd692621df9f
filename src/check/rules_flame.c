// SPDX-License-Identifier: GPL-3.0-or-later
// Flame units. The walk over the fixture events has noted, for each, the spans in which its enable and its fire channel
// are within their ranges; flame burns where the two overlap. All rules here are sweeps over these lists.
#include "check/rule.h"

#include <math.h>
#include <stdlib.h>

#define LEFT_OPEN_US (10 * SM_US_PER_S)

// The next stretch of touching spans from *AT on, as one; its event is the first one's. False at the end.
static bool next_stretch(const check_spans *spans, size_t *at, check_span *out) {
    if (*at >= spans->count)
        return false;
    *out = spans->spans[*at];
    for (++*at; *at < spans->count && spans->spans[*at].begin_us == out->end_us; ++*at)
        out->end_us = spans->spans[*at].end_us;
    return true;
}

sm_result check_burning(const check_flame *flame, check_spans *out) {
    size_t enable_at = 0, fire_at = 0;
    check_span enable, fire;
    *out = (check_spans){0};
    bool more =
        next_stretch(&flame->enable, &enable_at, &enable) && next_stretch(&flame->fire, &fire_at, &fire);
    while (more) {
        const check_span both = {.begin_us =
                                     fire.begin_us > enable.begin_us ? fire.begin_us : enable.begin_us,
                                 .end_us = fire.end_us < enable.end_us ? fire.end_us : enable.end_us,
                                 .event = fire.event};
        const sm_result result = check_spans_add(out, both);
        if (result != SM_OK) {
            free(out->spans);
            *out = (check_spans){0};
            return result;
        }
        more = fire.end_us <= enable.end_us ? next_stretch(&flame->fire, &fire_at, &fire)
                                            : next_stretch(&flame->enable, &enable_at, &enable);
    }
    return SM_OK;
}

static const sm_fixture *fixture_of(const sm_check *check, const check_flame *flame) {
    return &check->show->fixtures[flame->fixture];
}

static const sm_profile *profile_of(const sm_check *check, const check_flame *flame) {
    return &check->show->profiles[fixture_of(check, flame)->profile];
}

static void put_not_enabled(sm_check *check, const check_flame *flame, const check_span *fire, sm_us from_us,
                            sm_us to_us) {
    const sm_profile *profile = profile_of(check, flame);
    if (!check->enables_judged) {
        check->enables_held_back++;
        return;
    }
    check_put(check, "flame-not-enabled", check_at_event(check, fire->event, "do"),
              (check_figures){FIGURE_SPAN, (double)(to_us - from_us), 0.0, NULL},
              "%s is told %s from %s to %s, and %s is out of %u-%u from %s to %s: no flame then",
              fixture_of(check, flame)->name, profile->channels[profile->fire], MOMENT(fire->begin_us),
              MOMENT(fire->end_us), profile->channels[profile->enable], profile->enable_range.low,
              profile->enable_range.high, MOMENT(from_us), MOMENT(to_us));
}

// The first part of each told flame in which the enable is out of its range.
static void judge_enabled(sm_check *check, const check_flame *flame) {
    size_t at = 0;
    check_span enable = {0};
    bool open = next_stretch(&flame->enable, &at, &enable);
    for (size_t i = 0; i < flame->fire.count; i++) {
        const check_span *fire = &flame->fire.spans[i];
        while (open && enable.end_us <= fire->begin_us)
            open = next_stretch(&flame->enable, &at, &enable);
        if (!open || enable.begin_us >= fire->end_us)
            put_not_enabled(check, flame, fire, fire->begin_us, fire->end_us);
        else if (enable.begin_us > fire->begin_us)
            put_not_enabled(check, flame, fire, fire->begin_us, enable.begin_us);
        else if (enable.end_us < fire->end_us)
            put_not_enabled(check, flame, fire, enable.end_us, fire->end_us);
    }
}

// ENABLE was held open from FROM_US to TO_US without flame; told at the cue that held it open.
static void judge_idle(sm_check *check, const check_flame *flame, size_t holder, sm_us from_us, sm_us to_us,
                       bool after_flame) {
    if (to_us - from_us <= LEFT_OPEN_US)
        return;
    if (!check->enables_judged) {
        check->enables_held_back++;
        return;
    }
    while (holder > 0 && flame->enable.spans[holder].begin_us > from_us)
        holder--;
    const sm_profile *profile = profile_of(check, flame);
    check_put(
        check, "enable-left-open", check_at_event(check, flame->enable.spans[holder].event, "do"),
        (check_figures){FIGURE_SPAN, (double)(to_us - from_us), (double)LEFT_OPEN_US, NULL},
        "%s %s stays open for %s without flame, from %s (%s) to %s; over %s it should be closed between",
        fixture_of(check, flame)->name, profile->channels[profile->enable], SPAN(to_us - from_us),
        MOMENT(from_us), after_flame ? "the last flame's end" : "its opening", MOMENT(to_us),
        SPAN(LEFT_OPEN_US));
}

static void judge_left_open(sm_check *check, const check_flame *flame, const check_spans *burning) {
    size_t at = 0, burn = 0;
    check_span enable;
    while (next_stretch(&flame->enable, &at, &enable)) {
        sm_us idle_us = enable.begin_us;
        bool after_flame = false;
        for (; burn < burning->count && burning->spans[burn].begin_us < enable.end_us; burn++) {
            judge_idle(check, flame, at - 1, idle_us, burning->spans[burn].begin_us, after_flame);
            idle_us = burning->spans[burn].end_us;
            after_flame = true;
        }
        judge_idle(check, flame, at - 1, idle_us, enable.end_us, after_flame);
    }
}

static void judge_burns(sm_check *check, const check_flame *flame, const check_spans *burning) {
    const sm_profile *profile = profile_of(check, flame);
    const char *name = fixture_of(check, flame)->name;
    for (size_t i = 0; i < burning->count; i++) {
        const check_span *burn = &burning->spans[i];
        const sm_us length_us = burn->end_us - burn->begin_us;
        if (profile->longest_us != SM_UNSET_US && length_us > profile->longest_us)
            check_put(check, "flame-too-long", check_at_event(check, burn->event, "lasts"),
                      (check_figures){FIGURE_SPAN, (double)length_us, (double)profile->longest_us, NULL},
                      "%s burns for %s from %s on; its longest is %s", name, SPAN(length_us),
                      MOMENT(burn->begin_us), SPAN(profile->longest_us));
        if (i == 0 || profile->recover_us == SM_UNSET_US)
            continue;
        const sm_us rest_us = burn->begin_us - burning->spans[i - 1].end_us;
        if (rest_us < profile->recover_us)
            check_put(check, "recover-short", check_at_event(check, burn->event, "time"),
                      (check_figures){FIGURE_SPAN, (double)rest_us, (double)profile->recover_us, NULL},
                      "%s flames again %s after its last flame; it recovers in %s", name, SPAN(rest_us),
                      SPAN(profile->recover_us));
    }
}

static void judge_brief(sm_check *check, const check_flame *flame) {
    size_t at = 0;
    check_span told;
    while (next_stretch(&flame->fire, &at, &told)) {
        const sm_us length_us = told.end_us - told.begin_us;
        if (length_us < flame->two_periods_us)
            check_put(
                check, "too-brief", check_at_event(check, told.event, "time"),
                (check_figures){FIGURE_SPAN, (double)length_us, (double)flame->two_periods_us, NULL},
                "%s is told flame for %s; two refreshes of the sender take %s ([dmx] refresh, %.4g Hz), so "
                "it may never come",
                fixture_of(check, flame)->name, SPAN(length_us), SPAN(flame->two_periods_us),
                check->show->settings.refresh_hz);
    }
}

static void judge_fuel(sm_check *check, const check_flame *flame, const check_spans *burning) {
    const sm_fixture *fixture = fixture_of(check, flame);
    const sm_profile *profile = profile_of(check, flame);
    sm_us total_us = 0;
    for (size_t i = 0; i < burning->count; i++)
        total_us += burning->spans[i].end_us - burning->spans[i].begin_us;
    const double seconds = (double)total_us / (double)SM_US_PER_S;
    const bool gas = !isnan(profile->burn_g_s);
    const double used = seconds * (gas ? profile->burn_g_s : profile->burn_ml_s);
    const double held = gas ? fixture->fuel_g : fixture->fuel_ml;
    const bool held_otherwise = !isnan(gas ? fixture->fuel_ml : fixture->fuel_g);
    const char *unit = gas ? "g" : "ml";
    const check_place place = {"fixtures.csv", fixture->line, "fuel"};
    if (!isnan(used) && held_otherwise)
        check_put(check, "fuel-mixed", place, check_no_figures(),
                  "%s burns %s and its fuel is told in %s: the two cannot be held against each other",
                  fixture->name, gas ? "gas in g/s" : "ml/s",
                  gas ? "ml; of a gas it is the mass in the cylinder, in g" : "g");
    if (isnan(used) || isnan(held) || used <= held * (1.0 + 1e-12))
        return;
    check_put(check, "fuel-short", place, (check_figures){FIGURE_PLAIN, used, held, unit},
              "%s burns %.2f s at %.4g %s/s: %.1f %s; it carries %.1f %s", fixture->name, seconds,
              gas ? profile->burn_g_s : profile->burn_ml_s, unit, ceil(used * 10.0) / 10.0, unit, held, unit);
}

// The row that opens or closes an enable may be among those that were left out: then what the others say of it is no finding.
static void tell_held_back(sm_check *check) {
    if (check->enables_held_back > 0)
        check_put_as(
            check, SM_NOTE, "flame-not-enabled", (check_place){"cues.csv", 0, NULL}, check_no_figures(),
            "rows with errors are left out: whether every flame has its enable open, and none stays open, is "
            "judged once they can be read");
}

sm_result check_flame_times(sm_check *check) {
    check->enables_judged = !check_is_incomplete(check, "cues.csv");
    for (uint32_t i = 0; i < check->flame_count; i++) {
        const check_flame *flame = &check->flames[i];
        check_spans burning;
        const sm_result result = check_burning(flame, &burning);
        if (result != SM_OK)
            return result;
        judge_enabled(check, flame);
        judge_left_open(check, flame, &burning);
        judge_burns(check, flame, &burning);
        judge_brief(check, flame);
        judge_fuel(check, flame, &burning);
        free(burning.spans);
    }
    tell_held_back(check);
    return SM_OK;
}

sm_result check_flame_clear(sm_check *check) {
    const sm_show *show = check->show;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        const sm_profile *profile = fixture->profile != SM_NONE ? &show->profiles[fixture->profile] : NULL;
        if (!profile || isnan(profile->clear_m) || fixture->position == SM_NONE)
            continue;
        check_clear_of_people(check, fixture, profile->clear_m);
        const double found_m = sm_site_audience_m(show, fixture->position);
        if (found_m >= profile->clear_m * (1.0 - 1e-9))
            continue;
        const sm_position *position = &show->positions[fixture->position];
        check_put(check, "clear-short", (check_place){"positions.csv", position->line, "y"},
                  (check_figures){FIGURE_FOUND, found_m, profile->clear_m, NULL},
                  "%s at %s is %s from the audience front; the maker of %s asks for %s to people (the "
                  "profile's clear; "
                  "measure on site; local law and the maker go first)",
                  fixture->name, position->name, FOUND_M(found_m), profile->name, NEEDED_M(profile->clear_m));
    }
    return SM_OK;
}
