// SPDX-License-Identifier: GPL-3.0-or-later
// The figures that decide whether it fires, reaches and stays where it should, at their edges: tests/data/worst holds, for
// each rule, a show that was once taken for good and is found now, and one just inside that stays clean. A folder there
// holds the files in which it differs from tests/data/check/base.
#include "support/check_folder.h"

#include "slowmatch/rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define BASE "tests/data/check/base"
#define COUNT(array) (sizeof(array) / sizeof *(array))

typedef struct edge {
    const char *name, *rule; // of the folder; of the one finding
    sm_severity severity;
    const char *says; // a part of it
} edge;

static const edge edges[] = {
    {"parallel", "current-low", SM_WARNING, "at worst"},
    {"conductor", "current-low", SM_WARNING, "at worst"},
    {"joints", "current-low", SM_WARNING, "at worst"},
    {"pulse", "pulse-short", SM_WARNING, "taken as all_fire held for 20 ms, as no impulse is given"},
    {"impulse", "pulse-short", SM_ERROR, "the igniter's impulse"},
    {"capacitor", "pulse-short", SM_WARNING, "in 470 uF by then"},
    {"charge", "charge-unknown", SM_WARNING, "no charge_ohms"},
    {"refresh", "too-brief", SM_WARNING, "two refreshes of the sender take 80 ms ([dmx] refresh, 25 Hz)"},
    {"refresh-flame", "too-brief", SM_WARNING, "is told flame for 70 ms"},
    {"refresh-slow", "too-brief", SM_WARNING, "([dmx] refresh, 3 Hz)"},
    {"side-people", "distance-short", SM_ERROR, "from stand (people); the figure used is 42.68 m (140 ft"},
    {"side-vehicles", "distance-short", SM_ERROR, "from stand (vehicles)"},
    {"side-combustible", "distance-short", SM_ERROR, "from stand (combustible)"},
    {"side-hospital", "distance-short", SM_ERROR, "(280 ft: twice 70 ft an inch"},
    {"side-flame", "clear-short", SM_ERROR, "from stand (people)"},
    {"wheel", "distance-short", SM_ERROR, "125 ft for a wheel with large drivers"},
    {"concussion", "distance-short", SM_ERROR, "25 ft for a concussion mortar"},
    {"particles", "particles-near", SM_WARNING, "no glowing or flaming particles within 10 ft"},
    {"product", "product-near-flame", SM_WARNING, "from rail C with product"},
    {"lead", "crew-inside", SM_ERROR, "the lead stands 11.18 m from fountain"},
    {"module", "crew-inside", SM_WARNING, "module north at desk is 11.18 m from fountain"},
    {"hazard", "hazard-unmarked", SM_ERROR, "par has a channel spark and no hazard"},
    {"hazard-burns", "hazard-unmarked", SM_ERROR, "par has burn, longest or recover and no hazard"},
    {"hazard-fuel", "hazard-unmarked", SM_ERROR, "par-2 holds fuel, and its profile par has no hazard"},
    {"addresses", "addresses-exchanged", SM_NOTE,
     "par-1 (21) and par-2 (11), both par, have each other's place"},
    {"gas", "fuel-short", SM_ERROR, "35.0 g; it carries 34.0 g"},
    {"gas-mixed", "fuel-mixed", SM_ERROR, "burns gas in g/s and its fuel is told in ml"},
    {"waits", "misfire-wait-short", SM_WARNING, "10 min, shorter than reentry-wait, 15 min"},
    {"cord-breaker", "cord-breaker", SM_ERROR,
     "rated 3 A (BS 7671 4F3A) and stands behind a breaker of 10 A"},
    {"cord-no-breaker", "cord-breaker", SM_ERROR,
     "rated 10 A (BS 7671 4F3A) and stands behind a breaker of 16 A"},
    {"power-factor", "breaker-over", SM_WARNING, "three hours and more"},
    {"inrush", "inrush-over", SM_WARNING, "takes 32 A when it is switched on"},
    {"drop-private", "cord-drop", SM_WARNING, "at most 6 % on a private supply"},
    {"drop-public", "cord-drop", SM_WARNING,
     "3.02 % of 230 V (7.826 A over 63 m of 4 mm2); should be at most 3 % on a public supply"},
};

static void open_case(check_case *test, check_folder *folder, const char *name, const char *side) {
    static const sm_check_options whole_audio = {
        .audio_looked_for = true, .audio_exists = true, .audio_end_us = 3600 * SM_US_PER_S};
    char path[128];
    snprintf(path, sizeof path, "tests/data/worst/%s/%s", name, side);
    check_folder_init(folder, BASE);
    check_folder_overlay(folder, path);
    check_case_init(test, folder, &whole_audio);
}

static void close_case(check_case *test, check_folder *folder) {
    check_case_deinit(test);
    check_folder_deinit(folder);
}

static bool is_found(const check_case *test, const edge *e) {
    if (sm_findings_count(test->report->findings) != 1)
        return false;
    const sm_finding *finding = sm_findings_at(test->report->findings, 0);
    return strcmp(finding->rule, e->rule) == 0 && finding->severity == e->severity &&
           strstr(finding->message, e->says);
}

