// SPDX-License-Identifier: GPL-3.0-or-later
// A table of the folder: its header against the schema, its rows into the show, its names into the index.
#include "show/load.h"
#include "show/spreadsheet.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

// Where a table's rows go.
typedef struct table {
    size_t row_size, line_at; // of a row, and of the member `line` in it
    size_t rows_at, count_at; // within sm_show
    sm_row_hook row;          // NULL: nothing beyond the schema
    void (*finish)(sm_loader *loader);
    bool (*record)(const sm_table_record *from); // in place of all that: it keeps the rows itself
} table;

#define ROWS(type, name)                                                                                     \
    .row_size = sizeof(type), .line_at = offsetof(type, line), .rows_at = offsetof(sm_show, name##s),        \
    .count_at = offsetof(sm_show, name##_count)

// ORDER sm_table_id
static const table tables[] = {
    [SM_SCHEMA_POSITIONS] = {ROWS(sm_position, position)},
    [SM_SCHEMA_MODULES] = {ROWS(sm_module, module)},
    [SM_SCHEMA_RAILS] = {ROWS(sm_rail, rail), .row = sm_rail_row, .finish = sm_rails_finish},
    [SM_SCHEMA_IGNITERS] = {ROWS(sm_igniter, igniter), .finish = sm_igniters_finish},
    [SM_SCHEMA_EFFECTS] = {ROWS(sm_effect, effect), .row = sm_effect_row},
    [SM_SCHEMA_PROFILES] = {ROWS(sm_profile, profile), .row = sm_profile_row},
    [SM_SCHEMA_FEEDS] = {ROWS(sm_feed, feed), .row = sm_feed_row, .finish = sm_feeds_finish},
    [SM_SCHEMA_FIXTURES] = {ROWS(sm_fixture, fixture), .row = sm_fixture_row, .finish = sm_fixtures_finish},
    [SM_SCHEMA_GROUPS] = {ROWS(sm_group, group), .row = sm_group_row},
    [SM_SCHEMA_LINES] = {ROWS(sm_line, line), .row = sm_line_row},
    [SM_SCHEMA_CUES] = {.record = sm_cue_record},
    [SM_SCHEMA_READINGS] = {ROWS(sm_reading, reading), .row = sm_reading_row},
    [SM_SCHEMA_WALK] = {ROWS(sm_walk_row, walk_row)},
};
static_assert(sizeof tables / sizeof tables[0] == SM_SCHEMA_COUNT, "a reader for each table");

enum { ROW_BYTES_MAX = 256 };

typedef sm_table_reader reader;

static const sm_table_schema *schema_of(sm_table_id id) {
    size_t count;
    return &sm_show_schema(&count)[id];
}

// ---- comments ---------------------------------------------------------------

// Joins the cells of a comment again: a comma within it is no separator to whoever wrote it.
static bool join_comment(const sm_csv_record *record, sm_text *out) {
    const size_t count = record->cell_count < SM_CSV_CELLS_MAX ? record->cell_count : SM_CSV_CELLS_MAX;
    for (size_t i = 0; i < count; i++) {
        if (i > 0)
            sm_text_append(out, ", ", 2);
        sm_text_append(out, record->bytes + record->cells[i].at, record->cells[i].length);
    }
    return !out->failed;
}

static void read_comment(reader *r, const sm_csv_record *record) {
    sm_text text = {0};
    if (!join_comment(record, &text))
        r->loader->no_memory = true;
    else if (sm_allow_read(r->loader, record->file, record->line, sm_text_get(&text)))
        r->allows_waiting++;
    sm_text_deinit(&text);
}

void sm_table_settle_allows(reader *r, uint32_t line) {
    sm_show *const show = r->loader->show;
    for (; r->allows_waiting > 0; r->allows_waiting--)
        show->allows[show->allow_count - r->allows_waiting].row_line = line;
}

// ---- the header ---------------------------------------------------------------

static const char *column_at(const void *context, size_t index) {
    return ((const sm_table_schema *)context)->columns[index].name;
}

static void refuse_column(reader *r, const sm_csv_record *record, size_t cell, const char *name,
                          size_t length) {
    char shown[SM_CLIP_BYTES];
    sm_load_clip(shown, name, length);
    const sm_table_schema *const schema = schema_of(r->id);
    const char *const nearest = sm_nearest_name(shown, schema->column_count, column_at, schema);
    const sm_spot spot = sm_record_spot(record, cell);
    if (length == 0)
        sm_load_error(r->loader, &spot, "column-unknown", "a column without a name");
    else
        sm_load_error(r->loader, &spot, "column-unknown", "%s has no column \"%s\"%s%s%s", schema->file,
                      shown, nearest ? "; did you mean " : "", nearest ? nearest : "", nearest ? "?" : "");
}

static void assign_column(reader *r, const sm_csv_record *record, size_t cell) {
    const char *const name = record->bytes + record->cells[cell].at;
    const size_t length = record->cells[cell].length;
    const sm_table_schema *const schema = schema_of(r->id);
    const size_t column = sm_table_column(schema, name, length);
    const sm_spot spot = sm_record_spot(record, cell);
    if (column == schema->column_count)
        refuse_column(r, record, cell, name, length);
    else if (r->cell_of[column] != SM_CSV_CELLS_MAX)
        sm_load_error(r->loader, &spot, "column-repeated", "column %s is here twice; keep one", name);
    else
        r->cell_of[column] = (uint8_t)cell;
}

// Cells of the record without the blank ones that spreadsheets leave at the end; FROM are counted unseen.
static size_t count_cells(const sm_csv_record *record, size_t from) {
    size_t count = record->cell_count;
    while (count > from && count <= SM_CSV_CELLS_MAX && sm_csv_is_blank(record, count - 1))
        count--;
    return count;
}

static void read_header(reader *r, const sm_csv_record *record) {
    r->has_header = true;
    r->is_usable = true;
    r->header_cells = count_cells(record, 0);
    memset(r->cell_of, SM_CSV_CELLS_MAX, sizeof r->cell_of);
    if (r->header_cells > SM_CSV_CELLS_MAX) {
        const sm_spot spot = sm_record_spot(record, SM_CSV_CELLS_MAX);
        sm_load_error(r->loader, &spot, "column-unknown", "more columns than any table has");
        r->is_usable = false;
    }
    for (size_t i = 0; i < r->header_cells && i < SM_CSV_CELLS_MAX; i++)
        assign_column(r, record, i);
    const sm_table_schema *const schema = schema_of(r->id);
    for (size_t i = 0; i < schema->column_count; i++) {
        if (!schema->columns[i].required || r->cell_of[i] != SM_CSV_CELLS_MAX)
            continue;
        const sm_spot spot = {.file = record->file, .line = record->line};
        sm_load_error(r->loader, &spot, "column-missing", "the header has no column %s (%s)",
                      schema->columns[i].name, schema->columns[i].help);
        r->is_usable = false;
    }
    if (!r->is_usable)
        r->loader->tables[r->id].is_incomplete = true;
}

// ---- rows ---------------------------------------------------------------------

static bool has_right_count(reader *r, const sm_csv_record *record) {
    if (record->cell_count == r->header_cells ||
        (record->cell_count > r->header_cells && count_cells(record, r->header_cells) == r->header_cells))
        return true;
    const bool is_more = record->cell_count > r->header_cells;
    const sm_spot spot = sm_record_spot(record, is_more ? r->header_cells : record->cell_count);
    sm_load_error_figures(r->loader, &spot, "field-count", (double)record->cell_count,
                          (double)r->header_cells, "", "this record has %zu field%s, the header %zu%s",
                          record->cell_count, record->cell_count == 1 ? "" : "s", r->header_cells,
                          is_more ? "; a comma inside a field needs quotes round the field" : "");
    r->loader->tables[r->id].is_incomplete = true;
    return false;
}

// Reads every column into ROW, defaults where a cell is empty or wrong; false if one that is required is
// wrong.
static bool read_columns(const sm_table_record *from, const sm_table_schema *schema, void *row) {
    bool is_whole = true;
    for (size_t i = 0; i < schema->column_count; i++) {
        const sm_column *const column = &schema->columns[i];
        bool is_given;
        size_t length;
        const char *const text = sm_table_cell(from, i, &length, &is_given);
        sm_cell_default(from->loader, column, row);
        const sm_spot spot = sm_table_spot(from, i);
        if (is_given) {
            is_whole = (sm_cell_read(from->loader, &spot, column, text, length, row) || !column->required) &&
                       is_whole;
        } else if (column->required) {
            sm_load_error(from->loader, &spot, "value-missing", "%s is needed: %s", column->name,
                          column->help);
            is_whole = false;
        }
    }
    return is_whole;
}

// Enters the row's name with its NUMBER; false if it has no good one, or one that is taken.
static bool enter_name(const sm_table_record *from, const sm_table_schema *schema, const void *row,
                       uint32_t number) {
    sm_loader *const loader = from->loader;
    if (strcmp(schema->columns[0].name, "name") != 0)
        return true;
    const char *const name = *(const char *const *)row; // the first member of every row that has a name
    sm_names *const names = &loader->index->names[from->table];
    if (!name || name[0] == '\0')
        return false;
    const size_t length = strlen(name);
    const sm_spot spot = sm_table_spot(from, 0);
    if (sm_names_find(names, name, length)) {
        sm_load_error(loader, &spot, "name-clash", "\"%s\" is in %s already; names differ within a table",
                      name, schema->file);
        return false;
    }
    if (sm_names_add(names, loader->show->arena, name, length, number) == SM_OK)
        return true;
    loader->no_memory = true;
    return false;
}

// Rows with an error in what they cannot do without are left out, and their names stand for SM_NONE: so
// nothing that was loaded points at nothing, and one error is not reported again at each use.
static void read_row(const sm_table_record *from, const table *kind, const sm_table_schema *schema) {
    sm_loader *const loader = from->loader;
    union {
        char bytes[ROW_BYTES_MAX];
        double number;
        const void *pointer;
        int64_t integer;
    } row;
    assert(kind->row_size <= sizeof row);
    memset(&row, 0, sizeof row);
    const bool is_whole = read_columns(from, schema, &row);
    *(uint32_t *)(void *)(row.bytes + kind->line_at) = from->record->line;
    const bool is_kept = (!kind->row || kind->row(from, &row)) && is_whole;
    uint32_t *const count = (uint32_t *)(void *)((char *)loader->show + kind->count_at);
    void **const rows = (void **)(void *)((char *)loader->show + kind->rows_at);
    if (!enter_name(from, schema, &row, is_kept ? *count : SM_NONE) || !is_kept)
        return;
    if (!sm_load_reserve(loader, rows, *count, &loader->tables[from->table].capacity, kind->row_size))
        return;
    memcpy((char *)*rows + *count * kind->row_size, &row, kind->row_size);
    ++*count;
}

bool sm_table_is_strictly_good(const reader *r) {
    const sm_loader *const loader = r->loader;
    return !loader->no_memory && sm_findings_count(loader->findings) == 0 && r->allows_waiting == 0 &&
           !loader->cues->has_left_out;
}

static bool goes_on(const reader *r) {
    return !r->loader->no_memory && !(r->stops_after_header && r->has_header) &&
           (!r->is_strict || sm_table_is_strictly_good(r));
}

static bool take_record(void *context, const sm_csv_record *record) {
    reader *const r = context;
    if (sm_csv_is_blank(record, 0) && count_cells(record, 0) == 0)
        return true; // a row that a spreadsheet left empty
    if (sm_csv_is_comment(record)) {
        read_comment(r, record);
    } else if (!r->has_header) {
        sm_table_settle_allows(r, record->line);
        read_header(r, record);
    } else {
        sm_table_settle_allows(r, record->line);
        const sm_table_record from = {
            .loader = r->loader, .table = r->id, .record = record, .cell_of = r->cell_of};
        if (!has_right_count(r, record) || !r->is_usable)
            return goes_on(r);
        if (tables[r->id].record)
            tables[r->id].record(&from);
        else
            read_row(&from, &tables[r->id], schema_of(r->id));
    }
    return goes_on(r);
}

sm_result sm_table_begin(reader *r, sm_loader *loader, sm_table_id id, const char *file, sm_lines *lines,
                         bool *is_table) {
    const char *bytes, *rule;
    size_t length;
    assert(schema_of(id)->column_count <= SM_TABLE_COLUMNS_MAX);
    *r = (reader){.loader = loader, .file = file, .id = id};
    const sm_result result = sm_lines_look(lines, &bytes, &length);
    if (result != SM_OK)
        return result;
    const char *const why = sm_spreadsheet_refuse(schema_of(id), bytes, length, &rule);
    const sm_spot first = {.file = file, .line = 1};
    *is_table = !why;
    if (why)
        sm_load_error(loader, &first, rule, "%s", why);
    loader->tables[id].is_incomplete = loader->tables[id].is_incomplete || why;
    return SM_OK;
}

sm_result sm_table_records(reader *r, sm_lines *lines) {
    size_t dropped;
    sm_loader *const loader = r->loader;
    const sm_result result =
        sm_csv_read(r->file, lines, loader->scratch, loader->findings, take_record, r, &dropped);
    if (dropped > 0)
        loader->tables[r->id].is_incomplete = true;
    if (loader->no_memory)
        return SM_NO_MEMORY;
    return result == SM_REFUSED ? SM_OK : result;
}

void sm_table_end(const reader *r) {
    const sm_spot whole = {.file = r->file};
    if (r->has_header)
        return;
    sm_load_error(r->loader, &whole, "column-missing",
                  "there is no header; the first record names the columns");
    r->loader->tables[r->id].is_incomplete = true;
}

void sm_table_finish(sm_loader *loader, sm_table_id id) {
    if (tables[id].finish && !loader->no_memory)
        tables[id].finish(loader);
}
