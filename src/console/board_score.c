// SPDX-License-Identifier: GPL-3.0-or-later
// The score: the show's events as rows that pass a now-line, cue id first, as crews call cues by number.
//
// The rows come from a roll (roll.h), made once for the show and the filter in force; while another one is being made the
// old one is shown. What is chosen is remembered as a place of the show, so that it stays where the rows change. The board
// is drawn outward from the chosen row, which stands at `offset`; unless somebody has scrolled, that is the next thing to
// come, right below the now-line.
#include "console/board_score.h"

#include "console/search.h"
#include "console/state_line.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// Events and lines gone through at a time: under a millisecond or two.
#define ROLL_STEPS 16384
#define SEARCH_STEPS 4096
#define ROWS_KEPT 256

typedef enum question { ASKS_NOTHING, ASKS_FILTER, ASKS_SEARCH } question;

typedef struct score {
    bool begun; // the filter has been set up
    sm_filter filter;
    bool only_wrong;
    uint64_t wrong_sum; // of what was wrong when the roll was begun
    sm_roll *roll;      // whole; NULL: none yet
    sm_roll *coming;    // being made, NULL
    sm_fold fold;
    bool scrolled;
    uint32_t place;  // in show->order, of the chosen row, while scrolled
    bool on_heading; // the chosen row is the heading at that place
    int offset;      // of the chosen row from the top, while scrolled
    question asks;
    sm_search *search; // NULL: none
    char sought[SM_SEARCH_BYTES];
    uint32_t match;   // number of the match shown; SM_NONE: none yet
    unsigned to_jump; // next matches asked for and not yet gone to
    bool wrapped;
    uint32_t cue_wanted; // a cue to be shown, as 1 + its number; 0: none
    char notice[96];     // what the board did by itself
    int rows;            // of the latest drawing
    int first_y;         // of the first row in `shown`
    int shown_count;
    sm_row shown[ROWS_KEPT]; // the rows as drawn last; the now-line is instant SM_NONE
} score;

static void forget(void *state) {
    score *self = state;
    sm_search_destroy(self->search);
    sm_roll_destroy(self->coming);
    sm_roll_destroy(self->roll);
    sm_fold_deinit(&self->fold);
}

// ---- the roll in force ------------------------------------------------------------------------------

// What is wrong now, as one number (FNV-1a): another one where it has changed.
static uint64_t sum_wrong(const sm_snapshot *now) {
    uint64_t sum = UINT64_C(0xCBF29CE484222325);
    for (uint32_t slot = 0; slot < now->show->slot_count; slot++) {
        sum = (sum ^ (sm_slot_went_wrong(&now->slots[slot]) ? 1u : 2u)) * UINT64_C(0x100000001B3);
    }
    for (uint32_t f = 0; f < now->show->fixture_count; f++) {
        sum = (sum ^ (now->fixture_inhibited[f] ? 1u : 2u)) * UINT64_C(0x100000001B3);
    }
    return sum;
}

static void begin_roll(score *self, const sm_view *view) {
    sm_roll_destroy(self->coming);
    self->coming = sm_roll_create(view->show, &self->filter, self->only_wrong ? view->snapshot : NULL);
    if (!self->coming) {
        snprintf(self->notice, sizeof self->notice, "memory ran out: shown as before");
    }
}

// Sees to it that the right roll is there or being made.
static void refresh(score *self, const sm_view *view) {
    if (!self->begun) {
        self->begun = true;
        self->filter = sm_filter_all();
        self->match = SM_NONE;
    }
    if (self->only_wrong) {
        uint64_t sum = sum_wrong(view->snapshot);
        if (sum != self->wrong_sum) {
            self->wrong_sum = sum;
            begin_roll(self, view);
        }
    }
    if (!self->roll && !self->coming) {
        begin_roll(self, view);
    }
}

static void begin_search(score *self) {
    sm_search_destroy(self->search);
    self->search = self->sought[0] ? sm_search_create(self->roll, self->sought) : NULL;
    self->match = SM_NONE;
    if (self->sought[0] && !self->search) {
        snprintf(self->notice, sizeof self->notice, "memory ran out: nothing was looked for");
        self->sought[0] = '\0';
    }
}

