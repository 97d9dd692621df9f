// SPDX-License-Identifier: GPL-3.0-or-later
// The units that a cell of the file is written in, and figures put in them.
#ifndef SLOWMATCH_CHECK_UNITS_H
#define SLOWMATCH_CHECK_UNITS_H

#include "check/rule.h"
#include "check/source.h"

typedef enum check_moment_style {
    MOMENT_SECONDS,
    MOMENT_MINUTES,
    MOMENT_HOURS,
    MOMENT_TIMECODE
} check_moment_style;

typedef struct check_units {
    const char *length; // "m", "ft", "mm", "in"
    double metres;      // of one of it
    int decimals;       // of a length, as printed
    const char *amps;   // "A", "mA"
    check_moment_style moment;
    const sm_moment_base *timecode;
} check_units;

// From the text of the finding's own cell and of the cell that holds its moment; where they show no unit, the unit of a
// bare number in that column.
check_units check_units_of(const sm_show *show, const check_place *place, check_piece cell,
                           check_piece moment);
// MESSAGE with its figures printed in UNITS.
void check_units_render(const check_units *units, const char *message, sm_text *out);
// A figure's value in UNITS (moments and spans in seconds).
double check_units_value(const check_units *units, figure_kind kind, double value);
// The unit's name for it; OTHERWISE for a plain one. Static, where OTHERWISE is.
const char *check_units_name(const check_units *units, figure_kind kind, const char *otherwise);

#endif
