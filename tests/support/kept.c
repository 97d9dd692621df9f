// SPDX-License-Identifier: GPL-3.0-or-later
#include "kept.h"

#include "folder.h"

#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include <cmocka.h>

void kept_begin(char folder[64]) {
    char path[256];
    folder_make(folder);
    assert_int_equal(mkdir(folder_path(path, folder, "show"), 0700), 0);
    folder_small_show(path);
    assert_int_equal(setenv("XDG_STATE_HOME", folder_path(path, folder, "state"), 1), 0);
    assert_int_equal(setenv("TMPDIR", folder, 1), 0);
}

void kept_begin_at_home(char folder[64]) {
    char path[256];
    kept_begin(folder);
    setenv("HOME", folder, 1);
    setenv("XDG_DATA_HOME", folder_path(path, folder, "data"), 1);
    setenv("XDG_CACHE_HOME", folder_path(path, folder, "cache"), 1);
    setenv("XDG_RUNTIME_DIR", folder, 1);
}

void kept_end(const char *folder) {
    unsetenv("TMPDIR");
    folder_remove(folder);
}

// ---- rehearsing --------------------------------------------------------------------

typedef struct run {
    sm_logbook_writer *writer;
    unsigned rows;
} run;

static void on_row(void *context, const sm_log_row *row) {
    run *r = context;
    r->rows++;
    sm_logbook_writer_row(r->writer, row);
}

static void on_action(void *context, const sm_action *action, sm_source source, sm_wall_time at) {
    sm_logbook_writer_action(((run *)context)->writer, action, source, at);
}

static sm_operator *open_operator(const sm_show *show, const char *script) {
    sm_operator *operator_ = NULL;
    sm_findings *findings = sm_findings_create();
    assert_non_null(findings);
    if (!script)
        assert_int_equal(sm_operator_builtin(show, &operator_), SM_OK);
    else
        assert_int_equal(sm_operator_read(show, "script", script, strlen(script), findings, &operator_),
                         SM_OK);
    sm_findings_destroy(findings);
    return operator_;
}

static void run_through(sm_rehearsal *rehearsal, sm_operator *operator_) {
    for (;;) {
        sm_wall_time acts_at, runs_at;
        sm_operator_word word = sm_operator_next(operator_, rehearsal, &acts_at);
        bool runs = sm_rehearsal_next_due(rehearsal, &runs_at);
        bool acts = word == SM_OPERATOR_WAIT && (!runs || acts_at.us <= runs_at.us);
        if (sm_rehearsal_is_over(rehearsal, word) || (!acts && !runs))
            return;
        sm_result result = acts ? sm_rehearsal_act(rehearsal, sm_operator_take(operator_, acts_at),
                                                   SM_SOURCE_SCRIPT, acts_at)
                                : sm_rehearsal_run(rehearsal, runs_at);
        assert_true(result == SM_OK || result == SM_REFUSED);
    }
}

unsigned kept_rehearse(const char *folder, const char *path, const char *script, char problem[400]) {
    char show_folder[256];
    sm_show *show = folder_load(folder_path(show_folder, folder, "show"));
    sm_logbook_load *load = NULL;
    assert_int_equal(sm_logbook_load_create(show, NULL, &(sm_walk_hash){""}, &load), SM_OK);
    run r = {0};
    const sm_logbook_start start = {.path = path,
                                    .mode = "headless",
                                    .readings_not_judged = !script,
                                    .fast = true,
                                    .launch_us = INT64_C(1780000000) * SM_US_PER_S};
    assert_int_equal(sm_logbook_writer_create(&start, load, &r.writer), SM_OK);
    const sm_rehearsal_options options = {
        .readings_not_judged = !script, .sink = on_row, .acted = on_action, .sink_context = &r};
    sm_rehearsal *rehearsal = NULL;
    assert_int_equal(sm_rehearsal_create(show, &options, &rehearsal), SM_OK);
    sm_operator *operator_ = open_operator(show, script);
    run_through(rehearsal, operator_);
    sm_operator_destroy(operator_);
    sm_rehearsal_destroy(rehearsal);
    char said[400];
    bool kept = sm_logbook_writer_close(r.writer, -1, problem ? problem : said);
    assert_true(kept == ((problem ? problem : said)[0] == '\0'));
    sm_show_destroy(show);
    return r.rows;
}

// ---- looking -----------------------------------------------------------------------------

static sqlite3 *open_raw(const char *path) {
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL), SQLITE_OK);
    return db;
}

long long kept_number(const char *path, const char *sql) {
    sqlite3 *db = open_raw(path);
    sqlite3_stmt *statement = NULL;
    if (sqlite3_prepare_v2(db, sql, -1, &statement, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    long long number = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    sqlite3_close(db);
    return number;
}

void kept_exec(const char *path, const char *sql) {
    sqlite3 *db = open_raw(path);
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    sqlite3_close(db);
}

sm_logbook *kept_open(const char *path) {
    char why[400];
    sm_logbook *logbook = NULL;
    if (sm_logbook_open(path, false, why, &logbook) != SM_OK)
        fail_msg("%s: %s", path, why);
    return logbook;
}

void kept_assert_whole(const char *path) {
    sm_text said = {0};
    bool whole = false;
    sm_logbook *logbook = kept_open(path);
    assert_int_equal(sm_logbook_check(logbook, false, &said, &whole), SM_OK);
    if (!whole)
        fail_msg("%s", sm_text_get(&said));
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    char command[400], line[64] = "";
    snprintf(command, sizeof command, "sqlite3 '%s' 'PRAGMA integrity_check'", path);
    FILE *shell = popen(command, "r");
    assert_non_null(shell);
    assert_non_null(fgets(line, sizeof line, shell));
    assert_int_equal(pclose(shell), 0);
    assert_string_equal(line, "ok\n");
}

void kept_assert_replays(const char *path, int64_t number) {
    sm_text said = {0};
    bool same = false;
    sm_logbook *logbook = kept_open(path);
    if (sm_logbook_replay(logbook, number, false, &said, &same) != SM_OK)
        fail_msg("%s", sm_logbook_problem(logbook));
    if (!same)
        fail_msg("%s", sm_text_get(&said));
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
}
