// SPDX-License-Identifier: GPL-3.0-or-later
// A frame as sm_ui_draw makes it, every board, in the middle of a show of 1,000,000 events that runs, against one of 100: processor time,
// the median of many frames with the clock a frame further each time. Two milliseconds at most are wanted.
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "console/ui.h"

enum { FRAMES = 101, SMALL = 100, BIG = 1000000, SIZES = 2 };
#define FRAME_US (SM_US_PER_S / 25)

static const int sizes[SIZES][2] = {{80, 24}, {200, 60}};

typedef struct rig {
    char folder[64];
    sm_show *show;
    sm_rehearsal *rehearsal;
    sm_snapshot *now;
    sm_findings *findings;
    sm_recent recent;
    sm_text noise;
    sm_audio_status sound;
    sm_day day;
    sm_wall_time wall;
    sm_ui ui;
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
    for (int i = 0; i < 100; i++) {
        fprintf(fixtures, "par-%d,par,%d,%s\n", i, 1 + 4 * i, i % 2 ? "left" : "right");
    }
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

static bool act(void *owner, const char *line) {
    rig *r = owner;
    sm_action action;
    char why[200];
    size_t at;
    need(sm_action_read(r->show, line, strlen(line), &action, why, &at) == SM_OK, line);
    sm_result result = sm_rehearsal_act(r->rehearsal, &action, SM_SOURCE_CONSOLE, r->wall);
    need(result == SM_OK, line);
    return true;
}

static void keep_row(void *context, const sm_log_row *row) {
    sm_recent_put(&((rig *)context)->recent, row);
}

static void advance(rig *r, sm_us span) {
    r->wall.us += span;
    need(sm_rehearsal_run(r->rehearsal, r->wall) == SM_OK, "does not run");
    sm_rehearsal_snapshot(r->rehearsal, r->wall, r->now);
    sm_ui_look(&r->ui);
}

static void begin(rig *r, uint32_t count) {
    memset(r, 0, sizeof *r);
    write_show(r, count);
    r->findings = sm_findings_create();
    need(r->findings && sm_show_load(r->folder, &(sm_show_load_options){0}, r->findings, &r->show) == SM_OK &&
             r->show->event_count == count,
         "does not load");
    sm_rehearsal_options options = {.sink = keep_row, .sink_context = r};
    need(sm_rehearsal_create(r->show, &options, &r->rehearsal) == SM_OK &&
             sm_snapshot_create(r->show, &r->now) == SM_OK,
         "no memory");
    sm_rehearsal_snapshot(r->rehearsal, r->wall, r->now);
    r->ui.view = (sm_view){.snapshot = r->now,
                           .show = r->show,
                           .day = &r->day,
                           .recent = &r->recent,
                           .findings = r->findings,
                           .checked = true,
                           .noise = &r->noise,
                           .rig = "",
                           .sound = &r->sound};
    r->ui.owner = r;
    r->ui.act = act;
    need(sm_ui_init(&r->ui) == SM_OK, "no memory");
    sm_ui_press(&r->ui, 'y');
    while (sm_ui_work(&r->ui)) {
    }
    static const char *const lines[] = {"seek 29:59", "call-clear K", "key on", "arm"};
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        act(r, lines[i]);
    }
    advance(r, 20 * SM_US_PER_S);
    act(r, "start");
    advance(r, 30 * SM_US_PER_S);
    need(r->now->state == SM_STATE_RUNNING, "does not play");
}

static void end(rig *r) {
    char command[128];
    snprintf(command, sizeof command, "rm -rf '%s'", r->folder);
    need(system(command) == 0, "not removed");
    sm_ui_deinit(&r->ui);
    sm_snapshot_destroy(r->now);
    sm_rehearsal_destroy(r->rehearsal);
    sm_show_destroy(r->show);
    sm_findings_destroy(r->findings);
}

static int compare(const void *left, const void *right) {
    const double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static double frame_ms(rig *r, size_t board, const int size[2]) {
    double took_ms[FRAMES];
    sm_cells *cells = sm_cells_create(size[0], size[1]);
    need(cells != NULL, "no memory");
    sm_ui_press(&r->ui, sm_board_at(board)->key);
    for (int i = 0; i < FRAMES; i++) {
        advance(r, FRAME_US);
        double began_ms = now_ms();
        sm_ui_draw(&r->ui, cells);
        took_ms[i] = now_ms() - began_ms;
    }
    sm_cells_destroy(cells);
    qsort(took_ms, FRAMES, sizeof *took_ms, compare);
    return took_ms[FRAMES / 2];
}

int main(void) {
    static rig small, big;
    setlocale(LC_CTYPE, "C.UTF-8");
    begin(&small, SMALL);
    begin(&big, BIG);
    double most_ms = 0;
    for (size_t board = 0; board < SM_BOARDS; board++) {
        if (!sm_board_is_offered(sm_board_at(board), &big.ui.view)) {
            continue;
        }
        for (size_t i = 0; i < SIZES; i++) {
            double of_small = frame_ms(&small, board, sizes[i]), of_big = frame_ms(&big, board, sizes[i]);
            most_ms = of_big > most_ms ? of_big : most_ms;
            printf("%s at %dx%d: %.3f ms, of %d events %.3f ms, x %.2f\n", sm_board_at(board)->name,
                   sizes[i][0], sizes[i][1], of_big, SMALL, of_small, of_big / of_small);
        }
    }
    printf("the slowest frame of %d events: %.3f ms (2 at most are wanted)\n", BIG, most_ms);
    end(&small);
    end(&big);
    return 0;
}
