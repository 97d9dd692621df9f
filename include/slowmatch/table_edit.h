// SPDX-License-Identifier: GPL-3.0-or-later
// Cells of a table changed and rows added to it, as bytes: all that was not asked for stays as the user wrote it.
#ifndef SLOWMATCH_TABLE_EDIT_H
#define SLOWMATCH_TABLE_EDIT_H

#include "slowmatch/base.h"

// TEXT in place of what the cell holds. Its quotes and the blanks round it stay.
typedef struct sm_cell_change {
    uint32_t line; // at which its record begins, from 1
    const char *column;
    const char *was; // what the cell must hold, without its quotes; NULL: anything
    const char *text;
} sm_cell_change;

typedef struct sm_table_edit {
    const sm_cell_change *changes; // in any order, each cell once
    size_t change_count;
    // Rows behind the last one: ROW_COUNT times COLUMN_COUNT texts. Columns of the table that are not named stay empty.
    const char *const *columns;
    size_t column_count;
    const char *const *cells;
    size_t row_count;
    // That of COLUMNS in which people write what they like: what looks like a formula there stays text. NULL: none.
    const char *free_text;
} sm_table_edit;

// Appends to *out what the LENGTH bytes at BYTES (a table, comments and all) become by EDIT; where there is no header yet, with one of the
// new rows' columns. SM_INVALID: the table cannot be read, or could not be afterwards; it has no such record or column; a cell does not
// hold what it must: *why says so. SM_NO_MEMORY. *out is unchanged after a failure.
SM_MUST_CHECK sm_result sm_table_edit_bytes(const char *bytes, size_t length, const sm_table_edit *edit,
                                            sm_text *out, sm_text *why);

// What the COUNT CELLS (line and column; `was` as above) of the table hold, without quotes and blanks round it: *texts, an array of
// COUNT in ARENA. Failures as above.
SM_MUST_CHECK sm_result sm_table_cells(const char *bytes, size_t length, const sm_cell_change *cells,
                                       size_t count, sm_arena *arena, const char ***texts, sm_text *why);

#endif
