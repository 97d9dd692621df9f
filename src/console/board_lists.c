// SPDX-License-Identifier: GPL-3.0-or-later
// Two plain lists: notes (findings about the show's files, and what libraries had to say) and the log as it grows.
#include "console/view.h"

#include <string.h>

typedef struct list {
    int back; // rows scrolled: down from the top (notes), or back in time (log)
    int rows;
} list;

static unsigned list_press(void *state, const sm_view *view, int key, sm_request *request) {
    list *self = state;
    (void)view;
    (void)request;
    switch (key) {
    case SM_KEY_UP:
        self->back -= self->back > 0;
        return SM_NEXT_REDRAW;
    case SM_KEY_DOWN:
        self->back++;
        return SM_NEXT_REDRAW;
    case SM_KEY_PAGE_UP:
        self->back = self->back > self->rows ? self->back - self->rows : 0;
        return SM_NEXT_REDRAW;
    case SM_KEY_PAGE_DOWN:
        self->back += self->rows;
        return SM_NEXT_REDRAW;
    case SM_KEY_HOME:
        self->back = 0;
        return SM_NEXT_REDRAW;
    default:
        return SM_NEXT_UNUSED;
    }
}

static const sm_board_key list_keys[] = {{"Up Down PageUp PageDown Home", "scroll"}};

// ---- notes ----------------------------------------------------------------------------------

static int draw_noise(const sm_view *view, sm_area area, int y) {
    if (view->noise->length == 0) {
        return 0;
    }
    int rows = 0;
    sm_area_text(area, 1, y + rows++, SM_LOOK_TITLE, "Messages of libraries (sound), the latest:");
    const char *at = sm_text_get(view->noise);
    while (*at) {
        size_t length = strcspn(at, "\n");
        sm_text line = {0};
        sm_text_append(&line, at, length);
        if (length > 0) {
            sm_area_text(area, 3, y + rows++, SM_LOOK_DIM, sm_text_get(&line));
        }
        sm_text_deinit(&line);
        at += length + (at[length] == '\n');
    }
    return rows;
}

static int draw_findings(const sm_view *view, sm_area area, int y) {
    sm_area text = sm_area_part(area, 1, 0, area.columns - 1, area.rows);
    size_t count = sm_findings_count(view->findings);
    if (count == 0 && !view->checked) {
        return sm_area_wrap(text, y, 0, SM_LOOK_DIM, "The rules are still being run over the show's files.");
    }
    if (count == 0) {
        return sm_area_wrap(
            text, y, 0, SM_LOOK_DIM,
            "No rule found anything in the show's files. That is not a statement that the show may be "
            "fired.");
    }
    int rows = 0;
    for (size_t i = 0; i < count && y + rows < area.rows; i++) {
        const sm_finding *finding = sm_findings_at(view->findings, i);
        sm_text line = {0};
        sm_finding_format(&line, NULL, finding);
        sm_look look = finding->severity == SM_ERROR ? SM_LOOK_WARN : SM_LOOK_PLAIN;
        rows += sm_area_wrap(text, y + rows, 2, look, sm_text_get(&line));
        sm_text_deinit(&line);
    }
    return rows;
}

static void notes_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    list *self = state;
    (void)focused;
    self->rows = area.rows;
    int y = -self->back;
    const sm_audio_status *sound = view->sound;
    if (sound->problem[0]) {
        y += sm_area_wrap(sm_area_part(area, 1, 0, area.columns - 1, area.rows), y, 2, SM_LOOK_WARN,
                          sound->problem);
    }
    if (sound->reason[0]) {
        sm_text text = {0};
        sm_text_printf(&text, "%s: %s", sound->state == SM_AUDIO_LOST ? "sound lost" : "no sound",
                       sound->reason);
        y += sm_area_wrap(sm_area_part(area, 1, 0, area.columns - 1, area.rows), y, 2, SM_LOOK_PLAIN,
                          sm_text_get(&text));
        sm_text_deinit(&text);
    }
    y += draw_findings(view, area, y);
    y += draw_noise(view, area, y + 1) + 1;
    int needed = y + self->back;
    self->back = sm_scroll_to(self->back, self->back, needed, area.rows);
}

const sm_board sm_board_notes = {
    .name = "notes",
    .key = SM_KEY_F0 + 7,
    .about = "findings about the show's files, and trouble with the sound",
    .keys = list_keys,
    .key_count = 1,
    .state_size = sizeof(list),
    .draw = notes_draw,
    .press = list_press,
};

// ---- log --------------------------------------------------------------------------------------

static sm_look look_of_row(const sm_recent_row *row) {
    static const char *const warn[] = {"refused", "misfire", "unpaired", "passed", "inhibited", "spent"};
    for (size_t i = 0; i < sizeof warn / sizeof warn[0]; i++) {
        if (strcmp(row->what, warn[i]) == 0) {
            return SM_LOOK_WARN;
        }
    }
    if (strcmp(row->what, "fire") == 0) {
        return SM_LOOK_PYRO;
    }
    return row->source == SM_SOURCE_ENGINE ? SM_LOOK_DIM : SM_LOOK_PLAIN;
}

static void draw_row(const sm_view *view, sm_area area, int y, const sm_recent_row *row) {
    char second[16], clock[24] = "";
    sm_look look = look_of_row(row);
    if (row->has_show) {
        sm_clock_format(clock, row->show.us);
    }
    int x = 1;
    if (area.columns >= 60) {
        sm_area_text(area, x, y, SM_LOOK_DIM, sm_day_second(view->day, row->wall, second));
        x += 9;
    }
    sm_area_field(area, x, y, 10, SM_LOOK_DIM, clock);
    sm_text line = {0};
    sm_text_printf(&line, "%s%s%s%s%s%s%s", row->cue, row->cue[0] ? " " : "", row->what,
                   row->target[0] ? " " : "", row->target, row->detail[0] ? " " : "", row->detail);
    sm_area_field(area, x + 11, y, area.columns - x - 11, look, sm_text_get(&line));
    sm_text_deinit(&line);
}

static void log_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    list *self = state;
    (void)focused;
    self->rows = area.rows;
    uint64_t kept = view->recent->count < SM_RECENT_ROWS ? view->recent->count : SM_RECENT_ROWS;
    self->back = sm_scroll_to(self->back, self->back, (int)kept, area.rows);
    for (int y = 0; y < area.rows; y++) {
        const sm_recent_row *row = sm_recent_at(view->recent, (uint64_t)self->back + (uint64_t)y);
        if (row) {
            draw_row(view, area, y, row);
        }
    }
}

const sm_board sm_board_log = {
    .name = "log",
    .key = SM_KEY_F0 + 9,
    .about = "what happened, newest first",
    .keys = list_keys,
    .key_count = 1,
    .state_size = sizeof(list),
    .draw = log_draw,
    .press = list_press,
};
