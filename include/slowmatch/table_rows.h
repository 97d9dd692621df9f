// SPDX-License-Identifier: GPL-3.0-or-later
// The rows of a table as texts, for those that hold two tables against each other.
#ifndef SLOWMATCH_TABLE_ROWS_H
#define SLOWMATCH_TABLE_ROWS_H

#include "slowmatch/show.h"

// By the columns of the schema; the default where a cell is empty or not there.
typedef struct sm_table_row {
    uint32_t line;
    const char **cells;    // as written
    const char **meanings; // equal where the values are: "0:04.0" and "4", "A-5" and "A-05", "50%" and "128"
} sm_table_row;

// Reads the table NUMBER of the schema from SHOW's folder; of show.ini one row of all keys. A file that is not there has no rows. Rows
// lie in ARENA. SM_INVALID: it cannot be read as a table; SM_UNREADABLE (errno); SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_table_rows(const sm_show *show, size_t number, sm_arena *arena,
                                      sm_table_row **rows, size_t *count);

#endif
