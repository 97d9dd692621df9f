// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/logbook.h"

#include "logbook/attempts.h"
#include "logbook/query.h"
#include "logbook/spill.h"

#include "slowmatch/files.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

char *sm_logbook_default_path(void) {
    return sm_user_data_path("logbook.db");
}

sm_result sm_logbook_open(const char *path, bool create, char why[400], sm_logbook **out) {
    sm_logbook *logbook = calloc(1, sizeof *logbook);
    why[0] = '\0';
    if (!logbook)
        return SM_NO_MEMORY;
    sm_result result = sm_store_open(&logbook->store, path, create);
    if (result != SM_OK) {
        snprintf(why, 400, "%.390s", logbook->store.why);
        sm_logbook_close(logbook);
        return result;
    }
    sm_query_know_in_use(&logbook->store);
    char spill_why[SM_STORE_WHY] = "memory ran out";
    if (sm_spills_take(path, spill_why) != SM_OK)
        snprintf(why, 400, "what was kept aside could not be taken in: %.340s", spill_why);
    *out = logbook;
    return SM_OK;
}

void sm_logbook_close(sm_logbook *logbook) {
    if (!logbook)
        return;
    sm_store_close(&logbook->store);
    free(logbook);
}

const char *sm_logbook_problem(const sm_logbook *logbook) {
    return logbook->store.why;
}

// ---- list and show -------------------------------------------------------------------

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static const sm_query_column list_columns[] = {
    {"number", "no", 4, SM_COLUMN_INTEGER},
    {"began", "began", -16, SM_COLUMN_WHEN},
    {"show", "show", -24, SM_COLUMN_TEXT},
    {"content", NULL, 0, SM_COLUMN_TEXT},
    {"mode", "mode", -8, SM_COLUMN_TEXT},
    {"state", "last state", -10, SM_COLUMN_TEXT},
    {"fired", "fired", 5, SM_COLUMN_INTEGER},
    {"misfired", "misf.", 5, SM_COLUMN_INTEGER},
    {"passed", "passed", 6, SM_COLUMN_INTEGER},
    {"wall", "wall s", 11, SM_COLUMN_SECONDS},
    {"late", "late s", 8, SM_COLUMN_SECONDS},
    {"rows", NULL, 0, SM_COLUMN_INTEGER},
    {"ended", NULL, 0, SM_COLUMN_WHEN},
    {NULL, "", 0, SM_COLUMN_TEXT},
    {"drill", NULL, 0, SM_COLUMN_TEXT},
    {"seat", NULL, 0, SM_COLUMN_TEXT},
    {"person", NULL, 0, SM_COLUMN_TEXT},
    {"score", NULL, 0, SM_COLUMN_INTEGER},
    {"passed", NULL, 0, SM_COLUMN_BOOL},
    {"with_hints", NULL, 0, SM_COLUMN_BOOL},
    {"how", NULL, 0, SM_COLUMN_TEXT},
    {"file", NULL, 0, SM_COLUMN_TEXT},
    {"by", NULL, 0, SM_COLUMN_TEXT},
};
// What whoever signs a score has to know: no person took it, it was overruled, or its file is not that of other attempts.
#define DRILL_DOUBTS                                                                                         \
    "CASE a.taken_by WHEN '" SM_ATTEMPT_BY_SCRIPT                                                            \
    "' THEN ', by a script' ELSE '' END || CASE WHEN a.how <> "                                              \
    "'" SM_ATTEMPT_RUNNING                                                                                   \
    "' AND EXISTS (SELECT 1 FROM attempt_mark m WHERE m.token = a.token AND m.got <> "                       \
    "m.computed AND " SM_ATTEMPT_LAST_MARK(                                                                  \
        "m") ") THEN ', marks overruled' ELSE '' END || CASE WHEN EXISTS "                                   \
             "(SELECT 1 FROM attempts o WHERE o.title = a.title AND o.drill = a.drill AND o.file <> '' AND " \
             "a.file <> "                                                                                    \
             "'' AND o.file <> a.file) THEN ', file ' || a.file ELSE '' END"
