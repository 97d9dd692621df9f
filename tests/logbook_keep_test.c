// SPDX-License-Identifier: GPL-3.0-or-later
// What the logbook keeps, shows, plays again, compares, carries elsewhere and forgets; schemas of earlier programs.
#include "logbook/store.h"
#include "support/folder.h"
#include "support/kept.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

typedef struct book {
    char folder[64], path[256];
} book;

static void book_begin(book *b) {
    kept_begin(b->folder);
    folder_path(b->path, b->folder, "data/slowmatch/logbook.db"); // its folders are made too
}

static void assert_says(const sm_text *said, const char *part) {
    if (!strstr(sm_text_get(said), part))
        fail_msg("\"%s\" is not in:\n%s", part, sm_text_get(said));
}

// Every kind of thing that a rehearsal can be told.
static const char busy_script[] =
    "0 tick briefing yes all there by K\n0 tick boats no\n0 undo\n0 wind 9 m/s\n0 arm\n"
    "0 call-clear K\n0 key on\n0 inhibit aerial\n0 arm\n0 reload\n1 start\n"
    "@0:02.500 pause\n+0.5 mark here\n+0 speed 0.5\n+0.5 resume\n@0:04 speed 2\n"
    "@0:06 seek 0:07.500\n@0:08 unplug B\n+0 remote 7 safe\n+0 enter Mo \"the lead\"\n"
    "@0:10 remote 1 safe\n+0 leave Mo \"the lead\"\n+0 read A-01 3.20\n+0 report B-04\n"
    "+0 rerig\n+0 reload\n+0 note done, and late\n+0 sign K\n";

static void a_rehearsal_is_kept_and_replays(void **state) {
    (void)state;
    book b;
    sm_text said = {0};
    book_begin(&b);
    unsigned rows = kept_rehearse(b.folder, b.path, NULL, NULL);
    unsigned busy = kept_rehearse(b.folder, b.path, busy_script, NULL);
    assert_int_equal(kept_number(b.path, "SELECT rows FROM rehearsal WHERE id = 1"), rows);
    assert_int_equal(kept_number(b.path, "SELECT count(*) FROM row WHERE rehearsal = 2"), busy);
    assert_int_equal(kept_number(b.path, "SELECT fired FROM rehearsal WHERE id = 1"), 8);
    assert_int_equal(kept_number(b.path, "SELECT count(*) FROM load"), 1); // the same show, kept once
    assert_int_equal(kept_number(b.path, "SELECT count(*) FROM rehearsal WHERE ended_us IS NOT NULL"), 2);
    kept_assert_whole(b.path);
    kept_assert_replays(b.path, 1);
    kept_assert_replays(b.path, 2);
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_list(logbook, false, &said), SM_OK);
    assert_says(&said, "REHEARSAL");
    assert_says(&said, "Small Show");
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_show(logbook, 2, true, &said), SM_OK);
    assert_says(&said, "\"what\": \"enter\", \"cue\": \"\", \"target\": \"Mo \\\"the lead\\\"\"");
    assert_int_equal(sm_logbook_show(logbook, 3, false, &said), SM_NOT_FOUND);
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(b.folder);
}

// The show was edited since: the replay needs nothing of the folder. A row that was tampered with is found.
static void a_replay_needs_the_logbook_alone(void **state) {
    (void)state;
    book b;
    sm_text said = {0};
    bool same = true;
    char show[256];
    book_begin(&b);
    kept_rehearse(b.folder, b.path, NULL, NULL);
    folder_write(folder_path(show, b.folder, "show"), "cues.csv", "time,target,do\n1,A-01,nothing\n");
    kept_assert_replays(b.path, 1);
    kept_exec(b.path, "UPDATE row SET detail = 'fountain' WHERE what = 'fire' AND target = 'B-01'");
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_replay(logbook, 1, false, &said, &same), SM_OK);
    assert_false(same);
    assert_says(&said, "fire B-01 fountain, now ");
    assert_says(&said, "fire B-01 comet");
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_exec(b.path, "UPDATE file SET bytes = x'00010203'");
    logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_replay(logbook, 1, false, &said, &same), SM_INVALID);
    assert_non_null(strstr(sm_logbook_problem(logbook), "its kept bytes are damaged"));
    sm_logbook_close(logbook);
    sm_text_deinit(&said);
    kept_end(b.folder);
}

