// SPDX-License-Identifier: GPL-3.0-or-later
// What spreadsheets do to the tables of a show. How they write is from memory and common practice (a comma or a semicolon by the
// system's settings, "Unicode text" as UTF-16 with tabs, blank columns and rows, dates made of texts); no source.
#include "support/show_folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

// Loads the small show with FILE changed to the LENGTH bytes at BYTES.
static sm_show *load(const char *file, const char *bytes, size_t length, sm_findings **findings) {
    sm_show *show = NULL;
    const show_folder folder = show_folder_make_small();
    show_folder_put_bytes(&folder, file, bytes, length);
    *findings = sm_findings_create();
    assert_non_null(*findings);
    (void)!sm_show_load(folder.path, NULL, *findings, &show);
    show_folder_remove(&folder);
    return show;
}

// One finding, whose text begins with PLACE and holds each of the two words.
static void expect_one(const char *file, const char *bytes, size_t length, const char *place,
                       const char *cause, const char *cure) {
    sm_findings *findings;
    sm_text all = {0};
    sm_show *const show = load(file, bytes, length, &findings);
    for (size_t i = 0; i < sm_findings_count(findings); i++) {
        sm_finding_format(&all, NULL, sm_findings_at(findings, i));
        sm_text_append(&all, "\n", 1);
    }
    if (show || sm_findings_count(findings) != 1 || strncmp(sm_text_get(&all), place, strlen(place)) != 0 ||
        !strstr(sm_text_get(&all), cause) || !strstr(sm_text_get(&all), cure))
        fail_msg("wanted %s ... %s ... %s, got:\n%s", place, cause, cure, sm_text_get(&all));
    sm_text_deinit(&all);
    sm_findings_destroy(findings);
}

static void another_separator_or_encoding_is_one_finding(void **state) {
    (void)state;
    static const struct {
        const char *text, *cause;
    } texts[] = {
        {"time;target;do;note\n1,5;par-1;dim=1;\n2;par-9;x;\n", "semicolons"},
        {"# ours\n\"time\";\"target\";\"do\"\n\"1\";\"par-\"\"9\"\"\";\"dim=1\"\n", "semicolons"},
        {"time\ttarget\tdo\n1\tpar-1\tdim=1\n", "tabs"},
        {"\xEF\xBB\xBFtime|target|do\n1|par-1|dim=1\n", "upright bars"},
    };
    for (size_t i = 0; i < COUNT(texts); i++)
        expect_one("cues.csv", texts[i].text, strlen(texts[i].text), "cues.csv:1: error: ", texts[i].cause,
                   "save it as");
    // A table that others point at: what it would have named is not missed in each of them.
    expect_one("fixtures.csv", "name;profile;address\npar-1;par;1\n", 34,
               "fixtures.csv:1: error: ", "semicolons", "commas");
    expect_one("cues.csv", "PK\x03\x04\x14\0\0\0\b\0", 10, "cues.csv:1: error: ", "spreadsheet's own file",
               "import");
    static const char little[] = "\xFF\xFEt\0i\0m\0e\0\t\0t\0a\0r\0g\0e\0t\0\n\0";
    static const char big[] = "\0t\0i\0m\0e\0,\0t\0a\0r\0g\0e\0t\0,\0d\0o\0\n";
    expect_one("cues.csv", little, sizeof little - 1, "cues.csv:1: error: ", "UTF-16", "CSV UTF-8");
    expect_one("cues.csv", big, sizeof big - 1, "cues.csv:1: error: ", "UTF-16", "CSV UTF-8");
    expect_one("show.ini", "\xFF\xFE[\0s\0h\0o\0w\0]\0\n\0", 16, "show.ini:1: error: ", "UTF-16", "UTF-8");
}

static void blank_columns_and_records_are_passed_over(void **state) {
    (void)state;
    static const char text[] = "time,target,do,note,,\n,,,,,\n1,par-1,dim=1,,,\n\" \",,,\n# a "
                               "comment,,,,,\n2,par-2,dim=2,x,\" \",\n";
    char id[12];
    sm_findings *findings;
    sm_show *const show = load("cues.csv", text, sizeof text - 1, &findings);
    assert_int_equal(sm_findings_count(findings), 0);
    assert_non_null(show);
    assert_int_equal(show->cue_count, 2);
    assert_int_equal(show->cues[1].line, 6);
    assert_string_equal(sm_cue_id(show, 1, id), "2"); // blank records are no cues
    sm_show_destroy(show);
    sm_findings_destroy(findings);
}

static void one_mistake_is_told_once(void **state) {
    (void)state;
    sm_text cues = {0};
    sm_text_printf(&cues, "time,target,do\n");
    for (int i = 0; i < 20; i++)
        sm_text_printf(&cues, "%d,A-01,commet\n", i);
    expect_one("cues.csv", cues.bytes, cues.length, "cues.csv:2:8: error: ", "did you mean comet?",
               "(20 times: 2:8, 3:8, 4:8 ...)");
    sm_text_clear(&cues);
    sm_text_printf(&cues, "time,target,do\n");
    for (int i = 0; i < 20; i++)
        sm_text_printf(&cues, "\"%d,5\",A-01,comet\n", i);
    expect_one("cues.csv", cues.bytes, cues.length, "cues.csv:2:1: error: ", "write 0.5", "20 times");
    sm_text_clear(&cues);
    sm_text_printf(&cues, "time,target,do,note\n");
    for (int i = 0; i < 20; i++)
        sm_text_printf(&cues, "%d,A-01,comet,caf\xE9 %d\n", i, i);
    expect_one("cues.csv", cues.bytes, cues.length, "cues.csv:2:17: error: ", "Windows-1252", "20 times");
    sm_text_deinit(&cues);
    sm_findings *findings;
    static const char three[] = "time,target,do\n1,A-01,commet\n2,A-01,commet\n3,A-01,commet\n";
    assert_null(load("cues.csv", three, sizeof three - 1, &findings));
    assert_int_equal(sm_findings_count(findings), 3); // few enough to be told each at its place
    sm_findings_destroy(findings);
}

