// SPDX-License-Identifier: GPL-3.0-or-later
// What each row of the key table does.
#ifndef SLOWMATCH_CONSOLE_KEY_ACTS_H
#define SLOWMATCH_CONSOLE_KEY_ACTS_H

#include "console/ui.h"

// Does something on a screen that only follows: one that looks, and quit.
bool sm_key_row_is_offered(const sm_view *view, const sm_key_row *row);
void sm_ui_do_row(sm_ui *ui, const sm_key_row *row);

#endif
