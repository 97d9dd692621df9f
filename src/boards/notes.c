// SPDX-License-Identifier: GPL-3.0-or-later
// Notes: findings about the show's files, and what libraries had to say.
#include "boards/view.h"
#include "boards/words/tones_on.h"
#include "screen/scroller.h"

#include "slowmatch/check.h"

#include <limits.h>
#include <string.h>

typedef struct notes {
    sm_scroller scroller;
    uint32_t chosen;
    bool follow; // the chosen finding has to be in sight
} notes;

static int draw_stray_output(const sm_view *view, sm_area area, int y) {
    if (view->stray_output->length == 0)
        return 0;
    int rows = 0;
    const sm_area text = sm_area_part(area, 3, 0, area.columns - 3, area.rows);
    sm_area_text(area, 1, y + rows++, SM_LOOK_TITLE,
                 view->following ? "What this seat was told, the latest:"
                                 : "Messages of libraries (sound), the latest:");
    const char *at = sm_text_get(view->stray_output);
    while (*at) {
        size_t length = strcspn(at, "\n");
        sm_text line = {0};
        sm_text_append(&line, at, length);
        if (length > 0)
            rows += sm_area_wrap(text, y + rows, 2, view->following ? SM_LOOK_PLAIN : SM_LOOK_DIM,
                                 sm_text_get(&line));
        sm_text_deinit(&line);
        at += length + (at[length] == '\n');
    }
    return rows;
}

// Draws finding I from row Y on (a row outside only measures); returns its rows.
static int draw_finding(const sm_view *view, sm_area text, int y, size_t i, bool chosen) {
    const sm_finding *finding = sm_findings_at(view->findings, i);
    sm_text line = {0};
    sm_finding_format(&line, NULL, finding);
    sm_look look = finding->severity == SM_ERROR ? SM_LOOK_WARN : SM_LOOK_PLAIN;
    int rows = sm_area_wrap(text, y, 2, chosen ? SM_LOOK_SELECTED : look, sm_text_get(&line));
    sm_text_deinit(&line);
    return rows;
}

static int draw_findings(const notes *self, const sm_view *view, sm_area area, int y, bool focused) {
    sm_area text = sm_area_part(area, 1, 0, area.columns - 1, area.rows);
    size_t count = sm_findings_count(view->findings);
    if (count == 0 && !view->checked)
        return sm_area_wrap(text, y, 0, SM_LOOK_DIM, "The rules are still being run over the show's files.");
    if (count == 0) {
        return sm_area_wrap(
            text, y, 0, SM_LOOK_DIM,
            "No rule found anything in the show's files. That is not a statement that the show may be "
            "fired.");
    }
    int rows = 0;
    for (size_t i = 0; i < count && y + rows < area.rows; i++)
        rows += draw_finding(view, text, y + rows, i, focused && i == self->chosen);
    return rows;
}

// Scrolls so that the chosen finding is in sight, FIRST rows being above the first one.
static void follow_chosen(notes *self, const sm_view *view, sm_area area, int first) {
    sm_area text = sm_area_part(area, 1, 0, area.columns - 1, area.rows);
    int before = first, own = 1, unbounded = INT_MAX / 2;
    for (size_t i = 0; i <= self->chosen && i < sm_findings_count(view->findings); i++) {
        own = draw_finding(view, text, area.rows, i, false);
        before += i < self->chosen ? own : 0;
    }
    self->scroller.top = sm_scroll_to(self->scroller.top, before + own - 1, unbounded, area.rows);
    self->scroller.top = sm_scroll_to(self->scroller.top, before, unbounded, area.rows);
    self->follow = false;
}

static int draw_sound(const sm_view *view, sm_area area, int y) {
    const sm_audio_status *sound = view->sound;
    int rows = 0;
    if (sound->problem[0])
        rows += sm_area_wrap(area, y, 2, SM_LOOK_WARN, sound->problem);
    if (sound->reason[0]) {
        sm_text text = {0};
        sm_text_printf(&text, "%s: %s", sound->state == SM_AUDIO_LOST ? "sound lost" : "no sound",
                       sound->reason);
        rows += sm_area_wrap(area, y + rows, 2, SM_LOOK_PLAIN, sm_text_get(&text));
        sm_text_deinit(&text);
    }
    sm_text tones = {0};
    sm_tones_describe(view, &tones);
    if (tones.length > 0) {
        sm_text_printf(&tones, " (beside the music)");
        rows += sm_area_wrap(area, y + rows, 2, SM_LOOK_PLAIN, sm_text_get(&tones));
    }
    sm_text_deinit(&tones);
    return rows;
}

static void notes_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    notes *self = state;
    uint32_t count = (uint32_t)sm_findings_count(view->findings);
    sm_area inner = sm_area_part(area, 1, 0, area.columns - 1, area.rows);
    self->chosen = self->chosen < count ? self->chosen : 0;
    if (self->follow)
        follow_chosen(self, view, area, draw_sound(view, inner, area.rows));
    int y = -self->scroller.top;
    y += draw_sound(view, inner, y);
    y += draw_findings(self, view, area, y, focused);
    y += draw_stray_output(view, area, y + 1) + 1;
    sm_scroller_drawn(&self->scroller, y, area.rows);
    if (y > area.rows) // there may be more findings than were drawn, and they are not measured
        self->scroller.needed = INT_MAX / 2;
}

// ---- keys -----------------------------------------------------------------------------------

static unsigned scroll(sm_scroller *scroller, int key) {
    if (key == SM_KEY_HOME)
        scroller->top = 0;
    else if (!sm_scroller_press(scroller, key))
        return SM_NEXT_UNUSED;
    return SM_NEXT_REDRAW;
}

// The arrows choose a finding, Enter shows its cue.
static unsigned notes_press(void *state, const sm_view *view, int key, sm_request *request) {
    notes *self = state;
    uint32_t count = (uint32_t)sm_findings_count(view->findings);
    if (count == 0)
        return scroll(&self->scroller, key);
    switch (key) {
    case SM_KEY_UP:
        self->chosen -= self->chosen > 0;
        break;
    case SM_KEY_DOWN:
        self->chosen += self->chosen + 1 < count;
        break;
    case SM_KEY_ENTER:
        request->cue = sm_check_finding_cue(view->show, sm_findings_at(view->findings, self->chosen));
        return request->cue != SM_NONE ? SM_NEXT_CUE | SM_NEXT_REDRAW : SM_NEXT_REDRAW;
    default:
        return scroll(&self->scroller, key);
    }
    self->follow = true;
    return SM_NEXT_REDRAW;
}

static const sm_board_key notes_keys[] = {
    {"Up Down", "choose a finding"},
    {"Enter", "show its cue on the score"},
    {"PageUp PageDown Home", "scroll"},
};

const sm_board sm_board_notes = {
    .name = "notes",
    .key = SM_KEY_F0 + 7,
    .about = "findings about the show's files, and trouble with the sound",
    .keys = notes_keys,
    .key_count = sizeof notes_keys / sizeof notes_keys[0],
    .state_size = sizeof(notes),
    .draw = notes_draw,
    .press = notes_press,
};
