// SPDX-License-Identifier: GPL-3.0-or-later
// The rails: lines of text, a field of six columns a slot. The field says what matters most about the slot: its ohms, or a
// word where something is wrong; once the show has been there, what became of it.
//
// Layout. A rail is a heading and as many rows of fields as it needs at this width, all about equally long. Where all rails
// still fit, each row of fields has a row of slot numbers above it; else, where every rail has only one row of fields, one row of
// numbers stands above all of them. The board scrolls by rows. What is wrong can be shown alone, as a list (wrong.c).
#include "boards/rails/rails.h"

#include "boards/words/planted.h"
#include "boards/words/slots_and_flames.h"
#include "boards/words/state_line.h"
#include "screen/scroller.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

#define WHEEL_ROWS 3

typedef struct rails {
    uint32_t cursor; // show-wide slot
    int top;         // first row shown
    bool only_wrong;
    int wrong_top; // first row shown of that list
    // Of the latest drawing:
    int per_row; // fields in a row
    int rows;    // of the list
    int list_y;  // its first row within the board
    bool numbers;
    char typed[12]; // a reading being typed
} rails;

// ---- drawing ------------------------------------------------------------------------------------

static void draw_numbers(sm_area area, int y, int from, int count) {
    for (int i = 0; i < count; i++)
        sm_area_printf(area, SM_RAILS_LABEL + i * SM_RAILS_FIELD, y, SM_LOOK_DIM, "%02d", from + i + 1);
}

static void draw_heading(const sm_view *view, sm_area area, int y, uint32_t r) {
    const sm_rail *rail = &view->show->rails[r];
    unsigned wrong = 0, unread = 0, live = 0;
    for (int32_t n = 0; n < rail->slots; n++) {
        const sm_slot_view *slot = &view->snapshot->slots[rail->slot_base + (uint32_t)n];
        wrong += sm_slot_reads_wrong(slot);
        unread += slot->verdict == SM_VERDICT_UNREAD;
        live += sm_slot_is_left_live(slot->phase);
    }
    bool plugged = view->snapshot->rail_plugged[r];
    int x = 1 + sm_area_printf(area, 1, y, SM_LOOK_TITLE, "%s", rail->name);
    x += 1 + sm_area_text(area, x + 1, y, plugged ? SM_LOOK_PLAIN : SM_LOOK_WARN,
                          plugged ? "plugged" : "UNPLUGGED");
    sm_text trouble = {0};
    if (sm_planted_describe_at_rail(view->snapshot, r, &trouble))
        x += 2 + sm_area_text(area, x + 2, y, SM_LOOK_WARN, sm_text_get(&trouble));
    sm_text_deinit(&trouble);
    if (wrong > 0)
        x += 2 + sm_area_printf(area, x + 2, y, SM_LOOK_WARN, "%u wrong", wrong);
    if (unread > 0)
        x += 2 + sm_area_printf(area, x + 2, y, SM_LOOK_PLAIN, "%u unread", unread);
    if (live > 0)
        x += 2 + sm_area_printf(area, x + 2, y, SM_LOOK_WARN, "%u STILL LIVE", live);
    x += 2 + sm_area_printf(area, x + 2, y, SM_LOOK_DIM, "at %s from %d",
                            view->show->modules[rail->module].name, rail->first);
    if (rail->position != SM_NONE)
        sm_area_printf(area, x, y, SM_LOOK_DIM, ", %s", view->show->positions[rail->position].name);
}

