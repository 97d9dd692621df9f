// SPDX-License-Identifier: GPL-3.0-or-later
// The open logbook, and answers to questions as text for people or JSON.
#ifndef SLOWMATCH_LOGBOOK_QUERY_H
#define SLOWMATCH_LOGBOOK_QUERY_H

#include "logbook/store.h"

#include "slowmatch/logbook.h"

struct sm_logbook {
    sm_store store;
};

typedef enum sm_column_kind {
    SM_COLUMN_TEXT,
    SM_COLUMN_INTEGER,
    SM_COLUMN_NUMBER,
    SM_COLUMN_SECONDS, // microseconds, as seconds
    SM_COLUMN_WHEN,    // microseconds since 1970; in JSON as seconds
    SM_COLUMN_BOOL
} sm_column_kind;

typedef struct sm_query_column {
    const char *name; // in JSON; NULL: for people only
    const char *head; // for people; NULL: in JSON only
    int width;        // for people; negative: to the left
    sm_column_kind kind;
} sm_query_column;

// A question: its SQL, whose result has the columns in this order.
typedef struct sm_query {
    const char *sql;
    const sm_query_column *columns;
    size_t column_count;
} sm_query;

// What stands for a ?N: a text where TEXT is given, else NUMBER.
typedef struct sm_bind {
    const char *text;
    int64_t number;
} sm_bind;

// A statement without results, and its ?1 where BIND is given.
SM_MUST_CHECK sm_result sm_query_run(sm_store *store, const char *sql, const sm_bind *bind);
// A statement with its values; NULL after a failure.
sqlite3_stmt *sm_query_prepare(sm_store *store, const char *sql, const sm_bind *binds, size_t count);
// Appends all rows. *rows (may be NULL) gets their number.
SM_MUST_CHECK sm_result sm_query_print(sm_store *store, const sm_query *query, const sm_bind *binds,
                                       size_t bind_count, bool json, sm_text *out, size_t *rows);
// Text column; never NULL.
const char *sm_query_text(sqlite3_stmt *statement, int column);

// What is read out of results into ARENA; rows and count are of the latest sm_query_read.
typedef struct sm_query_reader {
    sm_store *store;
    sm_arena *arena;
    void *rows; // NULL where there are none
    size_t count;
    bool no_memory;
} sm_query_reader;
// All rows of SQL, whose ?1 is BIND, of SIZE bytes each as READ_ROW fills them.
SM_MUST_CHECK sm_result sm_query_read(sm_query_reader *reader, const char *sql, sm_bind bind, size_t size,
                                      void (*read_row)(sm_query_reader *, sqlite3_stmt *, void *row));
// sm_query_text, kept in the arena; NULL when memory runs out, which the reader remembers.
const char *sm_query_keep(sm_query_reader *reader, sqlite3_stmt *statement, int column);

// An SQL function: another program is keeping rehearsals in this logbook just now.
#define SM_QUERY_IN_USE "in_use()"
void sm_query_know_in_use(sm_store *store);

// The whole text or SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_query_done(sm_store *store, const sm_text *out, sm_result result);
// SM_NOT_FOUND where there is no rehearsal NUMBER, SM_REFUSED where it is a drill that may be running.
SM_MUST_CHECK sm_result sm_query_has(sm_store *store, int64_t number);
// SM_REFUSED where any may be.
SM_MUST_CHECK sm_result sm_query_none_runs(sm_store *store);

#endif
