// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/modes/scrolled.h"

void sm_scrolled_press(sm_ui *ui, int key) {
    if (!sm_scroller_press(&ui->help, key))
        ui->mode = SM_UI_BOARD;
}

// The wheel scrolls; a click leaves, and is for what lies under it.
bool sm_scrolled_point(sm_ui *ui, sm_hit hit, sm_mouse mouse) {
    (void)hit;
    if (mouse.what == SM_MOUSE_CLICK) {
        ui->mode = SM_UI_BOARD;
        return false;
    }
    for (int i = 0; i < SM_WHEEL_STEPS; i++)
        sm_scroller_press(&ui->help, mouse.what == SM_MOUSE_WHEEL_UP ? SM_KEY_UP : SM_KEY_DOWN);
    return true;
}

void sm_scrolled_keys(sm_ui *ui, sm_area row, int x) {
    (void)ui;
    sm_area_text(row, x, 0, SM_LOOK_PLAIN,
                 row.columns < 60 ? "Up Down scroll" : "Up Down scroll, any other key leaves");
}
