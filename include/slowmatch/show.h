// SPDX-License-Identifier: GPL-3.0-or-later
// A show as data: the tables of a show folder, read over one declared schema, all names resolved to row
// numbers. Everything is read-only once loaded, and may then be read by any thread.
#ifndef SLOWMATCH_SHOW_H
#define SLOWMATCH_SHOW_H

#include "slowmatch/base.h"
#include "slowmatch/progress.h"

// Row number that stands for "none".
#define SM_NONE UINT32_MAX
// An optional figure that the file leaves out is NAN (double) or SM_UNSET_US (span).

typedef enum sm_zone { SM_ZONE_NONE, SM_ZONE_GROUND, SM_ZONE_AERIAL, SM_ZONE_NEAR, SM_ZONE_COUNT } sm_zone;
// "none", "ground", "aerial", "near".
const char *sm_zone_text(sm_zone zone);

// What kind of effect it is, where its distance hangs on that.
typedef enum sm_effect_kind { SM_EFFECT_OTHER, SM_EFFECT_WHEEL, SM_EFFECT_CONCUSSION } sm_effect_kind;

// Whom or what a position holds, so that distances to it count.
typedef enum sm_holds {
    SM_HOLDS_NOTHING,
    SM_HOLDS_PEOPLE,
    SM_HOLDS_VEHICLES,
    SM_HOLDS_COMBUSTIBLE,
    SM_HOLDS_HOSPITAL,
    SM_HOLDS_COUNT
} sm_holds;
// "nothing", "people", "vehicles", "combustible", "hospital".
const char *sm_holds_text(sm_holds holds);

// What a reading says. Ohms only with SM_READ_OHMS.
typedef enum sm_read_kind {
    SM_READ_NOTHING,
    SM_READ_OHMS,
    SM_READ_OPEN,
    SM_READ_SHORT,
    SM_READ_KIND_COUNT
} sm_read_kind;
typedef struct sm_read_value {
    sm_read_kind kind;
    double ohms;
} sm_read_value;

// "open", "short", ohms ("1.83", also "1.2 kohm"). SM_INVALID otherwise (negative ohms too).
SM_MUST_CHECK sm_result sm_read_value_read(const char *text, size_t length, sm_read_value *out);
// "open", "short", "1.83" (ohms with two decimals), "" for nothing. Returns BUFFER (at least 24 bytes).
char *sm_read_value_format(char buffer[24], sm_read_value value);

// ---- rows. `line` is where the row's record begins in its file. ----------------

typedef struct sm_module {
    const char *name;
    int32_t slots;
    double volts, volts_low, source_ohms;
    sm_us pulse_us, gap_us;
    int32_t at_once;
    double test_current_amps;
    double capacitance_f; // NAN: a steady source
    double charge_ohms;   // from its supply into the capacitor; NAN where not given
    bool goes_on;         // link lost: true goes on, false holds
    uint32_t position;    // SM_NONE where none
    uint32_t line;
} sm_module;

typedef struct sm_rail {
    const char *name;
    uint32_t module;
    int32_t first; // first module slot it takes, from 1
    int32_t slots;
    double cable_m;
    sm_gauge cable;
    uint32_t position;  // SM_NONE where none
    int32_t joints;     // joints and terminals in the way of each slot
    uint32_t slot_base; // show-wide number of its slot 1; its slot n is slot_base + n - 1
    uint32_t line;
} sm_rail;

typedef struct sm_igniter {
    const char *name; // "" for the built-in default where there is no igniters.csv
    double ohms, tolerance_ohms, lead_m;
    sm_gauge lead;
    double no_fire_amps, all_fire_amps, series_fire_amps;
    double impulse; // mJ/ohm, NAN where not known
    uint32_t line;
} sm_igniter;

typedef struct sm_effect {
    const char *name;
    uint32_t igniter; // always valid: row 0 of show->igniters where the cell is empty
    sm_us lead_us;    // 0 where unknown
    bool lead_known;
    sm_us lasts_us;
    sm_zone zone;
    sm_effect_kind kind;
    double calibre_mm, fallout_m; // NAN where not given
    const char *aim;              // how it is aimed, "" where not given
    const char *note;
    uint32_t line;
} sm_effect;

