// SPDX-License-Identifier: GPL-3.0-or-later
// Records of a CSV file (RFC 4180, with the deviations that slowmatch-show(5) states) and where each cell
// stands.
#ifndef SM_SHOW_CSV_H
#define SM_SHOW_CSV_H

#include "show/line_reader.h"

enum { SM_CSV_CELLS_MAX = 64 }; // more than any table has columns; cells beyond are counted, not kept

typedef struct sm_csv_cell {
    size_t at, length; // in the record's bytes, NUL-terminated there
} sm_csv_cell;

// One record, valid during the handler's call.
typedef struct sm_csv_record {
    const char *file;
    uint32_t line;   // of its beginning, from 1
    const char *raw; // as it stands in the file, line end included
    size_t raw_length;
    const char *bytes;
    const sm_csv_cell *cells;
    size_t cell_count; // may be more than SM_CSV_CELLS_MAX
    uint64_t raw_end;  // bytes of the file up to the record's end
} sm_csv_record;

// Returns false to stop reading.
typedef bool (*sm_csv_handler)(void *context, const sm_csv_record *record);

// Calls HANDLER for each record of LINES, comments included, blank lines left out. Findings (rules text and csv) go to
// FINDINGS; *dropped counts the records left out, each with a finding. SM_NO_MEMORY; SM_UNREADABLE (errno); SM_REFUSED
// when the handler stopped it.
SM_MUST_CHECK sm_result sm_csv_read(const char *file, sm_lines *lines, sm_arena *scratch,
                                    sm_findings *findings, sm_csv_handler handler, void *context,
                                    size_t *dropped);

// A record whose first cell begins with '#'.
bool sm_csv_is_comment(const sm_csv_record *record);

// A cell that is empty, or whose quotes hold nothing but blanks.
static inline bool sm_csv_is_blank(const sm_csv_record *record, size_t cell) {
    const char *const text = record->bytes + record->cells[cell].at;
    size_t at = 0;
    while (text[at] == ' ' || text[at] == '\t')
        at++;
    return at == record->cells[cell].length;
}

// Column in characters, from 1, of the first character of CELL (its opening quote where it is quoted) on its
// own line; of the record's end where it has no such cell.
uint32_t sm_csv_column(const sm_csv_record *record, size_t cell);

// Where in `raw` the text of CELL stands, without the blanks and quotes round it. True: it is quoted.
bool sm_csv_cell_text(const sm_csv_record *record, size_t cell, size_t *begin, size_t *end);

#endif
