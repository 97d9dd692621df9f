// SPDX-License-Identifier: GPL-3.0-or-later
// libcsv gets one physical line at a time. So a record's first line is known exactly, a record can only go on
// beyond a line inside a quoted cell, and after an error reading goes on with a fresh parser at the next
// line.
#include "show/csv.h"

#include "show/text_file.h"

#include <csv.h>
#include <string.h>

typedef struct reader {
    struct csv_parser parser;
    const char *file;
    sm_lines *lines;
    sm_arena *scratch;
    sm_findings *findings;
    size_t dropped;
    char *bytes; // of the cells of the record so far
    size_t used, capacity;
    sm_csv_cell cells[SM_CSV_CELLS_MAX];
    size_t cell_count;
    uint32_t record_line;      // the record's first
    bool has_begun, has_ended; // the record
} reader;

static bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

static void take_cell(void *cell, size_t length, void *context) {
    reader *const r = context;
    if (r->cell_count < SM_CSV_CELLS_MAX) {
        r->cells[r->cell_count] = (sm_csv_cell){.at = r->used, .length = length};
        memcpy(r->bytes + r->used, cell, length + 1); // CSV_APPEND_NULL
        r->used += length + 1;
    }
    r->cell_count++;
}

static void end_record(int terminator, void *context) {
    (void)terminator;
    reader *const r = context;
    r->has_ended = true;
}

static bool start_parser(reader *r) {
    if (csv_init(&r->parser, CSV_STRICT | CSV_STRICT_FINI | CSV_APPEND_NULL) != 0)
        return false;
    csv_set_blk_size(&r->parser, 4096);
    return true;
}

// Forgets the record under way; the next line begins a new one.
static void start_record(reader *r) {
    sm_lines_forget(r->lines);
    r->used = 0;
    r->cell_count = 0;
    r->has_begun = r->has_ended = false;
}

// The record that ends with the last line.
static sm_csv_record record_of(const reader *r) {
    const sm_lines *const lines = r->lines;
    return (sm_csv_record){
        .file = r->file,
        .line = r->record_line,
        .raw = lines->bytes ? lines->bytes + lines->kept : "",
        .raw_length = lines->at - lines->kept,
        .bytes = r->bytes,
        .cells = r->cells,
        .cell_count = r->cell_count,
        .raw_end = lines->passed + lines->at,
    };
}

static sm_result drop_record(reader *r) {
    r->dropped++;
    csv_free(&r->parser);
    start_record(r);
    return start_parser(r) ? SM_OK : SM_NO_MEMORY;
}

// LINE's byte AT is where libcsv stopped.
static sm_result refuse(reader *r, const char *line, size_t length, size_t at) {
    if (csv_error(&r->parser) != CSV_EPARSE)
        return SM_NO_MEMORY;
    const uint32_t column = (uint32_t)sm_utf8_count(line, at < length ? at : length) + 1;
    if (r->parser.quoted)
        sm_findings_add(
            r->findings, r->file, r->lines->line, column, SM_ERROR, "csv",
            "text after the closing quote of a cell; a quote inside a quoted cell is doubled, and a comma "
            "ends the cell (the record begins in line %u)",
            (unsigned)r->record_line);
    else
        sm_findings_add(
            r->findings, r->file, r->lines->line, column, SM_ERROR, "csv",
            "a quote inside a cell that is not quoted; put the whole cell in quotes and double the quotes "
            "inside it");
    return drop_record(r);
}

// Place of the first CR in the line that neither ends it nor stands in a quoted cell; LENGTH where there is
// none.
static size_t find_bare_cr(const char *line, size_t length, bool in_quotes) {
    for (size_t at = 0; at < length; at++)
        if (line[at] == '"')
            in_quotes = !in_quotes;
        else if (line[at] == '\r' && !in_quotes && (at + 1 == length || line[at + 1] != '\n'))
            return at;
    return length;
}

