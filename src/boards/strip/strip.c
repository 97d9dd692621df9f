// SPDX-License-Identifier: GPL-3.0-or-later
// What stands in each column is counted once for a stretch and a width, the music until it has been decoded: a frame only
// copies them.
#include "boards/strip/strip.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct column {
    uint32_t lights; // changes of lights
    bool pyro, flame;
} column;

struct sm_strip {
    const sm_show *show;   // what all below was made from
    sm_strip_span *flames; // of the whole show
    size_t flame_count;
    sm_us longest_lead_us;
    int columns; // what the rest was made for
    sm_strip_window window;
    column *counts;       // of each column
    sm_audio_peak *peaks; // of each column
    bool peaks_final;
    int closer;
    int drawn; // columns as drawn last, 0: not drawn
};

sm_strip *sm_strip_create(void) {
    return calloc(1, sizeof(sm_strip));
}

static void free_columns(sm_strip *strip) {
    free(strip->counts);
    free(strip->peaks);
    strip->counts = NULL;
    strip->peaks = NULL;
    strip->columns = 0;
}

void sm_strip_forget(sm_strip *strip) {
    free_columns(strip);
    free(strip->flames);
    strip->flames = NULL;
    strip->flame_count = 0;
    strip->show = NULL;
    strip->drawn = 0;
}

void sm_strip_destroy(sm_strip *strip) {
    if (strip) {
        sm_strip_forget(strip);
        free(strip);
    }
}

// ---- the stretch ----------------------------------------------------------------------------------

static sm_us length_of(const sm_show *show) {
    return show->length_us > 0 ? show->length_us : 1;
}

static sm_us span_of(sm_us length_us, int closer) {
    sm_us span = length_us;
    for (; closer > 0 && span > SM_STRIP_LEAST_US; closer--)
        span = span / 2 > SM_STRIP_LEAST_US ? span / 2 : SM_STRIP_LEAST_US;
    return span;
}

sm_strip_window sm_strip_window_at(sm_us length_us, sm_us now_us, int closer) {
    sm_us span = span_of(length_us, closer);
    if (span >= length_us)
        return (sm_strip_window){0, length_us};
    sm_us half = span / 2, before = now_us - span / 4;
    sm_us from = before > 0 ? before / half * half : 0;
    from = from > length_us - span ? length_us - span : from;
    return (sm_strip_window){from, from + span};
}

void sm_strip_zoom(sm_strip *strip, const sm_show *show, bool closer) {
    if (!closer)
        strip->closer -= strip->closer > 0;
    else if (span_of(length_of(show), strip->closer) > SM_STRIP_LEAST_US)
        strip->closer++;
}

// The column of AT; -1 before, COLUMNS behind the stretch. The end of the show is in the last column.
static int column_at(const sm_strip *strip, sm_us at_us) {
    const sm_strip_window *window = &strip->window;
    if (at_us < window->from_us)
        return -1;
    if (at_us >= window->to_us) {
        bool last = at_us == window->to_us && window->to_us >= length_of(strip->show);
        return last ? strip->columns - 1 : strip->columns;
    }
    return (int)((double)(at_us - window->from_us) / (double)(window->to_us - window->from_us) *
                 strip->columns);
}

// ---- counting --------------------------------------------------------------------------------------

static void count_events(sm_strip *strip) {
    const sm_show *show = strip->show;
    // Firings stand where they are seen, which is later than they are due.
    for (uint32_t place = sm_event_first_due(show, strip->window.from_us - strip->longest_lead_us);
         place < show->event_count; place++) {
        const sm_event *event = &show->events[show->order[place]];
        const sm_cue *cue = &show->cues[event->cue];
        if (sm_event_due_us(show, show->order[place]) > strip->window.to_us)
            break;
        int at = column_at(strip, cue->time_us);
        if (at < 0 || at >= strip->columns)
            continue;
        if (cue->kind == SM_CUE_FIRE)
            strip->counts[at].pyro = true;
        else if (!show->profiles[show->fixtures[event->target].profile].flame)
            strip->counts[at].lights++;
    }
    for (size_t i = 0; i < strip->flame_count; i++) {
        const sm_strip_span *span = &strip->flames[i];
        if (span->to_us <= strip->window.from_us || span->from_us >= strip->window.to_us)
            continue;
        int from = column_at(strip, span->from_us), to = column_at(strip, span->to_us - 1);
        for (int x = from < 0 ? 0 : from; x <= to && x < strip->columns; x++)
            strip->counts[x].flame = true;
    }
}

// False: no memory.
static bool take_show(sm_strip *strip, const sm_show *show) {
    sm_strip_forget(strip);
    if (sm_strip_flames(show, &strip->flames, &strip->flame_count) != SM_OK)
        return false;
    strip->show = show;
    strip->longest_lead_us = 0;
    for (uint32_t i = 0; i < show->firing_count; i++) {
        sm_us lead = show->firings[i].lead_us;
        strip->longest_lead_us = lead > strip->longest_lead_us ? lead : strip->longest_lead_us;
    }
    return true;
}

