// SPDX-License-Identifier: GPL-3.0-or-later
// The rails: lines of text, a field of six columns a slot. What is in the field is what matters most about the slot: its
// ohms or, where something is wrong, a word; once the show has been there, what became of it.
//
// Layout. A rail is a heading and as many rows of fields as it needs at this width, all about equally long. Each row of
// fields may have a row of slot numbers above it, where all rails then still fit. The board scrolls by rows.
#include "console/view.h"

#include "console/state_line.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

#define FIELD 6
#define LABEL 5 // "  13 " before a row of fields

typedef struct rails {
    uint32_t cursor; // show-wide slot
    int top;         // first row shown
    int per_row;     // fields in a row at the latest drawing
    int rows;
    char typed[12]; // a reading being typed
} rails;

// ---- one field ------------------------------------------------------------------------------

typedef struct field {
    char text[24];
    sm_look look;
} field;

static field reading_field(const sm_slot_view *slot) {
    static const struct {
        const char *word;
        sm_look look;
    } words[SM_VERDICT_COUNT] = {
        [SM_VERDICT_OPEN] = {"OPEN", SM_LOOK_WARN},     [SM_VERDICT_SHORT] = {"SHORT", SM_LOOK_WARN},
        [SM_VERDICT_LOW] = {"LOW", SM_LOOK_WARN},       [SM_VERDICT_HIGH] = {"HIGH", SM_LOOK_WARN},
        [SM_VERDICT_UNSURE] = {"UNSUR", SM_LOOK_WARN},  [SM_VERDICT_STRAY] = {"STRAY", SM_LOOK_WARN},
        [SM_VERDICT_SPARE] = {"spare", SM_LOOK_DIM},    [SM_VERDICT_UNREAD] = {"--", SM_LOOK_PLAIN},
        [SM_VERDICT_UNPLUGGED] = {"out", SM_LOOK_WARN},
    };
    field f = {"", SM_LOOK_PLAIN};
    if (slot->verdict == SM_VERDICT_GOOD) {
        char ohms[24];
        sm_read_value_format(ohms, slot->reading);
        snprintf(f.text, sizeof f.text, "%.5s", ohms);
    } else {
        snprintf(f.text, sizeof f.text, "%s", words[slot->verdict].word);
        f.look = words[slot->verdict].look;
    }
    return f;
}

static field slot_field(const sm_snapshot *snapshot, uint32_t slot) {
    const sm_slot_view *view = &snapshot->slots[slot];
    field f = {"", SM_LOOK_PYRO};
    char span[24];
    switch (view->phase) {
    case SM_SLOT_FLYING:
        snprintf(f.text, sizeof f.text, "fly");
        return f;
    case SM_SLOT_BURNING:
        sm_countdown_format(view->until.us - snapshot->wall.us, span);
        span[strcspn(span, " ")] = '\0';
        snprintf(f.text, sizeof f.text, "*%.4s", span);
        return f;
    case SM_SLOT_SPENT:
        return (field){"spent", SM_LOOK_DIM};
    case SM_SLOT_MISFIRED:
        return (field){"MISF", SM_LOOK_WARN};
    case SM_SLOT_PASSED:
        return (field){"OVER", SM_LOOK_WARN};
    case SM_SLOT_HELD:
        return (field){"HELD", SM_LOOK_WARN};
    default:
        break;
    }
    if (view->inhibited) {
        return (field){"INHIB", SM_LOOK_WARN};
    }
    return reading_field(view);
}

// ---- layout -----------------------------------------------------------------------------------

static int fields_that_fit(int columns) {
    int fit = (columns - LABEL) / FIELD;
    return fit < 1 ? 1 : fit;
}

static int rows_of(const sm_rail *rail, int fit) {
    return (rail->slots + fit - 1) / fit;
}

// Fields in each row of RAIL, the rows about equally long.
static int per_row(const sm_rail *rail, int fit) {
    int rows = rows_of(rail, fit);
    return rows < 1 ? 1 : (rail->slots + rows - 1) / rows;
}

static int rows_needed(const sm_show *show, int fit, bool numbers) {
    int rows = 0;
    for (uint32_t r = 0; r < show->rail_count; r++) {
        rows += 1 + rows_of(&show->rails[r], fit) * (numbers ? 2 : 1);
    }
    return rows;
}

// ---- drawing ------------------------------------------------------------------------------------

