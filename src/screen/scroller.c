// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/scroller.h"

#include "screen/keys.h"

#include <stdio.h>

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

bool sm_scroller_press(sm_scroller *scroller, int key) {
    int by = key == SM_KEY_DOWN ? 1 : key == SM_KEY_UP ? -1 : 0;
    by += key == SM_KEY_PAGE_DOWN ? scroller->rows : key == SM_KEY_PAGE_UP ? -scroller->rows : 0;
    if (by == 0)
        return false;
    int top = scroller->top + by < 0 ? 0 : scroller->top + by;
    scroller->top = sm_scroll_to(top, top, scroller->needed, scroller->rows);
    return true;
}