static bool make_columns(sm_strip *strip, int columns) {
    if (strip->columns == columns) {
        memset(strip->counts, 0, (size_t)columns * sizeof *strip->counts);
        return true;
    }
    free_columns(strip);
    strip->counts = calloc((size_t)columns, sizeof *strip->counts);
    strip->peaks = calloc((size_t)columns, sizeof *strip->peaks);
    if (!strip->counts || !strip->peaks) {
        free_columns(strip);
        return false;
    }
    strip->columns = columns;
    return true;
}

// Where the show is, or what is heard of it while it stands.
static sm_us heard_us(const sm_snapshot *now) {
    const sm_us at_us = now->preview.on ? sm_preview_place(&now->preview, now->wall).us : now->at.us;
    return at_us < 0 ? 0 : at_us;
}

static bool prepare(sm_strip *strip, const sm_view *view, int columns) {
    if (strip->show != view->show && !take_show(strip, view->show))
        return false;
    sm_strip_window window =
        sm_strip_window_at(length_of(view->show), heard_us(view->snapshot), strip->closer);
    bool same = strip->columns == columns && window.from_us == strip->window.from_us &&
                window.to_us == strip->window.to_us;
    if (!same) {
        if (!make_columns(strip, columns))
            return false;
        strip->window = window;
        strip->peaks_final = false;
        count_events(strip);
    }
    if (view->session && view->sound->has_music && !strip->peaks_final) {
        size_t final = sm_session_sound_overview(view->session, (sm_show_time){window.from_us},
                                                 (sm_show_time){window.to_us}, (size_t)columns, strip->peaks);
        strip->peaks_final = view->sound->decoded && final == (size_t)columns;
    }
    return true;
}

// ---- drawing ------------------------------------------------------------------------------------------

static void draw_music(const sm_strip *strip, sm_area area, int playhead) {
    static const char *const steps[] = {" ", "▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"};
    for (int x = 0; x < area.columns; x++) {
        float peak =
            strip->peaks[x].high > -strip->peaks[x].low ? strip->peaks[x].high : -strip->peaks[x].low;
        // Between the mean and the peak, so that loud and soft passages differ to the eye.
        float height = (strip->peaks[x].rms + peak) / 2;
        int eighths = (int)(height * (float)(area.rows * 8) + 0.5F);
        for (int row = 0; row < area.rows; row++) {
            int part = eighths - (area.rows - 1 - row) * 8;
            part = part < 0 ? 0 : part > 8 ? 8 : part;
            sm_area_text(area, x, row, x < playhead ? SM_LOOK_MUSIC_PAST : SM_LOOK_MUSIC, steps[part]);
        }
    }
}

static void draw_fire(const sm_strip *strip, sm_area area, int row) {
    for (int x = 0; x < area.columns; x++)
        if (strip->counts[x].pyro)
            sm_area_text(area, x, row, SM_LOOK_PYRO, "!");
        else if (strip->counts[x].flame)
            sm_area_text(area, x, row, SM_LOOK_FLAME, "^");
}

// A dot for one change, another for each doubling.
static void draw_lights(const sm_strip *strip, sm_area area, int row) {
    static const char *const dots[] = {"⡀", "⣀", "⣄", "⣤", "⣦", "⣶", "⣷", "⣿"};
    for (int x = 0; x < area.columns; x++) {
        int level = -1;
        for (uint32_t count = strip->counts[x].lights; count > 0 && level < 7; count >>= 1)
            level++;
        if (level >= 0)
            sm_area_text(area, x, row, SM_LOOK_LIGHT, dots[level]);
    }
}

// Marks with their names, as far as there is room up to the next.
static void draw_marks(const sm_strip *strip, const sm_snapshot *now, sm_area area) {
    for (uint32_t i = 0; i < now->mark_count; i++) {
        int from = column_at(strip, now->marks[i].at.us), end = area.columns;
        if (from < 0 || from >= area.columns)
            continue;
        for (uint32_t other = 0; other < now->mark_count; other++) {
            int at = column_at(strip, now->marks[other].at.us);
            end = at > from && at < end ? at : end;
        }
        sm_area_text(area, from, 0, SM_LOOK_TITLE, "'");
        int room = end - from - 2, needed = sm_text_columns(now->marks[i].name);
        if (room >= 3 || room >= needed) {
            sm_area_field(area, from + 1, 0, room < needed ? room : needed, SM_LOOK_TITLE,
                          now->marks[i].name);
        }
    }
}