static void draw_heading(const sm_view *view, sm_area area, int y, uint32_t r) {
    const sm_rail *rail = &view->show->rails[r];
    unsigned wrong = 0, unread = 0, live = 0;
    for (int32_t n = 0; n < rail->slots; n++) {
        const sm_slot_view *slot = &view->snapshot->slots[rail->slot_base + (uint32_t)n];
        wrong += sm_verdict_refuses(slot->verdict) || slot->verdict == SM_VERDICT_STRAY;
        unread += slot->verdict == SM_VERDICT_UNREAD;
        live +=
            slot->phase == SM_SLOT_MISFIRED || slot->phase == SM_SLOT_PASSED || slot->phase == SM_SLOT_HELD;
    }
    bool plugged = view->snapshot->rail_plugged[r];
    int x = 1 + sm_area_printf(area, 1, y, SM_LOOK_TITLE, "%s", rail->name);
    x += 1 + sm_area_text(area, x + 1, y, plugged ? SM_LOOK_PLAIN : SM_LOOK_WARN,
                          plugged ? "plugged" : "UNPLUGGED");
    if (wrong > 0) {
        x += 2 + sm_area_printf(area, x + 2, y, SM_LOOK_WARN, "%u wrong", wrong);
    }
    if (unread > 0) {
        x += 2 + sm_area_printf(area, x + 2, y, SM_LOOK_PLAIN, "%u unread", unread);
    }
    if (live > 0) {
        x += 2 + sm_area_printf(area, x + 2, y, SM_LOOK_WARN, "%u LIVE", live);
    }
    x += 2 + sm_area_printf(area, x + 2, y, SM_LOOK_DIM, "at %s from %d",
                            view->show->modules[rail->module].name, rail->first);
    if (rail->position != SM_NONE) {
        sm_area_printf(area, x, y, SM_LOOK_DIM, ", %s", view->show->positions[rail->position].name);
    }
}

static void draw_fields(const rails *self, const sm_view *view, sm_area area, int y, const sm_rail *rail,
                        int from, bool numbers, bool focused) {
    int count = per_row(rail, self->per_row);
    sm_area_printf(area, 0, y + (numbers ? 1 : 0), SM_LOOK_DIM, "%4d", from + 1);
    for (int i = 0; i < count && from + i < rail->slots; i++) {
        uint32_t slot = rail->slot_base + (uint32_t)(from + i);
        int x = LABEL + i * FIELD;
        if (numbers) {
            sm_area_printf(area, x, y, SM_LOOK_DIM, "%02d", from + i + 1);
        }
        field f = slot_field(view->snapshot, slot);
        bool here = focused && slot == self->cursor;
        const char *text = here && self->typed[0] ? self->typed : f.text;
        sm_area_field(area, x, y + (numbers ? 1 : 0), here ? FIELD - 1 : FIELD,
                      here ? SM_LOOK_SELECTED : f.look, text);
    }
}

// What is under the cursor, in full.
static void draw_detail(const rails *self, const sm_view *view, sm_area area) {
    if (self->cursor >= view->show->slot_count) {
        return;
    }
    const sm_slot_view *slot = &view->snapshot->slots[self->cursor];
    uint32_t firing = view->show->slot_firings[self->cursor];
    char name[48], ohms[24];
    sm_text text = {0};
    sm_text_printf(&text, "%s %s", sm_slot_format(view->show, self->cursor, name),
                   sm_phase_word(slot->phase));
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
        if (slot->read_at.us == SM_UNSET_US) {
            sm_text_printf(&text, " (file)");
        } else {
            sm_text_printf(&text, " %s ago", sm_age_format(view->snapshot->wall.us - slot->read_at.us, age));
        }
    }
    sm_text_printf(&text, ": %s", sm_verdict_text(slot->verdict));
    sm_text why = {0};
    sm_rig_explain(view->show, self->cursor, slot->verdict, slot->reading, &why);
    if (why.length > 0) {
        sm_text_printf(&text, ", %s", sm_text_get(&why));
    }
    if (slot->reported) {
        sm_text_printf(&text, "; misfire reported");
    }
    sm_text_deinit(&why);
    sm_area_wrap_cut(area, 2, SM_LOOK_PLAIN, sm_text_get(&text));
    sm_text_deinit(&text);
}

