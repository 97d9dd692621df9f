// SPDX-License-Identifier: GPL-3.0-or-later
// How a row of a table of columns (sm_column) is written: what it is called, what it takes, where its value is kept.
#ifndef SLOWMATCH_COLUMNS_H
#define SLOWMATCH_COLUMNS_H

#include "slowmatch/show.h"

#include <math.h>

#define SM_COLUMN(column, text) .name = (column), .help = (text)
#define SM_KEY(part, key, text) .section = (part), .name = (key), .help = (text)
#define SM_KEEP(type, field) .offset = offsetof(type, field), .size = sizeof(((type *)0)->field)
#define SM_RANGE(least, most) .low = (least), .high = (most)
#define SM_ANY .low = (double)NAN, .high = (double)NAN
// DEFAULT is in the file's own notation, "" for none. What lies beyond LEAST and MOST is refused.
#define SM_MEASURE(of, unit_, default_, least, most)                                                         \
    .kind = SM_CELL_MEASURE, .quantity = SM_QUANTITY_##of, .fallback = (default_), SM_RANGE(least, most),    \
    .unit = (unit_)
#define SM_SPAN(units, default_, least, most)                                                                \
    .kind = SM_CELL_SPAN, .fallback = (default_), SM_RANGE(least, most), units
#define SM_NUMBER(kind_, default_, least, most)                                                              \
    .kind = SM_CELL_##kind_, .fallback = (default_), SM_RANGE(least, most)
#define SM_WORDS(kind_, default_) .kind = SM_CELL_##kind_, .fallback = (default_), SM_ANY
#define SM_CHOICE(default_, words) SM_WORDS(CHOICE, default_), .choices = (words)
#define SM_REFERENCE(table, finding) SM_WORDS(REFERENCE, ""), .refers = (table), .rule = (finding)

// Units of bare times.
#define SM_SECONDS .unit = "s", .bare_us = SM_US_PER_S
#define SM_MILLISECONDS .unit = "ms", .bare_us = 1000
#define SM_MINUTES .unit = "min", .bare_us = 60 * SM_US_PER_S

#endif
