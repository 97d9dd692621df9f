// SPDX-License-Identifier: GPL-3.0-or-later
#include "logbook/restore_show.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static sm_result say(sm_store *store, sm_result result, const char *what, const char *name) {
    snprintf(store->why, sizeof store->why, "the kept show cannot be loaded: %.120s: %.200s", name, what);
    return result;
}

static bool write_file(const char *path, const char *bytes, size_t length) {
    FILE *file = fopen(path, "wxe");
    bool written = file && fwrite(bytes, 1, length, file) == length;
    return file && fclose(file) == 0 && written;
}

// The row's file into FOLDER. Its name comes from a database: only a plain name is taken.
static sm_result restore_row(sm_store *store, sqlite3_stmt *row, const char *folder) {
    const char *name = sm_query_text(row, 0);
    if (strchr(name, '/') || name[0] == '.')
        return say(store, SM_INVALID, "no plain file name", name);
    const char *bytes = sqlite3_column_blob(row, 2); // the pointer first, then its length, as SQLite asks
    size_t length = (size_t)sqlite3_column_bytes(row, 2);
    sm_walk_hash hash = sm_walk_hash_bytes(bytes ? bytes : "", length);
    if (strcmp(hash.hex, sm_query_text(row, 1)) != 0)
        return say(store, SM_INVALID, "its kept bytes are damaged", name);
    sm_text path = {0};
    sm_text_printf(&path, "%s/%s", folder, name);
    sm_result result = path.failed ? say(store, SM_NO_MEMORY, "memory ran out", name) : SM_OK;
    if (result == SM_OK && !write_file(path.bytes, bytes ? bytes : "", length))
        result = say(store, SM_UNREADABLE, strerror(errno), path.bytes);
    sm_text_deinit(&path);
    return result;
}

static sm_result restore_files(sm_store *store, int64_t load, const char *folder) {
    const sm_bind bind = {.number = load};
    sqlite3_stmt *row = sm_query_prepare(
        store,
        "SELECT m.name, f.hash, f.bytes FROM member m JOIN file f ON f.hash = m.file WHERE m.load = ?1",
        &bind, 1);
    if (!row)
        return SM_UNREADABLE;
    sm_result result, restored = SM_OK;
    while (restored == SM_OK && sm_store_step(store, row, &result))
        restored = restore_row(store, row, folder);
    sqlite3_finalize(row);
    return restored != SM_OK ? restored : result;
}

static void remove_folder(const char *folder) {
    size_t count;
    const sm_table_schema *schema = sm_show_schema(&count);
    for (size_t i = 0; i < count; i++) {
        sm_text path = {0};
        sm_text_printf(&path, "%s/%s", folder, schema[i].file);
        if (!path.failed)
            unlink(path.bytes);
        sm_text_deinit(&path);
    }
    rmdir(folder);
}

static sm_result load_folder(sm_store *store, const char *folder, sm_show **out) {
    sm_findings *findings = sm_findings_create();
    sm_result result = findings ? sm_show_load(folder, NULL, findings, out) : SM_NO_MEMORY;
    if (result != SM_OK && findings && sm_findings_count(findings) > 0)
        say(store, result, sm_findings_at(findings, 0)->message, sm_findings_at(findings, 0)->file);
    else if (result != SM_OK)
        say(store, result, sm_result_text(result), folder);
    sm_findings_destroy(findings);
    return result == SM_UNREADABLE ? SM_INVALID : result;
}

static sm_result set_length(sm_store *store, int64_t load, sm_show *show) {
    const sm_bind bind = {.number = load};
    sqlite3_stmt *row = sm_query_prepare(store, "SELECT length_us FROM load WHERE id = ?1", &bind, 1);
    if (!row)
        return SM_UNREADABLE;
    sm_result result;
    if (sm_store_step(store, row, &result))
        show->length_us = sqlite3_column_int64(row, 0); // with the music that is not kept
    sqlite3_finalize(row);
    return result;
}

sm_result sm_restore_show(sm_store *store, int64_t load, sm_show **out) {
    const char *passing = getenv("TMPDIR");
    sm_text folder = {0};
    sm_text_printf(&folder, "%s/slowmatch-kept-XXXXXX", passing && passing[0] == '/' ? passing : "/tmp");
    if (folder.failed || !mkdtemp(folder.bytes)) {
        sm_result result = say(store, SM_UNREADABLE, strerror(errno), sm_text_get(&folder));
        sm_text_deinit(&folder);
        return result;
    }
    sm_show *show = NULL;
    sm_result result = restore_files(store, load, folder.bytes);
    if (result == SM_OK)
        result = load_folder(store, folder.bytes, &show);
    if (result == SM_OK)
        result = set_length(store, load, show);
    remove_folder(folder.bytes);
    sm_text_deinit(&folder);
    if (result == SM_OK)
        *out = show;
    else
        sm_show_destroy(show);
    return result;
}
