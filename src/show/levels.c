// SPDX-License-Identifier: GPL-3.0-or-later
// The `do` cells of fixtures. A long show says the same few thousand things over and over, so what a cell
// came to is remembered, for each profile, and equal cells share their levels.
#include "show/load.h"

#include <string.h>

enum { SLOT_TEXT_BYTES = 48 };

// What is remembered of one cell. A later one with the same hash takes its place.
struct sm_do_slot {
    uint32_t profile; // plus 1; 0: empty
    uint32_t levels;
    uint16_t count, length;
    char text[SLOT_TEXT_BYTES];
};

enum { SLOTS = 8192 }; // a power of two; a cache line each

static sm_do_slot *find_slot(sm_cue_reader *cues, const char *text, size_t length, uint32_t profile) {
    const uint64_t hash = sm_hash(text, length) + profile * UINT64_C(0x9E3779B97F4A7C15);
    return &cues->known_dos[(hash ^ hash >> 29) & (SLOTS - 1)];
}

static bool read_pair(sm_loader *loader, const sm_spot *spot, const char *word, size_t length,
                      sm_do_pair *out) {
    const char *const equals = memchr(word, '=', length);
    char shown[SM_CLIP_BYTES];
    if (equals == NULL || equals == word) {
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
        if (grown == NULL) {
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
    for (const char *word; (word = sm_load_next_word(text, length, &at, &word_length)) != NULL;) {
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

// The channel of PAIR; SM_NONE after an error.
static uint32_t find_channel(sm_loader *loader, const sm_spot *spot, const sm_names *channels,
                             const sm_profile *profile, const sm_do_pair *pair) {
    sm_cue_reader *const cues = loader->cues;
    char shown[SM_CLIP_BYTES], hint[SM_HINT_BYTES];
    const sm_name_entry *const found = sm_names_find(channels, pair->name, pair->length);
    if (found == NULL) {
        sm_load_error(loader, spot, "channel-unknown", "profile %s has no channel \"%s\"%s", profile->name,
                      sm_load_clip(shown, pair->name, pair->length),
                      sm_load_hint(loader, hint, pair->name, pair->length, &channels, 1));
        return SM_NONE;
    }
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
static uint32_t append_levels(sm_loader *loader, const sm_spot *spot, uint32_t profile) {
    sm_cue_reader *const cues = loader->cues;
    sm_show *const show = loader->show;
    const sm_names *const channels = channels_of(loader, profile);
    if (channels == NULL || !sm_cues_reserve(loader, &show->levels, show->level_count, cues->pair_count,
                                             sizeof *show->levels, &cues->levels))
        return SM_NONE;
    sm_level *const levels = show->levels + show->level_count;
    uint32_t count = 0;
    cues->channel_mark++;
    for (uint32_t i = 0; i < cues->pair_count; i++) {
        const uint32_t channel =
            find_channel(loader, spot, channels, &show->profiles[profile], &cues->pairs[i]);
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

uint32_t sm_levels_read(sm_loader *loader, const sm_spot *spot, const char *text, size_t length,
                        uint32_t profile, uint16_t *count) {
    sm_cue_reader *const cues = loader->cues;
    sm_do_slot *const slot = find_slot(cues, text, length, profile);
    if (slot->profile == profile + 1 && slot->length == length && memcmp(slot->text, text, length) == 0) {
        *count = slot->count;
        return slot->levels;
    }
    if (!read_pairs(loader, spot, text, length))
        return SM_NONE;
    const uint32_t levels = append_levels(loader, spot, profile);
    *count = (uint16_t)cues->pair_count;
    if (levels != SM_NONE && length <= SLOT_TEXT_BYTES) {
        *slot = (sm_do_slot){
            .profile = profile + 1, .levels = levels, .count = *count, .length = (uint16_t)length};
        memcpy(slot->text, text, length);
    }
    return levels;
}

bool sm_levels_start(sm_loader *loader) {
    sm_cue_reader *const cues = loader->cues;
    const size_t profiles = loader->show->profile_count;
    cues->known_dos = sm_arena_alloc(loader->scratch, SLOTS * sizeof *cues->known_dos);
    cues->channels = sm_arena_alloc(loader->scratch, profiles * sizeof *cues->channels);
    return cues->known_dos != NULL && cues->channels != NULL;
}
