// SPDX-License-Identifier: GPL-3.0-or-later
#include "paper/kit.h"
#include "paper/utf8.h"

#include <string.h>

static bool is_between(uint32_t c, uint32_t low, uint32_t high) {
    return c >= low && c <= high;
}

// Marks that turn the direction of text, or end a line.
static bool is_layout(uint32_t c) {
    return is_between(c, 0x202A, 0x202E) || is_between(c, 0x2066, 0x2069) || is_between(c, 0x2028, 0x2029) ||
           c == '\t' || c == '\n' || c == '\r';
}

static bool is_no_character(uint32_t c) {
    return c < 0x20 || is_between(c, 0x7F, 0x9F) || is_between(c, 0xFDD0, 0xFDEF) || (c & 0xFFFE) == 0xFFFE;
}

static const char *entity_of(uint32_t c) {
    switch (c) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    default:
        return is_layout(c) ? " " : is_no_character(c) ? "\xEF\xBF\xBD" : NULL;
    }
}

void paper_escape(sm_text *out, const char *text, size_t length) {
    size_t plain = 0; // bytes before `at` that go in as they are
    size_t at = 0;
    while (at < length) {
        uint32_t c;
        const size_t bytes = paper_utf8_read(text + at, length - at, &c);
        const char *entity = entity_of(c);
        if (entity || c == PAPER_UTF8_NONE) {
            sm_text_append(out, text + plain, at - plain);
            entity = entity ? entity : "\xEF\xBF\xBD";
            sm_text_append(out, entity, strlen(entity));
            plain = at + bytes;
        }
        at += bytes;
    }
    sm_text_append(out, text + plain, length - plain);
}