typedef struct sm_position {
    const char *name;
    double x_m, y_m;
    sm_holds holds;
    const char *note;
    uint32_t line;
} sm_position;

typedef struct sm_range {
    uint8_t low, high; // both included
} sm_range;

typedef struct sm_profile {
    const char *name;
    const char **channels; // channel_count names
    uint8_t *home;         // a level each
    uint32_t channel_count;
    bool flame;            // hazard
    bool light;            // `wire` light: may be driven on a wire
    uint32_t enable, fire; // channel numbers within the profile; SM_NONE where not a flame profile
    sm_range enable_range, fire_range;
    sm_us longest_us, recover_us;     // SM_UNSET_US where not given
    double burn_ml_s, watts, clear_m; // NAN where not given
    double va, inrush_amps;           // NAN where not given: va is watts then
    double burn_g_s;                  // of a gas, in place of burn_ml_s
    uint32_t line;
} sm_profile;

typedef struct sm_fixture {
    const char *name;
    uint32_t profile;
    int32_t universe, address; // address from 1; may be out of range (check judges)
    uint32_t position, feed;   // SM_NONE where none
    const char *feed_name;     // as written, "" where none: `feed` is SM_NONE for an unknown one too
    double fuel_ml;            // NAN where not given
    double fuel_g;             // of a gas, in place of fuel_ml
    const char *aim;
    uint32_t channel_base; // show-wide number of its channel 0
    uint32_t line;
} sm_fixture;

typedef enum sm_target_kind { SM_TARGET_SLOT, SM_TARGET_FIXTURE } sm_target_kind;
typedef struct sm_target {
    sm_target_kind kind;
    uint32_t index; // show-wide slot number, or row of fixtures
} sm_target;

typedef struct sm_group {
    const char *name;
    const sm_target *members; // in order, groups named in it expanded
    uint32_t member_count;
    uint32_t line;
} sm_group;

typedef struct sm_feed {
    const char *name;
    uint32_t from;              // SM_NONE: the supply
    double volts, breaker_amps; // breaker NAN where not given
    double cord_m;
    sm_gauge cord;
    bool is_private; // of a feed from the supply: a generator or other private supply
    uint32_t line;
} sm_feed;

typedef struct sm_line {
    const char *name;
    int32_t universe;
    uint32_t source;       // position of the sending end, SM_NONE where none
    const uint32_t *chain; // fixtures in order
    uint32_t chain_count;
    const double *cables_m; // in order from the source
    uint32_t cable_count;
    double slack_m;
    uint32_t line;
} sm_line;

typedef struct sm_reading {
    uint32_t slot; // show-wide slot number
    sm_read_value value;
    const char *when, *by; // as written, "" where not given
    uint32_t line;
} sm_reading;

typedef struct sm_walk_row {
    const char *item, *ask, *expect, *where;
    bool hold;
    uint32_t line;
} sm_walk_row;

// ---- cues and events -------------------------------------------------------------

typedef enum sm_cue_kind { SM_CUE_FIRE, SM_CUE_SET } sm_cue_kind;

// A channel told a level.
typedef struct sm_level {
    uint8_t channel; // within the profile
    uint8_t level;
} sm_level;

// One row of cues.csv. Kept small: a show may hold a million. Its events lie together in show->events from
// first_event on, in target order; sm_cue_event_count tells how many.
typedef struct sm_cue {
    sm_us time_us;
    uint32_t fade_us;  // 0 for a firing
    uint32_t lasts_us; // of a fixture cue, 0: stays. Of firings see sm_firing
    uint32_t first_event;
    uint32_t levels;   // private to the part: use sm_event_levels
    uint32_t id, note; // offsets in the text pool, see sm_cue_id and sm_show_text
    uint32_t line;
    uint16_t level_count; // channels told to each of its fixtures
    uint8_t kind;         // sm_cue_kind
    bool mixed;           // private to the part: its fixtures have different profiles
} sm_cue;

