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
    if (!source->bytes || line < source->line)
        return (check_piece){0};
    while (source->line < line) {
        const char *end = memchr(source->bytes + source->at, '\n', source->length - source->at);
        if (!end)
            return (check_piece){0};
        source->at = (size_t)(end - source->bytes) + 1;
        source->line++;
    }
    const char *begin = source->bytes + source->at;
    const char *end = memchr(begin, '\n', source->length - source->at);
    size_t length = end ? (size_t)(end - begin) : source->length - source->at;
    while (length > 0 && begin[length - 1] == '\r')
        length--;
    return (check_piece){begin, length};
}

size_t check_piece_bytes(check_piece line, size_t count) {
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
    size_t end = comma ? (size_t)(comma - bytes) : length;
    while (end > 0 && (bytes[end - 1] == ' ' || bytes[end - 1] == '\t'))
        end--;
    return end;
}

check_piece check_line_cell(check_piece line, uint32_t column, bool ini) {
    if (column == 0 || line.length == 0)
        return (check_piece){0};
    const size_t at = check_piece_bytes(line, column - 1);
    if (at >= line.length)
        return (check_piece){0};
    const size_t left = line.length - at;
    return (check_piece){line.bytes + at, ini ? left : cell_length(line.bytes + at, left)};
}
