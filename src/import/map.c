// SPDX-License-Identifier: GPL-3.0-or-later
#include "import/map.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#define RATES "24 25 29.97 30"

static const import_map_key keys[] = {
    [IMPORT_KEY_ENCODING] = {"file", "encoding", NULL,
                             "a name that iconv knows, such as UTF-8, UTF-16 or Windows-1252",
                             "how the text is encoded; else by its byte order mark, or by what decodes"},
    [IMPORT_KEY_SEPARATOR] =
        {"file", "separator", "comma semicolon tab bar", NULL,
         "what stands between the cells of a text file; else by what parts most rows alike"},
    [IMPORT_KEY_SHEET] = {"file", "sheet", NULL, "the name of a sheet",
                          "of a spreadsheet, where several hold rows"},
    [IMPORT_KEY_HEADER_ROW] =
        {"file", "header-row", NULL, "a line's number",
         "the row that names the columns; else the first with two headings that are known"},
    [IMPORT_KEY_COLUMN] =
        {"columns", "HEADING",
         "seen fire target effect module slot rail channel level fade lasts id note ignore", NULL,
         "what the column with that heading holds. seen: the time at which it is seen; fire: at which it is "
         "fired; target: slots, fixtures, groups; effect: what a slot does, or channel=level pairs; level: "
         "of "
         "the channel beside it"},
    [IMPORT_KEY_FORMAT] =
        {"time", "format",
         "seconds milliseconds frames days units m:s.f h:m:s.f s:frames m:s:frames h:m:s:frames h:m-for-m:s",
         NULL,
         "how times are written; units: numbers with h, min, s or ms; days: a spreadsheet's shares of a day; "
         "h:m-for-m:s: hours and minutes where minutes and seconds were typed. A comma may stand for the "
         "point"},
    [IMPORT_KEY_RATE] = {"time", "rate", RATES, NULL, "frames a second, of times that count frames"},
    [IMPORT_KEY_IS] = {"time", "is", "seen fire", NULL,
                       "whether a time is when it is seen or when it is fired. What is fired is seen by its "
                       "effect's lead later; "
                       "where the show does not tell the lead the row is left out"},
    [IMPORT_KEY_OFFSET] = {"time", "offset", NULL, "a time, such as -1.5 s or -1:00:00",
                           "added to every time"},
    [IMPORT_KEY_FORM] = {"address", "form", "RAIL-NN module-slot range through-numbered", NULL,
                         "how slots are written. RAIL-NN: as in the show, also glued together (A5); "
                         "module-slot: the module and a "
                         "slot of it, in two columns or one cell (1-32); range: from a slot to a slot of the "
                         "rail or module beside "
                         "it; through-numbered: one number through all modules"},
    [IMPORT_KEY_SLOTS_PER_MODULE] = {"address", "slots-per-module", NULL, "a whole number",
                                     "of slots numbered through all modules"},
    [IMPORT_KEY_MODULE] = {"modules", "TEXT", NULL, "a module of the show",
                           "which module a text or number in the table means; numbers count from 1"},
    [IMPORT_KEY_EFFECT] = {"effects", "TEXT", NULL, "an effect of the show",
                           "which effect a text in the table means"},
    [IMPORT_KEY_LIGHT] =
        {"lights", "TEXT", "light ignore", NULL,
         "in a new show: what has channel=level pairs and is no slot, * for all that have no line of their "
         "own. light: a plain light with "
         "the channels that the list names, at an address that is made up; ignore: its rows are left out. A "
         "flame unit is no plain "
         "light: only a profile tells what opens and what fires it, so import it into a show that has that"},
};
_Static_assert(sizeof keys / sizeof keys[0] == IMPORT_KEYS, "each key has its row");

const import_map_key *import_map_key_at(import_key key) {
    return &keys[key];
}

// The word number NUMBER of WORDS and its length; NULL where there are not as many.
static const char *word_at(const char *words, unsigned number, size_t *length) {
    while (number-- > 0) {
        words += strcspn(words, " ");
        if (*words++ == '\0')
            return NULL;
    }
    *length = strcspn(words, " ");
    return words;
}

char *import_word(import_key key, unsigned number, char buffer[24]) {
    size_t length = 0;
    const char *const word = word_at(keys[key].words, number, &length);
    snprintf(buffer, 24, "%.*s", (int)length, word ? word : "");
    return buffer;
}

static unsigned find_word(const char *words, const char *value) {
    size_t length;
    const char *word;
    for (unsigned i = 0; (word = word_at(words, i, &length)); i++)
        if (strlen(value) == length && memcmp(word, value, length) == 0)
            return i;
    return UINT_MAX;
}

static bool is_any(const import_map_key *key) {
    return key->key[0] >= 'A' && key->key[0] <= 'Z';
}

static import_key find_key(const char *section, const char *name) {
    unsigned i = 0;
    while (i < IMPORT_KEYS && (strcmp(keys[i].section, section) != 0 ||
                               (name && !is_any(&keys[i]) && strcmp(keys[i].key, name) != 0)))
        i++;
    return (import_key)i;
}