static void draw_fields(const rails *self, const sm_view *view, sm_area area, int y, const sm_rail *rail,
                        int from, bool numbers, bool focused) {
    int count = sm_rails_per_row(rail, self->per_row);
    sm_area_printf(area, 0, y + (numbers ? 1 : 0), SM_LOOK_DIM, "%4d", from + 1);
    if (numbers)
        draw_numbers(area, y, from, count < rail->slots - from ? count : rail->slots - from);
    for (int i = 0; i < count && from + i < rail->slots; i++) {
        uint32_t slot = rail->slot_base + (uint32_t)(from + i);
        int x = SM_RAILS_LABEL + i * SM_RAILS_FIELD;
        sm_rails_field f = sm_rails_field_of(view->snapshot, slot);
        bool here = focused && slot == self->cursor;
        const char *text = here && self->typed[0] ? self->typed : f.text;
        sm_area_field(area, x, y + (numbers ? 1 : 0), here ? SM_RAILS_FIELD - 1 : SM_RAILS_FIELD,
                      here ? SM_LOOK_SELECTED : f.look, text);
    }
}

// What is under the cursor, in full.
static void draw_detail(const rails *self, const sm_view *view, sm_area area) {
    if (self->cursor >= view->show->slot_count)
        return;
    const sm_slot_view *slot = &view->snapshot->slots[self->cursor];
    uint32_t firing = view->show->slot_firings[self->cursor];
    char name[48], ohms[24];
    sm_text text = {0};
    sm_text_printf(&text, "%s %s", sm_slot_format(view->show, self->cursor, name),
                   sm_slot_phase_word(slot->phase));
    if (firing != SM_NONE) {
        const sm_firing *row = &view->show->firings[firing];
        char id[12], clock[24];
        sm_text_printf(&text, ", cue %s %s at %s",
                       sm_cue_id(view->show, view->show->events[row->event].cue, id),
                       view->show->effects[row->effect].name, sm_clock_format(clock, row->fire_us));
        sm_rig_loop loop = sm_rig_firing_loop(view->show, firing);
        sm_text_printf(&text, ", predicted %.2f to %.2f", loop.low_ohms, loop.high_ohms);
    }
    if (slot->reading.kind != SM_READ_NOTHING) {
        sm_text_printf(&text, "; read %s", sm_read_value_format(ohms, slot->reading));
        char age[24];
        if (slot->read_at.us == SM_UNSET_US)
            sm_text_printf(&text, " (file)");
        else
            sm_text_printf(&text, " %s ago", sm_age_format(view->snapshot->wall.us - slot->read_at.us, age));
    }
    sm_text_printf(&text, ": %s", sm_verdict_text(slot->verdict));
    sm_text why = {0};
    sm_rig_explain(view->show, self->cursor, slot->verdict, slot->reading, &why);
    if (slot->phase == SM_SLOT_SPENT && slot->reading.kind == SM_READ_OPEN)
        sm_text_printf(&text, ", as spent: its bridge is burnt");
    else if (why.length > 0)
        sm_text_printf(&text, ", %s", sm_text_get(&why));
    if (slot->tipped)
        sm_text_printf(&text, "; TIPPED OVER");
    if (slot->reported)
        sm_text_printf(&text, "; misfire reported");
    sm_text_deinit(&why);
    sm_area_wrap_cut(area, 2, SM_LOOK_PLAIN, sm_text_get(&text));
    sm_text_deinit(&text);
}

static void cursor_row(const rails *self, const sm_show *show, bool numbers, int *first, int *last) {
    int row = 0;
    for (uint32_t r = 0; r < show->rail_count; r++) {
        const sm_rail *rail = &show->rails[r];
        int rows = sm_rails_rows_of(rail, self->per_row) * (numbers ? 2 : 1);
        if (self->cursor >= rail->slot_base && self->cursor < rail->slot_base + (uint32_t)rail->slots) {
            int line = (int)(self->cursor - rail->slot_base) / sm_rails_per_row(rail, self->per_row);
            *last = row + 1 + line * (numbers ? 2 : 1) + (numbers ? 1 : 0);
            *first = line == 0 ? row : *last - (numbers ? 1 : 0);
            return;
        }
        row += 1 + rows;
    }
    *first = *last = 0;
}