static void a_rehearsal_cut_off_anywhere_replays(void **state) {
    (void)state;
    book b;
    book_begin(&b);
    unsigned rows = kept_rehearse(b.folder, b.path, busy_script, NULL);
    kept_exec(b.path, "UPDATE rehearsal SET ended_us = NULL");
    for (unsigned left = rows; left > 0; left--) {
        char sql[200];
        // As a kill leaves it: the rows up to one, and the actions that came before it.
        snprintf(
            sql, sizeof sql,
            "DELETE FROM row WHERE n >= %u; DELETE FROM input WHERE at_us > (SELECT max(wall_us - late_us) "
            "FROM row)",
            left);
        kept_exec(b.path, sql);
        kept_assert_replays(b.path, 1);
    }
    kept_end(b.folder);
}

static void a_reload_is_kept_with_its_show(void **state) {
    (void)state;
    book b;
    char show[256];
    book_begin(&b);
    folder_path(show, b.folder, "show");
    char command[700], script[256];
    folder_write(b.folder, "script", "0 reload\n0 call-clear K\n0 key on\n0 arm\n+2 start\n");
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(command, sizeof command,
             "%s/slowmatch '%s' --fast --headless --script '%s' --logbook '%s' >/dev/null",
             build ? build : "build", show, folder_path(script, b.folder, "script"), b.path);
    assert_int_equal(system(command), 0);
    kept_assert_replays(b.path, 1);
    assert_int_equal(kept_number(b.path, "SELECT count(*) FROM input WHERE kind = 'load'"), 1);
    kept_end(b.folder);
}

// ---- compare ---------------------------------------------------------------------------

static void what_differed_is_told(void **state) {
    (void)state;
    book b;
    sm_text said = {0};
    bool same = false;
    char show[256];
    book_begin(&b);
    folder_path(show, b.folder, "show");
    kept_rehearse(b.folder, b.path, NULL, NULL);
    kept_rehearse(b.folder, b.path, NULL, NULL);
    folder_edit(show, "cues.csv", "8,A-04,comet", "8,A-04,fountain");
    folder_write(show, "readings.csv", "rail,slot,reading,when,by\nB,2,open,2026-07-04T20:15Z,K\n");
    kept_rehearse(b.folder, b.path, NULL, NULL);
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_compare(logbook, 1, 2, false, &said, &same), SM_OK);
    assert_true(same);
    assert_says(&said, "nothing differs but lateness\n");
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_compare(logbook, 1, 3, false, &said, &same), SM_OK);
    assert_false(same);
    assert_says(&said, "cues.csv");
    assert_says(&said, "readings.csv");
    assert_says(&said, "B-02 fountain open");
    sm_text_clear(&said);
    same = true;
    assert_int_equal(sm_logbook_compare(logbook, 1, 3, true, &said, &same), SM_OK);
    assert_false(same);
    assert_says(&said, "{\"differs\": \"file\", \"what\": \"readings.csv\", \"first\": null, \"second\": \"");
    assert_says(
        &said, "{\"differs\": \"misfire\", \"what\": \"B-02 fountain open\", \"first\": 0, \"second\": 1}\n");
    assert_null(strstr(sm_text_get(&said), "REHEARSALS"));
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_compare(logbook, 1, 2, true, &said, &same), SM_OK);
    assert_true(same);
    assert_null(strstr(sm_text_get(&said), "nothing differs")); // no line of JSON
    assert_int_equal(sm_logbook_compare(logbook, 1, 9, false, &said, &same), SM_NOT_FOUND);
    assert_int_equal(sm_logbook_compare(logbook, 9, 1, false, &said, &same), SM_NOT_FOUND);
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(b.folder);
}

