// SPDX-License-Identifier: GPL-3.0-or-later
// Profiles that sound like more than light, and units whose addresses look exchanged.
#include "check/rule.h"

#include "slowmatch/wire.h"

#include <math.h>
#include <stdlib.h>

// What burns is no lamp, whatever its channels are called.
static void put_burning_unmarked(sm_check *check) {
    const sm_show *show = check->show;
    for (uint32_t p = 0; p < show->profile_count; p++) {
        const sm_profile *profile = &show->profiles[p];
        if (!profile->flame && sm_wire_profile_burns(profile))
            check_put(
                check, "hazard-unmarked", (check_place){"profiles.csv", profile->line, "hazard"},
                check_no_figures(),
                "%s has burn, longest or recover and no hazard: a flame unit is marked `flame`, with its "
                "enable and fire",
                profile->name);
    }
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        if (fixture->profile == SM_NONE || show->profiles[fixture->profile].flame ||
            sm_wire_profile_burns(&show->profiles[fixture->profile]) || !sm_wire_burns(show, f))
            continue;
        check_put(check, "hazard-unmarked", (check_place){"fixtures.csv", fixture->line, "fuel"},
                  check_no_figures(),
                  "%s holds fuel, and its profile %s has no hazard: a flame unit is marked `flame`, with its "
                  "enable and fire",
                  fixture->name, show->profiles[fixture->profile].name);
    }
}

sm_result check_hazard_marks(sm_check *check) {
    const sm_show *show = check->show;
    for (uint32_t p = 0; p < show->profile_count; p++) {
        const sm_profile *profile = &show->profiles[p];
        uint32_t channel = 0;
        while (channel < profile->channel_count && !sm_wire_sounds_hazardous(profile->channels[channel]))
            channel++;
        if (profile->flame || channel == profile->channel_count)
            continue;
        check_put(check, "hazard-unmarked", (check_place){"profiles.csv", profile->line, "channels"},
                  check_no_figures(),
                  "%s has a channel %s and no hazard: a flame unit is marked `flame`, with its enable and "
                  "fire; only what is none gets another name for the channel",
                  profile->name, profile->channels[channel]);
    }
    put_burning_unmarked(check);
    return SM_OK;
}

// ---- lights on a wire ------------------------------------------------------------------

sm_result check_wire(sm_check *check) {
    const sm_show *show = check->show;
    sm_wire_universe *universes;
    size_t count;
    const sm_result result = sm_wire_survey(show, &universes, &count);
    if (result != SM_OK)
        return result;
    for (size_t i = 0; i < count; i++) {
        const sm_wire_universe *universe = &universes[i];
        if (universe->lights == 0 || universe->why == SM_WIRE_LIGHTS_ALONE)
            continue;
        sm_text why = {0};
        sm_wire_put_why(show, universe, &why);
        check_put(check, "wire-withheld",
                  (check_place){"fixtures.csv", show->fixtures[universe->fixture].line, "universe"},
                  (check_figures){FIGURE_PLAIN, universe->number, (double)NAN, "universe"},
                  "universe %d is never sent on a wire: %s", universe->number, sm_text_get(&why));
        sm_text_deinit(&why);
    }
    free(universes);
    return SM_OK;
}

// ---- exchanged addresses -----------------------------------------------------------------

// F is one of the units that are compared.
static bool is_compared(const sm_show *show, const sm_line *line, uint32_t f, uint32_t profile) {
    return f != SM_NONE && show->fixtures[f].profile == profile &&
           show->fixtures[f].universe == line->universe && show->fixtures[f].address >= 1 &&
           show->fixtures[f].address <= 512;
}

// Whether the units of one profile on LINE stand in the order of their addresses but for two, which are then *a and *b.
static bool two_are_exchanged(const sm_show *show, const sm_line *line, uint32_t profile, uint32_t *a,
                              uint32_t *b) {
    uint32_t before = SM_NONE, falls = 0, first_fall = SM_NONE, last_fall = SM_NONE, units = 0;
    for (uint32_t i = 0; i < line->chain_count; i++) {
        const uint32_t f = line->chain[i];
        if (!is_compared(show, line, f, profile))
            continue;
        units++;
        if (before != SM_NONE && show->fixtures[f].address < show->fixtures[before].address) {
            first_fall = falls == 0 ? before : first_fall;
            last_fall = f;
            falls++;
        }
        before = f;
    }
    *a = first_fall;
    *b = last_fall;
    return falls > 0 && falls <= 2 && units > falls + (units > 2 ? 1 : 0);
}

// With A and B in each other's place every address is above the one before.
static bool in_order_exchanged(const sm_show *show, const sm_line *line, uint32_t a, uint32_t b) {
    int32_t before = INT32_MIN;
    for (uint32_t i = 0; i < line->chain_count; i++) {
        uint32_t f = line->chain[i];
        if (!is_compared(show, line, f, show->fixtures[a].profile))
            continue;
        f = f == a ? b : f == b ? a : f;
        if (show->fixtures[f].address <= before)
            return false;
        before = show->fixtures[f].address;
    }
    return true;
}

static void judge_order(sm_check *check, const sm_line *line, uint32_t profile) {
    const sm_show *show = check->show;
    uint32_t a, b;
    if (!two_are_exchanged(show, line, profile, &a, &b) || !in_order_exchanged(show, line, a, b))
        return;
    const sm_fixture *first = &show->fixtures[a], *second = &show->fixtures[b];
    check_put(check, "addresses-exchanged", (check_place){"fixtures.csv", second->line, "address"},
              (check_figures){FIGURE_PLAIN, second->address, first->address, "address"},
              "%s (%d) and %s (%d), both %s, have each other's place in the order of line %s: are their "
              "addresses exchanged?",
              first->name, first->address, second->name, second->address, show->profiles[profile].name,
              line->name);
}

sm_result check_address_order(sm_check *check) {
    const sm_show *show = check->show;
    for (uint32_t l = 0; l < show->line_count; l++)
        for (uint32_t p = 0; p < show->profile_count; p++)
            judge_order(check, &show->lines[l], p);
    return SM_OK;
}
