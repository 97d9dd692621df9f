// SPDX-License-Identifier: GPL-3.0-or-later
#include "show/spreadsheet.h"

#include <ctype.h>
#include <string.h>
#include <strings.h>

// ---- whole files -----------------------------------------------------------------

static bool begins(const char *bytes, size_t length, const char *with, size_t with_length) {
    return length >= with_length && memcmp(bytes, with, with_length) == 0;
}

static bool is_utf16(const char *bytes, size_t length) {
    if (begins(bytes, length, "\xFF\xFE", 2) || begins(bytes, length, "\xFE\xFF", 2))
        return true;
    return length >= 4 && (bytes[0] == '\0') != (bytes[1] == '\0') &&
           (bytes[0] == '\0') == (bytes[2] == '\0') && (bytes[1] == '\0') == (bytes[3] == '\0');
}

static bool is_column(const sm_table_schema *schema, const char *name, size_t length) {
    for (size_t i = 0; i < schema->column_count; i++)
        if (strlen(schema->columns[i].name) == length && memcmp(schema->columns[i].name, name, length) == 0)
            return true;
    return false;
}

// How many cells of the line name a column when SEPARATOR parts them; quotes and blanks round a name are passed over.
static size_t count_columns(const sm_table_schema *schema, const char *line, size_t length, char separator) {
    size_t found = 0;
    for (size_t at = 0; at <= length; at++) {
        const char *const stop = memchr(line + at, separator, length - at);
        size_t begin = at, end = stop ? (size_t)(stop - line) : length;
        at = end;
        while (begin < end && strchr(" \t\r\"", line[begin]))
            begin++;
        while (begin < end && strchr(" \t\r\"", line[end - 1]))
            end--;
        found += begin < end && is_column(schema, line + begin, end - begin);
    }
    return found;
}

// The first line that is neither blank nor a comment; its length, 0 where there is none.
static size_t find_header(const char *bytes, size_t length, const char **line) {
    for (size_t at = 0; at < length;) {
        const char *const stop = memchr(bytes + at, '\n', length - at);
        const size_t end = stop ? (size_t)(stop - bytes) : length;
        size_t begin = at;
        while (begin < end && isspace((unsigned char)bytes[begin]))
            begin++;
        *line = bytes + begin;
        if (begin < end && bytes[begin] != '#' && !begins(bytes + begin, end - begin, "\"#", 2))
            return end - begin;
        at = end + 1;
    }
    return 0;
}

const char *sm_spreadsheet_refuse(const sm_table_schema *schema, const char *bytes, size_t length,
                                  const char **rule) {
    static const struct {
        char separator;
        const char *text;
    } others[] = {
        {';',
         "the cells of this table stand between semicolons; save it as CSV with commas (in the spreadsheet: "
         "\"field delimiter\", or a system setting that writes 1.5 and not 1,5), decimals with a point"},
        {'\t', "the cells of this table stand between tabs; save it as CSV with commas"},
        {'|', "the cells of this table stand between upright bars; save it as CSV with commas"},
    };
    const char *line;
    *rule = "text";
    if (is_utf16(bytes, length))
        return "this text is UTF-16 (some spreadsheets call it \"Unicode text\"), not UTF-8; save it as "
               "\"CSV UTF-8\"";
    if (begins(bytes, length, "PK\x03\x04", 4))
        return "this is a spreadsheet's own file (or another archive), not CSV; save it as \"CSV UTF-8\", or "
               "read it by "
               "slowmatch import";
    *rule = "csv";
    const size_t header = find_header(bytes, length, &line);
    for (size_t i = 0; header > 0 && i < sizeof others / sizeof others[0]; i++) {
        const size_t found = count_columns(schema, line, header, others[i].separator);
        if (found > 1 && found > count_columns(schema, line, header, ','))
            return others[i].text;
    }
    return NULL;
}

// ---- cells -----------------------------------------------------------------------

static size_t count_digits(const char *text, size_t length) {
    size_t count = 0;
    while (count < length && text[count] >= '0' && text[count] <= '9')
        count++;
    return count;
}

bool sm_spreadsheet_comma(const char *text, size_t length, char out[64]) {
    const char *const comma = memchr(text, ',', length);
    if (!comma || length > 63 || memchr(text, '.', length) || comma == text ||
        !isdigit((unsigned char)comma[-1]))
        return false;
    const size_t at = (size_t)(comma - text);
    if (count_digits(comma + 1, length - at - 1) == 0 || memchr(comma + 1, ',', length - at - 1))
        return false;
    memcpy(out, text, length);
    out[at] = '.';
    out[length] = '\0';
    return true;
}

static bool is_month(const char *text, size_t length) {
    static const char names[] = "jan feb mar apr may jun jul aug sep oct nov dec ";
    for (const char *name = names; *name != '\0'; name += 4)
        if (length >= 3 && length <= 4 && strncasecmp(name, text, 3) == 0)
            return true;
    return false;
}

// "12-Mar", "Mar-12", "Mar 12": a month's name beside a number.
static bool has_month(const char *text, size_t length) {
    const size_t first = strcspn(text, "-/. ");
    if (first >= length)
        return false;
    const char *const second = text + first + 1;
    const size_t rest = length - first - 1, word = strcspn(second, "-/. ");
    const size_t second_length = word < rest ? word : rest;
    const bool is_day_first = count_digits(text, first) == first && first <= 2;
    return (is_day_first && is_month(second, second_length)) ||
           (is_month(text, first) && rest > 0 && count_digits(second, rest) == rest);
}

// "2026-03-12", "12/03/2026", "12.3.26", and what may follow after a blank or a T.
static bool is_numeric_date(const char *text, size_t length) {
    size_t parts[3], at = 0;
    for (size_t i = 0; i < 3; i++) {
        parts[i] = count_digits(text + at, length - at);
        at += parts[i];
        if (parts[i] == 0 || (i < 2 && (at >= length || !strchr("-/.", text[at]))))
            return false;
        at += i < 2;
    }
    const bool is_end = at == length || text[at] == ' ' || text[at] == 'T';
    return is_end && ((parts[0] == 4 && parts[1] <= 2 && parts[2] <= 2) ||
                      (parts[0] <= 2 && parts[1] <= 2 && (parts[2] == 2 || parts[2] == 4)));
}

bool sm_spreadsheet_is_date(const char *text, size_t length) {
    char copy[32];
    if (length >= sizeof copy)
        return false;
    memcpy(copy, text, length);
    copy[length] = '\0';
    return has_month(copy, length) || is_numeric_date(copy, length);
}
