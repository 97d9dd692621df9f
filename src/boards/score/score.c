// SPDX-License-Identifier: GPL-3.0-or-later
// The score: the show's events as rows that pass a now-line, cue id first, as crews call cues by number.
//
// The rows come from cue lines (cue_lines.h). These are made once for the show and the filter in force; while new ones are being
// made the old ones are shown. The chosen row is remembered as a place of the show, so that it stays when the rows change. The
// board is drawn outward from the chosen row, which stands at `offset`. Until somebody scrolls, the chosen row is the next thing
// to come, right below the now-line.
#include "boards/score/score.h"

#include "boards/words/state_line.h"

#include <stdio.h>
#include <string.h>

#define WHEEL_ROWS 3

static bool score_work(void *state, const sm_view *view) {
    sm_score *self = state;
    return sm_score_is_busy(self) && sm_score_work(self, view);
}

static void score_forget(void *state) {
    sm_score_forget(state);
}

// ---- what the board says of itself --------------------------------------------------------------------------------

static void add_part(sm_text *out) {
    sm_text_printf(out, "%s", out->length > 0 ? " · " : "");
}

static void add_filter(const sm_score *self, const sm_view *view, sm_text *out) {
    if (!self->only_wrong && !sm_filter_names_any(&self->filter))
        return;
    add_part(out);
    sm_text_printf(out, "FILTER ");
    sm_filter_format(&self->filter, view->show, out);
    if (self->only_wrong) {
        sm_text_printf(out, "%sonly misfired, passed, held, inhibited",
                       sm_filter_names_any(&self->filter) ? ", " : "");
    }
    if (!self->coming && self->lines) {
        sm_text_printf(out, ": %u of %u hidden", view->show->event_count - self->lines->events,
                       view->show->event_count);
    }
}

static int percent(uint32_t part, uint32_t whole) {
    return whole > 0 ? (int)(100 * (uint64_t)part / whole) : 100;
}

static void add_search(const sm_score *self, sm_text *out) {
    if (!self->sought[0])
        return;
    add_part(out);
    const sm_search *search = self->search;
    if (!search || !sm_search_is_whole(search)) {
        sm_text_printf(out, "looking for “%s” %d %%", self->sought,
                       search ? percent(search->looked, search->lines->line_count) : 0);
    } else if (search->match_count == 0) {
        sm_text_printf(out, "“%s” is nowhere in what is shown", self->sought);
    } else if (self->match == SM_NONE) {
        sm_text_printf(out, "“%s” in %u rows, N next", self->sought, search->match_count);
    } else {
        sm_text_printf(out, "“%s” %u of %u%s, N next", self->sought, self->match + 1, search->match_count,
                       self->wrapped ? ", from the beginning again" : "");
    }
}

static void describe(const sm_score *self, const sm_view *view, sm_text *out) {
    if (self->coming) {
        sm_text_printf(out, "putting %u events in order: %d %%", view->show->event_count,
                       percent(self->coming->looked, view->show->event_count));
    }
    add_filter(self, view, out);
    add_search(self, out);
    if (self->scrolled && self->lines) {
        add_part(out);
        bool past = sm_score_chosen(self, view).instant < sm_score_instant_now(self, view);
        sm_text_printf(out, "scrolled %s now, Home follows", past ? "back from" : "ahead of");
    }
    if (self->notice[0]) {
        add_part(out);
        sm_text_printf(out, "%s", self->notice);
    }
}

// Says it in as many rows of AREA as it needs; returns how many.
static int draw_description(const sm_score *self, const sm_view *view, sm_area area) {
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
        if (now->state == SM_STATE_RUNNING) {
            sm_text_printf(&text, " in %s ",
                           sm_countdown_format(sm_snapshot_until_event(now, now->next_firing), span));
        } else { // nothing counts down while the show stands
            sm_text_printf(&text, " at %s ",
                           sm_clock_format(clock, sm_event_due_us(view->show, now->next_firing)));
        }
    }
    int used = sm_text_columns(sm_text_get(&text));
    for (int x = used; x < area.columns; x++)
        sm_text_printf(&text, "─");
    sm_area_field(area, 0, y, area.columns, SM_LOOK_NOW, sm_text_get(&text));
    sm_text_deinit(&text);
}

