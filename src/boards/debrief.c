// SPDX-License-Identifier: GPL-3.0-or-later
// The debrief of a drill that is over. First it asks. Then it shows what happened beside what the trainee did, step by step.
//
// Layout. All of it is one scroll: the head, the steps in two columns (below 60 columns one below the other), the tail with the
// score. It is laid out twice. The first time nothing is drawn, only the row of the present step is found; the second time that
// row is scrolled into sight.
#include "boards/view.h"
#include "screen/scroller.h"

#include <stdio.h>
#include <string.h>

#define TIME 11 // "1:02:03.456"
#define TWO_COLUMNS 60

typedef struct debrief {
    unsigned question; // put next; all of them were put: SM_DRILL_QUESTIONS
    bool stepping;
    uint32_t step;
    sm_scroller scroller;
} debrief;

static bool asks(const debrief *self, const sm_view *view) {
    return !view->debrief->broken_off && self->question < SM_DRILL_QUESTIONS;
}

// ---- before it shows --------------------------------------------------------------------------------

static int draw_paragraph(sm_area area, int y, sm_look look, const char *text) {
    return y + sm_area_wrap(sm_area_part(area, 1, 0, area.columns - 2, area.rows), y, 3, look, text);
}

// Where there is no room for all of them, the one that is put.
static int draw_question(const debrief *self, sm_area area, int y) {
    char line[120];
    snprintf(line, sizeof line, "Before the debrief, %u of %u: %s", self->question + 1, SM_DRILL_QUESTIONS,
             sm_drill_question(self->question));
    y = draw_paragraph(area, y, SM_LOOK_NOW, line);
    return draw_paragraph(area, y, SM_LOOK_PLAIN, "Enter answers; may be left empty.");
}

static int draw_questions(const debrief *self, bool as_lines, sm_area area, int y) {
    y = draw_paragraph(area, y, SM_LOOK_TITLE,
                       "The drill is over, and the rehearsed module was made safe. Before the debrief shows "
                       "anything, it asks:");
    for (unsigned i = 0; i < SM_DRILL_QUESTIONS; i++) {
        char line[80];
        snprintf(line, sizeof line, "%u. %s%s", i + 1, sm_drill_question(i),
                 i < self->question ? " (asked)" : "");
        y = draw_paragraph(area, y, i == self->question ? SM_LOOK_NOW : SM_LOOK_DIM, line);
    }
    return draw_paragraph(
        area, y, SM_LOOK_PLAIN,
        as_lines
            ? "Type your answer as a line. It may be left empty; it is kept in the record."
            : "Press Enter, type your answer, press Enter again. It may be left empty; it is kept in the "
              "record. While you type, F8 makes safe.");
}

// ---- the whole -------------------------------------------------------------------------------------------

static int draw_lines(sm_area area, int y, const char *lines) {
    while (*lines) {
        size_t length = strcspn(lines, "\n"), indent = strspn(lines, " ");
        int x = 1 + (int)(indent < length ? indent : 0);
        sm_text line = {0};
        sm_text_append(&line, lines + (x - 1), length - (size_t)(x - 1));
        int rows = sm_area_wrap(sm_area_part(area, x, 0, area.columns - x - 1, area.rows), y, 4,
                                SM_LOOK_PLAIN, sm_text_get(&line));
        sm_text_deinit(&line);
        y += rows > 0 ? rows : 1;
        lines += length + (lines[length] == '\n');
    }
    return y;
}

static sm_look step_look(const sm_drill_step *step) {
    switch (step->kind) {
    case SM_STEP_EVENT:
    case SM_STEP_SAID:
        return SM_LOOK_NOW;
    case SM_STEP_STATE:
        return SM_LOOK_DIM;
    default:
        return SM_LOOK_PLAIN;
    }
}

// One step, from row Y on; returns the row behind it.
static int draw_step(const sm_drill_step *step, sm_area area, int y, bool here) {
    char clock[24];
    bool own = sm_step_is_own(step->kind), two = area.columns >= TWO_COLUMNS;
    int side = (area.columns - TIME - 6) / 2;
    int x = TIME + 2 + (two && own ? side + 3 : 0), width = two ? side : area.columns - TIME - 3;
    sm_look look = here ? SM_LOOK_SELECTED : step_look(step);
    sm_text text = {0};
    sm_text_printf(&text, "%s%s", own && !two ? "you: " : "", step->text);
    int rows = sm_area_wrap(sm_area_part(area, x, 0, width, area.rows), y, 0, look, sm_text_get(&text));
    sm_text_deinit(&text);
    rows = rows > 0 ? rows : 1;
    sm_area_printf(area, 0, y, here ? SM_LOOK_SELECTED : SM_LOOK_DIM, "%*s", TIME,
                   sm_clock_format(clock, step->at_us));
    for (int row = 0; two && row < rows; row++)
        sm_area_text(area, TIME + 2 + side + 1, y + row, SM_LOOK_DIM, "│");
    return y + rows;
}

// Draws all of it from row Y on; *at gets the row of the present step. Returns the row behind the last.
static int draw_all(const debrief *self, const sm_view *view, sm_area area, int y, int *at) {
    const sm_debrief *shown = view->debrief;
    y = draw_lines(area, y, shown->head) + 1;
    if (area.columns >= TWO_COLUMNS) {
        int side = (area.columns - TIME - 6) / 2;
        sm_area_text(area, TIME + 2, y, SM_LOOK_HEADING, "what happened");
        sm_area_text(area, TIME + 2 + side + 3, y++, SM_LOOK_HEADING, "what you did");
    }
    for (uint32_t i = 0; i < shown->step_count; i++) {
        bool here = self->stepping && i == self->step;
        *at = here ? y : *at;
        y = draw_step(&shown->steps[i], area, y, here);
    }
    return draw_lines(area, y, shown->tail);
}

