// SPDX-License-Identifier: GPL-3.0-or-later
// What `make mutants` showed that no other test of the logbook held. What SQLite says is held against its own documentation of result
// codes (sqlite.org/rescode.html, from memory).
#include "logbook/legacy.h"
#include "logbook/query.h"
#include "logbook/store.h"
#include "support/folder.h"
#include "support/kept.h"

#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>

#include <cmocka.h>

typedef struct place {
    char folder[64], path[96];
    sm_store store;
} place;

static int place_open(void **state) {
    static place p;
    p = (place){0};
    folder_make(p.folder);
    snprintf(p.path, sizeof p.path, "%s/logbook.db", p.folder);
    assert_int_equal(sm_store_open(&p.store, p.path, true), SM_OK);
    *state = &p;
    return 0;
}

static int place_close(void **state) {
    place *p = *state;
    sm_store_close(&p->store);
    folder_remove(p->folder);
    return 0;
}

// The system's own reason is told behind SQLite's where it is a matter of the system, and not after that.
static void a_reason_of_the_system_is_told_with_its_own_failure_alone(void **state) {
    place *p = *state;
    assert_int_equal(sm_store_exec(&p->store, "ATTACH '/nowhere/at/all.db' AS other"), SM_UNREADABLE);
    assert_non_null(strstr(p->store.why, "unable to open database"));
    assert_non_null(strstr(p->store.why, ": No such file or directory"));
    assert_int_equal(sm_store_exec(&p->store, "SELECT nonsense"), SM_UNREADABLE);
    assert_string_equal(p->store.why, "no such column: nonsense");
    assert_null(sm_store_prepare(&p->store, "SELEC 1"));
    assert_string_equal(p->store.why, "near \"SELEC\": syntax error");
    struct rlimit whole, small = {.rlim_cur = 65536};
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &whole), 0);
    small.rlim_max = whole.rlim_max;
    signal(SIGXFSZ, SIG_IGN); // the write fails then, setrlimit(2)
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    const sm_result wrote = sm_store_exec(&p->store, "CREATE TABLE big AS SELECT zeroblob(1000000) AS bytes");
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &whole), 0);
    assert_int_equal(wrote, SM_UNREADABLE);
    assert_string_equal(p->store.why, "disk I/O error"); // and no reason of what SQLite did after it
    assert_int_equal(sm_store_failed(&(sm_store){0}), SM_NO_MEMORY); // nothing was opened: no memory for it
}

// What failed first is told; memory that ran out for the words only where nothing else did.
static void the_first_reason_stands(void **state) {
    place *p = *state;
    const sm_text whole = {0}, cut = {.failed = true};
    assert_int_equal(sm_store_exec(&p->store, "SELECT nonsense"), SM_UNREADABLE);
    assert_int_equal(sm_query_done(&p->store, &whole, SM_UNREADABLE), SM_UNREADABLE);
    assert_int_equal(sm_query_done(&p->store, &cut, SM_UNREADABLE), SM_UNREADABLE);
    assert_string_equal(p->store.why, "no such column: nonsense");
    assert_int_equal(sm_query_done(&p->store, &whole, SM_OK), SM_OK);
    assert_string_equal(p->store.why, "no such column: nonsense");
    assert_int_equal(sm_query_done(&p->store, &cut, SM_OK), SM_NO_MEMORY);
    assert_string_equal(p->store.why, "memory ran out");
}

// Heads stand once over the rows for people, never in JSON, and not over nothing.
static void heads_stand_once(void **state) {
    place *p = *state;
    static const sm_query_column columns[] = {{"n", "HEAD", 4, SM_COLUMN_NUMBER}};
    static const struct {
        const char *sql;
        bool json;
        unsigned heads;
        size_t rows;
    } cases[] = {{"SELECT 1 UNION SELECT 2 UNION SELECT 3", false, 1, 3},
                 {"SELECT 1 UNION SELECT 2", true, 0, 2},
                 {"SELECT 1 WHERE 0", false, 0, 0}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const sm_query query = {cases[i].sql, columns, 1};
        sm_text out = {0};
        size_t rows = 9;
        unsigned heads = 0;
        assert_int_equal(sm_query_print(&p->store, &query, NULL, 0, cases[i].json, &out, &rows), SM_OK);
        for (const char *at = sm_text_get(&out); (at = strstr(at, "HEAD")); at++)
            heads++;
        assert_int_equal(rows, cases[i].rows);
        assert_int_equal(heads, cases[i].heads);
        sm_text_deinit(&out);
    }
}

