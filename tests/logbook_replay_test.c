// SPDX-License-Identifier: GPL-3.0-or-later
// A replay finds whatever is not as it was kept, in any cell of any row, and says where; what was done in one instant keeps its order.
#include "support/folder.h"
#include "support/kept.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))

typedef struct book {
    char folder[64], path[256];
} book;

static const char script[] =
    "0 tick briefing yes by K\n0 arm\n0 call-clear K\n0 key on\n0 inhibit aerial\n0 arm\n1 start\n"
    "@0:02.5 pause\n+0.5 mark here\n+0 resume\n@0:06 seek 0:07.5\n@0:08 unplug B\n@0:10 safe\n"
    "+0 read A-01 3.20\n+0 rerig\n";

static void book_begin(book *b) {
    kept_begin(b->folder);
    folder_path(b->path, b->folder, "logbook.db");
    (void)kept_rehearse(b->folder, b->path, script, NULL);
    kept_assert_replays(b->path, 1);
}

// What the replay says when it differs; NULL when nothing does. The caller frees it.
static char *difference(const book *b) {
    sm_text said = {0};
    bool same = false;
    sm_logbook *logbook = kept_open(b->path);
    if (sm_logbook_replay(logbook, 1, false, &said, &same) != SM_OK)
        fail_msg("%s", sm_logbook_problem(logbook));
    sm_logbook_close(logbook);
    const char *line = strstr(sm_text_get(&said), "differs\nrow ");
    assert_int_equal(same, !line);
    char *copy = line ? strdup(line + strlen("differs\n")) : NULL;
    sm_text_deinit(&said);
    return copy;
}

static void expect_difference(const book *b, const char *begins, const char *says) {
    char *found = difference(b);
    if (!found || strncmp(found, begins, strlen(begins)) != 0 || !strstr(found, says))
        fail_msg("not \"%s ... %s\": %s", begins, says, found ? found : "nothing differs");
    free(found);
}

// ---- cells ---------------------------------------------------------------------------------------------

static const struct {
    const char *change, *back, *where;
} cells[] = {
    {"wall_us = wall_us + 1", "wall_us = wall_us - 1", "1"},
    {"wall_us = wall_us - 1", "wall_us = wall_us + 1", "1"},
    {"show_us = show_us + 1", "show_us = show_us - 1", "show_us IS NOT NULL"},
    {"show_us = 0", "show_us = NULL", "show_us IS NULL"},
    {"source = source || 'x'", "source = rtrim(source, 'x')", "1"},
    {"what = what || 'x'", "what = rtrim(what, 'x')", "1"},
    {"cue = cue || '9'", "cue = substr(cue, 1, length(cue) - 1)", "1"},
    {"target = target || 'x'", "target = rtrim(target, 'x')", "1"},
    {"detail = detail || 'x'", "detail = substr(detail, 1, length(detail) - 1)", "1"},
};

static void a_cell_that_was_changed_is_found(void **state) {
    (void)state;
    book b;
    char sql[300], begins[40];
    book_begin(&b);
    const long long rows = kept_number(b.path, "SELECT count(*) FROM row");
    assert_true(rows > 30);
    for (long long row = 1; row <= rows; row++) {
        snprintf(sql, sizeof sql, "SELECT n FROM row ORDER BY n LIMIT 1 OFFSET %lld", row - 1);
        const long long n = kept_number(b.path, sql);
        for (size_t c = 0; c < COUNT(cells); c++) {
            if (row > 4 && (size_t)row % COUNT(cells) != c) // of most rows one cell
                continue;
            snprintf(sql, sizeof sql, "SELECT count(*) FROM row WHERE n = %lld AND %s", n, cells[c].where);
            if (kept_number(b.path, sql) == 0)
                continue;
            snprintf(sql, sizeof sql, "UPDATE row SET %s WHERE n = %lld", cells[c].change, n);
            kept_exec(b.path, sql);
            snprintf(begins, sizeof begins, "row %lld: kept ", row);
            expect_difference(&b, begins, ", now ");
            snprintf(sql, sizeof sql, "UPDATE row SET %s WHERE n = %lld", cells[c].back, n);
            kept_exec(b.path, sql);
        }
    }
    // How late a row was issued is the machine's matter: when it was due is compared.
    kept_exec(b.path, "UPDATE row SET wall_us = wall_us + 5000, late_us = late_us + 5000 WHERE n % 3 = 0");
    kept_assert_replays(b.path, 1);
    kept_end(b.folder);
}

