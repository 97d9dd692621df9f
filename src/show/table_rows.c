// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/table_rows.h"

#include "show/load.h"

#include "slowmatch/ini.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct reading {
    const sm_show *show;
    const sm_table_schema *schema;
    sm_arena *arena;
    sm_table_row *rows;
    size_t count;
    size_t *cell_of; // by column; SM_CSV_CELLS_MAX: not there
    bool has_header, no_memory;
} reading;

// ---- what a cell means ---------------------------------------------------------------

// "A-5" as "A-05", "dim=50%" as "dim=128".
static void append_word(const reading *in, const char *word, size_t length, sm_text *out) {
    size_t rail_length;
    int32_t number;
    uint8_t level;
    const char *const equals = memchr(word, '=', length);
    const size_t head = equals ? (size_t)(equals - word) + 1 : 0;
    if (equals && sm_cell_level(equals + 1, length - head, &level) == SM_OK)
        sm_text_printf(out, "%.*s%u", (int)head, word, (unsigned)level);
    else if (!equals && sm_target_split(word, length, &rail_length, &number) &&
             sm_names_find(&in->show->index->names[SM_SCHEMA_RAILS], word, rail_length))
        sm_text_printf(out, "%.*s-%02d", (int)rail_length, word, (int)number);
    else
        sm_text_append(out, word, length);
}

static void append_words(const reading *in, const char *text, sm_text *out) {
    size_t at = 0, length;
    for (const char *word; (word = sm_load_next_word(text, strlen(text), &at, &length));) {
        if (out->length > 0)
            sm_text_append(out, " ", 1);
        append_word(in, word, length, out);
    }
}

// Of a gas by its mass, of a liquid by its volume: two figures that have nothing to do with each other.
static bool is_mass(const sm_column *column, const char *text) {
    return (column->quantity == SM_QUANTITY_FUEL || column->quantity == SM_QUANTITY_FLOW) &&
           strchr(text, 'g') != NULL;
}

static void append_meaning(const reading *in, const sm_column *column, const char *text, sm_text *out) {
    const size_t length = strlen(text);
    sm_us us;
    double value;
    int32_t integer;
    sm_gauge gauge;
    if ((column->kind == SM_CELL_MOMENT &&
         sm_moment_read(text, length, &in->show->settings.timecode, &us) == SM_OK) ||
        (column->kind == SM_CELL_SPAN && sm_span_read(text, length, column->bare_us, &us) == SM_OK))
        sm_text_printf(out, "%" PRId64, us);
    else if (column->kind == SM_CELL_MEASURE &&
             sm_measure_read(column->quantity, text, length, &value) == SM_OK)
        sm_text_printf(out, "%.9g%s", value, is_mass(column, text) ? " g" : "");
    else if (column->kind == SM_CELL_INTEGER && sm_integer_read(text, length, &integer) == SM_OK)
        sm_text_printf(out, "%d", (int)integer);
    else if (column->kind == SM_CELL_GAUGE && sm_gauge_read(text, length, &gauge) == SM_OK)
        sm_text_printf(out, "%.9g x%.9g", gauge.area_mm2, gauge.factor);
    else if (column->kind == SM_CELL_NAMES || column->kind == SM_CELL_INTEGERS ||
             column->kind == SM_CELL_SPECIAL)
        append_words(in, text, out);
    else
        sm_text_append(out, text, length);
}

static bool put_cell(reading *in, sm_table_row *row, size_t column, const char *text, size_t length) {
    char room[128] = "";
    sm_text meaning = SM_TEXT_IN(room);
    const sm_column *const kind = &in->schema->columns[column];
    if (length == 0) {
        text = kind->fallback;
        length = strlen(text);
    }
    const char *const cell = length > 0 ? sm_arena_text(in->arena, text, length) : "";
    if (cell)
        append_meaning(in, kind, cell, &meaning);
    const bool is_same = cell && strcmp(sm_text_get(&meaning), cell) == 0;
    row->cells[column] = cell;
    row->meanings[column] = is_same ? cell : sm_arena_text(in->arena, sm_text_get(&meaning), meaning.length);
    const bool made = cell && row->meanings[column] && !meaning.failed;
    sm_text_deinit(&meaning);
    return made;
}

// ---- rows -----------------------------------------------------------------------------

