// SPDX-License-Identifier: GPL-3.0-or-later
// Which rows the score has, which of them is chosen, and the work beside drawing: lines being made, a search under way.
#include "boards/score/score.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// Events and lines gone through at a time: under a millisecond or two.
#define LINES_STEPS 16384
#define SEARCH_STEPS 4096

void sm_score_forget(sm_score *self) {
    sm_search_destroy(self->search);
    sm_cue_lines_destroy(self->coming);
    sm_cue_lines_destroy(self->lines);
    sm_opened_deinit(&self->opened);
}

// ---- the lines in force ------------------------------------------------------------------------------

// What is wrong now, as one number (FNV-1a): another one where it has changed.
uint64_t sm_score_sum_wrong(const sm_snapshot *now) {
    uint64_t sum = UINT64_C(0xCBF29CE484222325);
    for (uint32_t slot = 0; slot < now->show->slot_count; slot++)
        sum = (sum ^ (sm_slot_went_wrong(&now->slots[slot]) ? 1u : 2u)) * UINT64_C(0x100000001B3);
    for (uint32_t f = 0; f < now->show->fixture_count; f++)
        sum = (sum ^ (now->fixture_inhibited[f] ? 1u : 2u)) * UINT64_C(0x100000001B3);
    return sum;
}

void sm_score_begin_lines(sm_score *self, const sm_view *view) {
    sm_cue_lines_destroy(self->coming);
    self->coming = sm_cue_lines_create(view->show, &self->filter, self->only_wrong ? view->snapshot : NULL);
    if (!self->coming)
        snprintf(self->notice, sizeof self->notice, "memory ran out: shown as before");
}

// Sees to it that the right lines are there or being made.
void sm_score_refresh(sm_score *self, const sm_view *view) {
    if (!self->begun) {
        self->begun = true;
        self->filter = sm_filter_all();
        self->match = SM_NONE;
    }
    if (self->only_wrong) {
        uint64_t sum = sm_score_sum_wrong(view->snapshot);
        if (sum != self->wrong_sum) {
            self->wrong_sum = sum;
            sm_score_begin_lines(self, view);
        }
    }
    if (!self->lines && !self->coming)
        sm_score_begin_lines(self, view);
}

void sm_score_begin_search(sm_score *self) {
    sm_search_destroy(self->search);
    self->search = self->sought[0] ? sm_search_create(self->lines, self->sought) : NULL;
    self->match = SM_NONE;
    if (self->sought[0] && !self->search) {
        snprintf(self->notice, sizeof self->notice, "memory ran out: nothing was looked for");
        self->sought[0] = '\0';
    }
}

static void take_lines(sm_score *self) {
    sm_search_destroy(self->search); // it looks at the old one
    self->search = NULL;
    sm_cue_lines_destroy(self->lines);
    self->lines = self->coming;
    self->coming = NULL;
    sm_score_begin_search(self);
}

// ---- the chosen row --------------------------------------------------------------------------------------

// The instant that the now-line stands before.
uint32_t sm_score_instant_now(const sm_score *self, const sm_view *view) {
    return sm_cue_lines_instant_of(self->lines, sm_cue_lines_at(self->lines, view->snapshot->cursor));
}

sm_row sm_score_chosen(const sm_score *self, const sm_view *view) {
    if (!self->scrolled)
        return sm_row_start(self->lines, sm_score_instant_now(self, view));
    sm_row row = sm_row_of(self->lines, &self->opened, sm_cue_lines_at(self->lines, self->place));
    return self->on_heading ? sm_row_start(self->lines, row.instant) : row;
}

void sm_score_choose(sm_score *self, const sm_view *view, sm_row row) {
    self->scrolled = true;
    self->on_heading = row.line == SM_NONE;
    self->place = sm_row_is_end(self->lines, row) ? view->show->event_count
                                                  : self->lines->at[sm_row_line(self->lines, row)].first;
}

static int now_row(const sm_score *self) {
    return self->rows / 4;
}

// Where the chosen row stands from the top.
int sm_score_offset(const sm_score *self) {
    int offset = self->scrolled ? self->offset : now_row(self) + 1;
    return offset >= self->rows ? self->rows - 1 : offset;
}

void sm_score_scroll_by(sm_score *self, const sm_view *view, int rows) {
    int offset = sm_score_offset(self);
    sm_row row = sm_score_chosen(self, view);
    for (int i = 0; i < abs(rows); i++) {
        sm_row to = rows < 0 ? sm_row_before(self->lines, &self->opened, row)
                             : sm_row_next(self->lines, &self->opened, row);
        offset += sm_row_same(to, row) ? 0 : rows < 0 ? -1 : 1;
        row = to;
    }
    sm_score_choose(self, view, row);
    int margin = self->rows > 8 ? 2 : 0;
    offset = offset > self->rows - 1 - margin ? self->rows - 1 - margin : offset;
    self->offset = offset < margin ? margin : offset;
}