static void a_number_that_is_not_there_is_none(void **state) {
    place *p = *state;
    int64_t number = 7;
    assert_int_equal(sm_store_number(&p->store, "SELECT 41 + 1", &number), SM_OK);
    assert_int_equal(number, 42);
    assert_int_equal(sm_store_number(&p->store, "SELECT 5 WHERE 0", &number), SM_OK);
    assert_int_equal(number, 0);
    number = 7; // a failure leaves it
    assert_int_equal(sm_store_number(&p->store, "SELECT nonsense", &number), SM_UNREADABLE);
    assert_int_equal(sm_store_number(&p->store, "SELECT abs(-9223372036854775808)", &number), SM_UNREADABLE);
    assert_string_equal(p->store.why, "integer overflow");
    assert_int_equal(number, 7);
}

// The newest schema is opened, one beyond it and one below none are not, and stay as they are.
static void a_schema_that_nobody_knows_is_refused(void **state) {
    place *p = *state;
    const int64_t newest = (int64_t)sm_store_version();
    static const int64_t beyond[] = {1, 100};
    for (size_t i = 0; i < sizeof beyond / sizeof beyond[0] + 1; i++) {
        char sql[64];
        const int64_t version = i < 2 ? newest + beyond[i] : -1;
        snprintf(sql, sizeof sql, "PRAGMA user_version = %lld", (long long)version);
        assert_int_equal(sm_store_exec(&p->store, sql), SM_OK);
        sm_store other;
        assert_int_equal(sm_store_open(&other, p->path, false), SM_UNREADABLE);
        assert_non_null(strstr(other.why, "made by a newer slowmatch"));
        int64_t kept;
        assert_int_equal(sm_store_number(&p->store, "PRAGMA user_version", &kept), SM_OK);
        assert_int_equal(kept, version);
    }
    sm_store missing;
    assert_int_equal(sm_store_open(&missing, "/nowhere/at/all.db", false), SM_NOT_FOUND);
    assert_string_equal(missing.why, "no logbook there: No such file or directory");
}

static void records_that_found_no_memory_are_no_records(void **state) {
    (void)state;
    sm_text out = {.failed = true};
    assert_int_equal(sm_legacy_read("", 0, &out), SM_NO_MEMORY);
    sm_text_deinit(&out);
    out = (sm_text){0};
    assert_int_equal(sm_legacy_read("", 0, &out), SM_OK);
    assert_int_equal(sm_legacy_read("M", 1, &out), SM_INVALID);
    sm_text_deinit(&out);
}

// A table has its head once, above its first row; one of JSON objects has none.
static void a_list_has_one_head(void **state) {
    (void)state;
    char folder[64], path[256];
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    assert_true(kept_rehearse(folder, path, NULL, NULL) > 0);
    assert_true(kept_rehearse(folder, path, NULL, NULL) > 0);
    sm_logbook *logbook = kept_open(path);
    for (int json = 0; json < 2; json++) {
        sm_text list = {0};
        assert_int_equal(sm_logbook_list(logbook, json, &list), SM_OK);
        const char *text = sm_text_get(&list), *first = strchr(text, '\n');
        assert_non_null(first);
        char head[200];
        snprintf(head, sizeof head, "%.*s", (int)(first - text), text);
        assert_int_equal(strstr(head, "Small Show") != NULL, json);
        assert_null(strstr(first, head));
        assert_non_null(strstr(first, "Small Show"));
        sm_text_deinit(&list);
    }
    sm_text plain = {0}, json = {0};
    assert_int_equal(sm_logbook_progress(logbook, "nobody", false, &plain), SM_OK);
    assert_int_equal(sm_logbook_progress(logbook, "nobody", true, &json), SM_OK);
    assert_true(plain.length > 0 && json.length == 0); // said in words, and by no object
    assert_int_equal(sm_logbook_crew(logbook, 30, 0, false, &plain), SM_OK);
    assert_int_equal(sm_logbook_crew(logbook, 30, 0, true, &json), SM_OK);
    assert_non_null(strstr(sm_text_get(&plain), "no drill is kept here under a name"));
    assert_int_equal(json.length, 0);
    sm_text_clear(&plain);
    assert_int_equal(sm_logbook_show(logbook, 99, false, &plain), SM_NOT_FOUND);
    assert_string_equal(sm_logbook_problem(logbook), "no rehearsal 99; `logbook list` numbers them");
    assert_int_equal(sm_logbook_show(logbook, 2, false, &plain), SM_OK);
    sm_text_deinit(&plain);
    sm_text_deinit(&json);
    sm_logbook_close(logbook);
    kept_end(folder);
}

