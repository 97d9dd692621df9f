// SPDX-License-Identifier: GPL-3.0-or-later
#include "desk.h"

#include "console/modes/typing.h"
#include "session/inside.h"
#include "short_show.h"

#include "slowmatch/inject.h"

#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void keep_row(void *context, const sm_log_row *row) {
    sm_recent_put(&((desk *)context)->recent, row);
}

void desk_look(desk *d) {
    sm_rehearsal_snapshot(d->rehearsal, d->wall, d->now);
    d->ui.view.snapshot = d->now;
    d->ui.view.show = d->show;
    d->ui.view.rig_explanation = sm_rig_explainer_look(&d->rig_explanation, d->now);
    d->ui.view.swapped = d->rig_explanation.swapped;
    d->ui.view.walk = sm_walkthrough_look(
        d->walkthrough, &(sm_walk_seen){d->ui.view.snapshot, d->ui.view.recent,
                                        d->ui.view.checked ? d->ui.view.findings : NULL,
                                        d->ui.view.time_of_day->launch_us, NULL, d->content});
    sm_ui_look(&d->ui);
}

sm_result desk_act(desk *d, const char *line, sm_source source) {
    sm_action action;
    char why[200];
    size_t at;
    if (sm_action_read(d->show, line, strlen(line), &action, why, &at) != SM_OK)
        fail_msg("%s: %s", line, why);
    sm_result result = sm_rehearsal_act(d->rehearsal, &action, source, d->wall);
    desk_look(d);
    return result;
}

void desk_do(desk *d, const char *line) {
    sm_result result = desk_act(d, line, SM_SOURCE_CONSOLE);
    assert_true(result == SM_OK || result == SM_REFUSED);
}

static bool act(void *owner, const char *line) {
    desk *d = owner;
    if (d->no_memory)
        return false;
    snprintf(d->acted, sizeof d->acted, "%s", line);
    d->acts++;
    if (desk_act(d, line, SM_SOURCE_CONSOLE) == SM_REFUSED)
        sm_ui_refused(&d->ui, line); // the session says of which action it is
    return true;
}

static void read_file(void *owner, const char *path) {
    desk *d = owner;
    if (!d->takes_files)
        fail_msg("nothing asks for the file %s", path);
    snprintf(d->file, sizeof d->file, "%s", path);
}

// The waveform is part of the screen: decoding is waited for, at most a minute.
static void open_music(desk *d, const char *folder) {
    char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, d->show->settings.audio);
    const sm_audio_options options = {
        .path = path, .audio_start_us = d->show->settings.audio_start_us, .silent = true};
    assert_int_equal(sm_audio_open(&options, &d->audio), SM_OK);
    sm_audio_status status = {0};
    for (int i = 0; i < 6000 && !status.decoded; i++) {
        poll(NULL, 0, 10);
        sm_audio_status_get(d->audio, &status);
    }
    assert_true(status.decoded);
    d->sound = status;
    d->session = calloc(1, sizeof *d->session);
    assert_non_null(d->session);
    d->session->audio = d->audio;
    sm_show_set_audio_end(d->show, d->show->settings.audio_start_us + status.length_us);
}

void desk_begin(desk *d, const desk_options *options) {
    *d = (desk){.time_of_day = {INT64_C(1780002000) * SM_US_PER_S}}; // 28 May 2026, 21:00:00 UTC
    d->findings = sm_findings_create();
    const sm_show_load_options load = {.readings_file = options->readings};
    assert_int_equal(sm_show_load(options->folder, &load, d->findings, &d->show), SM_OK);
    if (options->music)
        open_music(d, options->folder);
    const sm_rehearsal_options rehearse = {.drill = options->drill, .sink = keep_row, .sink_context = d};
    assert_int_equal(sm_rehearsal_create(d->show, &rehearse, &d->rehearsal), SM_OK);
    assert_int_equal(sm_snapshot_create(d->show, &d->now), SM_OK);
    assert_int_equal(sm_walkthrough_create(options->logbook, &d->walkthrough), SM_OK);
    d->ui.view = (sm_view){.show = d->show,
                           .snapshot = d->now,
                           .time_of_day = &d->time_of_day,
                           .recent = &d->recent,
                           .findings = d->findings,
                           .checked = true,
                           .stray_output = &d->stray_output,
                           .rig_explanation = "",
                           .session = d->session,
                           .sound = &d->sound};
    d->ui.owner = d;
    d->ui.act = act;
    d->ui.read_file = read_file;
    assert_int_equal(sm_walk_content(d->show, &(sm_walk_hash){""}, &d->content), SM_OK);
    sm_rehearsal_snapshot(d->rehearsal, d->wall, d->now);
    assert_int_equal(sm_ui_init(&d->ui), SM_OK);
    desk_look(d);
    desk_size(d, 80, 24);
}

void desk_end(desk *d) {
    sm_cells_destroy(d->cells);
    sm_ui_deinit(&d->ui);
    sm_walkthrough_destroy(d->walkthrough);
    sm_rig_explainer_deinit(&d->rig_explanation);
    sm_snapshot_destroy(d->now);
    sm_rehearsal_destroy(d->rehearsal);
    sm_audio_close(d->audio);
    free(d->session);
    sm_show_destroy(d->show);
    sm_findings_destroy(d->findings);
    if (*d->own.path)
        show_folder_remove(&d->own);
}

