// SPDX-License-Identifier: GPL-3.0-or-later
// What the files of the rails share: the field of a slot (slot_field.c), the layout (layout.c), the list of what is wrong (wrong.c).
#ifndef SLOWMATCH_BOARDS_RAILS_RAILS_H
#define SLOWMATCH_BOARDS_RAILS_RAILS_H

#include "boards/view.h"

// What matters most about a slot, in at most five columns.
typedef struct sm_rails_field {
    char text[24];
    sm_look look;
} sm_rails_field;
sm_rails_field sm_rails_field_of(const sm_snapshot *snapshot, uint32_t slot);

#define SM_RAILS_FIELD 6 // columns of a slot's field
#define SM_RAILS_LABEL 5 // columns of "  13 " before a row of fields
// The most fields that stand abreast in COLUMNS, at least one.
int sm_rails_fields_that_fit(int columns);
// FIT, below, is that number; 0 until the board has been drawn once, since keys can come before that.
// Rows of fields that RAIL takes; fields in each of them, so that they are about equally long.
int sm_rails_rows_of(const sm_rail *rail, int fit);
int sm_rails_per_row(const sm_rail *rail, int fit);
// Rows of the screen that all rails take, NUMBERS: with a row of slot numbers above each row of fields.
int sm_rails_rows_needed(const sm_show *show, int fit, bool numbers);
// The slots of the longest rail, where every rail has one row of fields; 0 where one has more.
int sm_rails_slots_abreast(const sm_show *show, int fit);

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
