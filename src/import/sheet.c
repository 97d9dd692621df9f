// SPDX-License-Identifier: GPL-3.0-or-later
#include "import/sheet.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool import_refuse(import_book *book, const char *why) {
    if (!book->why)
        book->why = why;
    return false;
}

static bool no_memory(import_book *book) {
    book->no_memory = true;
    return false;
}

// Room for one more of *rows.
static bool reserve(import_book *book, void **rows, uint32_t count, uint32_t *capacity, size_t size) {
    if (count < *capacity)
        return true;
    const uint32_t wanted = *capacity > 0 ? *capacity * 2 : 16;
    void *const grown = sm_arena_resize(book->arena, *rows, wanted * size);
    if (!grown)
        return no_memory(book);
    *rows = grown;
    *capacity = wanted;
    return true;
}

bool import_sheet_begin(import_book *book, const char *name) {
    void *sheets = book->sheets;
    const char *const kept = sm_arena_text(book->arena, name, strlen(name));
    if (!kept)
        return no_memory(book);
    if (book->count == IMPORT_SHEETS_MAX)
        return import_refuse(book, "it has more than 64 sheets");
    const bool has_room = reserve(book, &sheets, book->count, &book->capacity, sizeof *book->sheets);
    book->sheets = sheets;
    if (has_room)
        book->sheets[book->count++] = (import_sheet){.name = kept};
    return has_room;
}

void import_span_put(import_book *book, import_span span) {
    if (book->count == 0 || span.last <= span.first || span.column >= IMPORT_COLUMNS_MAX)
        return;
    import_sheet *const sheet = &book->sheets[book->count - 1];
    void *spans = sheet->spans;
    if (sheet->span_count == IMPORT_ROWS_MAX) {
        import_refuse(book, "it has more than 200,000 merged cells");
        return;
    }
    const bool has_room =
        reserve(book, &spans, sheet->span_count, &sheet->span_capacity, sizeof *sheet->spans);
    sheet->spans = spans;
    if (has_room)
        sheet->spans[sheet->span_count++] = span;
}

void import_row_begin(import_book *book, uint32_t line) {
    book->row_count = 0;
    book->row_line = line;
    (void)sm_progress_count(book->progress, 1);
}

bool import_cell_put_kept(import_book *book, uint32_t column, const char *text, import_cell_is is) {
    const size_t length = strlen(text);
    if (book->why || book->no_memory)
        return false;
    if (length == 0)
        return true;
    if (column >= IMPORT_COLUMNS_MAX)
        return import_refuse(book, "it has more than 256 columns");
    if (length > IMPORT_CELL_MAX)
        return import_refuse(book, "a cell of it has more than 32 KB of text");
    if (!book->row)
        book->row = sm_arena_alloc(book->arena, IMPORT_COLUMNS_MAX * sizeof *book->row);
    if (!book->row)
        return no_memory(book);
    while (book->row_count <= column)
        book->row[book->row_count++] = (import_cell){.text = ""};
    book->row[column] = (import_cell){.text = text, .length = (uint32_t)length, .is = is};
    return true;
}

bool import_cell_put(import_book *book, uint32_t column, const char *text, size_t length, import_cell_is is) {
    if (book->why || book->no_memory)
        return false;
    if (length > IMPORT_CELL_MAX)
        return import_refuse(book, "a cell of it has more than 32 KB of text");
    const char *const kept = sm_arena_text(book->arena, text, length);
    return kept ? import_cell_put_kept(book, column, kept, is) : no_memory(book);
}

bool import_row_end(import_book *book) {
    if (book->row_count == 0 || book->count == 0 || book->why || book->no_memory)
        return !book->why && !book->no_memory;
    import_sheet *const sheet = &book->sheets[book->count - 1];
    void *rows = sheet->rows;
    if (sheet->count == IMPORT_ROWS_MAX)
        return import_refuse(book, "it has more than 200,000 rows");
    book->cells += book->row_count;
    if (book->cells > IMPORT_CELLS_MAX)
        return import_refuse(book, "it has more than 4,000,000 cells");
    const bool has_room = reserve(book, &rows, sheet->count, &sheet->capacity, sizeof *sheet->rows);
    sheet->rows = rows;
    import_cell *const cells = has_room ? sm_arena_alloc(book->arena, book->row_count * sizeof *cells) : NULL;
    if (!cells)
        return no_memory(book);
    memcpy(cells, book->row, book->row_count * sizeof *cells);
    sheet->rows[sheet->count++] =
        (import_row){.cells = cells, .count = book->row_count, .line = book->row_line};
    book->row_count = 0;
    return true;
}

