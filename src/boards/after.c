// SPDX-License-Identifier: GPL-3.0-or-later
// After the show, or after a make safe: what misfired, what was passed over, the wait, and what comes next.
#include "boards/view.h"
#include "boards/words/state_line.h"
#include "screen/scroller.h"

#include <stdio.h>

static int draw_slot(const sm_view *view, sm_area area, int y, uint32_t slot) {
    const sm_slot_view *state = &view->snapshot->slots[slot];
    uint32_t firing = view->show->slot_firings[slot];
    char name[48];
    sm_area_text(area, 3, y, SM_LOOK_WARN, sm_slot_format(view->show, slot, name));
    int x = 14;
    if (firing != SM_NONE) {
        const sm_firing *row = &view->show->firings[firing];
        char id[12];
        sm_area_field(area, x, y, 18, SM_LOOK_PLAIN, view->show->effects[row->effect].name);
        sm_area_printf(area, x + 19, y, SM_LOOK_DIM, "cue %s",
                       sm_cue_id(view->show, view->show->events[row->event].cue, id));
    }
    uint32_t position = view->show->rails[view->show->slot_rails[slot]].position;
    if (position != SM_NONE)
        sm_area_field(area, x + 30, y, 16, SM_LOOK_DIM, view->show->positions[position].name);
    if (state->phase == SM_SLOT_MISFIRED) {
        sm_area_text(area, area.columns >= 74 ? x + 47 : x + 30, y,
                     state->reported ? SM_LOOK_PLAIN : SM_LOOK_WARN,
                     state->reported ? "reported" : "NOT REPORTED");
    }
    return 1;
}

static int draw_slots(const sm_view *view, sm_area area, int y, sm_slot_phase phase, sm_slot_phase or_phase,
                      const char *heading) {
    int rows = 0;
    uint32_t count = 0;
    for (uint32_t slot = 0; slot < view->show->slot_count; slot++) {
        sm_slot_phase is = view->snapshot->slots[slot].phase;
        count += is == phase || is == or_phase;
    }
    bool lost = view->snapshot->incidents.link_lost;
    sm_area_printf(area, 1, y + rows, count || lost ? SM_LOOK_WARN : SM_LOOK_DIM, "%s: %s%u%s", heading,
                   lost ? "NOT KNOWN, last known " : "", count, count ? " LIVE" : "");
    rows++;
    for (uint32_t slot = 0; slot < view->show->slot_count; slot++) {
        sm_slot_phase is = view->snapshot->slots[slot].phase;
        if (is == phase || is == or_phase)
            rows += draw_slot(view, area, y + rows, slot);
    }
    return rows;
}

// GONE: something fired or misfired. Else there is nothing to search for.
static int draw_next(const sm_view *view, sm_area area, int y, bool gone) {
    const sm_snapshot *now = view->snapshot;
    const bool search = now->misfired + now->passed > 0 && (gone || now->incidents.link_lost);
    const bool lost = now->incidents.link_lost, told = view->following; // no key of it is here
    const char *const live[] = {
        lost ? "all stay out: nothing is known of the module, TREAT AS ARMED" : "",
        now->state == SM_STATE_SAFE || lost ? ""
        : told                              ? "make safe"
                                            : "make safe (SPACE)",
        !now->key ? ""
        : told    ? "key off, out and in the pocket"
                  : "key off (k), out and in the pocket",
        sm_snapshot_unreported(now) == 0 ? ""
        : told                           ? "report each misfire by slot, heard back"
                                         : "report each misfire by slot (x), heard back",
        search ? "all stay out; isolate the whole rail at the module end before anyone walks" : "",
        search ? "then the licensed operator alone, a second person watching; never a second try" : "",
    };
    int rows = 0, number = 0;
    for (size_t i = 0; i < sizeof live / sizeof live[0]; i++) {
        if (live[i][0]) {
            sm_text text = {0};
            sm_text_printf(&text, "%d  %s", ++number, live[i]);
            rows += sm_area_wrap(sm_area_part(area, 1, 0, area.columns - 1, area.rows), y + rows, 3,
                                 SM_LOOK_PLAIN, sm_text_get(&text));
            sm_text_deinit(&text);
        }
    }
    if (!view->drill && !lost && !told) // a drill asks for its own order, and may take marks for a re-rig
        rows += sm_area_wrap(
            sm_area_part(area, 1, 0, area.columns - 1, area.rows), y + rows, 3, SM_LOOK_DIM,
            "To rehearse again: SPACE, R re-rigs every slot (simulated), c clear, k key, a arm, b start.");
    return rows;
}

