// SPDX-License-Identifier: GPL-3.0-or-later
// What the readers of the tables share while a show is loaded.
#ifndef SM_SHOW_LOAD_H
#define SM_SHOW_LOAD_H

#include "show/csv.h"
#include "show/name_index.h"
#include "show/schema.h"

// ---- the show's private part --------------------------------------------------

// What a file looked like when it was read.
typedef struct sm_file_stamp {
    int64_t size, seconds, nanoseconds; // size -1: it was not there
} sm_file_stamp;

struct sm_show_index {
    sm_names names[SM_SCHEMA_COUNT]; // of each table that has a column `name`: the row
    sm_file_stamp stamps[SM_SCHEMA_COUNT];
    sm_us events_end_us; // end of the last event, at least 0
};

// ---- the loader ---------------------------------------------------------------

typedef struct sm_cue_reader sm_cue_reader;

// A list of targets under way.
typedef struct sm_targets {
    sm_target *items;
    uint32_t count; // in scratch
} sm_targets;

// `from` of a feed as written, until all feeds are known.
typedef struct sm_feed_from {
    const char *from, *feed;
    uint32_t line, column;
} sm_feed_from;

typedef struct sm_loader {
    sm_show *show; // its arena holds everything that stays
    struct sm_show_index *index;
    sm_arena *scratch; // everything that does not
    sm_findings *findings;
    struct {
        bool is_present;
        bool is_incomplete;   // something in it could not be read, so a name may be missing by that alone
        bool is_told_missing; // that the file is not there
        uint32_t capacity;    // rows that there is room for
    } tables[SM_SCHEMA_COUNT];
    bool no_memory;
    bool unreadable;    // a file that is needed is not there or cannot be opened
    size_t suggestions; // names looked at for "did you mean", which is kept within bounds
    sm_cue_reader *cues;
    uint32_t *slot_marks, *fixture_marks; // stamps that tell what a list names already, by slot and fixture
    uint32_t mark;
    sm_targets targets; // of the row being read
    sm_feed_from *feed_froms;
    uint32_t feed_from_count;
    uint32_t allow_capacity;
    uint32_t slot_total, member_total; // of all rails, of all groups
    bool is_limit_told[3];             // ORDER sm_limit
    const sm_show_load_options *options;
} sm_loader;

// What a few rows could ask for without end: groups of groups, targets of a million rows. Beyond it rows are left out.
typedef enum sm_limit { SM_LIMIT_SLOTS, SM_LIMIT_MEMBERS, SM_LIMIT_EVENTS } sm_limit;

// Where a value stands, for findings. The column of a record's cell is only looked for when there is one.
typedef struct sm_spot {
    const char *file;
    uint32_t line, column;
    const sm_csv_record *record; // NULL: line and column are as given
    size_t cell;
} sm_spot;

// Adds an error.
void sm_load_error(sm_loader *loader, const sm_spot *spot, const char *rule, const char *format, ...)
    SM_PRINTF(4, 5);
// The same of a mistake that is one, whatever the words (SAME is static).
void sm_load_error_same(sm_loader *loader, const sm_spot *spot, const char *rule, const char *same,
                        const char *format, ...) SM_PRINTF(5, 6);
// The same with figures.
void sm_load_error_figures(sm_loader *loader, const sm_spot *spot, const char *rule, double value,
                           double limit, const char *unit, const char *format, ...) SM_PRINTF(7, 8);

// Tells a number that has a comma for its point, as some spreadsheets write it; false where TEXT is none.
bool sm_load_tell_comma(sm_loader *loader, const sm_spot *spot, const char *text, size_t length);

// TEXT cut to what a message can hold. Returns BUFFER.
enum { SM_CLIP_BYTES = 72 };
char *sm_load_clip(char buffer[SM_CLIP_BYTES], const char *text, size_t length);

// "; did you mean NAME?" or "". NAMES_COUNT lists of names are looked through. Returns BUFFER.
enum { SM_HINT_BYTES = 96 };
char *sm_load_hint(sm_loader *loader, char buffer[SM_HINT_BYTES], const char *word, size_t length,
                   const sm_names *const *lists, size_t list_count);

