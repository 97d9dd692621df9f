// SPDX-License-Identifier: GPL-3.0-or-later
#include "import/work.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

// The fields of a time's text: digits with ':' or ';' between, and decimals after the last.
typedef struct fields {
    int64_t values[4];
    size_t count;
    sm_us fraction_us;
    bool is_negative, has_fraction, has_comma, is_drop;
} fields;

// To the nearest microsecond by the first nine decimals.
static const char *read_fraction(const char *text, fields *out) {
    int64_t nanoseconds = 0;
    size_t digits = 0;
    for (; isdigit((unsigned char)*text); text++, digits++)
        if (digits < 9)
            nanoseconds = nanoseconds * 10 + (*text - '0');
    for (size_t i = digits; i < 9; i++)
        nanoseconds *= 10;
    out->fraction_us = (nanoseconds + 500) / 1000;
    out->has_fraction = true;
    return digits > 0 ? text : NULL;
}

static bool read_fields(const char *text, fields *out) {
    *out = (fields){.is_negative = *text == '-'};
    text += out->is_negative;
    for (;;) {
        int64_t value = 0;
        size_t digits = 0;
        for (; isdigit((unsigned char)*text) && digits < 12; text++, digits++)
            value = value * 10 + (*text - '0');
        if (digits == 0 || out->count == 4)
            return false;
        out->values[out->count++] = value;
        if (*text == '\0')
            return true;
        if (*text == '.' || *text == ',') {
            out->has_comma = *text == ',';
            text = read_fraction(text + 1, out);
            return text && *text == '\0';
        }
        if (*text != ':' && (*text != ';' || out->count != 3))
            return false;
        out->is_drop = *text++ == ';';
    }
}

// Fields after the first are below 60.
static bool clock_us(const fields *from, size_t count, sm_us *out) {
    int64_t seconds = from->values[0];
    for (size_t i = 1; i < count; i++) {
        if (from->values[i] >= 60)
            return false;
        seconds = seconds * 60 + from->values[i];
    }
    if (seconds > SM_US_MAX / SM_US_PER_S)
        return false;
    *out = seconds * SM_US_PER_S;
    return true;
}

static bool frames_us(const fields *from, size_t count, sm_timecode_rate rate, sm_us *out) {
    static const int nominal[SM_TC_COUNT] = {24, 25, 30, 30};
    const int64_t *const v = from->values;
    int64_t frames;
    if (from->count != count || from->has_fraction ||
        v[count - 1] >= (count == 1 ? INT64_C(100000000) : nominal[rate]))
        return false;
    if (count == 1)
        frames = v[0];
    else if (count == 2)
        frames = v[0] < 1000000 ? v[0] * nominal[rate] + v[1] : 0;
    else {
        const int64_t hours = count == 4 ? v[0] : v[0] / 60, minutes = count == 4 ? v[1] : v[0] % 60;
        if (hours > 23 || minutes > 59 || v[count - 2] > 59 ||
            sm_timecode_to_frames(rate, from->is_drop, (int)hours, (int)minutes, (int)v[count - 2],
                                  (int)v[count - 1], &frames) != SM_OK)
            return false;
    }
    *out = sm_timecode_frames_us(rate, frames);
    return true;
}

// "1 min 2.5 s", "1m02s", "250 ms".
static bool units_us(const char *text, sm_us *out, bool *has_comma) {
    static const struct {
        const char *unit;
        sm_us us;
    } units[] = {{"ms", 1000},         {"min", 60 * SM_US_PER_S}, {"m", 60 * SM_US_PER_S},
                 {"sec", SM_US_PER_S}, {"s", SM_US_PER_S},        {"h", 3600 * SM_US_PER_S}};
    sm_us total = 0;
    const bool is_negative = *text == '-';
    for (text += is_negative; *text != '\0';) {
        fields read;
        char number[24] = "";
        const size_t length = strspn(text, "0123456789.,");
        if (length == 0 || length >= sizeof number)
            return false;
        memcpy(number, text, length);
        text += length;
        text += strspn(text, " ");
        const size_t letters = strcspn(text, " 0123456789.,-");
        size_t i = 0;
        while (i < 6 && (strlen(units[i].unit) != letters || strncmp(units[i].unit, text, letters) != 0))
            i++;
        if (i == 6 || !read_fields(number, &read) || read.count != 1 || read.values[0] > 100000000)
            return false;
        *has_comma = *has_comma || read.has_comma;
        total += read.values[0] * units[i].us + llround((double)read.fraction_us * (double)units[i].us / 1e6);
        text += letters;
        text += strspn(text, " ");
    }
    *out = is_negative ? -total : total;
    return true;
}

