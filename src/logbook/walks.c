// SPDX-License-Identifier: GPL-3.0-or-later
// Walks and drills, in and out.
#include "logbook/walks.h"

#include "logbook/query.h"

#include <stdio.h>
#include <string.h>

// ---- in ---------------------------------------------------------------------------------

void sm_tick_entry_put(sm_text *out, const char *token, int64_t n, const char *title,
                       const sm_walk_tick *tick) {
    SM_ENTRY_PUT(out, SM_ENTRY_TICK, sm_value_text(token), sm_value_number(n), sm_value_text(title),
                 sm_value_text(tick->item), sm_value_text(sm_walk_answer_text(tick->answer)),
                 sm_value_text(tick->value), sm_value_text(tick->note), sm_value_text(tick->by),
                 sm_value_us(tick->when_us), sm_value_text(tick->hash.hex));
}

void sm_sign_entry_put(sm_text *out, const char *token, int64_t n, const char *title,
                       const sm_walk_sign *sign) {
    SM_ENTRY_PUT(out, SM_ENTRY_SIGN, sm_value_text(token), sm_value_number(n), sm_value_text(title),
                 sm_value_text(sign->who), sm_value_number(sign->when_us), sm_value_text(sign->content.hex),
                 sm_value_text(sign->items.hex));
}

void sm_void_entry_put(sm_text *out, const char *title, const sm_walk_sign *sign) {
    SM_ENTRY_PUT(out, SM_ENTRY_VOID, sm_value_text(title), sm_value_text(sign->who),
                 sm_value_number(sign->when_us), sm_value_text(sign->void_by));
}

void sm_change_entry_put(sm_text *out, const char *token, int64_t n, const char *title,
                         const sm_walk_change *change) {
    SM_ENTRY_PUT(out, SM_ENTRY_CHANGE, sm_value_text(token), sm_value_number(n), sm_value_text(title),
                 sm_value_text(change->what), sm_value_number(change->when_us));
}

void sm_drill_entry_put(sm_text *out, const char *token, const sm_logbook_drill *drill) {
    SM_ENTRY_PUT(out, SM_ENTRY_DRILL, sm_value_text(token), sm_value_text(drill->person),
                 sm_value_text(drill->drill), sm_value_text(drill->title), sm_value_number(drill->when_us),
                 sm_value_number(drill->score), sm_value_number(drill->passed),
                 sm_value_number(drill->with_hints), sm_value_text(drill->marks),
                 sm_value_text(drill->seat ? drill->seat : "lead"));
}

static sm_result keep(sm_logbook *logbook, sm_text *entries) {
    sm_result result = entries->failed ? SM_NO_MEMORY : SM_OK;
    if (result != SM_OK)
        snprintf(logbook->store.why, sizeof logbook->store.why, "memory ran out");
    else if (entries->length > 0)
        result = sm_store_put(&logbook->store, entries->bytes, entries->length, true);
    sm_text_deinit(entries);
    return result;
}

sm_result sm_logbook_keep_walk(sm_logbook *logbook, const char *title, const sm_walk_past *past) {
    char token[33];
    sm_text entries = {0};
    sm_token_make(token);
    for (size_t i = 0; i < past->tick_count; i++)
        sm_tick_entry_put(&entries, token, (int64_t)i, title, &past->ticks[i]);
    for (size_t i = 0; i < past->sign_count; i++)
        sm_sign_entry_put(&entries, token, (int64_t)i, title, &past->signs[i]);
    for (size_t i = 0; i < past->change_count; i++)
        sm_change_entry_put(&entries, token, (int64_t)i, title, &past->changes[i]);
    return keep(logbook, &entries);
}

sm_result sm_logbook_keep_voids(sm_logbook *logbook, const char *title, const sm_walk *walk) {
    sm_text entries = {0};
    for (size_t i = 0; i < walk->name_count; i++) {
        sm_walk_sign sign = walk->names[i].sign;
        bool is_new = walk->names[i].void_by && !sign.void_by;
        sign.void_by = walk->names[i].void_by;
        if (is_new)
            sm_void_entry_put(&entries, title, &sign);
    }
    return keep(logbook, &entries);
}

