// SPDX-License-Identifier: GPL-3.0-or-later
#include "check/source.h"

#include <stdlib.h>
#include <string.h>

sm_result check_source_init(check_source *source, const char *folder, const char *file) {
    *source = (check_source){.line = 1};
    sm_text path = {0};
    sm_text_printf(&path, "%s/%s", folder, file);
    sm_result result = path.failed ? SM_NO_MEMORY : sm_file_read(path.bytes, &source->bytes, &source->length);
    sm_text_deinit(&path);
    if (result != SM_OK)
        source->bytes = NULL;
    else if (source->length >= 3 && memcmp(source->bytes, "\xEF\xBB\xBF", 3) == 0)
        source->at = 3;
    return result == SM_UNREADABLE ? SM_OK : result;
}

void check_source_deinit(check_source *source) {
    free(source->bytes);
    source->bytes = NULL;
}

check_piece check_source_line(check_source *source, uint32_t line) {
    if (source->bytes == NULL || line < source->line)
        return (check_piece){0};
    while (source->line < line) {
        const char *end = memchr(source->bytes + source->at, '\n', source->length - source->at);
        if (end == NULL)
            return (check_piece){0};
        source->at = (size_t)(end - source->bytes) + 1;
        source->line++;
    }
    const char *begin = source->bytes + source->at;
    const char *end = memchr(begin, '\n', source->length - source->at);
    size_t length = end != NULL ? (size_t)(end - begin) : source->length - source->at;
    while (length > 0 && begin[length - 1] == '\r')
        length--;
    return (check_piece){begin, length};
}

// Bytes in the first COUNT characters of a line; its length where it has fewer.
static size_t skip_characters(check_piece line, uint32_t count) {
    size_t at = 0;
    while (count-- > 0 && at < line.length) {
        const size_t step = sm_utf8_length(line.bytes + at, line.length - at);
        at += step > 0 ? step : 1;
    }
    return at;
}

static size_t cell_length(const char *bytes, size_t length) {
    if (length > 0 && bytes[0] == '"') {
        size_t end = 1;
        while (end < length && (bytes[end] != '"' || (end + 1 < length && bytes[end + 1] == '"')))
            end += bytes[end] == '"' ? 2 : 1;
        return end < length ? end + 1 : length;
    }
    const char *comma = memchr(bytes, ',', length);
    size_t end = comma != NULL ? (size_t)(comma - bytes) : length;
    while (end > 0 && (bytes[end - 1] == ' ' || bytes[end - 1] == '\t'))
        end--;
    return end;
}

check_piece check_line_cell(check_piece line, uint32_t column, bool ini) {
    if (column == 0 || line.length == 0)
        return (check_piece){0};
    const size_t at = skip_characters(line, column - 1);
    if (at >= line.length)
        return (check_piece){0};
    const size_t left = line.length - at;
    return (check_piece){line.bytes + at, ini ? left : cell_length(line.bytes + at, left)};
}

static bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

static size_t skip_blanks(check_piece line, size_t at) {
    while (at < line.length && is_blank(line.bytes[at]))
        at++;
    return at;
}

// True where LINE reads "[SECTION]".
static bool names_section(check_piece line, const char *section) {
    const size_t length = strlen(section);
    return line.length >= length + 2 && line.bytes[0] == '[' && line.bytes[length + 1] == ']' &&
           memcmp(line.bytes + 1, section, length) == 0;
}

// Where the value begins, in bytes, when LINE reads "KEY = value"; 0 otherwise.
static size_t value_of_key(check_piece line, const char *key) {
    const size_t length = strlen(key);
    if (line.length <= length || memcmp(line.bytes, key, length) != 0)
        return 0;
    const size_t equals = skip_blanks(line, length);
    if (equals >= line.length || line.bytes[equals] != '=')
        return 0;
    return skip_blanks(line, equals + 1);
}

bool check_source_find_key(const check_source *source, const char *section, const char *key, uint32_t *line,
                           uint32_t *column) {
    check_source walk = *source;
    bool inside = false;
    for (uint32_t number = walk.line; walk.bytes != NULL; number++) {
        const check_piece text = check_source_line(&walk, number);
        if (text.bytes == NULL)
            break;
        if (text.length > 0 && text.bytes[0] == '[')
            inside = names_section(text, section);
        const size_t value = inside ? value_of_key(text, key) : 0;
        if (value > 0) {
            *line = number;
            *column = (uint32_t)sm_utf8_count(text.bytes, value) + 1;
            return true;
        }
    }
    return false;
}
