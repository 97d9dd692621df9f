// SPDX-License-Identifier: GPL-3.0-or-later
#include "batches.h"

#include "fault_vfs.h"
#include "folder.h"
#include "kept.h"

#include <dirent.h>
#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

void batches_remove_logbook(const char *path) {
    static const char *const ends[] = {"", "-wal", "-shm", "-journal"};
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        char name[300];
        snprintf(name, sizeof name, "%s%s", path, ends[i]);
        unlink(name);
    }
}

unsigned batches_count_spills(const char *folder) {
    unsigned count = 0;
    DIR *listed = opendir(folder);
    assert_non_null(listed);
    for (struct dirent *entry = readdir(listed); entry; entry = readdir(listed))
        count += strstr(entry->d_name, "spill") != NULL;
    closedir(listed);
    return count;
}

static sm_value value_of(sqlite3_stmt *s, int i) {
    switch (sqlite3_column_type(s, i)) {
    case SQLITE_NULL:
        return sm_value_us(SM_UNSET_US);
    case SQLITE_INTEGER:
        return sm_value_number(sqlite3_column_int64(s, i));
    case SQLITE_BLOB:
        return sm_value_bytes(sqlite3_column_blob(s, i), (size_t)sqlite3_column_bytes(s, i));
    default:
        return sm_value_text((const char *)sqlite3_column_text(s, i));
    }
}

// What a rehearsal put into a logbook, in an order in which it could have come.
static const struct {
    sm_entry_kind kind;
    const char *sql;
} parts[] = {
    {SM_ENTRY_FILE, "SELECT hash, size, bytes FROM file"},
    {SM_ENTRY_LOAD, "SELECT hash, title, content, length_us FROM load"},
    {SM_ENTRY_MEMBER, "SELECT (SELECT hash FROM load), name, file FROM member"},
    {SM_ENTRY_READING, "SELECT title, slot, value, ohms, taken, taken_us, person, origin FROM reading"},
    {SM_ENTRY_REHEARSAL, "SELECT token, (SELECT hash FROM load), began_us, mode, flags FROM rehearsal"},
    {SM_ENTRY_INPUT,
     "SELECT (SELECT token FROM rehearsal), n, kind, at_us, source, line, detail, '' FROM input"},
    {SM_ENTRY_ROW,
     "SELECT (SELECT token FROM rehearsal), n, wall_us, show_us, source, what, cue, target, detail, "
     "late_us FROM row ORDER BY n"},
    {SM_ENTRY_END, "SELECT token, ended_us FROM rehearsal"},
};

void batches_record(const char *folder, batches *out) {
    char path[256];
    sqlite3 *db = NULL;
    fault_vfs_arm(FAULT_FULL, 0, false);
    out->rows = kept_rehearse(folder, folder_path(path, folder, "recorded.db"), NULL, NULL);
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    unsigned count = 0;
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        sqlite3_stmt *s = NULL;
        assert_int_equal(sqlite3_prepare_v2(db, parts[i].sql, -1, &s, NULL), SQLITE_OK);
        while (sqlite3_step(s) == SQLITE_ROW) {
            sm_value values[SM_ENTRY_VALUES];
            for (int column = 0; column < sqlite3_column_count(s); column++)
                values[column] = value_of(s, column);
            sm_entry_put(&out->entries, parts[i].kind, values, (size_t)sqlite3_column_count(s));
            if (++count % ENTRIES_A_BATCH == 0) {
                assert_true(out->count + 1 < BATCHES_MAX);
                out->begin[++out->count] = out->entries.length;
            }
        }
        sqlite3_finalize(s);
    }
    if (out->begin[out->count] < out->entries.length)
        out->begin[++out->count] = out->entries.length;
    assert_false(out->entries.failed);
    sqlite3_close(db);
    batches_remove_logbook(path);
}
