// SPDX-License-Identifier: GPL-3.0-or-later
// Which universes hold lights alone. Each fixture is looked at in every universe in which it may stand: its own, and that of each line
// in whose chain it is.
#include "slowmatch/wire.h"

#include "slowmatch/sacn.h"

#include <assert.h>
#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))

// One of WORDS, or its plural, is a word of NAME: signs and figures end a word.
static bool has_word(const char *name, const char *const *words, size_t count) {
    for (const char *at = name; *at != '\0';) {
        size_t length = 0;
        while (isalpha((unsigned char)at[length]))
            length++;
        for (size_t i = 0; i < count; i++) {
            const size_t wanted = strlen(words[i]);
            const bool plural = length == wanted + 1 && tolower((unsigned char)at[wanted]) == 's';
            if ((length == wanted || plural) && strncasecmp(at, words[i], wanted) == 0)
                return true;
        }
        at += length > 0 ? length : 1;
    }
    return false;
}

// Nothing about a lamp has these in it, also within a longer word: "flamejet", "mainvalve".
static bool has_stem(const char *name) {
    static const char *const stems[] = {"flame",  "flamme", "fiamma", "feuer",  "fuel",  "ignit",
                                        "propan", "butan",  "pyro",   "burner", "valve", "thrower"};
    for (size_t i = 0; i < COUNT(stems); i++)
        if (strcasestr(name, stems[i]))
            return true;
    return false;
}

bool sm_wire_sounds_hazardous(const char *name) {
    static const char *const words[] = {"fire",   "firing", "pilot", "gas",   "gaz",   "torch",
                                        "spark",  "permit", "arm",   "shot",  "shoot", "heat",
                                        "safety", "feu",    "fuego", "fuoco", "vuur",  "vlam"};
    return has_stem(name) || has_word(name, words, COUNT(words));
}

bool sm_wire_is_called_flame(const char *name) {
    static const char *const words[] = {"fire", "firing", "jet",   "torch", "spark",
                                        "feu",  "fuego",  "fuoco", "vuur",  "vlam"};
    return has_stem(name) || has_word(name, words, COUNT(words));
}

bool sm_wire_profile_burns(const sm_profile *profile) {
    return !isnan(profile->burn_ml_s) || !isnan(profile->burn_g_s) || profile->longest_us != SM_UNSET_US ||
           profile->recover_us != SM_UNSET_US;
}

bool sm_wire_burns(const sm_show *show, uint32_t fixture) {
    const sm_fixture *const unit = &show->fixtures[fixture];
    return !isnan(unit->fuel_ml) || !isnan(unit->fuel_g) ||
           (unit->profile != SM_NONE && sm_wire_profile_burns(&show->profiles[unit->profile]));
}

static int compare_places(const void *left, const void *right) {
    const sm_wire_place *a = left, *b = right;
    if (a->universe != b->universe)
        return a->universe < b->universe ? -1 : 1;
    if (a->fixture != b->fixture)
        return a->fixture < b->fixture ? -1 : 1;
    if (a->other_line != b->other_line)
        return b->other_line - a->other_line;
    return b->flame_line - a->flame_line;
}

static size_t count_places(const sm_show *show) {
    size_t count = show->fixture_count;
    for (uint32_t l = 0; l < show->line_count; l++)
        count += 2 * (size_t)show->lines[l].chain_count;
    return count;
}

// Those of lines in another universe than the fixture's own are put in both.
static size_t gather(const sm_show *show, sm_wire_place *all) {
    size_t count = 0;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        all[count++] =
            (sm_wire_place){.universe = show->fixtures[f].universe, .fixture = f, .other = SM_NONE};
    for (uint32_t l = 0; l < show->line_count; l++) {
        const sm_line *line = &show->lines[l];
        const bool flame = sm_wire_is_called_flame(line->name);
        for (uint32_t i = 0; i < line->chain_count; i++) {
            const uint32_t f = line->chain[i];
            if (f == SM_NONE)
                continue;
            sm_wire_place place = {.universe = line->universe,
                                   .fixture = f,
                                   .other = SM_NONE,
                                   .other_line = show->fixtures[f].universe != line->universe,
                                   .flame_line = flame};
            if (place.other_line || flame)
                all[count++] = place;
            place.universe = show->fixtures[f].universe;
            if (place.other_line)
                all[count++] = place;
        }
    }
    return count;
}

static bool is_light(const sm_show *show, uint32_t fixture) {
    const uint32_t profile = show->fixtures[fixture].profile;
    return profile != SM_NONE && show->profiles[profile].light;
}

static sm_wire_why judge_profile(const sm_show *show, uint32_t fixture) {
    const uint32_t number = show->fixtures[fixture].profile;
    if (number == SM_NONE)
        return SM_WIRE_NO_LIGHT;
    const sm_profile *profile = &show->profiles[number];
    if (profile->flame)
        return SM_WIRE_FLAME;
    for (uint32_t c = 0; c < profile->channel_count; c++)
        if (sm_wire_sounds_hazardous(profile->channels[c]))
            return SM_WIRE_SOUNDS;
    if (sm_wire_burns(show, fixture))
        return SM_WIRE_BURNS;
    if (!profile->light)
        return SM_WIRE_NO_LIGHT;
    return sm_wire_is_called_flame(profile->name) || sm_wire_is_called_flame(show->fixtures[fixture].name)
               ? SM_WIRE_CALLED
               : SM_WIRE_LIGHTS_ALONE;
}

