// SPDX-License-Identifier: GPL-3.0-or-later
// How late the log's rows are: the 99th percentile of late_us over 10,000 events a millisecond apart, beside that of a bare
// 1 ms timer in the same run; idle, and with a busy loop for each core. Best of three. At most twice the bare timer's, or
// 2 ms if that is more, or this fails.
#include "slowmatch/base.h"

#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#define EVENTS 10000
#define TICKS_MOST 60000
#define TRIES 3
#define BOUND_US 2000

typedef struct timer {
    atomic_bool over;
    int64_t *late_us;
    size_t count;
} timer;

static int compare(const void *a, const void *b) {
    int64_t left = *(const int64_t *)a, right = *(const int64_t *)b;
    return left < right ? -1 : left > right;
}

static int64_t p99(int64_t *values, size_t count) {
    qsort(values, count, sizeof *values, compare);
    return count > 0 ? values[count * 99 / 100] : 0;
}

static void *run_timer(void *context) {
    timer *own = context;
    struct timespec due, now;
    clock_gettime(CLOCK_MONOTONIC, &due);
    while (!atomic_load(&own->over) && own->count < TICKS_MOST) {
        due.tv_nsec += 1000000;
        due.tv_sec += due.tv_nsec / 1000000000;
        due.tv_nsec %= 1000000000;
        clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &due, NULL);
        clock_gettime(CLOCK_MONOTONIC, &now);
        own->late_us[own->count++] = (now.tv_sec - due.tv_sec) * 1000000 + (now.tv_nsec - due.tv_nsec) / 1000;
    }
    return NULL;
}

static void put(const char *folder, const char *name, const char *head, int events) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    if (!file) {
        perror(path);
        exit(1);
    }
    fputs(head, file);
    for (int i = 0; i < events; i++)
        fprintf(file, "%d.%03d,L1,dim=%d\n", i / 1000, i % 1000, i % 256);
    fclose(file);
}

// Reads late_us of each `set` row of the program's output; returns how many.
static size_t run_show(const char *folder, int64_t *late_us) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char command[512], line[512];
    snprintf(command, sizeof command, "%s/slowmatch %s --headless --silent", build ? build : "build", folder);
    FILE *rows = popen(command, "r");
    size_t count = 0;
    while (rows && fgets(line, sizeof line, rows))
        if (strstr(line, ",engine,set,") && count < EVENTS)
            late_us[count++] = strtoll(strrchr(line, ',') + 1, NULL, 10);
    return rows && pclose(rows) == 0 ? count : 0;
}

// One run; true where the bound is met.
static bool measure(const char *folder) {
    static int64_t rows[EVENTS], ticks[TICKS_MOST];
    timer bare = {.late_us = ticks};
    pthread_t thread;
    if (pthread_create(&thread, NULL, run_timer, &bare) != 0)
        return false;
    size_t count = run_show(folder, rows);
    atomic_store(&bare.over, true);
    pthread_join(thread, NULL);
    int64_t own_us = p99(rows, count), bare_us = p99(ticks, bare.count);
    int64_t most_us = 2 * bare_us > BOUND_US ? 2 * bare_us : BOUND_US;
    printf("  %zu rows: p99 %lld us; bare 1 ms timer, %zu ticks: p99 %lld us; ratio %.2f\n", count,
           (long long)own_us, bare.count, (long long)bare_us,
           (double)own_us / (double)(bare_us > 0 ? bare_us : 1));
    fflush(stdout);
    return count == EVENTS && own_us <= most_us;
}

static bool best_of_three(const char *folder, const char *how, long loops) {
    pid_t busy[64];
    loops = loops > 64 ? 64 : loops;
    printf("%s:\n", how);
    fflush(stdout);
    for (long i = 0; i < loops; i++) {
        busy[i] = fork();
        while (busy[i] == 0) {
        }
    }
    bool met = false;
    for (int i = 0; i < TRIES; i++)
        met = measure(folder) || met;
    for (long i = 0; i < loops; i++) {
        if (busy[i] > 0) {
            kill(busy[i], SIGKILL);
            waitpid(busy[i], NULL, 0);
        }
    }
    printf("  asked for: twice the bare timer's or %d us, in the best of three: %s\n", BOUND_US,
           met ? "met" : "NOT MET");
    return met;
}

int main(void) {
    char folder[] = "/tmp/slowmatch-late-XXXXXX", command[64];
    if (!mkdtemp(folder)) {
        perror(folder);
        return 1;
    }
    put(folder, "show.ini",
        "[show]\ntitle = Late\nlength = 10.5\ncountdown = 0.2 s\n[limits]\narm-time = 0.2 s\n", 0);
    put(folder, "modules.csv", "name,slots\nM,8\n", 0);
    put(folder, "rails.csv", "name,module,first,slots\nA,M,1,8\n", 0);
    put(folder, "profiles.csv", "name,channels\nlamp,dim\n", 0);
    put(folder, "fixtures.csv", "name,profile,address\nL1,lamp,1\n", 0);
    put(folder, "cues.csv", "time,target,do\n", EVENTS);
    bool idle = best_of_three(folder, "idle (nothing added)", 0);
    bool busy = best_of_three(folder, "each core busy", sysconf(_SC_NPROCESSORS_ONLN));
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command) == 0 && idle && busy ? 0 : 1;
}
