// SPDX-License-Identifier: GPL-3.0-or-later
// The walk before the show, one item at a time. An open hold stops it. At a place the score's cues can be previewed, but only
// while safe with the key off: people stand at the units.
#include "boards/view.h"
#include "screen/scroller.h"

#include <stdio.h>
#include <string.h>

typedef struct walk_board {
    uint32_t at;   // item; the count of them is the page of how it stands
    bool found;    // the first open item was gone to
    bool answered; // the item was answered just now: goes on once it is no longer open
    bool preview;
    bool paper;           // the sheets and their words
    sm_scroller scroller; // of the page or the preview
} walk_board;

static const char *refusal(const sm_view *view) {
    return sm_walk_preview_refusal(view->snapshot->state, view->snapshot->key);
}

static bool is_open_hold(const sm_walk *walk, uint32_t item) {
    return walk->standings[item].open && walk->list->items[item].hold;
}

static bool is_left(const sm_walk *walk, uint32_t item) {
    return walk->standings[item].open && walk->standings[item].tick.answer == SM_WALK_LATER;
}

// What is left for later keeps nobody from the places behind it; it stays open and is listed.
static bool stops(const sm_walk *walk, uint32_t item) {
    return is_open_hold(walk, item) && !is_left(walk, item);
}

static void go_to(walk_board *self, uint32_t item) {
    self->at = item;
    self->scroller.top = 0;
    self->answered = self->preview = self->paper = false;
}

static void go_to_first_open(walk_board *self, const sm_walk *walk) {
    uint32_t item = 0;
    while (item < walk->list->count && !walk->standings[item].open)
        item++;
    go_to(self, item);
}

// What has changed since the board was looked at last.
static void follow(walk_board *self, const sm_view *view) {
    const sm_walk *walk = view->walk;
    if (self->at > walk->list->count)
        self->at = walk->list->count;
    if (!self->found) {
        go_to_first_open(self, walk);
        self->found = true;
    }
    if (self->answered && self->at < walk->list->count &&
        (!walk->standings[self->at].open || is_left(walk, self->at)))
        go_to(self, self->at + 1);
    self->preview = self->preview && !refusal(view);
}

// ---- drawing -----------------------------------------------------------------------------

static int draw_where(const sm_walk *walk, uint32_t at, sm_area area, int y) {
    const sm_walk_list *list = walk->list;
    const sm_walk_item *item = &list->items[at];
    char holds[80], later[48] = "";
    size_t open = 0, left = 0;
    for (uint32_t i = 0; i < list->count; i++) {
        open += is_open_hold(walk, i);
        left += is_left(walk, i);
    }
    if (left > 0)
        snprintf(later, sizeof later, " · %zu left for later", left);
    snprintf(holds, sizeof holds, "%zu hold%s open%s", open, open == 1 ? "" : "s", later);
    sm_area_printf(area, 1, y, SM_LOOK_DIM, "item %u of %u · %s · %s · %.0f m on foot", at + 1, list->count,
                   item->position == SM_NONE ? "no place" : list->show->positions[item->position].name, holds,
                   list->metres);
    return 1;
}

static void put_standing(const sm_view *view, const sm_walk_standing *standing, sm_text *out) {
    const sm_walk_tick *tick = &standing->tick;
    char when[24];
    (void)view;
    if (tick->answer == SM_WALK_UNANSWERED) {
        sm_text_printf(out, "not answered");
        return;
    }
    sm_text_printf(out, "answered %s", sm_walk_answer_text(tick->answer));
    if (tick->value[0])
        sm_text_printf(out, " %s", tick->value);
    if (tick->by[0])
        sm_text_printf(out, " by %s", tick->by);
    if (tick->when_us != SM_UNSET_US)
        sm_text_printf(out, " at %s", sm_walk_when_format(when, tick->when_us));
    if (tick->note[0])
        sm_text_printf(out, ": %s", tick->note);
    if (standing->open)
        sm_text_printf(out, "; %s", standing->why);
}

static int draw_lines(sm_area area, int y, sm_look look, const char *lines) {
    int rows = 0;
    while (*lines) {
        size_t length = strcspn(lines, "\n");
        sm_text line = {0};
        sm_text_append(&line, lines, length);
        rows += length > 0 ? sm_area_wrap(area, y + rows, 2, look, sm_text_get(&line)) : 1;
        sm_text_deinit(&line);
        lines += length + (lines[length] == '\n');
    }
    return rows;
}