// Where cues are proposed to be: "?" over what burns or lights there, one column each.
static void draw_proposals(const sm_strip *strip, const sm_snapshot *now, sm_area area, int row) {
    for (uint32_t i = 0; i < now->proposal_count; i++) {
        const sm_us at_us =
            sm_proposed_us(now->show, now->proposals, now->proposal_count, now->proposals[i].cue);
        const int x = column_at(strip, at_us);
        if (x >= 0 && x < area.columns)
            sm_area_text(area, x, row, SM_LOOK_NOW, "?");
    }
}

// Its brackets in ROWS rows from TOP on; a line between them in the first row where LINED.
static void draw_repeat(const sm_strip *strip, const sm_snapshot *now, sm_area area, int top, int rows,
                        bool lined) {
    if (!now->repeat_on)
        return;
    int from = column_at(strip, now->repeat_from.us), to = column_at(strip, now->repeat_to.us - 1);
    for (int x = from < 0 ? 0 : from; lined && x <= to && x < area.columns; x++)
        sm_area_text(area, x, 0, SM_LOOK_DIM, "─");
    for (int row = top; row < top + rows; row++) {
        sm_area_text(area, from, row, SM_LOOK_NOW, "[");
        sm_area_text(area, to, row, SM_LOOK_NOW, "]");
    }
}

static bool any_mark_within(const sm_strip *strip, const sm_snapshot *now, int from, int to) {
    for (uint32_t i = 0; i < now->mark_count; i++) {
        int at = column_at(strip, now->marks[i].at.us);
        if (at >= from && at < to)
            return true;
    }
    return false;
}

// "4x 0:12.0 to 0:35.0" at an end of the first row: where neither the playhead nor a mark is, if there is such an end.
static void draw_stretch(const sm_strip *strip, const sm_snapshot *now, sm_area area, int playhead) {
    char from[24], to[24], text[64];
    sm_us span = strip->window.to_us - strip->window.from_us;
    sm_clock_format(from, strip->window.from_us);
    sm_clock_format(to, strip->window.to_us);
    from[strlen(from) - 2] = to[strlen(to) - 2] = '\0'; // tenths
    int columns = snprintf(text, sizeof text, " %.3gx %s to %s ",
                           (double)length_of(strip->show) / (double)span, from, to);
    bool right = playhead < area.columns / 2;
    int other = right ? 0 : area.columns - columns, x = right ? area.columns - columns : 0;
    bool other_free = (playhead < other || playhead >= other + columns) &&
                      !any_mark_within(strip, now, other, other + columns);
    if (other_free && any_mark_within(strip, now, x, x + columns))
        x = other;
    sm_area_text(area, x, 0, SM_LOOK_DIM, text);
}

// With four rows or more: names (where there are any), the music, what burns, the lights. With fewer rows the names stand over
// the music, and the lights where nothing burns.
void sm_strip_draw(sm_strip *strip, const sm_view *view, sm_area area) {
    strip->drawn = 0;
    if (area.columns < 1 || area.rows < 2 || !prepare(strip, view, area.columns))
        return;
    const sm_snapshot *now = view->snapshot;
    bool whole = strip->window.from_us == 0 && strip->window.to_us >= length_of(view->show);
    bool tall = area.rows >= 4, named = !whole || now->mark_count > 0 || now->repeat_on;
    int top = tall && named ? 1 : 0, below = tall ? 2 : 1;
    int playhead = column_at(strip, heard_us(now));
    strip->drawn = area.columns;
    sm_area music = sm_area_part(area, 0, top, area.columns, area.rows - top - below);
    if (view->sound->has_music)
        draw_music(strip, music, playhead);
    draw_lights(strip, area, area.rows - 1);
    draw_fire(strip, area, area.rows - below);
    draw_repeat(strip, now, area, tall ? 0 : area.rows - 1, tall ? area.rows - below : 1, tall);
    draw_marks(strip, now, area);
    draw_proposals(strip, now, area, area.rows - 1);
    if (!whole)
        draw_stretch(strip, now, area, playhead);
    for (int row = top; row < area.rows - 1; row++)
        sm_area_text(area, playhead, row, SM_LOOK_NOW, "│");
    sm_area_look(area, playhead, area.rows - 1, 1, SM_LOOK_SELECTED);
}

// ---- pointing at it --------------------------------------------------------------------------------------

bool sm_strip_moment(const sm_strip *strip, const sm_view *view, int x, sm_show_time *out) {
    if (strip->drawn == 0 || strip->show != view->show || x < 0 || x >= strip->drawn)
        return false;
    for (uint32_t i = 0; i < view->snapshot->mark_count; i++) {
        if (column_at(strip, view->snapshot->marks[i].at.us) == x) {
            *out = view->snapshot->marks[i].at;
            return true;
        }
    }
    sm_us span = strip->window.to_us - strip->window.from_us;
    sm_us at = strip->window.from_us + (sm_us)((double)span * x / strip->columns);
    out->us = at / 1000 * 1000; // whole milliseconds, as it is shown and typed
    return true;
}