// What stands in one row of the board: a row of the lines, or the now-line (instant SM_NONE).
static const sm_row now_line = {SM_NONE, SM_NONE};

static bool is_now_line(sm_row row) {
    return row.instant == SM_NONE;
}

static sm_row item_before(const sm_score *self, uint32_t now, sm_row item) {
    if (is_now_line(item)) {
        sm_row start = sm_row_start(self->lines, now),
               before = sm_row_before(self->lines, &self->opened, start);
        return sm_row_same(start, before) ? item : before;
    }
    return sm_row_same(item, sm_row_start(self->lines, now))
               ? now_line
               : sm_row_before(self->lines, &self->opened, item);
}

static sm_row item_next(const sm_score *self, uint32_t now, sm_row item) {
    sm_row start = sm_row_start(self->lines, now);
    if (is_now_line(item))
        return start;
    sm_row next = sm_row_next(self->lines, &self->opened, item);
    return sm_row_same(next, start) && !sm_row_same(item, next) ? now_line : next;
}

static void draw_item(const sm_score *self, const sm_view *view, sm_area area, int y, uint32_t now,
                      sm_row item, bool selected) {
    const sm_cue_lines *lines = self->lines;
    if (is_now_line(item)) {
        draw_now_line(view, area, y);
    } else if (sm_row_is_end(lines, item)) {
        char clock[24];
        sm_area_printf(area, 1, y, selected ? SM_LOOK_SELECTED : SM_LOOK_DIM, "end of the show at %s",
                       sm_clock_format(clock, view->show->length_us));
    } else {
        sm_us due = sm_cue_lines_due_us(lines, sm_row_line(lines, item));
        uint32_t firing = view->snapshot->next_firing;
        bool next_firing =
            firing != SM_NONE && item.instant >= now && sm_event_due_us(view->show, firing) == due;
        sm_score_row_draw(view, lines, area, y,
                          &(sm_score_row){.row = item,
                                          .past = item.instant < now,
                                          .next = item.instant == now || next_firing,
                                          .open = item.line == SM_NONE && sm_opened_has(&self->opened, due),
                                          .selected = selected});
    }
}

static void draw_rows(sm_score *self, const sm_view *view, sm_area area, bool focused) {
    uint32_t now = sm_score_instant_now(self, view);
    sm_row chosen = sm_score_chosen(self, view), item = chosen;
    int y = sm_score_offset(self);
    for (int up = y; up > 0; up--) {
        sm_row before = item_before(self, now, item);
        if (sm_row_same(before, item))
            break;
        item = before;
        y--;
    }
    y = self->scrolled ? 0 : y; // no gap above the beginning, unless the now-line would leave its place
    self->first_y = y;
    self->shown_count = 0;
    for (; y < area.rows; y++) {
        bool selected = focused && self->scrolled && !is_now_line(item) && sm_row_same(item, chosen);
        draw_item(self, view, area, y, now, item, selected);
        if (self->shown_count < SM_SCORE_ROWS_KEPT)
            self->shown[self->shown_count++] = item;
        if (!is_now_line(item) && sm_row_is_end(self->lines, item))
            break;
        item = item_next(self, now, item);
    }
}

static void score_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    sm_score *self = state;
    sm_score_refresh(self, view);
    if (sm_score_is_busy(self))
        (void)sm_score_work(self, view); // a small show is ready at once
    int burning_rows = area.rows >= 10 ? 2 : 1;
    sm_area rows = sm_area_part(area, 0, 0, area.columns, area.rows - burning_rows);
    int most = area.rows >= 9 ? area.rows / 3 : area.rows >= 5 ? 2 : 1;
    int said = draw_description(self, view, sm_area_part(area, 1, 0, area.columns - 2, most));
    rows = sm_area_part(rows, 0, said, rows.columns, rows.rows - said);
    self->rows = rows.rows;
    self->list_y = said;
    if (self->lines && rows.rows > 0)
        draw_rows(self, view, rows, focused);
    sm_score_burning_draw(view, sm_area_part(area, 0, area.rows - burning_rows, area.columns, burning_rows));
}

