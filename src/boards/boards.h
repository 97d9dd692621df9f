// SPDX-License-Identifier: GPL-3.0-or-later
// The one table of boards. No board refers to it.
#ifndef SLOWMATCH_BOARDS_BOARDS_H
#define SLOWMATCH_BOARDS_BOARDS_H

#include "boards/view.h"

// In the order of their keys, as they stand among the tabs.
typedef enum sm_board_number {
    SM_BOARD_SCORE,
    SM_BOARD_RAILS,
    SM_BOARD_FIXTURES,
    SM_BOARD_GUARDS,
    SM_BOARD_AFTER,
    SM_BOARD_NOTES,
    SM_BOARD_LOG,
    SM_BOARD_GROUND,
    SM_BOARD_DEBRIEF,
    SM_BOARD_WALK,
    SM_BOARDS
} sm_board_number;

const sm_board *sm_board_at(size_t number);
// SM_BOARDS: none is called NAME.
size_t sm_board_named(const char *name);
// It stands among the others, and Tab comes by it.
bool sm_board_is_offered(const sm_board *board, const sm_view *view);

#endif
