// SPDX-License-Identifier: GPL-3.0-or-later
// A table of answers, as paper and phones give it back.
//
// The library is fed byte by byte, so that the place of each cell is known: when it tells a cell, the byte at hand is the one
// behind it.
#include "slowmatch/walk.h"

#include <assert.h>
#include <csv.h>
#include <string.h>

enum { COLUMN_ITEM, COLUMN_ANSWER, COLUMN_VALUE, COLUMN_NOTE, COLUMN_BY, COLUMN_WHEN, COLUMN_COUNT };
static const char *const column_names[] = {"item", "answer", "value", "note", "by", "when"};
static_assert(sizeof column_names / sizeof column_names[0] == COLUMN_COUNT, "a name for each column");
#define CELLS_MAX 16

typedef struct cell {
    const char *text;
    uint32_t line, column;
} cell;

typedef struct reader {
    const sm_walk_list *list;
    const char *file;
    sm_findings *findings;
    sm_arena *arena;
    const char *bytes;
    size_t at, begin; // the byte being parsed; where the cell being parsed begins
    size_t seen, line_begin;
    uint32_t line; // of byte `seen`
    cell cells[CELLS_MAX];
    size_t cell_count;
    bool has_header;
    int columns[CELLS_MAX]; // of each cell, -1: unknown
    sm_walk_tick *ticks;
    size_t count, capacity;
    bool no_memory;
} reader;

static void complain(reader *r, const cell *where, const char *format, ...) SM_PRINTF(3, 4);
static void complain(reader *r, const cell *where, const char *format, ...) {
    sm_text text = {0};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&text, format, args);
    va_end(args);
    sm_findings_add(r->findings, r->file, where->line, where->column, SM_ERROR, "answers", "%s",
                    sm_text_get(&text));
    sm_text_deinit(&text);
}

// ---- header ---------------------------------------------------------------------------------

static const char *column_name_at(const void *context, size_t index) {
    (void)context;
    return column_names[index];
}

static void read_header(reader *r) {
    bool there[COLUMN_COUNT] = {false};
    r->has_header = true;
    for (size_t i = 0; i < r->cell_count; i++) {
        r->columns[i] = -1;
        for (int column = 0; column < COLUMN_COUNT; column++)
            if (strcmp(r->cells[i].text, column_names[column]) == 0)
                r->columns[i] = column;
        if (r->columns[i] >= 0) {
            there[r->columns[i]] = true;
            continue;
        }
        const char *near = sm_nearest_name(r->cells[i].text, COLUMN_COUNT, column_name_at, NULL);
        complain(r, &r->cells[i], "no column \"%.40s\"; %s%s", r->cells[i].text,
                 near ? "did you mean " : "there are item, answer, value, note, by and when",
                 near ? near : "");
    }
    for (int column = COLUMN_ITEM; column <= COLUMN_ANSWER; column++)
        if (!there[column])
            complain(r, &(cell){"", r->cells[0].line, 0}, "the column %s is missing", column_names[column]);
}

// ---- rows ---------------------------------------------------------------------------------------

static const char *item_id_at(const void *context, size_t index) {
    const sm_walk_list *list = context;
    return list->items[index].id;
}

static bool read_item(reader *r, const cell *c, sm_walk_tick *tick) {
    uint32_t item = sm_walk_item_find(r->list, c->text);
    if (item != SM_NONE) {
        tick->item = c->text;
        tick->hash = r->list->items[item].hash;
        return true;
    }
    const char *near = sm_nearest_name(c->text, r->list->count, item_id_at, r->list);
    complain(r, c, "no item \"%.40s\" on this walk%s%s", c->text, near ? "; did you mean " : "",
             near ? near : "");
    return false;
}

static bool read_value(reader *r, const cell *c, const sm_walk_tick *tick) {
    const sm_walk_item *item = &r->list->items[sm_walk_item_find(r->list, tick->item)];
    double value;
    if (!item->measured || c->text[0] == '\0' ||
        sm_measure_read(item->quantity, c->text, strlen(c->text), &value) == SM_OK)
        return true;
    complain(r, c, "\"%.40s\" is no such measure; write a number with %s", c->text,
             sm_quantity_units(item->quantity));
    return false;
}

static bool read_cells(reader *r, const cell *by_column[COLUMN_COUNT], sm_walk_tick *tick) {
    static const cell empty = {"", 0, 0};
    const cell *c[COLUMN_COUNT];
    for (int i = 0; i < COLUMN_COUNT; i++)
        c[i] = by_column[i] ? by_column[i] : &empty;
    const cell whole = {"", r->cells[0].line, 0};
    bool good = true;
    for (int i = COLUMN_ITEM; i <= COLUMN_ANSWER; i++)
        if (c[i]->text[0] == '\0') {
            complain(r, &whole, "the %s is missing", column_names[i]);
            good = false;
        }
    good = good && read_item(r, c[COLUMN_ITEM], tick) && read_value(r, c[COLUMN_VALUE], tick);
    if (c[COLUMN_ANSWER]->text[0] != '\0' &&
        sm_walk_answer_read(c[COLUMN_ANSWER]->text, strlen(c[COLUMN_ANSWER]->text), &tick->answer) != SM_OK) {
        complain(r, c[COLUMN_ANSWER], "\"%.40s\" is no answer; write yes, no, na or later",
                 c[COLUMN_ANSWER]->text);
        good = false;
    }
    const char *when = c[COLUMN_WHEN]->text;
    if (when[0] != '\0' && sm_walk_when_read(when, strlen(when), &tick->when_us) != SM_OK) {
        complain(r, c[COLUMN_WHEN], "\"%.40s\" is not a date and time such as 2026-07-04T20:15", when);
        good = false;
    }
    tick->value = c[COLUMN_VALUE]->text;
    tick->note = c[COLUMN_NOTE]->text;
    tick->by = c[COLUMN_BY]->text;
    return good;
}

