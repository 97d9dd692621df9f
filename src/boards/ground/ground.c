// SPDX-License-Identifier: GPL-3.0-or-later
// The ground: a plan of the site from positions.csv with every unit at its place, what burns and shines now, and how far
// it is to the audience front. Beside it (or below it, where the site is wide and low) what cannot stand in a plan.
#include "boards/ground/ground.h"

#include "boards/view.h"
#include "screen/scroller.h"

#include <stdlib.h>
#include <string.h>

typedef struct ground_board {
    sm_ground *ground; // of `show`; NULL: none made, or no memory for it
    const sm_show *show;
    sm_ground_plan drawn;
    uint32_t cursor; // unit
    bool preview;
    sm_show_time at;  // of the preview
    sm_scroller told; // what stands beside the plan
    int x, y;         // corner of the board on the grid
} ground_board;

static void ground_forget(void *state) {
    ground_board *self = state;
    sm_ground_destroy(self->ground);
    sm_ground_plan_deinit(&self->drawn);
    *self = (ground_board){0};
}

// False: no memory.
static bool follow(ground_board *self, const sm_view *view) {
    if (self->show != view->show)
        ground_forget(self);
    if (!self->ground && sm_ground_create(view->show, &self->ground) == SM_OK)
        self->show = view->show;
    if (!self->ground)
        return false;
    self->preview = self->preview && !sm_walk_preview_refusal(view->snapshot->state, view->snapshot->key);
    if (self->preview)
        self->preview = sm_ground_preview(self->ground, self->at) == SM_OK;
    if (!self->preview)
        sm_ground_look(self->ground, view->snapshot);
    return true;
}

// ---- drawing ------------------------------------------------------------------------------------

typedef struct layout {
    sm_area plan, told;
} layout;

// What is told stands beside the plan or below it, whichever leaves the plan at the larger scale.
static layout lay_out(const sm_show *show, sm_area area) {
    sm_plan_bounds bounds = sm_ground_bounds(show);
    int beside = area.columns * 2 / 5, below = area.rows * 2 / 5;
    beside = beside > 64 ? 64 : beside < 20 ? 20 : beside;
    beside = beside > area.columns - 4 ? area.columns - 4 : beside;
    int columns = area.columns - beside - 1, rows = area.rows - below;
    bool is_low = rows >= 8 && sm_plan_scale(&bounds, area.columns, rows - 1) * 1.2 <
                                   sm_plan_scale(&bounds, columns, area.rows - 1);
    if (is_low) {
        return (layout){sm_area_part(area, 0, 0, area.columns, rows),
                        sm_area_part(area, 1, rows, area.columns - 2, below)};
    }
    return (layout){sm_area_part(area, 0, 0, columns, area.rows),
                    sm_area_part(area, columns + 1, 0, beside, area.rows)};
}

static void draw_told(ground_board *self, const sm_view *view, sm_area area) {
    const sm_ground_told told = {self->ground, self->cursor, self->preview, self->at};
    int y = sm_ground_tell(&told, view, area, -self->told.top);
    sm_scroller_drawn(&self->told, y, area.rows);
    if (self->told.needed - self->told.top > area.rows && area.rows > 0)
        sm_area_text(area, area.columns - 1, area.rows - 1, SM_LOOK_DIM, "…");
}

// Without places there is no plan; what there is to tell is told all the same.
static void draw_no_plan(ground_board *self, const sm_view *view, sm_area area) {
    int y =
        sm_area_wrap(area, 0, 2, SM_LOOK_NOW,
                     "No plan: this show has no positions.csv. Write one with the columns name,x,y (metres: "
                     "x along the audience "
                     "front, y away from it), a row a place, and name the place of each rail and fixture in "
                     "the column `position` "
                     "of rails.csv and fixtures.csv; `audience` in show.ini is the y of the audience front.");
    y = y + 1 < area.rows ? y + 1 : area.rows;
    draw_told(self, view, sm_area_part(area, 0, y, area.columns, area.rows - y));
}

static void ground_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    ground_board *self = state;
    if (!follow(self, view)) {
        sm_area_text(area, 1, 0, SM_LOOK_WARN, "memory ran out: no plan");
        return;
    }
    self->drawn.columns = 0;
    self->x = area.x;
    self->y = area.y;
    if (view->show->position_count == 0 || area.rows < 4 || area.columns < 24) {
        draw_no_plan(self, view, sm_area_part(area, 1, 0, area.columns - 2, area.rows));
        return;
    }
    layout parts = lay_out(view->show, area);
    if (sm_ground_plan_draw(&self->drawn, self->ground, self->cursor, focused, parts.plan) != SM_OK) {
        sm_area_text(area, 1, 0, SM_LOOK_WARN, "memory ran out: no plan");
        return;
    }
    draw_told(self, view, parts.told);
}

// ---- keys -----------------------------------------------------------------------------------------

static unsigned move_to(ground_board *self, int64_t unit) {
    int64_t last = (int64_t)self->ground->unit_count - 1;
    self->cursor = (uint32_t)(unit > last ? (last < 0 ? 0 : last) : unit < 0 ? 0 : unit);
    self->told.top = 0;
    return SM_NEXT_REDRAW;
}

// The moment of the cue before or after the one that is previewed; where there is none it stays.
static unsigned move_moment(ground_board *self, const sm_show *show, bool on) {
    sm_us best = self->at.us;
    for (uint32_t c = 0; c < show->cue_count; c++) {
        sm_us at = show->cues[c].time_us;
        bool beyond = on ? at > self->at.us : at < self->at.us;
        bool nearer = best == self->at.us || (on ? at < best : at > best);
        best = beyond && nearer ? at : best;
    }
    self->at.us = best;
    return SM_NEXT_REDRAW;
}

