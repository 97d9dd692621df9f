// SPDX-License-Identifier: GPL-3.0-or-later
#include "logbook/query.h"

#include "logbook/in_use.h"

#include "slowmatch/json.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

sqlite3_stmt *sm_query_prepare(sm_store *store, const char *sql, const sm_bind *binds, size_t count) {
    sqlite3_stmt *statement = sm_store_prepare(store, sql);
    for (size_t i = 0; statement && i < count; i++) {
        int code = binds[i].text
                       ? sqlite3_bind_text(statement, (int)i + 1, binds[i].text, -1, SQLITE_TRANSIENT)
                       : sqlite3_bind_int64(statement, (int)i + 1, binds[i].number);
        if (code != SQLITE_OK) {
            sm_store_failed(store);
            sqlite3_finalize(statement);
            return NULL;
        }
    }
    return statement;
}

sm_result sm_query_run(sm_store *store, const char *sql, const sm_bind *bind) {
    sm_result result;
    sqlite3_stmt *statement = sm_query_prepare(store, sql, bind, bind != NULL);
    if (!statement)
        return SM_UNREADABLE;
    sm_store_step(store, statement, &result);
    sqlite3_finalize(statement);
    return result;
}

const char *sm_query_text(sqlite3_stmt *statement, int column) {
    const unsigned char *text = sqlite3_column_text(statement, column);
    return text ? (const char *)text : "";
}

const char *sm_query_keep(sm_query_reader *reader, sqlite3_stmt *statement, int column) {
    const char *text = sm_query_text(statement, column);
    const char *kept = sm_arena_text(reader->arena, text, strlen(text));
    reader->no_memory = reader->no_memory || !kept;
    return kept;
}

sm_result sm_query_read(sm_query_reader *reader, const char *sql, sm_bind bind, size_t size,
                        void (*read_row)(sm_query_reader *, sqlite3_stmt *, void *row)) {
    sqlite3_stmt *statement = sm_query_prepare(reader->store, sql, &bind, 1);
    if (!statement)
        return SM_UNREADABLE;
    sm_result result = SM_OK;
    reader->rows = NULL;
    reader->count = 0;
    while (!reader->no_memory && sm_store_step(reader->store, statement, &result)) {
        void *grown = sm_arena_grow(reader->arena, reader->rows, reader->count, size);
        reader->no_memory = !grown;
        reader->rows = grown ? grown : reader->rows;
        if (grown)
            read_row(reader, statement, (char *)reader->rows + reader->count++ * size);
    }
    sqlite3_finalize(statement);
    return reader->no_memory ? SM_NO_MEMORY : result;
}

// ---- one row ----------------------------------------------------------------------

static void json_value(sm_json *json, const char *name, sqlite3_stmt *statement, int i, sm_column_kind kind) {
    if (sqlite3_column_type(statement, i) == SQLITE_NULL)
        sm_json_plain(json, name, NULL);
    else if (kind == SM_COLUMN_TEXT)
        sm_json_text(json, name, sm_query_text(statement, i));
    else if (kind == SM_COLUMN_INTEGER)
        sm_json_integer(json, name, sqlite3_column_int64(statement, i));
    else if (kind == SM_COLUMN_NUMBER)
        sm_json_number(json, name, sqlite3_column_double(statement, i));
    else if (kind == SM_COLUMN_BOOL)
        sm_json_bool(json, name, sqlite3_column_int64(statement, i) != 0);
    else
        sm_json_seconds(json, name, sqlite3_column_int64(statement, i));
}

static void print_json_row(sm_text *out, const sm_query *query, sqlite3_stmt *statement) {
    sm_json json = sm_json_line_open(out);
    for (size_t i = 0; i < query->column_count; i++)
        if (query->columns[i].name)
            json_value(&json, query->columns[i].name, statement, (int)i, query->columns[i].kind);
    sm_json_line_close(&json);
}

static const char *shown_value(char buffer[40], sqlite3_stmt *statement, int i, sm_column_kind kind) {
    char inner[24];
    if (sqlite3_column_type(statement, i) == SQLITE_NULL)
        return "";
    switch (kind) {
    case SM_COLUMN_TEXT:
    case SM_COLUMN_INTEGER:
        return sm_query_text(statement, i);
    case SM_COLUMN_NUMBER:
        snprintf(buffer, 40, "%.2f", sqlite3_column_double(statement, i));
        return buffer;
    case SM_COLUMN_BOOL:
        return sqlite3_column_int64(statement, i) != 0 ? "yes" : "no";
    case SM_COLUMN_SECONDS:
        snprintf(buffer, 40, "%s", sm_us_format(inner, sqlite3_column_int64(statement, i)));
        return buffer;
    case SM_COLUMN_WHEN:
        snprintf(buffer, 40, "%s", sm_walk_when_format(inner, sqlite3_column_int64(statement, i)));
        return buffer;
    }
    return "";
}