// A copy in the show's arena; NULL (and no_memory) when memory runs out.
const char *sm_load_keep(sm_loader *loader, const char *text, size_t length);

// The row that NAME has in TABLE, SM_NONE where it has none, which is an error then (RULE) unless the table
// is known to be incomplete.
uint32_t sm_load_refer(sm_loader *loader, const sm_spot *spot, sm_table_id table, const char *rule,
                       const char *name, size_t length);

// Says once that the file of TABLE, at which SPOT points, is not there. Returns false if it is there.
bool sm_load_tell_missing(sm_loader *loader, const sm_spot *spot, sm_table_id table);

// Room for one more row of *rows; false (and no_memory) when memory runs out.
bool sm_load_reserve(sm_loader *loader, void **rows, uint32_t count, uint32_t *capacity, size_t row_size);

// True where *total and COUNT more keep within the limit, and adds it then; an error otherwise, once for each limit.
bool sm_load_is_within(sm_limit limit, uint32_t total, uint32_t count);
bool sm_load_within(sm_loader *loader, const sm_spot *spot, sm_limit limit, uint32_t *total, uint32_t count);

// Splits a list: the next word at or after *AT, NULL at its end.
const char *sm_load_next_word(const char *text, size_t length, size_t *at, size_t *word_length);

// ---- cells by the schema --------------------------------------------------------

// Reads TEXT as COLUMN says and keeps it in ROW. An error leaves ROW as it was. False after an error.
bool sm_cell_read(sm_loader *loader, const sm_spot *spot, const sm_column *column, const char *text,
                  size_t length, void *row);
// Puts the column's default in ROW.
bool sm_cell_default(sm_loader *loader, const sm_column *column, void *row);
// Says that a number is out of the column's range; true where it is not.
bool sm_cell_in_range(sm_loader *loader, const sm_spot *spot, const sm_column *column, double value);
// True for a name as slowmatch-show(5) defines it.
bool sm_cell_is_name(const char *text, size_t length);
// A level: 0 to 255, or a whole per cent, rounded half up. SM_INVALID: neither. SM_OUT_OF_RANGE.
SM_MUST_CHECK sm_result sm_cell_level(const char *text, size_t length, uint8_t *out);
// The same with its errors (rules level-range and value).
bool sm_cell_read_level(sm_loader *loader, const sm_spot *spot, const char *text, size_t length,
                        uint8_t *out);

// ---- tables ----------------------------------------------------------------------

// A record of a table, columns assigned.
typedef struct sm_table_record {
    sm_loader *loader;
    sm_table_id table;
    const sm_csv_record *record;
    const uint8_t
        *cell_of; // by column: the cell's number, or SM_CSV_CELLS_MAX where the file has no such column
} sm_table_record;

// The text of COLUMN, or its default where it is empty or not there; *is_given tells (may be NULL).
const char *sm_table_cell(const sm_table_record *from, size_t column, size_t *length, bool *is_given);
// The same by name.
const char *sm_table_cell_named(const sm_table_record *from, const char *column, size_t *length,
                                bool *is_given, sm_spot *spot);
sm_spot sm_table_spot(const sm_table_record *from, size_t column);
// Where a cell of a record stands, by its number in the record.
sm_spot sm_record_spot(const sm_csv_record *record, size_t cell);
// The number of the column NAME; the schema's count of columns where it has none of that name.
size_t sm_table_column(const sm_table_schema *schema, const char *name, size_t length);

// Takes note of "# allow RULE: reason"; true when TEXT, a whole comment, is one.
bool sm_allow_read(sm_loader *loader, const char *file, uint32_t line, const char *text);

// A table under way: what its header says, and what waits for the next row.
enum { SM_TABLE_COLUMNS_MAX = 16 };
typedef struct sm_table_reader {
    sm_loader *loader;
    const char *file;
    sm_table_id id;
    bool has_header, is_usable; // is_usable: no required column is missing
    bool stops_after_header;
    bool
        is_strict; // stops at whatever is no row that is kept, nor a plain comment: see sm_table_is_strictly_good
    size_t header_cells;
    uint8_t cell_of[SM_TABLE_COLUMNS_MAX];
    uint32_t allows_waiting; // allow comments since the last row
} sm_table_reader;

