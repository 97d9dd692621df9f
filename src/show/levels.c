// SPDX-License-Identifier: GPL-3.0-or-later
// The `do` cells of fixtures. A long show says the same few thousand things over and over, so what a cell
// came to is remembered, for each profile, and equal cells share their levels; but for short plain ones, which are read sooner.
#include "show/load.h"

#include <string.h>

enum { SHORT_TEXT_BYTES = 40, SLOT_TEXT_BYTES = 48, SLOTS = 8192 }; // SLOTS is a power of two

// What is remembered of one cell. A later one with the same hash takes its place.
struct sm_do_slot {
    uint32_t profile, levels;
    uint16_t count, length;
    char text[SLOT_TEXT_BYTES];
};

// The number of the cell's slot, and a tag that is never 0.
static uint32_t find_slot(const char *text, size_t length, uint32_t profile, uint32_t *tag) {
    const uint64_t hash = sm_hash(text, length) + profile * UINT64_C(0x9E3779B97F4A7C15);
    *tag = (uint32_t)(hash >> 32) | 1;
    return (uint32_t)(hash ^ hash >> 29) & (SLOTS - 1);
}

static const sm_do_slot *recall(const sm_cue_reader *cues, uint32_t number, uint32_t tag, uint32_t profile,
                                const char *text, size_t length) {
    const sm_do_slot *const slot = &cues->known_dos[number];
    if (cues->do_tags[number] != tag || slot->profile != profile || slot->length != length ||
        memcmp(slot->text, text, length) != 0)
        return NULL;
    return slot;
}

// The neighbour takes what would push out another.
static sm_do_slot *slot_for(sm_cue_reader *cues, uint32_t number, uint32_t tag) {
    const uint32_t at = cues->do_tags[number] == 0 ? number : number ^ 1;
    cues->do_tags[at] = tag;
    return &cues->known_dos[at];
}

// ---- the plain way --------------------------------------------------------------

// Reads digits up to the end of a word: a level of 0 to 255. Returns where it ends, NULL if it is anything else.
static const char *read_plain_level(const char *at, const char *end, uint8_t *out) {
    unsigned value = 0;
    const char *const begin = at;
    for (; at < end && *at >= '0' && *at <= '9' && at - begin < 3; at++)
        value = value * 10 + (unsigned)(*at - '0');
    if (at == begin || value > 255 || (at < end && *at != ' '))
        return NULL;
    *out = (uint8_t)value;
    return at;
}

// Most cells name their channels in the profile's order, with plain levels and one blank between: these are read in one
// go. Returns how many LEVELS there are (room for one a channel), 0 for any other cell, which the careful way reads.
static uint32_t read_plain(const sm_names *channels, const char *text, size_t length, sm_level *levels) {
    const char *at = text;
    const char *const end = text + length;
    uint32_t count = 0;
    for (uint32_t i = 0; i < channels->count; i++) {
        const sm_name_entry *const name = &channels->entries[i];
        if ((size_t)(end - at) <= name->length || at[name->length] != '=' ||
            memcmp(at, name->text, name->length) != 0)
            continue;
        levels[count].channel = (uint8_t)i;
        at = read_plain_level(at + name->length + 1, end, &levels[count].level);
        if (!at)
            return 0;
        count++;
        if (at++ == end)
            return count;
    }
    return 0;
}

// ---- the careful way --------------------------------------------------------------

static bool read_pair(sm_loader *loader, const sm_spot *spot, const char *word, size_t length,
                      sm_do_pair *out) {
    const char *const equals = memchr(word, '=', length);
    char shown[SM_CLIP_BYTES];
    if (!equals || equals == word) {
        sm_load_error(loader, spot, "value", "\"%s\" is not channel=level, which is what a fixture does",
                      sm_load_clip(shown, word, length));
        return false;
    }
    const size_t name_length = (size_t)(equals - word);
    *out = (sm_do_pair){.name = word, .length = (uint32_t)name_length};
    return sm_cell_read_level(loader, spot, equals + 1, length - name_length - 1, &out->level);
}