// The name is the cause; that nothing else bears it follows, wherever it is used.
static void a_cause_is_told_without_what_follows(void **state) {
    (void)state;
    static const char *const tables[][2] = {
        {"effects.csv", "name\ncomet!\n"},
        {"profiles.csv",
         "name,channels,hazard,enable,fire\npar.,dim red green blue,,,\njet,permit flame,flame,permit "
         "128-255,flame 1-255\n"},
    };
    for (size_t i = 0; i < COUNT(tables); i++) {
        sm_findings *findings;
        assert_null(load(tables[i][0], tables[i][1], strlen(tables[i][1]), &findings));
        const sm_finding *const first = sm_findings_at(findings, 0);
        assert_non_null(first);
        bool is_told = false;
        for (size_t k = 0; k < sm_findings_count(findings); k++)
            is_told = is_told || strcmp(sm_findings_at(findings, k)->file, tables[i][0]) == 0;
        assert_true(is_told);
        sm_findings_destroy(findings);
    }
    static const char cues[] = "time,target,do\n1,A-01,comet red\n";
    sm_findings *findings;
    sm_show *show = NULL;
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "effects.csv", "name\ncomet red\n");
    show_folder_put(&folder, "cues.csv", cues);
    findings = sm_findings_create();
    assert_int_equal(sm_show_load(folder.path, NULL, findings, &show), SM_INVALID);
    assert_int_equal(sm_findings_count(findings), 1);
    assert_string_equal(sm_findings_at(findings, 0)->file, "effects.csv");
    sm_findings_destroy(findings);
    show_folder_remove(&folder);
}

static void a_cell_is_recognised(void **state) {
    (void)state;
    static const struct {
        const char *cues, *place, *cause, *cure;
    } cells[] = {
        {"time,target,do\n1,A4,comet\n", "cues.csv:2:3: ", "\"A4\"", "did you mean A-04?"},
        {"time,target,do\n1,a-4,comet\n", "cues.csv:2:3: ", "a-4", "did you mean A-04?"},
        {"time,target,do\n1,A/08,comet\n", "cues.csv:2:3: ", "A/08", "did you mean A-08?"},
        {"time,target,do\n1,12-Mar,comet\n", "cues.csv:2:3: ", "\"12-Mar\" looks like a date", "RAIL-NN"},
        {"time,target,do\n1,Mar-12,comet\n", "cues.csv:2:3: ", "\"Mar-12\" looks like a date", "text"},
        {"time,target,do\n1,2026-03-12,comet\n", "cues.csv:2:3: ", "looks like a date", "text"},
        {"time,target,do\n1,12/03/2026,comet\n", "cues.csv:2:3: ", "looks like a date", "text"},
        {"time,target,do\n1,12.03.26,comet\n", "cues.csv:2:3: ", "looks like a date", "text"},
        {"time,target,do,fade\n1,par-1,dim=1,\"2,5 s\"\n", "cues.csv:2:15: ", "a comma for its point",
         "write 2.5 s"},
        {"time,target,do,wire\n1,A-01,comet,\"2,5 m\"\n", "cues.csv:2:14: ", "a comma for its point",
         "write 2.5 m"},
        {"time,target,do\n\"1:02,5\",par-1,dim=1\n", "cues.csv:2:1: ", "a comma for its point",
         "write 1:02.5"},
    };
    for (size_t i = 0; i < COUNT(cells); i++)
        expect_one("cues.csv", cells[i].cues, strlen(cells[i].cues), cells[i].place, cells[i].cause,
                   cells[i].cure);
    static const char rails[] = "name,module,first,slots,cable_length\nA,M1,1,8,\"25,5 m\"\n";
    expect_one("rails.csv", rails, sizeof rails - 1, "rails.csv:2:10: ", "\"25,5 m\" has a comma",
               "write 25.5 m");
}

// An apostrophe keeps a text from being run as a formula; it is not part of the text, in a table. Show.ini is none.
static void a_guarded_text_is_read_without_its_guard(void **state) {
    (void)state;
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "show.ini", "[show]\ntitle = '=Fire\nlength = 60\n");
    show_folder_put(&folder, "readings.csv", "rail,slot,reading,by\nA,1,1.8,'=Bo\nA,2,1.8,'Bo\n");
    show_folder_put(&folder, "cues.csv",
                    "time,target,do,id,note\n1,A-01,comet,'-a,\"'+1 dB, louder\"\n2,A-02,comet,'-5,''tis\n");
    sm_show *const show = show_folder_load(&folder, SM_OK);
    char id[12];
    assert_string_equal(show->settings.title, "'=Fire");
    assert_string_equal(show->readings[0].by, "=Bo");
    assert_string_equal(show->readings[1].by, "'Bo");
    assert_string_equal(sm_show_text(show, show->cues[0].note), "+1 dB, louder");
    assert_string_equal(sm_show_text(show, show->cues[1].note), "''tis");
    assert_string_equal(sm_cue_id(show, 0, id), "-a");
    assert_string_equal(sm_cue_id(show, 1, id), "'-5");
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(another_separator_or_encoding_is_one_finding),
        cmocka_unit_test(blank_columns_and_records_are_passed_over),
        cmocka_unit_test(one_mistake_is_told_once),
        cmocka_unit_test(a_cause_is_told_without_what_follows),
        cmocka_unit_test(a_cell_is_recognised),
        cmocka_unit_test(a_guarded_text_is_read_without_its_guard),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
