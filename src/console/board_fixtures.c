// SPDX-License-Identifier: GPL-3.0-or-later
// The fixtures with the levels of their channels as they stand, a table for each profile, and everything about the one under
// the cursor below them. Flame is said in words.
//
// The order of the board is made once a show: profile by profile, then as in the table. `shown` is that order, or what of it
// is wrong now.
#include "console/board_fixtures.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SOUGHT_BYTES 64
#define WHEEL_ROWS 3

typedef struct fixtures {
    const sm_show *show; // of `order`
    uint32_t *order, *shown;
    uint32_t shown_count;
    uint32_t cursor; // fixture
    bool only_wrong;
    int top;
    int first_channel; // scrolled sideways
    char sought[SOUGHT_BYTES];
    int rows, list_y; // of the list as drawn last
} fixtures;

static void fixtures_forget(void *state) {
    fixtures *self = state;
    free(self->order);
    free(self->shown);
}

// ---- the order -----------------------------------------------------------------------------------

// False: memory ran out.
static bool put_in_order(fixtures *self, const sm_show *show) {
    if (self->show == show)
        return true;
    uint32_t *order = malloc((show->fixture_count + 1u) * sizeof *order), count = 0;
    uint32_t *shown = malloc((show->fixture_count + 1u) * sizeof *shown);
    if (!order || !shown) {
        free(order);
        free(shown);
        return false;
    }
    fixtures_forget(self);
    for (uint32_t p = 0; p < show->profile_count; p++) {
        for (uint32_t f = 0; f < show->fixture_count; f++)
            if (show->fixtures[f].profile == p)
                order[count++] = f;
    }
    self->order = order;
    self->shown = shown;
    self->show = show;
    self->cursor = count > 0 ? order[0] : 0;
    return true;
}

// Fills `shown`. False: there is nothing to work on.
static bool look_at(fixtures *self, const sm_view *view) {
    const sm_show *show = view->show;
    if (!put_in_order(self, show))
        return false;
    self->shown_count = 0;
    for (uint32_t i = 0; i < show->fixture_count; i++)
        if (!self->only_wrong || sm_fixture_is_wrong(view, self->order[i]))
            self->shown[self->shown_count++] = self->order[i];
    return true;
}

// Place of the cursor in `shown`, 0 where it is not in it.
static uint32_t cursor_place(const fixtures *self) {
    for (uint32_t i = 0; i < self->shown_count; i++)
        if (self->shown[i] == self->cursor)
            return i;
    return 0;
}

// ---- layout ----------------------------------------------------------------------------------------