sm_result sm_logbook_keep_drill(sm_logbook *logbook, const sm_logbook_drill *drill) {
    char token[33];
    sm_text entries = {0};
    sm_token_make(token);
    sm_drill_entry_put(&entries, token, drill);
    return keep(logbook, &entries);
}

// ---- out ------------------------------------------------------------------------------------

static sm_walk_hash hash_of(sqlite3_stmt *statement, int column) {
    sm_walk_hash hash;
    snprintf(hash.hex, sizeof hash.hex, "%s", sm_query_text(statement, column));
    return hash;
}

static sm_unix_us when_of(sqlite3_stmt *statement, int column) {
    return sqlite3_column_type(statement, column) == SQLITE_NULL ? SM_UNSET_US
                                                                 : sqlite3_column_int64(statement, column);
}

static void read_tick(sm_query_reader *r, sqlite3_stmt *s, void *row) {
    sm_walk_answer answer = SM_WALK_UNANSWERED;
    const char *word = sm_query_text(s, 1);
    if (sm_walk_answer_read(word, strlen(word), &answer) != SM_OK)
        answer = SM_WALK_UNANSWERED;
    *(sm_walk_tick *)row = (sm_walk_tick){.item = sm_query_keep(r, s, 0),
                                          .answer = answer,
                                          .value = sm_query_keep(r, s, 2),
                                          .note = sm_query_keep(r, s, 3),
                                          .by = sm_query_keep(r, s, 4),
                                          .when_us = when_of(s, 5),
                                          .hash = hash_of(s, 6)};
}

static void read_sign(sm_query_reader *r, sqlite3_stmt *s, void *row) {
    *(sm_walk_sign *)row =
        (sm_walk_sign){sm_query_keep(r, s, 0), when_of(s, 1), hash_of(s, 2), hash_of(s, 3),
                       sqlite3_column_type(s, 4) == SQLITE_NULL ? NULL : sm_query_keep(r, s, 4)};
}

static void read_change(sm_query_reader *r, sqlite3_stmt *s, void *row) {
    *(sm_walk_change *)row = (sm_walk_change){sm_query_keep(r, s, 0), when_of(s, 1)};
}

static sm_result read_all(sm_query_reader *r, const char *sql, const char *title, size_t size,
                          void (*read_row)(sm_query_reader *, sqlite3_stmt *, void *), void **rows,
                          size_t *count) {
    sm_result result = sm_query_read(r, sql, (sm_bind){.text = title}, size, read_row);
    *rows = r->rows;
    *count = r->count;
    return result;
}

sm_result sm_logbook_walk_past(sm_logbook *logbook, const char *title, sm_arena *arena, sm_walk_past *out) {
    sm_query_reader r = {.store = &logbook->store, .arena = arena};
    void *ticks, *signs, *changes;
    sm_walk_past past = {0};
    sm_result result = read_all(&r,
                                "SELECT item, answer, value, note, person, given_us, hash FROM walk_tick "
                                "WHERE title = ?1 ORDER BY given_us, id",
                                title, sizeof(sm_walk_tick), read_tick, &ticks, &past.tick_count);
    if (result == SM_OK)
        result = read_all(&r,
                          "SELECT who, signed_us, content, items, why FROM walk_sign LEFT JOIN walk_void "
                          "USING (title, who, "
                          "signed_us) WHERE title = ?1 ORDER BY signed_us, id",
                          title, sizeof(sm_walk_sign), read_sign, &signs, &past.sign_count);
    if (result == SM_OK)
        result = read_all(
            &r, "SELECT what, happened_us FROM walk_change WHERE title = ?1 ORDER BY happened_us, id", title,
            sizeof(sm_walk_change), read_change, &changes, &past.change_count);
    if (result != SM_OK)
        return result;
    past.ticks = ticks;
    past.signs = signs;
    past.changes = changes;
    *out = past;
    return SM_OK;
}
