// SPDX-License-Identifier: GPL-3.0-or-later
// The cells of one record of a table, found by its columns.
#include "show/load.h"

#include <math.h>
#include <string.h>

sm_spot sm_record_spot(const sm_csv_record *record, size_t cell) {
    return (sm_spot){.file = record->file, .line = record->line, .record = record, .cell = cell};
}

sm_spot sm_table_spot(const sm_table_record *from, size_t column) {
    return sm_record_spot(from->record, from->cell_of[column]);
}

const char *sm_table_cell(const sm_table_record *from, size_t column, size_t *length, bool *is_given) {
    const uint8_t at = from->cell_of[column];
    const bool found = at < SM_CSV_CELLS_MAX && !sm_csv_is_blank(from->record, at);
    if (is_given)
        *is_given = found;
    if (found) {
        *length = from->record->cells[at].length;
        return from->record->bytes + from->record->cells[at].at;
    }
    size_t count;
    const char *const fallback = sm_show_schema(&count)[from->table].columns[column].fallback;
    *length = strlen(fallback);
    return fallback;
}

size_t sm_table_column(const sm_table_schema *schema, const char *name, size_t length) {
    size_t column = 0;
    while (column < schema->column_count && (strlen(schema->columns[column].name) != length ||
                                             memcmp(schema->columns[column].name, name, length) != 0))
        column++;
    return column;
}

const char *sm_table_cell_named(const sm_table_record *from, const char *column, size_t *length,
                                bool *is_given, sm_spot *spot) {
    size_t count;
    const size_t index = sm_table_column(&sm_show_schema(&count)[from->table], column, strlen(column));
    *spot = sm_table_spot(from, index);
    return sm_table_cell(from, index, length, is_given);
}

void sm_rows_split_fuel(const sm_table_record *from, const char *column, const char *mass_unit,
                        double *millilitres, double *grams) {
    size_t length;
    sm_spot spot;
    bool is_given;
    const size_t wanted = strlen(mass_unit);
    const char *const text = sm_table_cell_named(from, column, &length, &is_given, &spot);
    const bool is_mass =
        is_given && length > wanted && memcmp(text + length - wanted, mass_unit, wanted) == 0;
    *grams = is_mass ? *millilitres : (double)NAN;
    if (is_mass)
        *millilitres = (double)NAN;
}
