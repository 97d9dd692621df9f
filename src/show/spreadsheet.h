// SPDX-License-Identifier: GPL-3.0-or-later
// What spreadsheets do to a table and to the cells in it, recognised so that one finding can name the cause and the cure.
#ifndef SM_SHOW_SPREADSHEET_H
#define SM_SHOW_SPREADSHEET_H

#include "slowmatch/show.h"

// Why a whole file whose first LENGTH bytes are BYTES is no such table: its encoding, its separator, no text at all.
// NULL where nothing speaks against it. RULE: of the finding.
const char *sm_spreadsheet_refuse(const sm_table_schema *schema, const char *bytes, size_t length,
                                  const char **rule);

// TEXT is a number with a comma for its point, and perhaps a unit: *out is the same with a point (at most 63 bytes).
bool sm_spreadsheet_comma(const char *text, size_t length, char out[64]);

// TEXT is a date as spreadsheets make them of "3-12" or "MAR-5".
bool sm_spreadsheet_is_date(const char *text, size_t length);

#endif
