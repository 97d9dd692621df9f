// SPDX-License-Identifier: GPL-3.0-or-later
// The judge trusts nobody: neither the survey that the frame goes by, nor the mask. It counts claims. Every fixture lays a claim on the
// slots of its footprint; a universe is condemned by anything patched in it that is no light, by a claim outside the 512 slots and by
// two claims on one slot.
#include "lights/judge.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { NUMBERS = SM_SACN_UNIVERSE_MAX + 1, NOBODY = -1 };

typedef struct docket {
    bool condemned;
    int64_t owner[SM_SACN_SLOTS]; // show-wide channel, NOBODY
} docket;

struct lights_judge {
    docket *dockets[NUMBERS]; // by universe; NULL: nothing is patched there
};

// A channel called so makes flame or permits it, whatever the profile's mark says.
static bool names_danger(const char *channel) {
    static const char *const dangers[] = {"flame", "fire",    "permit", "fuel",
                                          "spark", "igniter", "arm",    "valve"};
    for (size_t i = 0; i < sizeof dangers / sizeof dangers[0]; i++) {
        const size_t length = strlen(dangers[i]);
        for (const char *at = strcasestr(channel, dangers[i]); at; at = strcasestr(at + 1, dangers[i])) {
            const char before = at > channel ? at[-1] : '-', after = at[length];
            const bool begins = !((before | 32) >= 'a' && (before | 32) <= 'z');
            const bool ends = !((after | 32) >= 'a' && (after | 32) <= 'z') || (after | 32) == 's';
            if (begins && ends)
                return true;
        }
    }
    return false;
}

static bool is_lamp(const sm_show *show, const sm_fixture *fixture) {
    if (fixture->profile >= show->profile_count)
        return false;
    const sm_profile *profile = &show->profiles[fixture->profile];
    bool lamp = profile->light && !profile->flame && profile->enable == SM_NONE && profile->fire == SM_NONE;
    for (uint32_t c = 0; c < profile->channel_count; c++)
        lamp = lamp && !names_danger(profile->channels[c]);
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
        for (size_t s = 0; d && s < SM_SACN_SLOTS; s++)
            d->owner[s] = NOBODY;
        if (d)
            d->condemned = false;
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

// A line joins its chain to its universe, whatever the fixtures say of themselves.
static bool hear_lines(lights_judge *judge, const sm_show *show) {
    for (uint32_t l = 0; l < show->line_count; l++)
        for (uint32_t i = 0; i < show->lines[l].chain_count; i++) {
            const uint32_t f = show->lines[l].chain[i];
            if (f != SM_NONE && show->fixtures[f].universe == show->lines[l].universe)
                continue;
            const int32_t both[2] = {show->lines[l].universe, f == SM_NONE ? 0 : show->fixtures[f].universe};
            for (int n = 0; n < 2; n++) {
                docket *d = open_docket(judge, both[n]);
                if (!d && both[n] >= 1 && both[n] < NUMBERS)
                    return false;
                if (d)
                    d->condemned = true;
            }
        }
    return true;
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
    *out = judge;
    return SM_OK;
}

void lights_judge_destroy(lights_judge *judge) {
    for (int32_t u = 0; judge && u < NUMBERS; u++)
        free(judge->dockets[u]);
    free(judge);
}

// FNV-1a over all that comes before the seal.
static uint32_t seal_of(const lights_verdict *verdict) {
    const uint8_t *bytes = (const uint8_t *)verdict;
    uint32_t seal = UINT32_C(2166136261);
    for (size_t i = 0; i < offsetof(lights_verdict, seal); i++)
        seal = (seal ^ bytes[i]) * UINT32_C(16777619);
    return seal ^ UINT32_C(0x51075EA1);
}

bool lights_verdict_holds(const lights_verdict *verdict) {
    return verdict->seal == seal_of(verdict);
}

bool lights_judge_pass(const lights_judge *judge, int32_t universe, const uint8_t slots[SM_SACN_SLOTS],
                       const uint8_t *levels, lights_verdict *out, char why[SM_LIGHTS_WHY]) {
    const docket *d = universe >= 1 && universe < NUMBERS ? judge->dockets[universe] : NULL;
    lights_verdict verdict;
    memset(&verdict, 0, sizeof verdict);
    if (!d || d->condemned) {
        snprintf(why, SM_LIGHTS_WHY, "universe %d is not one of lights alone", universe);
        return false;
    }
    verdict.universe = universe;
    for (size_t s = 0; s < SM_SACN_SLOTS; s++) {
        if (d->owner[s] == NOBODY && slots[s] != 0) {
            snprintf(why, SM_LIGHTS_WHY, "slot %zu of universe %d is %u and belongs to no light", s + 1,
                     universe, slots[s]);
            return false;
        }
        if (d->owner[s] != NOBODY && levels && slots[s] != levels[d->owner[s]]) {
            snprintf(why, SM_LIGHTS_WHY, "slot %zu of universe %d is %u where its channel stands at %u",
                     s + 1, universe, slots[s], levels[d->owner[s]]);
            return false;
        }
        if (d->owner[s] != NOBODY)
            verdict.owned[s / 8] |= (uint8_t)(1u << s % 8);
        verdict.slots[s] = slots[s];
    }
    verdict.seal = seal_of(&verdict);
    *out = verdict;
    return true;
}
