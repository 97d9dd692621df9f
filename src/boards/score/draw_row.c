// SPDX-License-Identifier: GPL-3.0-or-later
// One row of the score. What a row says of its events is taken from the first few thousand of them at most, so that a frame
// stays short whatever a show does at one moment; where that is not all of them, an ellipsis stands for the rest.
#include "boards/score/score.h"
#include "boards/words/slots_and_flames.h"
#include "boards/words/state_line.h"

#include <assert.h>
#include <string.h>

#define EVENTS_LOOKED_AT 2048
#define LINES_LOOKED_AT 64
#define EFFECTS_NAMED 6

// Where each column begins; clock 0: not shown.
typedef struct columns {
    int id, clock, time, target, what, note;
} columns;

// The width from which on the clock of each row is shown, notes being as wide as at 80. What is beyond it is shared: notes get 7 columns
// in 12 of it and more.
#define CLOCK_FROM 92

static columns columns_for(int width) {
    bool clock = width >= CLOCK_FROM;
    int more = clock ? width - CLOCK_FROM : 0, for_target = more / 6, for_what = (more + 1) / 4;
    int target = (width >= 60 ? 17 : 10) + (for_target < 7 ? for_target : 7);
    int what = (width >= 60 ? 24 : 12) + (for_what < 12 ? for_what : 12);
    int time = clock ? 20 : 8;
    return (columns){1,        clock ? 8 : 0,         time,
                     time + 9, time + 9 + target + 1, time + 9 + target + 1 + what + 1};
}

// The events of a row: those that the lines hold in these places of show->order.
typedef struct events {
    uint32_t first, end;
    uint32_t looked_end; // no further
    uint32_t count;
    uint32_t lines;
    const sm_snapshot *spent_in; // what has fired by that comes no more, and is not named; NULL: all are
} events;

static events events_of(const sm_cue_lines *lines, sm_row row) {
    uint32_t first = sm_row_line(lines, row);
    uint32_t end = row.line != SM_NONE ? first + 1 : sm_cue_lines_instant_end(lines, row.instant);
    events e = {.first = lines->at[first].first, .end = lines->at[end - 1].end, .lines = end - first};
    e.count = sm_cue_lines_events(lines, first, end);
    e.looked_end = e.end - e.first > EVENTS_LOOKED_AT ? e.first + EVENTS_LOOKED_AT : e.end;
    return e;
}

// ---- what kinds of event there are, the gravest first ------------------------------------------------

typedef enum kind { KIND_PYRO, KIND_FLAME, KIND_LIGHT, KIND_COUNT } kind;
static const sm_look kind_looks[] = {SM_LOOK_PYRO, SM_LOOK_FLAME, SM_LOOK_LIGHT};
static_assert(sizeof kind_looks / sizeof kind_looks[0] == KIND_COUNT, "a look for each kind");

static kind kind_of(const sm_show *show, uint32_t place) {
    const sm_event *event = &show->events[show->order[place]];
    if (show->cues[event->cue].kind == SM_CUE_FIRE)
        return KIND_PYRO;
    return show->profiles[show->fixtures[event->target].profile].flame ? KIND_FLAME : KIND_LIGHT;
}

static bool is_wanted(const sm_cue_lines *lines, uint32_t place) {
    return sm_cue_lines_wants(lines, lines->show->order[place]);
}

// A slot fires once, and has.
static bool has_fired(const sm_snapshot *now, const sm_show *show, uint32_t place) {
    if (kind_of(show, place) != KIND_PYRO)
        return false;
    const sm_event *event = &show->events[show->order[place]];
    const sm_slot_phase phase = now->slots[show->firings[event->target].slot].phase;
    return phase == SM_SLOT_SPENT || phase == SM_SLOT_BURNING || phase == SM_SLOT_FLYING;
}

static bool is_named(const sm_cue_lines *lines, const events *e, uint32_t place) {
    return is_wanted(lines, place) && !(e->spent_in && has_fired(e->spent_in, lines->show, place));
}

static kind gravest(const sm_cue_lines *lines, const events *e) {
    if (e->lines == 1)
        return kind_of(lines->show, e->first);
    kind found = KIND_LIGHT;
    for (uint32_t place = e->first; place < e->looked_end && found != KIND_PYRO; place++) {
        kind here = is_named(lines, e, place) ? kind_of(lines->show, place) : KIND_LIGHT;
        found = here < found ? here : found;
    }
    return found;
}

// ---- targets ------------------------------------------------------------------------------------------

