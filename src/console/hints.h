// SPDX-License-Identifier: GPL-3.0-or-later
// What the row of keys is made of.
#ifndef SLOWMATCH_CONSOLE_HINTS_H
#define SLOWMATCH_CONSOLE_HINTS_H

#include "screen/cells.h"

// Draws the name of KEY and WORD at column X, whole or not at all; returns the column behind it.
int sm_hint_draw(sm_area area, int x, int key, const char *word);

#endif
