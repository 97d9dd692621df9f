// SPDX-License-Identifier: GPL-3.0-or-later
#include "show/text_file.h"

#include "slowmatch/ini.h"

#include <assert.h>
#include <string.h>

size_t sm_text_bom(const char *bytes, size_t length) {
    return length >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
}

// In blocks of fixed size, so that compilers make vectors of them.
bool sm_text_is_plain(const char *bytes, size_t length) {
    enum { BLOCK = 64 };
    size_t at = 0;
    for (; at + BLOCK <= length; at += BLOCK) {
        unsigned char odd = 0;
        for (size_t i = 0; i < BLOCK; i++) {
            const unsigned char c = (unsigned char)bytes[at + i];
            const bool is_control = (c < 0x20) & (c != '\n') & (c != '\r') & (c != '\t');
            odd |= (unsigned char)(is_control | (c >= 0x7F));
        }
        if (odd != 0)
            return false;
    }
    for (; at < length; at++) {
        const unsigned char c = (unsigned char)bytes[at];
        if ((c < 0x20 && c != '\n' && c != '\r' && c != '\t') || c >= 0x7F)
            return false;
    }
    return true;
}

typedef enum fault { FAULT_NONE, FAULT_NUL, FAULT_CONTROL, FAULT_UTF8, FAULT_COUNT } fault;

static const char *const fault_texts[] = {
    [FAULT_NUL] = "a zero byte, which no text file has; save the file as UTF-8 text",
    [FAULT_CONTROL] = "a control character; take it out",
    [FAULT_UTF8] =
        "bytes that are no UTF-8 (older programs save Windows-1252 or Latin-1); save the file as UTF-8",
};
static_assert(sizeof fault_texts / sizeof fault_texts[0] == FAULT_COUNT, "a text for each fault");

// The fault of the character at BYTES and its length in bytes.
static fault judge(const char *bytes, size_t left, size_t *step) {
    const unsigned char c = (unsigned char)bytes[0];
    *step = 1;
    if (c == 0)
        return FAULT_NUL;
    if (c < 0x20)
        return c == '\t' || c == '\r' || c == '\n' ? FAULT_NONE : FAULT_CONTROL;
    if (c < 0x7F)
        return FAULT_NONE;
    if (c == 0x7F)
        return FAULT_CONTROL;
    const size_t length = sm_utf8_length(bytes, left);
    if (length == 0)
        return FAULT_UTF8;
    *step = length;
    // U+0080 to U+009F: control characters to a terminal
    return length == 2 && c == 0xC2 && (unsigned char)bytes[1] < 0xA0 ? FAULT_CONTROL : FAULT_NONE;
}

void sm_text_clean_line(const char *file, uint32_t line, char *bytes, size_t length, sm_findings *findings) {
    bool is_clean = true;
    uint32_t column = 1;
    if (sm_text_is_plain(bytes, length))
        return;
    for (size_t at = 0, step; at < length; at += step, column++) {
        const fault found = judge(bytes + at, length - at, &step);
        if (found == FAULT_NONE)
            continue;
        memcpy(bytes + at, step == 2 ? "\xC2\xBF" : "?", step); // keeps the columns of what follows
        if (is_clean)
            sm_findings_add(findings, file, line, column, SM_ERROR, "text", "this is %s", fault_texts[found]);
        is_clean = false;
    }
}

void sm_text_clean(const char *file, char *bytes, size_t length, sm_findings *findings) {
    uint32_t line = 1;
    for (size_t at = sm_text_bom(bytes, length); at < length; line++) {
        const char *const end = memchr(bytes + at, '\n', length - at);
        const size_t line_length = end ? (size_t)(end - bytes) - at : length - at;
        sm_text_clean_line(file, line, bytes + at, line_length, findings);
        at += line_length + 1;
    }
}
