// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_CONSOLE_MODES_TUNE_H
#define SLOWMATCH_CONSOLE_MODES_TUNE_H

#include "console/ui.h"

// Begins to put the time of a cue right: the one chosen on the board, else the one that comes next.
void sm_ui_tune(sm_ui *ui);
// The accent that was looked for may be there.
void sm_ui_tune_look(sm_ui *ui);
// Listens to that cue, or no more.
void sm_ui_listen(sm_ui *ui);

#endif
