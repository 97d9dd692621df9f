// SPDX-License-Identifier: GPL-3.0-or-later
// The numbers of the tables in the schema.
#ifndef SM_SHOW_SCHEMA_H
#define SM_SHOW_SCHEMA_H

#include "slowmatch/columns.h"

#include <assert.h>

// In the order of loading: a table comes after those that it points to. ORDER of the rows of schema_tables.c and
// table.c.
typedef enum sm_table_id {
    SM_SCHEMA_SETTINGS,
    SM_SCHEMA_POSITIONS,
    SM_SCHEMA_MODULES,
    SM_SCHEMA_RAILS,
    SM_SCHEMA_IGNITERS,
    SM_SCHEMA_EFFECTS,
    SM_SCHEMA_PROFILES,
    SM_SCHEMA_FEEDS,
    SM_SCHEMA_FIXTURES,
    SM_SCHEMA_GROUPS,
    SM_SCHEMA_LINES,
    SM_SCHEMA_CUES,
    SM_SCHEMA_READINGS,
    SM_SCHEMA_WALK,
    SM_SCHEMA_COUNT
} sm_table_id;

// Row numbers of sm_cues_columns. ORDER of its rows.
typedef enum sm_cues_column {
    SM_CUES_TIME,
    SM_CUES_TARGET,
    SM_CUES_DO,
    SM_CUES_FADE,
    SM_CUES_LASTS,
    SM_CUES_IGNITERS,
    SM_CUES_WIRE,
    SM_CUES_ID,
    SM_CUES_NOTE,
    SM_CUES_AIM,
    SM_CUES_COLUMNS
} sm_cues_column;

// The times of a cue as its cells give them; lasts is SM_UNSET_US where it is empty.
typedef struct sm_cue_cells {
    sm_us time_us, fade_us, lasts_us;
} sm_cue_cells;

// How many columns the tables of the other files have.
enum {
    SM_SETTINGS_COLUMNS = 29,
    SM_MODULES_COLUMNS = 13,
    SM_POSITIONS_COLUMNS = 5,
    SM_RAILS_COLUMNS = 8,
    SM_IGNITERS_COLUMNS = 9,
    SM_EFFECTS_COLUMNS = 10,
    SM_READINGS_COLUMNS = 5,
    SM_PROFILES_COLUMNS = 14,
    SM_FEEDS_COLUMNS = 7,
    SM_FIXTURES_COLUMNS = 8,
    SM_GROUPS_COLUMNS = 2,
    SM_LINES_COLUMNS = 6,
};

// As many as their number above says.
#define SM_COLUMNS_ARE(columns, number)                                                                      \
    static_assert(sizeof(columns) / sizeof *(columns) == (number), "a row for each column")
extern const sm_column sm_settings_columns[];
extern const sm_column sm_cues_columns[];
extern const sm_column sm_modules_columns[];
extern const sm_column sm_positions_columns[];
extern const sm_column sm_rails_columns[];
extern const sm_column sm_igniters_columns[];
extern const sm_column sm_effects_columns[];
extern const sm_column sm_readings_columns[];
extern const sm_column sm_profiles_columns[];
extern const sm_column sm_feeds_columns[];
extern const sm_column sm_fixtures_columns[];
extern const sm_column sm_groups_columns[];
extern const sm_column sm_lines_columns[];

// Columns that several tables have.
#define SM_NAME_COLUMN(type, text)                                                                           \
    { SM_COLUMN("name", text), .required = true, SM_WORDS(NAME, ""), SM_KEEP(type, name) }
#define SM_NOTE_COLUMN(type)                                                                                 \
    { SM_COLUMN("note", "free text"), SM_WORDS(TEXT, ""), SM_KEEP(type, note) }
#define SM_POSITION_COLUMN(type, field, column, text)                                                        \
    { SM_COLUMN(column, text), SM_REFERENCE("positions.csv", "position-unknown"), SM_KEEP(type, field) }

// The number of the table in FILE, SM_SCHEMA_COUNT where there is none.
sm_table_id sm_schema_find(const char *file);

#endif