static void found_beyond_and_clean_inside(void **state) {
    (void)state;
    size_t wrong = 0;
    for (size_t i = 0; i < COUNT(edges); i++) {
        check_folder folder;
        check_case test;
        open_case(&test, &folder, edges[i].name, "found");
        if (!is_found(&test, &edges[i])) {
            print_error("%s found: expected %s alone\n", edges[i].name, edges[i].rule);
            check_case_print(&test);
            wrong++;
        }
        close_case(&test, &folder);
        open_case(&test, &folder, edges[i].name, "inside");
        if (sm_findings_count(test.report->findings) != 0) {
            print_error("%s inside: expected nothing\n", edges[i].name);
            check_case_print(&test);
            wrong++;
        }
        close_case(&test, &folder);
    }
    assert_int_equal(wrong, 0);
}

// 100 m of 0.5 mm2 cable whose copper is as poor as IEC 60228 class 5 allows (39.0 ohm/km at 20 C, second-hand), 40 C warm,
// with an igniter at the top of its tolerance: 8.41 + 1.90 + 0.2 ohm of leads and joints, 10.5. Within its standard, where it
// once read as high, and its rail as a bad joint. 11.39 was high and is.
static void a_cable_within_its_standard_reads_good(void **state) {
    (void)state;
    static const struct {
        const char *side;
        sm_verdict verdict;
        uint32_t explanations;
    } rows[] = {{"inside", SM_VERDICT_GOOD, 0}, {"found", SM_VERDICT_HIGH, 1}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        check_folder folder;
        check_case test;
        sm_rig_report *report;
        open_case(&test, &folder, "class-5", rows[i].side);
        const sm_rig_set set = {"readings.csv", test.show->readings, test.show->reading_count};
        assert_int_equal(sm_rig_report_create(test.show, &set, 1, &report), SM_OK);
        assert_int_equal(report->counts[rows[i].verdict], 3);
        assert_int_equal(report->diagnosis->count, rows[i].explanations);
        sm_rig_report_destroy(report);
        close_case(&test, &folder);
    }
}

// The expected total is not that of the files: told beside an error that leaves the totals as they are, and not beside one
// that takes a cue out.
static void expectations_survive_errors_that_change_no_total(void **state) {
    (void)state;
    static const struct {
        const char *file, *from, *to;
        size_t told;
    } rows[] = {
        {"lines.csv", "60ft 3m", "60ft 3q", 1},         {"rails.csv", "8,60 ft", "8,60 q", 1},
        {"feeds.csv", "10 A,10 m", "10 Q,10 m", 1},     {"cues.csv", "B-01,fountain", "B-01,fontain", 0},
        {"effects.csv", "pot,match", "pot x,match", 0}, {"groups.csv", "par-1 par-2", "par-1 par-3", 0}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        check_folder folder;
        check_case test;
        check_folder_init(&folder, BASE);
        check_folder_edit(&folder, "show.ini", "events = 15", "events = 99");
        check_folder_edit(&folder, rows[i].file, rows[i].from, rows[i].to);
        check_case_init(&test, &folder, NULL);
        assert_true(sm_findings_count_of(test.report->findings, SM_ERROR) > 0);
        if (check_case_count(&test, "expect-differs") != rows[i].told) {
            check_case_print(&test);
            fail_msg("%s: %zu times, not %zu", rows[i].file, check_case_count(&test, "expect-differs"),
                     rows[i].told);
        }
        close_case(&test, &folder);
    }
}

// One name that is none, named by three cues and a group: one error, which says what follows; a name that only a cue gets
// wrong stands by itself.
static void what_follows_is_folded_under_its_cause(void **state) {
    (void)state;
    check_folder folder;
    check_case test;
    open_case(&test, &folder, "fold", "found");
    assert_int_equal(sm_findings_count_of(test.report->findings, SM_ERROR), 2);
    assert_int_equal(check_case_count(&test, "effect-unknown"), 1);
    const sm_finding *cause = NULL;
    for (size_t i = 0; i < sm_findings_count(test.report->findings); i++)
        if (strcmp(sm_findings_at(test.report->findings, i)->rule, "value") == 0)
            cause = sm_findings_at(test.report->findings, i);
    assert_non_null(cause);
    assert_string_equal(cause->file, "effects.csv");
    assert_non_null(strstr(cause->message, "\"comet white\" is not a name"));
    assert_non_null(strstr(cause->message, "3 rows, cues.csv line 3, 5, 12"));
    close_case(&test, &folder);
    open_case(&test, &folder, "fold", "inside");
    assert_int_equal(sm_findings_count(test.report->findings), 0);
    close_case(&test, &folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(found_beyond_and_clean_inside),
        cmocka_unit_test(a_cable_within_its_standard_reads_good),
        cmocka_unit_test(expectations_survive_errors_that_change_no_total),
        cmocka_unit_test(what_follows_is_folded_under_its_cause),
    };
    return cmocka_run_group_tests_name("check worst", tests, NULL, NULL);
}