typedef struct target_list {
    sm_text text;
    int width;
    uint32_t named, count;
    bool full;
} target_list;

static void add_target(target_list *list, const sm_show *show, uint32_t place) {
    const sm_event *event = &show->events[show->order[place]];
    bool fires = show->cues[event->cue].kind == SM_CUE_FIRE;
    char slot[48];
    const char *name = fires ? sm_slot_format(show, show->firings[event->target].slot, slot)
                             : show->fixtures[event->target].name;
    bool last = list->named + 1 == list->count;
    int room = list->width - (last ? 0 : 5), used = sm_text_columns(sm_text_get(&list->text));
    if (list->named > 0 && used + 1 + sm_text_columns(name) > room) {
        list->full = true;
        return;
    }
    sm_text_printf(&list->text, "%s%s", list->named > 0 ? " " : "", name);
    list->named++;
}

// As many targets as fit, firings first, then flames; then how many more there are.
static void draw_targets(const sm_cue_lines *lines, sm_area area, int x, int y, int width, sm_look look,
                         const events *e) {
    target_list list = {.width = width, .count = e->count};
    for (int k = KIND_PYRO; k < KIND_COUNT && !list.full; k++) {
        for (uint32_t place = e->first; place < e->looked_end && !list.full; place++)
            if ((e->lines == 1 || kind_of(lines->show, place) == (kind)k) && is_named(lines, e, place))
                add_target(&list, lines->show, place);
        if (e->lines == 1)
            break;
    }
    if (list.named < list.count)
        sm_text_printf(&list.text, " +%u", list.count - list.named);
    sm_area_field(area, x, y, width, look, sm_text_get(&list.text));
    sm_text_deinit(&list.text);
}

// ---- what they do -----------------------------------------------------------------------------------------

static const char *effect_name(const sm_show *show, uint32_t place) {
    const sm_event *event = &show->events[show->order[place]];
    return show->effects[show->firings[event->target].effect].name;
}

static void add_levels(const sm_show *show, uint32_t place, sm_text *out) {
    const sm_cue *cue = &show->cues[show->events[show->order[place]].cue];
    if (cue->fade_us > 0)
        sm_text_printf(out, "%.6g s to ", (double)cue->fade_us / 1e6);
    sm_event_format_levels(show, show->order[place], out);
}

// "3 cues: fountain, comet, white=120": its effects, and what the first of the others does.
static void add_cues(const sm_cue_lines *lines, sm_row row, const events *e, sm_text *out) {
    const char *named[EFFECTS_NAMED];
    uint32_t first = sm_row_line(lines, row), count = 0, other = SM_NONE;
    uint32_t end = e->lines < LINES_LOOKED_AT ? first + e->lines : first + LINES_LOOKED_AT;
    sm_text_printf(out, "%u cues: ", e->lines);
    for (uint32_t line = first; line < end && count < EFFECTS_NAMED; line++) {
        uint32_t place = lines->at[line].first, i = 0;
        if (kind_of(lines->show, place) != KIND_PYRO) {
            other = other == SM_NONE ? place : other;
            continue;
        }
        if (!is_named(lines, e, place))
            continue;
        const char *name = effect_name(lines->show, place);
        while (i < count && named[i] != name)
            i++;
        if (i == count) {
            sm_text_printf(out, "%s%s", count > 0 ? ", " : "", name);
            named[count++] = name;
        }
    }
    if (other != SM_NONE) {
        sm_text_printf(out, "%s", count > 0 ? ", " : "");
        add_levels(lines->show, other, out);
    }
}

static void draw_what(const sm_cue_lines *lines, sm_area area, int x, int y, int width, sm_look look,
                      sm_row row, const events *e) {
    sm_text text = {0};
    if (e->lines > 1)
        add_cues(lines, row, e, &text);
    else if (kind_of(lines->show, e->first) == KIND_PYRO)
        sm_text_printf(&text, "%s", effect_name(lines->show, e->first));
    else
        add_levels(lines->show, e->first, &text);
    sm_area_field(area, x, y, width, look, sm_text_get(&text));
    sm_text_deinit(&text);
}

// ---- how they went ------------------------------------------------------------------------------------------

// How a firing stands, worst first, for rows that are past.
static const struct {
    sm_slot_phase phase;
    const char *word;
    sm_look look;
} outcomes[] = {
    {SM_SLOT_MISFIRED, "MISFIRED", SM_LOOK_WARN}, {SM_SLOT_HELD, "held", SM_LOOK_WARN},
    {SM_SLOT_PASSED, "passed", SM_LOOK_WARN},     {SM_SLOT_FLYING, "in air", SM_LOOK_PYRO},
    {SM_SLOT_BURNING, "burns", SM_LOOK_PYRO},     {SM_SLOT_SPENT, "fired", SM_LOOK_DIM},
};
enum { OUTCOMES = sizeof outcomes / sizeof outcomes[0] };