static void take_roll(score *self) {
    sm_search_destroy(self->search); // it looks at the old one
    self->search = NULL;
    sm_roll_destroy(self->roll);
    self->roll = self->coming;
    self->coming = NULL;
    begin_search(self);
}

// ---- the chosen row --------------------------------------------------------------------------------------

// The instant that the now-line stands before.
static uint32_t instant_now(const score *self, const sm_view *view) {
    return sm_roll_instant_of(self->roll, sm_roll_line_at(self->roll, view->snapshot->cursor));
}

static sm_row chosen_row(const score *self, const sm_view *view) {
    if (!self->scrolled) {
        return sm_row_start(self->roll, instant_now(self, view));
    }
    sm_row row = sm_row_of(self->roll, &self->fold, sm_roll_line_at(self->roll, self->place));
    return self->on_heading ? sm_row_start(self->roll, row.instant) : row;
}

static void choose(score *self, const sm_view *view, sm_row row) {
    self->scrolled = true;
    self->on_heading = row.line == SM_NONE;
    self->place = sm_row_is_end(self->roll, row) ? view->show->event_count
                                                 : self->roll->lines[sm_row_line(self->roll, row)].first;
}

static int now_row(const score *self) {
    return self->rows / 4;
}

// Where the chosen row stands from the top.
static int offset_of(const score *self) {
    int offset = self->scrolled ? self->offset : now_row(self) + 1;
    return offset >= self->rows ? self->rows - 1 : offset;
}

static void scroll_by(score *self, const sm_view *view, int rows) {
    int offset = offset_of(self);
    sm_row row = chosen_row(self, view);
    for (int i = 0; i < abs(rows); i++) {
        sm_row to = rows < 0 ? sm_row_before(self->roll, &self->fold, row)
                             : sm_row_next(self->roll, &self->fold, row);
        offset += sm_row_same(to, row) ? 0 : rows < 0 ? -1 : 1;
        row = to;
    }
    choose(self, view, row);
    int margin = self->rows > 8 ? 2 : 0;
    offset = offset > self->rows - 1 - margin ? self->rows - 1 - margin : offset;
    self->offset = offset < margin ? margin : offset;
}

static unsigned open_or_close(score *self, const sm_view *view) {
    sm_row row = chosen_row(self, view);
    if (sm_row_is_end(self->roll, row)) {
        return SM_NEXT_REDRAW;
    }
    uint32_t first = sm_roll_instant_first(self->roll, row.instant);
    sm_us due = sm_roll_due_us(self->roll, first);
    if (sm_roll_instant_end(self->roll, row.instant) - first > 1 &&
        !sm_fold_set(&self->fold, due, !sm_fold_is_open(&self->fold, due))) {
        snprintf(self->notice, sizeof self->notice, "memory ran out: it stays closed");
    }
    if (self->scrolled) {
        choose(self, view, sm_row_start(self->roll, row.instant));
    }
    return SM_NEXT_REDRAW;
}

// Puts LINE before people, opening what it is folded under.
static void show_line(score *self, const sm_view *view, uint32_t line) {
    uint32_t instant = sm_roll_instant_of(self->roll, line);
    bool folded = sm_roll_instant_end(self->roll, instant) - sm_roll_instant_first(self->roll, instant) > 1;
    if (folded && !sm_fold_set(&self->fold, sm_roll_due_us(self->roll, line), true)) {
        snprintf(self->notice, sizeof self->notice, "memory ran out: it stays closed");
    }
    choose(self, view, sm_row_of(self->roll, &self->fold, line));
    self->offset = now_row(self) + 1;
}

// ---- what takes longer ---------------------------------------------------------------------------------------

