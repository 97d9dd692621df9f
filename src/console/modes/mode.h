// SPDX-License-Identifier: GPL-3.0-or-later
// What keys and the mouse mean at the moment, and what is shown for it. A mode is one const table, and one file.
#ifndef SLOWMATCH_CONSOLE_MODES_MODE_H
#define SLOWMATCH_CONSOLE_MODES_MODE_H

#include "console/ui.h"

// NULL for a callback: the mode has nothing to do then.
typedef struct sm_mode {
    bool asks;  // something is asked, which a make safe ends; and a click, where no text is typed
    bool types; // characters are text: only SM_KEY_STOP_TYPING makes safe
    void (*press)(sm_ui *ui, int key);
    // HIT is what lies under the mouse. False: it was not for this mode.
    bool (*point)(sm_ui *ui, sm_hit hit, sm_mouse mouse);
    // Draws in place of the boards. False: it has nothing to draw there.
    bool (*draw)(sm_ui *ui, sm_area area);
    // What is asked, for a message's row of COLUMNS; appended to OUT.
    void (*question)(const sm_ui *ui, int columns, sm_text *out);
    // Draws the keys that can be pressed, from column X on.
    void (*keys)(sm_ui *ui, sm_area row, int x);
} sm_mode;

extern const sm_mode sm_mode_first, sm_mode_board, sm_mode_prompt, sm_mode_confirm, sm_mode_inhibit,
    sm_mode_help, sm_mode_alerts, sm_mode_tune, sm_mode_apply;

#define SM_WHEEL_STEPS 3 // rows, by one step of the mouse's wheel

#endif
