// SPDX-License-Identifier: GPL-3.0-or-later
// A table as it stands in a file: rows of cells, whatever the file's form.
#ifndef SM_IMPORT_SHEET_H
#define SM_IMPORT_SHEET_H

#include "slowmatch/base.h"
#include "slowmatch/progress.h"

// What a file may hold; beyond it is refused, so that no file takes more than some seconds and some hundred MB.
enum {
    IMPORT_FILE_MAX = 64 * 1024 * 1024,
    IMPORT_UNPACKED_MAX = 256 * 1024 * 1024, // of all parts of an archive
    IMPORT_ROWS_MAX = 200000,
    IMPORT_COLUMNS_MAX = 256,
    IMPORT_CELL_MAX = 32 * 1024,
    IMPORT_CELLS_MAX = 4000000,
    IMPORT_DEPTH_MAX = 64,
    IMPORT_SHEETS_MAX = 64,
};

typedef enum import_cell_is {
    IMPORT_TEXT,
    IMPORT_NUMBER,
    IMPORT_TIME, // a spreadsheet's own time; its text is H:MM:SS and decimals, exact to the microsecond
    IMPORT_DATE,
} import_cell_is;

typedef struct import_cell {
    const char *text; // NUL-terminated, as it stands in the file; "" where empty
    uint32_t length;
    import_cell_is is;
    bool is_spanned; // nothing stands here itself: the text is that of a cell above that spans this row
} import_cell;

typedef struct import_row {
    import_cell *cells;
    uint32_t count;
    uint32_t line; // of the file, or the row's number in its sheet
} import_row;

// A cell that spans the rows from line FIRST to LAST.
typedef struct import_span {
    uint32_t column, first, last;
} import_span;

typedef struct import_sheet {
    const char *name; // "" where the file has no sheets
    import_row *rows;
    uint32_t count, capacity;
    import_span *spans;
    uint32_t span_count, span_capacity;
} import_sheet;

// A file being read. `why` is what is wrong with it, NULL while nothing is.
typedef struct import_book {
    sm_arena *arena;
    import_sheet *sheets;
    uint32_t count, capacity;
    import_cell *row; // under way
    sm_progress *progress;
    uint32_t row_count, row_line;
    uint64_t cells; // of all sheets
    const char *why;
    bool no_memory;
} import_book;

// Sheets, rows and cells are put in order. False: the file is refused, or memory ran out.
bool import_sheet_begin(import_book *book, const char *name);
void import_row_begin(import_book *book, uint32_t line);
bool import_cell_put(import_book *book, uint32_t column, const char *text, size_t length, import_cell_is is);
// The same with a text that lives as long as the book's arena.
bool import_cell_put_kept(import_book *book, uint32_t column, const char *text, import_cell_is is);
// The decimal digits of VALUE, LEAST at least, at OUT; returns the end, where a NUL stands. Many are written: printf is five times slower.
char *import_digits(char *out, uint64_t value, unsigned least);
void import_span_put(import_book *book, import_span span); // of the sheet under way
bool import_row_end(import_book *book);                    // rows without a cell are not kept
bool import_refuse(import_book *book, const char *why);    // false

// TEXT is a time of so many days, as spreadsheets store them: puts it as H:MM:SS.ffffff.
bool import_cell_put_days(import_book *book, uint32_t column, double days);
// A day's number, as spreadsheets store dates: puts it as YYYY-MM-DD.
bool import_cell_put_date(import_book *book, uint32_t column, double day);
// A number as stored ("21.8", "2.5E-3"): puts its digits, without an exponent.
bool import_cell_put_number(import_book *book, uint32_t column, const char *text);
// A share of one: puts it as a percentage.
bool import_cell_put_share(import_book *book, uint32_t column, double share);

// Reads the spreadsheet (a zip archive) of LENGTH bytes at BYTES.
void import_zip_read(import_book *book, const char *bytes, size_t length);

// Reads TEXT, in UTF-8, as cells between SEPARATOR.
void import_separated_read(import_book *book, const char *text, size_t length, char separator);

#endif
