// SPDX-License-Identifier: GPL-3.0-or-later
// Where rules begin to find: figures on either side of a limit, against published rows, and what the caller must tell.
#include "support/check_folder.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define BASE "tests/data/check/base"
#define COUNT(array) (sizeof(array) / sizeof *(array))

typedef struct edit {
    const char *file, *from, *to;
} edit;

static const sm_check_options whole_audio = {
    .audio_looked_for = true, .audio_exists = true, .audio_end_us = 3600 * SM_US_PER_S};

// Expects OPTIONS on the base show, with EDIT where it names a file, to give RULE alone.
static void expect_alone(const edit *change, const sm_check_options *options, const char *rule,
                         sm_severity severity, const char *file, uint32_t line) {
    check_folder folder;
    check_case test;
    check_folder_init(&folder, BASE);
    if (change->file)
        check_folder_edit(&folder, change->file, change->from, change->to);
    check_case_init(&test, &folder, options);
    const size_t count = sm_findings_count(test.report->findings);
    if (count != (rule ? 1u : 0u))
        check_case_print(&test);
    assert_int_equal(count, rule ? 1 : 0);
    if (rule) {
        const sm_finding *finding = sm_findings_at(test.report->findings, 0);
        assert_string_equal(finding->rule, rule);
        assert_int_equal(finding->severity, severity);
        assert_string_equal(finding->file, file);
        assert_int_equal(finding->line, line);
    }
    check_case_deinit(&test);
    check_folder_deinit(&folder);
}

static const edit no_edit;

static void the_base_show_gives_no_finding(void **state) {
    (void)state;
    expect_alone(&no_edit, &whole_audio, NULL, SM_NOTE, NULL, 0);
}

static void audio_is_judged_by_what_the_caller_found(void **state) {
    (void)state;
    const sm_check_options missing = {
        .audio_looked_for = true, .audio_error = "not there", .audio_end_us = SM_UNSET_US};
    sm_check_options ends = whole_audio;
    const sm_check_options unknown = {.audio_end_us = SM_UNSET_US};
    const edit silent = {"show.ini", "audio = tone.wav\n", ""};
    expect_alone(&no_edit, &missing, "audio-missing", SM_ERROR, "show.ini", 4);
    ends.audio_end_us = 40 * SM_US_PER_S - 1;
    expect_alone(&no_edit, &ends, "audio-short", SM_WARNING, "show.ini", 4);
    ends.audio_end_us = 40 * SM_US_PER_S;
    expect_alone(&no_edit, &ends, NULL, SM_NOTE, NULL, 0);
    expect_alone(&silent, &missing, NULL, SM_NOTE, NULL, 0);
    sm_check_options damaged = whole_audio;
    damaged.audio_error = "ends in the middle of a frame";
    expect_alone(&no_edit, &damaged, "audio-damaged", SM_NOTE, "show.ini", 4);
    expect_alone(&no_edit, &unknown, NULL, SM_NOTE, NULL, 0);
}

// Two periods of the sender: 80 ms at 25 Hz, which is what is taken, wherever in the universe the fixture is; 2 x 22676 us
// (all 512 slots, E1.11 transmit minimum, second-hand, recomputed) for one that says it is faster than that.
static void brief_is_less_than_two_refreshes(void **state) {
    (void)state;
    static const struct {
        const char *refresh, *lasts;
        bool brief;
    } rows[] = {{"", "79999 us", true},
                {"", "80000 us", false},
                {"[dmx]\nrefresh = 40 Hz\n", "49999 us", true},
                {"[dmx]\nrefresh = 40 Hz\n", "50000 us", false},
                {"[dmx]\nrefresh = 100\n", "45351 us", true},
                {"[dmx]\nrefresh = 100\n", "45352 us", false}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        char lasts[64];
        check_folder folder;
        check_case test;
        check_folder_init(&folder, BASE);
        char settings[64];
        snprintf(settings, sizeof settings, "%s[expect]", rows[i].refresh);
        check_folder_edit(&folder, "show.ini", "[expect]", settings);
        snprintf(lasts, sizeof lasts, "dim=50,,%.3f ms", atof(rows[i].lasts) / 1000.0);
        check_folder_edit(&folder, "cues.csv", "dim=50,,0.5 s", lasts);
        check_case_init(&test, &folder, &whole_audio);
        assert_int_equal(check_case_count(&test, "too-brief"), rows[i].brief ? 1 : 0);
        check_case_deinit(&test);
        check_folder_deinit(&folder);
    }
}