static void what_is_damaged_is_told_and_is_no_lack_of_memory(void **state) {
    (void)state;
    char folder[64], path[256];
    bool whole;
    sm_text said = {0};
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    assert_true(kept_rehearse(folder, path, NULL, NULL) > 0);
    sm_logbook *logbook = kept_open(path);
    assert_int_equal(sm_logbook_check(logbook, false, &said, &whole), SM_OK);
    assert_true(whole);
    kept_exec(path, "UPDATE file SET bytes = x'00' WHERE hash = (SELECT min(hash) FROM file)");
    assert_int_equal(sm_logbook_check(logbook, false, &said, &whole), SM_OK);
    assert_false(whole);
    assert_non_null(strstr(sm_text_get(&said), "has not its length"));
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(folder);
}

// A file that begins as SQLite's do (sqlite.org/fileformat.html, 1.2, from memory) and is none is no export, whatever SQLite calls it.
static void what_only_looks_like_an_export_is_none(void **state) {
    (void)state;
    char folder[64], path[256], file[256], page[4096];
    int64_t count = 7;
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    assert_true(kept_rehearse(folder, path, NULL, NULL) > 0);
    memset(page, 0xA5, sizeof page);
    memcpy(page, "SQLite format 3\0\x10\x00\x01\x01\x00\x40\x20\x20", 24);
    FILE *const written = fopen(folder_path(file, folder, "export"), "w");
    assert_non_null(written);
    assert_int_equal(fwrite(page, 1, sizeof page, written), sizeof page);
    assert_int_equal(fclose(written), 0);
    sm_logbook *const logbook = kept_open(path);
    assert_int_equal(sm_logbook_import(logbook, file, &count), SM_UNREADABLE);
    assert_non_null(strstr(sm_logbook_problem(logbook),
                           "export: no whole export of a logbook: database disk image is malformed"));
    assert_int_equal(count, 7);
    sm_logbook_close(logbook);
    kept_end(folder);
}

// A logbook in which nothing is kept says so, one in which something is does not; and a comparison that cannot be made is none.
static void an_empty_logbook_says_that_it_is(void **state) {
    (void)state;
    static const char nothing[] = "no rehearsal is kept here\n";
    char folder[64], path[256];
    int64_t gone;
    bool same = true;
    sm_text said = {0};
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    assert_true(kept_rehearse(folder, path, NULL, NULL) > 0);
    assert_true(kept_rehearse(folder, path, NULL, NULL) > 0);
    sm_logbook *const logbook = kept_open(path);
    assert_int_equal(sm_logbook_list(logbook, false, &said), SM_OK);
    assert_null(strstr(sm_text_get(&said), nothing));
    assert_int_equal(sm_logbook_compare(logbook, 1, 2, false, &said, &same), SM_OK);
    kept_exec(path, "ALTER TABLE row RENAME COLUMN detail TO elsewhere");
    assert_int_equal(sm_logbook_compare(logbook, 1, 2, false, &said, &same), SM_UNREADABLE);
    kept_exec(path, "ALTER TABLE row RENAME COLUMN elsewhere TO detail");
    assert_int_equal(sm_logbook_prune(logbook, INT64_MAX, &gone), SM_OK);
    assert_int_equal(gone, 2);
    sm_text_clear(&said);
    assert_int_equal(sm_logbook_list(logbook, false, &said), SM_OK);
    assert_non_null(strstr(sm_text_get(&said), nothing));
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(folder);
}