static sm_result refuse_bare_cr(reader *r, const char *line, size_t at) {
    sm_findings_add(r->findings, r->file, r->lines->line, (uint32_t)sm_utf8_count(line, at) + 1, SM_ERROR,
                    "csv",
                    "a carriage return that is not followed by a line feed; end lines with LF or CRLF");
    return drop_record(r);
}

// Room for all cells of the record so far, each with a NUL: one may have begun lines ago.
static bool reserve(reader *r) {
    const size_t needed = 2 * (r->lines->at - r->lines->kept) + 2;
    if (needed <= r->capacity)
        return true;
    char *const grown = sm_arena_resize(r->scratch, r->bytes, needed * 2);
    if (!grown)
        return false;
    r->bytes = grown;
    r->capacity = needed * 2;
    return true;
}

static sm_result hand_over(reader *r, sm_csv_handler handler, void *context) {
    const sm_csv_record record = record_of(r);
    const bool goes_on = handler(context, &record);
    start_record(r);
    return goes_on ? SM_OK : SM_REFUSED;
}

// A line without quotes is a record by itself. It is cut as libcsv cuts it, but without looking at each byte three times.
static void cut_unquoted(reader *r, const char *line, size_t length) {
    char *const bytes = r->bytes;
    memcpy(bytes, line, length);
    while (length > 0 && (bytes[length - 1] == '\n' || bytes[length - 1] == '\r'))
        length--;
    size_t at = 0;
    for (;;) {
        while (at < length && is_blank(bytes[at]))
            at++;
        const char *const comma = memchr(bytes + at, ',', length - at);
        const size_t stop = comma ? (size_t)(comma - bytes) : length;
        if (!comma && at == length && r->cell_count == 0)
            return; // a blank line
        size_t end = stop;
        while (end > at && is_blank(bytes[end - 1]))
            end--;
        bytes[end] = '\0';
        if (r->cell_count < SM_CSV_CELLS_MAX)
            r->cells[r->cell_count] = (sm_csv_cell){.at = at, .length = end - at};
        r->cell_count++;
        if (!comma)
            break;
        at = stop + 1;
    }
    r->has_ended = true;
}

static sm_result end_line(reader *r, const char *line, size_t length, sm_csv_handler handler, void *context) {
    if (r->has_ended)
        return hand_over(r, handler, context);
    if (!r->parser.quoted && r->cell_count == 0 && line[length - 1] == '\n')
        start_record(r); // a blank line
    return SM_OK;
}

static sm_result feed_line(reader *r, char *line, size_t length, sm_csv_handler handler, void *context) {
    if (!r->lines->is_plain)
        sm_text_clean_line(r->file, r->lines->line, line, length, r->findings);
    if (!r->has_begun)
        r->record_line = r->lines->line;
    if (r->lines->has_returns && memchr(line, '\r', length)) {
        const size_t at = find_bare_cr(line, length, r->has_begun);
        if (at < length)
            return refuse_bare_cr(r, line, at);
    }
    if (!reserve(r))
        return SM_NO_MEMORY;
    if (!r->has_begun && !(r->lines->has_quotes && memchr(line, '"', length))) {
        cut_unquoted(r, line, length);
        return end_line(r, line, length, handler, context);
    }
    r->has_begun = true;
    const size_t parsed = csv_parse(&r->parser, line, length, take_cell, end_record, r);
    if (parsed != length)
        return refuse(r, line, length, parsed);
    return end_line(r, line, length, handler, context);
}

// Ends the record that no line end has ended.
static sm_result finish(reader *r, sm_csv_handler handler, void *context) {
    if (!r->has_begun)
        return SM_OK;
    if (csv_fini(&r->parser, take_cell, end_record, r) == 0)
        return r->has_ended ? hand_over(r, handler, context) : SM_OK;
    if (csv_error(&r->parser) != CSV_EPARSE)
        return SM_NO_MEMORY;
    const sm_csv_record record = record_of(r);
    sm_findings_add(r->findings, r->file, r->record_line, sm_csv_column(&record, r->cell_count), SM_ERROR,
                    "csv", "the quote that begins this cell is never closed; add the closing quote");
    r->dropped++;
    return SM_OK;
}

