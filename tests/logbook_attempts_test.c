// SPDX-License-Identifier: GPL-3.0-or-later
// Attempts at drills as the logbook keeps them: to their end, left, cut off by a kill; what is made of them.
#include "support/drill_play.h"
#include "support/folder.h"
#include "support/kept.h"

#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static const char drill_text[] =
    "[drill]\ntitle = Walker\npass = 60\nhints = asked\nagain = 30\nends = told\n"
    "[event dud]\nwhen = begin + 0.2 s\ndo = open A-01\n"
    "[event walker]\nwhen = begin + 1 s\ndo = person in-field\n"
    "[expect stop]\nafter = walker\naction = key off\nwithin = 5 s\nmarks = 50\n"
    "[expect told]\nafter = stop\naction = answer\nwords = outside\nwithin = 10 s\nmarks = 50\n"
    "[never notes]\naction = note\nmarks = 10\n";

#define BEGAN_US (INT64_C(1780000000) * SM_US_PER_S)
#define DAY_US (86400 * SM_US_PER_S)

typedef struct book {
    char folder[64], path[256], show_folder[256];
} book;

static void book_begin(book *b) {
    kept_begin(b->folder);
    folder_path(b->path, b->folder, "logbook.db");
    folder_path(b->show_folder, b->folder, "show");
}

typedef struct taker {
    sm_show *show;
    sm_drill *drill;
    sm_drill_run *run;
    sm_logbook_writer *writer;
} taker;

static void keep_row(void *context, const sm_log_row *row) {
    sm_logbook_writer_row(((taker *)context)->writer, row);
}

static void begin(taker *t, const book *b, const char *person) {
    sm_logbook_load *load = NULL;
    *t = (taker){.show = folder_load(b->show_folder)};
    t->drill = drill_play_read(t->show, drill_text);
    const sm_logbook_start start = {.path = b->path, .mode = "drill", .drill = true, .fast = true};
    assert_int_equal(sm_logbook_load_create(t->show, NULL, &(sm_walk_hash){""}, &load), SM_OK);
    assert_int_equal(sm_logbook_writer_create(&start, load, &t->writer), SM_OK);
    const sm_drill_options options = {.crew = person, .sink = keep_row, .sink_context = t};
    assert_int_equal(sm_drill_run_create(t->drill, &options, &t->run), SM_OK);
}

static void act(taker *t, double seconds, sm_source source, const char *line) {
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(t->show, line, strlen(line), &action, why, &at), SM_OK);
    sm_result result = sm_drill_act(t->run, &action, source, (sm_wall_time){(sm_us)(seconds * 1e6)});
    assert_true(result == SM_OK || result == SM_REFUSED);
    assert_int_equal(sm_drill_run_to(t->run, (sm_wall_time){(sm_us)(seconds * 1e6)}), SM_OK);
    sm_logbook_writer_attempt(t->writer, t->run);
}

static void begin_with_key(taker *t, const book *b, const char *person) {
    begin(t, b, person);
    act(t, 0.1, SM_SOURCE_SCRIPT, "key on");
}

static void end(taker *t) {
    assert_true(sm_logbook_writer_close(t->writer, -1, NULL));
    sm_drill_run_destroy(t->run);
    sm_drill_destroy(t->drill);
    sm_show_destroy(t->show);
}

// PERSON has the key on, takes it out at STOP seconds, says at TOLD (0: not) where they are, and leaves.
static void take(const book *b, const char *person, double stop, double told) {
    taker t;
    begin_with_key(&t, b, person);
    act(&t, stop, SM_SOURCE_SCRIPT, "key off");
    if (told > 0)
        act(&t, told, SM_SOURCE_SCRIPT, "answer all outside");
    assert_int_equal(sm_drill_finish(t.run, (sm_wall_time){20 * SM_US_PER_S}), SM_OK);
    sm_logbook_writer_attempt(t.writer, t.run);
    end(&t);
}

// Attempt N, from 1 on, was N days after BEGAN_US.
static void set_days(const book *b) {
    char sql[200];
    snprintf(sql, sizeof sql,
             "UPDATE attempt SET began_us = %lld + %lld * (SELECT count(*) FROM attempt o WHERE "
             "o.rowid <= attempt.rowid)",
             (long long)BEGAN_US, (long long)DAY_US);
    kept_exec(b->path, sql);
}

