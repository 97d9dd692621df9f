// SPDX-License-Identifier: GPL-3.0-or-later
// The numbers of the tables in the schema.
#ifndef SM_SHOW_SCHEMA_H
#define SM_SHOW_SCHEMA_H

#include "slowmatch/show.h"

// In the order of loading: a table comes after those that it points to. ORDER of the rows of schema.c and
// table.c.
typedef enum sm_table_id {
    SM_SCHEMA_SETTINGS,
    SM_SCHEMA_MODULES,
    SM_SCHEMA_POSITIONS,
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
    SM_CUES_COLUMNS
} sm_cues_column;

// The times of a cue as its cells give them; lasts is SM_UNSET_US where it is empty.
typedef struct sm_cue_cells {
    sm_us time_us, fade_us, lasts_us;
} sm_cue_cells;

enum { SM_SETTINGS_COLUMNS = 22 };

extern const sm_column sm_settings_columns[SM_SETTINGS_COLUMNS];
extern const sm_column sm_cues_columns[SM_CUES_COLUMNS];

// How a row of the schema says where its value is kept, and that a number has no bounds.
#define SM_KEEP(type, field) .offset = offsetof(type, field), .size = sizeof(((type *)0)->field)
#define SM_RANGE(least, most) .low = (least), .high = (most)
#define SM_ANY .low = (double)NAN, .high = (double)NAN

// The number of the table in FILE, SM_SCHEMA_COUNT where there is none.
sm_table_id sm_schema_find(const char *file);

#endif