// Fills up to WIDTH characters, whatever their bytes; never cuts.
static void put_cell(sm_text *out, const char *text, int width) {
    size_t characters = sm_utf8_count(text, strlen(text)), room = (size_t)(width < 0 ? -width : width);
    int fill = characters < room ? (int)(room - characters) : 0;
    if (width < 0)
        sm_text_printf(out, "%s%*s", text, fill, "");
    else
        sm_text_printf(out, "%*s%s", fill, "", text);
}

static void trim_end(sm_text *out) {
    while (out->length > 0 && out->bytes[out->length - 1] == ' ')
        out->bytes[--out->length] = '\0';
    sm_text_append(out, "\n", 1);
}

static void print_row(sm_text *out, const sm_query *query, sqlite3_stmt *statement) {
    const char *between = "";
    for (size_t i = 0; i < query->column_count; i++) {
        char buffer[40];
        const sm_query_column *column = &query->columns[i];
        if (!column->head)
            continue;
        sm_text_printf(out, "%s", between);
        put_cell(out, statement ? shown_value(buffer, statement, (int)i, column->kind) : column->head,
                 column->width);
        between = "  ";
    }
    trim_end(out);
}

// ---- all rows -----------------------------------------------------------------------

sm_result sm_query_done(sm_store *store, const sm_text *out, sm_result result) {
    if (result != SM_OK || !out->failed)
        return result;
    snprintf(store->why, sizeof store->why, "memory ran out");
    return SM_NO_MEMORY;
}

sm_result sm_query_print(sm_store *store, const sm_query *query, const sm_bind *binds, size_t bind_count,
                         bool json, sm_text *out, size_t *rows) {
    sqlite3_stmt *statement = sm_query_prepare(store, query->sql, binds, bind_count);
    if (!statement)
        return SM_UNREADABLE;
    sm_result result;
    size_t count = 0;
    for (; sm_store_step(store, statement, &result); count++) {
        if (count == 0 && !json)
            print_row(out, query, NULL);
        if (json)
            print_json_row(out, query, statement);
        else
            print_row(out, query, statement);
    }
    sqlite3_finalize(statement);
    if (rows)
        *rows = count;
    return sm_query_done(store, out, result);
}

static bool is_in_use(const sm_store *store) {
    bool busy = false;
    int alone = sm_in_use_lock(store, SM_IN_USE_ALONE, &busy);
    if (alone >= 0)
        close(alone);
    return busy;
}

static void answer_in_use(sqlite3_context *context, int count, sqlite3_value **values) {
    (void)count;
    (void)values;
    sqlite3_result_int(context, is_in_use(sqlite3_user_data(context)));
}

void sm_query_know_in_use(sm_store *store) {
    // Where memory runs out questions about attempts fail, and say why.
    (void)sqlite3_create_function(store->db, "in_use", 0, SQLITE_UTF8, store, answer_in_use, NULL, NULL);
}

// A drill that may be running in another program: what is planted in it would be read here.
static sm_result hide_running(sm_store *store, bool is_open_drill) {
    if (!is_open_drill || !is_in_use(store))
        return SM_OK;
    snprintf(
        store->why, sizeof store->why,
        "this drill has not ended, and a program is keeping rehearsals just now: look once that has ended");
    return SM_REFUSED;
}

sm_result sm_query_none_runs(sm_store *store) {
    int64_t open = 0;
    sm_result result = sm_store_number(
        store, "SELECT count(*) FROM rehearsal WHERE mode = 'drill' AND ended_us IS NULL", &open);
    return result == SM_OK ? hide_running(store, open > 0) : result;
}

sm_result sm_query_has(sm_store *store, int64_t number) {
    const sm_bind bind = {.number = number};
    sqlite3_stmt *statement = sm_query_prepare(
        store, "SELECT mode = 'drill' AND ended_us IS NULL FROM rehearsal WHERE id = ?1", &bind, 1);
    if (!statement)
        return SM_UNREADABLE;
    sm_result result;
    bool there = sm_store_step(store, statement, &result);
    bool is_open_drill = there && sqlite3_column_int(statement, 0) != 0;
    sqlite3_finalize(statement);
    if (result == SM_OK && !there) {
        snprintf(store->why, sizeof store->why, "no rehearsal %lld; `logbook list` numbers them",
                 (long long)number);
        return SM_NOT_FOUND;
    }
    return result == SM_OK ? hide_running(store, is_open_drill) : result;
}
