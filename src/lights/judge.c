// SPDX-License-Identifier: GPL-3.0-or-later
// The judge trusts nobody: neither the survey that the frame goes by, nor the mask. It counts claims. Every fixture lays a claim on the
// slots of its footprint; a universe is condemned by anything patched in it that is no light, by a claim outside the 512 slots and by
// two claims on one slot.
#include "lights/judge.h"

#include <assert.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { NUMBERS = SM_SACN_UNIVERSE_MAX + 1, NOBODY = -1 };

typedef struct docket {
    bool condemned;
    int64_t owner[SM_SACN_SLOTS];     // show-wide channel, NOBODY
    uint8_t free[SM_SACN_SLOTS];      // 0xFF: nobody's, and 0 alone may stand there
    uint8_t owned[SM_SACN_SLOTS / 8]; // as a verdict has it
    uint16_t owned_at[SM_SACN_SLOTS]; // those with an owner, in rising order
    size_t owned_count;
} docket;

struct lights_judge {
    docket *dockets[NUMBERS]; // by universe; NULL: nothing is patched there
};

// In any word of any name they speak of fire.
static const char *const within[] = {"flame",  "flamme", "fiamma", "feuer",  "fuel",  "ignit",
                                     "propan", "butan",  "pyro",   "burner", "valve", "thrower"};
// As words of their own: of a channel, and of a unit.
static const char *const channels[] = {"fire",   "firing", "pilot", "gas",   "gaz",   "torch",
                                       "spark",  "permit", "arm",   "shot",  "shoot", "heat",
                                       "safety", "feu",    "fuego", "fuoco", "vuur",  "vlam"};
static const char *const units[] = {"fire", "firing", "jet",   "torch", "spark",
                                    "feu",  "fuego",  "fuoco", "vuur",  "vlam"};
#define COUNT(array) (sizeof(array) / sizeof *(array))

// WORD stands at AT, in NAME, by itself or in its plural.
static bool stands_alone(const char *name, const char *at, size_t length) {
    const char before = at > name ? at[-1] : '-';
    const char *after = at + length + ((at[length] | 32) == 's');
    return !((before | 32) >= 'a' && (before | 32) <= 'z') && !((*after | 32) >= 'a' && (*after | 32) <= 'z');
}

// What is called so makes flame or permits it, whatever the profile's mark says.
static bool names_danger(const char *name, const char *const *alone, size_t count) {
    for (size_t i = 0; i < COUNT(within); i++)
        if (strcasestr(name, within[i]))
            return true;
    for (size_t i = 0; i < count; i++)
        for (const char *at = name; (at = strcasestr(at, alone[i])); at++)
            if (stands_alone(name, at, strlen(alone[i])))
                return true;
    return false;
}

static bool is_lamp(const sm_show *show, const sm_fixture *fixture) {
    if (fixture->profile >= show->profile_count)
        return false;
    const sm_profile *profile = &show->profiles[fixture->profile];
    bool lamp = profile->light && !profile->flame && profile->enable == SM_NONE && profile->fire == SM_NONE;
    for (uint32_t c = 0; c < profile->channel_count; c++)
        lamp = lamp && !names_danger(profile->channels[c], channels, COUNT(channels));
    lamp = lamp && !names_danger(profile->name, units, COUNT(units)) &&
           !names_danger(fixture->name, units, COUNT(units));
    // A unit with fuel, or with a flame's times, is no lamp, also where every mark and name was forgotten.
    return lamp && !(fixture->fuel_ml >= 0) && !(fixture->fuel_g >= 0) && !(profile->burn_ml_s >= 0) &&
           !(profile->burn_g_s >= 0) && profile->longest_us == SM_UNSET_US &&
           profile->recover_us == SM_UNSET_US;
}

// NULL: no such universe, or no memory.
static docket *open_docket(lights_judge *judge, int32_t universe) {
    if (universe < 1 || universe >= NUMBERS)
        return NULL;
    docket *d = judge->dockets[universe];
    if (!d) {
        d = judge->dockets[universe] = malloc(sizeof *d);
        if (!d)
            return NULL;
        *d = (docket){0};
        for (size_t s = 0; s < SM_SACN_SLOTS; s++)
            d->owner[s] = NOBODY;
    }
    return d;
}

static void hear_claims(docket *d, const sm_show *show, const sm_fixture *fixture) {
    const sm_profile *profile = &show->profiles[fixture->profile];
    for (uint32_t c = 0; c < profile->channel_count; c++) {
        const int64_t slot = (int64_t)fixture->address - 1 + c;
        if (slot < 0 || slot >= SM_SACN_SLOTS || d->owner[slot] != NOBODY) {
            d->condemned = true;
            return;
        }
        d->owner[slot] = (int64_t)fixture->channel_base + c;
    }
}

static bool hear_fixtures(lights_judge *judge, const sm_show *show) {
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        docket *d = open_docket(judge, fixture->universe);
        if (!d && fixture->universe >= 1 && fixture->universe < NUMBERS)
            return false;
        if (d && !is_lamp(show, fixture))
            d->condemned = true;
        else if (d)
            hear_claims(d, show, fixture);
    }
    return true;
}