static void after_draw(void *state, const sm_view *view, sm_area area, bool focused) {
    sm_scroller *self = state;
    (void)focused;
    const sm_snapshot *now = view->snapshot;
    int y = -self->top;
    sm_text wait = {0};
    (void)sm_wait_describe(now, &wait);
    sm_area text = sm_area_part(area, 1, 0, area.columns - 1, area.rows);
    if (wait.length > 0)
        sm_text_printf(&wait, ": a clock, not a release. Local code, maker and licensed operator go first.");
    const bool lost = now->incidents.link_lost;
    if (lost) {
        char age[24] = "";
        if (now->incidents.link_at.us != SM_UNSET_US)
            sm_age_format(now->wall.us - now->incidents.link_at.us, age);
        sm_text said = {0};
        sm_text_printf(&said, "LINK LOST%s%s: what fired or misfired since is NOT KNOWN.",
                       age[0] ? " for " : "", age);
        y += sm_area_wrap(text, y, 2, SM_LOOK_WARN, sm_text_get(&said));
        sm_text_deinit(&said);
    }
    const char *none = lost ? "not known whether anything has fired" : "nothing has fired yet";
    y += sm_area_wrap(text, y, 2, SM_LOOK_NOW, wait.length ? sm_text_get(&wait) : none);
    sm_text_deinit(&wait);
    uint32_t spent = 0, waiting = 0;
    for (uint32_t slot = 0; slot < view->show->slot_count; slot++) {
        spent += now->slots[slot].phase == SM_SLOT_SPENT || now->slots[slot].phase == SM_SLOT_BURNING ||
                 now->slots[slot].phase == SM_SLOT_FLYING;
        waiting += now->slots[slot].phase == SM_SLOT_WAITING;
    }
    sm_area_printf(area, 1, y++, SM_LOOK_PLAIN, "%sfired %u, burning %u, not reached %u",
                   lost ? "last known: " : "", spent, now->burning_count, waiting);
    y += draw_slots(view, area, y, SM_SLOT_MISFIRED, SM_SLOT_MISFIRED, "misfired");
    y += draw_next(view, area, y, spent + now->misfired > 0);
    y += draw_slots(view, area, y, SM_SLOT_PASSED, SM_SLOT_HELD, "passed over or held back");
    sm_scroller_drawn_in(self, y, area);
}

static unsigned after_press(void *state, const sm_view *view, int key, sm_request *request) {
    (void)view;
    (void)request;
    return sm_scroller_press(state, key) ? SM_NEXT_REDRAW : SM_NEXT_UNUSED;
}

static void after_suggest(void *state, const sm_view *view, sm_argument argument, sm_text *out) {
    (void)state;
    for (uint32_t slot = 0; argument == SM_ARG_SLOT && slot < view->show->slot_count; slot++) {
        const sm_slot_view *is = &view->snapshot->slots[slot];
        if (is->phase == SM_SLOT_MISFIRED && !is->reported) {
            char name[48];
            sm_text_printf(out, "%s", sm_slot_format(view->show, slot, name));
            return;
        }
    }
}

const sm_board sm_board_after = {
    .name = "after",
    .key = SM_KEY_F0 + 6,
    .about = "what misfired and was passed over, the wait, what comes next",
    .state_size = sizeof(sm_scroller),
    .draw = after_draw,
    .press = after_press,
    .suggest = after_suggest,
};
