// SPDX-License-Identifier: GPL-3.0-or-later
// Being run in time on a machine that does other work.
#include "slowmatch/clock.h"

#include <sched.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

// The lowest of the real-time priorities: ahead of ordinary work, behind sound servers. The kernel keeps a part of each second for
// ordinary work all the same (sched(7), sched_rt_runtime_us).
#define PRIORITY 1

bool sm_thread_hurry(char why[SM_HURRY_WHY]) {
    const struct sched_param wanted = {.sched_priority = PRIORITY};
    const int error = pthread_setschedparam(pthread_self(), SCHED_RR | SCHED_RESET_ON_FORK, &wanted);
    why[0] = '\0';
    if (error == 0)
        return true;
    struct rlimit limit;
    if (getrlimit(RLIMIT_RTPRIO, &limit) == 0 && limit.rlim_cur < PRIORITY)
        snprintf(why, SM_HURRY_WHY, "the limit of real-time priority (ulimit -r) is %llu",
                 (unsigned long long)limit.rlim_cur);
    else
        snprintf(why, SM_HURRY_WHY, "%s", strerror(error));
    return false;
}

// A tenth of the weight of ordinary work (setpriority(2): niceness is a thread's own on Linux). Where it is refused the thread runs on as
// it is.
#define BACK_NICENESS 10

void sm_thread_stand_back(void) {
    (void)setpriority(PRIO_PROCESS, (id_t)gettid(), BACK_NICENESS);
}

void sm_hurried_lock_init(pthread_mutex_t *lock) {
    pthread_mutexattr_t attributes;
    pthread_mutexattr_init(&attributes);
    pthread_mutexattr_setprotocol(&attributes, PTHREAD_PRIO_INHERIT);
    pthread_mutex_init(lock, &attributes);
    pthread_mutexattr_destroy(&attributes);
}
