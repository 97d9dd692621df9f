// SPDX-License-Identifier: GPL-3.0-or-later
// Row numbers (rehearsal, load) are each file's own: between files a rehearsal is known by its token, a load by its hash.
#include "logbook/merge.h"

#include "logbook/query.h"

#include <stdio.h>
#include <string.h>

#define ONCE " ON CONFLICT DO NOTHING"
// Rehearsals and loads of both files, m of STORE's and t of the target's.
#define REHEARSALS " JOIN main.rehearsal m ON m.id = s.rehearsal JOIN target.rehearsal t ON t.token = m.token"
#define LOADS " JOIN main.load m ON m.id = s.load JOIN target.load t ON t.hash = m.hash"
#define IS_CHOSEN " WHERE m.id IN chosen"
#define HAS_TITLE " WHERE title IN chosen_title ORDER BY id" ONCE
// A spill may have marks of an attempt that began in the logbook.
#define OF_ATTEMPTS                                                                                          \
    "token IN (SELECT token FROM main.attempt WHERE title IN chosen_title UNION SELECT token FROM "          \
    "main.rehearsal WHERE id IN chosen)"
#define TITLED(table, columns)                                                                               \
    "INSERT INTO target." table "(" columns ") SELECT " columns " FROM main." table HAS_TITLE

// ?1: the rehearsal's number, 0 for all.
static const char *const choosing[] = {
    "CREATE TEMP TABLE IF NOT EXISTS chosen(id INTEGER PRIMARY KEY)",
    "CREATE TEMP TABLE IF NOT EXISTS chosen_load(id INTEGER PRIMARY KEY)",
    "CREATE TEMP TABLE IF NOT EXISTS chosen_title(title TEXT PRIMARY KEY)",
    "DELETE FROM chosen",
    "DELETE FROM chosen_load",
    "DELETE FROM chosen_title",
    "INSERT INTO chosen SELECT id FROM main.rehearsal WHERE ?1 IN (0, id)",
    "INSERT INTO chosen_load SELECT id FROM main.load WHERE ?1 = 0 UNION SELECT load FROM main.rehearsal "
    "WHERE id "
    "IN chosen UNION SELECT load FROM main.input WHERE rehearsal IN chosen AND load IS NOT NULL",
    "INSERT INTO chosen_title SELECT title FROM main.load WHERE id IN chosen_load",
    "INSERT INTO chosen_title SELECT title FROM main.reading WHERE ?1 = 0 UNION SELECT title FROM "
    "main.walk_tick "
    "WHERE ?1 = 0 UNION SELECT title FROM main.walk_sign WHERE ?1 = 0 UNION SELECT title FROM "
    "main.walk_change "
    "WHERE ?1 = 0 UNION SELECT title FROM main.drill WHERE ?1 = 0 UNION SELECT title FROM main.attempt WHERE "
    "?1 = "
    "0" ONCE,
};

static const char rehearsals[] =
    "INSERT INTO target.rehearsal(token, load, began_us, mode, flags) SELECT s.token, t.id, s.began_us, "
    "s.mode, "
    "s.flags FROM main.rehearsal s" LOADS " WHERE s.id IN chosen ORDER BY s.id" ONCE;

// In this order: what points comes after what it points at. The counts of a rehearsal are the target's own, by its triggers.
static const char *const merging[] = {
    "INSERT INTO target.file SELECT hash, size, bytes FROM main.file WHERE hash IN (SELECT file FROM "
    "main.member "
    "WHERE load IN chosen_load)" ONCE,
    "INSERT INTO target.load(hash, title, content, length_us) SELECT hash, title, content, length_us FROM "
    "main.load WHERE id IN chosen_load ORDER BY id" ONCE,
    "INSERT INTO target.member SELECT t.id, s.name, s.file FROM main.member s" LOADS
    " WHERE m.id IN chosen_load" ONCE,
    TITLED("reading", "title, slot, value, ohms, taken, taken_us, person, origin"),
    rehearsals,
    "INSERT INTO target.row SELECT t.id, n, s.wall_us, show_us, source, what, cue, target, detail, s.late_us "
    "FROM "
    "main.row s" REHEARSALS IS_CHOSEN " ORDER BY t.id, n" ONCE,
    "INSERT INTO target.input SELECT t.id, n, kind, at_us, source, line, detail, (SELECT b.id FROM main.load "
    "a "
    "JOIN target.load b ON b.hash = a.hash WHERE a.id = s.load) FROM main.input s" REHEARSALS IS_CHOSEN
    " ORDER BY t.id, n" ONCE,
    "UPDATE target.rehearsal AS t SET ended_us = (SELECT ended_us FROM main.rehearsal s WHERE s.token = "
    "t.token) "
    "WHERE ended_us IS NULL AND token IN (SELECT token FROM main.rehearsal WHERE id IN chosen)",
    "INSERT INTO target.walk_untick SELECT token, n FROM main.walk_untick WHERE token IN (SELECT token FROM "
    "main.rehearsal WHERE id IN chosen)" ONCE,
    TITLED("walk_tick", "token, n, title, item, answer, value, note, person, given_us, hash"),
    TITLED("walk_sign", "token, n, title, who, signed_us, content, items"),
    "INSERT INTO target.walk_void SELECT title, who, signed_us, why FROM main.walk_void WHERE title IN "
    "chosen_title" ONCE,
    TITLED("walk_change", "token, n, title, what, happened_us"),
    TITLED("drill", "token, person, drill, title, taken_us, score, passed, with_hints, marks, seat"),
    "INSERT INTO target.attempt(token, title, person, drill, seat, began_us, pass, again_days, file, "
    "taken_by) "
    "SELECT token, title, person, drill, seat, began_us, pass, again_days, file, taken_by FROM main.attempt "
    "WHERE title IN chosen_title ORDER BY "
    "began_us" ONCE,
    "INSERT INTO target.attempt_mark SELECT * FROM main.attempt_mark WHERE " OF_ATTEMPTS ONCE,
    "INSERT INTO target.attempt_score SELECT * FROM main.attempt_score WHERE " OF_ATTEMPTS ONCE,
    "INSERT INTO target.debrief SELECT t.id, head, tail, broken_off FROM main.debrief s" REHEARSALS IS_CHOSEN
        ONCE,
    "INSERT INTO target.drill_step SELECT t.id, n, at_us, kind, name, words, within_us, took_us, s.state, "
    "key FROM "
    "main.drill_step s" REHEARSALS IS_CHOSEN ONCE,
};

