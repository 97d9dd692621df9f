// SPDX-License-Identifier: GPL-3.0-or-later
// What the files of the rails share: the field of a slot (field.c), and the list of what is wrong (wrong.c).
#ifndef SLOWMATCH_BOARDS_RAILS_RAILS_H
#define SLOWMATCH_BOARDS_RAILS_RAILS_H

#include "boards/view.h"

// What matters most about a slot, in at most five columns.
typedef struct sm_rails_field {
    char text[24];
    sm_look look;
} sm_rails_field;
sm_rails_field sm_rails_field_of(const sm_snapshot *snapshot, uint32_t slot);

// It reads so that it refuses, or reads although no cue fires it.
bool sm_slot_reads_wrong(const sm_slot_view *slot);
// Something about SLOT wants looking after: its reading is wrong, its firing did not go or will not, it has tipped over. An
// unplugged rail is told by its first slot.
bool sm_slot_is_wrong(const sm_view *view, uint32_t slot);
// The wrong slot that is BY wrong ones after CURSOR (negative: before). For 0, CURSOR or the nearest. CURSOR where none is wrong.
uint32_t sm_rails_step_wrong(const sm_view *view, uint32_t cursor, int by);
// Draws the list from row *TOP on, which is scrolled so that CURSOR (SM_NONE: no cursor) is in sight.
void sm_rails_draw_wrong(const sm_view *view, sm_area area, uint32_t cursor, int *top);
// The slot in row Y of the list as drawn from row TOP on; SM_NONE.
uint32_t sm_rails_wrong_at(const sm_view *view, int top, int y);

#endif
