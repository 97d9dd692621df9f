// SPDX-License-Identifier: GPL-3.0-or-later
#include "at_once.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

typedef struct beside {
    char **argv;
    const char *name;
    pid_t pid;
    FILE *said;
    struct beside *next; // begins when this one has ended; NULL: none
} beside;

static void start(beside *one) {
    one->said = tmpfile();
    assert_non_null(one->said);
    fflush(NULL);
    one->pid = fork();
    assert_true(one->pid >= 0);
    if (one->pid != 0)
        return;
    dup2(fileno(one->said), 1);
    dup2(fileno(one->said), 2);
    execv(one->argv[0], (char *[]){one->argv[0], (char *)(uintptr_t)one->name, NULL});
    _exit(127);
}

static void ended_well(void **state) {
    beside *one = *state;
    char line[1000];
    int status;
    assert_int_equal(waitpid(one->pid, &status, 0), one->pid);
    if (one->next)
        start(one->next);
    rewind(one->said);
    while (fgets(line, sizeof line, one->said)) // not its own closing lines, which are counted
        if (line[0] != '[' || status != 0)
            print_message("| %s", line);
    fclose(one->said);
    assert_int_equal(status, 0);
}

int at_once_run(const char *group, const struct CMUnitTest *tests, size_t count, size_t width, char **argv) {
    struct CMUnitTest waits[AT_ONCE_MAX];
    beside all[AT_ONCE_MAX];
    assert_true(count <= AT_ONCE_MAX && width > 0);
    for (size_t i = 0; i < count && argv[1]; i++)
        if (strcmp(tests[i].name, argv[1]) == 0)
            return _cmocka_run_group_tests(group, &tests[i], 1, NULL, NULL);
    if (argv[1])
        return 2;
    for (size_t i = 0; i < count; i++) {
        all[i] =
            (beside){.argv = argv, .name = tests[i].name, .next = i + width < count ? &all[i + width] : NULL};
        waits[i] =
            (struct CMUnitTest){.name = tests[i].name, .test_func = ended_well, .initial_state = &all[i]};
    }
    for (size_t i = 0; i < count && i < width; i++)
        start(&all[i]);
    return _cmocka_run_group_tests(group, waits, count, NULL, NULL);
}
