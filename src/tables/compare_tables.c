// SPDX-License-Identifier: GPL-3.0-or-later
// The account of all tables but cues.csv: rows are known by their names.
#include "tables/compare.h"

#include <stdlib.h>
#include <string.h>

typedef struct keyed {
    const char *key;
    const sm_table_row *row;
    bool is_matched;
} keyed;

typedef struct side {
    keyed *rows;
    size_t count;
} side;

// How many readings are named in one line.
enum { NAMED_MOST = 12 };

typedef struct telling {
    sm_compare *compare;
    const sm_table_schema *schema;
    side old, now;
    sm_text slots; // of readings that differ
    size_t slot_count;
} telling;

static bool is_readings(const telling *in) {
    return strcmp(in->schema->file, "readings.csv") == 0;
}

// "A-05" of a reading, the first column of other rows, "section" of show.ini.
static const char *key_of(telling *in, const sm_table_row *row) {
    char room[80] = "";
    sm_text key = SM_TEXT_IN(room);
    if (in->schema->columns[0].section)
        return "";
    if (!is_readings(in))
        return row->cells[0];
    sm_text_printf(&key, "%s-%s%s", row->cells[0], strlen(row->meanings[1]) < 2 ? "0" : "", row->meanings[1]);
    const char *const kept = compare_keep(in->compare, sm_text_get(&key));
    sm_text_deinit(&key);
    return kept;
}

static int by_key(const void *a, const void *b) {
    const keyed *const first = a, *const second = b;
    const int order = strcmp(first->key, second->key);
    return order != 0 ? order : (first->row > second->row) - (first->row < second->row);
}

// Sorted by key; of several rows of one key the last counts.
static sm_result read_side(telling *in, const sm_show *show, size_t number, side *out) {
    sm_table_row *rows = NULL;
    size_t count = 0;
    const sm_result result = sm_table_rows(show, number, in->compare->arena, &rows, &count);
    if (result != SM_OK)
        return result;
    out->rows = sm_arena_alloc(in->compare->arena, (count + 1) * sizeof *out->rows);
    if (!out->rows)
        return SM_NO_MEMORY;
    for (size_t i = 0; i < count; i++)
        out->rows[i] = (keyed){.key = key_of(in, &rows[i]), .row = &rows[i]};
    qsort(out->rows, count, sizeof *out->rows, by_key);
    for (size_t i = 0; i < count; i++) {
        if (out->count > 0 && strcmp(out->rows[out->count - 1].key, out->rows[i].key) == 0)
            out->count--;
        out->rows[out->count++] = out->rows[i];
    }
    return SM_OK;
}

// ---- words ------------------------------------------------------------------------------

static void tell_reading(telling *in, const keyed *row) {
    if (++in->slot_count <= NAMED_MOST)
        sm_text_printf(&in->slots, "%s%s", in->slots.length > 0 ? ", " : "", row->key);
}

static void tell_readings(telling *in) {
    in->compare->no_memory = in->compare->no_memory || in->slots.failed;
    const account_line line = {.kind = "table",
                               .file = in->schema->file,
                               .what = "reading",
                               .name = compare_keep(in->compare, sm_text_get(&in->slots))};
    if (in->slot_count > NAMED_MOST)
        compare_add(in->compare, line, "readings.csv: %zu slots read otherwise: %s ...", in->slot_count,
                    line.name);
    else if (in->slot_count > 0)
        compare_add(in->compare, line, "readings.csv: %zu slot%s read otherwise: %s", in->slot_count,
                    in->slot_count == 1 ? "" : "s", line.name);
}

static const char *or_nothing(const char *text) {
    return text[0] != '\0' ? text : "nothing";
}

