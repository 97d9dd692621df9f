// SPDX-License-Identifier: GPL-3.0-or-later
// Exec to the first full screen: the console with the demo show against htop, in turn in the same pseudo-terminal of 80x24, both warm: the first run of each
// does not count. That first one, of the console, finds nothing in its cache.
// Between them a show is made by `slowmatch new` and opened, its click track never seen before.
// A screen counts as full when what its program paints last, its last row, is there to read: MAKE SAFE, and htop's F10.
// The same against the smallest program that curses can have, which is compiled here: warm, and with the files of either dropped from the
// page cache before each run (what other processes have mapped stays: of both). How much of it is linking: `slowmatch --help` to its end.
#include "../support/pty.h"

#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

enum { RUNS = 31, COLD_RUNS = 15 };

static double now_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static double run(const char *const *argv, const char *const *environment, const char *last, int stays_ms) {
    double began_s = now_s();
    pty *p = pty_start(80, 24, argv, environment);
    pty_expect_row(p, 23, last);
    double took_s = now_s() - began_s;
    pty_listen(p, stays_ms);
    pty_destroy(p);
    return took_s;
}

static int compare(const void *left, const void *right) {
    const double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static double median_of(double *values, size_t count) {
    qsort(values, count, sizeof *values, compare);
    return values[count / 2];
}

static double median(double *values) {
    return median_of(values, RUNS);
}

// ---- the smallest program ------------------------------------------------------------------------------

static bool make_smallest(const char *program) {
    char command[700];
    snprintf(
        command, sizeof command,
        "printf '#include <curses.h>\\nint main(void) { initscr(); mvaddstr(LINES - 1, 0, \"SMALLEST\"); "
        "refresh(); getch(); endwin(); return 0; }\\n' | cc -O1 -x c - -lncursesw -ltinfo -o %s",
        program);
    return system(command) == 0; // NOLINT(cert-env33-c): a compiler's work
}

// Drops from the page cache the PROGRAM, its libraries and the files of FOLDER (NULL: none).
static void drop(const char *program, const char *folder) {
    char command[1400], path[1024];
    snprintf(command, sizeof command,
             "ldd %s | sed -n 's/.*\\(\\/[^ ]*\\) (.*/\\1/p'; echo %s; [ -z '%s' ] || find '%s' -type f",
             program, program, folder ? folder : "", folder ? folder : "");
    FILE *list = popen(command, "r"); // NOLINT(cert-env33-c)
    while (list && fgets(path, sizeof path, list)) {
        path[strcspn(path, "\n")] = '\0';
        const int file = open(path, O_RDONLY | O_CLOEXEC);
        if (file >= 0) {
            (void)posix_fadvise(file, 0, 0, POSIX_FADV_DONTNEED);
            close(file);
        }
    }
    if (list)
        pclose(list);
}

static double ended(const char *program) {
    char command[600];
    snprintf(command, sizeof command, "exec %s --help >/dev/null", program);
    double began_s = now_s();
    return system(command) == 0 ? now_s() - began_s : 0; // NOLINT(cert-env33-c)
}

static void against_the_smallest(const char *program, const char *const *ours, const char *const *environment,
                                 const char *folder) {
    char smallest[128];
    snprintf(smallest, sizeof smallest, "%s/smallest", folder);
    if (!make_smallest(smallest)) {
        printf("not measured: the smallest program cannot be compiled\n");
        return;
    }
    const char *least[] = {smallest, NULL};
    double ours_s[RUNS], least_s[RUNS], linking_s[RUNS], nothing_s[RUNS];
    for (int i = 0; i < RUNS; i++) {
        ours_s[i] = run(ours, environment, "MAKE SAFE", 0);
        least_s[i] = run(least, environment, "SMALLEST", 0);
        linking_s[i] = ended(program);
        nothing_s[i] = ended("/bin/true");
    }
    const double console_s = median(ours_s), smallest_s = median(least_s);
    printf("against the smallest curses program, warm, medians of %d: console %.1f ms, it %.1f ms, ratio "
           "%.1f (2 at most is "
           "wanted); linking %.1f ms of it, %.1f times the whole of the smallest\n",
           RUNS, console_s * 1e3, smallest_s * 1e3, console_s / smallest_s,
           (median(linking_s) - median(nothing_s)) * 1e3,
           (median(linking_s) - median(nothing_s)) / smallest_s);
    for (int i = 0; i < COLD_RUNS; i++) {
        drop(program, ours[2]);
        ours_s[i] = run(ours, environment, "MAKE SAFE", 0);
        drop(smallest, NULL);
        least_s[i] = run(least, environment, "SMALLEST", 0);
    }
    const double cold_s = median_of(ours_s, COLD_RUNS), least_cold_s = median_of(least_s, COLD_RUNS);
    printf("the same cold, medians of %d: console %.1f ms, it %.1f ms, ratio %.1f (2 at most is wanted)\n",
           COLD_RUNS, cold_s * 1e3, least_cold_s * 1e3, cold_s / least_cold_s);
}

int main(void) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char program[512], data[] = "/tmp/slowmatch-bench-XXXXXX", remove[64], kept[64], cached[64];
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    if (access("/usr/bin/htop", X_OK) != 0) {
        printf("not measured: there is no /usr/bin/htop\n");
        return 0;
    }
    if (!mkdtemp(data))
        return 2;
    snprintf(kept, sizeof kept, "XDG_DATA_HOME=%s", data);
    snprintf(cached, sizeof cached, "XDG_CACHE_HOME=%s", data);
    const char *environment[] = {kept, cached, NULL}; // the same for all runs
    const char *ours[] = {program, "rehearse", "demo-shows/lantern-quay", "--silent", NULL};
    const char *theirs[] = {"/usr/bin/htop", NULL};
    char made[1200];
    snprintf(made, sizeof made, "rm -rf %s/show && %s new %s/show >/dev/null && exec %s %s/show --silent",
             data, program, data, program, data);
    const char *anew[] = {"/bin/sh", "-c", made, NULL};
    double ours_s[RUNS], theirs_s[RUNS], anew_s[RUNS];
    double first_s = run(ours, environment, "MAKE SAFE", 4000);
    run(theirs, environment, "F10", 0);
    for (int i = 0; i < RUNS; i++) {
        ours_s[i] = run(ours, environment, "MAKE SAFE", 0);
        theirs_s[i] = run(theirs, environment, "F10", 0);
        anew_s[i] = run(anew, environment, "MAKE SAFE", 0);
    }
    double console_s = median(ours_s), htop_s = median(theirs_s), made_s = median(anew_s);
    printf("first full screen, medians of %d: console %.1f ms, htop %.1f ms, ratio %.2f (a third at most is "
           "wanted)\n",
           RUNS, console_s * 1e3, htop_s * 1e3, console_s / htop_s);
    printf("the very first, with nothing in its cache: %.1f ms, ratio %.2f\n", first_s * 1e3,
           first_s / htop_s);
    printf("a show made by new, to its first full screen: %.1f ms, ratio to the console on a show that is "
           "there %.2f (a "
           "second at most is wanted)\n",
           made_s * 1e3, made_s / console_s);
    against_the_smallest(program, ours, environment, data);
    snprintf(remove, sizeof remove, "rm -rf '%s'", data);
    return system(remove) == 0 ? 0 : 2;
}
