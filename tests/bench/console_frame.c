// SPDX-License-Identifier: GPL-3.0-or-later
// A frame as sm_frame_draw makes it, every board, in the middle of a show of 1,000,000 events that runs, against one of 100 and the large demo show: processor time,
// the median of many frames with the clock a frame further each time. Two milliseconds at most are wanted.
#include "../support/desk.h"

#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { FRAMES = 101, SMALL = 100, BIG = 1000000, SIZES = 2 };
#define FRAME_US (SM_US_PER_S / 25)

static const int sizes[SIZES][2] = {{80, 24}, {200, 60}};

typedef struct rig {
    char folder[64];
    desk desk;
} rig;

static void need(bool so, const char *what) {
    if (!so) {
        fprintf(stderr, "console_frame: %s\n", what);
        exit(2);
    }
}

static double now_ms(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec * 1e3 + 1e-6 * (double)now.tv_nsec;
}

static FILE *file_in(const rig *r, const char *name) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", r->folder, name);
    FILE *file = fopen(path, "w");
    need(file != NULL, path);
    return file;
}

static void put(const rig *r, const char *name, const char *text) {
    FILE *file = file_in(r, name);
    need(fputs(text, file) >= 0 && fclose(file) == 0, name);
}

// Two rails, flame and lights; COUNT events over a show of an hour whatever their number; a tenth of a percent fires, the rest is light.
static void write_show(rig *r, uint32_t count) {
    strcpy(r->folder, "/tmp/slowmatch-bench-XXXXXX");
    need(mkdtemp(r->folder) != NULL, "no folder");
    put(r, "show.ini", "[show]\ntitle = Bench\nlength = 1:00:00\n");
    put(r, "positions.csv", "name,x,y\nleft,-20,0\nright,20,0\n");
    put(r, "modules.csv", "name,slots\nM1,64\n");
    put(r, "rails.csv", "name,module,first,slots,position\nA,M1,1,32,left\nB,M1,33,32,right\n");
    put(r, "effects.csv", "name,lead,lasts,zone\nfountain,0,10 s,ground\n");
    put(r, "profiles.csv", "name,channels\npar,dim red green blue\n");
    FILE *fixtures = file_in(r, "fixtures.csv"), *cues = file_in(r, "cues.csv");
    fputs("name,profile,address,position\n", fixtures);
    for (int i = 0; i < 100; i++)
        fprintf(fixtures, "par-%d,par,%d,%s\n", i, 1 + 4 * i, i % 2 ? "left" : "right");
    fputs("time,target,do\n", cues);
    for (uint32_t i = 0; i < count; i++) {
        double at_s = 3600.0 * i / count;
        if (i % (count / 50) == count / 100) {
            uint32_t slot = i / (count / 50);
            fprintf(cues, "%.6f,%c-%02u,fountain\n", at_s, 'A' + (slot / 32 ? 1 : 0), slot % 32 + 1);
        } else {
            fprintf(cues, "%.6f,par-%u,dim=%u\n", at_s, i % 100, i % 256);
        }
    }
    need(fclose(fixtures) == 0 && fclose(cues) == 0, "not written");
}

// Opens FOLDER and plays it from half a minute after SEEK.
static void play(desk *d, const char *folder, const char *seek) {
    desk_begin(d, &(desk_options){.folder = folder});
    desk_press(d, 'y');
    (void)desk_work(d);
    const char *const lines[] = {seek, "call-clear K", "key on", "arm"};
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        need(desk_act(d, lines[i], SM_SOURCE_CONSOLE) == SM_OK, lines[i]);
    desk_advance(d, 20 * SM_US_PER_S);
    need(desk_act(d, "start", SM_SOURCE_CONSOLE) == SM_OK, "start");
    desk_advance(d, 30 * SM_US_PER_S);
    need(d->now->state == SM_STATE_RUNNING, "does not play");
}

static void begin(rig *r, uint32_t count) {
    memset(r, 0, sizeof *r);
    write_show(r, count);
    play(&r->desk, r->folder, "seek 29:59");
    need(r->desk.show->event_count == count, "does not load");
}

static void end(rig *r) {
    char command[128];
    snprintf(command, sizeof command, "rm -rf '%s'", r->folder);
    need(system(command) == 0, "not removed");
    desk_end(&r->desk);
}

static int compare(const void *left, const void *right) {
    const double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static double frame_ms(desk *d, size_t board, const int size[2]) {
    double took_ms[FRAMES];
    desk_size(d, size[0], size[1]);
    desk_press(d, sm_board_at(board)->key);
    for (int i = 0; i < FRAMES; i++) {
        desk_advance(d, FRAME_US);
        double began_ms = now_ms();
        sm_frame_draw(&d->ui, d->cells);
        took_ms[i] = now_ms() - began_ms;
    }
    qsort(took_ms, FRAMES, sizeof *took_ms, compare);
    return took_ms[FRAMES / 2];
}

int main(void) {
    static rig small, big;
    static desk large;
    setlocale(LC_CTYPE, "C.UTF-8");
    begin(&small, SMALL);
    begin(&big, BIG);
    play(&large, "demo-shows/tallow-weir", "seek 8:20");
    double most_ms = 0;
    for (size_t board = 0; board < SM_BOARDS; board++) {
        if (!sm_board_is_offered(sm_board_at(board), &big.desk.ui.view))
            continue;
        for (size_t i = 0; i < SIZES; i++) {
            double of_small = frame_ms(&small.desk, board, sizes[i]),
                   of_big = frame_ms(&big.desk, board, sizes[i]);
            double of_large = frame_ms(&large, board, sizes[i]);
            most_ms = of_big > most_ms ? of_big : most_ms;
            most_ms = of_large > most_ms ? of_large : most_ms;
            printf("%s at %dx%d: %.3f ms, of %d events %.3f ms, x %.2f; of 24 rails and 168 units %.3f ms\n",
                   sm_board_at(board)->name, sizes[i][0], sizes[i][1], of_big, SMALL, of_small,
                   of_big / of_small, of_large);
        }
    }
    printf("the slowest frame of %d events, or of the large demo show: %.3f ms (2 at most are wanted)\n", BIG,
           most_ms);
    end(&small);
    end(&big);
    desk_end(&large);
    return 0;
}
