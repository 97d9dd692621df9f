// SPDX-License-Identifier: GPL-3.0-or-later
// The rows of profiles.csv beyond their schema: channels, home levels, and what makes a flame unit.
#include "show/load.h"

#include <string.h>

enum { CHANNELS_MAX = 256 };

static uint32_t find_channel(const sm_profile *profile, const char *name, size_t length) {
    for (uint32_t i = 0; i < profile->channel_count; i++)
        if (strlen(profile->channels[i]) == length && memcmp(profile->channels[i], name, length) == 0)
            return i;
    return SM_NONE;
}

static bool add_channel(sm_loader *loader, const sm_spot *spot, sm_profile *profile, const char *name,
                        size_t length) {
    char shown[SM_CLIP_BYTES];
    if (!sm_cell_is_name(name, length)) {
        sm_load_error(loader, spot, "value",
                      "\"%s\" is not a name; a name has letters, digits, - and _, and at most 31 of them",
                      sm_load_clip(shown, name, length));
        return false;
    }
    if (find_channel(profile, name, length) != SM_NONE) {
        sm_load_error(loader, spot, "name-clash", "channel %.*s is named twice", (int)length, name);
        return false;
    }
    if (profile->channel_count == CHANNELS_MAX) {
        sm_load_error_figures(loader, spot, "range", CHANNELS_MAX + 1, CHANNELS_MAX, "",
                              "more than %d channels; a profile has at most that many", CHANNELS_MAX);
        return false;
    }
    const char *const kept = sm_load_keep(loader, name, length);
    if (kept)
        profile->channels[profile->channel_count++] = kept;
    return kept != NULL;
}

static uint32_t count_words(const char *text, size_t length) {
    uint32_t count = 0;
    size_t at = 0, word_length;
    while (sm_load_next_word(text, length, &at, &word_length))
        count++;
    return count;
}

static bool read_channels(const sm_table_record *from, sm_profile *profile) {
    size_t length, at = 0, word_length;
    sm_spot spot;
    const char *const text = sm_table_cell_named(from, "channels", &length, NULL, &spot);
    uint32_t room = count_words(text, length);
    if (room > CHANNELS_MAX)
        room = CHANNELS_MAX;
    profile->channels = sm_arena_alloc(from->loader->show->arena, room * sizeof *profile->channels);
    profile->home = sm_arena_alloc(from->loader->show->arena, CHANNELS_MAX);
    if (!profile->channels || !profile->home) {
        from->loader->no_memory = true;
        return false;
    }
    for (const char *word; (word = sm_load_next_word(text, length, &at, &word_length));)
        if (!add_channel(from->loader, &spot, profile, word, word_length))
            return false;
    return profile->channel_count > 0;
}

static bool read_home(const sm_table_record *from, sm_profile *profile) {
    size_t length, at = 0, word_length;
    sm_spot spot;
    bool is_given;
    const char *const text = sm_table_cell_named(from, "home", &length, &is_given, &spot);
    const uint32_t count = count_words(text, length);
    if (!is_given)
        return true;
    if (count != profile->channel_count) {
        sm_load_error_figures(from->loader, &spot, "value", count, profile->channel_count, "",
                              "%u home levels for %u channels; give one for each, or none", (unsigned)count,
                              (unsigned)profile->channel_count);
        return false;
    }
    for (uint32_t i = 0; i < count; i++) {
        const char *const word = sm_load_next_word(text, length, &at, &word_length);
        if (!sm_cell_read_level(from->loader, &spot, word, word_length, &profile->home[i]))
            return false;
    }
    return true;
}

// "128-255", or one level alone.
static bool read_range(sm_loader *loader, const sm_spot *spot, const char *text, size_t length,
                       sm_range *out) {
    const char *const dash = memchr(text, '-', length);
    const size_t low_length = dash ? (size_t)(dash - text) : length;
    char shown[SM_CLIP_BYTES];
    if (!sm_cell_read_level(loader, spot, text, low_length, &out->low))
        return false;
    out->high = out->low;
    if (dash && !sm_cell_read_level(loader, spot, dash + 1, length - low_length - 1, &out->high))
        return false;
    if (out->low <= out->high)
        return true;
    sm_load_error(loader, spot, "value", "\"%s\" is no range of levels: the lower one comes first",
                  sm_load_clip(shown, text, length));
    return false;
}