static void assert_says(const sm_text *said, const char *expected) {
    if (!strstr(sm_text_get(said), expected))
        fail_msg("no \"%s\" in:\n%s", expected, sm_text_get(said));
}

// ---- kept ------------------------------------------------------------------------------------

// To its end; left; cut off; broken off.
static void take_four_ways(const book *b) {
    taker t;
    take(b, "Kim", 2, 3);
    take(b, " kim", 3.5, 0);
    begin_with_key(&t, b, ""); // cut off: nothing is told any more
    act(&t, 2, SM_SOURCE_SCRIPT, "key off");
    end(&t);
    kept_exec(b->path, "UPDATE rehearsal SET ended_us = NULL WHERE id = 3");
    begin_with_key(&t, b, "Mo");
    act(&t, 2, SM_SOURCE_SCRIPT, "hint");
    const sm_action hint = {.act = SM_ACT_HINT, .detail = "look at the field"}; // as the drill words it
    sm_logbook_writer_action(t.writer, &hint, SM_SOURCE_SCRIPT, (sm_wall_time){2 * SM_US_PER_S});
    assert_int_equal(sm_drill_no_drill(t.run, (sm_wall_time){3 * SM_US_PER_S}), SM_OK);
    sm_logbook_writer_attempt(t.writer, t.run);
    sm_debrief *debrief;
    assert_int_equal(sm_debrief_create(t.run, &debrief), SM_OK);
    sm_logbook_writer_debrief(t.writer, debrief);
    sm_debrief_destroy(debrief);
    end(&t);
}

static void expect_rows_as_told(const book *b) {
    // A mark is written again when it has changed, and not else.
    assert_int_equal(
        kept_number(b->path, "SELECT count(*) FROM attempt_mark a JOIN attempt_mark b USING (token, kind, "
                             "name, got, computed, decided) WHERE a.n < b.n"),
        0);
    assert_int_equal(
        kept_number(b->path,
                    "SELECT count(*) FROM attempt_score a JOIN attempt_score b USING (token, how, score, "
                    "passed, with_hints) WHERE a.n < b.n"),
        0);
    assert_int_equal(kept_number(b->path, "SELECT count(*) FROM attempt_mark WHERE reason IS NOT NULL"), 0);
    // All three marks of three attempts are there, and of the one that was cut off the one that had fallen.
    assert_int_equal(kept_number(b->path,
                                 "SELECT count(DISTINCT token || name) FROM attempt_mark WHERE name IN "
                                 "('stop', 'told', 'notes')"),
                     10);
}

static void an_attempt_is_kept_however_it_ends(void **state) {
    (void)state;
    book b;
    sm_text said = {0};
    book_begin(&b);
    take_four_ways(&b);
    kept_assert_whole(b.path);
    assert_int_equal(
        kept_number(b.path,
                    "SELECT count(*) FROM input WHERE line = 'hint' AND detail = 'look at the field'"),
        1);
    expect_rows_as_told(&b);
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_list(logbook, false, &said), SM_OK);
    assert_says(&said, "test as lead by Kim: 100 of 100, mark reached\n");
    assert_says(&said, "test as lead by kim: 50 of 100, left before its end\n");
    assert_says(&said, "test as lead: 50 of 100 so far, not ended here\n");
    assert_says(&said, "test as lead by Mo: NO DRILL, no score, with hints\n");
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_debrief(logbook, 4, 80, true, &said), SM_OK);
    assert_says(&said, "\"broken_off\": true");
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_list(logbook, true, &said), SM_OK);
    assert_says(
        &said, "\"drill\": \"test\", \"seat\": \"lead\", \"person\": \"\", \"score\": 50, \"passed\": false, "
               "\"with_hints\": false, \"how\": \"so far\", \"file\": null, \"by\": null}");
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(b.folder);
}