void sm_score_open_or_close(sm_score *self, const sm_view *view) {
    sm_row row = sm_score_chosen(self, view);
    if (sm_row_is_end(self->lines, row))
        return;
    uint32_t first = sm_cue_lines_instant_first(self->lines, row.instant);
    sm_us due = sm_cue_lines_due_us(self->lines, first);
    if (sm_cue_lines_instant_end(self->lines, row.instant) - first > 1 &&
        !sm_opened_set(&self->opened, due, !sm_opened_has(&self->opened, due)))
        snprintf(self->notice, sizeof self->notice, "memory ran out: it stays closed");
    if (self->scrolled)
        sm_score_choose(self, view, sm_row_start(self->lines, row.instant));
}

// Puts LINE before people; its heading is opened for it.
static void show_line(sm_score *self, const sm_view *view, uint32_t line) {
    uint32_t instant = sm_cue_lines_instant_of(self->lines, line);
    bool headed =
        sm_cue_lines_instant_end(self->lines, instant) - sm_cue_lines_instant_first(self->lines, instant) > 1;
    if (headed && !sm_opened_set(&self->opened, sm_cue_lines_due_us(self->lines, line), true))
        snprintf(self->notice, sizeof self->notice, "memory ran out: it stays closed");
    sm_score_choose(self, view, sm_row_of(self->lines, &self->opened, line));
    self->offset = now_row(self) + 1;
}

// ---- what takes longer ---------------------------------------------------------------------------------------

void sm_score_go_to_matches(sm_score *self, const sm_view *view) {
    assert(self->lines && self->search);
    while (self->to_jump > 0 && self->search->match_count > 0) {
        uint32_t from = SM_NONE;
        if (self->match != SM_NONE) {
            from = self->search->matches[self->match];
        } else if (!sm_row_is_end(self->lines, sm_score_chosen(self, view))) {
            uint32_t line = sm_row_line(self->lines, sm_score_chosen(self, view));
            from = line > 0 ? line - 1 : SM_NONE; // the first one may be the chosen row itself
        } else {
            from = self->lines->line_count;
        }
        self->match = sm_search_after(self->search, from, &self->wrapped);
        assert(self->search->matches && self->match < self->search->match_count);
        self->to_jump--;
        show_line(self, view, self->search->matches[self->match]);
    }
    self->to_jump = 0;
}

// The line of CUE, line_count where the filter hides it.
static uint32_t line_of_cue(const sm_score *self, const sm_show *show, uint32_t cue) {
    sm_us due = sm_event_due_us(show, show->cues[cue].first_event);
    uint32_t line = sm_cue_lines_due(self->lines, due);
    for (; line < self->lines->line_count && sm_cue_lines_due_us(self->lines, line) == due; line++)
        if (show->events[show->order[self->lines->at[line].first]].cue == cue)
            return line;
    return self->lines->line_count;
}

void sm_score_show_wanted_cue(sm_score *self, const sm_view *view) {
    uint32_t cue = self->cue_wanted - 1, line = line_of_cue(self, view->show, cue);
    if (line < self->lines->line_count) {
        self->cue_wanted = 0;
        show_line(self, view, line);
    } else if (self->only_wrong || sm_filter_names_any(&self->filter)) {
        char id[12];
        snprintf(self->notice, sizeof self->notice, "filter taken off to show cue %.40s",
                 sm_cue_id(view->show, cue, id));
        self->filter = sm_filter_all();
        self->only_wrong = false;
        sm_score_begin_lines(self, view);
    } else {
        self->cue_wanted = 0;
    }
}

bool sm_score_is_busy(const sm_score *self) {
    return self->coming || (self->search && !sm_search_is_whole(self->search));
}

// Does one piece of what is under way. True: there is more.
bool sm_score_work(sm_score *self, const sm_view *view) {
    if (self->coming) {
        if (!sm_cue_lines_work(self->coming, LINES_STEPS))
            return true;
        take_lines(self);
    } else if (self->search && !sm_search_is_whole(self->search)) {
        (void)sm_search_work(self->search, SEARCH_STEPS);
    }
    if (self->lines && self->cue_wanted)
        sm_score_show_wanted_cue(self, view);
    if (self->search && sm_search_is_whole(self->search))
        sm_score_go_to_matches(self, view);
    return sm_score_is_busy(self);
}
