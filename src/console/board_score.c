// SPDX-License-Identifier: GPL-3.0-or-later
// The score: the show's events as lines that pass a now-line, cue id first, as crews call cues by number.
//
// A line is a run of events of one cue that follow each other in the order of time. Lines are found by walking outward
// from a place in show->order, so that a show of a million events costs no more than what is on screen.
#include "console/view.h"

#include "console/state_line.h"

#include <stdlib.h>
#include <string.h>

typedef struct score {
    bool scrolled;
    uint32_t anchor; // place in show->order of the first line below the now-line, while scrolled
    int rows;        // of the latest drawing
} score;

static uint32_t cue_at(const sm_show *show, uint32_t place) {
    return show->events[show->order[place]].cue;
}

// First place of the line after the one that holds PLACE; event_count at the end.
static uint32_t line_end(const sm_show *show, uint32_t place) {
    uint32_t cue = cue_at(show, place);
    while (place < show->event_count && cue_at(show, place) == cue) {
        place++;
    }
    return place;
}

// First place of the line that ends before PLACE (which is above 0).
static uint32_t line_before(const sm_show *show, uint32_t place) {
    uint32_t cue = cue_at(show, --place);
    while (place > 0 && cue_at(show, place - 1) == cue) {
        place--;
    }
    return place;
}

// ---- one line --------------------------------------------------------------------------

typedef struct columns {
    int id, time, target, what, note; // where each begins
} columns;

static columns columns_for(int width) {
    int target = width >= 100 ? 24 : width >= 60 ? 17 : 10;
    int what = width >= 100 ? 40 : width >= 60 ? 24 : 12;
    return (columns){1, 8, 17, 17 + target + 1, 17 + target + 1 + what + 1};
}

static void add_target(const sm_show *show, const sm_event *event, bool fires, sm_text *out) {
    char name[48];
    sm_text_printf(out, "%s",
                   fires ? sm_slot_format(show, show->firings[event->target].slot, name)
                         : show->fixtures[event->target].name);
}

// As many targets as fit in WIDTH columns, then how many more there are.
static void add_targets(const sm_show *show, uint32_t first, uint32_t end, bool fires, int width,
                        sm_text *out) {
    for (uint32_t place = first; place < end; place++) {
        sm_text one = {0};
        add_target(show, &show->events[show->order[place]], fires, &one);
        bool last = place + 1 == end;
        int room = width - (last ? 0 : 5);
        if (place > first &&
            sm_text_columns(sm_text_get(out)) + 1 + sm_text_columns(sm_text_get(&one)) > room) {
            sm_text_printf(out, " +%u", end - place);
            place = end;
        } else {
            sm_text_printf(out, "%s%s", place > first ? " " : "", sm_text_get(&one));
        }
        sm_text_deinit(&one);
    }
}

// How a firing stands, worst first, for lines that are past.
static const char *past_word(const sm_view *view, uint32_t first, uint32_t end, sm_look *look) {
    static const struct {
        sm_slot_phase phase;
        const char *word;
        sm_look look;
    } order[] = {
        {SM_SLOT_MISFIRED, "MISFIRED", SM_LOOK_WARN}, {SM_SLOT_HELD, "held", SM_LOOK_WARN},
        {SM_SLOT_PASSED, "passed", SM_LOOK_WARN},     {SM_SLOT_FLYING, "in air", SM_LOOK_PYRO},
        {SM_SLOT_BURNING, "burns", SM_LOOK_PYRO},     {SM_SLOT_SPENT, "fired", SM_LOOK_DIM},
    };
    for (size_t i = 0; i < sizeof order / sizeof order[0]; i++) {
        for (uint32_t place = first; place < end; place++) {
            const sm_event *event = &view->show->events[view->show->order[place]];
            uint32_t slot = view->show->firings[event->target].slot;
            if (view->snapshot->slots[slot].phase == order[i].phase) {
                *look = order[i].look;
                return order[i].word;
            }
        }
    }
    return "";
}

static bool any_inhibited(const sm_view *view, uint32_t first, uint32_t end, bool fires) {
    for (uint32_t place = first; place < end; place++) {
        const sm_event *event = &view->show->events[view->show->order[place]];
        bool held = fires ? view->snapshot->slots[view->show->firings[event->target].slot].inhibited
                          : view->snapshot->fixture_inhibited[event->target];
        if (held) {
            return true;
        }
    }
    return false;
}