// What the readings mean together comes before what each of them is. The area that is left.
static sm_area below_rig_line(const sm_view *view, sm_area area) {
    if (view->rig_explanation[0] == '\0' || area.rows < 6)
        return area;
    int rows = sm_area_wrap(sm_area_part(area, 1, 0, area.columns - 2, 2), 0, 2, SM_LOOK_WARN,
                            view->rig_explanation);
    rows = rows > 2 ? 2 : rows;
    return sm_area_part(area, 0, rows, area.columns, area.rows - rows);
}

// Draws what of RAIL is in sight from row Y on; returns the row behind it.
static int draw_rail(const rails *self, const sm_view *view, sm_area list, int y, uint32_t r, bool focused) {
    const sm_rail *rail = &view->show->rails[r];
    int step = self->numbers ? 2 : 1;
    if (y >= 0)
        draw_heading(view, list, y, r);
    y++;
    for (int from = 0; from < rail->slots; from += sm_rails_per_row(rail, self->per_row)) {
        if (y + step > 0 && y < list.rows)
            draw_fields(self, view, list, y, rail, from, self->numbers, focused);
        y += step;
    }
    return y;
}

// The rails with something in sight, and how to get at the others.
static void draw_more(const sm_show *show, sm_area area, uint32_t first, uint32_t end) {
    sm_text text = {0};
    sm_text_printf(&text, "rails %u to %u of %u · PageUp PageDown, / goes to a slot, O only what is wrong",
                   first + 1, end, show->rail_count);
    sm_area_field(area, 1, 0, area.columns - 2, SM_LOOK_DIM, sm_text_get(&text));
    sm_text_deinit(&text);
}

// Draws the rails into LIST; returns the rows they need. Where they do not all fit, MORE says what is in sight.
static int draw_rails(rails *self, const sm_view *view, sm_area list, sm_area more, bool focused) {
    const sm_show *show = view->show;
    int count = sm_rails_rows_needed(show, self->per_row, self->numbers), first, last;
    cursor_row(self, show, self->numbers, &first, &last);
    self->top = sm_scroll_to(self->top, last, count, list.rows);
    self->top = sm_scroll_to(self->top, first, count, list.rows);
    int y = -self->top;
    uint32_t r = 0, in_sight = SM_NONE;
    for (; r < show->rail_count && y < list.rows; r++) {
        y = draw_rail(self, view, list, y, r, focused);
        in_sight = in_sight == SM_NONE && y > 0 ? r : in_sight;
    }
    if (more.rows > 0)
        draw_more(show, more, in_sight, r);
    return count;
}

static void rails_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    rails *self = state;
    const sm_show *show = view->show;
    if (show->rail_count == 0) {
        sm_area_text(area, 1, 0, SM_LOOK_DIM, "this show has no rails");
        return;
    }
    int detail_rows = area.rows >= 10 ? 2 : 1, whole = area.rows;
    area = below_rig_line(view, area);
    self->list_y = whole - area.rows;
    int room = area.rows - detail_rows, below = room;
    self->per_row = sm_rails_fields_that_fit(area.columns);
    self->numbers = sm_rails_rows_needed(show, self->per_row, true) <= room;
    int abreast =
        self->numbers || self->only_wrong || room < 4 ? 0 : sm_rails_slots_abreast(show, self->per_row);
    if (abreast > 0) { // one row of numbers for all
        draw_numbers(area, 0, 0, abreast);
        self->list_y++;
        area = sm_area_part(area, 0, 1, area.columns, area.rows - 1);
        below = --room;
    }
    bool more =
        !self->only_wrong && room >= 4 && sm_rails_rows_needed(show, self->per_row, self->numbers) > room;
    sm_area list = sm_area_part(area, 0, 0, area.columns, room - more);
    self->rows = list.rows;
    if (self->only_wrong) {
        sm_rails_draw_wrong(view, list, focused ? self->cursor : SM_NONE, &self->wrong_top);
    } else {
        int count =
            draw_rails(self, view, list, sm_area_part(area, 0, room - 1, area.columns, more), focused);
        below = count + 1 < room ? count + 1 : room; // not far from what it is about
    }
    draw_detail(self, view, sm_area_part(area, 1, below, area.columns - 2, detail_rows));
}

