// SPDX-License-Identifier: GPL-3.0-or-later
// Cells that are merged down a column: a rail's name beside all of its slots, a moment beside all that goes off then. A spreadsheet keeps
// the text in the first row alone.
#include "import/work.h"

#include <string.h>

// A cue's name and a count stand for the group, not for each row of it.
static bool goes_for_each(import_role role) {
    return role != IMPORT_ID && role != IMPORT_A_COUNT && role != IMPORT_IGNORE && role != IMPORT_NO_ROLE;
}

// The first row at or behind LINE; rows stand in their order.
static uint32_t row_at(const import_sheet *sheet, uint32_t line) {
    uint32_t low = 0, high = sheet->count;
    while (low < high) {
        const uint32_t middle = low + (high - low) / 2;
        if (sheet->rows[middle].line < line)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static bool fill(import_work *work, import_row *row, uint32_t column, const import_cell *from) {
    if (column < row->count && row->cells[column].length > 0)
        return false;
    if (column >= row->count) {
        import_cell *const cells = sm_arena_alloc(work->arena, (column + 1) * sizeof *cells);
        if (!cells) {
            work->no_memory = true;
            return false;
        }
        memcpy(cells, row->cells, row->count * sizeof *cells);
        for (uint32_t i = row->count; i < column; i++)
            cells[i].text = "";
        row->cells = cells;
        row->count = column + 1;
    }
    row->cells[column] = *from;
    row->cells[column].is_spanned = true;
    return true;
}

void import_spans_fill(import_work *work) {
    const import_sheet *const sheet = work->sheet;
    bool is_told[IMPORT_COLUMNS_MAX] = {false};
    uint32_t looked_at = 0;
    for (uint32_t i = 0; i < sheet->span_count && !work->no_memory; i++) {
        const import_span *const span = &sheet->spans[i];
        const uint32_t first = row_at(sheet, span->first), column = span->column;
        if (!goes_for_each(work->roles[column]) || first <= work->header || first == sheet->count ||
            sheet->rows[first].line != span->first ||
            import_text_at(work, &sheet->rows[first], column)[0] == '\0')
            continue;
        const import_cell from = sheet->rows[first].cells[column];
        for (uint32_t k = first + 1; k < sheet->count && sheet->rows[k].line <= span->last; k++) {
            if (++looked_at > IMPORT_CELLS_MAX) {
                import_tell(work, SM_ERROR, span->first, column, "import-file",
                            "merged cells overlap, which no spreadsheet lets them; the file is damaged");
                return;
            }
            if (!fill(work, &sheet->rows[k], column, &from) || is_told[column])
                continue;
            is_told[column] = true;
            import_tell(work, SM_NOTE, span->first, column, "import-guess",
                        "\"%s\" is merged with the cells below it, and goes for each of their rows",
                        from.text);
        }
    }
}