// The moment at which the unit under the cursor has its first cue.
static sm_show_time first_moment(const ground_board *self, const sm_show *show) {
    const sm_unit *unit = &self->ground->units[self->cursor];
    for (uint32_t i = 0; self->cursor < self->ground->unit_count && i < show->event_count; i++) {
        const sm_event *event = &show->events[show->order[i]];
        bool fires = show->cues[event->cue].kind == SM_CUE_FIRE;
        uint32_t index = fires ? show->slot_rails[show->firings[event->target].slot] : event->target;
        if (fires == (unit->kind == SM_UNIT_RAIL) && index == unit->index)
            return (sm_show_time){show->cues[event->cue].time_us};
    }
    return (sm_show_time){0};
}

static unsigned toggle_preview(ground_board *self, const sm_view *view) {
    self->preview = !self->preview && !sm_walk_preview_refusal(view->snapshot->state, view->snapshot->key);
    self->told.top = 0;
    if (self->preview)
        self->at = first_moment(self, view->show);
    return SM_NEXT_REDRAW;
}

static unsigned ground_press(void *state, const sm_view *view, int key, sm_request *request) {
    ground_board *self = state;
    (void)request;
    if (!follow(self, view))
        return SM_NEXT_UNUSED;
    switch (key) {
    case SM_KEY_UP:
        return move_to(self, (int64_t)self->cursor - 1);
    case SM_KEY_DOWN:
        return move_to(self, (int64_t)self->cursor + 1);
    case SM_KEY_LEFT:
        return self->preview ? move_moment(self, view->show, false)
                             : move_to(self, (int64_t)self->cursor - 1);
    case SM_KEY_RIGHT:
        return self->preview ? move_moment(self, view->show, true) : move_to(self, (int64_t)self->cursor + 1);
    case SM_KEY_HOME:
        return move_to(self, 0);
    case SM_KEY_END:
        return move_to(self, (int64_t)self->ground->unit_count - 1);
    case SM_KEY_ENTER:
        return toggle_preview(self, view);
    default:
        // PageUp, PageDown
        return sm_scroller_press(&self->told, key) ? SM_NEXT_REDRAW : SM_NEXT_UNUSED;
    }
}

// A click on a place puts the cursor on its first unit, another on the next one there; the wheel scrolls what is told.
static unsigned ground_point(void *state, const sm_view *view, sm_mouse mouse, sm_request *request) {
    ground_board *self = state;
    (void)request;
    if (!follow(self, view))
        return SM_NEXT_NOTHING;
    if (mouse.what != SM_MOUSE_CLICK) {
        int by = mouse.what == SM_MOUSE_WHEEL_UP ? SM_KEY_UP : SM_KEY_DOWN;
        for (int i = 0; i < 3; i++)
            sm_scroller_press(&self->told, by);
        return SM_NEXT_REDRAW;
    }
    int x = mouse.x + self->x - self->drawn.x, y = mouse.y + self->y - self->drawn.y;
    bool inside = x >= 0 && x < self->drawn.columns && y >= 0 && y < self->drawn.rows;
    uint32_t p = inside ? sm_ground_plan_hit(&self->drawn, self->ground, x, y) : SM_NONE;
    if (p != SM_NONE) {
        const sm_place_on_ground *place = &self->ground->places[p];
        bool here = self->cursor >= place->first && self->cursor < place->first + place->count;
        move_to(self, here ? place->first + (self->cursor - place->first + 1) % place->count : place->first);
    }
    return SM_NEXT_REDRAW;
}

static void ground_show_changed(void *state, const sm_view *view) {
    (void)view;
    ground_forget(state);
}

static void ground_suggest(void *state, const sm_view *view, sm_argument argument, sm_text *out) {
    ground_board *self = state;
    if (!follow(self, view) || self->cursor >= self->ground->unit_count)
        return;
    const sm_unit *unit = &self->ground->units[self->cursor];
    if (argument == SM_ARG_TARGET || (argument == SM_ARG_RAIL && unit->kind == SM_UNIT_RAIL))
        sm_text_printf(out, "%s", sm_unit_name(view->show, unit));
}

static const sm_board_key ground_keys[] = {
    {"Up Down Home End", "from unit to unit, place by place; those without a place come last"},
    {"PageUp PageDown",
     "scroll what is told beside the plan; so does the wheel, and a click goes to a place's units"},
    {"Enter",
     "PREVIEW of the score on the plan, only while safe with the key off; Left Right: from cue to cue"},
    {"on the plan",
     "seen from above, the audience below: x along its front, y away from it, one scale for both"},
    {"on the plan",
     "dotted ring: the distance figure used round the unit; dotted line: to the audience front"},
    {"by words", SM_DOING_LEGEND "; light to the nearest 5 %: dimmer times brightest colour"},
    {"by words", "+2: two more units stand there; -3: the end of a name; where no words fit, one letter "
                 "takes the place of the dot"},
};

const sm_board sm_board_ground = {
    .name = "ground",
    .key = SM_KEY_F0 + 10,
    .about = "a plan of the site: what burns and shines where, and the distances to the audience front",
    .keys = ground_keys,
    .key_count = sizeof ground_keys / sizeof ground_keys[0],
    .state_size = sizeof(ground_board),
    .draw = ground_draw,
    .press = ground_press,
    .point = ground_point,
    .show_changed = ground_show_changed,
    .forget = ground_forget,
    .suggest = ground_suggest,
};
