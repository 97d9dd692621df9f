// SPDX-License-Identifier: GPL-3.0-or-later
// The command `readings` as it is run: what it prints about the demo's readings files, and its exit status.
#include "support/ran.h"

#include "slowmatch/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define DEMO "demo-shows/lantern-quay"

typedef struct run {
    int status;
    sm_text said; // standard output and error
} run;

static run run_readings(const char *arguments) {
    char line[512];
    run r = {0};
    snprintf(line, sizeof line, "$S readings %s", arguments);
    r.status = ran_line(".", line, &r.said);
    return r;
}

static void assert_says(const run *r, const char *part) {
    ran_expect(&r->said, part);
}

// The demo's first measuring has three planted faults, each by itself.
static void first_names_each_fault(void **state) {
    (void)state;
    run r = run_readings(DEMO " " DEMO "/readings-first.csv");
    assert_int_equal(r.status, 1);
    assert_says(&r, "3 readings are off, no one cause found for them\n");
    assert_says(&r, "A-05   open    open  expected ");
    assert_says(&r, "B-09   stray   6.61  something is there and no cue fires it\n");
    assert_says(&r, "C-08   short   2.67  expected ");
    assert_says(&r, "43 programmed slots: 41 good, 1 open, 1 short; 4 spare, 1 stray\n");
    sm_text_deinit(&r.said);
}

static void swapped_says_so_first(void **state) {
    (void)state;
    run r = run_readings(DEMO " " DEMO "/readings-swapped.csv");
    assert_int_equal(r.status, 1);
    const char *first = "rails A and B are swapped: what reads as A is the strip and cable of B; exchange "
                        "their plugs (exchange A B) (explains 24 readings";
    assert_true(strncmp(sm_text_get(&r.said), first, strlen(first)) == 0);
    sm_text_deinit(&r.said);
    r = run_readings("--json " DEMO " " DEMO "/readings-swapped.csv");
    assert_int_equal(r.status, 1);
    assert_says(&r, "{\"finding\": \"rails-swapped\", \"rails\": [\"A\", \"B\"], \"explains\": 24, ");
    sm_text_deinit(&r.said);
}

static void fixed_is_good_and_says_what_changed(void **state) {
    (void)state;
    run r = run_readings(DEMO " " DEMO "/readings-first.csv " DEMO "/readings-fixed.csv");
    assert_int_equal(r.status, 0);
    assert_says(&r, "  A-05   was open, now good (readings-first.csv, then readings-fixed.csv)\n");
    assert_says(&r, "43 programmed slots: 43 good; 5 spare, 0 stray\n");
    assert_says(&r, "good: as predicted (continuity only; not proof that it fires)\n");
    sm_text_deinit(&r.said);
}

// No readings at all: nothing is good.
static void unread_is_not_good(void **state) {
    (void)state;
    run r = run_readings(DEMO);
    assert_int_equal(r.status, 1);
    assert_says(&r, "43 programmed slots: 0 good, 43 unread; ");
    sm_text_deinit(&r.said);
}

static void what_cannot_be_read(void **state) {
    (void)state;
    run r = run_readings(DEMO " " DEMO "/none.csv");
    assert_int_equal(r.status, 2);
    assert_says(&r, DEMO "/none.csv: error: ");
    sm_text_deinit(&r.said);
    r = run_readings(DEMO " " DEMO "/cues.csv"); // a table, but not this one
    assert_int_equal(r.status, 2);
    assert_says(&r, DEMO "/cues.csv:");
    sm_text_deinit(&r.said);
    r = run_readings("no-such-show");
    assert_int_equal(r.status, 2);
    sm_text_deinit(&r.said);
    r = run_readings("");
    assert_int_equal(r.status, 2);
    sm_text_deinit(&r.said);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(first_names_each_fault),
        cmocka_unit_test(swapped_says_so_first),
        cmocka_unit_test(fixed_is_good_and_says_what_changed),
        cmocka_unit_test(unread_is_not_good),
        cmocka_unit_test(what_cannot_be_read),
    };
    return cmocka_run_group_tests_name("readings command", tests, NULL, NULL);
}
