// SPDX-License-Identifier: GPL-3.0-or-later
// The log as it grows, newest first.
#include "boards/view.h"
#include "boards/words/log_line.h"
#include "screen/scroller.h"

#include <string.h>

static sm_look look_of_row(const sm_recent_row *row) {
    static const bool warns[SM_LOG_COUNT] = {
        [SM_LOG_REFUSED] = true, [SM_LOG_MISFIRE] = true,   [SM_LOG_UNPAIRED] = true,
        [SM_LOG_PASSED] = true,  [SM_LOG_INHIBITED] = true, [SM_LOG_SPENT] = true};
    if (warns[row->kind.what])
        return SM_LOOK_WARN;
    if (row->kind.what == SM_LOG_FIRE)
        return SM_LOOK_PYRO;
    if (row->kind.what == SM_LOG_ALERT && row->kind.rank > 0 && row->kind.rank < SM_ALERT_ADVISORY)
        return SM_LOOK_WARN;
    return row->source == SM_SOURCE_ENGINE ? SM_LOOK_DIM : SM_LOOK_PLAIN;
}

static void draw_row(const sm_view *view, sm_area area, int y, const sm_recent_row *row) {
    char second[16], clock[24] = "";
    sm_look look = look_of_row(row);
    if (row->has_show)
        sm_clock_format(clock, row->show.us);
    int x = 1;
    if (area.columns >= 60) {
        sm_area_text(area, x, y, SM_LOOK_DIM, sm_time_of_day_second(view->time_of_day, row->wall, second));
        x += 9;
    }
    sm_area_field(area, x, y, 10, SM_LOOK_DIM, clock);
    sm_text line = {0};
    sm_log_line(row, &line);
    sm_area_field(area, x + 11, y, area.columns - x - 11, look, sm_text_get(&line));
    sm_text_deinit(&line);
}

static void log_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    sm_scroller *self = state;
    (void)focused;
    uint64_t kept = view->recent->count < SM_RECENT_ROWS ? view->recent->count : SM_RECENT_ROWS;
    sm_scroller_drawn(self, (int)kept - self->top, area.rows);
    for (int y = 0; y < area.rows; y++) {
        const sm_recent_row *row = sm_recent_at(view->recent, (uint64_t)self->top + (uint64_t)y);
        if (row)
            draw_row(view, area, y, row);
    }
}

static unsigned log_press(void *state, const sm_view *view, int key, sm_request *request) {
    sm_scroller *self = state;
    (void)view;
    (void)request;
    if (key == SM_KEY_HOME)
        self->top = 0;
    else if (!sm_scroller_press(self, key))
        return SM_NEXT_UNUSED;
    return SM_NEXT_REDRAW;
}

static const sm_board_key log_keys[] = {{"Up Down PageUp PageDown Home", "scroll"}};

const sm_board sm_board_log = {
    .name = "log",
    .key = SM_KEY_F0 + 9,
    .about = "what happened, newest first",
    .keys = log_keys,
    .key_count = 1,
    .state_size = sizeof(sm_scroller),
    .draw = log_draw,
    .press = log_press,
};