// ---- keys ----------------------------------------------------------------------------------------

static unsigned move_to(rails *self, const sm_show *show, int64_t slot) {
    if (show->slot_count > 0) {
        int64_t last = (int64_t)show->slot_count - 1;
        self->cursor = (uint32_t)(slot < 0 ? 0 : slot > last ? last : slot);
    }
    return SM_NEXT_REDRAW;
}

// The slot in the same column one row of fields up or down.
static unsigned move_row(rails *self, const sm_show *show, int by) {
    if (self->cursor >= show->slot_count)
        return SM_NEXT_REDRAW;
    uint32_t r = show->slot_rails[self->cursor];
    const sm_rail *rail = &show->rails[r];
    int fit = self->per_row > 0 ? self->per_row : 1;
    int count = sm_rails_per_row(rail, fit), n = (int)(self->cursor - rail->slot_base);
    int line = n / count + by, column = n % count;
    if (line < 0 && r > 0) {
        rail = &show->rails[r - 1];
        line = sm_rails_rows_of(rail, fit) - 1;
    } else if (line >= sm_rails_rows_of(rail, fit) && r + 1 < show->rail_count) {
        rail = &show->rails[r + 1];
        line = 0;
    } else if (line < 0 || line >= sm_rails_rows_of(rail, fit)) {
        return SM_NEXT_REDRAW;
    }
    int to = line * sm_rails_per_row(rail, fit) + column;
    to = to < rail->slots ? to : rail->slots - 1;
    return move_to(self, show, (int64_t)rail->slot_base + to);
}

// As many rows of the screen as are in sight.
static unsigned move_page(rails *self, const sm_show *show, int by) {
    int first, from, at;
    uint32_t before;
    cursor_row(self, show, self->numbers, &first, &from);
    do {
        before = self->cursor;
        move_row(self, show, by);
        cursor_row(self, show, self->numbers, &first, &at);
    } while (self->cursor != before && (at > from ? at - from : from - at) < self->rows - 1);
    return SM_NEXT_REDRAW;
}

static unsigned move_wrong(rails *self, const sm_view *view, int key) {
    static const struct {
        int key, rows, pages;
    } steps[] = {{SM_KEY_UP, -1, 0},   {SM_KEY_DOWN, 1, 0},     {SM_KEY_LEFT, -1, 0},
                 {SM_KEY_RIGHT, 1, 0}, {SM_KEY_PAGE_UP, 0, -1}, {SM_KEY_PAGE_DOWN, 0, 1}};
    int page = self->rows > 2 ? self->rows - 2 : 1, by = 0;
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++)
        by += steps[i].key == key ? steps[i].rows + steps[i].pages * page : 0;
    if (key == SM_KEY_HOME || key == SM_KEY_END)
        self->cursor = key == SM_KEY_HOME ? 0 : view->show->slot_count - 1;
    self->cursor = sm_rails_step_wrong(view, self->cursor, by);
    return SM_NEXT_REDRAW;
}

static unsigned only_wrong(rails *self, const sm_view *view) {
    self->only_wrong = !self->only_wrong;
    if (self->only_wrong)
        self->cursor = sm_rails_step_wrong(view, self->cursor, 0);
    return SM_NEXT_REDRAW;
}

static bool rails_answer(void *state, const sm_view *view, const char *text, sm_request *request) {
    rails *self = state;
    uint32_t slot, rail = sm_rail_find(view->show, text);
    if (text[0] == '\0')
        return true;
    if (sm_slot_find(view->show, text, strlen(text), &slot) != SM_OK) {
        if (rail == SM_NONE) {
            snprintf(request->line, sizeof request->line,
                     "no slot or rail '%.40s' in this show: a slot is written such as %s-01", text,
                     view->show->rails[0].name);
            return false;
        }
        slot = view->show->rails[rail].slot_base;
    }
    move_to(self, view->show, slot);
    self->only_wrong = self->only_wrong && sm_slot_is_wrong(view, slot);
    return true;
}

