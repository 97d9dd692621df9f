// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/cells.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>
#include <wchar.h>

struct sm_cells {
    int columns, rows;
    sm_cell at[];
};

static void cell_blank(sm_cell *cell, sm_look look) {
    memset(cell, 0, sizeof *cell);
    cell->text[0] = ' ';
    cell->width = 1;
    cell->look = (uint8_t)look;
}

sm_cells *sm_cells_create(int columns, int rows) {
    assert(columns >= 1 && columns <= SM_CELLS_COLUMNS_MAX && rows >= 1 && rows <= SM_CELLS_ROWS_MAX);
    size_t count = (size_t)columns * (size_t)rows;
    sm_cells *cells = malloc(sizeof *cells + count * sizeof cells->at[0]);
    if (!cells)
        return NULL;
    cells->columns = columns;
    cells->rows = rows;
    sm_cells_clear(cells);
    return cells;
}

void sm_cells_destroy(sm_cells *cells) {
    free(cells);
}

int sm_cells_columns(const sm_cells *cells) {
    return cells->columns;
}

int sm_cells_rows(const sm_cells *cells) {
    return cells->rows;
}

void sm_cells_clear(sm_cells *cells) {
    size_t count = (size_t)cells->columns * (size_t)cells->rows;
    for (size_t i = 0; i < count; i++)
        cell_blank(&cells->at[i], SM_LOOK_PLAIN);
}

void sm_cells_copy(sm_cells *to, const sm_cells *from) {
    assert(to->columns == from->columns && to->rows == from->rows);
    memcpy(to->at, from->at, (size_t)from->columns * (size_t)from->rows * sizeof from->at[0]);
}

static sm_cell *cell_at(sm_cells *cells, int column, int row) {
    assert(column >= 0 && column < cells->columns && row >= 0 && row < cells->rows);
    return &cells->at[(size_t)row * (size_t)cells->columns + (size_t)column];
}

const sm_cell *sm_cells_at(const sm_cells *cells, int column, int row) {
    assert(column >= 0 && column < cells->columns && row >= 0 && row < cells->rows);
    return &cells->at[(size_t)row * (size_t)cells->columns + (size_t)column];
}

void sm_cells_row_text(const sm_cells *cells, int row, sm_text *out) {
    int end = cells->columns;
    while (end > 0) {
        const sm_cell *cell = sm_cells_at(cells, end - 1, row);
        if (cell->width != 1 || strcmp(cell->text, " ") != 0)
            break;
        end--;
    }
    for (int x = 0; x < end; x++) {
        const sm_cell *cell = sm_cells_at(cells, x, row);
        sm_text_append(out, cell->text, strlen(cell->text));
    }
}

// ---- characters ---------------------------------------------------------------

typedef struct glyph {
    const char *bytes;
    size_t length;
    int width; // 0: combines with the one before
} glyph;

// The next character of *TEXT, which moves behind it. False at the end.
static bool glyph_next(const char **text, glyph *out) {
    const char *at = *text;
    const unsigned char first = (unsigned char)at[0];
    if (first == '\0')
        return false;
    // Most of it is ASCII, and a frame is thousands of these.
    size_t length = first < 0x80 ? 1 : sm_utf8_length(at, strnlen(at, 4));
    bool is_text = (first >= 0x20 && first < 0x7F) || sm_utf8_harmless(at, length) > 0;
    *out = (glyph){is_text ? at : "?", is_text ? length : 1, 1};
    *text += length ? length : 1;
    if (is_text && length > 1) {
        int width = wcwidth((wchar_t)sm_utf8_number(at, length));
        // Unknown to the locale: drawn in one column; the ASCII fallback replaces it anyway.
        out->width = width < 0 ? 1 : width;
    }
    return true;
}

int sm_text_columns(const char *text) {
    int columns = 0;
    glyph g;
    while (glyph_next(&text, &g))
        columns += g.width;
    return columns;
}

// ---- drawing ------------------------------------------------------------------

sm_area sm_area_of(sm_cells *cells) {
    return (sm_area){cells, 0, 0, cells->columns, cells->rows};
}

static int clamp(int value, int low, int high) {
    return value < low ? low : value > high ? high : value;
}