// What cannot be asked is not found whole, whatever is found by the next question.
static void a_check_that_fails_finds_nothing_whole(void **state) {
    (void)state;
    char folder[64], path[256];
    bool whole = true;
    sm_text said = {0};
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    assert_true(kept_rehearse(folder, path, NULL, NULL) > 0);
    kept_exec(path, "CREATE TABLE child(p REFERENCES nowhere(id)); ALTER TABLE member RENAME TO elsewhere");
    sm_logbook *const logbook = kept_open(path);
    assert_int_equal(sm_logbook_check(logbook, false, &said, &whole), SM_UNREADABLE);
    assert_false(whole);
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(folder);
}

// A word that no version of this program writes is read as the most cautious, and never past the end of a table.
static void words_that_nobody_wrote_are_survived(void **state) {
    (void)state;
    char folder[64], path[256];
    bool same;
    sm_text said = {0};
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    assert_true(kept_rehearse(folder, path, NULL, NULL) > 0);
    kept_exec(path, "UPDATE input SET kind = 'sound', line = 'loud'");
    sm_logbook *const logbook = kept_open(path);
    const sm_result result = sm_logbook_replay(logbook, 1, false, &said, &same);
    assert_true(result == SM_OK || result == SM_INVALID);
    sm_text_deinit(&said);
    sm_logbook_close(logbook);
    kept_end(folder);
}

// A logbook is a file that somebody may have changed: the names in it lead nowhere but into the passing folder.
static void a_kept_file_has_a_plain_name(void **state) {
    (void)state;
    static const char *const names[] = {"sub/cues.csv", "/tmp/cues.csv", "../cues.csv", ".cues.csv",
                                        "a/../../cues.csv"};
    char folder[64], path[256];
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    assert_true(kept_rehearse(folder, path, NULL, NULL) > 0);
    kept_exec(path, "UPDATE member SET name = 'old' WHERE name = 'cues.csv'");
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        char sql[120];
        snprintf(sql, sizeof sql, "UPDATE member SET name = '%s' WHERE name = '%s'", names[i],
                 i == 0 ? "old" : names[i - 1]);
        kept_exec(path, sql);
        sm_logbook *logbook = kept_open(path);
        sm_text said = {0};
        bool same;
        assert_int_not_equal(sm_logbook_replay(logbook, 1, false, &said, &same), SM_OK);
        assert_non_null(strstr(sm_logbook_problem(logbook), "no plain file name"));
        sm_text_deinit(&said);
        sm_logbook_close(logbook);
    }
    kept_end(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_reason_of_the_system_is_told_with_its_own_failure_alone, place_open,
                                        place_close),
        cmocka_unit_test_setup_teardown(heads_stand_once, place_open, place_close),
        cmocka_unit_test_setup_teardown(the_first_reason_stands, place_open, place_close),
        cmocka_unit_test_setup_teardown(a_number_that_is_not_there_is_none, place_open, place_close),
        cmocka_unit_test_setup_teardown(a_schema_that_nobody_knows_is_refused, place_open, place_close),
        cmocka_unit_test(a_list_has_one_head),
        cmocka_unit_test(what_is_damaged_is_told_and_is_no_lack_of_memory),
        cmocka_unit_test(what_only_looks_like_an_export_is_none),
        cmocka_unit_test(an_empty_logbook_says_that_it_is),
        cmocka_unit_test(a_check_that_fails_finds_nothing_whole),
        cmocka_unit_test(words_that_nobody_wrote_are_survived),
        cmocka_unit_test(a_kept_file_has_a_plain_name),
        cmocka_unit_test(records_that_found_no_memory_are_no_records),
    };
    return cmocka_run_group_tests_name("edges of the logbook", tests, NULL, NULL);
}
