// SPDX-License-Identifier: GPL-3.0-or-later
// Disks that are full at each write, and one that goes away under a console (tests/tools/full_disk.sh, in a namespace of its own). Every page
// more in `make soak`.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>

#include <cmocka.h>

#define NO_NAMESPACES 77

static void a_full_disk_is_told_and_loses_nothing(void **state) {
    (void)state;
    const char *build = getenv("SLOWMATCH_BUILD");
    char line[512];
    snprintf(line, sizeof line,
             "sh tests/tools/full_disk.sh \"$(realpath '%s')\"/slowmatch demo-shows/first-light %s",
             build ? build : "build", getenv("SLOWMATCH_SOAK") ? "1 120" : "17 34");
    const int ended = system(line); // NOLINT(cert-env33-c): the tests' own
    assert_true(WIFEXITED(ended));
    if (WEXITSTATUS(ended) == NO_NAMESPACES)
        skip();
    assert_int_equal(WEXITSTATUS(ended), 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_full_disk_is_told_and_loses_nothing),
    };
    return cmocka_run_group_tests_name("full_disk", tests, NULL, NULL);
}
