// SPDX-License-Identifier: GPL-3.0-or-later
#include "logbook/attempts.h"

#include "logbook/query.h"

#include "slowmatch/json.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// ---- in -----------------------------------------------------------------------------------

// A mark as it was put last. Names are the drill's own, which stay where they are.
typedef struct sm_attempt_mark {
    const char *name;
    sm_mark_kind kind;
    int32_t got, computed;
    int judged;
    bool decided;
} kept_mark;

// The mark as it was put last; a new one where it never was. NULL: memory ran out.
static kept_mark *find(sm_attempt *attempt, const sm_drill_mark *mark, bool *is_new) {
    *is_new = false;
    for (size_t i = 0; i < attempt->count; i++)
        if (attempt->marks[i].kind == mark->kind && strcmp(attempt->marks[i].name, mark->name) == 0)
            return &attempt->marks[i];
    kept_mark *grown = realloc(attempt->marks, (attempt->count + 1) * sizeof *grown);
    if (!grown)
        return NULL;
    *is_new = true;
    attempt->marks = grown;
    return &attempt->marks[attempt->count++];
}

static void put_mark(sm_attempt *attempt, const char *token, const sm_drill_mark *mark, sm_text *out) {
    bool is_new;
    kept_mark *before = find(attempt, mark, &is_new);
    if (!before) {
        out->failed = true;
        return;
    }
    const kept_mark now = {mark->name,     mark->kind,   mark->got,
                           mark->computed, mark->judged, mark->decided || mark->judged != 0};
    if (!is_new && before->got == now.got && before->computed == now.computed &&
        before->judged == now.judged && before->decided == now.decided)
        return;
    *before = now;
    const sm_value nothing = {.kind = SM_VALUE_NOTHING};
    const int64_t number = attempt->mark_rows++;
    SM_ENTRY_PUT(out, SM_ENTRY_MARK, sm_value_text(token), sm_value_number(number),
                 sm_value_text(sm_mark_kind_text(mark->kind)), sm_value_text(mark->name),
                 sm_value_number(mark->marks), sm_value_number(mark->got), sm_value_number(mark->computed),
                 sm_value_number(now.decided), sm_value_us(mark->took_us), sm_value_us(mark->within_us),
                 mark->judged != 0 && mark->reason ? sm_value_text(mark->reason) : nothing);
}

static const char *how_of(const sm_drill_run *run) {
    return sm_drill_was_broken_off(run) ? SM_ATTEMPT_NO_DRILL
           : !sm_drill_is_over(run)     ? SM_ATTEMPT_SO_FAR
           : sm_drill_was_left(run)     ? SM_ATTEMPT_LEFT
                                        : SM_ATTEMPT_OVER;
}

static void put_score(sm_attempt *attempt, const char *token, const sm_drill_run *run, sm_text *out) {
    const char *how = how_of(run);
    int score = sm_drill_score(run);
    bool passed = sm_drill_is_over(run) && sm_drill_passed(run) && !attempt->scripted,
         with_hints = sm_drill_with_hints(run);
    bool same = attempt->score_rows > 0 && strcmp(how, attempt->how) == 0 && score == attempt->score &&
                passed == attempt->passed && with_hints == attempt->with_hints;
    if (same)
        return;
    attempt->how = how;
    attempt->score = score;
    attempt->passed = passed;
    attempt->with_hints = with_hints;
    const int64_t number = attempt->score_rows++;
    SM_ENTRY_PUT(out, SM_ENTRY_SCORE, sm_value_text(token), sm_value_number(number), sm_value_text(how),
                 sm_value_number(score), sm_value_number(passed), sm_value_number(with_hints));
}