// What was computed stays beside what the instructor says, also once the drill is over.
static void a_mark_overruled_after_the_score_is_kept_beside_it(void **state) {
    (void)state;
    book b;
    taker t;
    sm_text said = {0};
    book_begin(&b);
    begin_with_key(&t, &b, "Kim");
    act(&t, 14, SM_SOURCE_SCRIPT, "key off");
    act(&t, 15, SM_SOURCE_SCRIPT, "answer outside");
    assert_true(sm_drill_is_over(t.run));
    act(&t, 16, SM_SOURCE_INSTRUCTOR, "judge stop yes the radio was dead");
    end(&t);
    assert_int_equal(kept_number(b.path,
                                 "SELECT count(*) FROM attempt_mark WHERE name = 'stop' AND computed = 0 AND "
                                 "got = 50 AND reason = 'the radio was dead'"),
                     1);
    assert_int_equal(kept_number(b.path,
                                 "SELECT group_concat(score, '') FROM (SELECT score FROM attempt_score WHERE "
                                 "how = 'over' ORDER BY n)"),
                     50100); // 50, then 100
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_list(logbook, false, &said), SM_OK);
    assert_says(&said, "100 of 100, mark reached, marks overruled\n");
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(b.folder);
}

// ---- what is made of them ----------------------------------------------------------------------

static void progress_goes_mark_by_mark(void **state) {
    (void)state;
    book b;
    sm_text said = {0};
    book_begin(&b);
    take(&b, "Kim", 3.5, 0);
    take(&b, "KIM ", 2, 3);
    take(&b, "Mo", 2, 3);
    set_days(&b);
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_progress(logbook, "kim", false, &said), SM_OK);
    assert_says(&said, "not a licence");
    assert_says(&said, "test as lead, of Small Show\n  score\n    no 1 ");
    assert_says(&said, "    50 of 100  left before its end\n");
    assert_says(&said, "   100 of 100  mark reached\n");
    // 24 columns for the longest, 2.5 s; 1 s has 9.6 of them.
    assert_says(&said, "  expect stop, all marks within 5.00 s\n");
    assert_says(&said, "    50 of  50     2.50 s |========================\n");
    assert_says(&said, "    50 of  50     1.00 s |==========\n");
    assert_says(&said, "  expect told, all marks within 10.00 s\n");
    assert_null(strstr(said.bytes, "never")); // never broken
    assert_null(strstr(said.bytes, "no 3"));  // Mo's
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_progress(logbook, "kim", true, &said), SM_OK);
    assert_says(&said, "\"kind\": \"expect\", \"name\": \"stop\", \"number\": 2, ");
    assert_says(&said, "\"got\": 50, \"decided\": true, \"took\": 1.000000, \"how\": \"over\"");
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_progress(logbook, "Bo", false, &said), SM_OK);
    assert_says(&said, "no drill of theirs is kept here");
    sm_text_clear(&said);
    kept_exec(b.path, "ALTER TABLE attempt_score RENAME TO elsewhere");
    assert_int_equal(sm_logbook_progress(logbook, "Kim", false, &said), SM_UNREADABLE);
    assert_int_equal(said.length, 0); // no head over nothing
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(b.folder);
}