static int draw_item(const sm_view *view, uint32_t at, sm_area area, int y) {
    const sm_walk *walk = view->walk;
    const sm_walk_item *item = &walk->list->items[at];
    const sm_walk_standing *standing = &walk->standings[at];
    sm_area inner = sm_area_part(area, 3, 0, area.columns - 6, area.rows);
    sm_text text = {0};
    int begin = y;
    y += draw_where(walk, at, area, y) + 1;
    if (stops(walk, at))
        sm_area_text(area, 3, y++, SM_LOOK_WARN, "HOLD: the walk stops here until this is resolved");
    else if (is_open_hold(walk, at))
        sm_area_text(area, 3, y++, SM_LOOK_WARN, "HOLD, left for later: it stays open");
    y += sm_area_wrap(inner, y, 0, SM_LOOK_TITLE, item->ask) + 1;
    y += draw_lines(inner, y, SM_LOOK_PLAIN, item->detail);
    if (strcmp(item->expect, "yes") != 0)
        y += sm_area_printf(inner, 0, y, SM_LOOK_PLAIN, "expected: %s", item->expect) > 0;
    put_standing(view, standing, &text);
    y += sm_area_wrap(inner, y + 1, 2, standing->open ? SM_LOOK_NOW : SM_LOOK_DIM, sm_text_get(&text)) + 2;
    sm_text_deinit(&text);
    y += sm_area_wrap(inner, y, 0, SM_LOOK_KEY,
                      item->measured ? "1 yes, then what was measured   2 no   3 not applicable   4 later"
                                     : "1 yes   2 no   3 not applicable   4 later");
    return y - begin;
}

static int draw_preview(const sm_view *view, uint32_t at, sm_area area, int y) {
    const sm_walk_list *list = view->walk->list;
    const sm_show *show = list->show;
    int begin = y;
    sm_area_printf(area, 1, y++, SM_LOOK_STATE_ARMED, " PREVIEW ");
    y += sm_area_wrap(sm_area_part(area, 1, 0, area.columns - 2, area.rows), y, 0, SM_LOOK_DIM,
                      "The cues of this place. Nothing runs, nothing is fired or lit, no tone sounds.");
    for (uint32_t i = 0; i < show->event_count; i++) {
        uint32_t event = show->order[i];
        if (!sm_walk_item_has_event(list, at, event))
            continue;
        char time[24], id[12], slot[48];
        const sm_event *e = &show->events[event];
        sm_clock_format(time, sm_event_due_us(show, event));
        if (show->cues[e->cue].kind == SM_CUE_FIRE) {
            const sm_firing *firing = &show->firings[e->target];
            sm_area_printf(area, 1, y++, SM_LOOK_PYRO, "%12s  cue %s  %s %s", time,
                           sm_cue_id(show, e->cue, id), sm_slot_format(show, firing->slot, slot),
                           show->effects[firing->effect].name);
        } else {
            sm_text levels = {0};
            sm_event_format_levels(show, event, &levels);
            sm_area_printf(area, 1, y++, SM_LOOK_LIGHT, "%12s  cue %s  %s %s", time,
                           sm_cue_id(show, e->cue, id), show->fixtures[e->target].name, sm_text_get(&levels));
            sm_text_deinit(&levels);
        }
    }
    return y - begin;
}

// Words that others must read aloud stand large enough to be read aloud in turn.
static int draw_paper(const sm_view *view, sm_area area, int y) {
    const bool known = view->paper_words && view->paper_words[0];
    sm_area inner = sm_area_part(area, 1, 0, area.columns - 2, area.rows);
    int rows = sm_area_wrap(inner, y, 0, SM_LOOK_DIM,
                            "The sheets of paper of this show. Whoever holds one reads its three words "
                            "aloud; with other words it is "
                            "old. t, then: paper LOAD-A and the words.") +
               1;
    if (!known)
        return rows + sm_area_wrap(inner, y + rows, 0, SM_LOOK_DIM, "The words are still being made.");
    return rows + draw_lines(inner, y + rows, SM_LOOK_PLAIN, view->paper_words);
}

