// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/base.h"

#include <string.h>

// The well-formed sequences of RFC 3629 section 4, by first byte; only the second byte's range varies.
typedef struct sequence {
    uint8_t first_low, first_high, second_low, second_high;
    uint8_t length;
} sequence;

static const sequence sequences[] = {
    {0x00, 0x7F, 0, 0, 1},       {0xC2, 0xDF, 0x80, 0xBF, 2}, {0xE0, 0xE0, 0xA0, 0xBF, 3},
    {0xE1, 0xEC, 0x80, 0xBF, 3}, {0xED, 0xED, 0x80, 0x9F, 3}, {0xEE, 0xEF, 0x80, 0xBF, 3},
    {0xF0, 0xF0, 0x90, 0xBF, 4}, {0xF1, 0xF3, 0x80, 0xBF, 4}, {0xF4, 0xF4, 0x80, 0x8F, 4},
};

static bool follows(const sequence *form, const uint8_t *bytes) {
    if (form->length > 1 && (bytes[1] < form->second_low || bytes[1] > form->second_high))
        return false;
    for (size_t i = 2; i < form->length; i++)
        if ((bytes[i] & 0xC0) != 0x80)
            return false;
    return true;
}

size_t sm_utf8_length(const char *text, size_t length) {
    const uint8_t *const bytes = (const uint8_t *)text;
    if (length == 0)
        return 0;
    if (bytes[0] < 0x80)
        return 1;
    for (size_t i = 1; i < sizeof sequences / sizeof sequences[0]; i++) {
        const sequence *const form = &sequences[i];
        if (bytes[0] >= form->first_low && bytes[0] <= form->first_high)
            return form->length <= length && follows(form, bytes) ? form->length : 0;
    }
    return 0;
}

uint32_t sm_utf8_number(const char *text, size_t length) {
    static const uint8_t lead_mask[] = {0, 0x7F, 0x1F, 0x0F, 0x07};
    uint32_t number = (uint8_t)text[0] & lead_mask[length];
    for (size_t i = 1; i < length; i++)
        number = number << 6 | ((uint8_t)text[i] & 0x3F);
    return number;
}

size_t sm_utf8_count(const char *bytes, size_t length) {
    size_t count = 0;
    for (size_t at = 0; at < length; count++) {
        const size_t step = sm_utf8_length(bytes + at, length - at);
        at += step > 0 ? step : 1;
    }
    return count;
}

// ---- what may be shown ----------------------------------------------------------
// What was read from a file, a device or a person may hold anything; a terminal obeys some of it (ECMA-48), and some turns the order of
// a line round (Unicode Standard Annex #9), so that it reads as what it is not.

// U+2028 and U+2029 end a line, U+202A to U+202E and U+2066 to U+2069 turn its direction.
static bool turns_or_breaks(const unsigned char *c) {
    return c[0] == 0xE2 &&
           ((c[1] == 0x80 && c[2] >= 0xA8 && c[2] <= 0xAE) || (c[1] == 0x81 && c[2] >= 0xA6 && c[2] <= 0xA9));
}

size_t sm_utf8_harmless(const char *text, size_t length) {
    const unsigned char *const c = (const unsigned char *)text;
    const size_t bytes = sm_utf8_length(text, length);
    switch (bytes) {
    case 1:
        return c[0] >= 0x20 && c[0] != 0x7F;
    case 2: // U+0080 to U+009F: control characters as well
        return c[0] == 0xC2 && c[1] < 0xA0 ? 0 : bytes;
    case 3:
        return turns_or_breaks(c) ? 0 : bytes;
    default:
        return bytes;
    }
}

size_t sm_text_harmless(const char *bytes, size_t length, const char *kept) {
    size_t at = 0;
    while (at < length) {
        if (bytes[at] >= 0x20 && bytes[at] < 0x7F) {
            at++;
            continue;
        }
        const size_t step = sm_utf8_harmless(bytes + at, length - at);
        if (step == 0 && (bytes[at] == '\0' || !strchr(kept, bytes[at])))
            return at;
        at += step > 0 ? step : 1;
    }
    return length;
}

void sm_text_blank_harm(char *bytes, size_t length) {
    for (size_t at = 0; at < length;) {
        const size_t step = sm_utf8_harmless(bytes + at, length - at);
        if (step == 0)
            bytes[at] = ' ';
        at += step > 0 ? step : 1;
    }
}
