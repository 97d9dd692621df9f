// SPDX-License-Identifier: GPL-3.0-or-later
#include "ui_rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S
// 2026-06-20 21:00:00 UTC: what rehearsal time 0 is.
#define LAUNCH_S INT64_C(1781989200)

static void keep_row(void *context, const sm_log_row *row) {
    sm_recent_put(&((ui_rig *)context)->recent, row);
}

void ui_rig_look(ui_rig *r) {
    sm_rehearsal_snapshot(r->rehearsal, r->wall, r->now);
    sm_ui_look(&r->ui);
}

sm_result ui_rig_act(ui_rig *r, const char *text, sm_source source) {
    sm_action action;
    char why[200];
    size_t at;
    if (sm_action_read(r->show, text, strlen(text), &action, why, &at) != SM_OK) {
        fail_msg("%s: %s", text, why);
    }
    sm_result result = sm_rehearsal_act(r->rehearsal, &action, source, r->wall);
    ui_rig_look(r);
    return result;
}

static bool act(void *owner, const char *line) {
    ui_rig *r = owner;
    snprintf(r->acted, sizeof r->acted, "%s", line);
    r->acts++;
    (void)ui_rig_act(r, line, SM_SOURCE_CONSOLE);
    return true;
}

static void read_file(void *owner, const char *path) {
    (void)owner;
    (void)path;
}

static int begin(void **state, bool drill) {
    ui_rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    short_show_make(&r->files, "12 s");
    r->findings = sm_findings_create();
    assert_int_equal(sm_show_load(r->files.folder, &(sm_show_load_options){0}, r->findings, &r->show), SM_OK);
    sm_rehearsal_options options = {.drill = drill, .sink = keep_row, .sink_context = r};
    assert_int_equal(sm_rehearsal_create(r->show, &options, &r->rehearsal), SM_OK);
    assert_int_equal(sm_snapshot_create(r->show, &r->now), SM_OK);
    sm_rehearsal_snapshot(r->rehearsal, r->wall, r->now);
    r->day.launch_us = LAUNCH_S * S;
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
    r->ui.read_file = read_file;
    assert_int_equal(sm_ui_init(&r->ui), SM_OK);
    r->cells = sm_cells_create(80, 24);
    assert_non_null(r->cells);
    ui_rig_press(r, "n");
    *state = r;
    return 0;
}

int ui_rig_begin(void **state) {
    return begin(state, false);
}

int ui_rig_begin_drill(void **state) {
    return begin(state, true);
}

int ui_rig_end(void **state) {
    ui_rig *r = *state;
    sm_cells_destroy(r->cells);
    sm_ui_deinit(&r->ui);
    sm_snapshot_destroy(r->now);
    sm_rehearsal_destroy(r->rehearsal);
    sm_show_destroy(r->show);
    sm_findings_destroy(r->findings);
    short_show_remove(&r->files);
    free(r);
    return 0;
}

void ui_rig_advance(ui_rig *r, sm_us span) {
    r->wall.us += span;
    assert_int_equal(sm_rehearsal_run(r->rehearsal, r->wall), SM_OK);
    ui_rig_look(r);
}

void ui_rig_press(ui_rig *r, const char *keys) {
    for (; *keys; keys++) {
        sm_ui_press(&r->ui, *keys == '\n' ? SM_KEY_ENTER : *keys);
    }
}

bool ui_rig_shows(ui_rig *r, const char *text) {
    sm_ui_draw(&r->ui, r->cells);
    bool found = false;
    sm_text row = {0};
    for (int y = 0; y < sm_cells_rows(r->cells); y++) {
        sm_text_clear(&row);
        sm_cells_row_text(r->cells, y, &row);
        found = found || strstr(sm_text_get(&row), text);
    }
    sm_text_deinit(&row);
    return found;
}

bool ui_rig_says(ui_rig *r, const char *text) {
    sm_ui_draw(&r->ui, r->cells);
    sm_text screen = {0}, flat = {0};
    for (int y = 0; y < sm_cells_rows(r->cells); y++) {
        sm_cells_row_text(r->cells, y, &screen);
        sm_text_append(&screen, " ", 1);
    }
    for (const char *at = sm_text_get(&screen); *at; at++) {
        if (*at != ' ' || at[1] != ' ') {
            sm_text_append(&flat, at, 1);
        }
    }
    bool found = strstr(sm_text_get(&flat), text) != NULL;
    sm_text_deinit(&screen);
    sm_text_deinit(&flat);
    return found;
}

void ui_rig_size(ui_rig *r, int columns, int rows) {
    sm_cells_destroy(r->cells);
    r->cells = sm_cells_create(columns, rows);
    assert_non_null(r->cells);
}

void ui_rig_arm(ui_rig *r) {
    ui_rig_press(r, "cK\nka\n");
    ui_rig_advance(r, S);
    assert_int_equal(r->now->state, SM_STATE_ARMED);
}