// "permit 128-255"; *is_given tells whether there is anything.
static bool read_channel_range(const sm_table_record *from, const char *column, const sm_profile *profile,
                               uint32_t *channel, sm_range *range, bool *is_given) {
    size_t length, at = 0, name_length, range_length, rest;
    sm_spot spot;
    char shown[SM_CLIP_BYTES];
    const char *const text = sm_table_cell_named(from, column, &length, is_given, &spot);
    if (!*is_given)
        return true;
    const char *const name = sm_load_next_word(text, length, &at, &name_length);
    const char *const levels = sm_load_next_word(text, length, &at, &range_length);
    if (!levels || sm_load_next_word(text, length, &at, &rest)) {
        sm_load_error(from->loader, &spot, "value",
                      "\"%s\" is not a channel and its range, such as \"permit 128-255\"",
                      sm_load_clip(shown, text, length));
        return false;
    }
    *channel = find_channel(profile, name, name_length);
    if (*channel == SM_NONE) {
        sm_load_error(from->loader, &spot, "channel-unknown",
                      "%s names channel \"%s\", which profile %s has not", column,
                      sm_load_clip(shown, name, name_length), profile->name);
        return false;
    }
    return read_range(from->loader, &spot, levels, range_length, range);
}

static bool is_home_inside(const sm_table_record *from, const sm_profile *profile, const char *column,
                           uint32_t channel, sm_range range) {
    size_t length;
    sm_spot spot;
    const uint8_t home = profile->home[channel];
    if (home < range.low || home > range.high)
        return false;
    sm_table_cell_named(from, "home", &length, NULL, &spot);
    if (spot.cell == SM_CSV_CELLS_MAX)
        sm_table_cell_named(from, column, &length, NULL, &spot);
    sm_load_error_figures(
        from->loader, &spot, "hazard-home", home, range.low, "",
        "the home level of %s is %u, within the range of %s (%u to %u): at rest it would be on; it "
        "must lie outside",
        profile->channels[channel], (unsigned)home, column, (unsigned)range.low, (unsigned)range.high);
    return true;
}

// A flame unit needs both ranges, and its home levels lie outside them.
static bool judge_hazard(const sm_table_record *from, sm_profile *profile, bool has_enable, bool has_fire) {
    size_t length;
    sm_spot spot;
    sm_table_cell_named(from, "hazard", &length, NULL, &spot);
    if (profile->light && (profile->flame || has_enable || has_fire)) {
        sm_table_cell_named(from, "wire", &length, NULL, &spot);
        sm_load_error(
            from->loader, &spot, "hazard-wired",
            "wire is light, but %s makes flame: what makes flame is never driven; set wire to never",
            profile->name);
        return false;
    }
    if (!profile->flame && !has_enable && !has_fire)
        return true;
    if (!profile->flame) {
        sm_table_cell_named(from, has_enable ? "enable" : "fire", &length, NULL, &spot);
        sm_load_error(from->loader, &spot, "hazard-incomplete",
                      "enable and fire belong to a flame unit, but hazard is none; set hazard to flame");
        return false;
    }
    if (!has_enable || !has_fire) {
        sm_load_error(from->loader, &spot, "hazard-incomplete",
                      "a flame unit needs %s%s%s: a channel and its range", has_enable ? "" : "enable",
                      !has_enable && !has_fire ? " and " : "", has_fire ? "" : "fire");
        return false;
    }
    const bool is_enabled = is_home_inside(from, profile, "enable", profile->enable, profile->enable_range);
    const bool is_on = is_home_inside(from, profile, "fire", profile->fire, profile->fire_range);
    return !is_enabled && !is_on;
}

bool sm_profile_row(const sm_table_record *from, void *row) {
    sm_profile *const profile = row;
    bool has_enable, has_fire;
    profile->enable = profile->fire = SM_NONE;
    sm_rows_split_fuel(from, "burn", "g/s", &profile->burn_ml_s, &profile->burn_g_s);
    if (!read_channels(from, profile) || !read_home(from, profile))
        return false;
    const bool is_enable_good =
        read_channel_range(from, "enable", profile, &profile->enable, &profile->enable_range, &has_enable);
    const bool is_fire_good =
        read_channel_range(from, "fire", profile, &profile->fire, &profile->fire_range, &has_fire);
    return is_enable_good && is_fire_good && judge_hazard(from, profile, has_enable, has_fire);
}
