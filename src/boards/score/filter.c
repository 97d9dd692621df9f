// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/score/filter.h"

#include "boards/words/slots_and_flames.h"

#include <stdio.h>
#include <string.h>

sm_filter sm_filter_all(void) {
    return (sm_filter){
        .rail = SM_NONE, .position = SM_NONE, .fixture = SM_NONE, .effect = SM_NONE, .universe = -1};
}

bool sm_filter_names_any(const sm_filter *filter) {
    return filter->kinds != 0 || filter->zone != SM_ZONE_NONE || filter->rail != SM_NONE ||
           filter->position != SM_NONE || filter->fixture != SM_NONE || filter->effect != SM_NONE ||
           filter->universe >= 0;
}

// ---- reading ------------------------------------------------------------------------------------

static bool has_universe(const sm_show *show, int32_t universe) {
    for (uint32_t f = 0; f < show->fixture_count; f++)
        if (show->fixtures[f].universe == universe)
            return true;
    return false;
}

static sm_result read_universe(const sm_show *show, const char *name, sm_filter *out, char why[200]) {
    int32_t universe;
    if (sm_integer_read(name, strlen(name), &universe) != SM_OK || !has_universe(show, universe)) {
        snprintf(why, 200, "universe '%.40s' has no fixture in this show: a number such as 1", name);
        return SM_INVALID;
    }
    out->universe = universe;
    return SM_OK;
}

static const struct {
    const char *word;
    unsigned kind;
} kind_words[] = {{"pyro", SM_FILTER_PYRO}, {"flame", SM_FILTER_FLAME}, {"light", SM_FILTER_LIGHT}};
enum { KIND_WORDS = sizeof kind_words / sizeof kind_words[0] };

// A word that says all by itself. False: it is none.
static bool read_kind(const char *word, sm_filter *out) {
    for (size_t i = 0; i < KIND_WORDS; i++) {
        if (strcmp(word, kind_words[i].word) == 0) {
            out->kinds |= kind_words[i].kind;
            return true;
        }
    }
    out->wrong = out->wrong || strcmp(word, "wrong") == 0;
    return strcmp(word, "wrong") == 0;
}

static bool read_zone(const char *name, sm_filter *out) {
    for (int zone = SM_ZONE_NONE + 1; zone < SM_ZONE_COUNT; zone++) {
        if (strcmp(name, sm_zone_text((sm_zone)zone)) == 0) {
            out->zone = (sm_zone)zone;
            return true;
        }
    }
    return false;
}

// The kinds of thing that can be named, and where their row goes.
typedef struct named_kind {
    const char *word;
    uint32_t (*find)(const sm_show *show, const char *name);
    size_t at; // of the row in sm_filter
} named_kind;

static const named_kind kinds[] = {
    {"rail", sm_rail_find, offsetof(sm_filter, rail)},
    {"fixture", sm_fixture_find, offsetof(sm_filter, fixture)},
    {"position", sm_position_find, offsetof(sm_filter, position)},
    {"effect", sm_effect_find, offsetof(sm_filter, effect)},
};
enum { KINDS = sizeof kinds / sizeof kinds[0] };

static void put_row(sm_filter *out, const named_kind *kind, uint32_t row) {
    memcpy((char *)out + kind->at, &row, sizeof row);
}

static sm_result read_named(const sm_show *show, const named_kind *kind, const char *name, sm_filter *out,
                            char why[200]) {
    uint32_t row = kind->find(show, name);
    if (row == SM_NONE) {
        snprintf(why, 200, "no %s '%.40s' in this show", kind->word, name);
        return SM_INVALID;
    }
    put_row(out, kind, row);
    return SM_OK;
}

// A name without the word before it: taken where only one thing has it.
static sm_result read_bare(const sm_show *show, const char *name, sm_filter *out, char why[200]) {
    const named_kind *found = NULL;
    uint32_t row = SM_NONE;
    for (size_t i = 0; i < KINDS; i++) {
        uint32_t here = kinds[i].find(show, name);
        if (here != SM_NONE && found) {
            snprintf(why, 200, "'%.40s' is a %s and a %s: say which, such as '%s %.40s'", name, found->word,
                     kinds[i].word, found->word, name);
            return SM_INVALID;
        }
        if (here != SM_NONE) {
            found = &kinds[i];
            row = here;
        }
    }
    if (!found) {
        snprintf(why, 200,
                 "'%.40s' is nothing to look for: pyro, flame, light, wrong, zone, rail, position, effect, "
                 "fixture or "
                 "universe and its name",
                 name);
        return SM_INVALID;
    }
    put_row(out, found, row);
    return SM_OK;
}

