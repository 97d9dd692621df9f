// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/rails/rails.h"
#include "boards/words/slots_and_flames.h"
#include "screen/scroller.h"

#include <stdlib.h>
#include <string.h>

static bool is_first_of_unplugged(const sm_view *view, uint32_t slot) {
    uint32_t rail = view->show->slot_rails[slot];
    return slot == view->show->rails[rail].slot_base && !view->snapshot->rail_plugged[rail] &&
           sm_rail_in_use(view->show, rail);
}

bool sm_slot_reads_wrong(const sm_slot_view *slot) {
    return sm_verdict_refuses(slot->verdict) || slot->verdict == SM_VERDICT_STRAY;
}

bool sm_slot_is_wrong(const sm_view *view, uint32_t slot) {
    const sm_slot_view *at = &view->snapshot->slots[slot];
    return sm_slot_reads_wrong(at) || sm_slot_is_left_live(at->phase) || at->inhibited || at->tipped ||
           is_first_of_unplugged(view, slot);
}

uint32_t sm_rails_step_wrong(const sm_view *view, uint32_t cursor, int by) {
    int64_t count = view->show->slot_count, step = by < 0 ? -1 : 1;
    uint32_t found = cursor;
    int left = abs(by);
    bool on_one = cursor < count && sm_slot_is_wrong(view, cursor);
    if (by == 0 && on_one)
        return cursor;
    for (int64_t slot = cursor + step; slot >= 0 && slot < count && left >= 0; slot += step) {
        if (sm_slot_is_wrong(view, (uint32_t)slot)) {
            found = (uint32_t)slot;
            on_one = true;
            if (--left <= 0)
                return found;
        }
    }
    return on_one || by < 0 ? found
                            : sm_rails_step_wrong(view, cursor, -1); // behind the last one: the last one
}

static void add_part(sm_text *out, size_t from, const char *text) {
    sm_text_printf(out, "%s%s", out->length > from ? ", " : "", text);
}

// "UNPLUGGED rail, misfired: LIVE not reported, reads open, inhibited"
static void add_words(const sm_view *view, uint32_t slot, sm_text *out) {
    const sm_slot_view *at = &view->snapshot->slots[slot];
    size_t from = out->length;
    if (is_first_of_unplugged(view, slot))
        add_part(out, from, "the whole rail is UNPLUGGED");
    if (sm_slot_is_left_live(at->phase)) {
        add_part(out, from, sm_slot_phase_word(at->phase));
        if (at->phase == SM_SLOT_MISFIRED)
            sm_text_printf(out, at->reported ? " (reported)" : " NOT REPORTED");
    }
    if (at->tipped)
        add_part(out, from, "TIPPED OVER");
    if (sm_slot_reads_wrong(at)) {
        char ohms[24];
        const char *verdict = sm_verdict_text(at->verdict);
        sm_read_value_format(ohms, at->reading);
        add_part(out, from, "reads ");
        sm_text_printf(out, "%s%s%s", ohms, strcmp(ohms, verdict) ? ": " : "",
                       strcmp(ohms, verdict) ? verdict : "");
    }
    if (at->inhibited)
        add_part(out, from, "INHIBITED");
}

static void draw_slot(const sm_view *view, sm_area area, int y, uint32_t slot, bool here) {
    const sm_show *show = view->show;
    char name[48], id[12], clock[24];
    sm_area_field(area, 1, y, 9, here ? SM_LOOK_SELECTED : SM_LOOK_TITLE, sm_slot_format(show, slot, name));
    sm_text text = {0};
    add_words(view, slot, &text);
    const sm_slot_view *at = &view->snapshot->slots[slot];
    uint32_t firing = show->slot_firings[slot];
    if (firing != SM_NONE &&
        (sm_slot_reads_wrong(at) || sm_slot_is_left_live(at->phase) || at->inhibited || at->tipped)) {
        const sm_firing *row = &show->firings[firing];
        sm_text_printf(&text, " · cue %s %s at %s", sm_cue_id(show, show->events[row->event].cue, id),
                       show->effects[row->effect].name, sm_clock_format(clock, row->fire_us));
    }
    sm_area_field(area, 11, y, area.columns - 12, SM_LOOK_WARN, sm_text_get(&text));
    sm_text_deinit(&text);
}

typedef struct counts {
    int wrong, before_cursor;
    uint32_t programmed, unread;
} counts;

static counts count_slots(const sm_view *view, uint32_t cursor) {
    counts c = {0};
    for (uint32_t slot = 0; slot < view->show->slot_count; slot++) {
        c.wrong += sm_slot_is_wrong(view, slot);
        c.before_cursor += slot < cursor && sm_slot_is_wrong(view, slot);
        bool programmed = view->show->slot_firings[slot] != SM_NONE;
        c.programmed += programmed;
        c.unread += programmed && view->snapshot->slots[slot].reading.kind == SM_READ_NOTHING;
    }
    return c;
}

void sm_rails_draw_wrong(const sm_view *view, sm_area area, uint32_t cursor, int *top) {
    counts c = count_slots(view, cursor == SM_NONE ? 0 : cursor);
    sm_text said = {0};
    if (c.wrong == 0) {
        sm_text_printf(
            &said,
            "Nothing wrong is known of %u programmed slots, %u of them unread. That is no statement "
            "that they fire. O shows all slots.",
            c.programmed, c.unread);
        sm_area_wrap_cut(sm_area_part(area, 1, 0, area.columns - 2, area.rows), 0, SM_LOOK_PLAIN,
                         sm_text_get(&said));
        sm_text_deinit(&said);
        return;
    }
    sm_text_printf(&said, "ONLY WHAT IS WRONG: %d of %u slots, %u unread; O shows all", c.wrong,
                   view->show->slot_count, c.unread);
    sm_area_field(area, 1, 0, area.columns - 2, SM_LOOK_NOW, sm_text_get(&said));
    sm_text_deinit(&said);
    int room = area.rows - 1;
    *top = sm_scroll_to(*top, cursor == SM_NONE ? *top : c.before_cursor, c.wrong, room);
    int row = -*top;
    for (uint32_t slot = 0; slot < view->show->slot_count && row < room; slot++) {
        if (sm_slot_is_wrong(view, slot)) {
            if (row >= 0)
                draw_slot(view, area, 1 + row, slot, slot == cursor);
            row++;
        }
    }
}

uint32_t sm_rails_wrong_at(const sm_view *view, int top, int y) {
    int row = -top - (y - 1);
    for (uint32_t slot = 0; slot < view->show->slot_count && y > 0; slot++)
        if (sm_slot_is_wrong(view, slot) && row++ == 0)
            return slot;
    return SM_NONE;
}