// A level that another row takes over unchanged goes on; one that another row changes is over.
static void a_hold_goes_on_while_its_level_does(void **state) {
    (void)state;
    const edit same = {"cues.csv", "0:40.000,C-02",
                       "0:35.000,par-2,green=9,,,,,,\n0:35.001,par-2,green=9,,,,,,\n0:40.000,C-02"};
    const edit other = {"cues.csv", "0:40.000,C-02",
                        "0:35.000,par-2,green=9,,,,,,\n0:35.001,par-2,green=8,,,,,,\n0:40.000,C-02"};
    const edit *edits[] = {&same, &other};
    for (size_t i = 0; i < 2; i++) {
        check_folder folder;
        check_case test;
        check_folder_init(&folder, BASE);
        check_folder_edit(&folder, edits[i]->file, edits[i]->from, edits[i]->to);
        check_case_init(&test, &folder, &whole_audio);
        assert_int_equal(check_case_count(&test, "too-brief"), i);
        assert_int_equal(check_case_count(&test, "two-at-once"), 0);
        check_case_deinit(&test);
        check_folder_deinit(&folder);
    }
}

// EIA-485 by way of E1.11: 32 unit loads (second-hand). LAMPS in one chain.
static size_t line_load_findings(unsigned lamps) {
    check_folder folder;
    check_case test;
    sm_text fixtures = {0}, chain = {0};
    check_folder_init(&folder, BASE);
    sm_text_printf(&fixtures, "name,profile,universe,address,position,feed,fuel,aim\n");
    sm_text_printf(&chain, "name,universe,chain\nlong,1,");
    for (unsigned i = 0; i < lamps; i++) {
        sm_text_printf(&fixtures, "lamp-%c%u,par,1,%u,,left,,\n", 'a' + (int)(i / 10), i % 10, 1 + 3 * i);
        sm_text_printf(&chain, " lamp-%c%u", 'a' + (int)(i / 10), i % 10);
    }
    sm_text_append(&chain, "\n", 1);
    check_folder_write(&folder, "fixtures.csv", sm_text_get(&fixtures));
    check_folder_write(&folder, "lines.csv", sm_text_get(&chain));
    check_folder_edit(&folder, "profiles.csv", "120 W", "1 W");
    check_folder_write(&folder, "groups.csv", "name,members\npars,lamp-a0 lamp-a1\n");
    check_folder_write(&folder, "cues.csv", "time,target,do\n1,pars,dim=9\n");
    check_folder_edit(&folder, "show.ini", "[expect]\nevents = 15\npyro = 6\nfixture = 9\n", "[expect]\n");
    check_case_init(&test, &folder, &whole_audio);
    const size_t count = check_case_count(&test, "line-loads");
    if (sm_findings_count(test.report->findings) != count)
        check_case_print(&test);
    assert_int_equal(sm_findings_count(test.report->findings), count);
    check_case_deinit(&test);
    check_folder_deinit(&folder);
    sm_text_deinit(&fixtures);
    sm_text_deinit(&chain);
    return count;
}

static void a_line_carries_32_unit_loads(void **state) {
    (void)state;
    assert_int_equal(line_load_findings(32), 0);
    assert_int_equal(line_load_findings(33), 1);
}

