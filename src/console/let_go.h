// SPDX-License-Identifier: GPL-3.0-or-later
// Letting go of what is held back: NAME was typed in full, and what then fires again is read back before it is done.
#ifndef SLOWMATCH_CONSOLE_LET_GO_H
#define SLOWMATCH_CONSOLE_LET_GO_H

#include "console/ui.h"

void sm_ui_let_go(sm_ui *ui, const char *name);

#endif