// Of a drill: which, as whom, by whom, its score. Where only a debrief was kept: what its head says after "REHEARSAL ".
#define DRILL_WORDS                                                                                          \
    "CASE WHEN a.token IS NOT NULL THEN a.drill || ' as ' || a.seat || CASE a.person WHEN '' THEN '' ELSE "  \
    "' by ' || a.person END || ': ' || CASE a.how WHEN '" SM_ATTEMPT_NO_DRILL                                \
    "' THEN 'NO DRILL, no score' WHEN '" SM_ATTEMPT_RUNNING                                                  \
    "' THEN 'running' ELSE a.score || ' of 100' END || CASE a.how WHEN '" SM_ATTEMPT_SO_FAR                  \
    "' THEN ' so far' WHEN '" SM_ATTEMPT_LEFT                                                                \
    "' THEN ', left before its end' ELSE '' END || CASE WHEN a.passed THEN ', mark reached' ELSE '' END || " \
    "CASE WHEN a.with_hints THEN ', with hints' ELSE '' END || " DRILL_DOUBTS                                \
    " WHEN d.head IS NOT NULL THEN substr(d.head, "                                                          \
    "11, "                                                                                                   \
    "instr(d.head, char(10)) - 11) ELSE '' END"
#define LIST                                                                                                 \
    SM_ATTEMPTS                                                                                              \
    "SELECT r.id, r.began_us, l.title, l.content, r.mode, r.state, r.fired, r.misfired, r.passed, "          \
    "r.wall_us, r.late_us, r.rows, r.ended_us, " DRILL_WORDS " || CASE WHEN r.ended_us IS NOT NULL THEN '' " \
    "WHEN a.token IS NULL THEN 'not ended here' ELSE ', not ended here' END, a.drill, a.seat, a.person, "    \
    "CASE WHEN a.how <> '" SM_ATTEMPT_NO_DRILL                                                               \
    "' THEN a.score END, a.passed, a.with_hints, a.how, nullif(a.file, ''), nullif(a.taken_by, '') FROM "    \
    "rehearsal r JOIN load l ON l.id = r.load LEFT "                                                         \
    "JOIN debrief d ON d.rehearsal = r.id LEFT JOIN attempts a ON a.token = r.token "
static const sm_query list_query = {LIST "ORDER BY r.id", list_columns, COUNT(list_columns)};

sm_result sm_logbook_list(sm_logbook *logbook, bool json, sm_text *out) {
    size_t rows;
    if (!json)
        sm_text_printf(out, "REHEARSAL  logbook; numbers of simulated rehearsals, not of shows\n");
    sm_result result = sm_query_print(&logbook->store, &list_query, NULL, 0, json, out, &rows);
    if (result == SM_OK && rows == 0 && !json)
        sm_text_printf(out, "no rehearsal is kept here\n");
    return sm_query_done(&logbook->store, out, result);
}

static const sm_query_column row_columns[] = {
    {"wall", "wall", 11, SM_COLUMN_SECONDS},   {"show", "show", 11, SM_COLUMN_SECONDS},
    {"source", "source", -8, SM_COLUMN_TEXT},  {"what", "what", -10, SM_COLUMN_TEXT},
    {"cue", "cue", -5, SM_COLUMN_TEXT},        {"target", "target", -10, SM_COLUMN_TEXT},
    {"detail", "detail", -30, SM_COLUMN_TEXT}, {"late", "late s", 8, SM_COLUMN_SECONDS},
};
static const sm_query row_query = {
    "SELECT wall_us, show_us, source, what, cue, target, detail, late_us FROM row WHERE rehearsal = ?1 ORDER "
    "BY n",
    row_columns, COUNT(row_columns)};
static const sm_query one_query = {LIST "WHERE r.id = ?1", list_columns, COUNT(list_columns)};

sm_result sm_logbook_show(sm_logbook *logbook, int64_t number, bool json, sm_text *out) {
    const sm_bind bind = {.number = number};
    sm_result result = sm_query_has(&logbook->store, number);
    if (result == SM_OK && !json)
        sm_text_printf(out, "REHEARSAL  simulated; nothing was fired\n");
    if (result == SM_OK)
        result = sm_query_print(&logbook->store, &one_query, &bind, 1, json, out, NULL);
    if (result == SM_OK)
        result = sm_query_print(&logbook->store, &row_query, &bind, 1, json, out, NULL);
    return result;
}

