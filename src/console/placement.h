// SPDX-License-Identifier: GPL-3.0-or-later
// Which board is chosen, and which ones stand beside it on a wide terminal.
#ifndef SLOWMATCH_CONSOLE_PLACEMENT_H
#define SLOWMATCH_CONSOLE_PLACEMENT_H

#include "console/ui.h"

// Shows BOARD. One that stands beside others leaves the one to the left where it is.
void sm_ui_go_to(sm_ui *ui, size_t board);
// The same by a person's choice, which is kept.
void sm_ui_choose(sm_ui *ui, size_t board);
// STEP (1, or SM_BOARDS - 1 for back) boards on, past those that are of no use now.
void sm_ui_choose_next(sm_ui *ui, size_t step);
// The boards beside another on a wide terminal, those offered now; returns how many.
size_t sm_ui_beside(const sm_ui *ui, size_t boards[SM_BESIDE]);
// Keeps the chosen board beside others, the latest of at most SM_BESIDE; or gives it back its place to the left.
void sm_ui_step_beside(sm_ui *ui);

#endif
