// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/base.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum { FIELDS_MAX = 4, DECIMALS_MAX = 6 };

// The fields of a moment's text: digits with ':' or ';' between, decimals after the last.
typedef struct fields {
    int64_t values[FIELDS_MAX];
    size_t digits[FIELDS_MAX];
    char separators[FIELDS_MAX]; // the one before the field
    size_t count;
    bool is_negative;
    bool has_point;
    int64_t fraction_us;
} fields;

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

// Reads the decimals after the point at *at. None to six, but a point asks for one.
static bool read_fraction(const char *text, size_t length, size_t *at, fields *out) {
    size_t digits = 0;
    out->has_point = true;
    for (; *at < length && is_digit(text[*at]); (*at)++, digits++) {
        if (digits == DECIMALS_MAX)
            return false;
        out->fraction_us = out->fraction_us * 10 + (text[*at] - '0');
    }
    for (size_t i = digits; i < DECIMALS_MAX; i++)
        out->fraction_us *= 10;
    return digits > 0;
}

static bool read_fields(const char *text, size_t length, fields *out) {
    size_t at = 0;
    char separator = '\0';
    *out = (fields){0};
    if (length > 0 && text[0] == '-') {
        out->is_negative = true;
        at = 1;
    }
    for (;;) {
        if (out->count == FIELDS_MAX)
            return false;
        const size_t begin = at;
        int64_t value = 0;
        for (; at < length && is_digit(text[at]); at++)
            if (value <= SM_US_MAX) // larger is out of range whatever follows
                value = value * 10 + (text[at] - '0');
        out->values[out->count] = value;
        out->digits[out->count] = at - begin;
        out->separators[out->count] = separator;
        out->count++;
        if (at < length && text[at] == '.') {
            at++;
            return read_fraction(text, length, &at, out) && at == length;
        }
        if (at == length)
            return true;
        separator = text[at++];
        if (separator != ':' && separator != ';')
            return false;
    }
}

static bool is_pair(const fields *read, size_t index, int64_t below) {
    return read->digits[index] == 2 && read->values[index] < below;
}

// "HH:MM:SS:FF" or "HH:MM:SS;FF": two digits each, no sign, no decimals.
static sm_result fields_to_frames(const fields *read, sm_timecode_rate rate, bool *drop, int64_t *out) {
    if (read->count != 4 || read->is_negative || read->has_point || read->separators[1] != ':' ||
        read->separators[2] != ':')
        return SM_INVALID;
    for (size_t i = 0; i < 4; i++)
        if (!is_pair(read, i, 100))
            return SM_INVALID;
    const bool is_drop = read->separators[3] == ';';
    const sm_result result = sm_timecode_to_frames(rate, is_drop, (int)read->values[0], (int)read->values[1],
                                                   (int)read->values[2], (int)read->values[3], out);
    if (result == SM_OK)
        *drop = is_drop;
    return result;
}

sm_result sm_timecode_read(const char *text, size_t length, sm_timecode_rate rate, bool *drop,
                           int64_t *frames) {
    fields read;
    if (!read_fields(text, length, &read))
        return SM_INVALID;
    return fields_to_frames(&read, rate, drop, frames);
}

// Seconds, minutes and seconds, or hours, minutes and seconds.
static sm_result clock_us(const fields *read, sm_us *out) {
    // Seconds alone may be ".5", as numbers may.
    if (read->digits[0] == 0 && !(read->count == 1 && read->has_point))
        return SM_INVALID;
    int64_t seconds = read->values[0];
    if (seconds > SM_US_MAX / SM_US_PER_S)
        return SM_OUT_OF_RANGE;
    for (size_t i = 1; i < read->count; i++) {
        if (read->separators[i] != ':' || !is_pair(read, i, 60))
            return SM_INVALID;
        seconds = seconds * 60 + read->values[i];
    }
    if (seconds > SM_US_MAX / SM_US_PER_S)
        return SM_OUT_OF_RANGE;
    const sm_us us = seconds * SM_US_PER_S + read->fraction_us;
    if (us > SM_US_MAX)
        return SM_OUT_OF_RANGE;
    *out = read->is_negative ? -us : us;
    return SM_OK;
}

sm_result sm_moment_read(const char *text, size_t length, const sm_moment_base *base, sm_us *out) {
    fields read;
    if (!read_fields(text, length, &read))
        return SM_INVALID;
    if (read.count < 4)
        return clock_us(&read, out);
    bool drop;
    int64_t frames;
    const sm_result result = fields_to_frames(&read, base->rate, &drop, &frames);
    if (result != SM_OK)
        return result;
    // Drop-frame and non-drop numbers count differently: one show has one way of counting.
    if (drop != base->drop)
        return SM_INVALID;
    *out = sm_timecode_frames_us(base->rate, frames - base->start_frames);
    return SM_OK;
}

