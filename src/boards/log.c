// SPDX-License-Identifier: GPL-3.0-or-later
// The log as it grows, newest first.
#include "boards/view.h"
#include "boards/words/log_line.h"
#include "screen/scroller.h"

#include <stdio.h>
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

// ---- which rows -------------------------------------------------------------------------------

static bool is_of_people(const sm_recent_row *row) {
    return row->kind.what == SM_LOG_ACTION &&
           (row->kind.act == SM_ACT_ANSWER || sm_action_row_of(row->kind.act)->arguments[0] == SM_ARG_WHO);
}

static bool is_action(const sm_recent_row *row) {
    return row->kind.what == SM_LOG_ACTION && row->source != SM_SOURCE_ENGINE;
}

static bool is_warning(const sm_recent_row *row) {
    return look_of_row(row) == SM_LOOK_WARN;
}

// What can be asked for, those first that a crew looks for first: the kinds of row, up to SM_LOG_COUNT, or a condition.
typedef struct row_kind {
    const char *word;
    sm_log_what whats[3];
    bool (*is)(const sm_recent_row *row); // NULL: by `whats` alone
} row_kind;

static const row_kind kinds[] = {
    {"misfires", {SM_LOG_MISFIRE, SM_LOG_PASSED, SM_LOG_INHIBITED}, NULL},
    {"people", {SM_LOG_COUNT, SM_LOG_COUNT, SM_LOG_COUNT}, is_of_people},
    {"alerts", {SM_LOG_ALERT, SM_LOG_COUNT, SM_LOG_COUNT}, NULL},
    {"refused", {SM_LOG_REFUSED, SM_LOG_UNPAIRED, SM_LOG_COUNT}, NULL},
    {"wrong", {SM_LOG_COUNT, SM_LOG_COUNT, SM_LOG_COUNT}, is_warning},
    {"actions", {SM_LOG_COUNT, SM_LOG_COUNT, SM_LOG_COUNT}, is_action},
    {"states", {SM_LOG_STATE, SM_LOG_GUARD, SM_LOG_COUNT}, NULL},
    {"firings", {SM_LOG_FIRE, SM_LOG_OUT, SM_LOG_SPENT}, NULL},
    {"fixtures", {SM_LOG_SET, SM_LOG_HOME, SM_LOG_LIGHTS}, NULL},
    {"sound", {SM_LOG_SOUND, SM_LOG_TIMECODE, SM_LOG_COUNT}, NULL},
};
enum { KINDS = sizeof kinds / sizeof kinds[0], WRONG = 4 };

typedef enum question { ASKS_FILTER, ASKS_SEARCH } question;

typedef struct log_board {
    sm_scroller scroller;
    unsigned kinds; // a bit a row of `kinds`; 0: all
    question asks;
    char sought[64];
    uint64_t found; // number of the row in sight that has it, counted from the first ever; UINT64_MAX: none
} log_board;

static bool is_kind(const row_kind *kind, const sm_recent_row *row) {
    bool is = kind->is && kind->is(row);
    for (size_t i = 0; i < sizeof kind->whats / sizeof kind->whats[0]; i++)
        is = is || kind->whats[i] == row->kind.what;
    return is;
}

static bool passes(const log_board *self, const sm_recent_row *row) {
    bool any = self->kinds == 0;
    for (size_t i = 0; i < KINDS && !any; i++)
        any = (self->kinds & 1u << i) && is_kind(&kinds[i], row);
    return any;
}

// The row that is NUMBER passing ones older than the newest passing one; NULL: there are not so many.
static const sm_recent_row *passing_row(const log_board *self, const sm_view *view, int number,
                                        uint64_t *age) {
    for (; sm_recent_at(view->recent, *age); ++*age) {
        const sm_recent_row *row = sm_recent_at(view->recent, *age);
        if (passes(self, row) && number-- == 0)
            return row;
    }
    return NULL;
}

static int count_passing(const log_board *self, const sm_view *view) {
    int count = 0;
    for (uint64_t age = 0; sm_recent_at(view->recent, age); age++)
        count += passes(self, sm_recent_at(view->recent, age));
    return count;
}

// ---- drawing ------------------------------------------------------------------------------------

static bool is_narrowed(const log_board *self) {
    return self->kinds != 0 || self->sought[0];
}

static void draw_description(const log_board *self, const sm_view *view, sm_area area, int count) {
    sm_text text = {0};
    uint64_t kept = view->recent->count < SM_RECENT_ROWS ? view->recent->count : SM_RECENT_ROWS;
    if (self->kinds != 0) {
        sm_text_printf(&text, "FILTER");
        for (size_t i = 0; i < KINDS; i++)
            if (self->kinds & 1u << i)
                sm_text_printf(&text, " %s", kinds[i].word);
        sm_text_printf(&text, ": %d of the latest %u rows", count, (unsigned)kept);
    }
    if (self->sought[0])
        sm_text_printf(&text, "%s“%s”%s", text.length > 0 ? " · " : "", self->sought,
                       self->found == UINT64_MAX ? " is nowhere in what is shown" : ", N next");
    sm_area_field(area, 1, 0, area.columns - 2, SM_LOOK_NOW, sm_text_get(&text));
    sm_text_deinit(&text);
}