static void readings_are_told_over_time(void **state) {
    (void)state;
    book b;
    sm_text said = {0};
    char show[256];
    book_begin(&b);
    folder_path(show, b.folder, "show");
    folder_write(show, "readings.csv",
                 "rail,slot,reading,when,by\nA,1,2.90,2026-07-03T18:00Z,K\nA,1,3.30,2026-07-04T18:00Z,M\n");
    kept_rehearse(b.folder, b.path, NULL, NULL);
    kept_rehearse(b.folder, b.path, "0 read A-01 open\n", NULL); // the file's rows are there already
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_readings(logbook, "Small Show", "A-01", true, &said), SM_OK);
    const char *first = strstr(said.bytes, "\"ohms\": 2.9"), *second = strstr(said.bytes, "\"ohms\": 3.3");
    assert_true(first && second && first < second);
    assert_says(&said, "\"before\": 2.9}\n");
    assert_int_equal(kept_number(b.path, "SELECT count(*) FROM reading"), 3);
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_readings(logbook, "Another Show", NULL, false, &said), SM_OK);
    assert_says(&said, "no reading of it is kept here");
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(b.folder);
}

// ---- walks and crew -----------------------------------------------------------------------

static void walks_of_rehearsals_come_back(void **state) {
    (void)state;
    book b;
    book_begin(&b);
    kept_rehearse(b.folder, b.path, busy_script, NULL);
    sm_arena *texts = sm_arena_create();
    sm_logbook *logbook = kept_open(b.path);
    sm_walk_past past;
    assert_int_equal(sm_logbook_walk_past(logbook, "Small Show", texts, &past), SM_OK);
    assert_int_equal(past.tick_count, 1); // the other one was taken back
    assert_string_equal(past.ticks[0].item, "briefing");
    assert_string_equal(past.ticks[0].by, "K");
    assert_int_equal(past.ticks[0].when_us, INT64_C(1780000000) * SM_US_PER_S);
    assert_int_equal(past.sign_count, 1);
    assert_string_equal(past.signs[0].who, "K");
    assert_int_equal(strlen(past.signs[0].content.hex), 64);
    static const char *const changes[] = {"wind 9 m/s, over the limit", "rail B unplugged",
                                          "Mo \"the lead\" went in", "new reading of A-01"};
    assert_int_equal(past.change_count, 4);
    for (size_t i = 0; i < 4; i++)
        assert_string_equal(past.changes[i].what, changes[i]);
    const sm_walk_tick later = {"told", SM_WALK_NO, "", "not yet", "M", INT64_C(1780000100) * SM_US_PER_S,
                                {"ab"}};
    const sm_walk_past given = {.ticks = &later, .tick_count = 1};
    assert_int_equal(sm_logbook_keep_walk(logbook, "Small Show", &given), SM_OK);
    assert_int_equal(sm_logbook_walk_past(logbook, "Small Show", texts, &past), SM_OK);
    assert_int_equal(past.tick_count, 2);
    assert_string_equal(past.ticks[1].note, "not yet");
    assert_string_equal(past.ticks[1].hash.hex, "ab");
    assert_int_equal(sm_logbook_walk_past(logbook, "Another Show", texts, &past), SM_OK);
    assert_int_equal(past.tick_count + past.sign_count + past.change_count, 0);
    sm_logbook_close(logbook);
    sm_arena_destroy(texts);
    kept_end(b.folder);
}

// A logbook as the program that knew VERSION steps left it, with a rehearsal where that could be.
static void make_earlier(const char *path, size_t version) {
    for (size_t i = 0; i < version; i++)
        kept_exec(path, sm_store_steps[i]);
    if (version > 0)
        kept_exec(
            path,
            "INSERT INTO load(hash, title, content, length_us) VALUES ('h', 'Old Show', 'c', 5);"
            "INSERT INTO rehearsal(token, load, began_us, mode, flags) VALUES ('t', 1, 7, 'headless', '');"
            "INSERT INTO row VALUES (1, 0, 0, NULL, 'engine', 'state', '', 'ended', 'running', 0)");
    if (version >= 3)
        kept_exec(path, "INSERT INTO drill(token, person, drill, title, taken_us, score, passed, with_hints, "
                        "marks) VALUES ('d', 'Mo', 'first-arming', 'Old Show', 5, 90, 1, 0, '')");
    if (version >= 5)
        kept_exec(path, "INSERT INTO debrief VALUES (1, 'Old head', 'Old tail', 0);"
                        "INSERT INTO drill_step VALUES (1, 0, 4000000, 'action', 'key', 'key on', NULL, "
                        "NULL, 'safe', 1)");
    char sql[48];
    snprintf(sql, sizeof sql, "PRAGMA user_version = %zu", version);
    kept_exec(path, sql);
}

