// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/boards.h"

#include <assert.h>
#include <string.h>

static const sm_board *const boards[] = {
    [SM_BOARD_SCORE] = &sm_board_score,       [SM_BOARD_RAILS] = &sm_board_rails,
    [SM_BOARD_FIXTURES] = &sm_board_fixtures, [SM_BOARD_GUARDS] = &sm_board_guards,
    [SM_BOARD_AFTER] = &sm_board_after,       [SM_BOARD_NOTES] = &sm_board_notes,
    [SM_BOARD_LOG] = &sm_board_log,           [SM_BOARD_GROUND] = &sm_board_ground,
    [SM_BOARD_DEBRIEF] = &sm_board_debrief,   [SM_BOARD_WALK] = &sm_board_walk,
};
static_assert(sizeof boards / sizeof boards[0] == SM_BOARDS, "a board for each number");

const sm_board *sm_board_at(size_t number) {
    assert(number < SM_BOARDS);
    return boards[number];
}

size_t sm_board_named(const char *name) {
    size_t i = 0;
    while (i < SM_BOARDS && strcmp(boards[i]->name, name) != 0)
        i++;
    return i;
}

bool sm_board_is_offered(const sm_board *board, const sm_view *view) {
    return !board->drill_only || (view->drill && view->drill->over) || (view->following && view->debrief);
}
