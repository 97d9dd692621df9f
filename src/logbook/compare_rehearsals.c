// SPDX-License-Identifier: GPL-3.0-or-later
// What differed between two rehearsals: the show's files, what people did, what misfired, how late things were.
#include "logbook/attempts.h"
#include "logbook/query.h"

#include "slowmatch/json.h"

#include <stdio.h>
#include <string.h>

typedef struct aspect {
    const char *name, *title;
    bool counts; // a difference here makes them differ
    const char *sql;
} aspect;

// ?1 and ?2 are the two rehearsals. A row of ONLY is a line that one of them has more often than the other.
#define LOAD(n) "(SELECT load FROM rehearsal WHERE id = " n ")"
#define ONLY(columns, of, where)                                                                             \
    "SELECT " columns " AS line, sum(rehearsal = ?1) AS first, sum(rehearsal = ?2) AS second FROM " of       \
    " WHERE rehearsal IN (?1, ?2) AND " where " GROUP BY line HAVING first <> second ORDER BY line"
// The file that a name stood for in a load.
#define MEMBER(n) "max(CASE WHEN load = " LOAD(n) " THEN file END)"

// Marks as they stand; the score is one of them.
#define MARKS                                                                                                \
    SM_ATTEMPTS                                                                                              \
    ", m AS (SELECT r.id AS rehearsal, m.n, m.kind || ' ' || m.name AS line, CASE WHEN m.decided THEN "      \
    "m.got "                                                                                                 \
    "|| CASE WHEN m.kind IN ('never', 'rule') THEN '' ELSE ' of ' || m.marks END ELSE 'not decided' END AS " \
    "shown, round(m.took_us / 1e6, 2) AS seconds FROM rehearsal r JOIN attempt_mark m ON m.token = r.token " \
    "AND " SM_ATTEMPT_LAST_MARK(                                                                             \
        "m") " WHERE r.id IN (?1, ?2) UNION ALL SELECT r.id, -1, 'score', a.score || "                       \
             "' of 100', NULL FROM rehearsal r JOIN attempts a ON a.token = r.token WHERE r.id IN (?1, "     \
             "?2)) "
#define EACH(value)                                                                                          \
    "max(CASE WHEN rehearsal = ?1 THEN " value " END) AS first, max(CASE WHEN rehearsal = ?2 THEN " value    \
    " END) AS second"

static const aspect aspects[] = {
    {"file", "files of the show", true,
     "WITH m AS (SELECT name, " MEMBER("?1") " AS first, " MEMBER(
         "?2") " AS second FROM member GROUP BY name) "
               "SELECT name, substr(first, 1, 12), substr(second, 1, 12) FROM m WHERE first IS NOT second "
               "ORDER BY name"},
    {"flags", "how it was run", true,
     "SELECT 'mode', trim(a.mode || ' ' || a.flags), trim(b.mode || ' ' || b.flags) FROM rehearsal a, "
     "rehearsal b "
     "WHERE a.id = ?1 AND b.id = ?2 AND (a.mode <> b.mode OR a.flags <> b.flags)"},
    {"action", "actions, times each", true, ONLY("line", "input", "kind = 'action'")},
    {"refused", "refused, times each", true,
     ONLY("target || ': ' || detail", "row", "what IN ('refused', 'unpaired')")},
    {"misfire", "misfired, times each", true, ONLY("target || ' ' || detail", "row", "what = 'misfire'")},
    {"passed", "passed over, times each", true, ONLY("target || ' ' || detail", "row", "what = 'passed'")},
    {"event", "other rows by kind, times each", true,
     ONLY("what", "row", "what NOT IN ('misfire', 'passed', 'refused', 'unpaired', 'sound')")},
    {"mark", "marks of the drill", true,
     MARKS
     "SELECT line, " EACH("shown") " FROM m GROUP BY line HAVING first IS NOT second ORDER BY min(n), line"},
    {"took", "reaction times, s", false,
     MARKS
     "SELECT line, " EACH("seconds") " FROM m GROUP BY line HAVING first IS NOT second ORDER BY min(n), "
                                     "line"},
    {"lateness", "latest of all rows, ms", false,
     "SELECT 'late', round(a.late_us / 1000.0, 1), round(b.late_us / 1000.0, 1) FROM rehearsal a, rehearsal "
     "b "
     "WHERE a.id = ?1 AND b.id = ?2"},
};

static void print_line(sm_text *out, bool json, const aspect *of, sqlite3_stmt *row) {
    if (!json) {
        sm_text_printf(out, "  %-40s %14s %14s\n", sm_query_text(row, 0), sm_query_text(row, 1),
                       sm_query_text(row, 2));
        return;
    }
    sm_json line = sm_json_line_open(out);
    sm_json_text(&line, "differs", of->name);
    sm_json_text(&line, "what", sm_query_text(row, 0));
    for (int i = 1; i < 3; i++) {
        const char *name = i == 1 ? "first" : "second";
        if (sqlite3_column_type(row, i) == SQLITE_TEXT)
            sm_json_text(&line, name, sm_query_text(row, i));
        else
            sm_json_plain(&line, name, (const char *)sqlite3_column_text(row, i));
    }
    sm_json_line_close(&line);
}

static sm_result compare_aspect(sm_store *store, const aspect *of, const sm_bind binds[2], bool json,
                                sm_text *out, bool *same) {
    sqlite3_stmt *row = sm_query_prepare(store, of->sql, binds, 2);
    if (!row)
        return SM_UNREADABLE;
    sm_result result;
    for (size_t count = 0; sm_store_step(store, row, &result); count++) {
        if (count == 0 && !json)
            sm_text_printf(out, "%s\n", of->title);
        print_line(out, json, of, row);
        *same = *same && !of->counts;
    }
    sqlite3_finalize(row);
    return result;
}

sm_result sm_logbook_compare(sm_logbook *logbook, int64_t a, int64_t b, bool json, sm_text *out, bool *same) {
    sm_store *store = &logbook->store;
    const sm_bind binds[] = {{.number = a}, {.number = b}};
    bool all_same = true;
    sm_result result = sm_query_has(store, a);
    if (result == SM_OK)
        result = sm_query_has(store, b);
    if (result == SM_OK && !json)
        sm_text_printf(out, "REHEARSALS %lld and %lld\n", (long long)a, (long long)b);
    for (size_t i = 0; i < sizeof aspects / sizeof aspects[0] && result == SM_OK; i++)
        result = compare_aspect(store, &aspects[i], binds, json, out, &all_same);
    if (result == SM_OK && !json && all_same)
        sm_text_printf(out, "nothing differs but lateness\n");
    *same = all_same;
    return sm_query_done(store, out, result);
}
