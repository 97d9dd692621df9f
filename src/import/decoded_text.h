// SPDX-License-Identifier: GPL-3.0-or-later
// The bytes of a text file as UTF-8, and what parts its cells.
#ifndef SM_IMPORT_DECODED_TEXT_H
#define SM_IMPORT_DECODED_TEXT_H

#include "import/map.h"

// A text file as read, and how it was found out.
typedef struct import_text {
    const char *bytes; // UTF-8
    size_t length;
    const char *encoding, *encoding_known; // "UTF-16", "by its byte order mark"
    char separator;                        // '\0': not to be told
    const char *separator_known;
    const char *why; // it cannot be read at all
} import_text;

// Of the LENGTH bytes at BYTES. SM_NO_MEMORY.
SM_MUST_CHECK sm_result import_text_read(const char *bytes, size_t length, const import_map *map,
                                         sm_arena *arena, import_text *out);

#endif