// ---- keys ---------------------------------------------------------------------------------------------------------

static void score_show_cue(void *state, const sm_view *view, uint32_t cue) {
    sm_score *self = state;
    sm_score_refresh(self, view);
    self->cue_wanted = cue + 1;
    if (self->lines && !self->coming)
        sm_score_show_wanted_cue(self, view);
}

static unsigned ask(sm_score *self, sm_score_question asks, sm_request *request) {
    static const char *const labels[] = {
        [SM_SCORE_ASKS_NOTHING] = "",
        [SM_SCORE_ASKS_FILTER] = "show only (nothing: all):",
        [SM_SCORE_ASKS_SEARCH] = "look for:",
    };
    self->asks = asks;
    snprintf(request->line, sizeof request->line, "%s", labels[asks]);
    return SM_NEXT_ASK | SM_NEXT_REDRAW;
}

static bool answer_filter(sm_score *self, const sm_view *view, const char *text, sm_request *request) {
    char why[200];
    if (sm_filter_read(view->show, text, &self->filter, why) != SM_OK) {
        snprintf(request->line, sizeof request->line, "%s", why);
        return false;
    }
    self->only_wrong = self->filter.wrong || (self->only_wrong && sm_filter_names_any(&self->filter));
    self->wrong_sum = self->only_wrong ? sm_score_sum_wrong(view->snapshot) : 0;
    sm_score_begin_lines(self, view);
    return true;
}

static bool score_answer(void *state, const sm_view *view, const char *text, sm_request *request) {
    sm_score *self = state;
    sm_score_refresh(self, view);
    self->notice[0] = '\0';
    if (self->asks == SM_SCORE_ASKS_FILTER)
        return answer_filter(self, view, text, request);
    snprintf(self->sought, sizeof self->sought, "%s", text);
    self->to_jump = self->sought[0] ? 1 : 0;
    self->wrapped = false;
    if (self->lines)
        sm_score_begin_search(self);
    return true;
}

static unsigned next_match(sm_score *self, const sm_view *view) {
    if (!self->sought[0]) {
        snprintf(self->notice, sizeof self->notice, "nothing was looked for yet: / does");
        return SM_NEXT_REDRAW;
    }
    self->to_jump++;
    if (self->search && sm_search_is_whole(self->search))
        sm_score_go_to_matches(self, view);
    return SM_NEXT_REDRAW;
}

static unsigned follow(sm_score *self) {
    self->scrolled = false;
    self->sought[0] = '\0';
    sm_search_destroy(self->search);
    self->search = NULL;
    self->match = SM_NONE;
    return SM_NEXT_REDRAW;
}

static unsigned only_wrong(sm_score *self, const sm_view *view) {
    self->only_wrong = !self->only_wrong;
    self->wrong_sum = self->only_wrong ? sm_score_sum_wrong(view->snapshot) : 0;
    sm_score_begin_lines(self, view);
    return SM_NEXT_REDRAW;
}

static unsigned press_moving(sm_score *self, const sm_view *view, int key) {
    int page = self->rows > 2 ? self->rows - 2 : 1;
    switch (key) {
    case SM_KEY_UP:
        sm_score_scroll_by(self, view, -1);
        break;
    case SM_KEY_DOWN:
        sm_score_scroll_by(self, view, 1);
        break;
    case SM_KEY_PAGE_UP:
        sm_score_scroll_by(self, view, -page);
        break;
    case SM_KEY_PAGE_DOWN:
        sm_score_scroll_by(self, view, page);
        break;
    case SM_KEY_END:
        sm_score_choose(self, view, sm_row_start(self->lines, self->lines->instant_count));
        self->offset = self->rows;
        break;
    case SM_KEY_ENTER:
        sm_score_open_or_close(self, view);
        break;
    default:
        return SM_NEXT_UNUSED;
    }
    return SM_NEXT_REDRAW;
}

