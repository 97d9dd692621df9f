// SPDX-License-Identifier: GPL-3.0-or-later
#include "board_rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "slowmatch/inject.h"

static void keep_row(void *context, const sm_log_row *row) {
    sm_recent_put(&((board_rig *)context)->recent, row);
}

static void look(board_rig *r) {
    sm_rehearsal_snapshot(r->rehearsal, r->wall, r->now);
    sm_ui_look(&r->ui);
}

static bool act(void *owner, const char *line) {
    board_rig *r = owner;
    snprintf(r->acted, sizeof r->acted, "%s", line);
    r->acts++;
    board_rig_act(r, line);
    return true;
}

static void read_file(void *owner, const char *path) {
    (void)owner;
    fail_msg("nothing asks for the file %s", path);
}

static void begin_ui(board_rig *r, int key) {
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
    board_rig_size(r, 80, 24);
    board_rig_key(r, 'n'); // no live product within earshot
    board_rig_key(r, key);
}

static board_rig *begin(show_folder files, int key, bool drill) {
    board_rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    r->files = files;
    r->findings = sm_findings_create();
    assert_non_null(r->findings);
    r->show = show_folder_load(&files, SM_OK);
    sm_rehearsal_options options = {.drill = drill, .sink = keep_row, .sink_context = r};
    assert_int_equal(sm_rehearsal_create(r->show, &options, &r->rehearsal), SM_OK);
    assert_int_equal(sm_snapshot_create(r->show, &r->now), SM_OK);
    sm_rehearsal_snapshot(r->rehearsal, r->wall, r->now);
    begin_ui(r, key);
    return r;
}

board_rig *board_rig_begin(show_folder files, int key) {
    return begin(files, key, false);
}

board_rig *board_rig_begin_drill(show_folder files, int key) {
    return begin(files, key, true);
}

void board_rig_inject(board_rig *r, const char *line) {
    sm_injection injection;
    char why[200];
    size_t at;
    assert_int_equal(sm_injection_read(r->show, line, strlen(line), &injection, why, &at), SM_OK);
    assert_int_equal(sm_rehearsal_inject(r->rehearsal, line, &injection, r->wall), SM_OK);
    look(r);
}

void board_rig_end(board_rig *r) {
    sm_cells_destroy(r->cells);
    sm_ui_deinit(&r->ui);
    sm_snapshot_destroy(r->now);
    sm_rehearsal_destroy(r->rehearsal);
    sm_show_destroy(r->show);
    sm_findings_destroy(r->findings);
    show_folder_remove(&r->files);
    free(r);
}

void board_rig_size(board_rig *r, int columns, int rows) {
    sm_cells_destroy(r->cells);
    r->cells = sm_cells_create(columns, rows);
    assert_non_null(r->cells);
}

void board_rig_key(board_rig *r, int key) {
    sm_ui_press(&r->ui, key);
}

void board_rig_type(board_rig *r, const char *keys) {
    for (; *keys; keys++) {
        board_rig_key(r, *keys == '\n' ? SM_KEY_ENTER : (unsigned char)*keys);
    }
}

void board_rig_act(board_rig *r, const char *line) {
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(r->show, line, strlen(line), &action, why, &at), SM_OK);
    sm_result result = sm_rehearsal_act(r->rehearsal, &action, SM_SOURCE_CONSOLE, r->wall);
    assert_true(result == SM_OK || result == SM_REFUSED);
    look(r);
}

void board_rig_advance(board_rig *r, sm_us span) {
    r->wall.us += span;
    assert_int_equal(sm_rehearsal_run(r->rehearsal, r->wall), SM_OK);
    look(r);
}

void board_rig_arm(board_rig *r) {
    board_rig_act(r, "call-clear K");
    board_rig_act(r, "key on");
    board_rig_act(r, "arm");
    board_rig_advance(r, r->show->settings.arm_time_us);
    assert_int_equal(r->now->state, SM_STATE_ARMED);
}

int board_rig_work(board_rig *r) {
    int pieces = 1;
    while (sm_ui_work(&r->ui)) {
        pieces++;
        assert_true(pieces < 1000000);
    }
    return pieces;
}

// Row Y as drawn last.
static const char *row_text(const board_rig *r, int y) {
    static char row[4096];
    sm_text text = {0};
    sm_cells_row_text(r->cells, y, &text);
    snprintf(row, sizeof row, "%s", sm_text_get(&text));
    sm_text_deinit(&text);
    return row;
}

const char *board_rig_row(board_rig *r, int y) {
    sm_ui_draw(&r->ui, r->cells);
    return row_text(r, y);
}

int board_rig_find(board_rig *r, const char *text) {
    sm_ui_draw(&r->ui, r->cells);
    for (int y = 0; y < sm_cells_rows(r->cells); y++) {
        if (strstr(row_text(r, y), text)) {
            return y;
        }
    }
    return -1;
}

void board_rig_click(board_rig *r, const char *text) {
    int y = board_rig_find(r, text);
    assert_true(y >= 0);
    const char *row = row_text(r, y), *found = strstr(row, text);
    int x = (int)sm_utf8_count(row, (size_t)(found - row)); // characters of one column here
    assert_true(sm_ui_point(&r->ui, (sm_mouse){.x = x, .y = y, .what = SM_MOUSE_CLICK}));
}

bool board_rig_shows(board_rig *r, const char *text) {
    return board_rig_find(r, text) >= 0;
}