static void tell_cell(telling *in, const keyed *old, const keyed *now, size_t column) {
    const sm_column *const kind = &in->schema->columns[column];
    const account_line line = {.kind = "table",
                               .file = in->schema->file,
                               .name = now->key,
                               .what = kind->name,
                               .was = old->row->cells[column],
                               .now = now->row->cells[column]};
    if (kind->section)
        compare_add(in->compare, line, "%s [%s]: %s now %s, was %s", line.file, kind->section, kind->name,
                    or_nothing(line.now), or_nothing(line.was));
    else
        compare_add(in->compare, line, "%s %s: %s now %s, was %s", line.file, now->key, kind->name,
                    or_nothing(line.now), or_nothing(line.was));
}

static bool differs(const keyed *old, const keyed *now, size_t column) {
    return strcmp(old->row->meanings[column], now->row->meanings[column]) != 0;
}

static void tell_both(telling *in, const keyed *old, const keyed *now) {
    if (is_readings(in)) {
        bool same = true;
        for (size_t i = 0; i < in->schema->column_count; i++)
            same = same && !differs(old, now, i);
        if (!same)
            tell_reading(in, now);
        return;
    }
    for (size_t i = 0; i < in->schema->column_count; i++)
        if (differs(old, now, i))
            tell_cell(in, old, now, i);
}

static void tell_alone(telling *in, const keyed *row, const char *what) {
    if (is_readings(in)) {
        tell_reading(in, row);
        return;
    }
    const account_line line = {.kind = "table", .file = in->schema->file, .name = row->key, .what = what};
    compare_add(in->compare, line, "%s %s: %s", line.file, row->key, what);
}

// Rows that differ in nothing but their name.
static bool is_renamed(const telling *in, const keyed *old, const keyed *now) {
    bool same = !is_readings(in) && in->schema->column_count > 2;
    for (size_t i = 1; i < in->schema->column_count && same; i++)
        same = !differs(old, now, i);
    return same;
}

static bool tell_renamed(telling *in, const keyed *old) {
    for (size_t i = 0; i < in->now.count; i++) {
        keyed *const now = &in->now.rows[i];
        if (now->is_matched || !is_renamed(in, old, now))
            continue;
        now->is_matched = true;
        const account_line line = {.kind = "table",
                                   .file = in->schema->file,
                                   .name = now->key,
                                   .what = in->schema->columns[0].name,
                                   .was = old->key,
                                   .now = now->key};
        compare_add(in->compare, line, "%s: %s is called %s now", line.file, old->key, now->key);
        return true;
    }
    return false;
}

static void tell_table(telling *in) {
    for (size_t i = 0, k = 0; i < in->old.count && k < in->now.count;) {
        const int order = strcmp(in->old.rows[i].key, in->now.rows[k].key);
        if (order == 0) {
            in->old.rows[i].is_matched = in->now.rows[k].is_matched = true;
            tell_both(in, &in->old.rows[i], &in->now.rows[k]);
        }
        i += order <= 0;
        k += order >= 0;
    }
    for (size_t i = 0; i < in->old.count; i++)
        if (!in->old.rows[i].is_matched && !tell_renamed(in, &in->old.rows[i]))
            tell_alone(in, &in->old.rows[i], "dropped");
    for (size_t i = 0; i < in->now.count; i++)
        if (!in->now.rows[i].is_matched)
            tell_alone(in, &in->now.rows[i], "added");
    if (is_readings(in))
        tell_readings(in);
}

static sm_result compare_table(sm_compare *compare, const sm_table_schema *schema, size_t number) {
    telling in = {.compare = compare, .schema = schema};
    sm_result result = read_side(&in, compare->old, number, &in.old);
    if (result == SM_OK)
        result = read_side(&in, compare->now, number, &in.now);
    if (result == SM_OK)
        tell_table(&in);
    sm_text_deinit(&in.slots);
    return result;
}

sm_result compare_tables(sm_compare *compare) {
    size_t count;
    const sm_table_schema *const schema = sm_show_schema(&count);
    sm_result result = SM_OK;
    for (size_t i = 0; i < count && result == SM_OK; i++)
        if (strcmp(schema[i].file, "cues.csv") != 0)
            result = compare_table(compare, &schema[i], i);
    return result;
}