static bool add_pair(sm_loader *loader, sm_do_pair pair) {
    sm_cue_reader *const cues = loader->cues;
    if (cues->pair_count == cues->pair_capacity) {
        const uint32_t capacity = cues->pair_capacity > 0 ? cues->pair_capacity * 2 : 64;
        sm_do_pair *const grown = sm_arena_resize(loader->scratch, cues->pairs, capacity * sizeof *grown);
        if (!grown) {
            loader->no_memory = true;
            return false;
        }
        cues->pairs = grown;
        cues->pair_capacity = capacity;
    }
    cues->pairs[cues->pair_count++] = pair;
    return true;
}

// Takes the cell apart, once for all profiles.
static bool read_pairs(sm_loader *loader, const sm_spot *spot, const char *text, size_t length) {
    sm_cue_reader *const cues = loader->cues;
    size_t at = 0, word_length;
    if (cues->are_pairs_read)
        return cues->are_pairs_good;
    cues->are_pairs_read = cues->are_pairs_good = true;
    cues->pair_count = 0;
    for (const char *word; (word = sm_load_next_word(text, length, &at, &word_length));) {
        sm_do_pair pair;
        const bool is_good = read_pair(loader, spot, word, word_length, &pair) && add_pair(loader, pair);
        cues->are_pairs_good = is_good && cues->are_pairs_good;
    }
    return cues->are_pairs_good;
}

// The channels of PROFILE by name, made when first asked for; NULL when memory runs out.
static const sm_names *channels_of(sm_loader *loader, uint32_t profile) {
    sm_names *const names = &loader->cues->channels[profile];
    const sm_profile *const row = &loader->show->profiles[profile];
    for (uint32_t i = names->count; i < row->channel_count; i++) {
        if (sm_names_add(names, loader->scratch, row->channels[i], strlen(row->channels[i]), i) != SM_OK) {
            loader->no_memory = true;
            return NULL;
        }
    }
    return names;
}

static uint32_t refuse_channel(sm_loader *loader, const sm_spot *spot, const sm_names *channels,
                               const sm_profile *profile, const sm_do_pair *pair) {
    char shown[SM_CLIP_BYTES], hint[SM_HINT_BYTES];
    sm_load_error(loader, spot, "channel-unknown", "profile %s has no channel \"%s\"%s", profile->name,
                  sm_load_clip(shown, pair->name, pair->length),
                  sm_load_hint(loader, hint, pair->name, pair->length, &channels, 1));
    return SM_NONE;
}

// The channel of PAIR; SM_NONE after an error. GUESS is tried first: cells mostly name channels in their order.
static uint32_t find_channel(sm_loader *loader, const sm_spot *spot, const sm_names *channels,
                             const sm_profile *profile, const sm_do_pair *pair, uint32_t guess) {
    sm_cue_reader *const cues = loader->cues;
    const sm_name_entry *found = guess < channels->count ? &channels->entries[guess] : NULL;
    if (!found || found->length != pair->length || memcmp(found->text, pair->name, pair->length) != 0)
        found = sm_names_find(channels, pair->name, pair->length);
    if (!found)
        return refuse_channel(loader, spot, channels, profile, pair);
    if (cues->channel_marks[found->value] == cues->channel_mark) {
        sm_load_error(loader, spot, "channel-repeated", "channel %s is told two levels in one cell",
                      found->text);
        return SM_NONE;
    }
    cues->channel_marks[found->value] = cues->channel_mark;
    return found->value;
}

static void insert_level(sm_level *levels, uint32_t count, sm_level level) {
    uint32_t at = count;
    for (; at > 0 && levels[at - 1].channel > level.channel; at--)
        levels[at] = levels[at - 1];
    levels[at] = level;
}