// What a cue becomes for one target: one firing or one change of one fixture. An event's number in
// show->events is its place in table order (cue order, then target order).
typedef struct sm_event {
    uint32_t cue;
    uint32_t target; // SM_CUE_SET: row of fixtures. SM_CUE_FIRE: row of firings
} sm_event;

typedef enum sm_load_kind { SM_LOAD_ONE, SM_LOAD_SERIES, SM_LOAD_PARALLEL, SM_LOAD_KIND_COUNT } sm_load_kind;

typedef struct sm_firing {
    uint32_t event, slot, effect;
    uint32_t aim;  // the cue's own, see sm_firing_aim
    sm_us fire_us; // show time at which the module fires: cue time less lead
    sm_us lead_us, lasts_us;
    sm_load_kind load;
    int32_t igniters; // n of the load, 1 for SM_LOAD_ONE
    double wire_m;    // extra run, 0 where none
    sm_gauge wire;
} sm_firing;

// A comment `# allow RULE: reason` (in show.ini also `; allow RULE: reason`): lets findings of RULE at the
// next row pass.
typedef struct sm_allow {
    const char *file;          // relative to the show's folder
    uint32_t line;             // of the comment
    uint32_t row_line;         // of the record (or key of show.ini) that follows it, 0 where none does
    const char *rule, *reason; // as written; reason "" where none is given
} sm_allow;

// A place on the ground, as positions are; NAN where not told.
typedef struct sm_spot_m {
    double x_m, y_m;
} sm_spot_m;

typedef struct sm_show_settings {
    const char *title;
    const char *audio; // file name in the folder, "" where silent
    sm_us audio_start_us;
    sm_us length_given_us; // SM_UNSET_US where the file gives none
    sm_us countdown_us;
    sm_moment_base timecode;
    double air_c, copper_hot_c, copper_cold_c, audience_m;
    sm_spot_m speaker, lead; // of the loudspeaker, of the show's lead
    double refresh_hz;       // of the DMX sender
    sm_us arm_time_us;
    double wind_limit_m_s;                  // NAN: NOT SET
    sm_us reentry_wait_us, misfire_wait_us; // SM_UNSET_US: NOT SET
    sm_us readings_age_us;                  // readings older than this are old
    double meter_accuracy_percent, meter_offset_ohms;
    sm_us timecode_gap_us;                              // of timecode in
    sm_us statement_us, lights_fade_us;                 // of lights on the wire
    int32_t expect_events, expect_pyro, expect_fixture; // -1 where not given
    sm_us expect_length_us;                             // SM_UNSET_US where not given
    const int32_t *paired;                              // remotes
    uint32_t paired_count;
} sm_show_settings;

typedef struct sm_show {
    sm_show_settings settings;
#define SM_TABLE(type, name)                                                                                 \
    type *name##s;                                                                                           \
    uint32_t name##_count
    SM_TABLE(sm_module, module);
    SM_TABLE(sm_rail, rail);
    SM_TABLE(sm_igniter, igniter);
    SM_TABLE(sm_effect, effect);
    SM_TABLE(sm_position, position);
    SM_TABLE(sm_profile, profile);
    SM_TABLE(sm_fixture, fixture);
    SM_TABLE(sm_group, group);
    SM_TABLE(sm_feed, feed);
    SM_TABLE(sm_line, line);
    SM_TABLE(sm_reading, reading);
    SM_TABLE(sm_walk_row, walk_row);
    SM_TABLE(sm_cue, cue);
    SM_TABLE(sm_event, event);
    SM_TABLE(sm_firing, firing);
    SM_TABLE(sm_allow, allow); // by file in the order of loading, then by line
#undef SM_TABLE
    sm_level *levels; // equal cells share their levels: use sm_event_levels
    uint32_t level_count;
    uint32_t *level_runs; // of mixed cues: first level of each of their events
    uint32_t level_run_count;
    uint32_t *order;        // event numbers by due time, table order where equal; event_count of them
    uint32_t slot_count;    // show-wide slots of all rails
    uint32_t channel_count; // show-wide channels of all fixtures
    uint32_t *slot_rails;   // rail of each show-wide slot
    uint32_t *slot_firings; // first firing of each show-wide slot in table order, SM_NONE for a spare
    sm_us length_us;        // see sm_show_set_audio_end
    bool cues_left_out;     // rows of cues.csv, or what they name, have errors: the events are not all
    char *text_pool;        // private to the part: see sm_show_text
    sm_arena *arena;
    char *folder;                      // as given to sm_show_load
    const struct sm_show_index *index; // private to the part: names to rows, stamps of the files
} sm_show;