static const char *past_word(const sm_view *view, const sm_cue_lines *lines, const events *e, sm_look *look) {
    const sm_show *show = lines->show;
    size_t worst = OUTCOMES;
    for (uint32_t place = e->first; place < e->looked_end && worst > 0; place++) {
        if (kind_of(show, place) != KIND_PYRO || !is_wanted(lines, place))
            continue;
        const sm_event *event = &show->events[show->order[place]];
        sm_slot_phase phase = view->snapshot->slots[show->firings[event->target].slot].phase;
        for (size_t i = 0; i < worst; i++)
            worst = outcomes[i].phase == phase ? i : worst;
    }
    if (worst < OUTCOMES) {
        *look = outcomes[worst].look;
        return outcomes[worst].word;
    }
    return e->looked_end < e->end ? "…" : "";
}

// A repeat comes by again, but a slot fires once: nothing is to come where all that the row fires is spent. Lights come again.
static bool is_spent(const sm_view *view, const sm_cue_lines *lines, const events *e) {
    const sm_show *show = lines->show;
    bool any = false;
    for (uint32_t place = e->first; place < e->looked_end; place++) {
        if (!is_wanted(lines, place))
            continue;
        if (!has_fired(view->snapshot, show, place))
            return false;
        any = true;
    }
    return any && e->looked_end == e->end;
}

// Of a moment that comes, what comes of it: its lights, where its slots have fired in an earlier round.
static void leave_out_spent(const sm_view *view, const sm_cue_lines *lines, events *e) {
    if (e->lines == 1 || is_spent(view, lines, e))
        return;
    e->spent_in = view->snapshot;
    for (uint32_t place = e->first; place < e->looked_end; place++)
        e->count -= is_wanted(lines, place) && !is_named(lines, e, place);
}

static bool is_inhibited(const sm_view *view, uint32_t place) {
    const sm_show *show = view->show;
    const sm_event *event = &show->events[show->order[place]];
    return show->cues[event->cue].kind == SM_CUE_FIRE
               ? view->snapshot->slots[show->firings[event->target].slot].inhibited
               : view->snapshot->fixture_inhibited[event->target];
}

static bool any_inhibited(const sm_view *view, const sm_cue_lines *lines, const events *e) {
    bool any = false;
    if (view->snapshot->inhibit_count == 0)
        return any;
    for (uint32_t place = e->first; place < e->looked_end && !any; place++)
        any = is_inhibited(view, place) && is_wanted(lines, place);
    return any;
}

// ---- the row --------------------------------------------------------------------------------------------------

static void draw_when(const sm_view *view, const sm_cue_lines *lines, sm_area area, int y,
                      const sm_score_row *row, const events *e, const columns *at) {
    char text[24];
    sm_look look = row->past ? SM_LOOK_DIM : row->next ? SM_LOOK_NOW : SM_LOOK_PLAIN;
    uint32_t event = lines->show->order[e->first];
    if (at->clock > 0) {
        sm_area_field(area, at->clock, y, at->time - at->clock - 1, row->next ? look : SM_LOOK_DIM,
                      sm_clock_format(text, sm_event_due_us(lines->show, event)));
    }
    if (row->past) {
        const char *word = past_word(view, lines, e, &look);
        sm_area_field(area, at->time, y, at->target - at->time - 1, look, word);
        return;
    }
    if (is_spent(view, lines, e)) {
        sm_area_field(area, at->time, y, at->target - at->time - 1, SM_LOOK_DIM, "spent");
        return;
    }
    int width = sm_text_columns(sm_countdown_format(sm_snapshot_until_event(view->snapshot, event), text));
    int x = at->target - 2 - width;
    sm_area_text(area, x, y, look, text);
    if (row->next && x > at->time)
        sm_area_text(area, x - 2, y, look, "▸");
}

