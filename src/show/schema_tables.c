// SPDX-License-Identifier: GPL-3.0-or-later
// Every table of a show folder, declared once. Reading, messages and the manual page come from these rows.
#include "show/schema.h"

#include <assert.h>
#include <string.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])
#define TABLE(name, must, text, array, count)                                                                \
    { .file = (name), .needed = (must), .help = (text), .columns = (array), .column_count = (count) }

static const sm_column walk[] = {
    {SM_COLUMN("item", "what it is about"), .required = true, SM_WORDS(TEXT, ""), SM_KEEP(sm_walk_row, item)},
    {SM_COLUMN("ask", "the question"), .required = true, SM_WORDS(TEXT, ""), SM_KEEP(sm_walk_row, ask)},
    {SM_COLUMN("expect", "the answer that lets it pass"), SM_WORDS(TEXT, "yes"),
     SM_KEEP(sm_walk_row, expect)},
    {SM_COLUMN("where", "where to look"), SM_WORDS(TEXT, ""), SM_KEEP(sm_walk_row, where)},
    {SM_COLUMN("hold", "whether another answer holds the show"), SM_CHOICE("no", "no yes"),
     SM_KEEP(sm_walk_row, hold)},
};

// ORDER sm_table_id
static const sm_table_schema tables[] = {
    [SM_SCHEMA_SETTINGS] =
        TABLE("show.ini", true, "the single settings of the show", sm_settings_columns, SM_SETTINGS_COLUMNS),
    [SM_SCHEMA_POSITIONS] =
        TABLE("positions.csv", false, "places on the ground", sm_positions_columns, SM_POSITIONS_COLUMNS),
    [SM_SCHEMA_MODULES] = TABLE("modules.csv", false, "the field units that fire slots", sm_modules_columns,
                                SM_MODULES_COLUMNS),
    [SM_SCHEMA_RAILS] =
        TABLE("rails.csv", false, "strips of igniter terminals; needed where anything is fired",
              sm_rails_columns, SM_RAILS_COLUMNS),
    [SM_SCHEMA_IGNITERS] =
        TABLE("igniters.csv", false, "kinds of igniters", sm_igniters_columns, SM_IGNITERS_COLUMNS),
    [SM_SCHEMA_EFFECTS] =
        TABLE("effects.csv", false, "what pyro cues fire", sm_effects_columns, SM_EFFECTS_COLUMNS),
    [SM_SCHEMA_PROFILES] = TABLE("profiles.csv", false, "kinds of fixtures and their channels",
                                 sm_profiles_columns, SM_PROFILES_COLUMNS),
    [SM_SCHEMA_FEEDS] =
        TABLE("feeds.csv", false, "mains: what is plugged to what", sm_feeds_columns, SM_FEEDS_COLUMNS),
    [SM_SCHEMA_FIXTURES] = TABLE("fixtures.csv", false, "DMX devices, each with its address",
                                 sm_fixtures_columns, SM_FIXTURES_COLUMNS),
    [SM_SCHEMA_GROUPS] = TABLE("groups.csv", false, "names that stand for several targets", sm_groups_columns,
                               SM_GROUPS_COLUMNS),
    [SM_SCHEMA_LINES] = TABLE("lines.csv", false, "DMX cable runs", sm_lines_columns, SM_LINES_COLUMNS),
    [SM_SCHEMA_CUES] =
        TABLE("cues.csv", true, "what happens when; one row a cue", sm_cues_columns, SM_CUES_COLUMNS),
    [SM_SCHEMA_READINGS] = TABLE("readings.csv", false, "measured resistances of slots", sm_readings_columns,
                                 SM_READINGS_COLUMNS),
    [SM_SCHEMA_WALK] =
        TABLE("walk.csv", false, "your own items for the walk before the show", walk, COUNT(walk)),
};
static_assert(sizeof tables / sizeof tables[0] == SM_SCHEMA_COUNT, "a schema for each table");

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