static sm_result run(sm_store *store, const char *sql, int64_t number) {
    const sm_bind bind = {.number = number};
    return sm_query_run(store, sql, sqlite3_strglob("*?1*", sql) == 0 ? &bind : NULL);
}

// Somebody may have made the file by other means: views and triggers in place of tables would be run.
static sm_result compare_schemas(sm_store *store) {
#define SCHEMA(file)                                                                                         \
    "SELECT type, name, tbl_name, sql FROM " file ".sqlite_schema WHERE name NOT GLOB 'sqlite_*'"
    int64_t other;
    sm_result result = sm_store_number(
        store,
        "SELECT count(*) FROM (SELECT * FROM (" SCHEMA("main") " EXCEPT " SCHEMA(
            "target") ") UNION ALL SELECT * FROM (" SCHEMA("target") " EXCEPT " SCHEMA("main") "))",
        &other);
    if (result != SM_OK || other == 0)
        return result;
    snprintf(store->why, sizeof store->why, "it has other tables than a logbook");
    return SM_INVALID;
}

static void count_row(void *progress, int what, const char *file, const char *table, sqlite3_int64 row) {
    (void)what;
    (void)file;
    (void)row;
    if (strcmp(table, "row") == 0 || strcmp(table, "input") == 0)
        (void)sm_progress_count(progress, 1);
}

// By far the most of what a logbook holds are the rows and the inputs of its rehearsals.
static sm_result expect_rows(sm_store *store) {
    int64_t count = 0;
    if (!store->progress)
        return SM_OK;
    const sm_result result = sm_store_number(
        store,
        "SELECT (SELECT count(*) FROM main.row WHERE rehearsal IN chosen) + (SELECT count(*) FROM main.input "
        "WHERE rehearsal IN chosen)",
        &count);
    sm_progress_expect(store->progress, (uint64_t)count);
    sqlite3_update_hook(store->db, count_row, store->progress);
    return result;
}

static sm_result merge_attached(sm_store *store, int64_t number, int64_t *count) {
    sm_result result = compare_schemas(store);
    for (size_t i = 0; i < sizeof choosing / sizeof choosing[0] && result == SM_OK; i++)
        result = run(store, choosing[i], number);
    if (result == SM_OK)
        result = expect_rows(store);
    if (result == SM_OK)
        result = sm_store_exec(store, "PRAGMA target.synchronous = FULL; PRAGMA foreign_keys = ON; BEGIN");
    if (result != SM_OK)
        return result;
    sqlite3_db_config(store->db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 1, NULL);
    int64_t taken = 0;
    for (size_t i = 0; i < sizeof merging / sizeof merging[0] && result == SM_OK; i++) {
        result = run(store, merging[i], number);
        if (merging[i] == rehearsals)
            taken = sqlite3_changes64(store->db);
    }
    if (result == SM_OK)
        result = sm_store_exec(store, "COMMIT");
    if (result != SM_OK)
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    else if (count)
        *count = taken;
    return result;
}

sm_result sm_merge(sm_store *store, int64_t number, const char *target, int64_t *count) {
    sm_result result = sm_query_run(store, "ATTACH ?1 AS target", &(sm_bind){.text = target});
    if (result != SM_OK)
        return result;
    sqlite3_busy_timeout(store->db, SM_STORE_BUSY_MS);
    result = merge_attached(store, number, count);
    sqlite3_update_hook(store->db, NULL, NULL);
    sqlite3_exec(store->db, "DETACH target", NULL, NULL, NULL);
    return result;
}