static int name_width(const sm_show *show) {
    int width = 6;
    for (uint32_t f = 0; f < show->fixture_count && width < 16; f++) {
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
#define FLAME_WIDTH 28

typedef struct table {
    const sm_profile *profile;
    int names;       // width of the names
    int channels_at; // column of the first channel
    int words_at;    // of the words about a flame
    int first, end;  // channels shown
} table;

static table lay_out(const fixtures *self, const sm_profile *profile, int names, int columns) {
    table t = {.profile = profile, .names = names};
    t.channels_at = 1 + t.names + 1 + ADDRESS_WIDTH;
    int room = columns - t.channels_at - (profile->flame ? FLAME_WIDTH : 0);
    int count = (int)profile->channel_count;
    t.first = self->first_channel < count ? self->first_channel : count - 1;
    t.end = t.first;
    int used = 0;
    while (t.end < count && used + channel_width(profile->channels[t.end]) <= room)
        used += channel_width(profile->channels[t.end++]);
    t.words_at = t.channels_at + used + (used > 0 ? 2 : 0);
    return t;
}

// ---- drawing ------------------------------------------------------------------------------------------

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
    if (t->end < (int)t->profile->channel_count || t->first > 0)
        sm_area_printf(area, x + 1, y, SM_LOOK_DIM, "%d of %u", t->end - t->first, t->profile->channel_count);
}

// What its flame does, and what is wrong with it; where there is no room for both, what is wrong goes first.
static void draw_words(const sm_view *view, sm_area area, int x, int y, uint32_t f) {
    sm_text wrong = {0};
    sm_fixture_format_wrong(view, f, &wrong);
    bool narrow = area.columns < 56 && wrong.length > 0 && !sm_flame_look(view->snapshot, f).lit;
    if (!narrow) {
        int used = sm_fixture_draw_flame(view, area, x, y, f);
        x += used + (used > 0 ? 1 : 0);
    }
    sm_area_field(area, x, y, area.columns - x, SM_LOOK_WARN, sm_text_get(&wrong));
    sm_text_deinit(&wrong);
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
    draw_words(view, area, t->words_at, y, f);
}

// Row of the place PLACE in `shown`: its own, after a heading for each profile up to it.
static int row_of(const fixtures *self, const sm_show *show, uint32_t place) {
    int row = 0;
    uint32_t profile = SM_NONE;
    for (uint32_t i = 0; i <= place && i < self->shown_count; i++) {
        uint32_t here = show->fixtures[self->shown[i]].profile;
        row += i > 0;
        row += here != profile;
        profile = here;
    }
    return row;
}

static void draw_list(fixtures *self, const sm_view *view, sm_area area, bool focused) {
    const sm_show *show = view->show;
    int names = name_width(show), y = -self->top;
    uint32_t profile = SM_NONE;
    table t = {0};
    for (uint32_t i = 0; i < self->shown_count && y < area.rows; i++) {
        uint32_t f = self->shown[i];
        if (show->fixtures[f].profile != profile) {
            profile = show->fixtures[f].profile;
            t = lay_out(self, &show->profiles[profile], names, area.columns);
            if (y >= 0)
                draw_heading(&t, area, y);
            y++;
        }
        if (y >= 0)
            draw_fixture(view, &t, area, y, f, focused && f == self->cursor);
        y++;
    }
}

// What is shown of what there is; nothing where it is everything and all of it is in sight.
static bool describe(const fixtures *self, const sm_show *show, uint32_t place, bool fits, sm_text *out) {
    if (self->only_wrong) {
        sm_text_printf(out, "ONLY WHAT IS WRONG: %u of %u fixtures; O shows all", self->shown_count,
                       show->fixture_count);
    } else if (!fits) {
        sm_text_printf(out, "fixture %u of %u · PageUp PageDown, / finds one, O only what is wrong",
                       place + 1, self->shown_count);
    }
    return out->length > 0;
}

static void fixtures_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    fixtures *self = state;
    if (view->show->fixture_count == 0 || !look_at(self, view)) {
        sm_area_text(area, 1, 0, SM_LOOK_DIM,
                     view->show->fixture_count == 0 ? "this show has no fixtures" : "memory ran out");
        return;
    }
    int detail_rows = area.rows >= 13 ? 5 : area.rows >= 9 ? 3 : 1;
    int room = area.rows - detail_rows;
    uint32_t place = cursor_place(self);
    int count = self->shown_count > 0 ? row_of(self, view->show, self->shown_count - 1) + 1 : 0;
    sm_text text = {0};
    bool said = describe(self, view->show, place, count <= room, &text);
    sm_area_field(area, 1, 0, said ? area.columns - 2 : 0, self->only_wrong ? SM_LOOK_NOW : SM_LOOK_DIM,
                  sm_text_get(&text));
    sm_text_deinit(&text);
    self->list_y = said;
    self->rows = room - said;
    self->top = sm_scroll_to(self->top, row_of(self, view->show, place), count, self->rows);
    if (place == 0)
        self->top = 0; // with the heading
    draw_list(self, view, sm_area_part(area, 0, said, area.columns, self->rows), focused);
    if (self->shown_count > 0) {
        int below = count + said + 1 < room ? count + said + 1 : room; // not far from what it is about
        sm_fixture_draw_detail(view, sm_area_part(area, 1, below, area.columns - 2, detail_rows),
                               self->shown[place]);
    }
}

// ---- keys ---------------------------------------------------------------------------------------------

static unsigned move_to(fixtures *self, int64_t place) {
    if (self->shown_count > 0) {
        int64_t last = (int64_t)self->shown_count - 1;
        self->cursor = self->shown[place > last ? last : place < 0 ? 0 : place];
    }
    return SM_NEXT_REDRAW;
}

// The next fixture after the cursor whose name has TEXT in it, going round. False: none.
static bool find_next(fixtures *self, const sm_show *show, const char *text) {
    uint32_t place = cursor_place(self);
    for (uint32_t i = 1; i <= self->shown_count; i++) {
        uint32_t f = self->shown[(place + i) % self->shown_count];
        if (strcasestr(show->fixtures[f].name, text)) {
            self->cursor = f;
            return true;
        }
    }
    return false;
}