// A line joins its chain to its universe, whatever the fixtures say of themselves; one that is called like a flame unit may go on to one.
static bool hear_lines(lights_judge *judge, const sm_show *show) {
    for (uint32_t l = 0; l < show->line_count; l++) {
        const sm_line *line = &show->lines[l];
        const bool burns = names_danger(line->name, units, COUNT(units));
        for (uint32_t i = 0; i < line->chain_count; i++) {
            const uint32_t f = line->chain[i];
            if (f != SM_NONE && show->fixtures[f].universe == line->universe && !burns)
                continue;
            const int32_t both[2] = {line->universe, f == SM_NONE ? 0 : show->fixtures[f].universe};
            for (int n = 0; n < 2; n++) {
                docket *d = open_docket(judge, both[n]);
                if (!d && both[n] >= 1 && both[n] < NUMBERS)
                    return false;
                if (d)
                    d->condemned = true;
            }
        }
    }
    return true;
}

// What is asked forty times a second of each universe, in the form in which it is answered fastest.
static void close_dockets(lights_judge *judge) {
    for (int32_t u = 1; u < NUMBERS; u++)
        for (size_t s = 0; judge->dockets[u] && s < SM_SACN_SLOTS; s++) {
            docket *d = judge->dockets[u];
            d->free[s] = d->owner[s] == NOBODY ? 0xFF : 0;
            d->owned[s / 8] |= (uint8_t)((d->owner[s] != NOBODY) << s % 8);
            if (d->owner[s] != NOBODY)
                d->owned_at[d->owned_count++] = (uint16_t)s;
        }
}

sm_result lights_judge_create(const sm_show *show, lights_judge **out) {
    lights_judge *judge = calloc(1, sizeof *judge);
    if (!judge)
        return SM_NO_MEMORY;
    if (!hear_fixtures(judge, show) || !hear_lines(judge, show)) {
        lights_judge_destroy(judge);
        return SM_NO_MEMORY;
    }
#ifdef SM_LIGHTS_FAULT // planted by tests: it takes the last slot of every universe for a lamp's, and none for condemned
    for (int32_t u = 1; u < NUMBERS; u++)
        if (judge->dockets[u]) {
            judge->dockets[u]->condemned = false;
            judge->dockets[u]->owner[SM_SACN_SLOTS - 1] = 0;
        }
#endif
    close_dockets(judge);
    *out = judge;
    return SM_OK;
}

void lights_judge_destroy(lights_judge *judge) {
    for (int32_t u = 0; judge && u < NUMBERS; u++)
        free(judge->dockets[u]);
    free(judge);
}

// FNV-1a of 64 bits, over words of four bytes: all that comes before the seal.
static uint32_t seal_of(const lights_verdict *verdict) {
    const uint8_t *bytes = (const uint8_t *)verdict;
    uint64_t seal = UINT64_C(14695981039346656037);
    static_assert(offsetof(lights_verdict, seal) % sizeof(uint32_t) == 0, "whole words");
    for (size_t i = 0; i < offsetof(lights_verdict, seal); i += sizeof(uint32_t)) {
        uint32_t word;
        memcpy(&word, bytes + i, sizeof word);
        seal = (seal ^ word) * UINT64_C(1099511628211);
    }
    return (uint32_t)(seal ^ seal >> 32) ^ UINT32_C(0x51075EA1);
}

bool lights_verdict_holds(const lights_verdict *verdict) {
    return verdict->seal == seal_of(verdict);
}

// The first slot that may not be as it is, where there is one. LEVELS as in lights_judge_pass.
static size_t first_wrong(const docket *d, const uint8_t slots[SM_SACN_SLOTS], const uint8_t *levels) {
    size_t s = 0;
    while (s + 1 < SM_SACN_SLOTS &&
           (d->owner[s] == NOBODY ? slots[s] == 0 : !levels || slots[s] == levels[d->owner[s]]))
        s++;
    return s;
}

// The same as a yes or no, which is what it nearly always comes to: no branch, each slot looked at once.
static bool any_wrong(const docket *d, const uint8_t slots[SM_SACN_SLOTS], const uint8_t *levels) {
    uint8_t wrong = 0;
    for (size_t s = 0; s < SM_SACN_SLOTS; s++)
        wrong |= slots[s] & d->free[s];
    for (size_t i = 0; levels && i < d->owned_count; i++)
        wrong |= slots[d->owned_at[i]] ^ levels[d->owner[d->owned_at[i]]];
    return wrong != 0;
}

bool lights_judge_pass(const lights_judge *judge, int32_t universe, const uint8_t slots[SM_SACN_SLOTS],
                       const uint8_t *levels, lights_verdict *out, char why[SM_LIGHTS_WHY]) {
    const docket *d = universe >= 1 && universe < NUMBERS ? judge->dockets[universe] : NULL;
    if (!d || d->condemned) {
        snprintf(why, SM_LIGHTS_WHY, "universe %d is not one of lights alone", universe);
        return false;
    }
    if (any_wrong(d, slots, levels)) {
        const size_t wrong = first_wrong(d, slots, levels);
        if (d->owner[wrong] == NOBODY)
            snprintf(why, SM_LIGHTS_WHY, "slot %zu of universe %d is %u and belongs to no light", wrong + 1,
                     universe, slots[wrong]);
        else
            snprintf(why, SM_LIGHTS_WHY, "slot %zu of universe %d is %u where its channel stands at %u",
                     wrong + 1, universe, slots[wrong], levels[d->owner[wrong]]);
        return false;
    }
    out->universe = universe;
    memcpy(out->slots, slots, sizeof out->slots);
    memcpy(out->owned, d->owned, sizeof out->owned);
    out->seal = seal_of(out);
    return true;
}