void sm_attempt_put(sm_attempt *attempt, const char *token, const char *title, sm_unix_us now_us,
                    const sm_drill_run *run, sm_text *out) {
    const sm_drill *drill = sm_drill_of(run);
    bool begins = attempt->score_rows == 0;
    if (!begins && attempt->seen == sm_drill_entry_count(run)) // whatever is judged leaves a row
        return;
    attempt->seen = sm_drill_entry_count(run);
    if (begins)
        SM_ENTRY_PUT(out, SM_ENTRY_ATTEMPT, sm_value_text(token), sm_value_text(title),
                     sm_value_text(sm_drill_crew(run)), sm_value_text(drill->name),
                     sm_value_text(sm_drill_seat_text(drill->seat)), sm_value_number(now_us),
                     sm_value_number(drill->pass), sm_value_number(drill->again_days),
                     sm_value_text(attempt->file),
                     sm_value_text(attempt->scripted ? SM_ATTEMPT_BY_SCRIPT : ""));
    for (uint32_t i = 0; i < sm_drill_mark_count(run); i++) {
        const sm_drill_mark mark = sm_drill_mark_at(run, i);
        bool fell = mark.decided || mark.judged != 0;
        if (fell || sm_drill_is_over(run)) // until then its name alone tells what is to come
            put_mark(attempt, token, &mark, out);
    }
    put_score(attempt, token, run, out);
}

void sm_attempt_deinit(sm_attempt *attempt) {
    free(attempt->marks);
    *attempt = (sm_attempt){0};
}

// ---- best ---------------------------------------------------------------------------------

sm_result sm_logbook_best_of(sm_logbook *logbook, const char *title, const char *person, const char *drill,
                             const char *seat, sm_logbook_best *out) {
    const sm_bind binds[] = {{.text = title}, {.text = person}, {.text = drill}, {.text = seat}};
    sqlite3_stmt *statement = sm_query_prepare(
        &logbook->store,
        SM_ATTEMPTS
        "SELECT count(*), coalesce(max(score), 0), coalesce(max(passed), 0) FROM attempts WHERE "
        "title = ?1 AND person = trim(?2) COLLATE NOCASE AND drill = ?3 AND seat = ?4 AND " SM_ATTEMPT_COUNTS,
        binds, sizeof binds / sizeof binds[0]);
    if (!statement)
        return SM_UNREADABLE;
    sm_result result;
    sm_logbook_best best = {0};
    while (sm_store_step(&logbook->store, statement, &result))
        best = (sm_logbook_best){sqlite3_column_int64(statement, 0), sqlite3_column_int(statement, 1),
                                 sqlite3_column_int(statement, 2) != 0};
    sqlite3_finalize(statement);
    if (result == SM_OK)
        *out = best;
    return result;
}

// ---- the crew's sheet -----------------------------------------------------------------------

