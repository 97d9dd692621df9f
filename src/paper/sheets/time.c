// SPDX-License-Identifier: GPL-3.0-or-later
// TIME: what is seen when, by place, on paper laid across. Readable without colour: a white bar is ground or near, a black one
// aerial, a wedge is flame.
#include "paper/sheets.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    LABEL_PX = 150, // of the place, left of the bars
    AXIS_PX = PAPER_LONG_PX - LABEL_PX,
    AXIS_HEIGHT_PX = 26,
    LANE_PX = 28, // a figure, and a bar below it
    BAR_PX = 9,
    BAR_LEAST_PX = 8,
    LANES_MAX = 16, // what is more goes into a row of its own
    GRID_S = 5,
    FIGURE_PX = 60, // room of a figure on the axis, an hour and more
    FIGURES_APART_PX = 6,
};
#define WINDOW_MOST_US (110 * SM_US_PER_S)

typedef struct window {
    sm_us begin_us, length_us;
} window;

// One thing seen.
typedef struct mark {
    int left, right; // of the bar
    int figure_left; // before LEFT where the paper ends
    char figure[12]; // "" for none
    bool is_flame, is_filled;
    uint32_t lane;
} mark;

static int x_of(const window *w, sm_us at_us) {
    const sm_us within = at_us < w->begin_us ? 0 : at_us - w->begin_us;
    const sm_us x = within * AXIS_PX / w->length_us;
    return LABEL_PX + (int)(x < AXIS_PX ? x : AXIS_PX);
}

static bool is_seen_in(const window *w, sm_us begin_us, sm_us end_us) {
    const sm_us end = end_us > begin_us ? end_us : begin_us + 1;
    return begin_us < w->begin_us + w->length_us && end > w->begin_us;
}

static void draw_grid(paper_kit *kit, const window *w, int height, bool with_figures) {
    int free_from = 0; // right of the figure before: from ten minutes on not every one has room
    for (sm_us at = 0; at <= w->length_us; at += GRID_S * SM_US_PER_S) {
        char clock[24];
        const int x = x_of(w, w->begin_us + at);
        sm_clock_format(clock, w->begin_us + at);
        clock[strcspn(clock, ".")] = '\0';
        const int width = paper_width_px(PAPER_TEXT, clock, strlen(clock)), left = x - width / 2;
        if (with_figures && x < PAPER_LONG_PX - 16 && left >= free_from) {
            paper_draw_text(kit, PAPER_TEXT, x, 15, FIGURE_PX, true, clock);
            free_from = left + width + FIGURES_APART_PX;
        }
        paper_draw_grid_line(kit, x, with_figures ? 19 : 0, height);
    }
}

static void draw_axis(paper_kit *kit, const window *w) {
    paper_draw_begin(kit, PAPER_LONG_PX, AXIS_HEIGHT_PX, "seconds of the show");
    draw_grid(kit, w, AXIS_HEIGHT_PX, true);
    paper_draw_end(kit);
}

// ---- one row -----------------------------------------------------------------------------------

// The marks of one place in one window. Lanes are taken anew for each row.
typedef struct row {
    paper_kit *kit;
    const window *w;
    const char *name, *place;
    mark *marks;
    uint32_t count;
    int lane_ends[LANES_MAX];
    uint32_t lanes;
} row;

static void draw_mark(paper_kit *kit, const mark *m) {
    const int top = (int)m->lane * LANE_PX + 3, width = m->right - m->left;
    if (m->is_flame) {
        paper_draw_wedge(kit, m->left, top, width, LANE_PX - 4);
        return;
    }
    paper_draw_text(kit, PAPER_TEXT, m->figure_left, top + 13, 2 * LANE_PX, false, m->figure);
    paper_draw_box(kit, m->left, top + 15, width, BAR_PX, m->is_filled, 2);
}

static void draw_row(row *r) {
    if (r->count == 0)
        return;
    const int height = (int)r->lanes * LANE_PX + 10, least = 2 * paper_line_px(PAPER_TEXT) + 8;
    const int row_px = height > least ? height : least;
    if (paper_room_px(r->kit) < row_px) {
        paper_page_break(r->kit);
        draw_axis(r->kit, r->w);
    }
    sm_text label = {0};
    sm_text_printf(&label, "%s, %u times seen", r->name, r->count);
    paper_draw_begin(r->kit, PAPER_LONG_PX, row_px, sm_text_get(&label));
    paper_text_done(r->kit, &label);
    draw_grid(r->kit, r->w, row_px, false);
    paper_draw_text(r->kit, PAPER_NAME, 0, 20, LABEL_PX - 6, false, r->name);
    paper_draw_text(r->kit, PAPER_TEXT, 0, 38, LABEL_PX - 6, false, r->place);
    for (uint32_t i = 0; i < r->count; i++)
        draw_mark(r->kit, &r->marks[i]);
    paper_draw_line(r->kit, 0, row_px - 1, PAPER_LONG_PX, row_px - 1, 2);
    paper_draw_end(r->kit);
    r->count = r->lanes = 0;
}

// The first lane in which M touches nothing; a new row where all are taken.
static void add_mark(row *r, mark m) {
    const int figure_px = paper_width_px(PAPER_TEXT, m.figure, strlen(m.figure));
    m.figure_left = m.left + figure_px > PAPER_LONG_PX ? PAPER_LONG_PX - figure_px : m.left;
    const int end = m.figure_left + figure_px > m.right ? m.figure_left + figure_px : m.right;
    uint32_t lane = 0;
    while (lane < r->lanes && r->lane_ends[lane] + 2 > m.figure_left)
        lane++;
    if (lane == LANES_MAX) {
        draw_row(r);
        lane = 0;
    }
    if (lane == r->lanes)
        r->lanes++;
    r->lane_ends[lane] = end;
    m.lane = lane;
    r->marks[r->count++] = m;
}