sm_area sm_area_part(sm_area area, int x, int y, int columns, int rows) {
    int left = clamp(x, 0, area.columns), top = clamp(y, 0, area.rows);
    int right = clamp(x + columns, left, area.columns), bottom = clamp(y + rows, top, area.rows);
    return (sm_area){area.cells, area.x + left, area.y + top, right - left, bottom - top};
}

// Nothing may stay of a wide character of which one half is overwritten.
static void free_cell(sm_cells *cells, int column, int row) {
    sm_cell *cell = cell_at(cells, column, row);
    if (cell->width == 0 && column > 0)
        cell_blank(cell_at(cells, column - 1, row), (sm_look)cell->look);
    else if (cell->width == 2 && column + 1 < cells->columns)
        cell_blank(cell_at(cells, column + 1, row), (sm_look)cell->look);
    cell_blank(cell, (sm_look)cell->look);
}

static void combine(sm_area area, int x, int y, const glyph *g) {
    sm_cell *cell = cell_at(area.cells, area.x + x, area.y + y);
    if (cell->width == 0 && x > 0)
        cell = cell_at(area.cells, area.x + x - 1, area.y + y);
    size_t length = strlen(cell->text);
    if (length + g->length < sizeof cell->text) {
        memcpy(cell->text + length, g->bytes, g->length);
        cell->text[length + g->length] = '\0';
    }
}

static void put(sm_area area, int x, int y, sm_look look, const glyph *g) {
    sm_cells *cells = area.cells;
    int column = area.x + x, row = area.y + y;
    free_cell(cells, column, row);
    sm_cell *cell = cell_at(cells, column, row);
    cell->look = (uint8_t)look;
    if (g->width == 2) {
        if (x + 1 >= area.columns)
            return; // half of it would be cut off
        free_cell(cells, column + 1, row);
        sm_cell *right = cell_at(cells, column + 1, row);
        right->text[0] = '\0';
        right->width = 0;
        right->look = (uint8_t)look;
        cell->width = 2;
    }
    memcpy(cell->text, g->bytes, g->length);
    cell->text[g->length] = '\0';
}

// Draws the characters of TEXT that end at or before column LIMIT.
static int draw(sm_area area, int x, int y, int limit, sm_look look, const char *text) {
    int column = x;
    bool row_inside = y >= 0 && y < area.rows;
    glyph g;
    while (glyph_next(&text, &g)) {
        if (row_inside && g.width == 0 && column > 0 && column <= limit && column - 1 < area.columns &&
            column > x)
            combine(area, column - 1, y, &g);
        else if (row_inside && g.width > 0 && column >= 0 && column + g.width <= limit &&
                 column < area.columns)
            put(area, column, y, look, &g);
        column += g.width;
    }
    return column - x;
}

int sm_area_text(sm_area area, int x, int y, sm_look look, const char *text) {
    return draw(area, x, y, area.columns, look, text);
}

int sm_area_printf(sm_area area, int x, int y, sm_look look, const char *format, ...) {
    char room[256] = ""; // so that the stop's key is shown without memory too
    sm_text text = SM_TEXT_IN(room);
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&text, format, args);
    va_end(args);
    int columns = sm_area_text(area, x, y, look, sm_text_get(&text));
    sm_text_deinit(&text);
    return columns;
}

void sm_area_field(sm_area area, int x, int y, int columns, sm_look look, const char *text) {
    if (columns <= 0 || y < 0 || y >= area.rows)
        return;
    static const glyph blank = {" ", 1, 1}, ellipsis = {"\xE2\x80\xA6", 3, 1};
    // Only where the field itself is to be seen; underlined blanks after a word are no help.
    sm_look behind = look == SM_LOOK_SELECTED || look == SM_LOOK_HEADING ? look : SM_LOOK_PLAIN;
    for (int i = 0; i < columns; i++)
        if (x + i >= 0 && x + i < area.columns)
            put(area, x + i, y, behind, &blank);
    int needed = sm_text_columns(text);
    int room = needed > columns ? columns - 1 : columns;
    draw(area, x, y, clamp(x + room, 0, area.columns), look, text);
    if (needed > columns && x + columns - 1 >= 0 && x + columns - 1 < area.columns)
        put(area, x + columns - 1, y, look, &ellipsis);
}

