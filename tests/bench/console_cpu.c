// SPDX-License-Identifier: GPL-3.0-or-later
// The console's share of a core while it plays the demo at 1.0 in 120x40, beside two players (mpv, cmus) that play the same
// file to the same sink at the same time. The console is at or under mpv's, or this fails.
#include "../support/console_rig.h"
#include "../support/pty.h"
#include "../support/sound_rig.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define FOLDER "demo-shows/lantern-quay"
#define SPAN_S 20
#define SLICE_MS 5

static double mono_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

// Parent and CPU seconds (user and system) of process PID. False: there is none.
static bool look(int pid, int *parent, double *cpu_s) {
    char path[64], line[1024];
    snprintf(path, sizeof path, "/proc/%d/stat", pid);
    FILE *file = fopen(path, "r");
    if (!file)
        return false;
    bool got = fgets(line, sizeof line, file) != NULL;
    fclose(file);
    const char *rest = got ? strrchr(line, ')') : NULL;
    unsigned long user, kernel;
    if (!rest ||
        sscanf(rest, ") %*c %d %*d %*d %*d %*d %*u %*u %*u %*u %*u %lu %lu", parent, &user, &kernel) != 3)
        return false;
    *cpu_s = (double)(user + kernel) / (double)sysconf(_SC_CLK_TCK);
    return true;
}

// Of PID and its children.
static double cpu_with_children(int pid, int *children) {
    double all_s = 0, own_s;
    int parent;
    *children = 0;
    if (look(pid, &parent, &own_s))
        all_s = own_s;
    DIR *folder = opendir("/proc");
    for (struct dirent *entry; folder && (entry = readdir(folder));) {
        int other = atoi(entry->d_name);
        if (other > 0 && look(other, &parent, &own_s) && parent == pid) {
            all_s += own_s;
            ++*children;
        }
    }
    if (folder)
        closedir(folder);
    return all_s;
}

static bool is_here(const char *program) {
    char command[128];
    snprintf(command, sizeof command, "command -v %s >/dev/null 2>&1", program);
    return system(command) == 0;
}

static pty *start_console(const char *const *environment) {
    char program[512];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    pty *p = pty_start(120, 40, (const char *const[]){program, FOLDER, NULL}, environment);
    pty_expect(p, "no way to fire anything");
    pty_type(p, "n");
    pty_expect(p, "sound default");
    console_start_playing(p);
    return p;
}

static pty *start_mpv(const char *file) {
    return pty_start(120, 40,
                     (const char *const[]){"/usr/bin/env", "mpv", "--no-config", "--no-video", "--ao=pulse",
                                           "--term-osd-bar=no", file, NULL},
                     NULL);
}

static pty *start_cmus(const char *file, const char *const *environment) {
    char line[1100];
    pty *p = pty_start(120, 40, (const char *const[]){"/usr/bin/env", "cmus", NULL}, environment);
    pty_listen(p, 1500);
    pty_type(p, ":set output_plugin=pulse\r");
    pty_listen(p, 300);
    snprintf(line, sizeof line, ":player-play %s\r", file);
    pty_type(p, line);
    return p;
}

typedef struct player {
    const char *name;
    pty *p;
    double begun_s, share;
    int children;
} player;

static void measure(player *players, size_t count) {
    double begin_s = mono_s();
    unsigned redraws = 0;
    for (size_t i = 0; i < count; i++)
        players[i].begun_s = cpu_with_children(pty_pid(players[i].p), &players[i].children);
    while (mono_s() - begin_s < SPAN_S) {
        size_t before = pty_bytes(players[0].p);
        for (size_t i = 0; i < count; i++)
            pty_listen(players[i].p, SLICE_MS);
        redraws += pty_bytes(players[0].p) > before;
    }
    double span_s = mono_s() - begin_s;
    for (size_t i = 0; i < count; i++) {
        int children;
        players[i].share =
            (cpu_with_children(pty_pid(players[i].p), &children) - players[i].begun_s) / span_s;
    }
    printf("over %.0f s; the console redraws up to 22 times a second, and at least %.1f of these changed its "
           "120x40 screen\n",
           span_s, redraws / span_s);
}

static int judge(const player *players) {
    for (size_t i = 0; i < 3; i++) {
        printf("%-9s %5.2f %% of a core%s\n", players[i].name, 100 * players[i].share,
               i == 0 ? " (its sound process with it)" : "");
    }
    if (players[0].children != 1 || players[1].share <= 0 || players[2].share <= 0) {
        printf("one of them did not play: nothing was measured\n");
        return 1;
    }
    double to_mpv = players[0].share / players[1].share;
    printf("console to mpv %.2f, console to cmus %.2f; asked for: mpv's or less: %s\n", to_mpv,
           players[0].share / players[2].share, to_mpv <= 1 ? "met" : "NOT MET");
    return to_mpv > 1;
}

int main(void) {
    sound_rig rig;
    if (!is_here("mpv") || !is_here("cmus")) {
        printf(
            "skipped: mpv and cmus are needed to compare with (sh tests/tools/deps.sh bench brings them)\n");
        return 0;
    }
    int code = sound_rig_start(&rig, 44100);
    if (code != 0) {
        printf("skipped: no headless sound server (%s)\n", code == 77 ? "a program is missing" : "it failed");
        return code == 77 ? 0 : 1;
    }
    char here[900], file[1024], home[96], data[96], cache[96];
    snprintf(file, sizeof file, "%s/" FOLDER "/music.ogg", getcwd(here, sizeof here) ? here : ".");
    snprintf(home, sizeof home, "CMUS_HOME=%s/cmus", rig.folder);
    snprintf(data, sizeof data, "XDG_DATA_HOME=%s/data", rig.folder);
    snprintf(cache, sizeof cache, "XDG_CACHE_HOME=%s/cache", rig.folder);
    const char *const environment[] = {home, data, cache, NULL};
    player players[] = {{"slowmatch", start_console(environment), 0, 0, 0},
                        {"mpv", start_mpv(file), 0, 0, 0},
                        {"cmus", start_cmus(file, environment), 0, 0, 0}};
    for (int i = 0; i < 3; i++) // past the countdown and the beginnings
        for (size_t j = 0; j < 3; j++)
            pty_listen(players[j].p, 2000);
    measure(players, 3);
    code = judge(players);
    for (size_t i = 0; i < 3; i++)
        pty_destroy(players[i].p);
    sound_rig_stop(&rig);
    return code;
}
