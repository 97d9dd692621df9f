// SPDX-License-Identifier: GPL-3.0-or-later
#include "base/findings.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static int make(void **state) {
    *state = sm_findings_create();
    return !*state;
}

static int destroy(void **state) {
    sm_findings_destroy(*state);
    return 0;
}

static void keeps_what_was_added(void **state) {
    sm_findings *const findings = *state;
    char file[] = "cues.csv";
    sm_findings_add(findings, file, 3, 7, SM_ERROR, "time-form", "\"%s\" is no moment", "1:5");
    sm_findings_add(findings, file, 4, 1, SM_WARNING, "late", "late by %d", 2);
    memset(file, 'x', sizeof file - 1); // the name was copied
    sm_findings_add(findings, NULL, 0, 0, SM_NOTE, "about", "all");
    assert_int_equal(sm_findings_count(findings), 3);
    assert_int_equal(sm_findings_count_of(findings, SM_ERROR), 1);
    assert_int_equal(sm_findings_count_of(findings, SM_WARNING), 1);
    assert_int_equal(sm_findings_count_of(findings, SM_NOTE), 1);
    const sm_finding *const first = sm_findings_at(findings, 0);
    assert_string_equal(first->file, "cues.csv");
    assert_int_equal(first->line, 3);
    assert_int_equal(first->column, 7);
    assert_int_equal(first->severity, SM_ERROR);
    assert_string_equal(first->rule, "time-form");
    assert_string_equal(first->message, "\"1:5\" is no moment");
    assert_true(isnan(first->value) && isnan(first->limit));
    assert_string_equal(first->unit, "");
    assert_string_equal(sm_findings_at(findings, 1)->file, "cues.csv");
    assert_string_equal(sm_findings_at(findings, 2)->file, "");
    assert_null(sm_findings_at(findings, 3));
    assert_false(sm_findings_failed(findings));
}

static void keeps_figures(void **state) {
    sm_findings *const findings = *state;
    char message[] = "too near";
    const sm_finding given = {"positions.csv", 2, 1, SM_WARNING, "near", message, 12.5, 20, "m", NULL};
    sm_findings_put(findings, &given);
    message[0] = 'x';
    const sm_finding *const kept = sm_findings_at(findings, 0);
    assert_string_equal(kept->message, "too near");
    assert_true(kept->value == 12.5 && kept->limit == 20);
    assert_string_equal(kept->unit, "m");
}

static void keeps_long_messages_whole(void **state) {
    sm_findings *const findings = *state;
    for (int length = 500; length < 1100; length += 4) {
        sm_findings_add(findings, "a", 1, 1, SM_ERROR, "long", "%*d", length, 7);
        const char *const message = sm_findings_at(findings, sm_findings_count(findings) - 1)->message;
        assert_int_equal(strlen(message), length);
        assert_int_equal(message[length - 1], '7');
    }
}

static void sorts_and_keeps_the_order_of_equals(void **state) {
    sm_findings *const findings = *state;
    enum { MANY = 100000 };
    for (int i = 0; i < MANY; i++) {
        const uint32_t scattered = (uint32_t)i * UINT32_C(2654435761);
        sm_findings_add(findings, scattered & 1 ? "rails.csv" : "cues.csv", scattered >> 20 & 0x3FF,
                        scattered >> 16 & 7, SM_ERROR, "r", "%d", i);
    }
    sm_findings_sort(findings);
    assert_int_equal(sm_findings_count(findings), MANY);
    char seen[MANY] = {0};
    for (size_t i = 0; i < MANY; i++) {
        const sm_finding *const b = sm_findings_at(findings, i);
        int added = -1, added_before = -1;
        assert_int_equal(sscanf(b->message, "%d", &added), 1);
        seen[added] = 1;
        if (i == 0)
            continue;
        const sm_finding *const a = sm_findings_at(findings, i - 1);
        assert_int_equal(sscanf(a->message, "%d", &added_before), 1);
        int order = strcmp(a->file, b->file);
        if (order == 0)
            order = (a->line > b->line) - (a->line < b->line);
        if (order == 0)
            order = (a->column > b->column) - (a->column < b->column);
        assert_true(order < 0 || (order == 0 && added_before < added));
    }
    assert_null(memchr(seen, 0, MANY));
}

static void sorting_twice_keeps_the_first_order_of_equals(void **state) {
    sm_findings *const findings = *state;
    sm_findings_add(findings, "b", 1, 0, SM_ERROR, "r", "1");
    sm_findings_add(findings, "a", 1, 0, SM_ERROR, "r", "2");
    sm_findings_sort(findings);
    sm_findings_add(findings, "a", 1, 0, SM_ERROR, "r", "3");
    sm_findings_sort(findings);
    assert_string_equal(sm_findings_at(findings, 0)->message, "2");
    assert_string_equal(sm_findings_at(findings, 1)->message, "3");
    assert_string_equal(sm_findings_at(findings, 2)->message, "1");
}