static sm_look look_of(const sm_show *show, const sm_event *event, bool fires) {
    if (fires) {
        return SM_LOOK_PYRO;
    }
    return show->profiles[show->fixtures[event->target].profile].flame ? SM_LOOK_FLAME : SM_LOOK_LIGHT;
}

static void draw_what(const sm_view *view, sm_area area, int x, int y, int width, sm_look look,
                      uint32_t first, bool fires) {
    const sm_event *event = &view->show->events[view->show->order[first]];
    sm_text text = {0};
    if (fires) {
        sm_text_printf(&text, "%s", view->show->effects[view->show->firings[event->target].effect].name);
    } else {
        const sm_cue *cue = &view->show->cues[event->cue];
        if (cue->fade_us > 0) {
            sm_text_printf(&text, "%.6g s to ", (double)cue->fade_us / 1e6);
        }
        sm_event_format_levels(view->show, view->show->order[first], &text);
    }
    sm_area_field(area, x, y, width, look, sm_text_get(&text));
    sm_text_deinit(&text);
}

static void draw_line(const sm_view *view, sm_area area, int y, uint32_t first, bool past) {
    const sm_show *show = view->show;
    const sm_event *event = &show->events[show->order[first]];
    const sm_cue *cue = &show->cues[event->cue];
    uint32_t end = line_end(show, first);
    bool fires = cue->kind == SM_CUE_FIRE;
    columns at = columns_for(area.columns);
    sm_look look = past ? SM_LOOK_DIM : look_of(show, event, fires), word_look = look;
    char id[12], span[24];
    sm_area_field(area, at.id, y, at.time - at.id - 1, past ? SM_LOOK_DIM : SM_LOOK_PLAIN,
                  sm_cue_id(show, event->cue, id));
    if (past) {
        const char *word = fires ? past_word(view, first, end, &word_look) : "";
        sm_area_field(area, at.time, y, at.target - at.time - 1, word_look, word);
    } else {
        sm_us until = sm_snapshot_until_event(view->snapshot, show->order[first]);
        int width = sm_text_columns(sm_countdown_format(until, span));
        sm_area_text(area, at.target - 2 - width, y, SM_LOOK_PLAIN, span);
    }
    sm_text targets = {0};
    add_targets(show, first, end, fires, at.what - at.target - 1, &targets);
    sm_area_field(area, at.target, y, at.what - at.target - 1, look, sm_text_get(&targets));
    sm_text_deinit(&targets);
    draw_what(view, area, at.what, y, at.note - at.what - 1, look, first, fires);
    bool held = !past && any_inhibited(view, first, end, fires);
    int note = at.note + (held ? sm_area_text(area, at.note, y, SM_LOOK_WARN, "INHIBITED ") : 0);
    sm_area_field(area, note, y, area.columns - note, SM_LOOK_DIM, sm_show_text(show, cue->note));
}

// ---- what burns now -----------------------------------------------------------------------

static void draw_burning(const sm_view *view, sm_area area) {
    const sm_snapshot *now = view->snapshot;
    sm_text text = {0};
    uint32_t count = now->flying + now->burning_count;
    for (uint32_t i = 0; i < count; i++) {
        const sm_burning *burning = &now->burning[i];
        const sm_event *event = &view->show->events[burning->event];
        bool flies = burning->seen_at.us > now->wall.us;
        sm_us left = (flies ? burning->seen_at.us : burning->out_at.us) - now->wall.us;
        char name[48], span[24];
        sm_text_printf(&text, "%s%s %s %s%s", i > 0 ? " · " : "",
                       sm_slot_format(view->show, burning->slot, name),
                       view->show->effects[view->show->firings[event->target].effect].name,
                       flies ? "in air " : "", sm_countdown_format(left, span));
    }
    for (uint32_t fixture = 0; fixture < view->show->fixture_count; fixture++) {
        if (sm_flame_look(now, fixture).lit) {
            sm_text_printf(&text, "%sFLAME %s", text.length > 0 ? " · " : "",
                           view->show->fixtures[fixture].name);
        }
    }
    bool any = text.length > 0;
    sm_area_text(area, 1, 0, any ? SM_LOOK_PYRO : SM_LOOK_DIM, any ? "BURNS" : "nothing burns");
    if (any) {
        sm_area_wrap(sm_area_part(area, 8, 0, area.columns - 9, area.rows), 0, 0, SM_LOOK_PYRO,
                     sm_text_get(&text));
    }
    sm_text_deinit(&text);
}