// Looks at the first bytes; false where the file is no such table at all, which is a finding then.
SM_MUST_CHECK sm_result sm_table_begin(sm_table_reader *reader, sm_loader *loader, sm_table_id id,
                                       const char *file, sm_lines *lines, bool *is_table);
// Reads the records of LINES; findings go to the loader's list. SM_UNREADABLE (errno), SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_table_records(sm_table_reader *reader, sm_lines *lines);
// Nothing follows: a table without a header is told.
void sm_table_end(const sm_table_reader *reader);
// The row in LINE is read: the allow comments since the last one stand before it.
void sm_table_settle_allows(sm_table_reader *reader, uint32_t line);
// All that a strict reader has read are rows without findings.
bool sm_table_is_strictly_good(const sm_table_reader *reader);

// What is left to do once all its rows are there (also where the table is not).
void sm_table_finish(sm_loader *loader, sm_table_id id);

// What a table does beyond its schema.
typedef bool (*sm_row_hook)(const sm_table_record *from, void *row); // false: the row is left out

bool sm_profile_row(const sm_table_record *from, void *row);
bool sm_rail_row(const sm_table_record *from, void *row);
bool sm_effect_row(const sm_table_record *from, void *row);
bool sm_feed_row(const sm_table_record *from, void *row);
bool sm_fixture_row(const sm_table_record *from, void *row);
bool sm_group_row(const sm_table_record *from, void *row);
bool sm_line_row(const sm_table_record *from, void *row);
bool sm_reading_row(const sm_table_record *from, void *row);
bool sm_cue_record(const sm_table_record *from); // false: the cue is left out

void sm_igniters_finish(sm_loader *loader);
void sm_rails_finish(sm_loader *loader);
void sm_feeds_finish(sm_loader *loader);
void sm_fixtures_finish(sm_loader *loader);

// ---- targets ---------------------------------------------------------------------

// A slot's text taken apart: *rail_length bytes of the rail's name, then '-', then the number. False: not of
// that form.
bool sm_target_split(const char *text, size_t length, size_t *rail_length, int32_t *number);

// Says that the NAME of a fixture or group reads as a slot of a rail; false where it does not.
bool sm_rows_reads_as_slot(const sm_table_record *from, const char *name);

// How to judge the names of a list of targets.
typedef struct sm_target_rules {
    const char *unknown, *repeated; // findings
    bool wants_slots;               // a word of a slot's form whose rail is not known is taken for a slot
    bool is_cue;                    // tell slots that do not exist by their own finding
} sm_target_rules;

// Adds to *out what the words of TEXT stand for, groups expanded, in order. False after an error, or where a
// name is known to be of a row that was left out.
bool sm_targets_read(sm_loader *loader, const sm_spot *spot, const sm_target_rules *rules, const char *text,
                     size_t length, sm_targets *out);

// Reads show.ini.
void sm_settings_read(sm_loader *loader, char *bytes, size_t length);

// Loads into SHOW, whose arena and folder are set. For sm_show_load and for tests that let either arena fail.
SM_MUST_CHECK sm_result sm_load_show(sm_show *show, sm_arena *scratch, const sm_show_load_options *options,
                                     sm_findings *findings);

// ---- cues (cues.c, levels.c, firing.c) --------------------------------------------

// An array that grows with the file: its room is foreseen from the share of the file read so far.
typedef struct sm_room {
    uint32_t capacity;
    bool is_fixed; // it is another's, and does not grow
} sm_room;

typedef struct sm_do_slot sm_do_slot;

// One channel=level of a `do` cell.
typedef struct sm_do_pair {
    const char *name;
    uint32_t length;
    uint8_t level;
} sm_do_pair;

// What a short cell of a span came to; number 0: nothing yet.
typedef struct sm_known_span {
    uint64_t number;
    sm_us us;
} sm_known_span;
enum { SM_KNOWN_SPAN_BITS = 6 };