static void draw_id(const sm_cue_lines *lines, sm_area area, int y, const sm_score_row *row, const events *e,
                    const columns *at) {
    char id[12];
    bool heading = e->lines > 1;
    bool under = !heading && row->row.line != SM_NONE &&
                 sm_cue_lines_instant_end(lines, row->row.instant) -
                         sm_cue_lines_instant_first(lines, row->row.instant) >
                     1;
    sm_look look = row->past ? SM_LOOK_DIM : row->next ? SM_LOOK_NOW : SM_LOOK_PLAIN;
    if (heading)
        sm_area_text(area, 0, y, look, row->open ? "-" : "+");
    int x = at->id + (under ? 1 : 0), behind = at->clock > 0 ? at->clock : at->time;
    sm_area_field(area, x, y, behind - x - 1, look,
                  sm_cue_id(lines->show, lines->show->events[lines->show->order[e->first]].cue, id));
}

void sm_score_row_draw(const sm_view *view, const sm_cue_lines *lines, sm_area area, int y,
                       const sm_score_row *row) {
    events e = events_of(lines, row->row);
    if (!row->past)
        leave_out_spent(view, lines, &e);
    columns at = columns_for(area.columns);
    sm_look look = row->past ? SM_LOOK_DIM : kind_looks[gravest(lines, &e)];
    const sm_cue *cue = &lines->show->cues[lines->show->events[lines->show->order[e.first]].cue];
    draw_id(lines, area, y, row, &e, &at);
    draw_when(view, lines, area, y, row, &e, &at);
    draw_targets(lines, area, at.target, y, at.what - at.target - 1, look, &e);
    draw_what(lines, area, at.what, y, at.note - at.what - 1, look, row->row, &e);
    bool held = !row->past && any_inhibited(view, lines, &e);
    int note = at.note + (held ? sm_area_text(area, at.note, y, SM_LOOK_WARN, "INHIBITED ") : 0);
    sm_area_field(area, note, y, area.columns - note, SM_LOOK_DIM, sm_show_text(lines->show, cue->note));
    if (row->selected)
        sm_area_look(area, 0, y, at.what - 1, SM_LOOK_SELECTED);
}

// ---- beside the rows ---------------------------------------------------------------------------------------------

void sm_score_firing_format(const sm_view *view, uint32_t event, sm_text *out) {
    const sm_show *show = view->show;
    const sm_firing *firing = &show->firings[show->events[event].target];
    char name[48];
    uint32_t more = 0, place = sm_event_first_due(show, firing->fire_us);
    uint32_t end =
        show->event_count - place > EVENTS_LOOKED_AT ? place + EVENTS_LOOKED_AT : show->event_count;
    for (; place < end && sm_event_due_us(show, show->order[place]) == firing->fire_us; place++)
        more += show->order[place] != event && kind_of(show, place) == KIND_PYRO;
    sm_text_printf(out, "%s %s", sm_slot_format(show, firing->slot, name),
                   show->effects[firing->effect].name);
    if (more > 0)
        sm_text_printf(out, " +%u", more);
}

// No more of it than ROOM bytes and one more.
static void add_burning(const sm_view *view, size_t room, sm_text *out) {
    const sm_snapshot *now = view->snapshot;
    uint32_t count = now->flying + now->burning_count;
    for (uint32_t i = 0; i < count && out->length <= room; i++) {
        const sm_burning *burning = &now->burning[i];
        const sm_event *event = &view->show->events[burning->event];
        bool flies = burning->seen_at.us > now->wall.us;
        sm_us left = (flies ? burning->seen_at.us : burning->out_at.us) - now->wall.us;
        char name[48], span[24];
        sm_text_printf(out, "%s%s %s %s%s", i > 0 ? " · " : "",
                       sm_slot_format(view->show, burning->slot, name),
                       view->show->effects[view->show->firings[event->target].effect].name,
                       flies ? "in air " : "", sm_countdown_format(left, span));
    }
}

void sm_score_burning_draw(const sm_view *view, sm_area area) {
    sm_text text = {0};
    size_t room = (size_t)area.columns * (size_t)area.rows * 4; // a character is four bytes at most
    add_burning(view, room, &text);
    for (uint32_t fixture = 0; fixture < view->show->fixture_count && text.length <= room; fixture++) {
        if (sm_flame_look(view->snapshot, fixture).lit) {
            sm_text_printf(&text, "%sFLAME %s", text.length > 0 ? " · " : "",
                           view->show->fixtures[fixture].name);
        }
    }
    bool any = text.length > 0;
    sm_area_text(area, 1, 0, any ? SM_LOOK_PYRO : SM_LOOK_DIM, any ? "BURNS" : "nothing burns");
    if (any) {
        sm_area_wrap_cut(sm_area_part(area, 8, 0, area.columns - 9, area.rows), 0, SM_LOOK_PYRO,
                         sm_text_get(&text));
    }
    sm_text_deinit(&text);
}
