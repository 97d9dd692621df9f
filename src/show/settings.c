// SPDX-License-Identifier: GPL-3.0-or-later
// show.ini into the show's settings.
#include "show/load.h"
#include "show/spreadsheet.h"
#include "show/text_file.h"

#include "slowmatch/ini.h"

#include <math.h>
#include <string.h>

static const char file_name[] = "show.ini";

static const char *key_at(const void *context, size_t index) {
    (void)context;
    return sm_settings_columns[index].name;
}

// Sections and keys as the schema has them, for suggestions.
static const char *section_at(const void *context, size_t index) {
    (void)context;
    return sm_settings_columns[index].section;
}

static const sm_column *find_column(const char *section, const char *key) {
    for (size_t i = 0; i < SM_SETTINGS_COLUMNS; i++) {
        const sm_column *const column = &sm_settings_columns[i];
        if (strcmp(column->section, section) == 0 && (!key || strcmp(column->name, key) == 0))
            return column;
    }
    return NULL;
}

static void refuse_key(sm_loader *loader, const sm_ini_entry *entry) {
    const sm_spot spot = {.file = file_name, .line = entry->line, .column = entry->column};
    for (size_t i = 0; i < SM_SETTINGS_COLUMNS; i++) {
        if (strcmp(sm_settings_columns[i].name, entry->key) != 0)
            continue;
        sm_load_error(loader, &spot, "key-unknown", "[%s] has no key \"%s\"; it belongs under [%s]",
                      entry->section, entry->key, sm_settings_columns[i].section);
        return;
    }
    const char *const nearest = sm_nearest_name(entry->key, SM_SETTINGS_COLUMNS, key_at, NULL);
    sm_load_error(loader, &spot, "key-unknown", "[%s] has no key \"%s\"%s%s%s", entry->section, entry->key,
                  nearest ? "; did you mean " : "", nearest ? nearest : "", nearest ? "?" : "");
}

static void judge_names(sm_loader *loader, const sm_ini *ini) {
    for (size_t i = 0; i < ini->count; i++) {
        const sm_ini_entry *const entry = &ini->entries[i];
        const bool is_section_known = find_column(entry->section, NULL) != NULL;
        if (entry->key && is_section_known && !find_column(entry->section, entry->key))
            refuse_key(loader, entry);
        if (entry->key || is_section_known)
            continue;
        const sm_spot spot = {.file = file_name, .line = entry->line, .column = entry->column};
        const char *const nearest = sm_nearest_name(entry->section, SM_SETTINGS_COLUMNS, section_at, NULL);
        sm_load_error(loader, &spot, "section-unknown", "there is no section [%s]%s%s%s", entry->section,
                      nearest ? "; did you mean [" : "", nearest ? nearest : "", nearest ? "]?" : "");
    }
}

static sm_spot value_spot(const sm_ini_entry *entry) {
    return (sm_spot){.file = file_name, .line = entry->line, .column = entry->value_column};
}

static void read_timecode_start(sm_loader *loader, const sm_spot *spot, const char *text) {
    sm_moment_base *const base = &loader->show->settings.timecode;
    char shown[SM_CLIP_BYTES];
    if (sm_timecode_read(text, strlen(text), base->rate, &base->drop, &base->start_frames) != SM_OK)
        sm_load_error(
            loader, spot, "value",
            "\"%s\" is not a timecode HH:MM:SS:FF that exists at this rate; ; before the frames means "
            "drop-frame, which there is only at 29.97",
            sm_load_clip(shown, text, strlen(text)));
}

static void read_paired(sm_loader *loader, const sm_spot *spot, const sm_column *column, const char *text) {
    sm_show_settings *const settings = &loader->show->settings;
    const size_t length = strlen(text);
    size_t at = 0, word_length;
    char shown[SM_CLIP_BYTES];
    int32_t *const numbers = sm_arena_alloc(loader->show->arena, (length / 2 + 1) * sizeof *numbers);
    if (!numbers) {
        loader->no_memory = true;
        return;
    }
    settings->paired = numbers;
    for (const char *word; (word = sm_load_next_word(text, length, &at, &word_length));) {
        int32_t number;
        if (sm_integer_read(word, word_length, &number) != SM_OK)
            sm_load_error(loader, spot, "value", "\"%s\" is not the number of a remote",
                          sm_load_clip(shown, word, word_length));
        else if (sm_cell_in_range(loader, spot, column, number))
            numbers[settings->paired_count++] = number;
    }
}

static const char *next_measure(const char *text, size_t *length) {
    text += strspn(text, " \t");
    *length = strcspn(text, " \t"); // the number, and its unit where a blank is between
    const char *const unit = text + *length + strspn(text + *length, " \t");
    const size_t letters = strspn(unit, "abcdefghijklmnopqrstuvwxyz");
    if (letters > 0)
        *length = (size_t)(unit - text) + letters;
    return text;
}

