// SPDX-License-Identifier: GPL-3.0-or-later
// The fixtures with the levels of their channels as they stand, a table for each profile. Flame is said in words.
#include "console/view.h"

#include <stdio.h>
#include <string.h>

typedef struct fixtures {
    uint32_t cursor; // place in the order of the board
    int top;
    int first_channel; // scrolled sideways
    int rows;
} fixtures;

// The board's order: profile by profile, then as in the table. Place PLACE's fixture, SM_NONE past the end.
static uint32_t fixture_at(const sm_show *show, uint32_t place) {
    for (uint32_t p = 0; p < show->profile_count; p++) {
        for (uint32_t f = 0; f < show->fixture_count; f++) {
            if (show->fixtures[f].profile == p && place-- == 0) {
                return f;
            }
        }
    }
    return SM_NONE;
}

static int name_width(const sm_show *show) {
    int width = 6;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        int columns = sm_text_columns(show->fixtures[f].name);
        width = columns > width ? columns : width;
    }
    return width > 16 ? 16 : width;
}

static int channel_width(const char *name) {
    int width = sm_text_columns(name);
    return (width < 3 ? 3 : width > 9 ? 9 : width) + 1;
}

#define ADDRESS_WIDTH 8
#define FLAME_WIDTH 24

typedef struct table {
    const sm_profile *profile;
    int names;       // width of the names
    int channels_at; // column of the first channel
    int words_at;    // of the words about a flame
    int first, end;  // channels shown
} table;

static table lay_out(const fixtures *self, const sm_show *show, const sm_profile *profile, int columns) {
    table t = {.profile = profile, .names = name_width(show)};
    t.channels_at = 1 + t.names + 1 + ADDRESS_WIDTH;
    int room = columns - t.channels_at - (profile->flame ? FLAME_WIDTH : 0);
    int count = (int)profile->channel_count;
    t.first = self->first_channel < count ? self->first_channel : count - 1;
    t.end = t.first;
    int used = 0;
    while (t.end < count && used + channel_width(profile->channels[t.end]) <= room) {
        used += channel_width(profile->channels[t.end++]);
    }
    t.words_at = t.channels_at + used + 2;
    return t;
}

static void draw_heading(const table *t, sm_area area, int y) {
    sm_area_field(area, 1, y, t->channels_at - 2, SM_LOOK_HEADING, t->profile->name);
    int x = t->channels_at;
    for (int c = t->first; c < t->end; c++) {
        int width = channel_width(t->profile->channels[c]);
        int columns = sm_text_columns(t->profile->channels[c]);
        int inset = columns < width - 1 ? width - 1 - columns : 0;
        sm_area_field(area, x + inset, y, width - 1 - inset, SM_LOOK_HEADING, t->profile->channels[c]);
        x += width;
    }
    if (t->end < (int)t->profile->channel_count || t->first > 0) {
        sm_area_printf(area, x + 1, y, SM_LOOK_DIM, "%d of %u", t->end - t->first, t->profile->channel_count);
    }
}

static void draw_flame(const sm_view *view, sm_area area, int x, int y, uint32_t f) {
    sm_flame_view flame = sm_flame_look(view->snapshot, f);
    x += sm_area_text(area, x, y, flame.enabled ? SM_LOOK_FLAME : SM_LOOK_DIM,
                      flame.enabled ? "enable OPEN " : "enable closed ");
    if (flame.lit) {
        sm_area_text(area, x, y, SM_LOOK_FLAME, "FLAME");
    } else {
        sm_area_text(area, x, y, SM_LOOK_DIM, "no flame");
    }
}

static void draw_fixture(const sm_view *view, const table *t, sm_area area, int y, uint32_t f, bool here) {
    const sm_fixture *fixture = &view->show->fixtures[f];
    sm_area_field(area, 1, y, t->names, here ? SM_LOOK_SELECTED : SM_LOOK_PLAIN, fixture->name);
    sm_area_printf(area, 2 + t->names, y, SM_LOOK_DIM, "%d.%03d", fixture->universe, fixture->address);
    int x = t->channels_at;
    for (int c = t->first; c < t->end; c++) {
        int width = channel_width(t->profile->channels[c]);
        uint8_t level = view->snapshot->levels[fixture->channel_base + (uint32_t)c];
        bool home = level == t->profile->home[c];
        sm_area_printf(area, x, y,
                       home                ? SM_LOOK_DIM
                       : t->profile->flame ? SM_LOOK_FLAME
                                           : SM_LOOK_LIGHT,
                       "%*u", width - 1, level);
        x += width;
    }
    if (t->profile->flame) {
        draw_flame(view, area, t->words_at, y, f);
    }
    if (view->snapshot->fixture_inhibited[f]) {
        sm_area_text(area, t->words_at + (t->profile->flame ? FLAME_WIDTH : 0), y, SM_LOOK_WARN, "INHIBITED");
    }
}

