// SPDX-License-Identifier: GPL-3.0-or-later
// How long a logbook of 10,000 rehearsals takes to list, beside one of 1,000 and beside the bare query.
#include "slowmatch/logbook.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

#define TRIES 5

static double now_ms(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec * 1e3 + (double)now.tv_nsec / 1e6;
}

static void check(bool good, const char *what) {
    if (!good) {
        fprintf(stderr, "logbook_list: %s failed\n", what);
        exit(1);
    }
}

static void fill(const char *path, int count) {
    char why[400], sql[900];
    sm_logbook *logbook;
    sqlite3 *db;
    check(sm_logbook_open(path, true, why, &logbook) == SM_OK, why);
    sm_logbook_close(logbook);
    check(sqlite3_open(path, &db) == SQLITE_OK, "open");
    snprintf(
        sql, sizeof sql,
        "BEGIN; INSERT INTO load(id, hash, title, content, length_us) VALUES (1, 'h', 'A Show', 'c', 0);"
        "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < %d) INSERT INTO "
        "rehearsal(token, load, began_us, ended_us, mode, flags, state) SELECT 't' || i, 1, i * 1000000, i * "
        "1000000 + 5, 'console', '', 'ended' FROM n;"
        "WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < 40) INSERT INTO row SELECT "
        "r.id, "
        "n.i, n.i * 1000, n.i, 'engine', 'fire', '12', 'A-05', 'comet', 3 FROM rehearsal r, n; COMMIT",
        count);
    check(sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK, sqlite3_errmsg(db));
    sqlite3_close(db);
}

static double list_ms(const char *path, bool json) {
    char why[400];
    double best = 1e9;
    for (int i = 0; i < TRIES; i++) {
        sm_logbook *logbook;
        sm_text out = {0};
        double begin = now_ms();
        check(sm_logbook_open(path, false, why, &logbook) == SM_OK, why);
        check(sm_logbook_list(logbook, json, &out) == SM_OK, "list");
        double took = now_ms() - begin;
        best = took < best ? took : best;
        sm_text_deinit(&out);
        sm_logbook_close(logbook);
    }
    return best;
}

static double bare_ms(const char *path) {
    double best = 1e9;
    for (int i = 0; i < TRIES; i++) {
        sqlite3 *db;
        sqlite3_stmt *s;
        check(sqlite3_open(path, &db) == SQLITE_OK, "open");
        double begin = now_ms();
        check(sqlite3_prepare_v2(
                  db, "SELECT r.*, l.title FROM rehearsal r JOIN load l ON l.id = r.load ORDER BY r.id", -1,
                  &s, NULL) == SQLITE_OK,
              "query");
        while (sqlite3_step(s) == SQLITE_ROW)
            continue;
        double took = now_ms() - begin;
        best = took < best ? took : best;
        sqlite3_finalize(s);
        sqlite3_close(db);
    }
    return best;
}

int main(void) {
    char folder[] = "/tmp/slowmatch-bench-XXXXXX", big[64], small[64], command[96];
    check(mkdtemp(folder) != NULL, "mkdtemp");
    snprintf(big, sizeof big, "%s/big.db", folder);
    snprintf(small, sizeof small, "%s/small.db", folder);
    fill(big, 10000);
    fill(small, 1000);
    double text = list_ms(big, false), json = list_ms(big, true), less = list_ms(small, false),
           bare = bare_ms(big);
    printf(
        "10,000 rehearsals of 41 rows each listed in %.1f ms as text, %.1f ms as JSON (wanted: under 100)\n",
        text, json);
    printf("ratio to 1,000 rehearsals: %.1f; ratio to stepping through the bare query: %.1f\n", text / less,
           text / bare);
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command) == 0 ? 0 : 1;
}
