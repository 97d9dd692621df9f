// SPDX-License-Identifier: GPL-3.0-or-later
#include "logbook/store.h"

#include "slowmatch/files.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

// Another program may hold the file for a commit or two; only the writer's own thread waits that long.
#define BUSY_MS 2000

sm_result sm_store_failed(sm_store *store) {
    int code = store->db ? sqlite3_errcode(store->db) : SQLITE_NOMEM;
    int why = store->db ? sqlite3_system_errno(store->db) : 0;
    bool system = (code & 0xFF) == SQLITE_IOERR || (code & 0xFF) == SQLITE_CANTOPEN;
    snprintf(store->why, sizeof store->why, "%s%s%s",
             store->db ? sqlite3_errmsg(store->db) : "memory ran out", system && why != 0 ? ": " : "",
             system && why != 0 ? strerror(why) : "");
    return (code & 0xFF) == SQLITE_NOMEM ? SM_NO_MEMORY : SM_UNREADABLE;
}

sm_result sm_store_exec(sm_store *store, const char *sql) {
    return sqlite3_exec(store->db, sql, NULL, NULL, NULL) == SQLITE_OK ? SM_OK : sm_store_failed(store);
}

sqlite3_stmt *sm_store_prepare(sm_store *store, const char *sql) {
    sqlite3_stmt *statement = NULL;
    if (sqlite3_prepare_v2(store->db, sql, -1, &statement, NULL) == SQLITE_OK)
        return statement;
    sm_store_failed(store);
    return NULL;
}

bool sm_store_step(sm_store *store, sqlite3_stmt *statement, sm_result *result) {
    int code = sqlite3_step(statement);
    *result = code == SQLITE_ROW || code == SQLITE_DONE ? SM_OK : sm_store_failed(store);
    return code == SQLITE_ROW;
}

// ---- opening -----------------------------------------------------------------------

static sm_result read_version(sm_store *store, size_t *out) {
    sm_result result;
    sqlite3_stmt *statement = sm_store_prepare(store, "PRAGMA user_version");
    if (!statement)
        return SM_UNREADABLE;
    bool there = sm_store_step(store, statement, &result);
    *out = there ? (size_t)sqlite3_column_int64(statement, 0) : 0;
    sqlite3_finalize(statement);
    return result;
}

static sm_result climb(sm_store *store, size_t version) {
    sm_result result = SM_OK;
    for (; version < sm_store_version() && result == SM_OK; version++) {
        char mark[48];
        snprintf(mark, sizeof mark, "PRAGMA user_version = %zu", version + 1);
        result = sm_store_exec(store, sm_store_steps[version]);
        if (result == SM_OK)
            result = sm_store_exec(store, mark);
    }
    return result;
}

static sm_result migrate(sm_store *store) {
    size_t version;
    sm_result result = read_version(store, &version);
    if (result != SM_OK)
        return result;
    if (version > sm_store_version()) {
        snprintf(store->why, sizeof store->why, "made by a newer slowmatch (schema %zu; this one knows %zu)",
                 version, sm_store_version());
        return SM_UNREADABLE;
    }
    if (version == sm_store_version())
        return SM_OK;
    result = sm_store_exec(store, "BEGIN IMMEDIATE");
    if (result == SM_OK)
        result = read_version(store, &version); // another program may have been faster
    if (result == SM_OK)
        result = climb(store, version);
    if (result == SM_OK)
        return sm_store_exec(store, "COMMIT");
    sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    return result;
}

static sm_result set_up(sm_store *store) {
    sqlite3_busy_timeout(store->db, BUSY_MS);
    sm_result result = sm_store_exec(
        store, "PRAGMA journal_mode = WAL; PRAGMA synchronous = NORMAL; PRAGMA foreign_keys = ON");
    return result == SM_OK ? migrate(store) : result;
}

sm_result sm_store_open(sm_store *store, const char *path, bool create) {
    *store = (sm_store){0};
    if (create) {
        if (sm_folder_make_above(path, 0700) != SM_OK)
            errno = 0; // what cannot be made fails the opening
    } else if (access(path, F_OK) != 0) {
        snprintf(store->why, sizeof store->why, "no logbook there: %s", strerror(errno));
        return SM_NOT_FOUND;
    }
    int flags = SQLITE_OPEN_READWRITE | (create ? SQLITE_OPEN_CREATE : 0);
    sm_result result =
        sqlite3_open_v2(path, &store->db, flags, NULL) == SQLITE_OK ? set_up(store) : sm_store_failed(store);
    if (result != SM_OK)
        sm_store_close(store);
    return result;
}

void sm_store_close(sm_store *store) {
    for (size_t i = 0; i < SM_RECORD_KINDS; i++) {
        sqlite3_finalize(store->inserts[i]);
        store->inserts[i] = NULL;
    }
    sqlite3_close(store->db);
    store->db = NULL;
}

// ---- records ---------------------------------------------------------------------

static sm_result put_record(sm_store *store, const sm_record *record) {
    sqlite3_stmt **statement = &store->inserts[record->kind];
    if (!*statement)
        *statement = sm_store_prepare(store, sm_record_row_of(record->kind)->insert);
    if (!*statement)
        return SM_UNREADABLE;
    for (size_t i = 0; i < record->count; i++) {
        const sm_field *field = &record->fields[i];
        bool blob = record->kind == SM_RECORD_FILE && i == 2;
        int code =
            blob ? sqlite3_bind_blob64(*statement, (int)i + 1, field->bytes, field->length, SQLITE_STATIC)
                 : sqlite3_bind_text64(*statement, (int)i + 1, field->bytes, field->length, SQLITE_STATIC,
                                       SQLITE_UTF8);
        if (code != SQLITE_OK)
            return sm_store_failed(store);
    }
    sm_result result;
    sm_store_step(store, *statement, &result);
    sqlite3_reset(*statement);
    sqlite3_clear_bindings(*statement);
    return result;
}

sm_result sm_store_put(sm_store *store, const char *bytes, size_t length, bool durable) {
    const char *at = bytes, *end = bytes + length;
    sm_record record;
    sm_result result =
        sm_store_exec(store, durable ? "PRAGMA synchronous = FULL" : "PRAGMA synchronous = NORMAL");
    if (result == SM_OK)
        result = sm_store_exec(store, "BEGIN IMMEDIATE");
    if (result != SM_OK)
        return result;
    while (result == SM_OK && sm_record_next(&at, end, &record))
        result = put_record(store, &record);
    if (result == SM_OK)
        result = sm_store_exec(store, "COMMIT");
    if (result != SM_OK)
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    return result;
}