static bool fixtures_answer(void *state, const sm_view *view, const char *text, sm_request *request) {
    fixtures *self = state;
    uint32_t exact = sm_fixture_find(view->show, text);
    if (text[0] == '\0' || !look_at(self, view))
        return true;
    snprintf(self->sought, sizeof self->sought, "%s", text);
    if (exact != SM_NONE && (!self->only_wrong || sm_fixture_is_wrong(view, exact))) {
        self->cursor = exact;
        return true;
    }
    if (!find_next(self, view->show, text)) {
        snprintf(request->line, sizeof request->line, "no fixture%s has '%.40s' in its name",
                 self->only_wrong ? " that is shown" : "", text);
        return false;
    }
    return true;
}

static unsigned press_other(fixtures *self, const sm_view *view, int key, sm_request *request) {
    switch (key) {
    case '/':
        snprintf(request->line, sizeof request->line, "find fixture:");
        return SM_NEXT_ASK | SM_NEXT_REDRAW;
    case 'N':
        (void)(self->sought[0] && find_next(self, view->show, self->sought));
        return SM_NEXT_REDRAW;
    case 'O':
        self->only_wrong = !self->only_wrong;
        self->top = 0;
        return SM_NEXT_REDRAW;
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

static unsigned fixtures_press(void *state, const sm_view *view, int key, sm_request *request) {
    fixtures *self = state;
    if (!look_at(self, view))
        return SM_NEXT_UNUSED;
    int64_t place = cursor_place(self), page = self->rows > 2 ? self->rows - 1 : 1;
    switch (key) {
    case SM_KEY_UP:
        return move_to(self, place - 1);
    case SM_KEY_DOWN:
        return move_to(self, place + 1);
    case SM_KEY_PAGE_UP:
        return move_to(self, place - page);
    case SM_KEY_PAGE_DOWN:
        return move_to(self, place + page);
    case SM_KEY_HOME:
        return move_to(self, 0);
    case SM_KEY_END:
        return move_to(self, self->shown_count);
    default:
        return press_other(self, view, key, request);
    }
}

// The place in `shown` of what is drawn in row Y of the list; -1: a heading, or nothing.
static int64_t place_at(const fixtures *self, const sm_show *show, int y) {
    int row = -self->top;
    uint32_t profile = SM_NONE;
    for (uint32_t i = 0; i < self->shown_count && row <= y; i++) {
        uint32_t here = show->fixtures[self->shown[i]].profile;
        row += here != profile;
        profile = here;
        if (row++ == y)
            return i;
    }
    return -1;
}

// A click puts the cursor on a fixture; the wheel moves it.
static unsigned fixtures_point(void *state, const sm_view *view, sm_mouse mouse, sm_request *request) {
    fixtures *self = state;
    (void)request;
    if (!look_at(self, view))
        return SM_NEXT_NOTHING;
    if (mouse.what != SM_MOUSE_CLICK) {
        return move_to(self, (int64_t)cursor_place(self) +
                                 (mouse.what == SM_MOUSE_WHEEL_UP ? -WHEEL_ROWS : WHEEL_ROWS));
    }
    int y = mouse.y - self->list_y;
    int64_t place = y < 0 || y >= self->rows ? -1 : place_at(self, view->show, y);
    return place < 0 ? SM_NEXT_NOTHING : move_to(self, place);
}

static void fixtures_suggest(void *state, const sm_view *view, sm_argument argument, sm_text *out) {
    fixtures *self = state;
    if (argument == SM_ARG_TARGET && look_at(self, view) && self->shown_count > 0)
        sm_text_printf(out, "%s", view->show->fixtures[self->shown[cursor_place(self)]].name);
}

static const sm_board_key fixtures_keys[] = {
    {"Up Down PageUp PageDown Home End", "move from fixture to fixture"},
    {"Left Right", "more channels, where they do not all fit"},
    {"/ N", "find a fixture by its name or a part of it; the next one"},
    {"mouse", "a click puts the cursor on a fixture, the wheel moves it"},
    {"O", "only what is wrong: inhibited, without its feed, a flame that does not do as told; and back"},
    {"ON off", "the address on nine switches, 1 has weight 1; the maker's own table goes first"},
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
    .point = fixtures_point,
    .answer = fixtures_answer,
    .forget = fixtures_forget,
    .suggest = fixtures_suggest,
};