static mark mark_of(const window *w, sm_us begin_us, sm_us end_us) {
    mark m = {.left = x_of(w, begin_us), .right = x_of(w, end_us)};
    if (m.left > PAPER_LONG_PX - BAR_LEAST_PX)
        m.left = PAPER_LONG_PX - BAR_LEAST_PX;
    if (m.right < m.left + BAR_LEAST_PX)
        m.right = m.left + BAR_LEAST_PX;
    return m;
}

// ---- rails and flame units ---------------------------------------------------------------------

// Firings of the show by the moment at which they are seen: rows of show->firings.
static int compare_seen(const void *left, const void *right, void *context) {
    const sm_show *show = context;
    const sm_firing *a = &show->firings[*(const uint32_t *)left],
                    *b = &show->firings[*(const uint32_t *)right];
    const uint32_t rail_a = show->slot_rails[a->slot], rail_b = show->slot_rails[b->slot];
    if (rail_a != rail_b)
        return rail_a < rail_b ? -1 : 1;
    const sm_us seen_a = a->fire_us + a->lead_us, seen_b = b->fire_us + b->lead_us;
    if (seen_a != seen_b)
        return seen_a < seen_b ? -1 : 1;
    return *(const uint32_t *)left < *(const uint32_t *)right ? -1 : 1;
}

static const char *position_name(const sm_show *show, uint32_t position) {
    return position == SM_NONE ? "" : show->positions[position].name;
}

static void add_firing(row *r, const sm_show *show, const sm_firing *firing) {
    const sm_us seen_us = firing->fire_us + firing->lead_us;
    if (!is_seen_in(r->w, seen_us, seen_us + firing->lasts_us))
        return;
    const sm_rail *rail = &show->rails[show->slot_rails[firing->slot]];
    mark m = mark_of(r->w, seen_us, seen_us + firing->lasts_us);
    snprintf(m.figure, sizeof m.figure, "%02u", firing->slot - rail->slot_base + 1);
    m.is_filled = show->effects[firing->effect].zone == SM_ZONE_AERIAL;
    add_mark(r, m);
}

static void draw_rails(row *r, const paper_facts *facts, const uint32_t *seen) {
    const sm_show *show = facts->show;
    for (uint32_t i = 0; i < show->firing_count;) {
        const uint32_t number = show->slot_rails[show->firings[seen[i]].slot];
        r->name = show->rails[number].name;
        r->place = position_name(show, show->rails[number].position);
        for (; i < show->firing_count && show->slot_rails[show->firings[seen[i]].slot] == number; i++)
            add_firing(r, show, &show->firings[seen[i]]);
        draw_row(r);
    }
}

static void draw_flames(row *r, const paper_facts *facts) {
    const sm_show *show = facts->show;
    for (uint32_t u = 0; u < facts->summary->unit_count; u++) {
        const sm_check_unit *unit = &facts->summary->units[u];
        r->name = unit->name;
        r->place = position_name(show, show->fixtures[unit->fixture].position);
        for (uint32_t b = 0; b < unit->burn_count; b++) {
            const sm_check_burn *burn = &unit->burns[b];
            if (!is_seen_in(r->w, burn->begin_us, burn->end_us))
                continue;
            mark m = mark_of(r->w, burn->begin_us, burn->end_us);
            m.is_flame = true;
            add_mark(r, m);
        }
        draw_row(r);
    }
}

// Whole fives of seconds, as few windows as go.
static window first_window(sm_us length_us, uint32_t *count) {
    const sm_us step = GRID_S * SM_US_PER_S, length = length_us > step ? length_us : step;
    *count = (uint32_t)((length + WINDOW_MOST_US - 1) / WINDOW_MOST_US);
    return (window){0, (length / *count + step) / step * step};
}

static uint32_t most_marks(const paper_facts *facts) {
    uint32_t most = facts->show->firing_count;
    for (uint32_t u = 0; u < facts->summary->unit_count; u++)
        most = facts->summary->units[u].burn_count > most ? facts->summary->units[u].burn_count : most;
    return most;
}

void paper_make_time(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    const sm_show *show = facts->show;
    uint32_t count;
    window w = first_window(show->length_us, &count);
    uint32_t *seen = sm_arena_alloc(facts->arena, ((size_t)show->firing_count + 1) * sizeof *seen);
    row r = {.kit = kit, .w = &w};
    r.marks = sm_arena_alloc(facts->arena, ((size_t)most_marks(facts) + 1) * sizeof *r.marks);
    (void)index;
    if (!seen || !r.marks) {
        kit->failed = true;
        return;
    }
    for (uint32_t i = 0; i < show->firing_count; i++)
        seen[i] = i;
    qsort_r(seen, show->firing_count, sizeof *seen, compare_seen, (void *)(uintptr_t)show);
    paper_subject(kit, "what is seen when, by place");
    paper_paragraph(
        kit, PAPER_TEXT,
        "White bar: ground, near or not told. Black bar: aerial. Wedge: flame. Figure: slot. A bar ends "
        "when it should be out: what burns longer is reported.");
    for (uint32_t i = 0; i < count; i++, w.begin_us += w.length_us) {
        if (i > 0)
            paper_page_break(kit);
        draw_axis(kit, &w);
        draw_rails(&r, facts, seen);
        draw_flames(&r, facts);
    }
}