// The next word of *TEXT, which moves behind it. False: there is none.
static bool next_word(const char **text, char word[64]) {
    *text += strspn(*text, " ,");
    size_t length = strcspn(*text, " ,");
    snprintf(word, 64, "%.*s", (int)(length < 63 ? length : 63), *text);
    *text += length;
    return length > 0;
}

static sm_result read_word(const sm_show *show, const char *word, const char **text, sm_filter *out,
                           char why[200]) {
    char name[64];
    const char *behind = *text;
    if (read_kind(word, out) || read_zone(word, out))
        return SM_OK;
    if (strcmp(word, "zone") == 0 && next_word(&behind, name)) {
        *text = behind;
        if (read_zone(name, out))
            return SM_OK;
        snprintf(why, 200, "no zone '%.40s': ground, aerial or near", name);
        return SM_INVALID;
    }
    if (strcmp(word, "universe") == 0 && next_word(&behind, name)) {
        *text = behind;
        return read_universe(show, name, out, why);
    }
    for (size_t i = 0; i < KINDS; i++) {
        if (strcmp(word, kinds[i].word) == 0 && next_word(&behind, name)) {
            *text = behind;
            return read_named(show, &kinds[i], name, out, why);
        }
    }
    return read_bare(show, word, out, why);
}

sm_result sm_filter_read(const sm_show *show, const char *text, sm_filter *out, char why[200]) {
    sm_filter read = sm_filter_all();
    char word[64];
    while (next_word(&text, word)) {
        sm_result result = read_word(show, word, &text, &read, why);
        if (result != SM_OK)
            return result;
    }
    *out = read;
    return SM_OK;
}

void sm_filter_format(const sm_filter *filter, const sm_show *show, sm_text *out) {
    const size_t begin = out->length;
    const struct {
        const char *word, *name; // NULL: not set
    } named[] = {
        {"zone", filter->zone != SM_ZONE_NONE ? sm_zone_text(filter->zone) : NULL},
        {"rail", filter->rail != SM_NONE ? show->rails[filter->rail].name : NULL},
        {"position", filter->position != SM_NONE ? show->positions[filter->position].name : NULL},
        {"effect", filter->effect != SM_NONE ? show->effects[filter->effect].name : NULL},
        {"fixture", filter->fixture != SM_NONE ? show->fixtures[filter->fixture].name : NULL},
    };
    for (size_t i = 0; i < KIND_WORDS; i++)
        if (filter->kinds & kind_words[i].kind)
            sm_text_printf(out, "%s%s", out->length > begin ? " and " : "", kind_words[i].word);
    if (filter->kinds != 0)
        sm_text_printf(out, " only");
    for (size_t i = 0; i < sizeof named / sizeof named[0]; i++)
        if (named[i].name)
            sm_text_printf(out, "%s%s %s", out->length > begin ? ", " : "", named[i].word, named[i].name);
    if (filter->universe >= 0)
        sm_text_printf(out, "%suniverse %d", out->length > begin ? ", " : "", filter->universe);
}

// ---- passing -------------------------------------------------------------------------------------

bool sm_slot_went_wrong(const sm_slot_view *slot) {
    return sm_slot_is_left_live(slot->phase) || slot->inhibited;
}

static bool kind_passes(const sm_filter *filter, enum sm_filter_kind kind) {
    return filter->kinds == 0 || (filter->kinds & kind);
}

static bool firing_passes(const sm_filter *filter, const sm_show *show, const sm_firing *firing) {
    uint32_t rail = show->slot_rails[firing->slot];
    return kind_passes(filter, SM_FILTER_PYRO) && filter->universe < 0 && filter->fixture == SM_NONE &&
           (filter->rail == SM_NONE || filter->rail == rail) &&
           (filter->effect == SM_NONE || filter->effect == firing->effect) &&
           (filter->zone == SM_ZONE_NONE || filter->zone == show->effects[firing->effect].zone) &&
           (filter->position == SM_NONE || filter->position == show->rails[rail].position);
}

static bool fixture_passes(const sm_filter *filter, const sm_show *show, uint32_t f) {
    bool flame = show->profiles[show->fixtures[f].profile].flame;
    return kind_passes(filter, flame ? SM_FILTER_FLAME : SM_FILTER_LIGHT) && filter->rail == SM_NONE &&
           filter->effect == SM_NONE && filter->zone == SM_ZONE_NONE &&
           (filter->universe < 0 || filter->universe == show->fixtures[f].universe) &&
           (filter->fixture == SM_NONE || filter->fixture == f) &&
           (filter->position == SM_NONE || filter->position == show->fixtures[f].position);
}

bool sm_filter_passes(const sm_filter *filter, const sm_show *show, uint32_t event) {
    const sm_event *at = &show->events[event];
    return show->cues[at->cue].kind == SM_CUE_FIRE ? firing_passes(filter, show, &show->firings[at->target])
                                                   : fixture_passes(filter, show, at->target);
}