static void log_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    log_board *self = state;
    (void)focused;
    int count = count_passing(self, view);
    if (is_narrowed(self)) {
        draw_description(self, view, area, count);
        area = sm_area_part(area, 0, 1, area.columns, area.rows - 1);
    }
    sm_scroller_drawn(&self->scroller, count - self->scroller.top, area.rows);
    uint64_t age = 0;
    int number = self->scroller.top;
    for (int y = 0; y < area.rows; y++, age++, number = 0) {
        const sm_recent_row *row = passing_row(self, view, number, &age);
        if (!row)
            return;
        draw_row(view, area, y, row);
        if (self->sought[0] && view->recent->count - 1 - age == self->found)
            sm_area_look(area, 0, y, area.columns, SM_LOOK_SELECTED);
    }
}

// ---- keys -------------------------------------------------------------------------------------------

static bool has_text(const sm_recent_row *row, const char *sought) {
    sm_text line = {0};
    sm_log_line(row, &line);
    bool has = strcasestr(sm_text_get(&line), sought) != NULL;
    sm_text_deinit(&line);
    return has;
}

// Goes to the next older row with what is sought, from the newest on where none was found yet, and from there again at the end.
static void find_next(log_board *self, const sm_view *view) {
    int number = 0, first = -1, next = -1;
    uint64_t first_row = UINT64_MAX, next_row = UINT64_MAX;
    for (uint64_t age = 0; sm_recent_at(view->recent, age); age++) {
        const sm_recent_row *row = sm_recent_at(view->recent, age);
        uint64_t row_number = view->recent->count - 1 - age;
        if (!passes(self, row))
            continue;
        if (has_text(row, self->sought)) {
            if (first < 0) {
                first = number;
                first_row = row_number;
            }
            if (next < 0 && row_number < self->found) {
                next = number;
                next_row = row_number;
            }
        }
        number++;
    }
    self->found = next >= 0 ? next_row : first_row;
    self->scroller.top = next >= 0 ? next : first >= 0 ? first : self->scroller.top;
}

static unsigned ask(log_board *self, question asks, sm_request *request) {
    static const char *const labels[] = {
        [ASKS_FILTER] = "show only (nothing: all):", [ASKS_SEARCH] = "look for:"};
    self->asks = asks;
    snprintf(request->line, sizeof request->line, "%s", labels[asks]);
    return SM_NEXT_ASK | SM_NEXT_REDRAW;
}

static bool read_filter(const char *text, unsigned *out, sm_request *request) {
    unsigned read = 0;
    for (const char *at = text + strspn(text, " ,"); *at; at += strspn(at, " ,")) {
        size_t length = strcspn(at, " ,"), i = 0;
        while (i < KINDS && (strncmp(kinds[i].word, at, length) != 0 || kinds[i].word[length] != '\0'))
            i++;
        if (i == KINDS) {
            int used = snprintf(request->line, sizeof request->line,
                                "'%.*s' is no kind of row:", length < 40 ? (int)length : 40, at);
            for (i = 0; i < KINDS; i++)
                used +=
                    snprintf(request->line + used, sizeof request->line - (size_t)used, " %s", kinds[i].word);
            return false;
        }
        read |= 1u << i;
        at += length;
    }
    *out = read;
    return true;
}

static bool log_answer(void *state, const sm_view *view, const char *text, sm_request *request) {
    log_board *self = state;
    if (self->asks == ASKS_FILTER) {
        self->scroller.top = 0;
        return read_filter(text, &self->kinds, request);
    }
    snprintf(self->sought, sizeof self->sought, "%s", text);
    self->found = UINT64_MAX;
    if (self->sought[0])
        find_next(self, view);
    return true;
}

static unsigned log_press(void *state, const sm_view *view, int key, sm_request *request) {
    log_board *self = state;
    switch (key) {
    case '/':
        return ask(self, ASKS_SEARCH, request);
    case '\\':
        return ask(self, ASKS_FILTER, request);
    case 'O':
        self->kinds = self->kinds == 1u << WRONG ? 0 : 1u << WRONG;
        self->scroller.top = 0;
        return SM_NEXT_REDRAW;
    case 'N':
        if (self->sought[0])
            find_next(self, view);
        return SM_NEXT_REDRAW;
    case SM_KEY_HOME:
        self->scroller.top = 0;
        self->sought[0] = '\0';
        return SM_NEXT_REDRAW;
    default:
        return sm_scroller_press(&self->scroller, key) ? SM_NEXT_REDRAW : SM_NEXT_UNUSED;
    }
}

static const sm_board_key log_keys[] = {
    {"Up Down PageUp PageDown Home", "scroll; Home: to the newest, and nothing is looked for any more"},
    {"/ N", "look for a text; the next older row that has it"},
    {"\\", "show only misfires, people, alerts, refused, wrong, actions, states, firings, fixtures, sound, "
           "or several of "
           "them; nothing typed: all"},
    {"O", "only what went wrong, and back"},
};

const sm_board sm_board_log = {
    .name = "log",
    .key = SM_KEY_F0 + 9,
    .about = "what happened, newest first",
    .keys = log_keys,
    .key_count = sizeof log_keys / sizeof log_keys[0],
    .state_size = sizeof(log_board),
    .draw = log_draw,
    .press = log_press,
    .answer = log_answer,
};
