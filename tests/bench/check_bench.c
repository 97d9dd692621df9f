// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch check of 1,000,000 fixture events (60 MB), load included, against what sqlite3 takes just to import that CSV
// into memory: whole processes, taken in turn, medians of 7, by the wall clock and (steadier on a busy machine) by the
// processor time that they use. The aim is at most 0.25.
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { EVENTS = 1000000, FIXTURES = 500, CHANNELS = 8, RUNS = 7 };

static double now_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static FILE *open_in(const char *folder, const char *file) {
    char path[512];
    snprintf(path, sizeof path, "%s/%s", folder, file);
    FILE *out = fopen(path, "wb");
    if (!out)
        exit(2);
    return out;
}

static void write_tables(const char *folder) {
    FILE *out = open_in(folder, "show.ini");
    fprintf(out, "[show]\ntitle = Bench\n");
    fclose(out);
    out = open_in(folder, "profiles.csv");
    fprintf(out, "name,channels\nlamp,red green blue white dim strobe pan tilt\n");
    fclose(out);
    out = open_in(folder, "fixtures.csv");
    fprintf(out, "name,profile,universe,address\n");
    for (int f = 0; f < FIXTURES; f++)
        fprintf(out, "lamp-%d,lamp,%d,%d\n", 100 + f, 1 + f / 64, 1 + f % 64 * CHANNELS);
    fclose(out);
    out = open_in(folder, "lines.csv");
    fprintf(out, "name,universe,chain");
    for (int f = 0; f < FIXTURES; f++) {
        if (f % 32 == 0)
            fprintf(out, "\nline-%d,%d,", f / 32, 1 + f / 64);
        fprintf(out, "lamp-%d ", 100 + f);
    }
    fprintf(out, "\n");
    fclose(out);
}

// An event each 10 ms, so a lamp every 5 s: nothing clashes, and no rule finds anything.
static long write_cues(const char *folder) {
    FILE *out = open_in(folder, "cues.csv");
    fprintf(out, "time,target,do,fade,lasts,note\n");
    for (int i = 0; i < EVENTS; i++)
        fprintf(out, "%d:%02d:%06.3f,lamp-%d,red=%d green=%d blue=128,0.5 s,%d.5 s,w\n", i / 360000,
                i / 6000 % 60, (double)(i % 6000) / 100.0, 100 + i * 7 % FIXTURES, 1 + i % 255, i / 3 % 256,
                1 + i % 3);
    const long size = ftell(out);
    fclose(out);
    return size;
}

typedef struct cost {
    double wall_s, processor_s;
} cost;

static double seconds(struct timeval span) {
    return (double)span.tv_sec + 1e-6 * (double)span.tv_usec;
}

// What a command takes, its output thrown away.
static cost run(char *const argv[], int *status) {
    const double began_s = now_s();
    const pid_t child = fork();
    if (child == 0) {
        const int nowhere = open("/dev/null", O_WRONLY);
        dup2(nowhere, STDOUT_FILENO);
        execvp(argv[0], argv);
        _exit(127);
    }
    struct rusage used;
    if (child < 0 || wait4(child, status, 0, &used) != child)
        exit(2);
    *status = WIFEXITED(*status) ? WEXITSTATUS(*status) : 128;
    return (cost){now_s() - began_s, seconds(used.ru_utime) + seconds(used.ru_stime)};
}

static int compare(const void *left, const void *right) {
    const double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

// The medians of wall and processor time, each by itself.
static cost median(const cost runs[RUNS]) {
    double wall_s[RUNS], processor_s[RUNS];
    for (int i = 0; i < RUNS; i++) {
        wall_s[i] = runs[i].wall_s;
        processor_s[i] = runs[i].processor_s;
    }
    qsort(wall_s, RUNS, sizeof *wall_s, compare);
    qsort(processor_s, RUNS, sizeof *processor_s, compare);
    return (cost){wall_s[RUNS / 2], processor_s[RUNS / 2]};
}

static int measure(const char *folder, long size) {
    char program[512], import[512];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    snprintf(import, sizeof import, ".import --csv %s/cues.csv cues", folder);
    char *const check[] = {program, (char[]){"check"}, strdup(folder), NULL};
    char *const sqlite[] = {(char[]){"sqlite3"}, (char[]){":memory:"}, import, NULL};
    cost check_s[RUNS], sqlite_s[RUNS];
    int check_status = 0, sqlite_status = 0;
    for (int i = 0; i < RUNS && check_status == 0 && sqlite_status == 0; i++) {
        check_s[i] = run(check, &check_status);
        sqlite_s[i] = run(sqlite, &sqlite_status);
    }
    free(check[2]);
    if (check_status != 0 || sqlite_status != 0) {
        printf("not measured: slowmatch check ends with %d, sqlite3 with %d (127: not there)\n", check_status,
               sqlite_status);
        return check_status != 0;
    }
    const cost ours = median(check_s), theirs = median(sqlite_s);
    printf("%d fixture events, %.1f MB: check %.3f s, sqlite3 import %.3f s, ratio %.2f (at most 0.25)\n",
           EVENTS, (double)size / 1e6, ours.wall_s, theirs.wall_s, ours.wall_s / theirs.wall_s);
    printf("processor time: check %.3f s, sqlite3 import %.3f s, ratio %.2f\n", ours.processor_s,
           theirs.processor_s, ours.processor_s / theirs.processor_s);
    return 0;
}

int main(void) {
    char folder[] = "/tmp/slowmatch-bench-XXXXXX";
    if (!mkdtemp(folder))
        return 2;
    write_tables(folder);
    const int status = measure(folder, write_cues(folder));
    static const char *const files[] = {"show.ini", "profiles.csv", "fixtures.csv", "lines.csv", "cues.csv"};
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        char path[512];
        snprintf(path, sizeof path, "%s/%s", folder, files[i]);
        unlink(path);
    }
    rmdir(folder);
    return status;
}
