// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/base.h"

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

size_t sm_utf8_count(const char *bytes, size_t length) {
    size_t count = 0;
    for (size_t at = 0; at < length; count++) {
        const size_t step = sm_utf8_length(bytes + at, length - at);
        at += step > 0 ? step : 1;
    }
    return count;
}
