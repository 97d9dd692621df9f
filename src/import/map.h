// SPDX-License-Identifier: GPL-3.0-or-later
// The mapping file: what a person has answered about a table. Every key is declared once, in map.c.
#ifndef SM_IMPORT_MAP_H
#define SM_IMPORT_MAP_H

#include "import/sheet.h"

#include "slowmatch/ini.h"
#include "slowmatch/show.h"

// ORDER of the rows of map.c.
typedef enum import_key {
    IMPORT_KEY_ENCODING,
    IMPORT_KEY_SEPARATOR,
    IMPORT_KEY_SHEET,
    IMPORT_KEY_HEADER_ROW,
    IMPORT_KEY_COLUMN, // [columns] HEADING = ROLE
    IMPORT_KEY_FORMAT,
    IMPORT_KEY_RATE,
    IMPORT_KEY_IS,
    IMPORT_KEY_OFFSET,
    IMPORT_KEY_FORM,
    IMPORT_KEY_SLOTS_PER_MODULE,
    IMPORT_KEY_MODULE, // [modules] TEXT = MODULE
    IMPORT_KEY_EFFECT, // [effects] TEXT = EFFECT
    IMPORT_KEY_LIGHT,  // [lights] TEXT = light or ignore
    IMPORT_KEYS
} import_key;

// What a column holds. ORDER of the words of IMPORT_KEY_COLUMN.
typedef enum import_role {
    IMPORT_SEEN,
    IMPORT_FIRE,
    IMPORT_TARGET,
    IMPORT_EFFECT,
    IMPORT_MODULE,
    IMPORT_SLOT,
    IMPORT_RAIL,
    IMPORT_CHANNEL,
    IMPORT_LEVEL,
    IMPORT_FADE,
    IMPORT_LASTS,
    IMPORT_ID,
    IMPORT_NOTE,
    IMPORT_IGNORE,
    IMPORT_ROLES,
    IMPORT_A_TIME = IMPORT_ROLES, // by its heading, but not whether of what is seen or of what is fired
    IMPORT_A_COUNT,               // not taken over, only held against the slots that are named
    IMPORT_NO_ROLE
} import_role;

// ORDER of the words of IMPORT_KEY_FORMAT.
typedef enum import_format {
    IMPORT_SECONDS,
    IMPORT_MILLISECONDS,
    IMPORT_FRAMES,
    IMPORT_DAYS,
    IMPORT_UNITS,
    IMPORT_M_S,
    IMPORT_H_M_S,
    IMPORT_S_FRAMES,
    IMPORT_M_S_FRAMES,
    IMPORT_H_M_S_FRAMES,
    IMPORT_M_S_AS_H_M,
    IMPORT_FORMATS
} import_format;

// ORDER of the words of IMPORT_KEY_FORM.
typedef enum import_form {
    IMPORT_RAIL_NN,
    IMPORT_MODULE_SLOT,
    IMPORT_RANGE,
    IMPORT_THROUGH,
    IMPORT_FORMS
} import_form;

typedef struct import_map_key {
    const char *section, *key; // a key in capitals stands for any text of the table
    const char *words;         // what it may be, blanks between; NULL: something else
    const char *form;          // for people
    const char *help;
} import_map_key;

const import_map_key *import_map_key_at(import_key key);

// The word of NUMBER in the words of KEY. Returns BUFFER.
char *import_word(import_key key, unsigned number, char buffer[24]);

typedef struct import_map {
    sm_ini ini;
    unsigned chosen[IMPORT_KEYS];         // by key that has words: the number of its word; UINT_MAX: not told
    sm_us offset_us;                      // SM_UNSET_US: not told
    int32_t header_row, slots_per_module; // 0: not told
} import_map;

// Reads the LENGTH bytes at BYTES, called FILE in findings. What is wrong is an error of FINDINGS. SM_NO_MEMORY.
SM_MUST_CHECK sm_result import_map_read(const char *file, char *bytes, size_t length, sm_arena *arena,
                                        sm_findings *findings, import_map *out);
// Without a file: nothing is told.
void import_map_init(import_map *map);

// The value of KEY as text, NULL where it is not told. TEXT: of a key that stands for any text.
const char *import_map_value(const import_map *map, import_key key, const char *text);

// TEXT as a key can hold it: folded blanks, no marks that mean something in the file, at most 49 bytes. Returns BUFFER.
enum { IMPORT_KEY_BYTES = 50 };
char *import_map_key_of(const char *text, char buffer[IMPORT_KEY_BYTES]);

#endif
