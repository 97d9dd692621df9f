// SPDX-License-Identifier: GPL-3.0-or-later
// Being run ahead of ordinary work: asked for, refused and not inherited; by what the kernel says (sched(7)).
#include "slowmatch/clock.h"

#include <sched.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static void *policy_of(void *context) {
    *(int *)context = sched_getscheduler(0) & ~SCHED_RESET_ON_FORK;
    return NULL;
}

// In a process of its own: 0 when all of it held, else a number that says which.
static int ask(bool allowed) {
    char why[SM_HURRY_WHY] = "x";
    if (!allowed &&
        (setrlimit(RLIMIT_RTPRIO, &(struct rlimit){0}) != 0 || (getuid() == 0 && setuid(65534) != 0)))
        return 1;
    const bool hurries = sm_thread_hurry(why);
    int own = -1, other = -1;
    policy_of(&own);
    pthread_t thread;
    if (pthread_create(&thread, NULL, policy_of, &other) != 0 || pthread_join(thread, NULL) != 0)
        return 2;
    if (other != SCHED_OTHER)
        return 3;
    if (hurries)
        return own == SCHED_RR && why[0] == '\0' && allowed ? 0 : 4;
    return own == SCHED_OTHER && (allowed || strstr(why, "(ulimit -r) is 0")) ? 0 : 5;
}

static void hold(bool allowed) {
    const pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0)
        _exit(ask(allowed));
    int status;
    assert_int_equal(waitpid(pid, &status, 0), pid);
    assert_int_equal(status, 0);
}

static void a_thread_hurries_and_what_it_starts_does_not(void **state) {
    (void)state;
    hold(true);
}

static void where_it_may_not_it_says_why(void **state) {
    (void)state;
    hold(false);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_thread_hurries_and_what_it_starts_does_not),
        cmocka_unit_test(where_it_may_not_it_says_why),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