typedef struct walk {
    int row, cursor_row, count;
} walk;

// Goes through the rows of the board; draws those from TOP on where DRAWING.
static walk go_through(const fixtures *self, const sm_view *view, sm_area area, bool drawing, bool focused) {
    const sm_show *show = view->show;
    walk w = {0};
    uint32_t place = 0;
    for (uint32_t p = 0; p < show->profile_count; p++) {
        table t = lay_out(self, show, &show->profiles[p], area.columns);
        bool headed = false;
        for (uint32_t f = 0; f < show->fixture_count; f++) {
            if (show->fixtures[f].profile != p) {
                continue;
            }
            if (!headed) {
                if (drawing) {
                    draw_heading(&t, area, w.row - self->top);
                }
                w.row++;
                headed = true;
            }
            bool here = place == self->cursor;
            w.cursor_row = here ? w.row : w.cursor_row;
            if (drawing && w.row >= self->top && w.row < self->top + area.rows) {
                draw_fixture(view, &t, area, w.row - self->top, f, here && focused);
            }
            w.row++;
            place++;
        }
    }
    w.count = w.row;
    return w;
}

static void fixtures_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    fixtures *self = state;
    if (view->show->fixture_count == 0) {
        sm_area_text(area, 1, 0, SM_LOOK_DIM, "this show has no fixtures");
        return;
    }
    walk w = go_through(self, view, area, false, focused);
    self->rows = area.rows;
    self->top = sm_scroll_to(self->top, w.cursor_row, w.count, area.rows);
    if (self->cursor == 0) {
        self->top = 0; // with the heading
    }
    go_through(self, view, area, true, focused);
}

static unsigned move(fixtures *self, const sm_show *show, int64_t to) {
    int64_t last = (int64_t)show->fixture_count - 1;
    self->cursor = (uint32_t)(to > last ? (last < 0 ? 0 : last) : to < 0 ? 0 : to);
    return SM_NEXT_REDRAW;
}

static unsigned fixtures_press(void *state, const sm_view *view, int key, sm_request *request) {
    fixtures *self = state;
    (void)request;
    switch (key) {
    case SM_KEY_UP:
        return move(self, view->show, (int64_t)self->cursor - 1);
    case SM_KEY_DOWN:
        return move(self, view->show, (int64_t)self->cursor + 1);
    case SM_KEY_PAGE_UP:
        return move(self, view->show, (int64_t)self->cursor - self->rows);
    case SM_KEY_PAGE_DOWN:
        return move(self, view->show, (int64_t)self->cursor + self->rows);
    case SM_KEY_HOME:
        return move(self, view->show, 0);
    case SM_KEY_END:
        return move(self, view->show, INT32_MAX);
    case SM_KEY_LEFT:
        self->first_channel -= self->first_channel > 0;
        return SM_NEXT_REDRAW;
    case SM_KEY_RIGHT:
        self->first_channel += self->first_channel < 511;
        return SM_NEXT_REDRAW;
    default:
        return SM_NEXT_UNUSED;
    }
}

static void fixtures_suggest(void *state, const sm_view *view, sm_argument argument, sm_text *out) {
    const fixtures *self = state;
    uint32_t f = fixture_at(view->show, self->cursor);
    if (argument == SM_ARG_TARGET && f != SM_NONE) {
        sm_text_printf(out, "%s", view->show->fixtures[f].name);
    }
}

static const sm_board_key fixtures_keys[] = {
    {"Up Down PageUp PageDown", "move from fixture to fixture"},
    {"Left Right", "more channels, where they do not all fit"},
};

const sm_board sm_board_fixtures = {
    .name = "fixtures",
    .key = SM_KEY_F0 + 4,
    .about = "every fixture with its levels as they stand",
    .keys = fixtures_keys,
    .key_count = sizeof fixtures_keys / sizeof fixtures_keys[0],
    .state_size = sizeof(fixtures),
    .draw = fixtures_draw,
    .press = fixtures_press,
    .suggest = fixtures_suggest,
};