static uint64_t magnitude(int64_t value) {
    return value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
}

char *sm_us_format(char buffer[24], sm_us us) {
    const uint64_t size = magnitude(us);
    snprintf(buffer, 24, "%s%" PRIu64 ".%06" PRIu64, us < 0 ? "-" : "", size / (uint64_t)SM_US_PER_S,
             size % (uint64_t)SM_US_PER_S);
    return buffer;
}

char *sm_clock_format(char buffer[24], sm_us us) {
    const int64_t ms = us / 1000 - (us % 1000 < 0 ? 1 : 0);
    const uint64_t size = magnitude(ms);
    const uint64_t seconds = size / 1000;
    const char *const sign = ms < 0 ? "-" : "";
    const unsigned thousandths = (unsigned)(size % 1000), low = (unsigned)(seconds % 60);
    if (seconds < 3600)
        snprintf(buffer, 24, "%s%u:%02u.%03u", sign, (unsigned)(seconds / 60), low, thousandths);
    else
        snprintf(buffer, 24, "%s%" PRIu64 ":%02u:%02u.%03u", sign, seconds / 3600,
                 (unsigned)(seconds / 60 % 60), low, thousandths);
    return buffer;
}

// ---- in the notation of another ------------------------------------------------

static sm_result write_timecode(const fields *like, const sm_moment_base *base, sm_us us, char buffer[32]) {
    int hours, minutes, seconds, frame;
    bool drop;
    int64_t frames = sm_timecode_nearest_frame(base->rate, us) + base->start_frames, again;
    sm_timecode_from_frames(base->rate, base->drop, frames, &hours, &minutes, &seconds, &frame);
    char text[32];
    const int length = snprintf(text, sizeof text, "%02d:%02d:%02d%c%02d", hours, minutes, seconds,
                                like->separators[3], frame);
    // A day later or earlier has the same number.
    if (sm_timecode_read(text, (size_t)length, base->rate, &drop, &again) != SM_OK || again != frames)
        return SM_OUT_OF_RANGE;
    memcpy(buffer, text, (size_t)length + 1);
    return SM_OK;
}

// As many decimals as LIKE has, and what US needs beyond.
static void write_fraction(const char *like, size_t length, uint64_t micro, char out[DECIMALS_MAX + 2]) {
    const char *const point = memchr(like, '.', length);
    size_t decimals = point ? length - (size_t)(point - like) - 1 : 0;
    char digits[24];
    snprintf(digits, sizeof digits, "%06" PRIu64, micro);
    for (size_t i = decimals; i < DECIMALS_MAX; i++)
        if (digits[i] != '0')
            decimals = i + 1;
    out[0] = '\0';
    if (decimals > 0)
        snprintf(out, DECIMALS_MAX + 2, ".%.*s", (int)decimals, digits);
}

static void write_clock(const fields *like, const char *fraction, sm_us us, char buffer[32]) {
    uint64_t rest = magnitude(us) / (uint64_t)SM_US_PER_S, parts[3] = {0};
    for (size_t i = like->count - 1; i > 0; i--) {
        parts[i] = rest % 60;
        rest /= 60;
    }
    int at = snprintf(buffer, 32, "%s%0*" PRIu64, us < 0 ? "-" : "", (int)like->digits[0], rest);
    for (size_t i = 1; i < like->count; i++)
        at += snprintf(buffer + at, 32 - (size_t)at, ":%02u", (unsigned)parts[i]);
    snprintf(buffer + at, 32 - (size_t)at, "%s", fraction);
}

sm_result sm_moment_write_like(const char *like, size_t length, const sm_moment_base *base, sm_us us,
                               char buffer[32]) {
    fields read;
    sm_us was;
    char fraction[DECIMALS_MAX + 2];
    const sm_result result = sm_moment_read(like, length, base, &was);
    if (result != SM_OK || !read_fields(like, length, &read))
        return result;
    if (us < -SM_US_MAX || us > SM_US_MAX)
        return SM_OUT_OF_RANGE;
    if (read.count == FIELDS_MAX)
        return write_timecode(&read, base, us, buffer);
    if (read.digits[0] > 12)
        read.digits[0] = 12;
    write_fraction(like, length, magnitude(us) % (uint64_t)SM_US_PER_S, fraction);
    write_clock(&read, fraction, us, buffer);
    return SM_OK;
}
