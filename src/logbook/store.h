// SPDX-License-Identifier: GPL-3.0-or-later
// The SQLite files: the logbook, and those that carry a part of one (spills, exports). All have the same schema.
#ifndef SLOWMATCH_LOGBOOK_STORE_H
#define SLOWMATCH_LOGBOOK_STORE_H

#include "logbook/entry.h"

#include <sqlite3.h>

#define SM_STORE_WHY 400
// Another program may hold the file for a commit or two; only the writer's own thread waits that long.
#define SM_STORE_BUSY_MS 2000

typedef struct sm_store {
    sqlite3 *db;
    sqlite3_stmt *inserts[SM_ENTRY_KINDS];
    char why[SM_STORE_WHY]; // of the last failure
    sm_progress *progress;  // of a merge; NULL: nobody looks
} sm_store;

// Schema versions: the SQL that leads from version i to i + 1.
extern const char *const sm_store_steps[];
size_t sm_store_version(void); // the newest

// Opens the logbook PATH (CREATE: makes it, and its folder) and brings it to the newest schema. SM_NOT_FOUND, SM_UNREADABLE (WHY),
// SM_NO_MEMORY; the store is closed then.
SM_MUST_CHECK sm_result sm_store_open(sm_store *store, const char *path, bool create);

typedef enum sm_carrier {
    SM_CARRIER_NEW, // made; one that is there is not written over
    SM_CARRIER_OWN, // one that this program made, brought to the newest schema; nobody else can open it meanwhile
    SM_CARRIER_COPY, // somebody's: a passing copy, brought to the newest schema; the file is only read
} sm_carrier;
// Opens the carrier PATH. SM_REFUSED: somebody else has it open; SM_INVALID: it is none, or not whole. Else as above.
SM_MUST_CHECK sm_result sm_store_open_carrier(sm_store *store, const char *path, sm_carrier how);
void sm_store_close(sm_store *store);
// Closes STORE and removes its carrier PATH, with what is left of its last transaction.
void sm_store_remove(sm_store *store, const char *path);

// One statement or more without results.
SM_MUST_CHECK sm_result sm_store_exec(sm_store *store, const char *sql);
// A statement; NULL after a failure (why).
sqlite3_stmt *sm_store_prepare(sm_store *store, const char *sql);
// Steps: true with a row. False: no more, or a failure, which *result tells.
bool sm_store_step(sm_store *store, sqlite3_stmt *statement, sm_result *result);
// The first number of SQL's result; 0 where there is none.
SM_MUST_CHECK sm_result sm_store_number(sm_store *store, const char *sql, int64_t *out);
// Notes why SQLite failed.
sm_result sm_store_failed(sm_store *store);
// Notes why PATH failed: errno.
sm_result sm_store_failed_errno(sm_store *store, const char *path);

// Puts all entries of LENGTH bytes at BYTES in, in one transaction. DURABLE: on the disk when it returns. On failure nothing of them
// is in.
SM_MUST_CHECK sm_result sm_store_put(sm_store *store, const char *bytes, size_t length, bool durable);

#endif