static void the_crews_sheet_says_who_has_reached_what_and_when_it_is_due_again(void **state) {
    (void)state;
    book b;
    sm_text said = {0};
    book_begin(&b);
    take(&b, "Kim", 2, 3);   // one day after the beginning
    take(&b, " kim", 14, 0); // late: worse, a day later
    take(&b, "Mo", 14, 0);
    set_days(&b);
    sm_logbook *logbook = kept_open(b.path);
    const sm_logbook_drill earlier = {.person = "Ana",
                                      .drill = "other",
                                      .title = "Small Show",
                                      .when_us = BEGAN_US,
                                      .score = 90,
                                      .passed = true,
                                      .with_hints = true,
                                      .marks = ""};
    assert_int_equal(sm_logbook_keep_drill(logbook, &earlier), SM_OK);
    const sm_unix_us due = BEGAN_US + 31 * DAY_US; // 30 days, by the drill's file
    assert_int_equal(sm_logbook_crew(logbook, -1, due - 1, true, &said), SM_OK);
    assert_says(
        &said,
        "{\"person\": \"kim\", \"show\": \"Small Show\", \"drill\": \"test\", \"seat\": \"lead\", "
        "\"taken\": 2, \"best\": 100, \"last\": 0, \"when\": 1780172800.000000, \"passed\": true, "
        "\"with_hints\": false, \"reached\": 1780086400.000000, \"again\": 1782678400.000000, \"due\": "
        "false}\n");
    assert_says(&said,
                "{\"person\": \"Mo\", \"show\": \"Small Show\", \"drill\": \"other\", \"seat\": \"lead\", "
                "\"taken\": 0, \"best\": null, ");
    // Of what an earlier program kept nothing says when: a year.
    assert_says(&said,
                "\"with_hints\": true, \"reached\": 1780000000.000000, \"again\": 1811536000.000000, ");
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_crew(logbook, -1, due, true, &said), SM_OK);
    assert_says(&said, "\"again\": 1782678400.000000, \"due\": true}");
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_crew(logbook, 10, due, true, &said), SM_OK);
    assert_says(&said, "\"again\": 1780950400.000000, \"due\": true}"); // ten days of 86400 s
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_crew(logbook, 0, due, true, &said), SM_OK);
    assert_says(&said, "\"again\": null, \"due\": false}");
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_crew(logbook, -1, due, false, &said), SM_OK);
    assert_says(&said, "not a licence");
    assert_says(&said, "not yet       now\n");
    assert_says(&said, "not taken     now\n");
    assert_says(&said, " h  ");
    sm_text_deinit(&said);
    sm_logbook_best best;
    assert_int_equal(sm_logbook_best_of(logbook, "Small Show", "KIM", "test", "lead", &best), SM_OK);
    assert_true(best.taken == 2 && best.best == 100 && best.passed);
    assert_int_equal(sm_logbook_best_of(logbook, "Small Show", "Kim", "test", "spotter", &best), SM_OK);
    assert_int_equal(best.taken, 0);
    sm_logbook_close(logbook);
    kept_end(b.folder);
}

static void two_attempts_are_compared_by_their_marks(void **state) {
    (void)state;
    book b;
    sm_text said = {0};
    bool same = true;
    book_begin(&b);
    take(&b, "Kim", 2, 3);
    take(&b, "Mo", 8.5, 9.5);
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_compare(logbook, 1, 2, true, &said, &same), SM_OK);
    assert_false(same);
    // Late by half of its time: half of the marks.
    assert_says(
        &said,
        "{\"differs\": \"mark\", \"what\": \"score\", \"first\": \"100 of 100\", \"second\": \"75 of 100\"}");
    assert_says(&said, "{\"differs\": \"mark\", \"what\": \"expect stop\", \"first\": \"50 of 50\", "
                       "\"second\": \"25 of 50\"}");
    assert_says(&said, "{\"differs\": \"took\", \"what\": \"expect stop\", \"first\": 1.0, \"second\": 7.5}");
    assert_null(strstr(said.bytes, "expect told"));
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(b.folder);
}

static void attempts_come_along_into_another_logbook(void **state) {
    (void)state;
    book b;
    char other[256], file[256], why[400];
    int64_t count = 0;
    book_begin(&b);
    folder_path(other, b.folder, "other.db");
    folder_path(file, b.folder, "carried");
    take(&b, "Kim", 2, 3);
    take(&b, "Mo", 2, 0);
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_export(logbook, 2, file, &count), SM_OK);
    // Readings, walks and drills stay where a rehearsal is forgotten.
    assert_int_equal(sm_logbook_prune(logbook, INT64_MAX, &count), SM_OK);
    assert_int_equal(count, 2);
    sm_logbook_best best;
    assert_int_equal(sm_logbook_best_of(logbook, "Small Show", "Kim", "test", "lead", &best), SM_OK);
    assert_int_equal(best.best, 100);
    sm_logbook_close(logbook);
    assert_int_equal(sm_logbook_open(other, true, why, &logbook), SM_OK);
    for (int again = 0; again < 2; again++)
        assert_int_equal(sm_logbook_import(logbook, file, &count), SM_OK);
    sm_logbook_close(logbook);
    // The show's drills come along, as they did: of both.
    for (size_t i = 0; i < 2; i++) {
        const char *path = i == 0 ? b.path : other;
        assert_int_equal(kept_number(path, "SELECT count(*) FROM attempt"), 2);
        assert_int_equal(kept_number(path, "SELECT count(*) FROM attempt_mark"),
                         kept_number(b.path, "SELECT count(*) FROM attempt_mark"));
        assert_int_equal(kept_number(path, "SELECT count(*) FROM attempt_score"),
                         kept_number(b.path, "SELECT count(*) FROM attempt_score"));
        kept_assert_whole(path);
    }
    kept_end(b.folder);
}

