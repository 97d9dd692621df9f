// SPDX-License-Identifier: GPL-3.0-or-later
// The score board over a show of about 1,000,000 events: a frame, a key and what is done between keys, under every filter,
// beside the same over a show of 100. Median and worst of many, as processor time of this thread; and how long a search takes
// in all.
#include "boards/score/score.h"

#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum { FRAMES = 300, SLOTS = 1024, MILLION = 1000000, HUNDRED = 100 };

typedef struct rig {
    sm_show *show;
    sm_snapshot *now;
    sm_view view;
    void *state;
    sm_cells *cells;
} rig;

static double now_ms(void) {
    struct timespec now;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return 1e3 * (double)now.tv_sec + 1e-6 * (double)now.tv_nsec;
}

static int compare(const void *left, const void *right) {
    const double a = *(const double *)left, b = *(const double *)right;
    return a < b ? -1 : a > b;
}

static void put(const char *folder, const char *file, const char *text) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, file);
    FILE *out = fopen(path, "w");
    if (!out || fputs(text, out) == EOF || fclose(out) != 0)
        exit(2);
}

// About COUNT events: every 40 ms a lamp, every tenth time eight lamps at once and a second cue, now and then a firing.
static void write_cues(const char *folder, uint32_t count) {
    char path[128];
    snprintf(path, sizeof path, "%s/cues.csv", folder);
    FILE *out = fopen(path, "w");
    if (!out)
        exit(2);
    fputs("time,target,do,note\n", out);
    uint32_t events = 0, fired = 0, each = count / SLOTS + 1;
    for (uint32_t i = 0; events < count; i++) {
        uint32_t ms = i * 40;
        fprintf(out, "%u:%02u.%03u,par-%u,dim=%u,%s\n", ms / 60000, ms / 1000 % 60, ms % 1000, i % 64 + 1,
                i % 256, i % 9999 == 0 ? "needle" : "on the beat");
        events++;
        if (i % 10 == 0) {
            fprintf(out, "%u:%02u.%03u,row-%u,dim=9,\n", ms / 60000, ms / 1000 % 60, ms % 1000, i % 8 + 1);
            events += 8;
        }
        if (i % each == 0 && fired < SLOTS) {
            fprintf(out, "%u:%02u.%03u,R%02u-%02u,comet,\n", ms / 60000, ms / 1000 % 60, ms % 1000,
                    fired / 32 + 1, fired % 32 + 1);
            events++;
            fired++;
        }
    }
    if (fclose(out) != 0)
        exit(2);
}

static void write_show(const char *folder, uint32_t count) {
    sm_text modules = {0}, rails = {0}, fixtures = {0}, groups = {0};
    sm_text_printf(&modules, "name,slots\n");
    sm_text_printf(&rails, "name,module,first,slots,position\n");
    sm_text_printf(&fixtures, "name,profile,universe,address,position\n");
    sm_text_printf(&groups, "name,members\n");
    for (int i = 1; i <= SLOTS / 32; i++) {
        sm_text_printf(&modules, "M%02d,32\n", i);
        sm_text_printf(&rails, "R%02d,M%02d,1,32,%s\n", i, i, i % 2 ? "left" : "right");
    }
    for (int i = 0; i < 64; i++) {
        sm_text_printf(&fixtures, "par-%d,par,%d,%d,%s\n", i + 1, i / 4 + 1, 1 + i % 4,
                       i % 2 ? "left" : "right");
    }
    for (int i = 0; i < 8; i++) {
        sm_text_printf(&groups, "row-%d,", i + 1);
        for (int j = 0; j < 8; j++)
            sm_text_printf(&groups, "%spar-%d", j > 0 ? " " : "", 8 * i + j + 1);
        sm_text_printf(&groups, "\n");
    }
    put(folder, "show.ini", "[show]\ntitle = Bench\n");
    put(folder, "positions.csv", "name,x,y\nleft,-5,20\nright,5,20\n");
    put(folder, "effects.csv", "name,lead,lasts\ncomet,0,1\n");
    put(folder, "profiles.csv", "name,channels\npar,dim\n");
    put(folder, "modules.csv", sm_text_get(&modules));
    put(folder, "rails.csv", sm_text_get(&rails));
    put(folder, "fixtures.csv", sm_text_get(&fixtures));
    put(folder, "groups.csv", sm_text_get(&groups));
    sm_text_deinit(&modules);
    sm_text_deinit(&rails);
    sm_text_deinit(&fixtures);
    sm_text_deinit(&groups);
    write_cues(folder, count);
}

static void remove_show(const char *folder) {
    static const char *const files[] = {"show.ini",     "positions.csv", "effects.csv",
                                        "profiles.csv", "modules.csv",   "rails.csv",
                                        "fixtures.csv", "groups.csv",    "cues.csv"};
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        char path[128];
        snprintf(path, sizeof path, "%s/%s", folder, files[i]);
        unlink(path);
    }
    rmdir(folder);
}