static void cursor_row(const rails *self, const sm_show *show, bool numbers, int *first, int *last) {
    int row = 0;
    for (uint32_t r = 0; r < show->rail_count; r++) {
        const sm_rail *rail = &show->rails[r];
        int rows = rows_of(rail, self->per_row) * (numbers ? 2 : 1);
        if (self->cursor >= rail->slot_base && self->cursor < rail->slot_base + (uint32_t)rail->slots) {
            int line = (int)(self->cursor - rail->slot_base) / per_row(rail, self->per_row);
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
    if (view->rig[0] == '\0' || area.rows < 6) {
        return area;
    }
    int rows = sm_area_wrap(sm_area_part(area, 1, 0, area.columns - 2, 2), 0, 2, SM_LOOK_WARN, view->rig);
    rows = rows > 2 ? 2 : rows;
    return sm_area_part(area, 0, rows, area.columns, area.rows - rows);
}

static void rails_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    rails *self = state;
    const sm_show *show = view->show;
    if (show->rail_count == 0) {
        sm_area_text(area, 1, 0, SM_LOOK_DIM, "this show has no rails");
        return;
    }
    int detail_rows = area.rows >= 10 ? 2 : 1;
    area = below_rig_line(view, area);
    sm_area list = sm_area_part(area, 0, 0, area.columns, area.rows - detail_rows);
    self->per_row = fields_that_fit(area.columns);
    self->rows = list.rows;
    bool numbers = rows_needed(show, self->per_row, true) <= list.rows;
    int count = rows_needed(show, self->per_row, numbers), first, last;
    cursor_row(self, show, numbers, &first, &last);
    self->top = sm_scroll_to(self->top, last, count, list.rows);
    self->top = sm_scroll_to(self->top, first, count, list.rows);
    int y = -self->top;
    for (uint32_t r = 0; r < show->rail_count && y < list.rows; r++) {
        const sm_rail *rail = &show->rails[r];
        draw_heading(view, list, y++, r);
        for (int from = 0; from < rail->slots; from += per_row(rail, self->per_row)) {
            draw_fields(self, view, list, y, rail, from, numbers, focused);
            y += numbers ? 2 : 1;
        }
    }
    int below = count + 1 < list.rows ? count + 1 : list.rows; // not far from what it is about
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
    if (self->cursor >= show->slot_count) {
        return SM_NEXT_REDRAW;
    }
    uint32_t r = show->slot_rails[self->cursor];
    const sm_rail *rail = &show->rails[r];
    int fit = self->per_row > 0 ? self->per_row : 1;
    int count = per_row(rail, fit), n = (int)(self->cursor - rail->slot_base);
    int line = n / count + by, column = n % count;
    if (line < 0 && r > 0) {
        rail = &show->rails[r - 1];
        line = rows_of(rail, fit) - 1;
    } else if (line >= rows_of(rail, fit) && r + 1 < show->rail_count) {
        rail = &show->rails[r + 1];
        line = 0;
    } else if (line < 0 || line >= rows_of(rail, fit)) {
        return SM_NEXT_REDRAW;
    }
    int to = line * per_row(rail, fit) + column;
    to = to < rail->slots ? to : rail->slots - 1;
    return move_to(self, show, (int64_t)rail->slot_base + to);
}

static unsigned enter_reading(rails *self, const sm_view *view, const char *value, sm_request *request) {
    char name[48];
    snprintf(request->line, sizeof request->line, "read %s %s",
             sm_slot_format(view->show, self->cursor, name), value);
    self->typed[0] = '\0';
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
        return enter_reading(self, view, self->typed, request);
    }
    if (key == SM_KEY_ESCAPE && length > 0) {
        self->typed[0] = '\0';
        return SM_NEXT_REDRAW;
    }
    if ((key < 0x80 && isdigit((unsigned char)key)) || key == '.') {
        if (length + 1 < sizeof self->typed && length < FIELD - 1) {
            self->typed[length] = (char)key;
            self->typed[length + 1] = '\0';
        }
        return SM_NEXT_REDRAW;
    }
    // While a number is open no letter means anything else: a slip must not report or plug something.
    return length > 0 && key >= ' ' && key < SM_KEY_SPECIAL ? SM_NEXT_REDRAW : SM_NEXT_UNUSED;
}

static unsigned rails_press(void *state, const sm_view *view, int key, sm_request *request) {
    rails *self = state;
    const sm_show *show = view->show;
    if (self->cursor >= show->slot_count) {
        return SM_NEXT_UNUSED;
    }
    unsigned next = key >= 0 ? type_reading(self, view, key, request) : SM_NEXT_UNUSED;
    if (next != SM_NEXT_UNUSED) {
        return next;
    }
    switch (key) {
    case 'o':
        return enter_reading(self, view, "open", request);
    case 's':
        return enter_reading(self, view, "short", request);
    default:
        break;
    }
    static const int moves[] = {SM_KEY_LEFT, SM_KEY_RIGHT, SM_KEY_UP, SM_KEY_DOWN, SM_KEY_HOME, SM_KEY_END};
    for (size_t i = 0; i < sizeof moves / sizeof moves[0]; i++) {
        if (key == moves[i]) {
            self->typed[0] = '\0'; // what was not entered is not taken
        }
    }
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
    default:
        return SM_NEXT_UNUSED;
    }
}

static void rails_suggest(void *state, const sm_view *view, sm_argument argument, sm_text *out) {
    const rails *self = state;
    char name[48];
    if (self->cursor >= view->show->slot_count) {
        return;
    }
    if (argument == SM_ARG_SLOT || argument == SM_ARG_TARGET) {
        sm_text_printf(out, "%s", sm_slot_format(view->show, self->cursor, name));
    } else if (argument == SM_ARG_RAIL) {
        sm_text_printf(out, "%s", view->show->rails[view->show->slot_rails[self->cursor]].name);
    }
}

static const sm_board_key rails_keys[] = {
    {"arrows Home End", "move from slot to slot"},
    {"0-9 . Enter", "type a reading in ohms for the slot and enter it"},
    {"o", "the slot reads open"},
    {"s", "the slot reads short"},
    {"in a field", "ohms as predicted; OPEN SHORT LOW HIGH UNSUR(e) STRAY; -- unread; out: rail unplugged"},
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
    .suggest = rails_suggest,
};