// "3 m 12.5 m"; nothing is no place.
static void read_place(sm_loader *loader, const sm_spot *spot, const sm_column *column, const char *text) {
    sm_spot_m place = {(double)NAN, (double)NAN};
    char shown[SM_CLIP_BYTES];
    size_t x_length, y_length;
    const char *const x = next_measure(text, &x_length);
    const char *const y = next_measure(x + x_length, &y_length);
    const bool is_whole = y[y_length + strspn(y + y_length, " \t")] == '\0';
    if (x_length > 0 && (!is_whole || sm_measure_read(SM_QUANTITY_LENGTH, x, x_length, &place.x_m) != SM_OK ||
                         sm_measure_read(SM_QUANTITY_LENGTH, y, y_length, &place.y_m) != SM_OK)) {
        sm_load_error(loader, spot, "value", "\"%s\" is not an x and a y, each a number with m, ft, mm or in",
                      sm_load_clip(shown, text, strlen(text)));
        return;
    }
    if (x_length == 0 || (sm_cell_in_range(loader, spot, column, place.x_m) &&
                          sm_cell_in_range(loader, spot, column, place.y_m)))
        *(sm_spot_m *)(void *)((char *)&loader->show->settings + column->offset) = place;
}

// A show is its folder: what lies elsewhere would not come along.
static void keep_audio_inside(sm_loader *loader, const sm_spot *spot) {
    const char **const audio = &loader->show->settings.audio;
    bool inside = (*audio)[0] != '/';
    for (const char *part = *audio; inside && part; part = strchr(part, '/')) {
        part += *part == '/';
        inside = strncmp(part, "..", 2) != 0 || (part[2] != '/' && part[2] != '\0');
    }
    if (inside)
        return;
    char shown[SM_CLIP_BYTES];
    sm_load_error(loader, spot, "value",
                  "\"%s\" lies outside the show's folder; copy it into the folder and name it",
                  sm_load_clip(shown, *audio, strlen(*audio)));
    *audio = "";
}

static void read_key(sm_loader *loader, const sm_ini *ini, const sm_column *column) {
    const sm_ini_entry *const entry = sm_ini_find(ini, column->section, column->name);
    const bool is_given = entry && entry->value[0] != '\0';
    sm_spot spot = {.file = file_name};
    if (entry)
        spot = value_spot(entry);
    if (!is_given && column->required && (entry || ini->dropped == 0))
        sm_load_error(loader, &spot, "value-missing", "[%s] %s is needed: %s", column->section, column->name,
                      column->help);
    const bool is_place = column->kind == SM_CELL_SPECIAL;
    const char *const text = is_given || (is_place && entry) ? entry->value : column->fallback;
    if (column->kind == SM_CELL_TIMECODE) {
        read_timecode_start(loader, &spot, text);
    } else if (column->kind == SM_CELL_INTEGERS) {
        read_paired(loader, &spot, column, text);
    } else if (is_place) {
        read_place(loader, &spot, column, text);
    } else {
        sm_cell_default(loader, column, &loader->show->settings);
        if (is_given)
            sm_cell_read(loader, &spot, column, text, strlen(text), &loader->show->settings);
        if (column->offset == offsetof(sm_show_settings, audio))
            keep_audio_inside(loader, &spot);
    }
}

// Comments are not inih's business, so they are looked for here.
static void read_comments(sm_loader *loader, const sm_ini *ini, char *bytes, size_t length) {
    uint32_t line = 1;
    for (char *at = bytes; at < bytes + length; line++) {
        char *const found = memchr(at, '\n', (size_t)(bytes + length - at));
        char *const end = found ? found : bytes + length;
        char *const stop = end > at && end[-1] == '\r' ? end - 1 : end;
        const size_t blanks = (size_t)(stop - at) > 0 ? strspn(at, " \t") : 0;
        if (at + blanks < stop && (at[blanks] == '#' || at[blanks] == ';')) {
            *stop = '\0';
            if (sm_allow_read(loader, file_name, line, at + blanks))
                loader->show->allows[loader->show->allow_count - 1].row_line = sm_ini_next_line(ini, line);
        }
        at = end + 1;
    }
}

void sm_settings_read(sm_loader *loader, char *bytes, size_t length) {
    sm_ini ini = {.file = file_name};
    const char *rule;
    size_t count;
    const char *const why =
        sm_spreadsheet_refuse(&sm_show_schema(&count)[SM_SCHEMA_SETTINGS], bytes, length, &rule);
    const sm_spot first = {.file = file_name, .line = 1};
    if (why) {
        sm_load_error(loader, &first, rule, "%s", why);
        return;
    }
    sm_text_clean(file_name, bytes, length, loader->findings);
    if (sm_ini_read(file_name, bytes, length, loader->scratch, loader->findings, &ini) != SM_OK) {
        loader->no_memory = true;
        return;
    }
    judge_names(loader, &ini);
    // Moments are read against the timecode, wherever it stands.
    for (int pass = 0; pass < 2; pass++) {
        for (size_t i = 0; i < SM_SETTINGS_COLUMNS; i++) {
            const bool is_timecode = strncmp(sm_settings_columns[i].name, "timecode", 8) == 0;
            if (is_timecode == (pass == 0))
                read_key(loader, &ini, &sm_settings_columns[i]);
        }
    }
    read_comments(loader, &ini, bytes, length);
}