// Reads the show in FOLDER. Every finding goes to FINDINGS, all files in one pass; *out is set only when none
// of them is an error (SM_OK). SM_UNREADABLE: the folder or a needed table cannot be opened (a finding says
// which); SM_INVALID: findings at error level; SM_NO_MEMORY. READINGS_FILE, where not NULL, is read in place
// of readings.csv. Findings about a name that does not resolve are errors too. The caller destroys the show.
// With KEEP_INVALID *out is also set (to what could be read) when there were errors but memory and the needed
// files were there, so that `check` can go on: names that did not resolve are SM_NONE and their cues left
// out.
typedef struct sm_show_load_options {
    const char *readings_file;
    bool keep_invalid;
    bool cues_may_miss; // a show without cues.csv has no cues yet
    // Where it is not NULL, a cues.csv of several PART_BYTES (0: as many as pay) is read in parts at once: the show and the
    // findings are the same.
    sm_together *together;
    size_t part_bytes;
    sm_progress *progress; // bytes of cues.csv; NULL: nobody looks
} sm_show_load_options;
SM_MUST_CHECK sm_result sm_show_load(const char *folder, const sm_show_load_options *options,
                                     sm_findings *findings, sm_show **out);
void sm_show_destroy(sm_show *show);
// FILE of the schema is as it was when the show was loaded, by its size and the time of its last change.
bool sm_show_file_is_same(const sm_show *show, const char *file);
// The same of a file that was read from PATH in place of FILE of the folder.
bool sm_show_file_is_same_at(const sm_show *show, const char *file, const char *path);

// Tells the show when its audio ends (show time), which this part cannot know; sets length_us: the given
// length, else the later of AUDIO_END_US and the end of the last event. sm_show_load calls it with
// SM_UNSET_US (no audio).
void sm_show_set_audio_end(sm_show *show, sm_us audio_end_us);

// Reads one more readings table (format of readings.csv) against SHOW. *out (caller frees) holds *count rows
// in file order. Findings as above; SM_UNREADABLE, SM_INVALID, SM_NO_MEMORY leave the outputs unchanged.
SM_MUST_CHECK sm_result sm_readings_load(const sm_show *show, const char *path, sm_findings *findings,
                                         sm_reading **out, size_t *count, sm_arena *texts);

// ---- asking ---------------------------------------------------------------------

// Text at OFFSET of the pool, "" for 0.
const char *sm_show_text(const sm_show *show, uint32_t offset);
// The id of CUE: as written, or its ordinal among the cues. Returns BUFFER or a text of the show.
const char *sm_cue_id(const sm_show *show, uint32_t cue, char buffer[12]);
// How FIRING is aimed: as its cue says, else as its effect does, "" where neither tells.
const char *sm_firing_aim(const sm_show *show, const sm_firing *firing);
uint32_t sm_cue_event_count(const sm_show *show, uint32_t cue);
// When the module must act on EVENT (show time): the fire time of a firing, the cue time of a set.
sm_us sm_event_due_us(const sm_show *show, uint32_t event);
// The first place in `order` whose event is due at AT_US or later; event_count: none.
uint32_t sm_event_first_due(const sm_show *show, sm_us at_us);
// "A-05" (at least two digits). Returns BUFFER (at least 48 bytes).
char *sm_slot_format(const sm_show *show, uint32_t slot, char buffer[48]);
// "A-05", "A-5": the show-wide slot. SM_NOT_FOUND: no such rail or slot on it.
SM_MUST_CHECK sm_result sm_slot_find(const sm_show *show, const char *text, size_t length, uint32_t *out);
// Row by exact name, SM_NONE when there is none. Linear for small tables, hashed inside for fixtures.
uint32_t sm_rail_find(const sm_show *show, const char *name);
uint32_t sm_fixture_find(const sm_show *show, const char *name);
uint32_t sm_group_find(const sm_show *show, const char *name);
uint32_t sm_effect_find(const sm_show *show, const char *name);
uint32_t sm_position_find(const sm_show *show, const char *name);
// A rail has a cue when any of its slots is fired.
bool sm_rail_in_use(const sm_show *show, uint32_t rail);
// What EVENT (of a SM_CUE_SET) tells its fixture: *count levels in the profile's order, channels numbered
// within the profile of that event's fixture. For a firing *count is 0 (NULL is returned then).
const sm_level *sm_event_levels(const sm_show *show, uint32_t event, uint32_t *count);
// The same as "red=255 dim=128", appended to OUT.
void sm_event_format_levels(const sm_show *show, uint32_t event, sm_text *out);

