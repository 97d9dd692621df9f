// SPDX-License-Identifier: GPL-3.0-or-later
// A line of text is typed. What it is for is one const struct, so that this mode knows none of those who ask.
#ifndef SLOWMATCH_CONSOLE_MODES_TYPING_H
#define SLOWMATCH_CONSOLE_MODES_TYPING_H

#include "console/ui.h"

typedef struct sm_asked {
    bool completes; // the line is an action, or the arguments of the action `asking`
    bool paths;     // the line is the path of a file
    bool recalls;   // the lines before come back by Up and Down
    // Enter: takes the prompt's text. What has to be mended is left as it is, and said; else the mode is another one then.
    void (*typed)(sm_ui *ui);
    // Drawn in place of the boards meanwhile; NULL: they stay.
    void (*draw)(const sm_view *view, sm_area area);
} sm_asked;

// Asks for a line. ASKING: the action whose arguments it is, SM_ACT_COUNT: none.
void sm_ui_ask(sm_ui *ui, const sm_asked *asked, sm_act asking, const char *label, const char *initial);
// Looks anew at what is typed may go on with.
void sm_ui_ask_look(sm_ui *ui);

// Leaves the line that is typed, which does ACT. Where what is said next BEGINS so (static), it is asked for again.
void sm_ui_keep_typed(sm_ui *ui, sm_act act, const char *begins);
// Leaves the line that is typed and does LINE, which is ACT.
void sm_ui_give(sm_ui *ui, sm_act act, const char *line);
// A path is typed whose names are not there yet.
bool sm_ui_awaits_names(const sm_ui *ui);
// SAYS was said of a refusal: where it is of the line that was given last, that is asked for again, with all that was typed.
void sm_ui_refused(sm_ui *ui, const char *says);
// Other words may help where ACT was refused, so that its line stays. They do not where the field refuses a clear; and while the module is
// not safe, the next key may be a hold, which must not be typed into a line.
bool sm_ui_can_mend(const sm_ui *ui, sm_act act);

#endif
