// SPDX-License-Identifier: GPL-3.0-or-later
#include "logbook/store.h"

#include "logbook/legacy.h"

#include "slowmatch/files.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

sm_result sm_store_failed(sm_store *store) {
    int code = store->db ? sqlite3_errcode(store->db) : SQLITE_NOMEM;
    int why = store->db ? sqlite3_system_errno(store->db) : 0;
    // After a write that failed SQLite rolls back, and what the system says then is of that.
    bool system = (code & 0xFF) == SQLITE_CANTOPEN;
    snprintf(store->why, sizeof store->why, "%s%s%s",
             store->db ? sqlite3_errmsg(store->db) : "memory ran out", system && why != 0 ? ": " : "",
             system && why != 0 ? strerror(why) : "");
    return (code & 0xFF) == SQLITE_NOMEM ? SM_NO_MEMORY : SM_UNREADABLE;
}

sm_result sm_store_failed_errno(sm_store *store, const char *path) {
    snprintf(store->why, sizeof store->why, "%.200s: %s", path, sm_file_why(errno));
    return SM_UNREADABLE;
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

sm_result sm_store_number(sm_store *store, const char *sql, int64_t *out) {
    sm_result result;
    sqlite3_stmt *statement = sm_store_prepare(store, sql);
    if (!statement)
        return SM_UNREADABLE;
    bool there = sm_store_step(store, statement, &result);
    if (result == SM_OK)
        *out = there ? sqlite3_column_int64(statement, 0) : 0;
    sqlite3_finalize(statement);
    return result;
}

// ---- schema ------------------------------------------------------------------------

static sm_result climb(sm_store *store, size_t version) {
    sm_result result = SM_OK;
    for (; version < sm_store_version() && result == SM_OK; version++) {
        char mark[48];
        snprintf(mark, sizeof mark, "PRAGMA user_version = %zu", version + 1);
        result = sm_store_exec(store, sm_store_steps[version]);
        if (result == SM_OK && version + 1 == SM_LEGACY_PACKED_UNTIL && !sm_legacy_unpack_files(store->db))
            result = sm_store_failed(store);
        if (result == SM_OK)
            result = sm_store_exec(store, mark);
    }
    return result;
}

static sm_result migrate(sm_store *store) {
    int64_t version;
    sm_result result = sm_store_number(store, "PRAGMA user_version", &version);
    if (result != SM_OK)
        return result;
    if (version < 0 || (size_t)version > sm_store_version()) {
        snprintf(store->why, sizeof store->why, "made by a newer slowmatch (schema %lld; this one knows %zu)",
                 (long long)version, sm_store_version());
        return SM_UNREADABLE;
    }
    if ((size_t)version == sm_store_version())
        return SM_OK;
    result = sm_store_exec(store, "BEGIN IMMEDIATE");
    if (result == SM_OK)
        result =
            sm_store_number(store, "PRAGMA user_version", &version); // another program may have been faster
    if (result == SM_OK)
        result = climb(store, (size_t)version);
    if (result == SM_OK)
        return sm_store_exec(store, "COMMIT");
    sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    return result;
}

// ---- the logbook -------------------------------------------------------------------

static sm_result set_up(sm_store *store) {
    sqlite3_busy_timeout(store->db, SM_STORE_BUSY_MS);
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
    for (size_t i = 0; i < SM_ENTRY_KINDS; i++) {
        sqlite3_finalize(store->inserts[i]);
        store->inserts[i] = NULL;
    }
    sqlite3_close(store->db);
    store->db = NULL;
}

// ---- carriers ----------------------------------------------------------------------

static sm_result open_plain(sm_store *store, const char *path, int flags) {
    return sqlite3_open_v2(path, &store->db, flags, NULL) == SQLITE_OK ? SM_OK : sm_store_failed(store);
}

// What somebody planted in a file is not run while it is looked at; sm_merge turns triggers on again.
static void distrust(const sm_store *store) {
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, NULL);
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_ENABLE_VIEW, 0, NULL);
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
}

static sm_result lock(sm_store *store) {
    int code = sqlite3_exec(store->db, "PRAGMA main.locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE; COMMIT", NULL,
                            NULL, NULL);
    if (code == SQLITE_OK)
        return SM_OK;
    sm_store_failed(store);
    return code == SQLITE_BUSY || code == SQLITE_LOCKED ? SM_REFUSED : SM_UNREADABLE;
}

void sm_store_remove(sm_store *store, const char *path) {
    sm_text journal = {0};
    sm_text_printf(&journal, "%s-journal", path);
    unlink(path); // while nobody else can open it
    sm_store_close(store);
    if (!journal.failed)
        unlink(journal.bytes);
    sm_text_deinit(&journal);
}

