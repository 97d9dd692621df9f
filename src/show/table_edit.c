// SPDX-License-Identifier: GPL-3.0-or-later
// The table is read by the reader that loads it, over a copy; what it finds are places in the bytes, and only these are written anew.
#include "slowmatch/table_edit.h"

#include "show/csv.h"

#include <stdlib.h>
#include <string.h>

// Bytes from `at` to `end` become TEXT.
typedef struct splice {
    size_t at, end;
    bool is_quoted;
    const char *text;
} splice;

typedef struct editing {
    const sm_table_edit *edit;
    sm_arena *scratch;
    const char *copy;      // what the reader reads
    size_t header_cells;   // 0: no header yet
    size_t records;        // header included
    uint8_t *change_cells; // of each change: its column's cell
    uint8_t *row_cells;    // of each column of the new rows
    splice *splices;       // of each change; `text` NULL until its record came
    const char **held;     // of each change: what the cell holds
    const sm_cell_change *wrong;
    const char *no_column;
    bool no_memory;
} editing;

static bool is_named(const sm_csv_record *record, size_t cell, const char *name) {
    return strcmp(record->bytes + record->cells[cell].at, name) == 0;
}

static size_t kept_cells(const sm_csv_record *record) {
    return record->cell_count < SM_CSV_CELLS_MAX ? record->cell_count : SM_CSV_CELLS_MAX;
}

static bool find_column(editing *in, const sm_csv_record *record, const char *name, uint8_t *out) {
    for (size_t i = 0; i < kept_cells(record); i++)
        if (is_named(record, i, name)) {
            *out = (uint8_t)i;
            return true;
        }
    in->no_column = name;
    return false;
}

static bool take_header(editing *in, const sm_csv_record *record) {
    bool found = true;
    in->header_cells = kept_cells(record);
    for (size_t i = 0; i < in->edit->change_count && found; i++)
        found = find_column(in, record, in->edit->changes[i].column, &in->change_cells[i]);
    for (size_t i = 0; i < in->edit->column_count && found; i++)
        found = find_column(in, record, in->edit->columns[i], &in->row_cells[i]);
    return found;
}

static bool take_change(editing *in, size_t number, const sm_csv_record *record) {
    const sm_cell_change *const change = &in->edit->changes[number];
    const size_t cell = in->change_cells[number];
    size_t begin, end;
    if (cell >= kept_cells(record) || (change->was && !is_named(record, cell, change->was))) {
        in->wrong = change;
        return false;
    }
    const bool is_quoted = sm_csv_cell_text(record, cell, &begin, &end);
    const size_t before = (size_t)(record->raw - in->copy);
    const sm_csv_cell *const held = &record->cells[cell];
    in->held[number] = sm_arena_text(in->scratch, record->bytes + held->at, held->length);
    in->splices[number] = (splice){before + begin, before + end, is_quoted, change->text};
    in->no_memory = !in->held[number];
    return !in->no_memory;
}

static bool take_record(void *context, const sm_csv_record *record) {
    editing *const in = context;
    bool goes_on = true;
    if (sm_csv_is_comment(record))
        return true;
    in->records++;
    if (in->header_cells == 0)
        return take_header(in, record);
    for (size_t i = 0; i < in->edit->change_count && goes_on; i++)
        if (in->edit->changes[i].line == record->line)
            goes_on = take_change(in, i, record);
    return goes_on;
}

// ---- writing ------------------------------------------------------------------

static void append_quoted(sm_text *out, const char *text) {
    for (const char *at = text; *at != '\0'; at++)
        sm_text_append(out, *at == '"' ? "\"\"" : at, *at == '"' ? 2 : 1);
}

static int by_place(const void *a, const void *b) {
    const splice *const first = a, *const second = b;
    return (first->at > second->at) - (first->at < second->at);
}

static void append_spliced(const editing *in, const char *bytes, size_t length, sm_text *out) {
    size_t at = 0;
    for (size_t i = 0; i < in->edit->change_count; i++) {
        const splice *const each = &in->splices[i];
        sm_text_append(out, bytes + at, each->at - at);
        if (each->is_quoted)
            append_quoted(out, each->text);
        else
            sm_text_append_csv(out, each->text);
        at = each->end;
    }
    sm_text_append(out, bytes + at, length - at);
}

// Names of the show's things must be written as its other tables have them; what people write freely must not.
static void append_cell(const sm_table_edit *edit, size_t row, size_t column, sm_text *out) {
    const char *const text = edit->cells[row * edit->column_count + column];
    if (edit->free_text && strcmp(edit->columns[column], edit->free_text) == 0)
        sm_text_append_csv_shown(out, text);
    else
        sm_text_append_csv(out, text);
}

static void append_row(const editing *in, size_t row, const char *line_end, sm_text *out) {
    const sm_table_edit *const edit = in->edit;
    for (size_t cell = 0; cell < in->header_cells; cell++) {
        if (cell > 0)
            sm_text_append(out, ",", 1);
        for (size_t i = 0; i < edit->column_count; i++)
            if (in->row_cells[i] == cell)
                append_cell(edit, row, i, out);
    }
    sm_text_printf(out, "%s", line_end);
}

static void append_header(editing *in, const char *line_end, sm_text *out) {
    for (size_t i = 0; i < in->edit->column_count; i++) {
        sm_text_printf(out, "%s%s", i > 0 ? "," : "", in->edit->columns[i]);
        in->row_cells[i] = (uint8_t)i;
    }
    sm_text_printf(out, "%s", line_end);
    in->header_cells = in->edit->column_count;
    in->records++;
}