// Cuts zeros, and a point that nothing follows, off the end.
static size_t trim_zeros(char *text) {
    size_t length = strlen(text);
    while (length > 0 && text[length - 1] == '0')
        length--;
    if (length > 0 && text[length - 1] == '.')
        length--;
    text[length] = '\0';
    return length;
}

char *import_digits(char *out, uint64_t value, unsigned least) {
    char backwards[24];
    unsigned count = 0;
    for (; value > 0 || count < least; value /= 10)
        backwards[count++] = (char)('0' + value % 10);
    while (count > 0)
        *out++ = backwards[--count];
    *out = '\0';
    return out;
}

bool import_cell_put_days(import_book *book, uint32_t column, double days) {
    char text[48];
    if (!(fabs(days) < 1e6))
        return import_cell_put(book, column, "?", 1, IMPORT_TEXT);
    const int64_t us = llround(fabs(days) * 86400e6), seconds = us / SM_US_PER_S;
    char *end = text;
    if (days < 0)
        *end++ = '-';
    end = import_digits(end, (uint64_t)(seconds / 3600), 1);
    *end++ = ':';
    end = import_digits(end, (uint64_t)(seconds / 60 % 60), 2);
    *end++ = ':';
    end = import_digits(end, (uint64_t)(seconds % 60), 2);
    *end++ = '.';
    import_digits(end, (uint64_t)(us % SM_US_PER_S), 6);
    return import_cell_put(book, column, text, trim_zeros(end - 1) + (size_t)(end - 1 - text), IMPORT_TIME);
}

bool import_cell_put_share(import_book *book, uint32_t column, double share) {
    char text[48];
    snprintf(text, sizeof text, "%.6f", fabs(share) < 1e6 ? share * 100 : 0);
    const size_t length = trim_zeros(text);
    text[length] = '%';
    return import_cell_put(book, column, text, length + 1, IMPORT_TEXT);
}

// Digits and perhaps a point between them: most numbers of a sheet.
static bool is_short_decimal(const char *text) {
    const char *at = text;
    bool has_point = false;
    for (; (*at >= '0' && *at <= '9') || (*at == '.' && !has_point && at > text); at++)
        has_point = has_point || *at == '.';
    return *at == '\0' && at > text && at - text <= 15 && at[-1] != '.';
}

bool import_cell_put_number(import_book *book, uint32_t column, const char *text) {
    char digits[64];
    char *end;
    if (is_short_decimal(text))
        return import_cell_put(book, column, text, strlen(text), IMPORT_NUMBER);
    const double value = strtod(text, &end);
    const bool is_number = *end == '\0' && fabs(value) < 1e15;
    if (!is_number || !strpbrk(text, "eE"))
        return import_cell_put(book, column, text, strlen(text), is_number ? IMPORT_NUMBER : IMPORT_TEXT);
    snprintf(digits, sizeof digits, "%.20f", value);
    return import_cell_put(book, column, digits, trim_zeros(digits), IMPORT_NUMBER);
}

// The civil date of a count of days, by the proleptic Gregorian calendar in eras of 400 years.
bool import_cell_put_date(import_book *book, uint32_t column, double day) {
    char text[48];
    if (!(day >= 1 && day < 3e6))
        return import_cell_put(book, column, "?", 1, IMPORT_TEXT);
    const int64_t days = (int64_t)day + 693899; // since 0000-03-01; day 1 is 1899-12-31
    const int64_t era = days / 146097, of_era = days % 146097;
    const int64_t year = (of_era - of_era / 1460 + of_era / 36524 - of_era / 146096) / 365;
    const int64_t of_year = of_era - (365 * year + year / 4 - year / 100), month = (5 * of_year + 2) / 153;
    snprintf(text, sizeof text, "%04d-%02d-%02d", (int)(year + era * 400 + (month > 9)),
             (int)(month < 10 ? month + 3 : month - 9), (int)(of_year - (153 * month + 2) / 5 + 1));
    return import_cell_put(book, column, text, strlen(text), IMPORT_DATE);
}