static void read_row(reader *r) {
    const cell *by_column[COLUMN_COUNT] = {NULL};
    sm_walk_tick tick = {.when_us = SM_UNSET_US};
    assert(r->cell_count <= CELLS_MAX);
    for (size_t i = 0; i < r->cell_count; i++)
        if (r->columns[i] >= 0)
            by_column[r->columns[i]] = &r->cells[i];
    if (!read_cells(r, by_column, &tick))
        return;
    if (r->count == r->capacity) {
        size_t capacity = r->capacity > 0 ? r->capacity * 2 : 32;
        sm_walk_tick *grown = sm_arena_resize(r->arena, r->ticks, capacity * sizeof *grown);
        if (!grown) {
            r->no_memory = true;
            return;
        }
        r->ticks = grown;
        r->capacity = capacity;
    }
    r->ticks[r->count++] = tick;
}

// ---- the library's calls ---------------------------------------------------------------------------

static void move_to(reader *r, size_t to) {
    for (; r->seen < to; r->seen++)
        if (r->bytes[r->seen] == '\n') {
            r->line++;
            r->line_begin = r->seen + 1;
        }
}

static void on_cell(void *text, size_t length, void *context) {
    reader *r = context;
    while (r->begin < r->at && strchr(" \t\r\n", r->bytes[r->begin]))
        r->begin++;
    move_to(r, r->begin);
    if (r->cell_count < CELLS_MAX) {
        char *kept = sm_arena_text(r->arena, text ? text : "", length);
        r->no_memory = r->no_memory || !kept;
        r->cells[r->cell_count] =
            (cell){kept ? kept : "", r->line,
                   1 + (uint32_t)sm_utf8_count(r->bytes + r->line_begin, r->begin - r->line_begin)};
    }
    r->cell_count++;
    r->begin = r->at + 1;
}

static void on_record(int end, void *context) {
    reader *r = context;
    (void)end;
    r->begin = r->at + 1;
    if (r->no_memory || r->cell_count == 0 || r->cells[0].text[0] == '#') {
        r->cell_count = 0;
        return;
    }
    size_t kept = r->cell_count < CELLS_MAX ? r->cell_count : CELLS_MAX;
    if (r->cell_count > CELLS_MAX)
        complain(r, &r->cells[0], "%zu cells; a row has at most %d", r->cell_count, CELLS_MAX);
    r->cell_count = kept;
    for (size_t i = kept; i < CELLS_MAX && !r->has_header; i++)
        r->columns[i] = -1;
    if (!r->has_header)
        read_header(r);
    else
        read_row(r);
    r->cell_count = 0;
}

static sm_result parse(reader *r, size_t length) {
    struct csv_parser parser;
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI) != 0)
        return SM_NO_MEMORY;
    bool whole = true;
    for (; whole && r->at < length; r->at++)
        whole = csv_parse(&parser, r->bytes + r->at, 1, on_cell, on_record, r) == 1;
    whole = whole && csv_fini(&parser, on_cell, on_record, r) == 0;
    bool no_memory = r->no_memory || csv_error(&parser) == CSV_ENOMEM;
    csv_free(&parser);
    if (no_memory)
        return SM_NO_MEMORY;
    if (!whole) {
        move_to(r, r->begin < length ? r->begin : length);
        complain(r, &(cell){"", r->line, 0}, "a quote stands where none may, or is left open");
    } else if (!r->has_header) {
        complain(r, &(cell){"", 0, 0},
                 "empty; the first line names the columns: item,answer,value,note,by,when");
    }
    return SM_OK;
}

sm_result sm_walk_ticks_read(const sm_walk_list *list, const char *file, const char *text, size_t length,
                             sm_findings *findings, sm_arena *arena, sm_walk_tick **out, size_t *count) {
    size_t errors = sm_findings_count_of(findings, SM_ERROR);
    bool mark = length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0;
    reader r = {.list = list, .file = file, .findings = findings, .arena = arena, .line = 1};
    r.bytes = text + (mark ? 3 : 0);
    sm_result result = parse(&r, length - (mark ? 3 : 0));
    if (result != SM_OK || sm_findings_failed(findings))
        return SM_NO_MEMORY;
    if (sm_findings_count_of(findings, SM_ERROR) > errors)
        return SM_INVALID;
    *out = r.ticks;
    *count = r.count;
    return SM_OK;
}