// ---- elsewhere ---------------------------------------------------------------------------------

static void exports_come_in_once_and_replay(void **state) {
    (void)state;
    book b;
    char other[256], file[256], why[400];
    int64_t count = 0;
    book_begin(&b);
    folder_path(other, b.folder, "other.db");
    folder_path(file, b.folder, "carried");
    kept_rehearse(b.folder, b.path, NULL, NULL);
    kept_rehearse(b.folder, b.path, busy_script, NULL);
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_export(logbook, 0, file, &count), SM_OK);
    assert_int_equal(count, 2);
    assert_int_equal(sm_logbook_export(logbook, 0, file, &count), SM_UNREADABLE); // no file is written over
    sm_logbook_close(logbook);
    assert_int_equal(sm_logbook_open(other, true, why, &logbook), SM_OK);
    assert_int_equal(sm_logbook_import(logbook, file, &count), SM_OK);
    assert_int_equal(count, 2);
    assert_int_equal(sm_logbook_import(logbook, file, &count), SM_OK);
    assert_int_equal(count, 0);
    sm_logbook_close(logbook);
    kept_assert_whole(other);
    kept_assert_replays(other, 1);
    kept_assert_replays(other, 2);
    static const char *const tables[] = {"row",         "input", "reading", "walk_tick", "walk_sign",
                                         "walk_change", "file",  "load",    "member",    "walk_void"};
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        char sql[64];
        snprintf(sql, sizeof sql, "SELECT count(*) FROM %s", tables[i]);
        assert_int_equal(kept_number(other, sql), kept_number(b.path, sql));
    }
    kept_end(b.folder);
}

// Of what came together from two places, in whatever order and however often, the same is kept.
static void logbooks_come_together(void **state) {
    (void)state;
    book b;
    char other[256], file[256], why[400];
    int64_t count = 0;
    sm_logbook *logbook = NULL;
    book_begin(&b);
    folder_path(other, b.folder, "other.db");
    folder_path(file, b.folder, "carried");
    kept_rehearse(b.folder, b.path, busy_script, NULL);
    kept_rehearse(b.folder, other, NULL, NULL);
    kept_rehearse(b.folder, other, busy_script, NULL);
    logbook = kept_open(other);
    assert_int_equal(sm_logbook_import(logbook, b.path, &count),
                     SM_OK); // a logbook as it is, not closed down by anybody
    assert_int_equal(count, 1);
    assert_int_equal(sm_logbook_export(logbook, 2, file, &count), SM_OK);
    assert_int_equal(count, 1);
    sm_logbook_close(logbook);
    assert_int_equal(kept_number(other, "SELECT count(*) FROM rehearsal"), 3);
    assert_int_equal(kept_number(other, "SELECT count(*) FROM walk_tick"),
                     2); // of each busy one; one was taken back
    kept_assert_replays(other, 3);
    assert_int_equal(kept_number(file, "SELECT count(*) FROM rehearsal"), 1);
    assert_int_equal(kept_number(file, "SELECT count(*) FROM row"),
                     kept_number(other, "SELECT count(*) FROM row WHERE rehearsal = 2"));
    assert_int_equal(kept_number(file, "SELECT rows FROM rehearsal"),
                     kept_number(file, "SELECT count(*) FROM row"));
    // The answer comes in from a file whose writer never heard that it was taken back.
    kept_exec(
        file,
        "DELETE FROM walk_untick; INSERT INTO walk_tick(token, n, title, item, answer, value, note, "
        "person, given_us, hash) SELECT token, 1, title, 'boats', 'no', '', '', '', 0, hash FROM walk_tick "
        "WHERE token = (SELECT token FROM rehearsal)");
    assert_int_equal(kept_number(file, "SELECT count(*) FROM walk_tick WHERE item = 'boats'"), 1);
    logbook = kept_open(other);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(sm_logbook_import(logbook, file, &count), SM_OK);
        assert_int_equal(count, 0);
    }
    sm_logbook_close(logbook);
    assert_int_equal(kept_number(other, "SELECT count(*) FROM walk_tick"), 2);
    kept_assert_whole(other);
    for (size_t version = 1; version < sm_store_version(); version++) { // of earlier programs
        char earlier[300];
        snprintf(earlier, sizeof earlier, "%s/earlier-%zu", b.folder, version);
        make_earlier(earlier, version);
        folder_path(file, b.folder, "fresh.db");
        assert_int_equal(sm_logbook_open(file, true, why, &logbook), SM_OK);
        assert_int_equal(sm_logbook_import(logbook, earlier, &count), SM_OK);
        sm_logbook_close(logbook);
        assert_int_equal(count, version == 1);
        assert_int_equal(kept_number(earlier, "PRAGMA user_version"), version); // only read
        assert_int_equal(kept_number(file, "SELECT rows FROM rehearsal WHERE state = 'ended'"), 1);
    }
    kept_end(b.folder);
}