// OWNERS[a] is one more than the fixture that has address a of this universe; 0: none yet.
static sm_wire_why judge(const sm_show *show, const sm_wire_place *place, uint32_t owners[SM_SACN_SLOTS + 1],
                         uint32_t *other) {
    const sm_fixture *fixture = &show->fixtures[place->fixture];
    const sm_wire_why why = judge_profile(show, place->fixture);
    if (why != SM_WIRE_LIGHTS_ALONE)
        return why;
    const int64_t last = (int64_t)fixture->address + show->profiles[fixture->profile].channel_count - 1;
    if (fixture->address < 1 || last > SM_SACN_SLOTS || place->universe < 1 ||
        place->universe > SM_SACN_UNIVERSE_MAX)
        return SM_WIRE_OUTSIDE;
    for (int64_t a = fixture->address; a <= last; a++) {
        if (owners[a] != 0 && owners[a] != place->fixture + 1) {
            *other = owners[a] - 1;
            return SM_WIRE_OVERLAP;
        }
        owners[a] = place->fixture + 1;
    }
    return place->other_line   ? SM_WIRE_OTHER_LINE
           : place->flame_line ? SM_WIRE_FLAME_LINE
                               : SM_WIRE_LIGHTS_ALONE;
}

sm_result sm_wire_places(const sm_show *show, sm_wire_place **out, size_t *count) {
    uint32_t owners[SM_SACN_SLOTS + 1] = {0};
    sm_wire_place *all = calloc(count_places(show) + 1, sizeof *all);
    if (!all)
        return SM_NO_MEMORY;
    const size_t gathered = gather(show, all);
    size_t kept = 0;
    qsort(all, gathered, sizeof *all, compare_places);
    for (size_t i = 0; i < gathered; i++) {
        sm_wire_place place = all[i];
        const bool follows = kept > 0 && all[kept - 1].universe == place.universe;
        if (follows && all[kept - 1].fixture == place.fixture) // the first says most: it is on another's line
            continue;
        if (!follows)
            memset(owners, 0, sizeof owners);
        place.why = judge(show, &place, owners, &place.other);
        all[kept++] = place;
    }
    *out = all;
    *count = kept;
    return SM_OK;
}

sm_result sm_wire_survey(const sm_show *show, sm_wire_universe **out, size_t *count) {
    sm_wire_place *places;
    size_t place_count, used = 0;
    const sm_result result = sm_wire_places(show, &places, &place_count);
    if (result != SM_OK)
        return result;
    sm_wire_universe *universes = calloc(place_count + 1, sizeof *universes);
    for (size_t i = 0; universes && i < place_count; i++) {
        const sm_wire_place *place = &places[i];
        if (i == 0 || place->universe != places[i - 1].universe)
            universes[used++] = (sm_wire_universe){
                .number = place->universe, .fixture = SM_NONE, .other = SM_NONE, .why = SM_WIRE_LIGHTS_ALONE};
        sm_wire_universe *universe = &universes[used - 1];
        universe->lights += is_light(show, place->fixture);
        if (place->why == SM_WIRE_LIGHTS_ALONE || universe->why != SM_WIRE_LIGHTS_ALONE)
            continue;
        universe->why = place->why;
        universe->fixture = place->fixture;
        universe->other = place->other;
    }
    free(places);
    if (!universes)
        return SM_NO_MEMORY;
    *out = universes;
    *count = used;
    return SM_OK;
}

static void put_why(const sm_show *show, sm_wire_why why, uint32_t number, uint32_t other, sm_text *out) {
    static const char *const words[] = {
        [SM_WIRE_LIGHTS_ALONE] = "",
        [SM_WIRE_FLAME] = "is a flame unit",
        [SM_WIRE_SOUNDS] = "has a channel that sounds like flame",
        [SM_WIRE_BURNS] = "holds fuel or is told how it burns",
        [SM_WIRE_NO_LIGHT] = "is not marked `wire` light",
        [SM_WIRE_CALLED] = "is called like a flame unit; only what is none gets another name",
        [SM_WIRE_OUTSIDE] = "takes addresses outside 1 to 512",
        [SM_WIRE_OVERLAP] = "shares an address with ",
        [SM_WIRE_OTHER_LINE] = "stands on a line of another universe",
        [SM_WIRE_FLAME_LINE] = "stands on a line that is called like one of flame units",
    };
    static_assert(sizeof words / sizeof words[0] == SM_WIRE_WHY_COUNT, "words for each");
    const sm_fixture *fixture = &show->fixtures[number];
    const char *profile = fixture->profile == SM_NONE ? "no profile" : show->profiles[fixture->profile].name;
    sm_text_printf(out, "%s (%s) %s%s", fixture->name, profile, words[why],
                   other == SM_NONE ? "" : show->fixtures[other].name);
}

void sm_wire_put_why(const sm_show *show, const sm_wire_universe *universe, sm_text *out) {
    put_why(show, universe->why, universe->fixture, universe->other, out);
}

void sm_wire_put_place_why(const sm_show *show, const sm_wire_place *place, sm_text *out) {
    put_why(show, place->why, place->fixture, place->other, out);
}
