// SPDX-License-Identifier: GPL-3.0-or-later
#include "desk.h"

#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static void keep_row(void *context, const sm_log_row *row) {
    sm_recent_put(&((desk *)context)->recent, row);
}

static void look(desk *d) {
    sm_rehearsal_snapshot(d->rehearsal, d->wall, d->now);
    d->ui.view.snapshot = d->now;
    d->ui.view.show = d->show;
    d->ui.view.rig = sm_rig_line_look(&d->rig_line, d->now);
    d->ui.view.walk = sm_walkthrough_look(d->walkthrough, &d->ui.view);
    sm_ui_look(&d->ui);
}

static bool act(void *owner, const char *line) {
    desk *d = owner;
    if (d->no_memory) {
        return false;
    }
    snprintf(d->acted, sizeof d->acted, "%s", line);
    d->acts++;
    sm_action action;
    char why[200];
    size_t at;
    if (sm_action_read(d->show, line, strlen(line), &action, why, &at) == SM_OK) {
        sm_result result = sm_rehearsal_act(d->rehearsal, &action, SM_SOURCE_CONSOLE, d->wall);
        assert_true(result == SM_OK || result == SM_REFUSED);
    }
    look(d);
    return true;
}

static void read_file(void *owner, const char *path) {
    snprintf(((desk *)owner)->file, sizeof((desk *)owner)->file, "%s", path);
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
    sm_show_set_audio_end(d->show, d->show->settings.audio_start_us + status.length_us);
}

void desk_begin(desk *d, const desk_options *options) {
    *d = (desk){.day = {INT64_C(1780002000) * SM_US_PER_S}}; // 28 May 2026, 21:00:00 UTC
    d->findings = sm_findings_create();
    const sm_show_load_options load = {.readings_file = options->readings};
    assert_int_equal(sm_show_load(options->folder, &load, d->findings, &d->show), SM_OK);
    if (options->music) {
        open_music(d, options->folder);
    }
    const sm_rehearsal_options rehearse = {.sink = keep_row, .sink_context = d};
    assert_int_equal(sm_rehearsal_create(d->show, &rehearse, &d->rehearsal), SM_OK);
    assert_int_equal(sm_snapshot_create(d->show, &d->now), SM_OK);
    assert_int_equal(sm_walkthrough_create(options->logbook, &d->walkthrough), SM_OK);
    d->ui.view = (sm_view){.show = d->show,
                           .snapshot = d->now,
                           .day = &d->day,
                           .recent = &d->recent,
                           .findings = d->findings,
                           .checked = true,
                           .noise = &d->noise,
                           .rig = "",
                           .audio = d->audio,
                           .sound = &d->sound};
    d->ui.owner = d;
    d->ui.act = act;
    d->ui.read_file = read_file;
    sm_rehearsal_snapshot(d->rehearsal, d->wall, d->now);
    assert_int_equal(sm_ui_init(&d->ui), SM_OK);
    look(d);
    desk_size(d, 80, 24);
}

void desk_end(desk *d) {
    sm_cells_destroy(d->cells);
    sm_ui_deinit(&d->ui);
    sm_walkthrough_destroy(d->walkthrough);
    sm_rig_line_deinit(&d->rig_line);
    sm_snapshot_destroy(d->now);
    sm_rehearsal_destroy(d->rehearsal);
    sm_audio_close(d->audio);
    sm_show_destroy(d->show);
    sm_findings_destroy(d->findings);
}

void desk_size(desk *d, int columns, int rows) {
    sm_cells_destroy(d->cells);
    d->cells = sm_cells_create(columns, rows);
    assert_non_null(d->cells);
}

void desk_advance(desk *d, sm_us span) {
    d->wall.us += span;
    assert_int_equal(sm_rehearsal_run(d->rehearsal, d->wall), SM_OK);
    look(d);
}

void desk_press(desk *d, int key) {
    sm_ui_press(&d->ui, key);
    look(d);
}

void desk_type(desk *d, const char *keys) {
    for (; *keys; keys++) {
        desk_press(d, *keys == '\n' ? SM_KEY_ENTER : *keys);
    }
}

void desk_picture(desk *d, sm_text *out) {
    sm_ui_draw(&d->ui, d->cells);
    for (int y = 0; y < sm_cells_rows(d->cells); y++) {
        sm_cells_row_text(d->cells, y, out);
        sm_text_printf(out, "\n");
    }
}

bool desk_shows(desk *d, const char *text) {
    sm_text picture = {0};
    desk_picture(d, &picture);
    bool found = strstr(sm_text_get(&picture), text) != NULL;
    sm_text_deinit(&picture);
    return found;
}