static rig make(uint32_t count) {
    char folder[] = "/tmp/slowmatch-bench-XXXXXX";
    rig r = {0};
    sm_findings *findings = sm_findings_create();
    if (!mkdtemp(folder) || !findings)
        exit(2);
    write_show(folder, count);
    sm_rehearsal *rehearsal = NULL;
    sm_rehearsal_options options = {0};
    if (sm_show_load(folder, NULL, findings, &r.show) != SM_OK ||
        sm_rehearsal_create(r.show, &options, &rehearsal) != SM_OK ||
        sm_snapshot_create(r.show, &r.now) != SM_OK) {
        const sm_finding *first = sm_findings_at(findings, 0);
        printf("the show does not load: %s\n", first ? first->message : "");
        exit(1);
    }
    sm_rehearsal_snapshot(rehearsal, (sm_wall_time){0}, r.now);
    r.now->cursor = r.show->event_count / 2; // in the middle of it
    r.now->at.us = sm_event_due_us(r.show, r.show->order[r.now->cursor]);
    sm_rehearsal_destroy(rehearsal);
    sm_findings_destroy(findings);
    remove_show(folder);
    r.view = (sm_view){.snapshot = r.now, .show = r.show, .rig_explanation = ""};
    r.state = calloc(1, sm_board_score.state_size);
    r.cells = sm_cells_create(80, 24);
    if (!r.state || !r.cells)
        exit(2);
    return r;
}

static void unmake(rig *r) {
    sm_board_score.forget(r->state);
    free(r->state);
    sm_cells_destroy(r->cells);
    sm_snapshot_destroy(r->now);
    sm_show_destroy(r->show);
}

static void draw(rig *r) {
    sm_board_score.draw(r->state, &r->view, sm_area_of(r->cells), true);
}

// Lets the board finish what it has begun; returns the longest piece, *TOTAL gets all of them.
static double finish(rig *r, double *total_ms) {
    double longest = 0;
    bool more = true;
    *total_ms = 0;
    while (more) {
        double began = now_ms();
        more = sm_board_score.work(r->state, &r->view);
        double spent = now_ms() - began;
        longest = spent > longest ? spent : longest;
        *total_ms += spent;
    }
    return longest;
}

static void answer(rig *r, int key, const char *text) {
    sm_request request = {0};
    sm_board_score.press(r->state, &r->view, key, &request);
    if (!sm_board_score.answer(r->state, &r->view, text, &request)) {
        printf("%s\n", request.line);
        exit(1);
    }
}

typedef struct cost {
    double median_ms, worst_ms;
} cost;

// FRAMES times a page down and a frame.
static cost scroll(rig *r) {
    static double spent[FRAMES];
    sm_request request = {0};
    for (int i = 0; i < FRAMES; i++) {
        double began = now_ms();
        sm_board_score.press(r->state, &r->view, i % 3 ? SM_KEY_PAGE_DOWN : SM_KEY_UP, &request);
        draw(r);
        spent[i] = now_ms() - began;
    }
    qsort(spent, FRAMES, sizeof *spent, compare);
    return (cost){spent[FRAMES / 2], spent[FRAMES - 1]};
}

int main(void) {
    static const char *const filters[] = {"",           "pyro",         "rail R07", "position left",
                                          "universe 3", "fixture par-9"};
    setlocale(LC_CTYPE, "C.UTF-8");
    rig large = make(MILLION), small = make(HUNDRED);
    double total_ms, piece_ms;
    draw(&small);
    draw(&large);
    piece_ms = finish(&large, &total_ms);
    printf("%u events put in order: %.0f ms, the longest piece %.2f ms\n", large.show->event_count, total_ms,
           piece_ms);
    for (size_t i = 0; i < sizeof filters / sizeof filters[0]; i++) {
        double small_total_ms;
        answer(&large, '\\', filters[i]);
        answer(&small, '\\', filters[i]);
        piece_ms = finish(&large, &total_ms);
        (void)finish(&small, &small_total_ms);
        cost of_large = scroll(&large), of_small = scroll(&small);
        printf(
            "filter '%s': a key and its frame %.3f ms, worst %.3f; of %u events %.3f ms, ratio %.2f; made in "
            "%.0f ms, longest piece %.2f\n",
            filters[i], of_large.median_ms, of_large.worst_ms, small.show->event_count, of_small.median_ms,
            of_large.median_ms / of_small.median_ms, total_ms, piece_ms);
    }
    answer(&large, '\\', "");
    (void)finish(&large, &total_ms);
    answer(&large, '/', "needle");
    piece_ms = finish(&large, &total_ms);
    printf("search: %.0f ms in all, the longest piece %.2f ms (a frame is 33)\n", total_ms, piece_ms);
    unmake(&large);
    unmake(&small);
    return 0;
}