static void go_to_matches(score *self, const sm_view *view) {
    while (self->to_jump > 0 && self->search->match_count > 0) {
        uint32_t from = SM_NONE;
        if (self->match != SM_NONE) {
            from = self->search->matches[self->match];
        } else if (!sm_row_is_end(self->roll, chosen_row(self, view))) {
            uint32_t line = sm_row_line(self->roll, chosen_row(self, view));
            from = line > 0 ? line - 1 : SM_NONE; // the first one may be the chosen row itself
        } else {
            from = self->roll->line_count;
        }
        self->match = sm_search_after(self->search, from, &self->wrapped);
        self->to_jump--;
        show_line(self, view, self->search->matches[self->match]);
    }
    self->to_jump = 0;
}

// The line of CUE, line_count where the filter hides it.
static uint32_t line_of_cue(const score *self, const sm_show *show, uint32_t cue) {
    sm_us due = sm_event_due_us(show, show->cues[cue].first_event);
    uint32_t line = sm_roll_line_due(self->roll, due);
    for (; line < self->roll->line_count && sm_roll_due_us(self->roll, line) == due; line++) {
        if (show->events[show->order[self->roll->lines[line].first]].cue == cue) {
            return line;
        }
    }
    return self->roll->line_count;
}

static void show_wanted_cue(score *self, const sm_view *view) {
    uint32_t cue = self->cue_wanted - 1, line = line_of_cue(self, view->show, cue);
    if (line < self->roll->line_count) {
        self->cue_wanted = 0;
        show_line(self, view, line);
    } else if (self->only_wrong || sm_filter_names_any(&self->filter)) {
        char id[12];
        snprintf(self->notice, sizeof self->notice, "filter taken off to show cue %.40s",
                 sm_cue_id(view->show, cue, id));
        self->filter = sm_filter_all();
        self->only_wrong = false;
        begin_roll(self, view);
    } else {
        self->cue_wanted = 0;
    }
}

// Does one piece of what is under way. True: there is more.
static bool work(score *self, const sm_view *view) {
    if (self->coming) {
        if (!sm_roll_work(self->coming, ROLL_STEPS)) {
            return true;
        }
        take_roll(self);
    } else if (self->search && !sm_search_is_whole(self->search)) {
        (void)sm_search_work(self->search, SEARCH_STEPS);
    }
    if (self->roll && self->cue_wanted) {
        show_wanted_cue(self, view);
    }
    if (self->search && sm_search_is_whole(self->search)) {
        go_to_matches(self, view);
    }
    return self->coming || (self->search && !sm_search_is_whole(self->search));
}

static bool score_work(void *state, const sm_view *view) {
    score *self = state;
    bool busy = self->coming || (self->search && !sm_search_is_whole(self->search));
    return busy && work(self, view);
}

// ---- what the board says of itself --------------------------------------------------------------------------------

static void add_part(sm_text *out) {
    sm_text_printf(out, "%s", out->length > 0 ? " · " : "");
}

static void add_filter(const score *self, const sm_view *view, sm_text *out) {
    if (!self->only_wrong && !sm_filter_names_any(&self->filter)) {
        return;
    }
    add_part(out);
    sm_text_printf(out, "FILTER ");
    sm_filter_format(&self->filter, view->show, out);
    if (self->only_wrong) {
        sm_text_printf(out, "%sonly misfired, passed, held, inhibited",
                       sm_filter_names_any(&self->filter) ? ", " : "");
    }
    if (!self->coming && self->roll) {
        sm_text_printf(out, ": %u of %u events hidden", view->show->event_count - self->roll->events,
                       view->show->event_count);
    }
}

static int percent(uint32_t part, uint32_t whole) {
    return whole > 0 ? (int)(100 * (uint64_t)part / whole) : 100;
}

static void add_search(const score *self, sm_text *out) {
    if (!self->sought[0]) {
        return;
    }
    add_part(out);
    const sm_search *search = self->search;
    if (!search || !sm_search_is_whole(search)) {
        sm_text_printf(out, "looking for “%s” %d %%", self->sought,
                       search ? percent(search->looked, search->roll->line_count) : 0);
    } else if (search->match_count == 0) {
        sm_text_printf(out, "“%s” is nowhere in what is shown", self->sought);
    } else if (self->match == SM_NONE) {
        sm_text_printf(out, "“%s” in %u rows, N next", self->sought, search->match_count);
    } else {
        sm_text_printf(out, "“%s” %u of %u%s, N next", self->sought, self->match + 1, search->match_count,
                       self->wrapped ? ", from the beginning again" : "");
    }
}

