// SPDX-License-Identifier: GPL-3.0-or-later
// Cells between separators, as scripts and spreadsheets write them: quotes as in RFC 4180, but a quote within a cell that is not quoted
// is a quote, and what follows a closing quote still belongs to the cell.
#include "import/sheet.h"

#include <string.h>

typedef struct reader {
    import_book *book;
    const char *at, *end;
    char separator;
    uint32_t line;
    sm_text cell;
} reader;

// The quoted cell that begins here, without its quotes. False: it never ends.
static bool read_quoted(reader *r) {
    for (r->at++; r->at < r->end; r->at++) {
        if (*r->at == '\n')
            r->line++;
        if (*r->at == '"' && (r->at + 1 == r->end || r->at[1] != '"')) {
            r->at++;
            return true;
        }
        r->at += *r->at == '"';
        sm_text_append(&r->cell, r->at, 1);
    }
    return import_refuse(r->book, "a quote in it is never closed");
}

static bool is_at_line_end(const reader *r) {
    return r->at == r->end || *r->at == '\n' || *r->at == '\r';
}

static bool read_cell(reader *r, uint32_t column) {
    sm_text_clear(&r->cell);
    if (r->at < r->end && *r->at == '"' && !read_quoted(r))
        return false;
    const char *const begin = r->at;
    while (!is_at_line_end(r) && *r->at != r->separator)
        r->at++;
    sm_text_append(&r->cell, begin, (size_t)(r->at - begin));
    if (r->cell.failed)
        r->book->no_memory = true;
    return import_cell_put(r->book, column, sm_text_get(&r->cell), r->cell.length, IMPORT_TEXT);
}

static bool read_record(reader *r) {
    import_row_begin(r->book, r->line);
    for (uint32_t column = 0;; column++) {
        if (!read_cell(r, column))
            return false;
        if (is_at_line_end(r))
            break;
        r->at++;
    }
    if (r->at < r->end && *r->at == '\r')
        r->at++;
    if (r->at < r->end && *r->at == '\n')
        r->at++;
    r->line++;
    return import_row_end(r->book);
}

void import_separated_read(import_book *book, const char *text, size_t length, char separator) {
    reader r = {.book = book, .at = text, .end = text + length, .separator = separator, .line = 1};
    if (import_sheet_begin(book, ""))
        while (r.at < r.end && read_record(&r))
            continue;
    sm_text_deinit(&r.cell);
}
