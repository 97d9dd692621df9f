// SPDX-License-Identifier: GPL-3.0-or-later
// Tables written as CSV, .xlsx and .ods, without any code of the import.
#ifndef TESTS_SHEET_FILE_H
#define TESTS_SHEET_FILE_H

#include "slowmatch/base.h"

enum { SHEET_COLUMNS = 16, SHEET_CELL_BYTES = 160 };

typedef struct sheet_cell {
    char
        kind; // 't' text, 'n' a number, 'd' a time: its text is H:MM:SS.ffffff, stored as a spreadsheet's own time
    char text[SHEET_CELL_BYTES];
} sheet_cell;

typedef struct sheet_table {
    sheet_cell (*rows)[SHEET_COLUMNS];
    size_t count, capacity;
    size_t columns;
} sheet_table;

// A new empty row.
sheet_cell *sheet_table_add(sheet_table *table);
void sheet_table_deinit(sheet_table *table);

// CSV in UTF-8; `encode` turns it into another encoding that iconv knows. The caller frees the bytes.
void sheet_write_csv(const sheet_table *table, char separator, const char *line_end, sm_text *out);
char *sheet_encode(const sm_text *text, const char *encoding, bool with_mark, size_t *length);
char *sheet_write_xlsx(const sheet_table *table, bool shares_texts, size_t *length);
char *sheet_write_ods(const sheet_table *table, size_t *length);

// An archive of COUNT files: names and texts in turn. The caller frees it.
char *sheet_zip(const char *const *names, const char *const *texts, size_t count, size_t *length);

#endif