// ---- readings ------------------------------------------------------------------

static const sm_query_column reading_columns[] = {
    {"slot", "slot", -8, SM_COLUMN_TEXT},  {"reading", "reading", 8, SM_COLUMN_TEXT},
    {"ohms", NULL, 0, SM_COLUMN_NUMBER},   {"when", "when", -20, SM_COLUMN_TEXT},
    {"by", "by", -10, SM_COLUMN_TEXT},     {"origin", "from", -5, SM_COLUMN_TEXT},
    {"before", NULL, 0, SM_COLUMN_NUMBER}, {NULL, "changed by ohms", 15, SM_COLUMN_NUMBER},
};
static const sm_query reading_query = {
    "SELECT slot, value, ohms, taken, person, origin, lag(ohms) OVER w, ohms - lag(ohms) OVER w FROM reading "
    "WHERE title = ?1 AND (?2 = '' OR slot = ?2) WINDOW w AS (PARTITION BY slot ORDER BY taken_us, id) ORDER "
    "BY slot, taken_us, id",
    reading_columns, COUNT(reading_columns)};

sm_result sm_logbook_readings(sm_logbook *logbook, const char *title, const char *slot, bool json,
                              sm_text *out) {
    const sm_bind binds[] = {{.text = title}, {.text = slot ? slot : ""}};
    size_t rows;
    sm_result result = sm_query_print(&logbook->store, &reading_query, binds, 2, json, out, &rows);
    if (result == SM_OK && rows == 0 && !json)
        sm_text_printf(out, "no reading of it is kept here\n");
    return sm_query_done(&logbook->store, out, result);
}

// ---- check ----------------------------------------------------------------------------------

static const sm_query_column check_columns[] = {{"found", "found", -20, SM_COLUMN_TEXT}};
// SQLite takes a page that it has no memory for as one that is damaged: error code 7.
#define NO_MEMORY_FOUND "memory ran out while it was looked at"
static const sm_query integrity_query = {
    "SELECT CASE WHEN integrity_check GLOB '*error code[= ]7*' THEN '" NO_MEMORY_FOUND
    "' ELSE integrity_check END FROM pragma_integrity_check WHERE integrity_check <> 'ok'",
    check_columns, 1};
static const sm_query keys_query = {
    "SELECT 'a row of ' || \"table\" || ' points at none of ' || parent FROM pragma_foreign_key_check",
    check_columns, 1};
static const sm_query files_query = {
    "SELECT 'the file ' || m.name || ' of load ' || m.load || ' is not kept' FROM member m WHERE m.name GLOB "
    "'*.csv' AND NOT EXISTS (SELECT 1 FROM file f WHERE f.hash = m.file) UNION ALL SELECT 'the kept file ' "
    "|| "
    "hash || ' has not its length' FROM file WHERE length(bytes) <> size",
    check_columns, 1};

sm_result sm_logbook_check(sm_logbook *logbook, bool json, sm_text *out, bool *whole) {
    const sm_query *const queries[] = {&integrity_query, &keys_query, &files_query};
    size_t found = 0, rows, begins = out->length;
    sm_result result = SM_OK;
    *whole = false;
    for (size_t i = 0; i < COUNT(queries) && result == SM_OK; i++) {
        result = sm_query_print(&logbook->store, queries[i], NULL, 0, json, out, &rows);
        found += rows;
    }
    if (result == SM_OK && found > 0 && strstr(sm_text_get(out) + begins, NO_MEMORY_FOUND)) {
        snprintf(logbook->store.why, sizeof logbook->store.why, NO_MEMORY_FOUND);
        return SM_NO_MEMORY;
    }
    if (result == SM_OK && found == 0 && !json)
        sm_text_printf(out, "whole: nothing damaged was found\n");
    *whole = result == SM_OK && found == 0;
    return sm_query_done(&logbook->store, out, result);
}

const char *sm_logbook_library(void) {
    return sqlite3_libversion();
}