static unsigned score_press(void *state, const sm_view *view, int key, sm_request *request) {
    sm_score *self = state;
    sm_score_refresh(self, view);
    if (!self->lines)
        (void)sm_score_work(self, view); // it may not have been drawn yet
    char notice[sizeof self->notice];
    memcpy(notice, self->notice, sizeof notice);
    self->notice[0] = '\0'; // the next key has it seen
    switch (key) {
    case '/':
        return ask(self, SM_SCORE_ASKS_SEARCH, request);
    case '\\':
        return ask(self, SM_SCORE_ASKS_FILTER, request);
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
    unsigned next = self->lines ? press_moving(self, view, key) : SM_NEXT_UNUSED;
    if (next == SM_NEXT_UNUSED)
        memcpy(self->notice, notice, sizeof notice);
    return next;
}

// A click chooses a row; one on the chosen row opens or closes it. The wheel scrolls.
static unsigned score_point(void *state, const sm_view *view, sm_mouse mouse, sm_request *request) {
    sm_score *self = state;
    (void)request;
    sm_score_refresh(self, view);
    int at = mouse.y - self->list_y - self->first_y;
    if (!self->lines)
        return SM_NEXT_NOTHING;
    if (mouse.what != SM_MOUSE_CLICK) {
        sm_score_scroll_by(self, view, mouse.what == SM_MOUSE_WHEEL_UP ? -WHEEL_ROWS : WHEEL_ROWS);
        return SM_NEXT_REDRAW;
    }
    if (at < 0 || at >= self->shown_count || is_now_line(self->shown[at]) ||
        self->shown[at].instant > self->lines->instant_count)
        return SM_NEXT_NOTHING;
    if (self->scrolled && sm_row_same(self->shown[at], sm_score_chosen(self, view))) {
        sm_score_open_or_close(self, view);
    } else {
        self->offset = mouse.y - self->list_y;
        sm_score_choose(self, view, self->shown[at]);
    }
    return SM_NEXT_REDRAW;
}

static void score_suggest(void *state, const sm_view *view, sm_argument argument, sm_text *out) {
    const sm_score *self = state;
    if (!self->lines || !self->scrolled || sm_row_is_end(self->lines, sm_score_chosen(self, view)))
        return;
    uint32_t line = sm_row_line(self->lines, sm_score_chosen(self, view));
    if (argument == SM_ARG_MOMENT) {
        char clock[24];
        sm_text_printf(out, "%s", sm_clock_format(clock, sm_cue_lines_due_us(self->lines, line)));
    } else if (argument == SM_ARG_CUE) {
        char id[12];
        const uint32_t event = view->show->order[self->lines->at[line].first];
        sm_text_printf(out, "%s", sm_cue_id(view->show, view->show->events[event].cue, id));
    }
}

static const sm_board_key score_keys[] = {
    {"Up Down", "choose a row; PageUp PageDown by a page"},
    {"Enter", "open or close what is due at one moment: + closed, - open"},
    {"Home Esc", "follow the show again; End goes to its end"},
    {"/ N", "look for a text in target, effect, note and id; the next match"},
    {"\\", "show only pyro, flame, light, wrong, a zone, rail, position, effect, fixture, universe; nothing "
           "typed: all"},
    {"mouse", "a click chooses a row, and opens or closes the chosen one; the wheel scrolls"},
    {"O", "only what misfired, was passed over, held or inhibited, and back"},
};

const sm_board sm_board_score = {
    .name = "score",
    .key = SM_KEY_F0 + 2,
    .about = "what comes and what was, cue by cue; what burns now",
    .keys = score_keys,
    .key_count = sizeof score_keys / sizeof score_keys[0],
    .state_size = sizeof(sm_score),
    .draw = score_draw,
    .press = score_press,
    .point = score_point,
    .answer = score_answer,
    .show_cue = score_show_cue,
    .work = score_work,
    .forget = score_forget,
    .suggest = score_suggest,
};