static void describe(const score *self, const sm_view *view, sm_text *out) {
    if (self->coming) {
        sm_text_printf(out, "putting %u events in order: %d %%", view->show->event_count,
                       percent(self->coming->looked, view->show->event_count));
    }
    add_filter(self, view, out);
    add_search(self, out);
    if (self->scrolled && self->roll) {
        add_part(out);
        bool past = chosen_row(self, view).instant < instant_now(self, view);
        sm_text_printf(out, "scrolled: now is %s, Home follows", past ? "below" : "above");
    }
    if (self->notice[0]) {
        add_part(out);
        sm_text_printf(out, "%s", self->notice);
    }
}

// Says it in as many rows of AREA as it needs; returns how many.
static int draw_description(const score *self, const sm_view *view, sm_area area) {
    sm_text text = {0};
    describe(self, view, &text);
    sm_area nowhere = sm_area_part(area, 0, area.rows, area.columns, 0);
    int needed = sm_area_wrap(nowhere, 0, 2, SM_LOOK_NOW, sm_text_get(&text));
    sm_area_wrap_cut(area, 2, SM_LOOK_NOW, sm_text_get(&text));
    sm_text_deinit(&text);
    return needed < area.rows ? needed : area.rows;
}

// ---- drawing ---------------------------------------------------------------------------------------------------

static void draw_now_line(const sm_view *view, sm_area area, int y) {
    const sm_snapshot *now = view->snapshot;
    char clock[24], span[24];
    sm_clock_format(clock, now->at.us);
    sm_text text = {0};
    // Tenths are enough for the eye, and cost the terminal less.
    sm_text_printf(&text, "── now %.*s ", (int)strlen(clock) - 2, clock);
    if (now->next_firing != SM_NONE && area.columns >= 60) {
        sm_text_printf(&text, "── next firing ");
        sm_score_firing_format(view, now->next_firing, &text);
        sm_text_printf(&text, " in %s ",
                       sm_countdown_format(sm_snapshot_until_event(now, now->next_firing), span));
    }
    int used = sm_text_columns(sm_text_get(&text));
    for (int x = used; x < area.columns; x++) {
        sm_text_printf(&text, "─");
    }
    sm_area_field(area, 0, y, area.columns, SM_LOOK_NOW, sm_text_get(&text));
    sm_text_deinit(&text);
}

// What stands in one row of the board: a row of the roll, or the now-line (instant SM_NONE).
static const sm_row now_line = {SM_NONE, SM_NONE};

static bool is_now_line(sm_row row) {
    return row.instant == SM_NONE;
}

static sm_row item_before(const score *self, uint32_t now, sm_row item) {
    if (is_now_line(item)) {
        sm_row start = sm_row_start(self->roll, now), before = sm_row_before(self->roll, &self->fold, start);
        return sm_row_same(start, before) ? item : before;
    }
    return sm_row_same(item, sm_row_start(self->roll, now)) ? now_line
                                                            : sm_row_before(self->roll, &self->fold, item);
}

static sm_row item_next(const score *self, uint32_t now, sm_row item) {
    sm_row start = sm_row_start(self->roll, now);
    if (is_now_line(item)) {
        return start;
    }
    sm_row next = sm_row_next(self->roll, &self->fold, item);
    return sm_row_same(next, start) && !sm_row_same(item, next) ? now_line : next;
}

static void draw_item(const score *self, const sm_view *view, sm_area area, int y, uint32_t now, sm_row item,
                      bool selected) {
    const sm_roll *roll = self->roll;
    if (is_now_line(item)) {
        draw_now_line(view, area, y);
    } else if (sm_row_is_end(roll, item)) {
        char clock[24];
        sm_area_printf(area, 1, y, selected ? SM_LOOK_SELECTED : SM_LOOK_DIM, "end of the show at %s",
                       sm_clock_format(clock, view->show->length_us));
    } else {
        sm_us due = sm_roll_due_us(roll, sm_row_line(roll, item));
        uint32_t firing = view->snapshot->next_firing;
        bool next_firing =
            firing != SM_NONE && item.instant >= now && sm_event_due_us(view->show, firing) == due;
        sm_score_row_draw(view, roll, area, y,
                          &(sm_score_row){.row = item,
                                          .past = item.instant < now,
                                          .next = item.instant == now || next_firing,
                                          .open = item.line == SM_NONE && sm_fold_is_open(&self->fold, due),
                                          .selected = selected});
    }
}

