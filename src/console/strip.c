// SPDX-License-Identifier: GPL-3.0-or-later
// The ticks are counted once a show and width, the music once it has been decoded: a frame only copies them.
#include "console/strip.h"

#include <stdlib.h>
#include <string.h>

struct sm_strip {
    const sm_show *show; // what the counts below were made from
    int columns;
    uint8_t *marks;       // what is in each column: bits of TICK_
    sm_audio_peak *peaks; // each column's music
    bool peaks_final;
};

enum { TICK_LIGHT = 1, TICK_FLAME = 2, TICK_PYRO = 4 };

sm_strip *sm_strip_create(void) {
    return calloc(1, sizeof(sm_strip));
}

void sm_strip_destroy(sm_strip *strip) {
    if (strip) {
        free(strip->marks);
        free(strip->peaks);
        free(strip);
    }
}

void sm_strip_forget(sm_strip *strip) {
    strip->show = NULL;
}

static sm_us length_of(const sm_show *show) {
    return show->length_us > 0 ? show->length_us : 1;
}

static int column_at(const sm_show *show, sm_us at, int columns) {
    if (at <= 0) {
        return 0;
    }
    double part = (double)at / (double)length_of(show);
    int column = (int)(part * columns);
    return column >= columns ? columns - 1 : column;
}

static void count_ticks(sm_strip *strip, const sm_show *show, int columns) {
    for (uint32_t e = 0; e < show->event_count; e++) {
        const sm_event *event = &show->events[e];
        const sm_cue *cue = &show->cues[event->cue];
        uint8_t mark = TICK_PYRO;
        if (cue->kind == SM_CUE_SET) {
            mark = show->profiles[show->fixtures[event->target].profile].flame ? TICK_FLAME : TICK_LIGHT;
        }
        strip->marks[column_at(show, cue->time_us, columns)] |= mark;
    }
}

// False: no memory, nothing to draw.
static bool prepare(sm_strip *strip, const sm_view *view, int columns) {
    if (strip->show != view->show || strip->columns != columns) {
        free(strip->marks);
        free(strip->peaks);
        strip->show = NULL;
        strip->marks = calloc((size_t)columns, sizeof *strip->marks);
        strip->peaks = calloc((size_t)columns, sizeof *strip->peaks);
        if (!strip->marks || !strip->peaks) {
            return false;
        }
        strip->show = view->show;
        strip->columns = columns;
        strip->peaks_final = false;
        count_ticks(strip, view->show, columns);
    }
    if (view->audio && view->sound->has_music && !strip->peaks_final) {
        size_t final =
            sm_audio_overview(view->audio, (sm_show_time){0}, (sm_show_time){length_of(view->show)},
                              (size_t)columns, strip->peaks);
        strip->peaks_final = view->sound->decoded && final == (size_t)columns;
    }
    return true;
}

static void draw_music(const sm_strip *strip, sm_area area, int rows, int playhead) {
    static const char *const steps[] = {" ", "▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"};
    for (int x = 0; x < area.columns; x++) {
        float peak =
            strip->peaks[x].high > -strip->peaks[x].low ? strip->peaks[x].high : -strip->peaks[x].low;
        // Between the mean and the peak, so that loud and soft passages differ to the eye.
        float height = (strip->peaks[x].rms + peak) / 2;
        int eighths = (int)(height * (float)(rows * 8) + 0.5F);
        for (int row = 0; row < rows; row++) {
            int part = eighths - (rows - 1 - row) * 8;
            part = part < 0 ? 0 : part > 8 ? 8 : part;
            sm_area_text(area, x, row, x < playhead ? SM_LOOK_DIM : SM_LOOK_MUSIC, steps[part]);
        }
    }
}

static void draw_ticks(const sm_strip *strip, sm_area area, int row) {
    for (int x = 0; x < area.columns; x++) {
        uint8_t marks = strip->marks[x];
        if (marks & TICK_PYRO) {
            sm_area_text(area, x, row, SM_LOOK_PYRO, "!");
        } else if (marks & TICK_FLAME) {
            sm_area_text(area, x, row, SM_LOOK_FLAME, "^");
        } else if (marks & TICK_LIGHT) {
            sm_area_text(area, x, row, SM_LOOK_LIGHT, "·");
        }
    }
}

void sm_strip_draw(sm_strip *strip, const sm_view *view, sm_area area) {
    if (area.columns < 1 || area.rows < 2 || !prepare(strip, view, area.columns)) {
        return;
    }
    int playhead = column_at(view->show, view->snapshot->at.us, area.columns);
    if (view->sound->has_music) {
        draw_music(strip, area, area.rows - 1, playhead);
    }
    draw_ticks(strip, area, area.rows - 1);
    for (int row = 0; row < area.rows - 1; row++) {
        sm_area_text(area, playhead, row, SM_LOOK_NOW, "│");
    }
    sm_area_look(area, playhead, area.rows - 1, 1, SM_LOOK_SELECTED);
}