static sm_result make(sm_store *store, const char *path) {
    int file = open(path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    if (file < 0)
        return sm_store_failed_errno(store, path);
    close(file);
    sm_result result = open_plain(store, path, SQLITE_OPEN_READWRITE);
    if (result == SM_OK)
        result = lock(store);
    if (result == SM_OK)
        result = migrate(store);
    if (result != SM_OK)
        sm_store_remove(store, path);
    return result;
}

static sm_result no_carrier(sm_store *store, const char *why) {
    snprintf(store->why, sizeof store->why, "%s", why);
    return SM_INVALID;
}

// A failure that lies in what the file holds.
static sm_result of_content(const sm_store *store, sm_result result) {
    int code = result == SM_UNREADABLE && store->db ? sqlite3_errcode(store->db) & 0xFF : SQLITE_OK;
    return code == SQLITE_NOTADB || code == SQLITE_CORRUPT ? SM_INVALID : result;
}

static sm_result look_over(sm_store *store) {
    int64_t version, whole;
    distrust(store);
    sm_result result = sm_store_number(store, "PRAGMA user_version", &version);
    if (result == SM_OK)
        result = sm_store_number(
            store,
            "SELECT quick_check = 'ok' AND NOT EXISTS (SELECT 1 FROM pragma_foreign_key_check) "
            "FROM pragma_quick_check",
            &whole);
    if (result != SM_OK)
        return of_content(store, result);
    if (version == 0 || !whole)
        return no_carrier(store, "it is damaged, or no part of a logbook");
    return of_content(store, migrate(store));
}

// Copies from SOURCE, which was opened at PATH, what a cut-off file does not have.
static sm_result copy_pages(sm_store *store, sm_store *source, const char *path) {
    struct stat file;
    int64_t page;
    sm_result result = sm_store_number(source, "PRAGMA page_size", &page);
    if (result != SM_OK)
        return result;
    if (stat(path, &file) != 0 || page <= 0 || file.st_size % page != 0)
        return no_carrier(source, "it is cut off");
    sqlite3_backup *backup = sqlite3_backup_init(store->db, "main", source->db, "main");
    if (!backup)
        return sm_store_failed(store);
    sqlite3_backup_step(backup, -1);
    return sqlite3_backup_finish(backup) == SQLITE_OK ? SM_OK : sm_store_failed(store);
}

static sm_result copy(sm_store *store, const char *path) {
    struct stat file;
    sm_store source = {0};
    if (stat(path, &file) != 0)
        return sm_store_failed_errno(store, path);
    if (!S_ISREG(file.st_mode))
        return no_carrier(store, "it is no plain file");
    sm_result result = open_plain(&source, path, SQLITE_OPEN_READONLY);
    if (result == SM_OK)
        result = open_plain(store, "", SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
    if (result == SM_OK)
        result = of_content(store, copy_pages(store, &source, path));
    if (source.why[0] != '\0')
        memcpy(store->why, source.why, sizeof store->why);
    sm_store_close(&source);
    return result == SM_OK ? look_over(store) : result;
}

sm_result sm_store_open_carrier(sm_store *store, const char *path, sm_carrier how) {
    *store = (sm_store){0};
    sm_result result;
    if (how == SM_CARRIER_NEW) {
        result = make(store, path);
    } else if (how == SM_CARRIER_COPY) {
        result = copy(store, path);
    } else {
        result = open_plain(store, path, SQLITE_OPEN_READWRITE);
        if (result == SM_OK)
            result = lock(store);
        if (result == SM_OK)
            result = look_over(store);
    }
    if (result != SM_OK)
        sm_store_close(store);
    return result;
}

// ---- entries ---------------------------------------------------------------------

static int bind(sqlite3_stmt *statement, int at, const sm_value *value) {
    switch (value->kind) {
    case SM_VALUE_NOTHING:
        return sqlite3_bind_null(statement, at);
    case SM_VALUE_NUMBER:
        return sqlite3_bind_int64(statement, at, value->number);
    case SM_VALUE_TEXT:
        return sqlite3_bind_text64(statement, at, value->bytes, (sqlite3_uint64)value->number, SQLITE_STATIC,
                                   SQLITE_UTF8);
    case SM_VALUE_BYTES:
        return sqlite3_bind_blob64(statement, at, value->bytes, (sqlite3_uint64)value->number, SQLITE_STATIC);
    }
    return SQLITE_MISUSE;
}

static sm_result put_entry(sm_store *store, const sm_entry *entry) {
    sqlite3_stmt **statement = &store->inserts[entry->kind];
    if (!*statement)
        *statement = sm_store_prepare(store, sm_entry_insert(entry->kind));
    if (!*statement)
        return SM_UNREADABLE;
    for (size_t i = 0; i < sm_entry_values(entry->kind); i++)
        if (bind(*statement, (int)i + 1, &entry->values[i]) != SQLITE_OK)
            return sm_store_failed(store);
    sm_result result;
    sm_store_step(store, *statement, &result);
    sqlite3_reset(*statement);
    sqlite3_clear_bindings(*statement);
    return result;
}

sm_result sm_store_put(sm_store *store, const char *bytes, size_t length, bool durable) {
    const char *at = bytes, *end = bytes + length;
    sm_entry entry;
    sm_result result =
        sm_store_exec(store, durable ? "PRAGMA synchronous = FULL" : "PRAGMA synchronous = NORMAL");
    if (result == SM_OK)
        result = sm_store_exec(store, "BEGIN IMMEDIATE");
    if (result != SM_OK)
        return result;
    while (result == SM_OK && sm_entry_next(&at, end, &entry))
        result = put_entry(store, &entry);
    if (result == SM_OK)
        result = sm_store_exec(store, "COMMIT");
    if (result != SM_OK)
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    return result;
}