static void a_broken_export_changes_nothing(void **state) {
    (void)state;
    book b;
    char file[256], *bytes;
    size_t length;
    int64_t count = 0;
    book_begin(&b);
    folder_path(file, b.folder, "carried");
    kept_rehearse(b.folder, b.path, NULL, NULL);
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_export(logbook, 1, file, &count), SM_OK);
    assert_int_equal(sm_file_read(file, &bytes, &length), SM_OK);
    for (size_t cut = 1; cut < length; cut += cut < 10 ? 1 : 1021) {
        unlink(file);
        FILE *rest = fopen(file, "w");
        assert_non_null(rest);
        assert_int_equal(fwrite(bytes, 1, length - cut, rest), length - cut);
        assert_int_equal(fclose(rest), 0);
        if (sm_logbook_import(logbook, file, &count) != SM_UNREADABLE)
            fail_msg("an export without its last %zu bytes was taken in", cut);
        assert_non_null(strstr(sm_logbook_problem(logbook), "no whole export"));
    }
    free(bytes);
    folder_write(b.folder, "carried", "this is no database, whatever its name says");
    assert_int_equal(sm_logbook_import(logbook, file, &count), SM_UNREADABLE);
    assert_non_null(strstr(sm_logbook_problem(logbook), "no whole export"));
    folder_write(b.folder, "carried", "");
    assert_int_equal(sm_logbook_import(logbook, file, &count), SM_UNREADABLE);
    assert_int_equal(sm_logbook_import(logbook, b.folder, &count), SM_UNREADABLE);
    assert_int_equal(sm_logbook_import(logbook, b.path, &count), SM_OK); // itself
    assert_int_equal(count, 0);
    sm_logbook_close(logbook);
    kept_assert_whole(b.path);
    kept_end(b.folder);
}

static void pruning_forgets_rehearsals_and_their_shows_alone(void **state) {
    (void)state;
    book b;
    char show[256];
    int64_t count = 0;
    book_begin(&b);
    kept_rehearse(b.folder, b.path, busy_script, NULL);
    folder_edit(folder_path(show, b.folder, "show"), "cues.csv", "8,A-04,comet", "8,A-04,fountain");
    kept_rehearse(b.folder, b.path, NULL, NULL);
    kept_exec(b.path, "UPDATE rehearsal SET began_us = began_us - 1 WHERE id = 1");
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_prune(logbook, INT64_C(1780000000) * SM_US_PER_S, &count), SM_OK);
    sm_logbook_close(logbook);
    assert_int_equal(count, 1);
    assert_int_equal(kept_number(b.path, "SELECT count(*) FROM row WHERE rehearsal = 1"), 0);
    assert_int_equal(kept_number(b.path, "SELECT count(*) FROM load"), 1);
    assert_int_equal(kept_number(b.path, "SELECT count(*) FROM walk_tick"), 1);
    kept_assert_whole(b.path);
    kept_assert_replays(b.path, 2);
    kept_end(b.folder);
}

// ---- schemas ----------------------------------------------------------------------------------

// Steps and debrief of rehearsal 1, as make_earlier put them in where there was room for them.
static void expect_old_steps(const char *path, size_t version) {
    sm_text steps = {0}, debrief = {0};
    sm_logbook *logbook = kept_open(path);
    sm_result told = sm_logbook_steps(logbook, 1, 80, true, &steps);
    sm_result read = sm_logbook_debrief(logbook, 1, 80, true, &debrief);
    sm_logbook_close(logbook);
    assert_int_equal(told, version > 0 ? SM_OK : SM_NOT_FOUND);
    assert_int_equal(read, version >= 5 ? SM_OK : SM_NOT_FOUND);
    const char *step =
        "{\"at\": 4.000000, \"kind\": \"action\", \"name\": \"key\", \"text\": \"key on\", \"within\": null, "
        "\"took\": null, \"late\": null, \"state\": \"safe\", \"key\": true}\n";
    assert_string_equal(sm_text_get(&steps), version >= 5 ? step : "");
    if (version >= 5)
        assert_non_null(strstr(sm_text_get(&debrief), "\"head\": \"Old head\", \"tail\": \"Old tail\""));
    sm_text_deinit(&steps);
    sm_text_deinit(&debrief);
}

