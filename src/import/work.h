// SPDX-License-Identifier: GPL-3.0-or-later
// An import under way: the table, what is known of it and how, what has to be asked.
#ifndef SM_IMPORT_WORK_H
#define SM_IMPORT_WORK_H

#include "import/map.h"

// One of the lines that would answer a question.
typedef struct import_answer {
    const char *text; // of a key that stands for any text, else NULL
    const char *value;
} import_answer;

typedef struct import_offer {
    import_key key;
    import_answer answer;
} import_offer;

// A text of the table and what it stands for: an effect, a module.
typedef struct import_meaning {
    const char *text, *name; // name NULL: asked, not answered
    uint32_t first_line, count;
} import_meaning;

typedef struct import_meanings {
    import_meaning *items;
    uint32_t count, capacity;
} import_meanings;

// A rail of a new show.
typedef struct import_rail {
    const char *name;
    int32_t slots;
    bool is_module; // the list names a module: the rail has its name, and all of its slots
} import_rail;

// A light of a new show.
typedef struct import_light {
    const char *name, *channels; // blanks between
    uint32_t first_line;
} import_light;

// What became of a row.
typedef struct import_result {
    uint32_t cue;    // number of the cue, 0: none
    const char *why; // static: why it was left out
    const char *how; // each value and how it was known
} import_result;

typedef struct import_cue {
    sm_us time_us;
    const char *target, *effect, *fade, *lasts, *id, *note;
    uint32_t row; // of the sheet
} import_cue;

typedef struct import_work {
    const char *file;    // as called in findings
    const sm_show *show; // NULL: a new one is made
    sm_arena *arena;
    sm_findings *findings;
    sm_progress *progress;
    import_map map;
    const import_sheet *sheet;
    uint32_t header; // number of the row that names the columns
    import_role roles[IMPORT_COLUMNS_MAX];
    bool is_offered[IMPORT_COLUMNS_MAX]; // as an answer to which column it is
    uint32_t columns[IMPORT_NO_ROLE];    // by role: the column, or UINT32_MAX
    bool is_fire, is_comma;              // the times are of firing; have a comma for their point
    import_format format;
    sm_timecode_rate rate;
    sm_us offset_us;
    const char *time_known; // how the format was found out
    import_offer *offers;
    uint32_t offer_count, offer_capacity, questions;
    import_meanings effects, modules;
    import_rail *rails; // of a new show
    uint32_t rail_count, rail_capacity;
    import_light *lights; // of a new show, or asked for
    uint32_t light_count, light_capacity;
    import_result *results; // by row of the sheet
    import_cue *cues;
    uint32_t cue_count, cue_capacity;
    bool has_times; // it is known how they are written
    bool no_memory, is_form_asked, is_range_told, is_glue_told, is_full_told;
} import_work;

// The text of the cell in COLUMN, without blanks round it; "" where there is none.
const char *import_text_at(import_work *work, const import_row *row, uint32_t column);
const char *import_text_of(import_work *work, const import_row *row, import_role role);

// A question: an error at the cell, whose words end with the lines that would answer it.
void import_ask(import_work *work, uint32_t line, uint32_t column, import_key key,
                const import_answer *answers, size_t count, const char *format, ...) SM_PRINTF(7, 8);
// One more line that may answer what is asked, under another key: the words of the question name it.
void import_offer_add(import_work *work, import_key key, import_answer answer);
// A finding at a cell (column from 0; UINT32_MAX: the row).
void import_tell(import_work *work, sm_severity severity, uint32_t line, uint32_t column, const char *rule,
                 const char *format, ...) SM_PRINTF(6, 7);

// A copy of TEXT in the arena; "" when memory runs out.
const char *import_keep(import_work *work, const char *text);
bool import_reserve(import_work *work, void **rows, uint32_t count, uint32_t *capacity, size_t size);

// ---- headings.c ----------------------------------------------------------------------

// Whether a row of SHEET has two headings that are known.
bool import_sheet_has_header(import_work *work, const import_sheet *sheet);
// Finds the header and what its columns hold. False: asked.
bool import_headings_read(import_work *work);
// What the heading says about how its times are written; IMPORT_FORMATS: nothing.
import_format import_heading_format(const char *heading);
// A row that is no cue: "", or why (static).
const char *import_row_is_no_cue(import_work *work, uint32_t at);

// ---- spans.c -----------------------------------------------------------------------------

// What a cell that spans rows says goes for each of these, in columns that do not name or count.
void import_spans_fill(import_work *work);

// ---- time.c, formats.c ------------------------------------------------------------------

// Reads TEXT as a time written in FORMAT. *has_comma is set where a comma stands for its point.
bool import_time_read(import_format format, sm_timecode_rate rate, const char *text, sm_us *out,
                      bool *has_comma);

// A text as a time in every format; frames for those by RATE, and whether they can be frames by each rate.
typedef struct import_readings {
    bool is_read[IMPORT_FORMATS], is_frames[SM_TC_COUNT];
    sm_us us[IMPORT_FORMATS];
} import_readings;
void import_time_read_all(sm_timecode_rate rate, const char *text, import_readings *out);
// Finds how the times are written. False: asked.
bool import_formats_read(import_work *work);

// ---- address.c, meanings.c --------------------------------------------------------------

// The slots, fixtures and groups that the row names, as cues.csv has them; NULL: told or asked. *slots counts them.
const char *import_address_read(import_work *work, const import_row *row, uint32_t *slots);
// The effect or module that TEXT means; NULL: asked. LINE: where it stands.
const char *import_effect_read(import_work *work, const char *text, uint32_t line);
const char *import_module_read(import_work *work, const char *text, uint32_t line);
// Asks what is open once all rows have been seen.
void import_meanings_ask(import_work *work);

// ---- lights.c --------------------------------------------------------------------------

// The lights of a new show that TARGET names and LEVELS (as cues.csv has them) set; "": the map leaves them out; NULL: asked or told.
const char *import_lights_read(import_work *work, const char *target, const char *levels, uint32_t line);
// Asks what is open once all rows have been seen.
void import_lights_ask(import_work *work);

// ---- take_rows.c, write.c ----------------------------------------------------------------------

void import_rows_read(import_work *work);

void import_write_cues(const import_work *work, sm_text *out);
void import_write_report(const import_work *work, sm_text *out);
void import_write_map(const import_work *work, sm_text *out);

#endif
