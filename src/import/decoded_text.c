// SPDX-License-Identifier: GPL-3.0-or-later
#include "import/decoded_text.h"

#include <errno.h>
#include <iconv.h>
#include <string.h>

// ---- encoding -------------------------------------------------------------------------

static bool is_utf8(const char *bytes, size_t length) {
    for (size_t at = 0, step; at < length; at += step) {
        step = (unsigned char)bytes[at] < 0x80 ? 1 : sm_utf8_length(bytes + at, length - at);
        if (step == 0)
            return false;
    }
    return true;
}

// Decodes from ENCODING; SM_INVALID where the bytes are none, SM_NOT_FOUND where nobody knows that encoding.
static sm_result decode(const char *encoding, const char *bytes, size_t length, sm_arena *arena,
                        import_text *out) {
    iconv_t by = iconv_open("UTF-8", encoding);
    if (by == (iconv_t)-1)
        return SM_NOT_FOUND;
    // No character of two bytes or of one becomes more than three, none of four more than four.
    size_t in_left = length, room = length * 3 + 4, out_left = room;
    char *const made = sm_arena_alloc(arena, room);
    char *in = made ? sm_arena_text(arena, bytes, length) : NULL, *to = made;
    sm_result result = in ? SM_OK : SM_NO_MEMORY;
    if (in && iconv(by, &in, &in_left, &to, &out_left) == (size_t)-1)
        result = SM_INVALID;
    iconv_close(by);
    if (result != SM_OK)
        return result;
    const size_t mark = room - out_left >= 3 && memcmp(made, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
    out->bytes = made + mark;
    out->length = room - out_left - mark;
    out->encoding = encoding;
    return SM_OK;
}

// What the bytes themselves say; NULL: nothing.
static const char *marked(const char *bytes, size_t length, const char **how) {
    *how = "by its byte order mark";
    if (length >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0)
        return "UTF-8";
    if (length >= 2 && (memcmp(bytes, "\xFF\xFE", 2) == 0 || memcmp(bytes, "\xFE\xFF", 2) == 0))
        return "UTF-16";
    *how = "by its zero bytes";
    if (length >= 4 && bytes[0] != '\0' && bytes[1] == '\0' && bytes[3] == '\0')
        return "UTF-16LE";
    if (length >= 4 && bytes[0] == '\0' && bytes[1] != '\0' && bytes[2] == '\0')
        return "UTF-16BE";
    *how = "by what decodes";
    return is_utf8(bytes, length) ? "UTF-8" : NULL;
}

static sm_result read_encoding(const char *bytes, size_t length, const import_map *map, sm_arena *arena,
                               import_text *out) {
    const char *const told = import_map_value(map, IMPORT_KEY_ENCODING, NULL);
    const char *const seen = told ? told : marked(bytes, length, &out->encoding_known);
    if (told)
        out->encoding_known = "by the map";
    sm_result result = decode(seen ? seen : "CP1252", bytes, length, arena, out);
    if (!seen && result == SM_OK)
        out->encoding = "Windows-1252";
    else if (!seen && result == SM_INVALID)
        result = decode("ISO-8859-1", bytes, length, arena, out);
    if (result == SM_NOT_FOUND)
        out->why = "the encoding that the map names is not known here";
    else if (result == SM_INVALID)
        out->why = "its bytes are not of the encoding that the map names, or that they begin with";
    return result == SM_NO_MEMORY ? SM_NO_MEMORY : SM_OK;
}

// ---- separator --------------------------------------------------------------------------

enum { ROWS_LOOKED_AT = 200, CELLS_COUNTED = 64 };

typedef struct parting {
    uint32_t rows, cells; // how many of the first rows have so many cells, more than one, as most have
} parting;

static parting part(const import_text *text, char separator) {
    uint32_t counts[CELLS_COUNTED] = {0};
    parting best = {0};
    size_t cells = 1, rows = 0;
    bool is_quoted = false;
    for (size_t at = 0; at < text->length && rows < ROWS_LOOKED_AT; at++) {
        const char c = text->bytes[at];
        is_quoted = c == '"' ? !is_quoted : is_quoted;
        cells += c == separator && !is_quoted;
        if ((c != '\n' || is_quoted) && at + 1 < text->length)
            continue;
        counts[cells < CELLS_COUNTED ? cells : CELLS_COUNTED - 1]++;
        cells = 1;
        rows++;
    }
    for (uint32_t i = 2; i < CELLS_COUNTED; i++)
        if (counts[i] >= best.rows && counts[i] > 0)
            best = (parting){counts[i], i};
    return best;
}

static void find_separator(import_text *text, const import_map *map) {
    static const char separators[] = {',', ';', '\t', '|'}; // ORDER of the words of the key
    const unsigned told = map->chosen[IMPORT_KEY_SEPARATOR];
    if (told < sizeof separators) {
        text->separator = separators[told];
        text->separator_known = "by the map";
        return;
    }
    if (text->length > 5 && memcmp(text->bytes, "sep=", 4) == 0) {
        text->separator = text->bytes[4];
        text->separator_known = "by its first line";
        return;
    }
    parting found[sizeof separators];
    uint32_t rows = 0, cells = 0;
    for (size_t i = 0; i < sizeof separators; i++) {
        found[i] = part(text, separators[i]);
        rows = found[i].rows > rows ? found[i].rows : rows;
    }
    text->separator_known = "by what parts its rows alike";
    for (size_t i = 0; i < sizeof separators; i++) {
        if (found[i].rows * 5 < rows * 4 || found[i].cells < cells || rows == 0)
            continue;
        text->separator = found[i].cells == cells ? '\0' : separators[i]; // two that do as well
        cells = found[i].cells;
    }
}

sm_result import_text_read(const char *bytes, size_t length, const import_map *map, sm_arena *arena,
                           import_text *out) {
    *out = (import_text){0};
    const sm_result result = read_encoding(bytes, length, map, arena, out);
    if (result != SM_OK || out->why)
        return result;
    if (memchr(out->bytes, '\0', out->length))
        out->why = "it holds zero bytes and is no text";
    find_separator(out, map);
    return SM_OK;
}