static const char *key_at(const void *context, size_t index) {
    (void)context;
    return keys[index].key;
}

static void refuse(sm_findings *findings, const char *file, const sm_ini_entry *entry, const char *what) {
    sm_findings_add(findings, file, entry->line, entry->value_column, SM_ERROR, "import-map",
                    "\"%s\" is not %s", entry->value, what);
}

// "-1.5 s", "-1:00:00".
static bool read_offset(const char *text, sm_us *out) {
    const bool is_negative = *text == '-';
    const sm_moment_base base = {.rate = SM_TC_25};
    text += is_negative || *text == '+';
    text += strspn(text, " ");
    sm_us value;
    if (sm_span_read(text, strlen(text), SM_US_PER_S, &value) != SM_OK &&
        (*text == '-' || sm_moment_read(text, strlen(text), &base, &value) != SM_OK))
        return false;
    *out = is_negative ? -value : value;
    return true;
}

static bool read_whole(const char *text, int32_t *out) {
    return sm_integer_read(text, strlen(text), out) == SM_OK && *out >= 1;
}

static void take(import_map *map, import_key key, const sm_ini_entry *entry, const char *file,
                 sm_findings *findings) {
    const import_map_key *const row = &keys[key];
    const unsigned word = row->words ? find_word(row->words, entry->value) : UINT_MAX;
    sm_text what = {0};
    if (row->words && word == UINT_MAX) {
        sm_text_printf(&what, "one of these: %s", row->words);
        refuse(findings, file, entry, sm_text_get(&what));
    }
    sm_text_deinit(&what);
    if (row->words && !is_any(row))
        map->chosen[key] = word;
    if (key == IMPORT_KEY_OFFSET && !read_offset(entry->value, &map->offset_us))
        refuse(findings, file, entry, row->form);
    if (key == IMPORT_KEY_HEADER_ROW && !read_whole(entry->value, &map->header_row))
        refuse(findings, file, entry, row->form);
    if (key == IMPORT_KEY_SLOTS_PER_MODULE && !read_whole(entry->value, &map->slots_per_module))
        refuse(findings, file, entry, row->form);
}

void import_map_init(import_map *map) {
    *map = (import_map){.offset_us = SM_UNSET_US};
    for (size_t i = 0; i < IMPORT_KEYS; i++)
        map->chosen[i] = UINT_MAX;
}

sm_result import_map_read(const char *file, char *bytes, size_t length, sm_arena *arena,
                          sm_findings *findings, import_map *out) {
    import_map_init(out);
    sm_text_clean(file, bytes, length, findings);
    const sm_result result = sm_ini_read(file, bytes, length, arena, findings, &out->ini);
    for (size_t i = 0; result == SM_OK && i < out->ini.count; i++) {
        const sm_ini_entry *const entry = &out->ini.entries[i];
        const import_key key = find_key(entry->section, entry->key);
        if (key < IMPORT_KEYS) {
            if (entry->key)
                take(out, key, entry, file, findings);
            continue;
        }
        const char *const nearest =
            entry->key ? sm_nearest_name(entry->key, IMPORT_KEYS, key_at, NULL) : NULL;
        sm_findings_add(findings, file, entry->line, entry->column, SM_ERROR, "import-map",
                        "there is no %s%s%s%s%s", entry->key ? "key " : "section ",
                        entry->key ? entry->key : entry->section, nearest ? "; did you mean " : "",
                        nearest ? nearest : "", nearest ? "?" : "");
    }
    return result;
}

const char *import_map_value(const import_map *map, import_key key, const char *text) {
    char name[IMPORT_KEY_BYTES];
    const char *const wanted = text ? import_map_key_of(text, name) : keys[key].key;
    for (size_t i = 0; i < map->ini.count; i++) {
        const sm_ini_entry *const entry = &map->ini.entries[i];
        if (entry->key && strcmp(entry->section, keys[key].section) == 0 &&
            strcasecmp(entry->key, wanted) == 0)
            return entry->value;
    }
    return NULL;
}

char *import_map_key_of(const char *text, char buffer[IMPORT_KEY_BYTES]) {
    size_t length = 0;
    bool is_blank = true; // none at the beginning
    for (size_t step; *text != '\0'; text += step) {
        step = sm_utf8_length(text, strlen(text));
        step = step > 0 ? step : 1;
        const bool is_mark = (unsigned char)*text <= ' ' || strchr("=:;#[]\"", *text);
        if (length + step + 1 >= IMPORT_KEY_BYTES || (is_mark && is_blank))
            continue;
        if (is_mark)
            buffer[length++] = ' ';
        else
            memcpy(buffer + length, text, step), length += step;
        is_blank = is_mark;
    }
    while (length > 0 && buffer[length - 1] == ' ')
        length--;
    buffer[length] = '\0';
    return buffer;
}
