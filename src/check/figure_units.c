// SPDX-License-Identifier: GPL-3.0-or-later
#include "check/figure_units.h"

#include <assert.h>
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// Room for binary fractions when a length is rounded to the printed decimals.
#define ROUNDING_ROOM 1e-6

typedef struct length_unit {
    const char *name;
    double metres;
    int decimals;
} length_unit;
static const length_unit length_units[] = {
    {"m", 1.0, 2}, {"ft", 0.3048, 2}, {"mm", 0.001, 0}, {"in", 0.0254, 1}};

static const length_unit *find_length_unit(const char *letters, size_t length) {
    for (size_t i = 0; i < sizeof length_units / sizeof *length_units; i++)
        if (strlen(length_units[i].name) == length && memcmp(length_units[i].name, letters, length) == 0)
            return &length_units[i];
    return NULL;
}

static bool is_letter(char c) {
    return isalpha((unsigned char)c) != 0;
}

// The letters that follow the first number of CELL; length 0 where none do.
static check_piece first_unit(check_piece cell) {
    size_t at = 0;
    while (at < cell.length && !isdigit((unsigned char)cell.bytes[at]))
        at++;
    while (at < cell.length && (isdigit((unsigned char)cell.bytes[at]) || cell.bytes[at] == '.'))
        at++;
    while (at < cell.length && cell.bytes[at] == ' ')
        at++;
    size_t end = at;
    while (end < cell.length && is_letter(cell.bytes[end]))
        end++;
    return (check_piece){cell.bytes + at, end - at};
}

// The unit of a bare number in a column, "" where there is no such column.
static const char *bare_unit(const check_place *place) {
    size_t count;
    const sm_table_schema *tables = sm_show_schema(&count);
    for (size_t t = 0; t < count; t++) {
        if (strcmp(tables[t].file, place->file) != 0 || !place->column)
            continue;
        for (size_t c = 0; c < tables[t].column_count; c++)
            if (strcmp(tables[t].columns[c].name, place->column) == 0)
                return tables[t].columns[c].unit ? tables[t].columns[c].unit : "";
    }
    return "";
}

static check_moment_style moment_style(check_piece cell) {
    size_t colons = 0;
    for (size_t i = 0; i < cell.length; i++) {
        if (cell.bytes[i] == ';')
            return MOMENT_TIMECODE;
        colons += cell.bytes[i] == ':';
    }
    return colons == 0   ? MOMENT_SECONDS
           : colons == 1 ? MOMENT_MINUTES
           : colons == 2 ? MOMENT_HOURS
                         : MOMENT_TIMECODE;
}

check_units check_units_of(const sm_show *show, const check_place *place, check_piece cell,
                           check_piece moment) {
    const char *bare = bare_unit(place);
    const check_piece written = cell.length > 0 ? first_unit(cell) : (check_piece){0};
    const length_unit *length = written.length > 0 ? find_length_unit(written.bytes, written.length) : NULL;
    if (!length)
        length = find_length_unit(bare, strlen(bare));
    if (!length)
        length = &length_units[0];
    const bool milli = written.length > 0 ? written.length == 2 && memcmp(written.bytes, "mA", 2) == 0
                                          : strcmp(bare, "mA") == 0;
    return (check_units){
        .length = length->name,
        .metres = length->metres,
        .decimals = length->decimals,
        .amps = milli ? "mA" : "A",
        .moment = moment_style(moment),
        .timecode = &show->settings.timecode,
    };
}

// VALUE with at most DECIMALS decimals, without zeros at the end.
static void append_number(sm_text *out, double value, int decimals) {
    char digits[64];
    snprintf(digits, sizeof digits, "%.*f", decimals, value);
    size_t length = strlen(digits);
    if (strchr(digits, '.')) {
        while (digits[length - 1] == '0')
            length--;
        if (digits[length - 1] == '.')
            length--;
    }
    if (length == 2 && memcmp(digits, "-0", 2) == 0) {
        sm_text_append(out, "0", 1);
        return;
    }
    sm_text_append(out, digits, length);
}

// What is found rounds down and what is needed rounds up, so that two that differ never print the same.
static void append_length(const check_units *units, double metres, bool needed, sm_text *out) {
    const double scale = pow(10.0, units->decimals);
    const double scaled = metres / units->metres * scale;
    const double rounded = needed ? ceil(scaled - ROUNDING_ROOM) : floor(scaled + ROUNDING_ROOM);
    append_number(out, rounded / scale, units->decimals);
    sm_text_printf(out, " %s", units->length);
}

