// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/view.h"

#include <assert.h>
#include <stdio.h>

const sm_board *sm_board_at(size_t index) {
    static const sm_board *const boards[SM_BOARDS] = {
        &sm_board_score, &sm_board_rails, &sm_board_fixtures, &sm_board_guards,  &sm_board_after,
        &sm_board_notes, &sm_board_log,   &sm_board_ground,   &sm_board_debrief, &sm_board_walk,
    };
    assert(index < SM_BOARDS);
    return boards[index];
}

static bool within(sm_range range, uint8_t level) {
    return level >= range.low && level <= range.high;
}

sm_flame_view sm_flame_look(const sm_snapshot *snapshot, uint32_t fixture) {
    const sm_fixture *row = &snapshot->show->fixtures[fixture];
    const sm_profile *profile = &snapshot->show->profiles[row->profile];
    if (!profile->flame)
        return (sm_flame_view){0};
    uint8_t enable = snapshot->levels[row->channel_base + profile->enable];
    uint8_t fire = snapshot->levels[row->channel_base + profile->fire];
    bool enabled = within(profile->enable_range, enable);
    bool told = enabled && within(profile->fire_range, fire);
    bool lit = told && !snapshot->fixture_dark[fixture];     // without its feed its valve is closed
    if (snapshot->flame_faults[fixture] != SM_FLAME_AS_TOLD) // a drill: it does not do what it is told
        lit = snapshot->flame_faults[fixture] == SM_FLAME_STUCK;
    return (sm_flame_view){true, enabled, lit, told, fire};
}

const char *sm_phase_word(sm_slot_phase phase) {
    static const char *const words[] = {
        [SM_SLOT_SPARE] = "spare",
        [SM_SLOT_WAITING] = "not fired",
        [SM_SLOT_FLYING] = "in flight",
        [SM_SLOT_BURNING] = "burning",
        [SM_SLOT_SPENT] = "spent",
        [SM_SLOT_MISFIRED] = "misfired: LIVE",
        [SM_SLOT_PASSED] = "passed over: LIVE",
        [SM_SLOT_HELD] = "held back: LIVE",
    };
    assert((size_t)phase < sizeof words / sizeof words[0]);
    return words[phase];
}

int sm_scroll_to(int top, int row, int count, int room) {
    if (row < top)
        top = row;
    if (row >= top + room)
        top = row - room + 1;
    if (top > count - room)
        top = count - room;
    return top < 0 ? 0 : top;
}

void sm_scroller_drawn(sm_scroller *scroller, int y, int rows) {
    scroller->needed = y + scroller->top;
    scroller->rows = rows;
    scroller->top = sm_scroll_to(scroller->top, scroller->top, scroller->needed, rows);
}

void sm_scroller_drawn_in(sm_scroller *scroller, int y, sm_area area) {
    sm_scroller_drawn(scroller, y, area.rows);
    int below = scroller->needed - scroller->top - area.rows;
    if (below > 0 && area.rows > 0) {
        char text[48];
        snprintf(text, sizeof text, "… %d more rows: Down, PageDown",
                 below + 1); // with the one this row hides
        sm_area_field(area, 0, area.rows - 1, 1, SM_LOOK_DIM, "");
        sm_area_field(area, 1, area.rows - 1, area.columns - 1, SM_LOOK_DIM, text);
    }
}

unsigned sm_scroller_press(sm_scroller *scroller, int key) {
    int by = key == SM_KEY_DOWN ? 1 : key == SM_KEY_UP ? -1 : 0;
    by += key == SM_KEY_PAGE_DOWN ? scroller->rows : key == SM_KEY_PAGE_UP ? -scroller->rows : 0;
    if (by == 0)
        return SM_NEXT_UNUSED;
    int top = scroller->top + by < 0 ? 0 : scroller->top + by;
    scroller->top = sm_scroll_to(top, top, scroller->needed, scroller->rows);
    return SM_NEXT_REDRAW;
}
