// SPDX-License-Identifier: GPL-3.0-or-later
// The report as text, JSON and SARIF. JSON is read back by SQLite's own JSON functions, so by other code than wrote it.
#include "support/check_folder.h"

#include <math.h>
#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define BASE "tests/data/check/base"
#define COUNT(array) (sizeof(array) / sizeof *(array))

// A show with an error, warnings (one allowed), a note, a finding about a file as a whole, and texts that are hard on
// writers: control characters, quotes, letters beyond ASCII.
typedef struct fixture {
    check_folder folder;
    check_case test;
    sqlite3 *judge;
} fixture;

static int set_up(void **state) {
    fixture *f = calloc(1, sizeof *f);
    assert_non_null(f);
    check_folder_init(&f->folder, BASE);
    check_folder_edit(&f->folder, "cues.csv", "0:08.000,A-02,comet,,,,,,",
                      "0:04.000,A-01,comet,,,,,,\"\033[31m\xC3\xA4 \"\"b\"\"\"");
    check_folder_edit(&f->folder, "fixtures.csv", "par-2,par",
                      "# allow address-overlap: an error\n\"# allow feed-missing: on a "
                      "battery \"\"today\"\"\"\npar-2,par");
    check_folder_edit(&f->folder, "fixtures.csv", "1,11,pole,left", "1,11,pole,");
    check_folder_edit(&f->folder, "effects.csv", "comet,match,0.2 s", "comet,match,");
    check_folder_remove(&f->folder, "lines.csv");
    check_case_init(&f->test, &f->folder, NULL);
    assert_int_equal(sqlite3_open(":memory:", &f->judge), SQLITE_OK);
    *state = f;
    return 0;
}

static int tear_down(void **state) {
    fixture *f = *state;
    sqlite3_close(f->judge);
    check_case_deinit(&f->test);
    check_folder_deinit(&f->folder);
    free(f);
    return 0;
}