static void formats_one_line(void **state) {
    (void)state;
    static const struct {
        const char *folder;
        sm_finding finding;
        const char *expected;
    } rows[] = {
        {"show",
         {"cues.csv", 3, 7, SM_ERROR, "r", "bad", 0, 0, "", NULL},
         "show/cues.csv:3:7: error: bad [r]"},
        {"show/",
         {"cues.csv", 3, 0, SM_WARNING, "r", "bad", 0, 0, "", NULL},
         "show/cues.csv:3: warning: bad [r]"},
        {NULL, {"cues.csv", 0, 0, SM_NOTE, "r", "bad", 0, 0, "", NULL}, "cues.csv: note: bad [r]"},
        {"show",
         {"/other/a.csv", 1, 1, SM_ERROR, "r", "bad", 0, 0, "", NULL},
         "/other/a.csv:1:1: error: bad [r]"},
        {"show", {"", 0, 0, SM_ERROR, "r", "bad", 0, 0, "", NULL}, "show: error: bad [r]"},
        {NULL, {"", 0, 0, SM_ERROR, "r", "bad", 0, 0, "", NULL}, "error: bad [r]"},
        // A cell may hold anything: line breaks, terminal escapes, C1 controls, bytes that are no UTF-8.
        {NULL,
         {"a", 1, 1, SM_ERROR, "r", "\x1B[2J\r\n\xC2\x9B\xC3\xA9\xFF\x7F", 0, 0, "", NULL},
         "a:1:1: error: \\x1b[2J\\x0d\\x0a\\x9b\xC3\xA9\xEF\xBF\xBD\\x7f [r]"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        sm_text text = {0};
        sm_finding_format(&text, rows[i].folder, &rows[i].finding);
        assert_string_equal(sm_text_get(&text), rows[i].expected);
        sm_text_deinit(&text);
    }
}

// Fails each allocation of a run of 200 findings in turn: all are counted, those kept are whole.
static void remembers_running_out_of_memory(void **state) {
    (void)state;
    enum { MANY = 200 };
    bool failed = true;
    size_t at = 1;
    for (; failed; at++) {
        sm_findings *const findings = sm_findings_create();
        assert_non_null(findings);
        sm_arena_fail_at(sm_findings_arena(findings), at);
        for (int i = 0; i < MANY; i++)
            sm_findings_add(findings, i % 3 ? "a.csv" : "b.csv", (uint32_t)i, 1, SM_ERROR, "r", "%0*d",
                            i * 5 + 1, i);
        sm_arena_fail_at(sm_findings_arena(findings), 0);
        failed = sm_findings_failed(findings);
        const size_t kept = sm_findings_count(findings);
        assert_int_equal(sm_findings_count_of(findings, SM_ERROR), MANY);
        assert_true(failed ? kept < MANY : kept == MANY);
        for (size_t i = 0; i < kept; i++) {
            const sm_finding *const finding = sm_findings_at(findings, i);
            assert_int_equal(strlen(finding->message), finding->line * 5 + 1);
            assert_string_equal(finding->file, finding->line % 3 ? "a.csv" : "b.csv");
        }
        sm_findings_destroy(findings);
    }
    assert_true(at > MANY); // a message each at the least
}

static void severities_have_words(void **state) {
    (void)state;
    assert_string_equal(sm_severity_text(SM_ERROR), "error");
    assert_string_equal(sm_severity_text(SM_WARNING), "warning");
    assert_string_equal(sm_severity_text(SM_NOTE), "note");
    sm_findings_destroy(NULL);
}

#define WITH_FINDINGS(test) cmocka_unit_test_setup_teardown(test, make, destroy)

int main(void) {
    const struct CMUnitTest tests[] = {
        WITH_FINDINGS(keeps_what_was_added),
        WITH_FINDINGS(keeps_figures),
        WITH_FINDINGS(keeps_long_messages_whole),
        WITH_FINDINGS(sorts_and_keeps_the_order_of_equals),
        WITH_FINDINGS(sorting_twice_keeps_the_first_order_of_equals),
        cmocka_unit_test(formats_one_line),
        cmocka_unit_test(remembers_running_out_of_memory),
        cmocka_unit_test(severities_have_words),
    };
    return cmocka_run_group_tests_name("base findings", tests, NULL, NULL);
}