// With the line end of the table's first line.
static void append_rows(editing *in, const char *bytes, size_t length, sm_text *out) {
    const char *const first = memchr(bytes, '\n', length);
    const char *const line_end = first && first > bytes && first[-1] == '\r' ? "\r\n" : "\n";
    if (in->edit->row_count == 0)
        return;
    if (length > 0 && bytes[length - 1] != '\n')
        sm_text_printf(out, "%s", line_end);
    if (in->header_cells == 0)
        append_header(in, line_end, out);
    for (size_t row = 0; row < in->edit->row_count; row++)
        append_row(in, row, line_end, out);
}

// ---- reading --------------------------------------------------------------------

// Reads COPY, which is changed, with HANDLER. SM_INVALID and *why: something in it is wrong.
static sm_result read_copy(char *copy, size_t length, sm_arena *scratch, sm_csv_handler handler,
                           void *context, sm_text *why) {
    sm_lines lines;
    size_t dropped;
    sm_findings *const findings = sm_findings_create();
    if (!findings)
        return SM_NO_MEMORY;
    sm_lines_of_bytes(&lines, copy, length);
    sm_result result = sm_csv_read("", &lines, scratch, findings, handler, context, &dropped);
    const sm_finding *const first = sm_findings_at(findings, 0);
    if (sm_findings_failed(findings))
        result = SM_NO_MEMORY;
    if (result != SM_NO_MEMORY && first) {
        sm_text_printf(why, "line %u: %s", (unsigned)first->line, first->message);
        result = SM_INVALID;
    }
    sm_findings_destroy(findings);
    return result;
}

static bool reserve(editing *in) {
    in->change_cells = sm_arena_alloc(in->scratch, in->edit->change_count + 1);
    in->row_cells = sm_arena_alloc(in->scratch, in->edit->column_count + 1);
    in->splices = sm_arena_alloc(in->scratch, (in->edit->change_count + 1) * sizeof *in->splices);
    in->held = sm_arena_alloc(in->scratch, (in->edit->change_count + 1) * sizeof *in->held);
    return in->change_cells && in->row_cells && in->splices && in->held;
}

// Every change has found its cell, each another one.
static sm_result look_for_all(const editing *in, sm_text *why) {
    for (size_t i = 0; i < in->edit->change_count; i++)
        if (!in->held[i]) {
            sm_text_printf(why, "no row begins at line %u", (unsigned)in->edit->changes[i].line);
            return SM_INVALID;
        }
    qsort(in->splices, in->edit->change_count, sizeof *in->splices, by_place);
    for (size_t i = 1; i < in->edit->change_count; i++)
        if (in->splices[i].at <= in->splices[i - 1].end) {
            sm_text_printf(why, "a cell would be changed twice");
            return SM_INVALID;
        }
    return SM_OK;
}

// Finds the places of all changes.
static sm_result find_places(editing *in, const char *bytes, size_t length, sm_text *why) {
    char *const copy = malloc(length + 1);
    if (!copy || !reserve(in)) {
        free(copy);
        return SM_NO_MEMORY;
    }
    memcpy(copy, bytes, length);
    in->copy = copy;
    sm_result result = read_copy(copy, length, in->scratch, take_record, in, why);
    free(copy);
    if (in->no_memory || (result != SM_OK && result != SM_REFUSED))
        return in->no_memory ? SM_NO_MEMORY : result;
    if (in->no_column)
        sm_text_printf(why, "the header has no column %s; add it", in->no_column);
    else if (in->wrong)
        sm_text_printf(why, "line %u: %s is no longer what it was", (unsigned)in->wrong->line,
                       in->wrong->column);
    else
        return look_for_all(in, why);
    return SM_INVALID;
}

static bool count_record(void *context, const sm_csv_record *record) {
    size_t *const count = context;
    *count += !sm_csv_is_comment(record);
    return true;
}

// No text made a record or a comment of what it stands in.
static sm_result read_again(const editing *in, const sm_text *made, sm_text *why) {
    size_t count = 0;
    char *const copy = malloc(made->length + 1);
    if (!copy)
        return SM_NO_MEMORY;
    memcpy(copy, sm_text_get(made), made->length);
    sm_result result = read_copy(copy, made->length, in->scratch, count_record, &count, why);
    free(copy);
    if (result != SM_OK || count == in->records + in->edit->row_count)
        return result;
    sm_text_printf(why, "a cell cannot hold what it should");
    return SM_INVALID;
}

static sm_result edit_into(editing *in, const char *bytes, size_t length, sm_text *made, sm_text *why) {
    const sm_result result = find_places(in, bytes, length, why);
    if (result != SM_OK)
        return result;
    sm_text_reserve(made, length);
    append_spliced(in, bytes, length, made);
    append_rows(in, bytes, length, made);
    return made->failed ? SM_NO_MEMORY : read_again(in, made, why);
}

sm_result sm_table_edit_bytes(const char *bytes, size_t length, const sm_table_edit *edit, sm_text *out,
                              sm_text *why) {
    sm_text made = {0};
    editing in = {.edit = edit, .scratch = sm_arena_create()};
    sm_result result = in.scratch ? edit_into(&in, bytes, length, &made, why) : SM_NO_MEMORY;
    if (result == SM_OK) {
        sm_text_append(out, sm_text_get(&made), made.length);
        result = out->failed ? SM_NO_MEMORY : SM_OK;
    }
    sm_text_deinit(&made);
    sm_arena_destroy(in.scratch);
    return result;
}

sm_result sm_table_cells(const char *bytes, size_t length, const sm_cell_change *cells, size_t count,
                         sm_arena *arena, const char ***texts, sm_text *why) {
    const sm_table_edit looked_at = {.changes = cells, .change_count = count};
    editing in = {.edit = &looked_at, .scratch = arena};
    const sm_result result = find_places(&in, bytes, length, why);
    if (result == SM_OK)
        *texts = in.held;
    return result;
}