// The first column of the first row that SQL gives with the LENGTH bytes at JSON as ?1 and TEXT as ?2; the test fails where
// it is an error. The caller frees it.
static char *ask(fixture *f, const char *sql, const char *json, size_t length, const char *text) {
    sqlite3_stmt *statement;
    if (sqlite3_prepare_v2(f->judge, sql, -1, &statement, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(f->judge));
    sqlite3_bind_text(statement, 1, json, (int)length, SQLITE_STATIC);
    if (text)
        sqlite3_bind_text(statement, 2, text, -1, SQLITE_STATIC);
    if (sqlite3_step(statement) != SQLITE_ROW)
        fail_msg("%s: %s", sql, sqlite3_errmsg(f->judge));
    const char *found = (const char *)sqlite3_column_text(statement, 0);
    char *copy = strdup(found ? found : "(null)");
    sqlite3_finalize(statement);
    assert_non_null(copy);
    return copy;
}

static void expect(fixture *f, const char *sql, const char *json, size_t length, const char *text,
                   const char *expected) {
    char *found = ask(f, sql, json, length, text);
    if (strcmp(found, expected) != 0)
        print_error("%s [%s]\n", sql, text ? text : "");
    assert_string_equal(found, expected);
    free(found);
}

static const sm_finding *finding_of(const fixture *f, const char *rule) {
    for (size_t i = 0; i < sm_findings_count(f->test.report->findings); i++)
        if (strcmp(sm_findings_at(f->test.report->findings, i)->rule, rule) == 0)
            return sm_findings_at(f->test.report->findings, i);
    fail_msg("no finding of %s", rule);
    return NULL;
}

// ---- allow comments ------------------------------------------------------------------------

static void a_warning_passes_with_its_reason(void **state) {
    const fixture *f = *state;
    assert_int_equal(sm_findings_count(f->test.report->allowed), 1);
    const sm_finding *allowed = sm_findings_at(f->test.report->allowed, 0);
    assert_string_equal(allowed->rule, "feed-missing");
    assert_string_equal(f->test.report->reasons[0], "on a battery \"today\"");
    assert_int_equal(check_case_count(&f->test, "feed-missing"), 0);
}

static void an_allow_without_a_warning_is_told(void **state) {
    const fixture *f = *state;
    const sm_finding *unused = finding_of(f, "allow-unused");
    assert_int_equal(unused->severity, SM_NOTE);
    assert_string_equal(unused->file, "fixtures.csv");
    uint32_t column;
    assert_int_equal(unused->line,
                     check_folder_line(&f->folder, "fixtures.csv", "# allow address-overlap", 0, &column));
}

static void an_error_does_not_pass(void **state) {
    (void)state;
    check_folder folder;
    check_case test;
    check_folder_init(&folder, BASE);
    check_folder_edit(&folder, "fixtures.csv", "par-2,par,1,11",
                      "# allow address-overlap: no\npar-2,par,1,3");
    check_case_init(&test, &folder, NULL);
    assert_int_equal(check_case_count(&test, "address-overlap"), 1);
    assert_int_equal(check_case_count(&test, "allow-unused"), 1);
    assert_int_equal(sm_findings_count(test.report->allowed), 0);
    check_case_deinit(&test);
    check_folder_deinit(&folder);
}

static void a_setting_can_be_allowed_too(void **state) {
    (void)state;
    check_folder folder;
    check_case test;
    check_folder_init(&folder, BASE);
    check_folder_edit(&folder, "show.ini", "events = 15",
                      "; allow expect-differs: one is still to come\nevents = 16");
    check_case_init(&test, &folder, NULL);
    assert_int_equal(sm_findings_count(test.report->findings), 0);
    assert_int_equal(sm_findings_count(test.report->allowed), 1);
    check_case_deinit(&test);
    check_folder_deinit(&folder);
}

// ---- JSON -------------------------------------------------------------------------------------

static void each_json_line_is_an_object(void **state) {
    fixture *f = *state;
    sm_text text = {0};
    sm_check_format_json(&text, f->test.report);
    const size_t count = sm_findings_count(f->test.report->findings);
    const char *line = sm_text_get(&text);
    for (size_t i = 0; i < count; i++) {
        const sm_finding *finding = sm_findings_at(f->test.report->findings, i);
        const size_t length = strcspn(line, "\n");
        char number[16];
        expect(f, "SELECT json_valid(?1)", line, length, NULL, "1");
        expect(f, "SELECT group_concat(key, ' ') FROM json_each(?1)", line, length, NULL,
               "file line column severity rule message value limit unit");
        expect(f, "SELECT json_extract(?1, '$.message')", line, length, NULL, finding->message);
        expect(f, "SELECT json_extract(?1, '$.rule')", line, length, NULL, finding->rule);
        expect(f, "SELECT json_extract(?1, '$.file')", line, length, NULL, finding->file);
        snprintf(number, sizeof number, "%u", finding->line);
        expect(f, "SELECT json_extract(?1, '$.line')", line, length, NULL,
               finding->line > 0 ? number : "(null)");
        snprintf(number, sizeof number, "%u", finding->column);
        expect(f, "SELECT json_extract(?1, '$.column')", line, length, NULL,
               finding->column > 0 ? number : "(null)");
        line += length + 1;
    }
    const size_t length = strcspn(line, "\n");
    expect(f, "SELECT json_valid(?1)", line, length, NULL, "1");
    expect(f, "SELECT group_concat(key, ' ') FROM json_each(?1)", line, length, NULL, "summary");
    assert_int_equal(line[length + 1], '\0');
    sm_text_deinit(&text);
}

// The totals of tests/data/check/base, counted by hand; A-01 twice and A-02 never in this changed copy.
static void the_summary_counts_what_the_files_hold(void **state) {
    fixture *f = *state;
    static const char *const rows[][2] = {{"$.summary.events", "15"},
                                          {"$.summary.pyro", "6"},
                                          {"$.summary.fixture", "9"},
                                          {"$.summary.slots_used", "5"},
                                          {"$.summary.slots", "24"},
                                          {"$.summary.modules[0].events", "4"},
                                          {"$.summary.modules[0].slots_used", "3"},
                                          {"$.summary.rails[0].events", "3"},
                                          {"$.summary.rails[2].events", "2"},
                                          {"$.summary.universes[0].universe", "1"},
                                          {"$.summary.universes[0].events", "5"},
                                          {"$.summary.universes[1].events", "4"},
                                          {"$.summary.effects[0].events", "3"},
                                          {"$.summary.flames[0].burn_s", "3.5"},
                                          {"$.summary.flames[0].used_ml", "35"},
                                          {"$.summary.flames[0].fuel_ml", "60"},
                                          {"$.summary.first_s", "1"},
                                          {"$.summary.last_s", "40"},
                                          {"$.summary.length_s", "60"},
                                          {"$.summary.allowed[0].rule", "feed-missing"},
                                          {"$.summary.allowed[0].reason", "on a battery \"today\""},
                                          {"$.summary.errors", "2"},
                                          {"$.summary.feeds[1].watts", "200"},
                                          {"$.summary.stock[0].name", "comet"},
                                          {"$.summary.stock[0].amount", "3"},
                                          {"$.summary.stock[1].kind", "igniter"},
                                          {"$.summary.sounds[0].position", "rear"}};
    sm_text text = {0};
    sm_check_format_json(&text, f->test.report);
    const char *line = strstr(sm_text_get(&text), "{\"summary\"");
    assert_non_null(line);
    for (size_t i = 0; i < COUNT(rows); i++)
        expect(f, "SELECT json_extract(?1, ?2)", line, strcspn(line, "\n"), rows[i][0], rows[i][1]);
    sm_text_deinit(&text);
}

static void the_rules_list_is_json_too(void **state) {
    fixture *f = *state;
    sm_text text = {0};
    size_t lines = 0;
    sm_check_format_rules_json(&text);
    for (const char *line = sm_text_get(&text); *line != '\0'; line += strcspn(line, "\n") + 1, lines++) {
        expect(f, "SELECT json_valid(?1)", line, strcspn(line, "\n"), NULL, "1");
        expect(f, "SELECT json_extract(?1, '$.rule')", line, strcspn(line, "\n"), NULL,
               sm_check_rule_at(lines)->id);
    }
    assert_null(sm_check_rule_at(lines));
    sm_text_deinit(&text);
}

// ---- SARIF ---------------------------------------------------------------------------------------

// What sarif-schema-2.1.0.json (OASIS, errata 01; read in the schema) asks of the objects that we write: which properties
// must be there, and which may be, "additionalProperties" being false. Names with a blank after each.
static const struct {
    const char *path; // of the objects, as json_tree gives it, with % for numbers
    const char *required, *allowed;
} sarif_objects[] = {
    {"$", "version runs ", "$schema version runs inlineExternalProperties properties "},
    {"$.runs[0]", "tool ", "tool columnKind results invocations originalUriBaseIds properties "},
    {"$.runs[0].tool", "driver ", "driver extensions properties "},
    {"$.runs[0].tool.driver", "name ", "name version semanticVersion rules informationUri properties "},
    {"$.runs[0].tool.driver.rules[%]", "id ",
     "id name shortDescription fullDescription defaultConfiguration help properties "},
    {"$.runs[0].tool.driver.rules[%].shortDescription", "text ", "text markdown properties "},
    {"$.runs[0].tool.driver.rules[%].help", "text ", "text markdown properties "},
    {"$.runs[0].tool.driver.rules[%].defaultConfiguration", "", "enabled level rank parameters properties "},
    {"$.runs[0].results[%]", "message ", "ruleId ruleIndex level message locations suppressions properties "},
    {"$.runs[0].results[%].message", "text ", "text markdown id arguments properties "},
    {"$.runs[0].results[%].locations[0]", "", "id physicalLocation logicalLocations message properties "},
    {"$.runs[0].results[%].locations[0].physicalLocation", "artifactLocation ",
     "address artifactLocation region contextRegion properties "},
    {"$.runs[0].results[%].locations[0].physicalLocation.artifactLocation", "uri ",
     "uri uriBaseId index description properties "},
    {"$.runs[0].results[%].locations[0].physicalLocation.region", "startLine ",
     "startLine startColumn endLine endColumn snippet properties "},
    {"$.runs[0].results[%].suppressions[0]", "kind ", "kind justification status location properties "},
};

// Objects whose path matches ?2 and that lack one of the words of REQUIRED, or have a property beyond ALLOWED.
static void expect_sarif_object(fixture *f, const sm_text *log, size_t row) {
    static const char each[] =
        "SELECT count(*) FROM json_tree(?1) AS o WHERE o.type = 'object' AND o.fullkey LIKE "
        "replace(replace(?2, '[', '_'), ']', "
        "'_') AND o.fullkey NOT LIKE replace(replace(?2, '[', '_'), ']', '_') || '._%' AND ";
    sm_text sql = {0};
    char *found = ask(f,
                      "SELECT count(*) FROM json_tree(?1) AS o WHERE o.type = 'object' AND o.fullkey LIKE "
                      "replace(replace(?2, '[', '_'), ']', '_')",
                      sm_text_get(log), log->length, sarif_objects[row].path);
    assert_string_not_equal(found, "0");
    free(found);
    sm_text_printf(&sql, "%sEXISTS (SELECT 1 FROM json_each(o.value) WHERE instr('%s', key || ' ') = 0)",
                   each, sarif_objects[row].allowed);
    expect(f, sm_text_get(&sql), sm_text_get(log), log->length, sarif_objects[row].path, "0");
    for (const char *word = sarif_objects[row].required; *word != '\0'; word += strcspn(word, " ") + 1) {
        sm_text_clear(&sql);
        sm_text_printf(&sql, "%sNOT EXISTS (SELECT 1 FROM json_each(o.value) WHERE key = '%.*s')", each,
                       (int)strcspn(word, " "), word);
        expect(f, sm_text_get(&sql), sm_text_get(log), log->length, sarif_objects[row].path, "0");
    }
    sm_text_deinit(&sql);
}

static void sarif_has_what_its_schema_requires(void **state) {
    fixture *f = *state;
    sm_text log = {0};
    sm_check_format_sarif(&log, f->test.report, "0.1.0");
    expect(f, "SELECT json_valid(?1)", sm_text_get(&log), log.length, NULL, "1");
    for (size_t i = 0; i < COUNT(sarif_objects); i++)
        expect_sarif_object(f, &log, i);
    static const char *const values[][2] = {
        {"SELECT json_extract(?1, '$.version')", "2.1.0"},
        {"SELECT json_extract(?1, '$.runs[0].columnKind')", "unicodeCodePoints"},
        {"SELECT json_extract(?1, '$.runs[0].tool.driver.name')", "slowmatch"},
        {"SELECT count(*) FROM json_tree(?1) WHERE key = 'level' AND atom NOT IN ('error', 'warning', "
         "'note')",
         "0"},
        {"SELECT count(*) FROM json_tree(?1) WHERE key IN ('startLine', 'startColumn') AND (type <> "
         "'integer' OR atom < 1)",
         "0"},
        {"SELECT group_concat(DISTINCT atom) FROM json_tree(?1) WHERE key = 'kind'", "inSource"},
        {"SELECT count(*) FROM json_each(?1, '$.runs[0].results') AS r WHERE json_extract(r.value, "
         "'$.ruleId') <> "
         "json_extract(?1, '$.runs[0].tool.driver.rules[' || json_extract(r.value, '$.ruleIndex') || '].id')",
         "0"},
        {"SELECT count(*) - count(DISTINCT json_extract(value, '$.id')) FROM json_each(?1, "
         "'$.runs[0].tool.driver.rules')",
         "0"},
    };
    for (size_t i = 0; i < COUNT(values); i++)
        expect(f, values[i][0], sm_text_get(&log), log.length, NULL, values[i][1]);
    char results[16];
    snprintf(results, sizeof results, "%zu",
             sm_findings_count(f->test.report->findings) + sm_findings_count(f->test.report->allowed));
    expect(f, "SELECT json_array_length(?1, '$.runs[0].results')", sm_text_get(&log), log.length, NULL,
           results);
    sm_text_deinit(&log);
}

// ---- text for people ----------------------------------------------------------------------------

static void the_cell_is_shown_and_marked(void **state) {
    const fixture *f = *state;
    sm_text text = {0};
    const sm_finding *finding = finding_of(f, "slot-reused");
    sm_check_format_text(&text, f->test.report, false);
    const char *line = strstr(sm_text_get(&text), finding->message);
    assert_non_null(line);
    line += strcspn(line, "\n") + 1;
    const char *marks = line + strcspn(line, "\n") + 1;
    const char *bar = strchr(line, '|');
    assert_non_null(bar);
    assert_int_equal(strncmp(bar + 2, "0:04.000,A-01,comet", 19), 0);
    assert_int_equal(strchr(marks, '^') - marks, bar + 2 + strlen("0:04.000,") - line);
    assert_int_equal(strspn(strchr(marks, '^'), "^"), 4);
    sm_text_deinit(&text);
}

static void no_control_character_reaches_the_terminal(void **state) {
    const fixture *f = *state;
    sm_text text = {0};
    sm_check_format_text(&text, f->test.report, false);
    assert_null(strchr(sm_text_get(&text), '\033'));
    assert_non_null(strstr(sm_text_get(&text), "?[31m\xC3\xA4"));
    sm_text_clear(&text);
    sm_check_format_text(&text, f->test.report, true);
    assert_non_null(strstr(sm_text_get(&text), "\033[1;31merror\033[0m"));
    sm_text_deinit(&text);
}

static void a_clean_report_gives_no_assurance(void **state) {
    (void)state;
    check_folder folder;
    check_case test;
    sm_text text = {0};
    check_folder_init(&folder, BASE);
    check_case_init(&test, &folder, NULL);
    sm_check_format_text(&text, test.report, false);
    assert_non_null(
        strstr(sm_text_get(&text), "no rule found anything; not a statement that the show may be fired"));
    assert_non_null(strstr(sm_text_get(&text), "events    15 (pyro 6, fixture 9)"));
    sm_text_deinit(&text);
    check_case_deinit(&test);
    check_folder_deinit(&folder);
}

static void every_rule_is_explained(void **state) {
    (void)state;
    const sm_check_rule *rule;
    sm_text all = {0};
    sm_check_format_rules(&all);
    for (size_t i = 0; (rule = sm_check_rule_at(i)); i++) {
        sm_text one = {0};
        sm_check_format_rule(&one, rule);
        assert_non_null(strstr(sm_text_get(&one), rule->id));
        assert_non_null(strstr(sm_text_get(&one), "source"));
        assert_non_null(strstr(sm_text_get(&all), rule->id));
        assert_non_null(strstr(sm_text_get(&all), rule->meaning));
        sm_text_deinit(&one);
    }
    sm_text_deinit(&all);
}

static void a_finding_leads_to_its_cue(void **state) {
    const fixture *f = *state;
    const sm_finding *reused = finding_of(f, "slot-reused");
    const uint32_t cue = sm_check_finding_cue(f->test.show, reused);
    assert_int_not_equal(cue, SM_NONE);
    assert_int_equal(f->test.show->cues[cue].time_us, 4 * SM_US_PER_S);
    assert_int_equal(sm_check_finding_cue(f->test.show, finding_of(f, "lead-unknown")), SM_NONE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_warning_passes_with_its_reason, set_up, tear_down),
        cmocka_unit_test_setup_teardown(an_allow_without_a_warning_is_told, set_up, tear_down),
        cmocka_unit_test(an_error_does_not_pass),
        cmocka_unit_test(a_setting_can_be_allowed_too),
        cmocka_unit_test_setup_teardown(each_json_line_is_an_object, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_summary_counts_what_the_files_hold, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_rules_list_is_json_too, set_up, tear_down),
        cmocka_unit_test_setup_teardown(sarif_has_what_its_schema_requires, set_up, tear_down),
        cmocka_unit_test_setup_teardown(the_cell_is_shown_and_marked, set_up, tear_down),
        cmocka_unit_test_setup_teardown(no_control_character_reaches_the_terminal, set_up, tear_down),
        cmocka_unit_test(a_clean_report_gives_no_assurance),
        cmocka_unit_test(every_rule_is_explained),
        cmocka_unit_test_setup_teardown(a_finding_leads_to_its_cue, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