static unsigned enter_reading(rails *self, const sm_view *view, const char *value, sm_request *request) {
    char name[48];
    snprintf(request->line, sizeof request->line, "read %s %s",
             sm_slot_format(view->show, self->cursor, name), value);
    self->typed[0] = '\0';
    if (self->only_wrong)
        self->cursor = sm_rails_step_wrong(view, self->cursor, 1);
    else
        move_to(self, view->show, (int64_t)self->cursor + 1);
    return SM_NEXT_ACT | SM_NEXT_REDRAW;
}

static unsigned type_reading(rails *self, const sm_view *view, int key, sm_request *request) {
    size_t length = strlen(self->typed);
    if (key == SM_KEY_BACKSPACE && length > 0) {
        self->typed[length - 1] = '\0';
        return SM_NEXT_REDRAW;
    }
    if (key == SM_KEY_ENTER && length > 0) {
        sm_read_value value;
        if (sm_read_value_read(self->typed, length, &value) == SM_OK)
            return enter_reading(self, view, self->typed, request);
        snprintf(request->line, sizeof request->line, "'%s' is no reading; write ohms", self->typed);
        return SM_NEXT_SAY | SM_NEXT_REDRAW;
    }
    if (key == SM_KEY_ESCAPE && length > 0) {
        self->typed[0] = '\0';
        return SM_NEXT_REDRAW;
    }
    if ((key < 0x80 && isdigit((unsigned char)key)) || key == '.') {
        if (length + 1 < sizeof self->typed && length < SM_RAILS_FIELD - 1) {
            self->typed[length] = (char)key;
            self->typed[length + 1] = '\0';
        }
        return SM_NEXT_REDRAW;
    }
    // While a number is open no letter means anything else: a slip must not report or plug something.
    return length > 0 && key >= ' ' && key < SM_KEY_SPECIAL ? SM_NEXT_REDRAW : SM_NEXT_UNUSED;
}

static unsigned rails_move(rails *self, const sm_view *view, int key) {
    const sm_show *show = view->show;
    bool moves = key == SM_KEY_LEFT || key == SM_KEY_RIGHT || key == SM_KEY_UP || key == SM_KEY_DOWN ||
                 key == SM_KEY_HOME || key == SM_KEY_END || key == SM_KEY_PAGE_UP || key == SM_KEY_PAGE_DOWN;
    if (!moves)
        return SM_NEXT_UNUSED;
    self->typed[0] = '\0'; // what was not entered is not taken
    if (self->only_wrong)
        return move_wrong(self, view, key);
    switch (key) {
    case SM_KEY_LEFT:
        return move_to(self, show, (int64_t)self->cursor - 1);
    case SM_KEY_RIGHT:
        return move_to(self, show, (int64_t)self->cursor + 1);
    case SM_KEY_UP:
        return move_row(self, show, -1);
    case SM_KEY_DOWN:
        return move_row(self, show, 1);
    case SM_KEY_HOME:
        return move_to(self, show, 0);
    case SM_KEY_END:
        return move_to(self, show, (int64_t)show->slot_count - 1);
    case SM_KEY_PAGE_UP:
        return move_page(self, show, -1);
    default:
        return move_page(self, show, 1);
    }
}