// ---- the board ---------------------------------------------------------------------------------

static void draw_now_line(const sm_view *view, sm_area area, int y, bool scrolled) {
    char clock[24];
    sm_text text = {0};
    sm_text_printf(&text, "── now %s ", sm_clock_format(clock, view->snapshot->at.us));
    if (text.length > 4) {
        sm_text shorter = {0}; // tenths are enough for the eye, and cost the terminal less
        sm_text_append(&shorter, text.bytes, text.length - 3);
        sm_text_printf(&shorter, " %s", scrolled ? "(scrolled; Home follows) " : "");
        sm_text_deinit(&text);
        text = shorter;
    }
    while (sm_text_columns(sm_text_get(&text)) < area.columns && !text.failed) {
        sm_text_printf(&text, "─");
    }
    sm_area_text(area, 0, y, SM_LOOK_NOW, sm_text_get(&text));
    sm_text_deinit(&text);
}

static void score_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    score *self = state;
    (void)focused;
    const sm_show *show = view->show;
    int burning_rows = area.rows >= 10 ? 2 : 1;
    int rows = area.rows - burning_rows;
    int now_row = rows / 4;
    uint32_t cursor = view->snapshot->cursor, middle = self->scrolled ? self->anchor : cursor;
    middle = middle > show->event_count ? show->event_count : middle;
    self->rows = rows;
    sm_area lines = sm_area_part(area, 0, 0, area.columns, rows);
    uint32_t up = middle;
    for (int y = now_row - 1; y >= 0 && up > 0; y--) {
        up = line_before(show, up);
        draw_line(view, lines, y, up, up < cursor);
    }
    draw_now_line(view, lines, now_row, self->scrolled);
    uint32_t down = middle;
    int y = now_row + 1;
    for (; y < rows && down < show->event_count; y++) {
        draw_line(view, lines, y, down, down < cursor);
        down = line_end(show, down);
    }
    if (down >= show->event_count && y < rows) {
        char clock[24];
        sm_area_printf(lines, 1, y, SM_LOOK_DIM, "end of the show at %s",
                       sm_clock_format(clock, show->length_us));
    }
    draw_burning(view, sm_area_part(area, 0, rows, area.columns, burning_rows));
}

static void scroll_by(score *self, const sm_view *view, int lines) {
    const sm_show *show = view->show;
    if (!self->scrolled) {
        self->anchor = view->snapshot->cursor;
        self->scrolled = true;
    }
    for (; lines < 0 && self->anchor > 0; lines++) {
        self->anchor = line_before(show, self->anchor);
    }
    for (; lines > 0 && self->anchor < show->event_count; lines--) {
        self->anchor = line_end(show, self->anchor);
    }
}

void sm_score_show_cue(void *state, const sm_view *view, uint32_t cue) {
    score *self = state;
    for (uint32_t place = 0; place < view->show->event_count; place++) {
        if (cue_at(view->show, place) == cue) {
            self->anchor = place;
            self->scrolled = true;
            return;
        }
    }
}

static unsigned score_press(void *state, const sm_view *view, int key, sm_request *request) {
    score *self = state;
    (void)request;
    int page = self->rows > 2 ? self->rows - 2 : 1;
    switch (key) {
    case SM_KEY_UP:
        scroll_by(self, view, -1);
        return SM_NEXT_REDRAW;
    case SM_KEY_DOWN:
        scroll_by(self, view, 1);
        return SM_NEXT_REDRAW;
    case SM_KEY_PAGE_UP:
        scroll_by(self, view, -page);
        return SM_NEXT_REDRAW;
    case SM_KEY_PAGE_DOWN:
        scroll_by(self, view, page);
        return SM_NEXT_REDRAW;
    case SM_KEY_HOME:
    case SM_KEY_ESCAPE:
        self->scrolled = false;
        return SM_NEXT_REDRAW;
    default:
        return SM_NEXT_UNUSED;
    }
}

static const sm_board_key score_keys[] = {
    {"Up Down", "scroll by a line"},
    {"PageUp PageDown", "scroll by a page"},
    {"Home Esc", "follow the show again"},
};

const sm_board sm_board_score = {
    .name = "score",
    .key = SM_KEY_F0 + 2,
    .about = "what comes and what was, cue by cue; what burns now",
    .keys = score_keys,
    .key_count = sizeof score_keys / sizeof score_keys[0],
    .state_size = sizeof(score),
    .draw = score_draw,
    .press = score_press,
};
