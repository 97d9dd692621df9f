// SPDX-License-Identifier: GPL-3.0-or-later
// Every table of a show folder, declared once. Reading, messages and the manual page come from these rows.
#include "show/schema.h"

#include <math.h>
#include <string.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])
#define TABLE(name, must, text, array)                                                                       \
    { .file = (name), .needed = (must), .help = (text), .columns = (array), .column_count = COUNT(array) }

static const sm_column walk[] = {
    {.name = "item",
     .kind = SM_CELL_TEXT,
     .required = true,
     .fallback = "",
     SM_ANY,
     .help = "what it is about",
     SM_KEEP(sm_walk_row, item)},
    {.name = "ask",
     .kind = SM_CELL_TEXT,
     .required = true,
     .fallback = "",
     SM_ANY,
     .help = "the question",
     SM_KEEP(sm_walk_row, ask)},
    {.name = "expect",
     .kind = SM_CELL_TEXT,
     .fallback = "yes",
     SM_ANY,
     .help = "the answer that lets it pass",
     SM_KEEP(sm_walk_row, expect)},
    {.name = "where",
     .kind = SM_CELL_TEXT,
     .fallback = "",
     SM_ANY,
     .help = "where to look",
     SM_KEEP(sm_walk_row, where)},
    {.name = "hold",
     .kind = SM_CELL_CHOICE,
     .fallback = "no",
     SM_ANY,
     .choices = "no yes",
     .help = "whether another answer holds the show",
     SM_KEEP(sm_walk_row, hold)},
};

// ORDER sm_table_id
static const sm_table_schema tables[SM_SCHEMA_COUNT] = {
    [SM_SCHEMA_SETTINGS] = TABLE("show.ini", true, "the single settings of the show", sm_settings_columns),
    [SM_SCHEMA_POSITIONS] = TABLE("positions.csv", false, "places on the ground", sm_positions_columns),
    [SM_SCHEMA_MODULES] = TABLE("modules.csv", false, "the field units that fire slots", sm_modules_columns),
    [SM_SCHEMA_RAILS] = TABLE(
        "rails.csv", false, "strips of igniter terminals; needed where anything is fired", sm_rails_columns),
    [SM_SCHEMA_IGNITERS] = TABLE("igniters.csv", false, "kinds of igniters", sm_igniters_columns),
    [SM_SCHEMA_EFFECTS] = TABLE("effects.csv", false, "what pyro cues fire", sm_effects_columns),
    [SM_SCHEMA_PROFILES] =
        TABLE("profiles.csv", false, "kinds of fixtures and their channels", sm_profiles_columns),
    [SM_SCHEMA_FEEDS] = TABLE("feeds.csv", false, "mains: what is plugged to what", sm_feeds_columns),
    [SM_SCHEMA_FIXTURES] =
        TABLE("fixtures.csv", false, "DMX devices, each with its address", sm_fixtures_columns),
    [SM_SCHEMA_GROUPS] =
        TABLE("groups.csv", false, "names that stand for several targets", sm_groups_columns),
    [SM_SCHEMA_LINES] = TABLE("lines.csv", false, "DMX cable runs", sm_lines_columns),
    [SM_SCHEMA_CUES] = TABLE("cues.csv", true, "what happens when; one row a cue", sm_cues_columns),
    [SM_SCHEMA_READINGS] = TABLE("readings.csv", false, "measured resistances of slots", sm_readings_columns),
    [SM_SCHEMA_WALK] = TABLE("walk.csv", false, "your own items for the walk before the show", walk),
};

const sm_table_schema *sm_show_schema(size_t *count) {
    *count = SM_SCHEMA_COUNT;
    return tables;
}

sm_table_id sm_schema_find(const char *file) {
    size_t id = 0;
    while (id < SM_SCHEMA_COUNT && strcmp(tables[id].file, file) != 0)
        id++;
    return (sm_table_id)id;
}