static unsigned rails_press(void *state, const sm_view *view, int key, sm_request *request) {
    rails *self = state;
    if (self->cursor >= view->show->slot_count)
        return SM_NEXT_UNUSED;
    unsigned next = key >= 0 ? type_reading(self, view, key, request) : SM_NEXT_UNUSED;
    if (next != SM_NEXT_UNUSED)
        return next;
    switch (key) {
    case 'o':
        return enter_reading(self, view, "open", request);
    case 's':
        return enter_reading(self, view, "short", request);
    case 'O':
        return only_wrong(self, view);
    case '/':
        snprintf(request->line, sizeof request->line, "go to slot or rail:");
        return SM_NEXT_ASK | SM_NEXT_REDRAW;
    default:
        return rails_move(self, view, key);
    }
}
// The slot drawn at column X of row Y of the list; SM_NONE.
static uint32_t slot_at(const rails *self, const sm_show *show, int x, int y) {
    int row = self->top + y, step = self->numbers ? 2 : 1,
        column = x < SM_RAILS_LABEL ? -1 : (x - SM_RAILS_LABEL) / SM_RAILS_FIELD;
    for (uint32_t r = 0; r < show->rail_count && row >= 0; r++) {
        const sm_rail *rail = &show->rails[r];
        int rows = sm_rails_rows_of(rail, self->per_row) * step, each = sm_rails_per_row(rail, self->per_row);
        row--; // its heading
        if (row >= 0 && row < rows) {
            int n = row / step * each + column;
            bool there = column >= 0 && column < each && n < rail->slots;
            return there ? rail->slot_base + (uint32_t)n : SM_NONE;
        }
        row -= rows;
    }
    return SM_NONE;
}

// A click puts the cursor on a slot; the wheel moves it.
static unsigned rails_point(void *state, const sm_view *view, sm_mouse mouse, sm_request *request) {
    rails *self = state;
    (void)request;
    if (self->cursor >= view->show->slot_count || self->per_row < 1)
        return SM_NEXT_NOTHING;
    if (mouse.what != SM_MOUSE_CLICK) {
        int key = mouse.what == SM_MOUSE_WHEEL_UP ? SM_KEY_UP : SM_KEY_DOWN;
        for (int i = 0; i < WHEEL_ROWS; i++)
            rails_move(self, view, key);
        return SM_NEXT_REDRAW;
    }
    int y = mouse.y - self->list_y;
    uint32_t slot = y < 0 || y >= self->rows ? SM_NONE
                    : self->only_wrong       ? sm_rails_wrong_at(view, self->wrong_top, y)
                                             : slot_at(self, view->show, mouse.x, y);
    if (slot != SM_NONE) {
        self->typed[0] = '\0'; // what was not entered is not taken
        self->cursor = slot;
    }
    return SM_NEXT_REDRAW;
}

static void rails_suggest(void *state, const sm_view *view, sm_argument argument, sm_text *out) {
    const rails *self = state;
    char name[48];
    if (self->cursor >= view->show->slot_count)
        return;
    if (argument == SM_ARG_SLOT || argument == SM_ARG_TARGET)
        sm_text_printf(out, "%s", sm_slot_format(view->show, self->cursor, name));
    else if (argument == SM_ARG_RAIL)
        sm_text_printf(out, "%s", view->show->rails[view->show->slot_rails[self->cursor]].name);
}

static const sm_board_key rails_keys[] = {
    {"arrows PageUp PageDown Home End", "move from slot to slot, and by pages"},
    {"/", "go to a slot or rail by its name"},
    {"mouse", "a click puts the cursor on a slot, the wheel moves it"},
    {"O", "only what is wrong: misread, misfired, passed over, held, inhibited, tipped, unplugged; and back"},
    {"0-9 . Enter", "type a reading in ohms for the slot and enter it"},
    {"o", "the slot reads open"},
    {"s", "the slot reads short"},
    {"in a field", "ohms as predicted; OPEN SHORT LOW HIGH UNSUR(e) STRAY; TIP: tipped over; -- unread; out: "
                   "rail unplugged"},
    {"in a field",
     "fly: in flight; *12: burns 12 s more; spent; MISF misfired, OVER passed over, HELD: LIVE"},
};

const sm_board sm_board_rails = {
    .name = "rails",
    .key = SM_KEY_F0 + 3,
    .about = "what hangs on every slot, as read and as fired",
    .keys = rails_keys,
    .key_count = sizeof rails_keys / sizeof rails_keys[0],
    .state_size = sizeof(rails),
    .draw = rails_draw,
    .press = rails_press,
    .point = rails_point,
    .answer = rails_answer,
    .suggest = rails_suggest,
};