// ---- kill -9 -----------------------------------------------------------------------------------

static pid_t start_program(const book *b) {
    char program[300], script[256];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    pid_t process = fork();
    assert_true(process >= 0);
    if (process == 0) {
        if (!freopen("/dev/null", "w", stdout))
            _exit(126);
        execl(program, program, "drill", b->show_folder, "walker", "--headless", "--silent", "--crew", "Kim",
              "--script", folder_path(script, b->folder, "script"), "--logbook", b->path, (char *)NULL);
        _exit(127);
    }
    return process;
}

static void wait_for(const book *b, const char *sql) {
    for (int tries = 0; tries < 600; tries++) { // a minute at most, on a busy machine
        if (access(b->path, F_OK) == 0 && kept_number(b->path, "PRAGMA user_version") >= 7 &&
            kept_number(b->path, sql) > 0)
            return;
        usleep(100000);
    }
    fail_msg("never came: %s", sql);
}

// Nor is it in the file itself, for whoever reads that: not what is planted, not what is asked for, in no table.
static void nothing_planted_is_in_the_file(const book *b) {
    wait_for(b, "SELECT count(*) FROM row WHERE what = 'event' AND detail = 'person in-field'"); // was seen
    assert_int_equal(kept_number(b->path, "SELECT count(*) FROM row WHERE what = 'mark'"), 0);
    assert_int_equal(kept_number(b->path,
                                 "SELECT count(*) FROM row WHERE detail LIKE '%open A-01%' OR target "
                                 "= 'dud'"),
                     0);
    assert_int_equal(kept_number(b->path, "SELECT count(*) FROM input WHERE line = 'dud' OR detail LIKE "
                                          "'%open A-01%'"),
                     0);
    assert_int_equal(kept_number(b->path, "SELECT count(*) FROM attempt_mark WHERE NOT decided"), 0);
}

// Whoever takes it may look from another terminal: no score, no mark, no name of one.
static void nothing_judged_is_told_while_it_runs(sm_logbook *logbook, const char *folder) {
    sm_text said = {0};
    char path[256];
    int64_t count = 0;
    assert_int_equal(sm_logbook_list(logbook, false, &said), SM_OK);
    assert_says(&said, "walker as lead by Kim: running, by a script, not ended here\n");
    assert_int_equal(sm_logbook_list(logbook, true, &said), SM_OK);
    assert_says(&said, "\"score\": null, \"passed\": null, \"with_hints\": null, \"how\": \"running\", ");
    assert_int_equal(sm_logbook_progress(logbook, "Kim", false, &said), SM_OK);
    assert_int_equal(sm_logbook_progress(logbook, "Kim", true, &said), SM_OK);
    assert_int_equal(sm_logbook_crew(logbook, -1, 0, true, &said), SM_OK);
    assert_null(strstr(sm_text_get(&said), "of 100"));
    assert_null(strstr(sm_text_get(&said), "\"got\": 50"));
    assert_null(strstr(sm_text_get(&said), "stop"));
    sm_text_deinit(&said);
    sm_logbook_best best = {0};
    assert_int_equal(sm_logbook_best_of(logbook, "Trial", "Kim", "walker", "lead", &best), SM_OK);
    assert_int_equal(best.taken, 0);
    assert_int_equal(sm_logbook_export(logbook, 0, folder_path(path, folder, "out"), &count), SM_REFUSED);
    assert_int_equal(access(path, F_OK), -1);
}

