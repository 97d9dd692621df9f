// SPDX-License-Identifier: GPL-3.0-or-later
// Holding back in two keys: the second says what.
#ifndef SLOWMATCH_CONSOLE_MODES_HOLD_BACK_H
#define SLOWMATCH_CONSOLE_MODES_HOLD_BACK_H

#include "console/ui.h"

void sm_ui_ask_inhibit(sm_ui *ui);

#endif
