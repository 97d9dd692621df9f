// SPDX-License-Identifier: GPL-3.0-or-later
// The paper of every demo show as it is printed on Letter: what paper_print_test does on A4.
#include "support/paper_demos.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static void on_letter(const char *html, const sm_show *show) {
    paper_demos_lay_out(html, show, "LOAD-X", PAPER_LETTER);
}

static void pages_are_whole_on_letter(void **state) {
    (void)state;
    paper_demos_each(on_letter);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(pages_are_whole_on_letter)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
