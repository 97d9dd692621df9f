// SPDX-License-Identifier: GPL-3.0-or-later
// The paper of every demo show, as it is printed on A4 (and on Letter: paper_letter_test) by a program that is none of ours
// (WeasyPrint, read back by pdftotext of Poppler).
#include "support/paper_demos.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void on_a4(const char *html, const sm_show *show) {
    paper_demos_lay_out(html, show, "LIST,LINE-line-1,FEEDS,STOCK", PAPER_A4);
}

// 200 kB, and for each firing beyond a small show's the rows that it has on LOAD, OHMS, TIME, CALLS and AFTER.
static void size(const char *html, const sm_show *show) {
    const size_t most = 200000,
                 more = show->firing_count > PAPER_DEMOS_WHOLE ? show->firing_count - PAPER_DEMOS_WHOLE : 0;
    assert_true(strlen(html) < most + more * 1600);
}

static void everything_stands_on_one_sheet(void **state) {
    (void)state;
    paper_demos_each(paper_html_check);
}

static void pages_are_whole_on_a4(void **state) {
    (void)state;
    paper_demos_each(on_a4);
}

static void the_file_is_small(void **state) {
    (void)state;
    paper_demos_each(size);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(everything_stands_on_one_sheet),
        cmocka_unit_test(pages_are_whole_on_a4),
        cmocka_unit_test(the_file_is_small),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
