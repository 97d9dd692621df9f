// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/base.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void sm_text_deinit(sm_text *text) {
    if (!text->lent)
        free(text->bytes);
    *text = (sm_text){0};
}

void sm_text_clear(sm_text *text) {
    text->length = 0;
    text->failed = false;
    if (text->bytes)
        text->bytes[0] = '\0';
}

// Makes room for LENGTH more bytes and the NUL.
static bool reserve(sm_text *text, size_t length) {
    if (text->failed)
        return false;
    if (length < text->capacity - text->length)
        return true;
    // Half the address space: so that doubling cannot overflow.
    if (length >= PTRDIFF_MAX / 2 - text->length) {
        text->failed = true;
        return false;
    }
    size_t capacity = text->capacity > 0 ? text->capacity : 64;
    while (capacity <= text->length + length)
        capacity *= 2;
    char *const bytes = realloc(text->lent ? NULL : text->bytes, capacity);
    if (!bytes) {
        text->failed = true;
        return false;
    }
    if (text->lent)
        memcpy(bytes, text->bytes, text->length + 1);
    text->lent = false;
    text->bytes = bytes;
    text->capacity = capacity;
    return true;
}

void sm_text_reserve(sm_text *text, size_t length) {
    if (reserve(text, length))
        text->bytes[text->length] = '\0';
}

// Undoes what was appended after START if one of several appends failed.
static void keep_whole(sm_text *text, size_t start) {
    if (!text->failed || !text->bytes)
        return;
    text->length = start;
    text->bytes[start] = '\0';
}

void sm_text_append(sm_text *text, const char *bytes, size_t length) {
    if (!reserve(text, length))
        return;
    if (length > 0)
        memcpy(text->bytes + text->length, bytes, length);
    text->length += length;
    text->bytes[text->length] = '\0';
}

void sm_text_vprintf(sm_text *text, const char *format, va_list args) {
    if (text->failed)
        return;
    va_list again;
    va_copy(again, args);
    const size_t room = text->capacity - text->length;
    const int length = vsnprintf(room > 0 ? text->bytes + text->length : NULL, room, format, args);
    if (length < 0) {
        text->failed = true;
    } else if ((size_t)length < room) {
        text->length += (size_t)length;
    } else if (reserve(text, (size_t)length)) {
        vsnprintf(text->bytes + text->length, (size_t)length + 1, format, again);
        text->length += (size_t)length;
    }
    va_end(again);
    keep_whole(text, text->length);
}

void sm_text_printf(sm_text *text, const char *format, ...) {
    va_list args;
    va_start(args, format);
    sm_text_vprintf(text, format, args);
    va_end(args);
}

const char *sm_text_get(const sm_text *text) {
    return text->bytes ? text->bytes : "";
}

void sm_text_append_shown(sm_text *out, const char *bytes, size_t length, const char *kept) {
    for (size_t at = 0; at < length;) {
        const size_t run = sm_text_harmless(bytes + at, length - at, kept);
        sm_text_append(out, bytes + at, run);
        at += run;
        if (at == length)
            return;
        const size_t step = sm_utf8_length(bytes + at, length - at);
        if (step == 0)
            sm_text_append(out, "\xEF\xBF\xBD", 3);
        else if (step == 3)
            sm_text_printf(out, "\\u%04x", sm_utf8_number(bytes + at, step));
        else
            sm_text_printf(out, "\\x%02x", sm_utf8_number(bytes + at, step));
        at += step > 0 ? step : 1;
    }
}

static bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

void sm_text_append_csv(sm_text *text, const char *field) {
    const size_t length = strlen(field);
    const bool has_edge = length > 0 && (is_blank(field[0]) || is_blank(field[length - 1]));
    if (!has_edge && strcspn(field, ",\"\r\n") == length) {
        sm_text_append(text, field, length);
        return;
    }
    const size_t start = text->length;
    sm_text_append(text, "\"", 1);
    for (const char *rest = field;;) {
        const size_t run = strcspn(rest, "\"");
        sm_text_append(text, rest, run);
        if (rest[run] == '\0')
            break;
        sm_text_append(text, "\"\"", 2);
        rest += run + 1;
    }
    sm_text_append(text, "\"", 1);
    keep_whole(text, start);
}

static size_t span(const char *field, size_t length, const char *of) {
    size_t at = 0;
    while (at < length && field[at] != '\0' && strchr(of, field[at]))
        at++;
    return at;
}

// Digits with points, colons and semicolons between, and perhaps a minus sign: no formula.
static bool is_plain_number(const char *field, size_t length) {
    const size_t sign = *field == '-';
    return length > sign && isdigit((unsigned char)field[sign]) &&
           span(field + sign, length - sign, "0123456789.:;") == length - sign;
}

// An apostrophe that the text has itself hides no formula either, so that what is written can be read back.
static bool runs_as_formula(const char *field, size_t length) {
    if (length == 0 || isalnum((unsigned char)*field)) // most fields
        return false;
    const size_t before = span(field, length, " \t\r\n'");
    return span(field + before, length - before, "=+-@") > 0 &&
           !is_plain_number(field + before, length - before);
}

void sm_text_append_csv_shown(sm_text *text, const char *field) {
    static const char kept[] = "\t\n";
    const size_t length = strlen(field);
    const bool runs = runs_as_formula(field, length);
    if (!runs && sm_text_harmless(field, length, kept) == length) {
        sm_text_append_csv(text, field);
        return;
    }
    sm_text guarded = {0};
    sm_text_append(&guarded, "'", runs);
    sm_text_append_shown(&guarded, field, length, kept);
    sm_text_append_csv(text, sm_text_get(&guarded));
    text->failed = text->failed || guarded.failed;
    sm_text_deinit(&guarded);
}

size_t sm_csv_guard(const char *field, size_t length) {
    return length > 0 && *field == '\'' && runs_as_formula(field + 1, length - 1);
}

// What a terminal would obey goes as an escape, so that a line of JSON can be looked at.
static void append_json_harm(sm_text *text, const char *bytes, size_t length) {
    const unsigned char c = (unsigned char)bytes[0];
    static const char shorts[][3] = {
        ['\b'] = "\\b", ['\t'] = "\\t", ['\n'] = "\\n", ['\f'] = "\\f", ['\r'] = "\\r",
    };
    if (c < sizeof shorts / sizeof shorts[0] && shorts[c][0] != '\0')
        sm_text_append(text, shorts[c], 2);
    else
        sm_text_printf(text, "\\u%04x", sm_utf8_number(bytes, length));
}

void sm_text_append_json(sm_text *text, const char *string) {
    const size_t start = text->length;
    size_t left = strlen(string);
    sm_text_append(text, "\"", 1);
    while (left > 0) {
        const unsigned char c = (unsigned char)*string;
        size_t step = sm_utf8_length(string, left);
        if (step == 0) {
            sm_text_append(text, "\xEF\xBF\xBD", 3);
            step = 1;
        } else if (c == '"' || c == '\\') {
            sm_text_append(text, (const char[]){'\\', (char)c}, 2);
        } else if (sm_utf8_harmless(string, left) == 0) {
            append_json_harm(text, string, step);
        } else {
            sm_text_append(text, string, step);
        }
        string += step;
        left -= step;
    }
    sm_text_append(text, "\"", 1);
    keep_whole(text, start);
}