static void a_killed_drill_is_an_attempt_and_nothing_is_pruned_under_it(void **state) {
    (void)state;
    book b;
    char drills[256];
    int status;
    int64_t count = 0;
    sm_text said = {0};
    book_begin(&b);
    folder_path(drills, b.folder, "show/drills");
    assert_int_equal(mkdir(drills, 0700), 0);
    folder_write(drills, "walker.ini", drill_text);
    folder_write(b.folder, "script", "0.1 key on\n1.5 key off\n900 key on\n");
    pid_t process = start_program(&b);
    wait_for(&b, "SELECT count(*) FROM attempt_mark WHERE name = 'stop' AND decided");
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_prune(logbook, INT64_MAX, &count), SM_REFUSED);
    assert_non_null(strstr(sm_logbook_problem(logbook), "a rehearsal is being kept in it just now"));
    assert_int_equal(sm_logbook_show(logbook, 1, false, &said), SM_REFUSED); // what is planted is in its rows
    assert_non_null(strstr(sm_logbook_problem(logbook), "this drill has not ended"));
    assert_int_equal(said.length, 0);
    nothing_planted_is_in_the_file(&b);
    nothing_judged_is_told_while_it_runs(logbook, b.folder);
    assert_int_equal(kill(process, SIGKILL), 0);
    assert_int_equal(waitpid(process, &status, 0), process);
    assert_true(WIFSIGNALED(status));
    assert_int_equal(sm_logbook_list(logbook, false, &said), SM_OK);
    assert_says(&said, "walker as lead by Kim: 50 of 100 so far, by a script, not ended here\n");
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_show(logbook, 1, false, &said), SM_OK);
    assert_says(&said, "person in-field");
    sm_text_clear(&said);
    kept_exec(b.path, "UPDATE attempt SET taken_by = ''"); // the script stood for a person
    assert_int_equal(sm_logbook_progress(logbook, "Kim", false, &said), SM_OK);
    assert_says(&said, " 50 of 100  cut off\n");
    sm_text_deinit(&said);
    assert_int_equal(sm_logbook_prune(logbook, INT64_MAX, &count), SM_OK);
    assert_int_equal(count, 1);
    sm_logbook_close(logbook);
    kept_end(b.folder);
}

// A script is nobody: what it earns is kept, and reaches no mark. Nor is a drill another one because its file has the same name.
static void neither_a_script_nor_another_file_passes_for_the_drill(void **state) {
    (void)state;
    book b;
    char drills[256];
    int status;
    sm_text said = {0};
    book_begin(&b);
    folder_path(drills, b.folder, "show/drills");
    assert_int_equal(mkdir(drills, 0700), 0);
    folder_write(b.folder, "script", "0.1 key on\n1.5 key off\n+0.2 answer outside\n");
    for (int easy = 0; easy < 2; easy++) {
        sm_text text = {0};
        sm_text_printf(&text, "%s%s", drill_text, easy ? "; made easy\n" : "");
        folder_write(drills, "walker.ini", sm_text_get(&text));
        sm_text_deinit(&text);
        pid_t process = start_program(&b);
        assert_int_equal(waitpid(process, &status, 0), process);
        assert_int_equal(WEXITSTATUS(status), 0);
    }
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_list(logbook, false, &said), SM_OK);
    assert_says(&said, "walker as lead by Kim: 100 of 100, by a script, file ");
    assert_null(strstr(sm_text_get(&said), "mark reached"));
    assert_int_equal(kept_number(b.path, "SELECT count(DISTINCT file) FROM attempt WHERE length(file) = 12"),
                     2);
    assert_int_equal(sm_logbook_crew(logbook, -1, 0, false, &said), SM_OK);
    assert_says(&said, "no drill is kept here under a name");
    assert_int_equal(kept_number(b.path, "SELECT sum(passed) FROM attempt_score"), 0);
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(b.folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_attempt_is_kept_however_it_ends),
        cmocka_unit_test(a_mark_overruled_after_the_score_is_kept_beside_it),
        cmocka_unit_test(progress_goes_mark_by_mark),
        cmocka_unit_test(the_crews_sheet_says_who_has_reached_what_and_when_it_is_due_again),
        cmocka_unit_test(two_attempts_are_compared_by_their_marks),
        cmocka_unit_test(attempts_come_along_into_another_logbook),
        cmocka_unit_test(neither_a_script_nor_another_file_passes_for_the_drill),
        cmocka_unit_test(a_killed_drill_is_an_attempt_and_nothing_is_pruned_under_it),
    };
    return cmocka_run_group_tests_name("attempts", tests, NULL, NULL);
}