static sm_table_row *add_row(reading *in, uint32_t line) {
    const size_t bytes = in->schema->column_count * sizeof(const char *);
    sm_table_row *const grown = sm_arena_grow(in->arena, in->rows, in->count, sizeof *grown);
    if (!grown)
        return NULL;
    in->rows = grown;
    sm_table_row *const row = &in->rows[in->count];
    *row = (sm_table_row){line, sm_arena_alloc(in->arena, bytes), sm_arena_alloc(in->arena, bytes)};
    if (!row->cells || !row->meanings)
        return NULL;
    in->count++;
    return row;
}

static void take_header(reading *in, const sm_csv_record *record) {
    in->has_header = true;
    for (size_t i = 0; i < in->schema->column_count; i++)
        in->cell_of[i] = SM_CSV_CELLS_MAX;
    for (size_t i = 0; i < record->cell_count && i < SM_CSV_CELLS_MAX; i++) {
        const sm_csv_cell *const cell = &record->cells[i];
        const size_t column = sm_table_column(in->schema, record->bytes + cell->at, cell->length);
        if (column < in->schema->column_count)
            in->cell_of[column] = i;
    }
}

static bool take_record(void *context, const sm_csv_record *record) {
    reading *const in = context;
    if (sm_csv_is_comment(record))
        return true;
    if (!in->has_header) {
        take_header(in, record);
        return true;
    }
    sm_table_row *const row = add_row(in, record->line);
    in->no_memory = !row;
    for (size_t i = 0; i < in->schema->column_count && !in->no_memory; i++) {
        const size_t at = in->cell_of[i];
        const bool is_given =
            at < SM_CSV_CELLS_MAX && at < record->cell_count && !sm_csv_is_blank(record, at);
        in->no_memory = !put_cell(in, row, i, is_given ? record->bytes + record->cells[at].at : "",
                                  is_given ? record->cells[at].length : 0);
    }
    return !in->no_memory;
}

static sm_result read_table(reading *in, const char *path, sm_findings *findings) {
    sm_lines lines;
    size_t dropped = 0;
    sm_result result = sm_lines_open(&lines, path, in->arena);
    if (result != SM_OK)
        return result == SM_UNREADABLE && errno == ENOENT ? SM_OK : result;
    result = sm_csv_read("", &lines, in->arena, findings, take_record, in, &dropped);
    const int why = errno;
    sm_lines_deinit(&lines);
    errno = why;
    if (in->no_memory)
        return SM_NO_MEMORY;
    return result == SM_OK && dropped > 0 ? SM_INVALID : result;
}

static sm_result read_settings(reading *in, const char *path, sm_findings *findings) {
    size_t length;
    char *bytes;
    sm_ini ini = {0};
    sm_result result = sm_file_read(path, &bytes, &length);
    if (result != SM_OK)
        return result;
    result = sm_ini_read("", bytes, length, in->arena, findings, &ini);
    sm_table_row *const row = result == SM_OK ? add_row(in, 1) : NULL;
    bool made = row != NULL;
    for (size_t i = 0; i < in->schema->column_count && made; i++) {
        const sm_column *const column = &in->schema->columns[i];
        const sm_ini_entry *const entry = sm_ini_find(&ini, column->section, column->name);
        made = put_cell(in, row, i, entry ? entry->value : "", entry ? strlen(entry->value) : 0);
    }
    free(bytes);
    return made ? SM_OK : SM_NO_MEMORY;
}

sm_result sm_table_rows(const sm_show *show, size_t number, sm_arena *arena, sm_table_row **rows,
                        size_t *count) {
    size_t tables;
    const sm_table_schema *const schema = &sm_show_schema(&tables)[number];
    reading in = {.show = show, .schema = schema, .arena = arena};
    sm_text path = {0};
    sm_findings *const findings = sm_findings_create(); // they were told when the show was loaded
    in.cell_of = sm_arena_alloc(arena, (schema->column_count + 1) * sizeof *in.cell_of);
    sm_text_printf(&path, "%s/%s", show->folder, schema->file);
    sm_result result = SM_NO_MEMORY;
    if (findings && in.cell_of && !path.failed)
        result = number == SM_SCHEMA_SETTINGS ? read_settings(&in, path.bytes, findings)
                                              : read_table(&in, path.bytes, findings);
    const int why = errno;
    sm_findings_destroy(findings);
    sm_text_deinit(&path);
    errno = why;
    if (result != SM_OK)
        return result;
    *rows = in.rows;
    *count = in.count;
    return SM_OK;
}