// ---- rows ----------------------------------------------------------------------------------------------

// A rehearsal that ended has all of its rows, one that was cut off its first ones.
static void rows_that_are_missing_or_too_many_are_found(void **state) {
    (void)state;
    book b;
    book_begin(&b);
    kept_exec(b.path, "INSERT INTO row(rehearsal, n, wall_us, source, what, cue, target, detail, late_us) "
                      "SELECT rehearsal, n + 1, "
                      "wall_us, 'script', 'note', '', 'one more', '', 0 FROM row ORDER BY n DESC LIMIT 1");
    expect_difference(&b, "row ", " note one more , now nothing more");
    kept_exec(b.path, "DELETE FROM row WHERE target = 'one more'");
    kept_assert_replays(b.path, 1);
    kept_exec(b.path, "DELETE FROM row WHERE n = (SELECT max(n) FROM row)");
    expect_difference(&b, "row ", "kept nothing more, now ");
    kept_exec(b.path, "UPDATE rehearsal SET ended_us = NULL");
    kept_assert_replays(b.path, 1);
    kept_exec(b.path, "DELETE FROM row WHERE n = (SELECT n FROM row ORDER BY n LIMIT 1 OFFSET 5)");
    expect_difference(&b, "row 6: kept ", ", now ");
    kept_end(b.folder);
}

// Earlier programs kept no rows of alerts; one that kept some kept all.
static void rows_of_alerts_are_all_there_or_none(void **state) {
    (void)state;
    book b;
    book_begin(&b);
    assert_true(kept_number(b.path, "SELECT count(*) FROM row WHERE what = 'alert'") > 1);
    kept_exec(b.path, "DELETE FROM row WHERE n = (SELECT min(n) FROM row WHERE what = 'alert')");
    expect_difference(&b, "row ", ", now ");
    kept_exec(b.path, "DELETE FROM row WHERE what = 'alert'");
    kept_assert_replays(b.path, 1);
    kept_end(b.folder);
}

// What cannot be told again, because the words of this program or of that show are others, is said with the row at which it came.
static void what_cannot_be_told_again_is_said(void **state) {
    (void)state;
    static const struct {
        const char *kind, *line, *detail, *why;
    } rows[] = {{"action", "dance", "", "no action 'dance'"},
                {"action", "read Z-01 open", "", "no slot 'Z-01'"},
                {"refuse", "dance", "x", "no action 'dance'"},
                {"event", "gust", "dance", "nothing that can happen is called 'dance'"}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        book b;
        char sql[300], begins[100];
        book_begin(&b);
        snprintf(sql, sizeof sql,
                 "UPDATE input SET kind = '%s', line = '%s', detail = '%s' WHERE n = (SELECT n FROM input "
                 "ORDER BY n LIMIT 1 "
                 "OFFSET 2)",
                 rows[i].kind, rows[i].line, rows[i].detail);
        kept_exec(b.path, sql);
        sm_text said = {0};
        bool same = true;
        sm_logbook *logbook = kept_open(b.path);
        assert_int_equal(sm_logbook_replay(logbook, 1, false, &said, &same), SM_OK);
        assert_false(same);
        snprintf(begins, sizeof begins, "cannot be told again: %s %s: %s", rows[i].kind, rows[i].line,
                 rows[i].why);
        if (!strstr(sm_text_get(&said), begins))
            fail_msg("no %s in %s", begins, sm_text_get(&said));
        sm_text_clear(&said);
        assert_int_equal(sm_logbook_replay(logbook, 1, true, &said, &same), SM_OK);
        assert_false(same);
        assert_non_null(
            strstr(sm_text_get(&said), "\"same\": false, \"differs\": \"what it was told at row "));
        sm_text_deinit(&said);
        sm_logbook_close(logbook);
        kept_end(b.folder);
    }
}