static const sm_query_column crew_columns[] = {
    {"person", "person", -14, SM_COLUMN_TEXT}, {"show", NULL, 0, SM_COLUMN_TEXT},
    {"drill", "drill", -22, SM_COLUMN_TEXT},   {"seat", "as", -7, SM_COLUMN_TEXT},
    {"taken", "taken", 5, SM_COLUMN_INTEGER},  {"best", "best", 4, SM_COLUMN_INTEGER},
    {"last", "last", 4, SM_COLUMN_INTEGER},    {"when", NULL, 0, SM_COLUMN_WHEN},
    {"passed", NULL, 0, SM_COLUMN_BOOL},       {"with_hints", NULL, 0, SM_COLUMN_BOOL},
    {"reached", NULL, 0, SM_COLUMN_WHEN},      {"again", NULL, 0, SM_COLUMN_WHEN},
    {"due", NULL, 0, SM_COLUMN_BOOL},          {NULL, "mark reached", -12, SM_COLUMN_TEXT},
    {NULL, "due again", -10, SM_COLUMN_TEXT},
};
// Of several columns beside max(), SQLite gives those of the row that has the maximum: `last` of each is that row. Whoever took one
// drill of a show has a row for each that anybody took of it.
static const sm_query crew_query = {
    SM_ATTEMPTS
    ", of AS (SELECT * FROM attempts WHERE person <> '' AND " SM_ATTEMPT_COUNTS
    "), person AS (SELECT title, max(person) AS person FROM of GROUP BY title, person COLLATE NOCASE), "
    "course "
    "AS (SELECT DISTINCT title, drill, seat FROM of), last AS (SELECT title, person, drill, seat, count(*) "
    "AS "
    "taken, score, max(began_us) AS began_us FROM of GROUP BY title, person COLLATE NOCASE, drill, seat), "
    "best AS (SELECT title, person, drill, seat, max(score) AS score FROM of GROUP BY title, person COLLATE "
    "NOCASE, drill, seat), reached AS (SELECT title, person, drill, seat, with_hints, max(began_us) AS "
    "began_us, CASE WHEN ?1 >= 0 THEN ?1 ELSE again_days END * 86400000000 AS again_us FROM of WHERE passed "
    "GROUP BY title, person COLLATE NOCASE, drill, seat), sheet AS (SELECT p.person, p.title, c.drill, "
    "c.seat, coalesce(l.taken, 0) AS taken, b.score AS best, l.score AS last, l.began_us AS taken_us, "
    "r.began_us IS NOT NULL AS passed, coalesce(r.with_hints, 0) AS with_hints, r.began_us AS reached_us, "
    "CASE WHEN r.again_us > 0 THEN r.began_us + r.again_us END AS due_us FROM person p JOIN course c ON "
    "c.title = p.title LEFT JOIN last l ON l.title = p.title AND l.person = p.person COLLATE NOCASE AND "
    "l.drill = c.drill AND l.seat = c.seat LEFT JOIN best b ON b.title = p.title AND b.person = p.person "
    "COLLATE NOCASE AND b.drill = c.drill AND b.seat = c.seat LEFT JOIN reached r ON r.title = p.title AND "
    "r.person = p.person COLLATE NOCASE AND r.drill = c.drill AND r.seat = c.seat) SELECT person, title, "
    "drill, seat, taken, best, last, taken_us, passed, with_hints, reached_us, due_us, coalesce(due_us <= "
    "?2, NOT passed), CASE WHEN passed THEN date(reached_us / 1000000, 'unixepoch', 'localtime') || CASE "
    "WHEN with_hints "
    "THEN ' h' ELSE '' END WHEN taken > 0 THEN 'not yet' ELSE 'not taken' END, CASE WHEN NOT passed THEN "
    "'now' WHEN due_us IS NULL THEN 'never' WHEN due_us <= ?2 THEN 'now' ELSE date(due_us / 1000000, "
    "'unixepoch', 'localtime') END FROM sheet ORDER BY person COLLATE NOCASE, title, drill, seat",
    crew_columns, sizeof crew_columns / sizeof crew_columns[0]};

sm_result sm_logbook_crew(sm_logbook *logbook, int64_t again_days, sm_unix_us now_us, bool json,
                          sm_text *out) {
    const sm_bind binds[] = {{.number = again_days}, {.number = now_us}};
    size_t rows;
    if (!json)
        sm_text_printf(out, "Practice on a simulator, not a licence. h: with hints.\n");
    sm_result result = sm_query_print(&logbook->store, &crew_query, binds, 2, json, out, &rows);
    if (result == SM_OK && rows == 0 && !json)
        sm_text_printf(out, "no drill is kept here under a name: take it with --crew NAME\n");
    return sm_query_done(&logbook->store, out, result);
}

// ---- progress -------------------------------------------------------------------------------

// One mark in one attempt; of the score itself KIND is "score".
typedef struct point {
    const char *title, *drill, *seat, *kind, *name, *how;
    sm_unix_us when_us;
    int64_t number; // of the rehearsal, 0: it was pruned
    int32_t marks, got;
    bool decided, passed, with_hints;
    sm_us took_us, within_us; // SM_UNSET_US where there is none
} point;

static sm_us us_of(sqlite3_stmt *s, int column) {
    return sqlite3_column_type(s, column) == SQLITE_NULL ? SM_UNSET_US : sqlite3_column_int64(s, column);
}

