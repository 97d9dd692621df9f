// SPDX-License-Identifier: GPL-3.0-or-later
// The SQLite file: opening, schema, records in.
#ifndef SLOWMATCH_LOGBOOK_STORE_H
#define SLOWMATCH_LOGBOOK_STORE_H

#include "logbook/record.h"

#include <sqlite3.h>

#define SM_STORE_WHY 400

typedef struct sm_store {
    sqlite3 *db;
    sqlite3_stmt *inserts[SM_RECORD_KINDS];
    char why[SM_STORE_WHY]; // of the last failure
} sm_store;

// Schema versions: the SQL that leads from version i to i + 1.
extern const char *const sm_store_steps[];
size_t sm_store_version(void); // the newest

// Opens PATH (CREATE: makes it, and its folder) and brings it to the newest schema. SM_NOT_FOUND, SM_UNREADABLE (WHY), SM_NO_MEMORY;
// the store is closed then.
SM_MUST_CHECK sm_result sm_store_open(sm_store *store, const char *path, bool create);
void sm_store_close(sm_store *store);
// One statement or more without results.
SM_MUST_CHECK sm_result sm_store_exec(sm_store *store, const char *sql);
// A statement; NULL after a failure (why).
sqlite3_stmt *sm_store_prepare(sm_store *store, const char *sql);
// Steps: true with a row. False: no more, or a failure, which *result tells.
bool sm_store_step(sm_store *store, sqlite3_stmt *statement, sm_result *result);
// Notes why SQLite failed.
sm_result sm_store_failed(sm_store *store);
// Puts all whole records of LENGTH bytes at BYTES in, in one transaction. DURABLE: on the disk when it returns. On failure nothing
// of them is in.
SM_MUST_CHECK sm_result sm_store_put(sm_store *store, const char *bytes, size_t length, bool durable);

#endif