void sm_area_look(sm_area area, int x, int y, int columns, sm_look look) {
    for (int i = 0; i < columns; i++)
        if (y >= 0 && y < area.rows && x + i >= 0 && x + i < area.columns)
            cell_at(area.cells, area.x + x + i, area.y + y)->look = (uint8_t)look;
}

// How many bytes of TEXT go on a row of COLUMNS columns; *next is where the row after it begins.
static size_t row_break(const char *text, int columns, const char **next) {
    const char *at = text, *last_blank = NULL;
    int used = 0;
    glyph g;
    for (;;) {
        const char *before = at;
        if (!glyph_next(&at, &g)) {
            *next = before;
            return (size_t)(before - text);
        }
        if (*before == ' ')
            last_blank = before;
        if (used + g.width > columns) {
            const char *end = last_blank ? last_blank : before;
            if (end == text)
                end = at; // a single character wider than the row: it is cut off, and the text goes on
            *next = end;
            while (**next == ' ')
                (*next)++;
            return (size_t)(end - text);
        }
        used += g.width;
    }
}

int sm_area_wrap(sm_area area, int y, int indent, sm_look look, const char *text) {
    int rows = 0;
    char room[1024] = "";
    sm_text row = SM_TEXT_IN(room);
    while (*text && area.columns > 0) {
        int x = rows == 0 || indent >= area.columns ? 0 : indent;
        const char *next;
        size_t length = row_break(text, area.columns - x, &next);
        sm_text_clear(&row);
        sm_text_append(&row, text, length);
        sm_area_text(area, x, y + rows, look, sm_text_get(&row));
        rows++;
        text = next;
    }
    sm_text_deinit(&row);
    return rows;
}

void sm_area_wrap_cut(sm_area area, int indent, sm_look look, const char *text) {
    if (sm_area_wrap(area, 0, indent, look, text) > area.rows && area.rows > 0)
        sm_area_text(area, area.columns - 1, area.rows - 1, look, "…");
}

// ---- the ASCII fallback ----------------------------------------------------------

typedef struct stand_in {
    const char *utf8;
    char ascii;
} stand_in;

// A braille character (U+2800 and its eight dots) keeps what is in its upper and in its lower half, or a level line.
static char ascii_for_dots(unsigned dots) {
    static const unsigned rows[] = {0x09, 0x12, 0x24, 0xC0}; // its rows of two dots, from the top
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (dots == rows[i])
            return i == 3 ? '_' : '-';
    bool upper = dots & (rows[0] | rows[1]), lower = dots & (rows[2] | rows[3]);
    return upper && lower ? ':' : upper ? '\'' : lower ? '.' : ' ';
}

static char ascii_for(const char *text) {
    static const stand_in table[] = {
        {"…", '~'}, {"·", '-'}, {"—", '-'}, {"–", '-'}, {"─", '-'}, {"│", '|'},  {"▁", '_'},  {"▂", '_'},
        {"▃", '-'}, {"▄", '-'}, {"▅", '='}, {"▆", '='}, {"▇", '#'}, {"█", '#'},  {"▸", '>'},  {"▾", 'v'},
        {"▴", '^'}, {"×", 'x'}, {"°", 'o'}, {"“", '"'}, {"”", '"'}, {"‘", '\''}, {"’", '\''}, {"Ω", 'O'},
    };
    if ((unsigned char)text[0] == 0xE2 && ((unsigned char)text[1] & 0xFC) == 0xA0)
        return ascii_for_dots(((unsigned)text[1] & 3) << 6 | ((unsigned)text[2] & 0x3F));
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        if (strcmp(table[i].utf8, text) == 0)
            return table[i].ascii;
    return '?';
}

void sm_cells_to_ascii(sm_cells *cells) {
    size_t count = (size_t)cells->columns * (size_t)cells->rows;
    for (size_t i = 0; i < count; i++) {
        sm_cell *cell = &cells->at[i];
        if (cell->width == 0) {
            cell_blank(cell, (sm_look)cell->look);
        } else if ((unsigned char)cell->text[0] >= 0x80) {
            char ascii = ascii_for(cell->text);
            cell_blank(cell, (sm_look)cell->look);
            cell->text[0] = ascii;
        } else {
            cell->text[1] = '\0'; // without what combines with it
            cell->width = 1;
        }
    }
}