static void walk_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    walk_board *self = state;
    (void)focused;
    if (!view->walk) {
        sm_area_wrap(sm_area_part(area, 1, 0, area.columns - 2, area.rows), 0, 0, SM_LOOK_WARN,
                     "No walk: the show's files could not be read for it, or memory ran out.");
        return;
    }
    follow(self, view);
    int y = -self->scroller.top, needed;
    if (self->paper) {
        needed = draw_paper(view, area, y);
    } else if (self->at == view->walk->list->count) {
        sm_text text = {0};
        sm_walk_print_state(&text, view->walk);
        needed = draw_lines(sm_area_part(area, 1, 0, area.columns - 2, area.rows), y, SM_LOOK_PLAIN,
                            sm_text_get(&text));
        sm_text_deinit(&text);
    } else if (self->preview) {
        needed = draw_preview(view, self->at, area, y);
    } else {
        needed = draw_item(view, self->at, area, y);
    }
    sm_scroller_drawn(&self->scroller, needed + y, area.rows);
}

// ---- keys -----------------------------------------------------------------------------------

static unsigned answer(walk_board *self, const sm_view *view, int key, sm_request *request) {
    static const char *const words[] = {"yes", "no", "na", "later"};
    const sm_walk_item *item = &view->walk->list->items[self->at];
    bool asks = key != '4'; // by whom, what was measured, a note; what is left for later needs none of them
    snprintf(request->line, sizeof request->line, "tick %.128s %s%s", item->id, words[key - '1'],
             asks ? " " : "");
    self->answered = true;
    return SM_NEXT_REDRAW | (asks ? SM_NEXT_PROMPT : SM_NEXT_ACT);
}

static unsigned go_on(walk_board *self, const sm_walk *walk) {
    if (self->at < walk->list->count && !stops(walk, self->at))
        go_to(self, self->at + 1);
    return SM_NEXT_REDRAW;
}

static unsigned walk_press(void *state, const sm_view *view, int key, sm_request *request) {
    walk_board *self = state;
    if (!view->walk)
        return SM_NEXT_UNUSED;
    follow(self, view);
    bool at_item = self->at < view->walk->list->count;
    if (at_item && !self->preview && !self->paper && key >= '1' && key <= '4')
        return answer(self, view, key, request);
    switch (key) {
    case SM_KEY_RIGHT:
        return go_on(self, view->walk);
    case SM_KEY_LEFT:
        if (self->at > 0)
            go_to(self, self->at - 1);
        return SM_NEXT_REDRAW;
    case SM_KEY_HOME:
        go_to_first_open(self, view->walk);
        return SM_NEXT_REDRAW;
    case SM_KEY_END:
        go_to(self, view->walk->list->count);
        return SM_NEXT_REDRAW;
    case 'V':
        self->preview = at_item && !self->preview && !refusal(view);
        self->scroller.top = 0;
        return SM_NEXT_REDRAW;
    case '5':
        self->paper = !self->paper;
        self->scroller.top = 0;
        return SM_NEXT_REDRAW;
    default:
        return sm_scroller_press(&self->scroller, key) ? SM_NEXT_REDRAW : SM_NEXT_UNUSED;
    }
}

static void walk_show_changed(void *state, const sm_view *view) {
    (void)view;
    *(walk_board *)state = (walk_board){0};
}

static void walk_suggest(void *state, const sm_view *view, sm_argument argument, sm_text *out) {
    const walk_board *self = state;
    if (argument == SM_ARG_ITEM && view->walk && self->at < view->walk->list->count)
        sm_text_printf(out, "%s", view->walk->list->items[self->at].id);
}

static const sm_board_key walk_keys[] = {
    {"1 2 3 4",
     "answer: yes, no, not applicable (type a value, a note, `by NAME` or `by K and M`, then Enter); later"},
    {"Right Left", "the next item (not beyond an open hold that is not left for later), the one before"},
    {"Home End", "the first open item; how the walk stands, and its names (G signs)"},
    {"5", "the sheets of paper and the words that must stand on them; again: the item"},
    {"V", "preview of the score at this place: only while safe with the key off"},
    {"Up Down PageUp PageDown", "scroll"},
};

const sm_board sm_board_walk = {
    .name = "walk",
    .key = SM_KEY_F0 + 12,
    .about = "the walk before the show, one item at a time",
    .keys = walk_keys,
    .key_count = sizeof walk_keys / sizeof walk_keys[0],
    .state_size = sizeof(walk_board),
    .draw = walk_draw,
    .press = walk_press,
    .show_changed = walk_show_changed,
    .suggest = walk_suggest,
};
