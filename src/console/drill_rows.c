// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/drill_rows.h"

#include "boards/words/planted.h"
#include "console/call_row.h"
#include "console/keymap.h"

#include "slowmatch/time_of_day.h"

#include <stdio.h>
#include <string.h>

// The key for ACT before what is said about it: a newcomer knows no keys.
static void add_key(sm_act act, sm_text *out) {
    char name[16];
    if (sm_keymap_key_of(act, name))
        sm_text_printf(out, "[%s] ", name);
}

// What was said when the hint was asked for is still what it would say: a hint of before a warning sends people where they must not go.
static bool hint_stands(const sm_drill_view *view, sm_us now_us) {
    const size_t length = strlen(view->asked); // it may have been cut
    return length > 0 && now_us - view->asked_at.us < 15 * SM_US_PER_S &&
           strncmp(view->hint, view->asked, length) == 0;
}

static void add_next(const sm_drill_view *view, sm_us now_us, sm_text *out) {
    if (view->broken_off)
        sm_text_printf(out, "NO DRILL: a real emergency. This rehearsal is over.");
    else if (view->held)
        sm_text_printf(out, "%s", view->hint);
    else if (view->drill->hints == SM_HINTS_FULL) {
        add_key(view->next, out);
        sm_text_printf(out, "%s", view->hint);
    } else if (hint_stands(view, now_us))
        sm_text_printf(out, "hint: %s", view->asked);
    else if (view->drill->hints == SM_HINTS_ASKED)
        sm_text_printf(out, "H asks what is next, y answers a call, ? has the brief");
    else
        sm_text_printf(out, "An assessment: no hints; y answers a call, ? has the brief");
}

int sm_drill_rows_count(const sm_drill_view *view, int columns) {
    if (view->over && !view->broken_off)
        return 1;
    return columns < 60 ? 4 : columns < 130 ? 3 : 2;
}

// True when the row above this one says the whole of it.
static bool said_above(const sm_snapshot *snapshot, int columns) {
    const sm_incidents *incidents = &snapshot->incidents;
    char call[sizeof incidents->call_who + sizeof incidents->call_text + 2];
    snprintf(call, sizeof call, "%s: %s", incidents->call_who, incidents->call_text);
    return incidents->latest_at.us == incidents->call_at.us && strcmp(incidents->latest, call) == 0 &&
           sm_call_fits(snapshot, columns);
}

static void draw_seen(const sm_drill_view *view, const sm_snapshot *snapshot, sm_area area) {
    const sm_incidents *incidents = &snapshot->incidents;
    bool repeats = said_above(snapshot, area.columns), seen = incidents->latest_at.us != SM_UNSET_US;
    sm_text text = {0}, older = {0};
    char age[24];
    int x = 1 + sm_area_printf(area, 1, 0, SM_LOOK_HEADING, "DRILL%s%s", seen && !repeats ? "" : " ",
                               seen && !repeats ? "" : view->drill->title);
    if (seen && !repeats)
        sm_text_printf(&text, "%s (%s ago)", incidents->latest,
                       sm_age_format(snapshot->wall.us - incidents->latest_at.us, age));
    if (seen && sm_planted_describe_older(snapshot, &older))
        sm_text_printf(&text, "%sstill: %s", repeats ? "" : " · ", sm_text_get(&older));
    sm_area_field(area, x + 1, 0, area.columns - x - 2, SM_LOOK_WARN, sm_text_get(&text));
    sm_text_deinit(&older);
    sm_text_deinit(&text);
}

void sm_drill_rows_draw(const sm_drill_view *view, const sm_snapshot *snapshot, sm_area area) {
    if (view->over && !view->broken_off) {
        sm_area_field(area, 1, 0, area.columns - 2, SM_LOOK_HEADING, "DRILL OVER: F11 debrief, q leaves");
        return;
    }
    sm_text text = {0};
    draw_seen(view, snapshot, area);
    add_next(view, snapshot->wall.us, &text);
    if (view->marked[0] != '\0' && view->drill->hints == SM_HINTS_FULL && !view->over &&
        snapshot->wall.us - view->marked_at.us < 6 * SM_US_PER_S)
        sm_text_printf(&text, "  (%s)", view->marked);
    sm_area_wrap_cut(sm_area_part(area, 1, 1, area.columns - 2, area.rows - 1), 2, SM_LOOK_NOW,
                     sm_text_get(&text));
    sm_text_deinit(&text);
}

// From row TOP on; returns the rows taken.
static int draw_brief(const sm_drill *drill, sm_area part, int top) {
    char title[160];
    snprintf(title, sizeof title, "%s, as %s", drill->title, sm_drill_seat_text(drill->seat));
    int y = top + sm_area_wrap(part, top, 0, SM_LOOK_TITLE, title);
    for (uint32_t i = 0; i < drill->brief_count; i++)
        y += sm_area_wrap(part, y, 0, SM_LOOK_PLAIN, drill->briefs[i]);
    return y + sm_area_wrap(part, y, 0, SM_LOOK_DIM, sm_drill_caution()) - top;
}

// Where it does not all fit: what the trainee is told, as far as it goes.
static void draw_brief_cut(const sm_drill *drill, sm_area part) {
    sm_text text = {0};
    sm_text_printf(&text, "%s, as %s.", drill->title, sm_drill_seat_text(drill->seat));
    for (uint32_t i = 0; i < drill->brief_count; i++)
        sm_text_printf(&text, " %s", drill->briefs[i]);
    sm_area_wrap_cut(part, 0, SM_LOOK_PLAIN, sm_text_get(&text));
    sm_text_deinit(&text);
}

int sm_drill_rows_brief(const sm_drill_view *view, sm_area area) {
    sm_area part = sm_area_part(area, 1, 0, area.columns - 2, area.rows);
    int rows = draw_brief(view->drill, sm_area_part(area, 1, area.rows, area.columns - 2, 0), 0);
    if (rows <= area.rows)
        return draw_brief(view->drill, part, 0) + (area.rows > rows + 2);
    draw_brief_cut(view->drill, part);
    return area.rows;
}

int sm_drill_rows_help(const sm_drill_view *view, sm_area area, int y) {
    return draw_brief(view->drill, area, y);
}