static void read_point(sm_query_reader *r, sqlite3_stmt *s, void *row) {
    *(point *)row = (point){.title = sm_query_keep(r, s, 0),
                            .drill = sm_query_keep(r, s, 1),
                            .seat = sm_query_keep(r, s, 2),
                            .kind = sm_query_keep(r, s, 3),
                            .name = sm_query_keep(r, s, 4),
                            .how = sm_query_keep(r, s, 5),
                            .when_us = sqlite3_column_int64(s, 6),
                            .number = sqlite3_column_int64(s, 7),
                            .marks = sqlite3_column_int(s, 8),
                            .got = sqlite3_column_int(s, 9),
                            .decided = sqlite3_column_int(s, 10) != 0,
                            .took_us = us_of(s, 11),
                            .within_us = us_of(s, 12),
                            .passed = sqlite3_column_int(s, 13) != 0,
                            .with_hints = sqlite3_column_int(s, 14) != 0};
}

// Drill by drill: the score of each attempt, oldest first; then mark by mark, in the order of the newest file, the same.
static const char points[] = SM_ATTEMPTS
    ", mine AS (SELECT a.*, coalesce((SELECT id FROM rehearsal WHERE token = a.token), 0) AS number FROM "
    "attempts a WHERE person = trim(?1) COLLATE NOCASE AND " SM_ATTEMPT_COUNTS
    "), point AS (SELECT title, drill, seat, 'score' AS kind, '' AS name, how, began_us, number, 100 AS "
    "marks, score AS got, 1 AS decided, NULL AS took_us, NULL AS within_us, passed, with_hints, -1 AS n FROM "
    "mine UNION ALL SELECT a.title, a.drill, a.seat, m.kind, m.name, a.how, a.began_us, a.number, m.marks, "
    "m.got, m.decided, m.took_us, m.within_us, a.passed, a.with_hints, (SELECT min(n) FROM attempt_mark f "
    "WHERE f.token = m.token AND f.kind = m.kind AND f.name = m.name) FROM mine a JOIN attempt_mark m ON "
    "m.token = a.token AND " SM_ATTEMPT_LAST_MARK(
        "m") "), placed AS (SELECT title, drill, seat, kind, name, "
             "max(began_us), n AS place FROM point GROUP BY title, drill, seat, kind, name) SELECT p.title, "
             "p.drill, "
             "p.seat, p.kind, p.name, p.how, p.began_us, p.number, p.marks, p.got, p.decided, p.took_us, "
             "p.within_us, "
             "p.passed, p.with_hints FROM point p JOIN placed o USING (title, drill, seat, kind, name) ORDER "
             "BY "
             "p.title, p.drill, p.seat, o.place, p.kind, p.name, p.began_us";

#define PLOT_COLUMNS 24

static bool same_drill(const point *a, const point *b) {
    return strcmp(a->title, b->title) == 0 && strcmp(a->drill, b->drill) == 0 &&
           strcmp(a->seat, b->seat) == 0;
}

static bool same_mark(const point *a, const point *b) {
    return same_drill(a, b) && strcmp(a->kind, b->kind) == 0 && strcmp(a->name, b->name) == 0;
}

// A bar as long as the time is of the LONGEST, at least one stroke.
static void put_bar(sm_text *out, sm_us took_us, sm_us longest_us) {
    int strokes = longest_us > 0 ? (int)((took_us * PLOT_COLUMNS + longest_us / 2) / longest_us) : 0;
    sm_text_printf(out, "  %7.2f s |", (double)took_us / 1e6);
    for (int i = 0; i < (strokes > 0 ? strokes : 1); i++)
        sm_text_append(out, "=", 1);
}