static int64_t nearest_frame(sm_timecode_rate rate, sm_us us) {
    static const double per_second[] = {24.0, 25.0, 30000.0 / 1001.0, 30.0};
    static_assert(sizeof per_second / sizeof per_second[0] == SM_TC_COUNT, "a figure for each rate");
    return llround((double)us * per_second[rate] / (double)SM_US_PER_S);
}

static void append_moment(const check_units *units, sm_us us, sm_text *out) {
    const sm_us span = us < 0 ? -us : us;
    const double seconds = (double)(span % (60 * SM_US_PER_S)) / (double)SM_US_PER_S;
    const long long minutes = (long long)(span / (60 * SM_US_PER_S));
    const char *sign = us < 0 ? "-" : "";
    int hh, mm, ss, ff;
    switch (units->moment) {
    case MOMENT_SECONDS:
        append_number(out, (double)us / (double)SM_US_PER_S, 6);
        sm_text_printf(out, " s");
        break;
    case MOMENT_MINUTES:
        sm_text_printf(out, "%s%lld:%06.3f", sign, minutes, floor(seconds * 1000.0) / 1000.0);
        break;
    case MOMENT_HOURS:
        sm_text_printf(out, "%s%lld:%02lld:%06.3f", sign, minutes / 60, minutes % 60,
                       floor(seconds * 1000.0) / 1000.0);
        break;
    case MOMENT_TIMECODE:
        sm_timecode_from_frames(units->timecode->rate, units->timecode->drop,
                                units->timecode->start_frames + nearest_frame(units->timecode->rate, us), &hh,
                                &mm, &ss, &ff);
        sm_text_printf(out, "%02d:%02d:%02d%c%02d", hh, mm, ss, units->timecode->drop ? ';' : ':', ff);
        break;
    }
}

static void append_span(sm_us us, sm_text *out) {
    if (us > -SM_US_PER_S && us < SM_US_PER_S) {
        append_number(out, (double)us / 1000.0, 3);
        sm_text_printf(out, " ms");
    } else {
        append_number(out, (double)us / (double)SM_US_PER_S, 3);
        sm_text_printf(out, " s");
    }
}

static void append_figure(const check_units *units, figure_kind kind, double value, sm_text *out) {
    switch (kind) {
    case FIGURE_FOUND:
    case FIGURE_NEEDED:
        append_length(units, value, kind == FIGURE_NEEDED, out);
        break;
    case FIGURE_MOMENT:
        append_moment(units, (sm_us)value, out);
        break;
    case FIGURE_SPAN:
        append_span((sm_us)value, out);
        break;
    case FIGURE_AMPS:
        append_number(out, check_units_value(units, kind, value), units->amps[0] == 'm' ? 1 : 3);
        sm_text_printf(out, " %s", units->amps);
        break;
    case FIGURE_PLAIN:
        break;
    }
}

void check_units_render(const check_units *units, const char *message, sm_text *out) {
    const char *mark;
    while ((mark = strchr(message, '\001'))) {
        sm_text_append(out, message, (size_t)(mark - message));
        const char *end = strchr(mark, '\002');
        if (!end || mark[1] == '\0')
            return;
        append_figure(units, (figure_kind)mark[1], strtod(mark + 2, NULL), out);
        message = end + 1;
    }
    sm_text_append(out, message, strlen(message));
}

double check_units_value(const check_units *units, figure_kind kind, double value) {
    switch (kind) {
    case FIGURE_FOUND:
    case FIGURE_NEEDED:
        return value / units->metres;
    case FIGURE_MOMENT:
    case FIGURE_SPAN:
        return value / (double)SM_US_PER_S;
    case FIGURE_AMPS:
        return units->amps[0] == 'm' ? value * 1000.0 : value;
    case FIGURE_PLAIN:
        break;
    }
    return value;
}

const char *check_units_name(const check_units *units, figure_kind kind, const char *otherwise) {
    switch (kind) {
    case FIGURE_FOUND:
    case FIGURE_NEEDED:
        return units->length;
    case FIGURE_MOMENT:
    case FIGURE_SPAN:
        return "s";
    case FIGURE_AMPS:
        return units->amps;
    case FIGURE_PLAIN:
        break;
    }
    return otherwise;
}