static bool days_us(const char *text, sm_us *out, bool *has_comma) {
    char number[48];
    if (strlen(text) >= sizeof number || text[strspn(text, "-0123456789.,")] != '\0')
        return false;
    memcpy(number, text, strlen(text) + 1);
    char *const comma = strchr(number, ',');
    if (comma) {
        *comma = '.';
        *has_comma = true;
    }
    char *end;
    const double days = strtod(number, &end);
    if (*end != '\0' || end == number || !(fabs(days) < 1000))
        return false;
    *out = llround(days * 86400e6);
    return true;
}

static bool fields_us(import_format format, sm_timecode_rate rate, const fields *read, sm_us *out) {
    const bool is_clock = !read->is_drop;
    switch (format) {
    case IMPORT_SECONDS:
        return read->count == 1 && clock_us(read, 1, out);
    case IMPORT_MILLISECONDS:
        *out = read->values[0] * 1000;
        return read->count == 1 && read->values[0] < INT64_C(100000000000);
    case IMPORT_M_S:
        return read->count == 2 && is_clock && clock_us(read, 2, out);
    case IMPORT_H_M_S:
        return (read->count == 2 || read->count == 3) && is_clock && clock_us(read, read->count, out);
    case IMPORT_M_S_AS_H_M:
        return read->count == 3 && is_clock && read->values[2] == 0 && !read->has_fraction &&
               clock_us(read, 2, out);
    case IMPORT_FRAMES:
        return frames_us(read, 1, rate, out);
    case IMPORT_S_FRAMES:
        return frames_us(read, 2, rate, out);
    case IMPORT_M_S_FRAMES:
        return frames_us(read, 3, rate, out);
    case IMPORT_H_M_S_FRAMES:
        return frames_us(read, 4, rate, out);
    default:
        return false;
    }
}

// READ is what the fields of TEXT are; NULL where they are none.
static bool time_us(import_format format, sm_timecode_rate rate, const char *text, const fields *read,
                    sm_us *out, bool *has_comma) {
    sm_us value;
    bool is_comma = false;
    if (format == IMPORT_UNITS) {
        if (!units_us(text, &value, &is_comma))
            return false;
    } else if (format == IMPORT_DAYS) {
        if (!days_us(text, &value, &is_comma))
            return false;
    } else {
        if (!read || !fields_us(format, rate, read, &value))
            return false;
        value += format == IMPORT_MILLISECONDS ? (read->fraction_us + 500) / 1000 : read->fraction_us;
        value = read->is_negative ? -value : value;
        is_comma = read->has_comma;
    }
    *out = value;
    *has_comma = *has_comma || is_comma;
    return true;
}

bool import_time_read(import_format format, sm_timecode_rate rate, const char *text, sm_us *out,
                      bool *has_comma) {
    fields read;
    return time_us(format, rate, text, read_fields(text, &read) ? &read : NULL, out, has_comma);
}

void import_time_read_all(sm_timecode_rate rate, const char *text, import_readings *out) {
    fields read;
    sm_us us;
    bool has_comma = false;
    const bool has_fields = read_fields(text, &read);
    *out = (import_readings){0};
    for (unsigned i = 0; i < IMPORT_FORMATS; i++)
        out->is_read[i] =
            time_us((import_format)i, rate, text, has_fields ? &read : NULL, &out->us[i], &has_comma);
    for (unsigned i = 0; has_fields && i < SM_TC_COUNT; i++)
        for (size_t count = 1; count <= 4; count++)
            out->is_frames[i] = out->is_frames[i] || frames_us(&read, count, (sm_timecode_rate)i, &us);
}