struct sm_cue_reader {
    uint64_t begin, file_size,
        consumed;      // bytes of cues.csv, or of a part that begins at `begin`; size 0 where not known
    uint32_t ordinal;  // of the record among the cues
    bool has_left_out; // a cue, so ordinals no longer follow from row numbers
    sm_room cues, events, firings, levels, runs, pool;
    uint32_t pool_length;
    uint32_t *known_texts; // by hash: offset in the pool of a text that is there
    uint32_t *do_tags;     // by hash: which cell is remembered, 0: none
    sm_do_slot *known_dos; // by hash: what a `do` cell came to
    sm_names *channels;    // by profile
    sm_do_pair *pairs;     // of the cell being read
    uint32_t pair_count, pair_capacity;
    bool are_pairs_read, are_pairs_good;
    uint32_t channel_marks[256], channel_mark;
    uint32_t *profile_marks, *profile_runs; // by profile: levels of the cue being read
    uint32_t profile_mark;
    char last_target[64]; // the cell that the loader's targets were read from; length 0: none
    size_t last_target_length;
    sm_us last_due_us;
    sm_known_span known_spans[2][1 << SM_KNOWN_SPAN_BITS]; // of `lasts` and of `fade`, by hash
    bool is_out_of_order;                                  // an event is due before the one above it
    bool is_ready;
};

// Makes a reader that was used ready for other cues of the same show: its memory stays, and what it knows of the small tables.
void sm_cues_restart(sm_cue_reader *cues);

// Reads the records of cues.csv, in parts at once where the options say how and the file is of some size. As sm_table_records.
SM_MUST_CHECK sm_result sm_cues_read(sm_table_reader *reader, sm_lines *lines);

// Room for COUNT more of *rows; false (and no_memory) when memory runs out.
bool sm_cues_grow(sm_loader *loader, void *rows, size_t wanted, size_t row_size, sm_room *room);
static inline bool sm_cues_reserve(sm_loader *loader, void *rows, uint32_t used, uint32_t count,
                                   size_t row_size, sm_room *room) {
    const size_t wanted = (size_t)used + count;
    return wanted <= room->capacity || sm_cues_grow(loader, rows, wanted, row_size, room);
}

// The offset of TEXT in the pool, where equal texts mostly share one.
uint32_t sm_cues_intern(sm_loader *loader, const char *text, size_t length);
// The same of a number that stands for an id.
uint32_t sm_cues_intern_ordinal(sm_loader *loader, uint32_t ordinal);

// First of the levels that the `do` cell TEXT means to PROFILE; *count of them, in the profile's order.
// SM_NONE after an error. A cell is read once for each profile (sm_levels_begin starts a new one). What
// reading them needs; false when memory runs out.
bool sm_levels_start(sm_loader *loader);
void sm_levels_restart(sm_cue_reader *cues); // forgets the cells
void sm_levels_begin(sm_cue_reader *cues);
uint32_t sm_levels_read(sm_loader *loader, const sm_spot *spot, const char *text, size_t length,
                        uint32_t profile, uint16_t *count);

// What the cells of a firing say beyond its time and target.
typedef struct sm_firing_cells {
    uint32_t effect;
    sm_us lasts_us;
    sm_load_kind load;
    int32_t igniters;
    double wire_m;
    sm_gauge wire;
} sm_firing_cells;
bool sm_firing_read(const sm_table_record *from, sm_us lasts_us, sm_firing_cells *out);

// Whether the file at PATH looks as it did when BEFORE was taken.
bool sm_stamp_is_same(const char *path, const sm_file_stamp *before);

// Fills order and slot_firings.
SM_MUST_CHECK sm_result sm_events_finish(sm_show *show, sm_arena *scratch, bool is_in_order);

// A figure of fuel whose cell COLUMN ends with MASS_UNIT is one of a gas: it goes from MILLILITRES to GRAMS.
void sm_rows_split_fuel(const sm_table_record *from, const char *column, const char *mass_unit,
                        double *millilitres, double *grams);

// What follows from a name that is none is told at that name alone. FINDINGS are sorted. SM_NO_MEMORY leaves them as they are.
SM_MUST_CHECK sm_result sm_load_fold_causes(sm_findings *findings, sm_arena *scratch);

#endif