// ---- the schema -------------------------------------------------------------------

typedef enum sm_cell_kind {
    SM_CELL_NAME,      // letters, digits, - and _, at most 31
    SM_CELL_REFERENCE, // a name in the table `refers`
    SM_CELL_NAMES,     // names with a space between
    SM_CELL_TEXT,
    SM_CELL_CHOICE, // one of `choices`
    SM_CELL_INTEGER,
    SM_CELL_INTEGERS, // with a space between
    SM_CELL_MEASURE,  // of `quantity`
    SM_CELL_SPAN,     // bare number in `bare_us`
    SM_CELL_MOMENT,
    SM_CELL_TIMECODE,
    SM_CELL_GAUGE,
    SM_CELL_SPECIAL, // read by the table's own code: do, igniters, wire, reading, levels, ranges...
    SM_CELL_KIND_COUNT
} sm_cell_kind;

// One column of a table, or one key of show.ini.
typedef struct sm_column {
    const char *section; // of show.ini; NULL for a table
    const char *name;
    sm_cell_kind kind;
    bool required;
    const char *fallback; // default, in the file's own notation; "" for none
    double low, high;     // range of a number in its unit (spans in seconds), both included; NAN: no bound
    sm_quantity quantity;
    sm_us bare_us;
    const char *choices; // "hold go-on"
    const char *unit;    // of a bare number, for people: "V", "s", ""
    const char *help;    // one line
    const char *refers;  // of a reference: the file of the table that holds the name
    const char *rule;    // of a reference: the finding where there is no such name
    size_t offset, size; // where the row's struct keeps it; size 0: nowhere by itself
} sm_column;

typedef struct sm_table_schema {
    const char *file; // "rails.csv", "show.ini"
    bool needed;      // always (rails.csv: where anything is fired)
    const char *help;
    const sm_column *columns;
    size_t column_count;
} sm_table_schema;

// The declared schema, show.ini first, then the tables in the order of loading.
const sm_table_schema *sm_show_schema(size_t *count);

// A rule that loading judges by: the id that its findings carry, and what breaks it.
typedef struct sm_show_rule {
    const char *id, *help;
} sm_show_rule;

// The rules of loading, by id.
const sm_show_rule *sm_show_rules(size_t *count);

// The manual page slowmatch-show(5), in man(7) macros, made from the schema and appended to OUT.
void sm_show_manual(sm_text *out);
// Its pieces, for the manuals of other files: TEXT as roff prints it, and COLUMNS, a heading a section.
void sm_manual_append(sm_text *out, const char *text);
void sm_manual_columns(sm_text *out, const sm_column *columns, size_t count);

// Where a cell stands, for findings made after loading: fills finding-like places in one pass a file. The
// file is read again; where it has changed, columns are 0. PLACES of one file, sorted by line. SM_UNREADABLE
// when it cannot be opened.
typedef struct sm_place {
    uint32_t line;
    const char *column_name;
    uint32_t column; // out
} sm_place;
SM_MUST_CHECK sm_result sm_places_resolve(const sm_show *show, const char *file, sm_place *places,
                                          size_t count);

#endif