static void draw_footer(const debrief *self, const sm_view *view, sm_area area) {
    const sm_debrief *shown = view->debrief;
    sm_text text = {0};
    if (!self->stepping) {
        sm_text_printf(&text, "Right: through it step by step; Up Down scroll");
    } else {
        const sm_drill_step *step = &shown->steps[self->step];
        char clock[24];
        sm_text_printf(&text, "step %u of %u, REHEARSAL then %s, key %s, %s into the drill", self->step + 1,
                       shown->step_count, sm_state_text(step->state), step->key ? "ON" : "OFF",
                       sm_clock_format(clock, step->at_us));
    }
    sm_area_field(area, 1, 0, area.columns - 2, SM_LOOK_HEADING, sm_text_get(&text));
    sm_text_deinit(&text);
}

static void draw_shown(debrief *self, const sm_view *view, sm_area area) {
    sm_area body = sm_area_part(area, 0, 0, area.columns, area.rows - 1);
    int at = 0, end = draw_all(self, view, sm_area_part(body, 0, 0, body.columns, 0), 0, &at);
    sm_scroller *scroller = &self->scroller;
    if (self->stepping)
        scroller->top = sm_scroll_to(scroller->top, at, end, body.rows);
    scroller->top = sm_scroll_to(scroller->top, scroller->top, end, body.rows);
    scroller->rows = body.rows;
    scroller->needed = end;
    draw_all(self, view, body, -scroller->top, &at);
    draw_footer(self, view, sm_area_part(area, 0, area.rows - 1, area.columns, 1));
}

static void debrief_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    debrief *self = state;
    (void)focused;
    if (!view->drill && !view->debrief) { // a follower's seat has its debrief, and no drill
        draw_paragraph(area, 0, SM_LOOK_DIM,
                       "No drill is being taken here. slowmatch drill SHOW lists them; slowmatch logbook "
                       "debrief N shows an earlier one again.");
    } else if (!view->debrief) {
        draw_paragraph(
            area, 0, SM_LOOK_PLAIN,
            "The debrief comes when the drill has ended (q ends it). It asks four questions before "
            "it shows anything.");
    } else if (asks(self, view)) {
        bool fits =
            draw_questions(self, view->as_lines, sm_area_part(area, 0, 0, area.columns, 0), 0) < area.rows;
        (void)(fits ? draw_questions(self, view->as_lines, area, 0) : draw_question(self, area, 0));
    } else {
        draw_shown(self, view, area);
    }
}

// ---- keys ------------------------------------------------------------------------------------------------

static unsigned ask(const debrief *self, sm_request *request) {
    snprintf(request->line, sizeof request->line, "answer %u of %u:", self->question + 1, SM_DRILL_QUESTIONS);
    return SM_NEXT_ASK;
}

static unsigned step(debrief *self, const sm_debrief *shown, int64_t to) {
    if (shown->step_count == 0)
        return SM_NEXT_REDRAW;
    int64_t last = (int64_t)shown->step_count - 1;
    self->step = (uint32_t)(to < 0 ? 0 : to > last ? last : to);
    self->stepping = true;
    return SM_NEXT_REDRAW;
}

static unsigned debrief_press(void *state, const sm_view *view, int key, sm_request *request) {
    debrief *self = state;
    const sm_debrief *shown = view->debrief;
    if (!shown)
        return SM_NEXT_UNUSED;
    if (asks(self, view))
        return key == SM_KEY_ENTER ? ask(self, request) | SM_NEXT_REDRAW : SM_NEXT_UNUSED;
    switch (key) {
    case SM_KEY_RIGHT:
    case SM_KEY_ENTER:
        return step(self, shown, self->stepping ? (int64_t)self->step + 1 : 0);
    case SM_KEY_LEFT:
        return step(self, shown, (int64_t)self->step - 1);
    case SM_KEY_HOME:
        self->stepping = false;
        self->scroller.top = 0;
        return SM_NEXT_REDRAW;
    case SM_KEY_END:
        self->stepping = false;
        self->scroller.top =
            sm_scroll_to(INT32_MAX / 2, INT32_MAX / 2, self->scroller.needed, self->scroller.rows);
        return SM_NEXT_REDRAW;
    default:
        break;
    }
    if (!sm_scroller_press(&self->scroller, key))
        return SM_NEXT_UNUSED;
    self->stepping = false; // scrolled away from it
    return SM_NEXT_REDRAW;
}

static bool debrief_answer(void *state, const sm_view *view, const char *text, sm_request *request) {
    debrief *self = state;
    (void)text;
    if (!view->debrief || !asks(self, view))
        return true;
    request->question = self->question++;
    request->next = SM_NEXT_ANSWER;
    if (self->question < SM_DRILL_QUESTIONS)
        request->next |= ask(self, request);
    return true;
}

static const sm_board_key debrief_keys[] = {
    {"Enter", "answer the question that is put; then as Right"},
    {"Right Left", "the drill again, step by step: what happened beside what you did"},
    {"Up Down PageUp PageDown", "scroll"},
    {"Home End", "to its beginning, to the score"},
};

const sm_board sm_board_debrief = {
    .name = "debrief",
    .key = SM_KEY_F0 + 11,
    .drill_only = true,
    .about = "a drill that is over: four questions, then what happened beside what you did, the score last",
    .keys = debrief_keys,
    .key_count = sizeof debrief_keys / sizeof debrief_keys[0],
    .state_size = sizeof(debrief),
    .draw = debrief_draw,
    .press = debrief_press,
    .answer = debrief_answer,
};
