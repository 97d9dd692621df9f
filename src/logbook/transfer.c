// SPDX-License-Identifier: GPL-3.0-or-later
// Export, import, prune. An export is a SQLite file of the logbook's own schema.
#include "logbook/in_use.h"
#include "logbook/legacy.h"
#include "logbook/merge.h"
#include "logbook/query.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static const char *path_of(const sm_logbook *logbook) {
    return sqlite3_db_filename(logbook->store.db, "main");
}

void sm_logbook_watch(sm_logbook *logbook, sm_progress *progress) {
    logbook->store.progress = progress;
}

sm_result sm_logbook_export(sm_logbook *logbook, int64_t number, const char *path, int64_t *count) {
    sm_store *store = &logbook->store, made;
    sm_result result = number != 0 ? sm_query_has(store, number) : sm_query_none_runs(store);
    if (result != SM_OK)
        return result;
    result = sm_store_open_carrier(&made, path, SM_CARRIER_NEW);
    sm_store_close(&made);
    if (result != SM_OK) {
        snprintf(store->why, sizeof store->why, "%s", made.why);
        return result;
    }
    result = sm_merge(store, number, path, count);
    if (result != SM_OK)
        sm_store_remove(&made, path);
    return result;
}

// ---- import ---------------------------------------------------------------------------------

// WHY lies in the file at PATH.
static sm_result no_export(sm_store *store, const char *path, const char *why) {
    char said[SM_STORE_WHY];
    snprintf(said, sizeof said, "%.200s: no whole export of a logbook: %.150s", path, why);
    snprintf(store->why, sizeof store->why, "%s", said);
    return SM_UNREADABLE;
}

static sm_result import_records(sm_store *store, const char *path, const char *bytes, size_t length,
                                int64_t *count) {
    int64_t before = 0, after = 0;
    sm_text entries = {0};
    const char *records = sm_legacy_export_records(bytes);
    sm_result result = sm_legacy_read(records, length - (size_t)(records - bytes), &entries);
    if (result == SM_INVALID)
        result = no_export(store, path, "it is cut off");
    if (result == SM_OK)
        result = sm_store_number(store, "SELECT count(*) FROM rehearsal", &before);
    if (result == SM_OK)
        result = sm_store_put(store, entries.bytes, entries.length, true);
    if (result == SM_OK)
        result = sm_store_number(store, "SELECT count(*) FROM rehearsal", &after);
    sm_text_deinit(&entries);
    if (result == SM_OK)
        *count = after - before;
    return result;
}

static sm_result import_carrier(sm_store *store, const char *path, const char *target, int64_t *count) {
    sm_store carrier;
    sm_result result = sm_store_open_carrier(&carrier, path, SM_CARRIER_COPY);
    carrier.progress = store->progress;
    if (result == SM_OK)
        result = sm_merge(&carrier, 0, target, count);
    if (result == SM_INVALID)
        result = no_export(store, path, carrier.why);
    else if (result != SM_OK)
        snprintf(store->why, sizeof store->why, "%s", carrier.why);
    sm_store_close(&carrier);
    return result;
}

sm_result sm_logbook_import(sm_logbook *logbook, const char *path, int64_t *count) {
    sm_store *store = &logbook->store;
    char head[SM_LEGACY_HEAD];
    const int file = sm_file_open(path);
    if (file < 0)
        return sm_store_failed_errno(store, path);
    const ssize_t got = read(file, head, sizeof head);
    bool legacy = sm_legacy_is_records(head, got > 0 ? (size_t)got : 0);
    close(file);
    if (!legacy)
        return import_carrier(store, path, path_of(logbook), count);
    char *bytes;
    size_t length;
    sm_result result = sm_file_read(path, &bytes, &length);
    if (result != SM_OK)
        return result == SM_UNREADABLE ? sm_store_failed_errno(store, path) : result;
    result = import_records(store, path, bytes, length, count);
    free(bytes);
    return result;
}

// ---- prune -----------------------------------------------------------------------------------

static sm_result prune(sm_store *store, sm_unix_us before_us, int64_t *count) {
    sm_result result = sm_store_exec(store, "BEGIN IMMEDIATE");
    if (result != SM_OK)
        return result;
    result =
        sm_query_run(store, "DELETE FROM rehearsal WHERE began_us < ?1", &(sm_bind){.number = before_us});
    const int64_t gone = sqlite3_changes(store->db);
    if (result == SM_OK)
        result =
            sm_store_exec(store, "DELETE FROM load WHERE id NOT IN (SELECT load FROM rehearsal UNION SELECT "
                                 "load FROM input WHERE load IS NOT NULL);"
                                 "DELETE FROM file WHERE hash NOT IN (SELECT file FROM member)");
    if (result == SM_OK)
        result = sm_store_exec(store, "COMMIT");
    if (result != SM_OK)
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    if (result == SM_OK)
        result = sm_store_exec(store, "VACUUM");
    if (result == SM_OK)
        *count = gone;
    return result;
}

sm_result sm_logbook_prune(sm_logbook *logbook, sm_unix_us before_us, int64_t *count) {
    bool busy;
    int alone = sm_in_use_lock(&logbook->store, SM_IN_USE_ALONE, &busy);
    if (busy) {
        snprintf(logbook->store.why, sizeof logbook->store.why,
                 "a rehearsal is being kept in it just now; end that first, then prune");
        return SM_REFUSED;
    }
    sm_result result = prune(&logbook->store, before_us, count);
    if (alone >= 0)
        close(alone);
    return result;
}