static void without_lines_one_note_speaks_for_all(void **state) {
    (void)state;
    check_folder folder;
    check_case test;
    check_folder_init(&folder, BASE);
    check_folder_remove(&folder, "lines.csv");
    check_case_init(&test, &folder, &whole_audio);
    assert_int_equal(sm_findings_count(test.report->findings), 1);
    const sm_finding *finding = sm_findings_at(test.report->findings, 0);
    assert_string_equal(finding->rule, "line-missing");
    assert_int_equal(finding->severity, SM_NOTE);
    assert_int_equal(finding->line, 0);
    check_case_deinit(&test);
    check_folder_deinit(&folder);
}

// A permit that cannot be read is one finding, not one more for every flame after it.
static void a_left_out_row_is_no_closed_enable(void **state) {
    (void)state;
    check_folder folder;
    check_case test;
    check_folder_init(&folder, BASE);
    check_folder_edit(&folder, "cues.csv", "permit=255,,12 s", "permit=2x5,,12 s");
    check_case_init(&test, &folder, &whole_audio);
    size_t errors = 0, notes = 0;
    for (size_t i = 0; i < sm_findings_count(test.report->findings); i++) {
        const sm_finding *finding = sm_findings_at(test.report->findings, i);
        errors += finding->severity == SM_ERROR;
        notes += finding->severity == SM_NOTE && strcmp(finding->rule, "flame-not-enabled") == 0;
    }
    if (errors != 1 || notes != 1)
        check_case_print(&test);
    assert_int_equal(errors, 1);
    assert_int_equal(notes, 1);
    check_case_deinit(&test);
    check_folder_deinit(&folder);
}

// NEC 210.20(A) (read in the code): 80 % of a 15 A breaker is 12 A, of 20 A 16 A, of 30 A 24 A, of 50 A 40 A. WATTS at 230 V.
static void a_breaker_carries_80_per_cent(void **state) {
    (void)state;
    static const double rows[][2] = {{15, 12}, {20, 16}, {30, 24}, {50, 40}};
    for (size_t i = 0; i < COUNT(rows); i++)
        for (int over = 0; over < 3; over++) {
            const double amps = over == 0 ? rows[i][1] : over == 1 ? rows[i][1] + 0.1 : rows[i][0] + 0.1;
            char breaker[64], watts[64];
            check_folder folder;
            check_case test;
            check_folder_init(&folder, BASE);
            snprintf(breaker, sizeof breaker, "left,,230 V,%.0f A,0 m", rows[i][0]);
            snprintf(watts, sizeof watts, "%.1f W", amps * 230.0 / 2.0); // two lamps
            check_folder_edit(&folder, "feeds.csv", "left,main,230 V,10 A,10 m", breaker);
            check_folder_edit(&folder, "profiles.csv", "120 W", watts);
            check_folder_edit(&folder, "profiles.csv", ",80 W,", ",,");
            check_case_init(&test, &folder, &whole_audio);
            assert_int_equal(sm_findings_count(test.report->findings), over == 0 ? 0 : 1);
            if (over > 0) {
                const sm_finding *finding = sm_findings_at(test.report->findings, 0);
                assert_string_equal(finding->rule, "breaker-over");
                assert_int_equal(finding->severity, over == 1 ? SM_WARNING : SM_ERROR);
                assert_true(fabs(finding->limit - rows[i][over == 1]) < 1e-9);
                assert_true(fabs(finding->value - amps) < 1e-9);
            }
            check_case_deinit(&test);
            check_folder_deinit(&folder);
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_base_show_gives_no_finding),
        cmocka_unit_test(audio_is_judged_by_what_the_caller_found),
        cmocka_unit_test(brief_is_less_than_two_refreshes),
        cmocka_unit_test(a_hold_goes_on_while_its_level_does),
        cmocka_unit_test(a_line_carries_32_unit_loads),
        cmocka_unit_test(without_lines_one_note_speaks_for_all),
        cmocka_unit_test(a_left_out_row_is_no_closed_enable),
        cmocka_unit_test(a_breaker_carries_80_per_cent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