static void put_point(sm_text *out, const point *p, sm_us longest_us) {
    char when[24];
    bool is_score = strcmp(p->kind, "score") == 0;
    bool loses = strcmp(p->kind, "never") == 0 || strcmp(p->kind, "rule") == 0;
    sm_walk_when_format(when, p->when_us);
    sm_text_printf(out, "    no %-5lld %.10s  ", (long long)p->number, when);
    if (!p->decided)
        sm_text_printf(out, "not decided");
    else if (loses)
        sm_text_printf(out, "%4d", p->got);
    else
        sm_text_printf(out, "%4d of %3d", p->got, p->marks);
    if (p->took_us != SM_UNSET_US)
        put_bar(out, p->took_us, longest_us);
    if (is_score && strcmp(p->how, SM_ATTEMPT_OVER) != 0)
        sm_text_printf(out, "  %s", strcmp(p->how, SM_ATTEMPT_LEFT) == 0 ? "left before its end" : "cut off");
    if (is_score)
        sm_text_printf(out, "%s%s", p->passed ? "  mark reached" : "", p->with_hints ? ", with hints" : "");
    sm_text_append(out, "\n", 1);
}

static void put_head(sm_text *out, const point *p) {
    sm_text_printf(out, "  %s%s%s", p->kind, p->name[0] != '\0' ? " " : "", p->name);
    if (p->within_us != SM_UNSET_US)
        sm_text_printf(out, ", all marks within %.2f s", (double)p->within_us / 1e6);
    sm_text_append(out, "\n", 1);
}

// What was never lost is no progress: nevers and rules only once they were broken.
static bool is_told(const point *p, size_t count) {
    bool any = strcmp(p->kind, "never") != 0;
    for (size_t i = 0; i < count; i++)
        any = any || p[i].got < 0;
    return any;
}

static void put_for_people(sm_text *out, const point *all, size_t count) {
    size_t end;
    for (size_t i = 0; i < count; i = end) {
        sm_us longest_us = 0;
        for (end = i; end < count && same_mark(&all[end], &all[i]); end++)
            if (all[end].took_us != SM_UNSET_US && all[end].took_us > longest_us)
                longest_us = all[end].took_us;
        if (i == 0 || !same_drill(&all[i], &all[i - 1]))
            sm_text_printf(out, "%s%s as %s, of %s\n", i > 0 ? "\n" : "", all[i].drill, all[i].seat,
                           all[i].title);
        if (!is_told(&all[i], end - i))
            continue;
        put_head(out, &all[i]);
        for (size_t at = i; at < end; at++)
            put_point(out, &all[at], longest_us);
    }
}

static void put_json(sm_text *out, const point *p) {
    sm_json line = sm_json_line_open(out);
    sm_json_text(&line, "show", p->title);
    sm_json_text(&line, "drill", p->drill);
    sm_json_text(&line, "seat", p->seat);
    sm_json_text(&line, "kind", p->kind);
    sm_json_text(&line, "name", p->name);
    sm_json_integer(&line, "number", p->number);
    sm_json_seconds(&line, "when", p->when_us);
    sm_json_integer(&line, "marks", p->marks);
    sm_json_integer(&line, "got", p->got);
    sm_json_bool(&line, "decided", p->decided);
    sm_json_seconds(&line, "took", p->took_us);
    sm_json_text(&line, "how", p->how);
    sm_json_bool(&line, "passed", p->passed);
    sm_json_bool(&line, "with_hints", p->with_hints);
    sm_json_line_close(&line);
}

sm_result sm_logbook_progress(sm_logbook *logbook, const char *person, bool json, sm_text *out) {
    sm_query_reader r = {.store = &logbook->store, .arena = sm_arena_create()};
    sm_result result = r.arena
                           ? sm_query_read(&r, points, (sm_bind){.text = person}, sizeof(point), read_point)
                           : SM_NO_MEMORY;
    const point *all = r.rows;
    if (result == SM_OK && !json) {
        sm_text_printf(out, "Practice on a simulator, not a licence. Progress of %s, oldest first\n\n",
                       person);
        put_for_people(out, all, r.count);
        if (r.count == 0)
            sm_text_printf(out, "no drill of theirs is kept here; logbook crew lists who took which\n");
    }
    for (size_t i = 0; result == SM_OK && json && i < r.count; i++)
        put_json(out, &all[i]);
    sm_arena_destroy(r.arena);
    if (result == SM_NO_MEMORY)
        snprintf(logbook->store.why, sizeof logbook->store.why, "memory ran out");
    return sm_query_done(&logbook->store, out, result);
}
