// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_CONSOLE_MODES_APPLY_H
#define SLOWMATCH_CONSOLE_MODES_APPLY_H

#include "console/ui.h"

// Asks whether what is proposed is to be written, and shows what that changes.
void sm_ui_ask_apply(sm_ui *ui);

#endif