static void every_earlier_schema_is_brought_up_to_date(void **state) {
    (void)state;
    book b;
    char fresh[256], sql[700], why[400];
    kept_begin(b.folder);
    folder_path(fresh, b.folder, "fresh.db");
    sm_logbook *logbook = NULL;
    assert_int_equal(sm_logbook_open(fresh, true, why, &logbook), SM_OK);
    sm_logbook_close(logbook);
    assert_true(sm_store_version() >= 3);
    for (size_t version = 0; version <= sm_store_version(); version++) {
        snprintf(b.path, sizeof b.path, "%s/earlier-%zu.db", b.folder, version);
        make_earlier(b.path, version);
        sm_logbook_close(kept_open(b.path));
        assert_int_equal(kept_number(b.path, "PRAGMA user_version"), sm_store_version());
        // What was taken before there were seats was taken as lead.
        assert_int_equal(kept_number(b.path, "SELECT count(*) FROM drill WHERE seat = 'lead'"), version >= 3);
        snprintf(sql, sizeof sql,
                 "ATTACH '%s' AS fresh; CREATE TEMP TABLE differs AS SELECT type, name, sql FROM "
                 "main.sqlite_schema "
                 "EXCEPT SELECT type, name, sql FROM fresh.sqlite_schema; INSERT INTO differs SELECT type, "
                 "name, sql "
                 "FROM fresh.sqlite_schema EXCEPT SELECT type, name, sql FROM main.sqlite_schema; CREATE "
                 "TEMP TABLE "
                 "none(n CHECK (n = 0)); INSERT INTO none SELECT count(*) FROM differs",
                 fresh);
        kept_exec(b.path, sql);
        expect_old_steps(b.path, version);
        if (version > 0)
            assert_int_equal(kept_number(b.path, "SELECT rows FROM rehearsal WHERE state = 'ended'"), 1);
        kept_rehearse(b.folder, b.path, NULL, NULL);
        kept_assert_whole(b.path);
    }
    kept_end(b.folder);
}

static void a_newer_schema_is_left_alone(void **state) {
    (void)state;
    book b;
    char why[400];
    sm_logbook *logbook = NULL;
    kept_begin(b.folder);
    folder_path(b.path, b.folder, "newer.db");
    assert_int_equal(sm_logbook_open(b.path, false, why, &logbook), SM_NOT_FOUND);
    kept_exec(b.path, "PRAGMA user_version = 900");
    assert_int_equal(sm_logbook_open(b.path, true, why, &logbook), SM_UNREADABLE);
    assert_non_null(strstr(why, "made by a newer slowmatch"));
    assert_int_equal(kept_number(b.path, "PRAGMA user_version"), 900);
    kept_end(b.folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_rehearsal_is_kept_and_replays),
        cmocka_unit_test(a_replay_needs_the_logbook_alone),
        cmocka_unit_test(a_rehearsal_cut_off_anywhere_replays),
        cmocka_unit_test(a_reload_is_kept_with_its_show),
        cmocka_unit_test(what_differed_is_told),
        cmocka_unit_test(readings_are_told_over_time),
        cmocka_unit_test(walks_of_rehearsals_come_back),
        cmocka_unit_test(exports_come_in_once_and_replay),
        cmocka_unit_test(logbooks_come_together),
        cmocka_unit_test(a_broken_export_changes_nothing),
        cmocka_unit_test(pruning_forgets_rehearsals_and_their_shows_alone),
        cmocka_unit_test(every_earlier_schema_is_brought_up_to_date),
        cmocka_unit_test(a_newer_schema_is_left_alone),
    };
    return cmocka_run_group_tests_name("logbook", tests, NULL, NULL);
}