desk *desk_create(show_folder files, bool drill) {
    desk *d = malloc(sizeof *d);
    assert_non_null(d);
    desk_begin(d, &(desk_options){.folder = files.path, .drill = drill});
    d->own = files;
    return d;
}

desk *desk_at_board(show_folder files, int key, bool drill) {
    desk *d = desk_create(files, drill);
    desk_press(d, 'n'); // no live product within earshot
    desk_press(d, key);
    return d;
}

void desk_destroy(desk *d) {
    desk_end(d);
    free(d);
}

desk *desk_create_short(bool drill) {
    short_show show;
    short_show_make(&show, "12 s");
    show_folder files;
    snprintf(files.path, sizeof files.path, "%s", show.folder);
    return desk_create(files, drill);
}

int desk_setup_short(void **state) {
    *state = desk_create_short(false);
    desk_press(*state, 'n'); // no live product within earshot
    return 0;
}

int desk_setup_short_drill(void **state) {
    *state = desk_create_short(true);
    desk_press(*state, 'n');
    return 0;
}

int desk_setup_first(void **state) {
    desk *const d = desk_create_short(false);
    d->takes_files = true;
    *state = d;
    return 0;
}

int desk_teardown(void **state) {
    desk_destroy(*state);
    return 0;
}

void desk_size(desk *d, int columns, int rows) {
    sm_cells_destroy(d->cells);
    d->cells = sm_cells_create(columns, rows);
    assert_non_null(d->cells);
}

void desk_advance(desk *d, sm_us span) {
    d->wall.us += span;
    assert_int_equal(sm_rehearsal_run(d->rehearsal, d->wall), SM_OK);
    desk_look(d);
}

void desk_press(desk *d, int key) {
    sm_ui_press(&d->ui, key);
    desk_look(d);
}

void desk_type(desk *d, const char *keys) {
    for (; *keys; keys++)
        desk_press(d, *keys == '\n' ? SM_KEY_ENTER : (unsigned char)*keys);
}

void desk_inject(desk *d, const char *line) {
    sm_injection injection;
    char why[200];
    size_t at;
    assert_int_equal(sm_injection_read(d->show, line, strlen(line), &injection, why, &at), SM_OK);
    assert_int_equal(sm_rehearsal_inject(d->rehearsal, line, &injection, d->wall), SM_OK);
    desk_look(d);
}

void desk_arm(desk *d) {
    desk_do(d, "call-clear K");
    desk_do(d, "key on");
    desk_do(d, "arm");
    desk_advance(d, d->show->settings.arm_time_us);
    assert_int_equal(d->now->state, SM_STATE_ARMED);
}

void desk_arm_by_keys(desk *d) {
    desk_type(d, "cK\nka\n");
    desk_advance(d, SM_US_PER_S);
    assert_int_equal(d->now->state, SM_STATE_ARMED);
}

int desk_work(desk *d) {
    int pieces = 1;
    while (sm_ui_work(&d->ui)) {
        pieces++;
        assert_true(pieces < 1000000);
    }
    return pieces;
}

void desk_picture(desk *d, sm_text *out) {
    sm_frame_draw(&d->ui, d->cells);
    for (int y = 0; y < sm_cells_rows(d->cells); y++) {
        sm_cells_row_text(d->cells, y, out);
        sm_text_printf(out, "\n");
    }
}

// Row Y as drawn last.
static const char *row_text(const desk *d, int y) {
    static char row[4096];
    sm_text text = {0};
    sm_cells_row_text(d->cells, y, &text);
    snprintf(row, sizeof row, "%s", sm_text_get(&text));
    sm_text_deinit(&text);
    return row;
}

const char *desk_row(desk *d, int y) {
    sm_frame_draw(&d->ui, d->cells);
    return row_text(d, y);
}

int desk_find(desk *d, const char *text) {
    sm_frame_draw(&d->ui, d->cells);
    for (int y = 0; y < sm_cells_rows(d->cells); y++)
        if (strstr(row_text(d, y), text))
            return y;
    return -1;
}

bool desk_shows(desk *d, const char *text) {
    return desk_find(d, text) >= 0;
}

bool desk_says(desk *d, const char *text) {
    sm_text screen = {0}, flat = {0};
    desk_picture(d, &screen);
    for (const char *at = sm_text_get(&screen); *at; at++) {
        const bool blank = *at == ' ' || *at == '\n', next = at[1] == ' ' || at[1] == '\n';
        if (!blank || !next)
            sm_text_append(&flat, blank ? " " : at, 1);
    }
    bool found = strstr(sm_text_get(&flat), text) != NULL;
    sm_text_deinit(&screen);
    sm_text_deinit(&flat);
    return found;
}

void desk_click(desk *d, const char *text) {
    int y = desk_find(d, text);
    assert_true(y >= 0);
    const char *row = row_text(d, y), *found = strstr(row, text);
    int x = (int)sm_utf8_count(row, (size_t)(found - row)); // characters of one column here
    assert_true(sm_ui_point(&d->ui, (sm_mouse){.x = x, .y = y, .what = SM_MOUSE_CLICK}));
}
