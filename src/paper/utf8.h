// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_PAPER_UTF8_H
#define SLOWMATCH_PAPER_UTF8_H

#include "slowmatch/base.h"

// What an invalid byte reads as.
#define PAPER_UTF8_NONE UINT32_MAX

// Reads the character at TEXT (LENGTH at least 1); returns its length in bytes.
static inline size_t paper_utf8_read(const char *text, size_t length, uint32_t *out) {
    const size_t bytes = sm_utf8_length(text, length);
    if (bytes <= 1) {
        *out = bytes == 1 ? (uint32_t)(unsigned char)text[0] : PAPER_UTF8_NONE;
        return 1;
    }
    uint32_t c = (unsigned char)text[0] & (0xFFU >> (bytes + 1));
    for (size_t i = 1; i < bytes; i++)
        c = c << 6 | ((unsigned char)text[i] & 0x3FU);
    *out = c;
    return bytes;
}

#endif