static void draw_rows(score *self, const sm_view *view, sm_area area, bool focused) {
    uint32_t now = instant_now(self, view);
    sm_row chosen = chosen_row(self, view), item = chosen;
    int y = offset_of(self);
    for (int up = y; up > 0; up--) {
        sm_row before = item_before(self, now, item);
        if (sm_row_same(before, item)) {
            break;
        }
        item = before;
        y--;
    }
    y = self->scrolled ? 0 : y; // no gap above the beginning, unless the now-line would leave its place
    self->first_y = y;
    self->shown_count = 0;
    for (; y < area.rows; y++) {
        bool selected = focused && self->scrolled && !is_now_line(item) && sm_row_same(item, chosen);
        draw_item(self, view, area, y, now, item, selected);
        if (self->shown_count < ROWS_KEPT) {
            self->shown[self->shown_count++] = item;
        }
        if (!is_now_line(item) && sm_row_is_end(self->roll, item)) {
            break;
        }
        item = item_next(self, now, item);
    }
}

static void score_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    score *self = state;
    refresh(self, view);
    if (self->coming || (self->search && !sm_search_is_whole(self->search))) {
        (void)work(self, view); // a small show is ready at once
    }
    int burning_rows = area.rows >= 10 ? 2 : 1;
    sm_area rows = sm_area_part(area, 0, 0, area.columns, area.rows - burning_rows);
    int said = draw_description(self, view, sm_area_part(area, 1, 0, area.columns - 2, area.rows / 3));
    rows = sm_area_part(rows, 0, said, rows.columns, rows.rows - said);
    self->rows = rows.rows;
    if (self->roll && rows.rows > 0) {
        draw_rows(self, view, rows, focused);
    }
    sm_score_burning_draw(view, sm_area_part(area, 0, area.rows - burning_rows, area.columns, burning_rows));
}

// ---- keys ---------------------------------------------------------------------------------------------------------

void sm_score_show_cue(void *state, const sm_view *view, uint32_t cue) {
    score *self = state;
    refresh(self, view);
    self->cue_wanted = cue + 1;
    if (self->roll && !self->coming) {
        show_wanted_cue(self, view);
    }
}

static unsigned ask(score *self, question asks, sm_request *request) {
    static const char *const labels[] = {
        [ASKS_NOTHING] = "",
        [ASKS_FILTER] = "only (pyro, rail A, position NAME, universe 1, fixture NAME; nothing for all):",
        [ASKS_SEARCH] = "look for (target, effect, note, id):",
    };
    self->asks = asks;
    snprintf(request->line, sizeof request->line, "%s", labels[asks]);
    return SM_NEXT_ASK | SM_NEXT_REDRAW;
}

static bool answer_filter(score *self, const sm_view *view, const char *text, sm_request *request) {
    char why[200];
    if (sm_filter_read(view->show, text, &self->filter, why) != SM_OK) {
        snprintf(request->line, sizeof request->line, "%s", why);
        return false;
    }
    begin_roll(self, view);
    return true;
}

static bool score_answer(void *state, const sm_view *view, const char *text, sm_request *request) {
    score *self = state;
    refresh(self, view);
    self->notice[0] = '\0';
    if (self->asks == ASKS_FILTER) {
        return answer_filter(self, view, text, request);
    }
    snprintf(self->sought, sizeof self->sought, "%s", text);
    self->to_jump = self->sought[0] ? 1 : 0;
    self->wrapped = false;
    if (self->roll) {
        begin_search(self);
    }
    return true;
}

