// SPDX-License-Identifier: GPL-3.0-or-later
// Loading 1,000,000 fixture events against what sqlite3 takes to import the same CSV into memory: a process each, in turn,
// medians of 7 of processor and wall time. Once with hardly two cells alike, once with a few hundred said over and over.
#include "slowmatch/show.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { EVENTS = 1000000, RUNS = 7 };

typedef struct cost {
    double wall_s, processor_s;
} cost;

static double now_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static double seconds(struct timeval span) {
    return (double)span.tv_sec + 1e-6 * (double)span.tv_usec;
}

static uint32_t next_random(uint32_t *seed) {
    *seed = *seed * 1664525 + 1013904223; // a linear congruential generator
    return *seed >> 16;
}

static void put(const char *folder, const char *file, const char *text) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, file);
    FILE *const out = fopen(path, "w");
    if (!out || fputs(text, out) == EOF || fclose(out) != 0)
        exit(2);
}

// CELLS different cells, 0: a new one for each row.
static void write_cues(const char *folder, uint32_t cells) {
    char path[128];
    uint32_t seed = 1;
    snprintf(path, sizeof path, "%s/cues.csv", folder);
    FILE *const out = fopen(path, "w");
    if (!out)
        exit(2);
    fputs("time,target,do,fade,lasts,note\n", out);
    for (uint32_t i = 0; i < EVENTS; i++) {
        const uint32_t ms = i * 40;
        uint32_t levels = cells > 0 ? next_random(&seed) % cells : seed + i;
        fprintf(out, "%u:%02u.%03u,par-1,dim=%u red=%u green=%u blue=%u,%s,,%s\n", ms / 60000, ms / 1000 % 60,
                ms % 1000, next_random(&levels) % 256, next_random(&levels) % 256, next_random(&levels) % 256,
                next_random(&levels) % 256, i % 3 == 0 ? "0.5" : "", i % 4 == 0 ? "on the beat" : "");
    }
    if (fclose(out) != 0)
        exit(2);
}

// In the child: loads FOLDER, or has sqlite3 import its cues.
static void work(const char *folder, bool is_ours) {
    if (is_ours) {
        sm_show *show = NULL;
        sm_findings *const findings = sm_findings_create();
        const sm_result result = findings ? sm_show_load(folder, NULL, findings, &show) : SM_NO_MEMORY;
        _exit(result == SM_OK && show->event_count == EVENTS ? 0 : 1);
    }
    char import[256];
    const int nowhere = open("/dev/null", O_WRONLY);
    snprintf(import, sizeof import, ".import --csv %s/cues.csv cues", folder);
    dup2(nowhere, STDOUT_FILENO);
    execlp("sqlite3", "sqlite3", ":memory:", import, (char *)NULL);
    _exit(127);
}

static cost run(const char *folder, bool is_ours) {
    const double began_s = now_s();
    const pid_t child = fork();
    if (child == 0)
        work(folder, is_ours);
    int status;
    struct rusage used;
    if (child < 0 || wait4(child, &status, 0, &used) != child || status != 0) {
        printf("not measured: %s\n", is_ours ? "the show does not load" : "sqlite3 does not import");
        exit(is_ours ? 1 : 0);
    }
    return (cost){now_s() - began_s, seconds(used.ru_utime) + seconds(used.ru_stime)};
}

static int compare(const void *left, const void *right) {
    const double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

static double median(double *values) {
    qsort(values, RUNS, sizeof *values, compare);
    return values[RUNS / 2];
}

static void measure(const char *folder, const char *what) {
    double wall_s[2][RUNS], processor_s[2][RUNS];
    for (int i = 0; i < RUNS; i++) {
        for (int ours = 0; ours < 2; ours++) {
            const cost spent = run(folder, ours == 1);
            wall_s[ours][i] = spent.wall_s;
            processor_s[ours][i] = spent.processor_s;
        }
    }
    const double theirs_s = median(processor_s[0]), ours_s = median(processor_s[1]);
    const double their_wall_s = median(wall_s[0]), our_wall_s = median(wall_s[1]);
    printf("%d fixture events, %s: processor time %.3f s, sqlite3 import %.3f s, ratio %.2f; wall %.3f s, "
           "%.3f s, "
           "ratio %.2f\n",
           EVENTS, what, ours_s, theirs_s, ours_s / theirs_s, our_wall_s, their_wall_s,
           our_wall_s / their_wall_s);
}

int main(void) {
    static const char *const files[] = {"show.ini", "profiles.csv", "fixtures.csv", "cues.csv"};
    char folder[] = "/tmp/slowmatch-bench-XXXXXX";
    if (!mkdtemp(folder))
        return 2;
    put(folder, "show.ini", "[show]\ntitle = Bench\n");
    put(folder, "profiles.csv", "name,channels\npar,dim red green blue\n");
    put(folder, "fixtures.csv", "name,profile,address\npar-1,par,1\n");
    write_cues(folder, 0);
    measure(folder, "hardly two cells alike");
    write_cues(folder, 300);
    measure(folder, "300 cells over and over");
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        char path[128];
        snprintf(path, sizeof path, "%s/%s", folder, files[i]);
        unlink(path);
    }
    rmdir(folder);
    return 0;
}