// ---- one instant -----------------------------------------------------------------------------------------

static void on_row(void *context, const sm_log_row *row) {
    sm_logbook_writer_row(context, row);
}

static void on_action(void *context, const sm_action *action, sm_source source, sm_wall_time at) {
    sm_logbook_writer_action(context, action, source, at);
}

static void act(const sm_show *show, sm_rehearsal *rehearsal, const char *line, sm_wall_time at) {
    sm_action action;
    char why[200];
    size_t column;
    assert_int_equal(sm_action_read(show, line, strlen(line), &action, why, &column), SM_OK);
    assert_int_equal(sm_rehearsal_act(rehearsal, &action, SM_SOURCE_CONSOLE, at), SM_OK);
}

// Made safe in the very microsecond in which the first cue fires: before it or behind it, as it was, so it is played again.
static void the_order_within_an_instant_is_kept(void **state) {
    (void)state;
    for (int fired_first = 0; fired_first < 2; fired_first++) {
        book b;
        char folder[256];
        kept_begin(b.folder);
        folder_path(b.path, b.folder, "logbook.db");
        sm_show *show = folder_load(folder_path(folder, b.folder, "show"));
        sm_logbook_load *load = NULL;
        sm_logbook_writer *writer = NULL;
        sm_rehearsal *rehearsal = NULL;
        assert_int_equal(sm_logbook_load_create(show, NULL, &(sm_walk_hash){""}, &load), SM_OK);
        const sm_logbook_start start = {.path = b.path, .mode = "headless", .fast = true};
        assert_int_equal(sm_logbook_writer_create(&start, load, &writer), SM_OK);
        const sm_rehearsal_options options = {.sink = on_row, .acted = on_action, .sink_context = writer};
        assert_int_equal(sm_rehearsal_create(show, &options, &rehearsal), SM_OK);
        sm_wall_time due = {0};
        act(show, rehearsal, "call-clear K", due);
        act(show, rehearsal, "key on", due);
        act(show, rehearsal, "arm", due);
        assert_true(sm_rehearsal_next_due(rehearsal, &due));
        assert_int_equal(sm_rehearsal_run(rehearsal, due), SM_OK);
        act(show, rehearsal, "start", due);
        due.us += show->settings.countdown_us + show->firings[0].fire_us;
        assert_int_equal(sm_rehearsal_run(rehearsal, (sm_wall_time){due.us - 1}), SM_OK);
        if (fired_first == 1)
            assert_int_equal(sm_rehearsal_run(rehearsal, due), SM_OK);
        act(show, rehearsal, "safe", due);
        sm_rehearsal_destroy(rehearsal);
        assert_true(sm_logbook_writer_close(writer, -1, NULL));
        assert_int_equal(kept_number(b.path, "SELECT count(*) FROM row WHERE what = 'fire'"), fired_first);
        kept_assert_replays(b.path, 1);
        sm_show_destroy(show);
        kept_end(b.folder);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cell_that_was_changed_is_found),
        cmocka_unit_test(rows_that_are_missing_or_too_many_are_found),
        cmocka_unit_test(rows_of_alerts_are_all_there_or_none),
        cmocka_unit_test(what_cannot_be_told_again_is_said),
        cmocka_unit_test(the_order_within_an_instant_is_kept),
    };
    return cmocka_run_group_tests_name("logbook replay", tests, NULL, NULL);
}