static unsigned next_match(score *self, const sm_view *view) {
    if (!self->sought[0]) {
        snprintf(self->notice, sizeof self->notice, "nothing was looked for yet: / does");
        return SM_NEXT_REDRAW;
    }
    self->to_jump++;
    if (self->search && sm_search_is_whole(self->search)) {
        go_to_matches(self, view);
    }
    return SM_NEXT_REDRAW;
}

static unsigned follow(score *self) {
    self->scrolled = false;
    self->sought[0] = '\0';
    sm_search_destroy(self->search);
    self->search = NULL;
    self->match = SM_NONE;
    return SM_NEXT_REDRAW;
}

static unsigned only_wrong(score *self, const sm_view *view) {
    self->only_wrong = !self->only_wrong;
    self->wrong_sum = self->only_wrong ? sum_wrong(view->snapshot) : 0;
    begin_roll(self, view);
    return SM_NEXT_REDRAW;
}

static unsigned press_moving(score *self, const sm_view *view, int key) {
    int page = self->rows > 2 ? self->rows - 2 : 1;
    switch (key) {
    case SM_KEY_UP:
        scroll_by(self, view, -1);
        break;
    case SM_KEY_DOWN:
        scroll_by(self, view, 1);
        break;
    case SM_KEY_PAGE_UP:
        scroll_by(self, view, -page);
        break;
    case SM_KEY_PAGE_DOWN:
        scroll_by(self, view, page);
        break;
    case SM_KEY_END:
        choose(self, view, sm_row_start(self->roll, self->roll->instant_count));
        self->offset = self->rows;
        break;
    case SM_KEY_ENTER:
        return open_or_close(self, view);
    default:
        return SM_NEXT_UNUSED;
    }
    return SM_NEXT_REDRAW;
}

static unsigned score_press(void *state, const sm_view *view, int key, sm_request *request) {
    score *self = state;
    refresh(self, view);
    if (!self->roll) {
        (void)work(self, view); // it may not have been drawn yet
    }
    char notice[sizeof self->notice];
    memcpy(notice, self->notice, sizeof notice);
    self->notice[0] = '\0'; // the next key has it seen
    switch (key) {
    case '/':
        return ask(self, ASKS_SEARCH, request);
    case '\\':
        return ask(self, ASKS_FILTER, request);
    case 'N':
        return next_match(self, view);
    case 'O':
        return only_wrong(self, view);
    case SM_KEY_HOME:
    case SM_KEY_ESCAPE:
        return follow(self);
    default:
        break;
    }
    unsigned next = self->roll ? press_moving(self, view, key) : SM_NEXT_UNUSED;
    if (next == SM_NEXT_UNUSED) {
        memcpy(self->notice, notice, sizeof notice);
    }
    return next;
}

static void score_suggest(void *state, const sm_view *view, sm_argument argument, sm_text *out) {
    const score *self = state;
    if (!self->roll || !self->scrolled || sm_row_is_end(self->roll, chosen_row(self, view))) {
        return;
    }
    uint32_t line = sm_row_line(self->roll, chosen_row(self, view));
    if (argument == SM_ARG_MOMENT) {
        char clock[24];
        sm_text_printf(out, "%s", sm_clock_format(clock, sm_roll_due_us(self->roll, line)));
    }
}

static const sm_board_key score_keys[] = {
    {"Up Down", "choose a row; PageUp PageDown by a page"},
    {"Enter", "open or close what is due at one moment: + closed, - open"},
    {"Home Esc", "follow the show again; End goes to its end"},
    {"/ N", "look for a text in target, effect, note and id; the next match"},
    {"\\", "show only pyro, a rail, a position, a universe, a fixture; nothing typed: all"},
    {"O", "only what misfired, was passed over, held or inhibited, and back"},
};

const sm_board sm_board_score = {
    .name = "score",
    .key = SM_KEY_F0 + 2,
    .about = "what comes and what was, cue by cue; what burns now",
    .keys = score_keys,
    .key_count = sizeof score_keys / sizeof score_keys[0],
    .state_size = sizeof(score),
    .draw = score_draw,
    .press = score_press,
    .answer = score_answer,
    .work = score_work,
    .forget = forget,
    .suggest = score_suggest,
};
