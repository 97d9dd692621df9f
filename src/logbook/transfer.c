// SPDX-License-Identifier: GPL-3.0-or-later
// Export, import, prune. An export is a file of records, so that any later program can take it in.
#include "logbook/query.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define BLOCK ((size_t)1 << 20)

static sm_result say_errno(sm_store *store, const char *path) {
    snprintf(store->why, sizeof store->why, "%.200s: %s", path, strerror(errno));
    return SM_UNREADABLE;
}

static sm_result count_of(sm_store *store, const char *sql, int64_t *out) {
    sqlite3_stmt *statement = sm_store_prepare(store, sql);
    if (!statement)
        return SM_UNREADABLE;
    sm_result result;
    if (sm_store_step(store, statement, &result))
        *out = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    return result;
}

// ---- export ---------------------------------------------------------------------------

static bool flush(FILE *file, sm_text *block) {
    bool written = !block->failed && fwrite(sm_text_get(block), 1, block->length, file) == block->length;
    if (block->failed)
        errno = ENOMEM;
    sm_text_clear(block);
    return written;
}

static sm_result export_kind(sm_store *store, sm_record_kind kind, FILE *file, const char *path) {
    const sm_record_row *row = sm_record_row_of(kind);
    sqlite3_stmt *statement = row->select ? sm_store_prepare(store, row->select) : NULL;
    if (!statement)
        return !row->select ? SM_OK : SM_UNREADABLE;
    sm_text block = {0};
    sm_result result;
    bool written = true;
    while (written && sm_store_step(store, statement, &result)) {
        sm_record record = {.kind = kind, .count = row->fields};
        for (size_t i = 0; i < record.count; i++) { // the pointer first, then its length, as SQLite asks
            const char *bytes = sqlite3_column_blob(statement, (int)i);
            record.fields[i] =
                (sm_field){bytes ? bytes : "", (size_t)sqlite3_column_bytes(statement, (int)i)};
        }
        written = sm_record_put(&block, &record) && (block.length < BLOCK || flush(file, &block));
    }
    written = written && flush(file, &block);
    if (!written)
        result = say_errno(store, path);
    sqlite3_finalize(statement);
    sm_text_deinit(&block);
    return result;
}

static sm_result choose(sm_store *store, int64_t number) {
    const sm_bind bind = {.number = number};
    sm_result result = sm_store_exec(store, "CREATE TEMP TABLE IF NOT EXISTS chosen(id INTEGER PRIMARY KEY); "
                                            "DELETE FROM chosen");
    sqlite3_stmt *statement =
        result == SM_OK
            ? sm_query_prepare(store, "INSERT INTO chosen SELECT id FROM rehearsal WHERE ?1 IN (0, id)",
                               &bind, 1)
            : NULL;
    if (!statement)
        return SM_UNREADABLE;
    sm_store_step(store, statement, &result);
    sqlite3_finalize(statement);
    return result;
}

static sm_result export_all(sm_store *store, FILE *file, const char *path) {
    sm_result result = fputs(SM_RECORD_HEADER, file) >= 0 ? SM_OK : say_errno(store, path);
    for (int kind = 0; kind < SM_RECORD_KINDS && result == SM_OK; kind++)
        result = export_kind(store, (sm_record_kind)kind, file, path);
    if (result == SM_OK && (fflush(file) != 0 || fsync(fileno(file)) != 0))
        result = say_errno(store, path);
    return result;
}

sm_result sm_logbook_export(sm_logbook *logbook, int64_t number, const char *path, int64_t *count) {
    sm_store *store = &logbook->store;
    sm_result result = number != 0 ? sm_query_has(store, number) : SM_OK;
    if (result == SM_OK)
        result = choose(store, number);
    if (result == SM_OK)
        result = count_of(store, "SELECT count(*) FROM chosen", count);
    if (result != SM_OK)
        return result;
    int descriptor =
        open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600); // nobody's file is written over
    FILE *file = descriptor >= 0 ? fdopen(descriptor, "w") : NULL;
    if (!file)
        return say_errno(store, path);
    result = export_all(store, file, path);
    if (fclose(file) != 0 && result == SM_OK)
        result = say_errno(store, path);
    if (result != SM_OK)
        unlink(path);
    return result;
}

// ---- import ---------------------------------------------------------------------------------

// True where LENGTH bytes are whole records from the first to the last.
static bool is_whole(const char *bytes, size_t length) {
    const char *at = bytes, *end = bytes + length;
    sm_record record;
    while (sm_record_next(&at, end, &record))
        continue;
    return at == end;
}

sm_result sm_logbook_import(sm_logbook *logbook, const char *path, int64_t *count) {
    sm_store *store = &logbook->store;
    char *bytes;
    size_t length, head = strlen(SM_RECORD_HEADER);
    int64_t before = 0, after = 0;
    sm_result result = sm_file_read(path, &bytes, &length);
    if (result != SM_OK)
        return result == SM_UNREADABLE ? say_errno(store, path) : result;
    if (length < head || memcmp(bytes, SM_RECORD_HEADER, head) != 0 ||
        !is_whole(bytes + head, length - head)) {
        snprintf(store->why, sizeof store->why, "%.200s: no whole export of a logbook", path);
        result = SM_UNREADABLE;
    }
    if (result == SM_OK)
        result = count_of(store, "SELECT count(*) FROM rehearsal", &before);
    if (result == SM_OK)
        result = sm_store_put(store, bytes + head, length - head, true);
    if (result == SM_OK)
        result = count_of(store, "SELECT count(*) FROM rehearsal", &after);
    free(bytes);
    *count = after - before;
    return result;
}

// ---- prune -----------------------------------------------------------------------------------

static sm_result forget(sm_store *store, sm_unix_us before_us, int64_t *count) {
    const sm_bind bind = {.number = before_us};
    sqlite3_stmt *statement = sm_query_prepare(store, "DELETE FROM rehearsal WHERE began_us < ?1", &bind, 1);
    if (!statement)
        return SM_UNREADABLE;
    sm_result result;
    sm_store_step(store, statement, &result);
    *count = sqlite3_changes(store->db);
    sqlite3_finalize(statement);
    return result;
}

sm_result sm_logbook_prune(sm_logbook *logbook, sm_unix_us before_us, int64_t *count) {
    sm_store *store = &logbook->store;
    sm_result result = sm_store_exec(store, "BEGIN IMMEDIATE");
    if (result != SM_OK)
        return result;
    result = forget(store, before_us, count);
    if (result == SM_OK)
        result =
            sm_store_exec(store, "DELETE FROM load WHERE id NOT IN (SELECT load FROM rehearsal UNION SELECT "
                                 "load FROM input WHERE load IS NOT NULL);"
                                 "DELETE FROM file WHERE hash NOT IN (SELECT file FROM member)");
    if (result == SM_OK)
        result = sm_store_exec(store, "COMMIT");
    if (result != SM_OK)
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    return result == SM_OK ? sm_store_exec(store, "VACUUM") : result;
}