// Appends the pairs as levels of PROFILE; SM_NONE after an error.
static uint32_t append_pairs(sm_loader *loader, const sm_spot *spot, const sm_names *channels,
                             uint32_t profile) {
    sm_cue_reader *const cues = loader->cues;
    sm_show *const show = loader->show;
    if (!sm_cues_reserve(loader, &show->levels, show->level_count, cues->pair_count, sizeof *show->levels,
                         &cues->levels))
        return SM_NONE;
    sm_level *const levels = show->levels + show->level_count;
    uint32_t count = 0, channel = 0;
    cues->channel_mark++;
    for (uint32_t i = 0; i < cues->pair_count; i++) {
        channel = find_channel(loader, spot, channels, &show->profiles[profile], &cues->pairs[i],
                               channel + (i > 0));
        if (channel != SM_NONE) {
            insert_level(levels, count,
                         (sm_level){.channel = (uint8_t)channel, .level = cues->pairs[i].level});
            count++;
        }
    }
    if (count < cues->pair_count)
        return SM_NONE;
    show->level_count += count;
    return show->level_count - count;
}

void sm_levels_begin(sm_cue_reader *cues) {
    cues->are_pairs_read = false;
}

// Appends the levels of a cell that is written plainly; SM_NONE for any other.
static uint32_t append_plain(sm_loader *loader, const sm_names *channels, const char *text, size_t length,
                             uint16_t *count) {
    sm_show *const show = loader->show;
    if (!sm_cues_reserve(loader, &show->levels, show->level_count, channels->count, sizeof *show->levels,
                         &loader->cues->levels))
        return SM_NONE;
    const uint32_t plain = read_plain(channels, text, length, show->levels + show->level_count);
    if (plain == 0)
        return SM_NONE;
    *count = (uint16_t)plain;
    show->level_count += plain;
    return show->level_count - plain;
}

// The levels of a cell that is not remembered; SM_NONE after an error.
static uint32_t read_cell(sm_loader *loader, const sm_spot *spot, const sm_names *channels, const char *text,
                          size_t length, uint32_t profile, uint16_t *count) {
    sm_cue_reader *const cues = loader->cues;
    const uint32_t plain = append_plain(loader, channels, text, length, count);
    if (plain != SM_NONE)
        return plain;
    if (!read_pairs(loader, spot, text, length))
        return SM_NONE;
    *count = (uint16_t)cues->pair_count;
    return append_pairs(loader, spot, channels, profile);
}

// Where looking up takes longer than reading, and the levels are few. SM_NONE: it is no such cell.
static uint32_t read_short(sm_loader *loader, const sm_names *channels, const char *text, size_t length,
                           uint16_t *count) {
    return length <= SHORT_TEXT_BYTES ? append_plain(loader, channels, text, length, count) : SM_NONE;
}

uint32_t sm_levels_read(sm_loader *loader, const sm_spot *spot, const char *text, size_t length,
                        uint32_t profile, uint16_t *count) {
    sm_cue_reader *const cues = loader->cues;
    const sm_names *const channels = channels_of(loader, profile);
    if (!channels)
        return SM_NONE;
    const uint32_t plain = read_short(loader, channels, text, length, count);
    if (plain != SM_NONE)
        return plain;
    uint32_t tag;
    const uint32_t number = find_slot(text, length, profile, &tag);
    const sm_do_slot *known = recall(cues, number, tag, profile, text, length);
    if (!known)
        known = recall(cues, number ^ 1, tag, profile, text, length);
    if (known) {
        *count = known->count;
        return known->levels;
    }
    const uint32_t levels = read_cell(loader, spot, channels, text, length, profile, count);
    if (levels != SM_NONE && length <= SLOT_TEXT_BYTES) {
        sm_do_slot *const slot = slot_for(cues, number, tag);
        slot->profile = profile;
        slot->levels = levels;
        slot->count = *count;
        slot->length = (uint16_t)length;
        memcpy(slot->text, text, length);
    }
    return levels;
}

void sm_levels_restart(sm_cue_reader *cues) {
    memset(cues->do_tags, 0, SLOTS * sizeof *cues->do_tags);
}

bool sm_levels_start(sm_loader *loader) {
    sm_cue_reader *const cues = loader->cues;
    const size_t profiles = loader->show->profile_count;
    cues->known_dos = sm_arena_alloc(loader->scratch, SLOTS * sizeof *cues->known_dos);
    cues->do_tags = sm_arena_alloc(loader->scratch, SLOTS * sizeof *cues->do_tags);
    cues->channels = sm_arena_alloc(loader->scratch, profiles * sizeof *cues->channels);
    return cues->known_dos && cues->do_tags && cues->channels;
}