static sm_result refuse_length(reader *r) {
    sm_findings_add(r->findings, r->file, r->has_begun ? r->record_line : r->lines->line + 1, 0, SM_ERROR,
                    "csv", "a record of more than %d MB; is a closing quote missing?",
                    SM_LINES_KEPT_MAX / 1024 / 1024);
    r->dropped++;
    return SM_OK;
}

static sm_result read_lines(reader *r, sm_csv_handler handler, void *context) {
    for (;;) {
        char *line;
        size_t length;
        sm_result result = sm_lines_next(r->lines, &line, &length);
        if (result == SM_NOT_FOUND)
            return finish(r, handler, context);
        if (result == SM_OUT_OF_RANGE)
            return refuse_length(r);
        if (result == SM_OK)
            result = feed_line(r, line, length, handler, context);
        if (result != SM_OK)
            return result;
    }
}

sm_result sm_csv_read(const char *file, sm_lines *lines, sm_arena *scratch, sm_findings *findings,
                      sm_csv_handler handler, void *context, size_t *dropped) {
    reader r = {.file = file, .lines = lines, .scratch = scratch, .findings = findings};
    if (!start_parser(&r))
        return SM_NO_MEMORY;
    const sm_result result = read_lines(&r, handler, context);
    csv_free(&r.parser);
    *dropped = r.dropped;
    return result;
}

bool sm_csv_is_comment(const sm_csv_record *record) {
    return record->cell_count > 0 && record->bytes[record->cells[0].at] == '#';
}

// The end of the cell that begins at AT (blanks passed): its comma, its line end, or LENGTH.
static size_t cell_end(const char *raw, size_t length, size_t at) {
    if (at < length && raw[at] == '"') {
        for (at++; at < length; at++) {
            if (raw[at] != '"')
                continue;
            if (at + 1 == length || raw[at + 1] != '"')
                break;
            at++;
        }
    }
    while (at < length && raw[at] != ',' && raw[at] != '\n' && raw[at] != '\r')
        at++;
    return at;
}

// Column of the byte AT on its own line.
static uint32_t column_of(const char *raw, size_t at) {
    const char *const before = at > 0 ? memrchr(raw, '\n', at) : NULL;
    const char *const line = before ? before + 1 : raw;
    return (uint32_t)sm_utf8_count(line, (size_t)(raw + at - line)) + 1;
}

// Where the bytes of CELL stand, blanks before it passed: from *begin up to *end, its separator. *at is its first byte, blanks
// included. False: the record has no such cell, and all three are its end.
static bool find_cell(const sm_csv_record *record, size_t cell, size_t *at, size_t *begin, size_t *end) {
    const char *const raw = record->raw;
    const size_t length = record->raw_length;
    *at = 0;
    for (size_t index = 0;; index++, ++*at) {
        *begin = *at;
        while (*begin < length && is_blank(raw[*begin]))
            ++*begin;
        *end = cell_end(raw, length, *begin);
        if (index == cell)
            return true;
        *at = *end;
        if (*at >= length || raw[*at] != ',') {
            *begin = *at;
            return false;
        }
    }
}

uint32_t sm_csv_column(const sm_csv_record *record, size_t cell) {
    size_t at, begin, end;
    const bool found = find_cell(record, cell, &at, &begin, &end);
    return column_of(record->raw, found && begin == end ? at : begin);
}

bool sm_csv_cell_text(const sm_csv_record *record, size_t cell, size_t *begin, size_t *end) {
    size_t at;
    const char *const raw = record->raw;
    if (!find_cell(record, cell, &at, begin, end)) {
        *end = *begin;
        return false;
    }
    while (*end > *begin && is_blank(raw[*end - 1]))
        --*end;
    const bool is_quoted = *end > *begin + 1 && raw[*begin] == '"';
    *begin += is_quoted;
    *end -= is_quoted;
    return is_quoted;
}
