// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_PAPER_UTF8_H
#define SLOWMATCH_PAPER_UTF8_H

#include "slowmatch/base.h"

// What an invalid byte reads as.
#define PAPER_UTF8_NONE UINT32_MAX

// Reads the character at TEXT (LENGTH at least 1); returns its length in bytes.
static inline size_t paper_utf8_read(const char *text, size_t length, uint32_t *out) {
    const size_t bytes = sm_utf8_length(text, length);
    *out = bytes > 0 ? sm_utf8_number(text, bytes) : PAPER_UTF8_NONE;
    return bytes > 0 ? bytes : 1;
}

#endif
