// SPDX-License-Identifier: GPL-3.0-or-later
// A finding speaks in the units of the cell at which it stands, in its message and in its figures.
#include "support/check_folder.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#define BASE "tests/data/check/base"
#define COUNT(array) (sizeof(array) / sizeof *(array))

static const struct {
    const char *file, *from, *to; // the one change
    const char *rule, *says;      // part of the message
    double value, limit;
    const char *unit;
} rows[] = {
    // Lengths. Desk to pole is 15.50 m: sqrt(1.524^2 + (20 - 4.572)^2), with 1 m of slack 16.51 m or 54.14 ft.
    {"lines.csv", "60ft 3m", "50ft 3m", "line-cable-short", "is 50 ft; from desk to pole it is 50.87 ft", 50,
     54.1440, "ft"},
    {"lines.csv", "60ft 3m", "1500mm 3m", "line-cable-short",
     "is 1500 mm; from desk to pole it is 15504 mm on the ground, with slack 16504 mm", 1500, 16503.09, "mm"},
    {"lines.csv", "60ft 3m", "600in 3m", "line-cable-short", "is 600 in;", 600, 649.728, "in"},
    {"positions.csv", "rear,0 m,50 m", "rear,0 m,139 ft", "distance-short",
     "139 ft from the audience front; the figure used is "
     "140 ft",
     139, 140, "ft"},
    {"positions.csv", "rear,0 m,50 m", "rear,0 m,42.67 m", "distance-short",
     "42.67 m from the audience front; the figure used is "
     "42.68 m (140 ft",
     42.67, 42.672, "m"},
    // Currents
    {"modules.csv", "10 ms,3,10 mA", "10 ms,3,0.021 A", "test-current-high",
     "tests with 0.021 A, at most 0.02 A", 0.021, 0.02, "A"},
    {"modules.csv", "10 ms,3,10 mA", "10 ms,3,21", "test-current-high", "tests with 21 mA, at most 20 mA", 21,
     20, "mA"},
    {"feeds.csv", "10 A,10 m", "900 mA,10 m", "breaker-over", "carries 1391.3 mA", 1391.304, 900, "mA"},
    // Moments, as the row writes them; figures in seconds
    {"cues.csv", "0:40.000,C-02", "1:40.5,C-02", "past-end",
     "the cue is at 1:40.500, 40.5 s after the show's end at 1:00.000", 100.5, 60, "s"},
    {"cues.csv", "0:40.000,C-02", "100.25,C-02", "past-end",
     "at 100.25 s, 40.25 s after the show's end at 60 s", 100.25, 60, "s"},
    {"cues.csv", "0:40.000,C-02", "0:01:40,C-02", "past-end", "at 0:01:40.000,", 100, 60, "s"},
    {"cues.csv", "0:40.000,C-02", "01:01:40:12,C-02", "past-end",
     "at 01:01:40:12, 40.48 s after the show's end at 01:01:00:00", 100.48, 60, "s"},
    {"cues.csv", "0:01.000,pars", "-6.5,pars", "before-start",
     "set at -6.5 s, before the countdown begins at -5 s", -6.5, -5, "s"},
    {"cues.csv", "0:08.000,A-02", "0:05.205,A-02", "gap-short",
     "A-02 fires 5 ms after B-01 (line 4); module north needs 10 ms", 0.005, 0.010, "s"},
    {"cues.csv", "flame=255,,1.5 s", "flame=255,,2500 ms", "flame-too-long",
     "burns for 2.5 s from 0:16.000 on; its longest is 2 s", 2.5, 2, "s"},
    {"show.ini", "length = 1:00\ncountdown", "length = 0:41\ncountdown", "expect-differs",
     "the show is 0:41.000 long, expected is 1:00.000", 41, 60, "s"},
};

static void near_to(double found, double expected) {
    if (!(fabs(found - expected) <= 1e-5 * fabs(expected) + 1e-9))
        fail_msg("%.9g is not %.9g", found, expected);
}

static void figures_are_in_the_units_of_the_cell(void **state) {
    (void)state;
    for (size_t i = 0; i < COUNT(rows); i++) {
        check_folder folder;
        check_case test;
        const sm_finding *found = NULL;
        check_folder_init(&folder, BASE);
        check_folder_edit(&folder, rows[i].file, rows[i].from, rows[i].to);
        check_case_init(&test, &folder, NULL);
        for (size_t n = 0; n < sm_findings_count(test.report->findings); n++)
            if (strcmp(sm_findings_at(test.report->findings, n)->rule, rows[i].rule) == 0)
                found = sm_findings_at(test.report->findings, n);
        const char *message = found ? found->message : "nothing";
        if (!strstr(message, rows[i].says)) {
            check_case_print(&test);
            fail_msg("\"%s\" does not say \"%s\"", message, rows[i].says);
        }
        if (!found)
            continue; // never: for the analyser, which does not know that a failed test ends here
        near_to(found->value, rows[i].value);
        near_to(found->limit, rows[i].limit);
        assert_string_equal(found->unit, rows[i].unit);
        check_case_deinit(&test);
        check_folder_deinit(&folder);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_are_in_the_units_of_the_cell),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
