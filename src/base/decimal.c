// SPDX-License-Identifier: GPL-3.0-or-later
#include "base/decimal.h"

#include <locale.h>
#include <stdlib.h>
#include <string.h>

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

static size_t digits_at(const char *text, size_t length) {
    size_t count = 0;
    while (count < length && is_digit(text[count]))
        count++;
    return count;
}

size_t sm_decimal_scan(const char *text, size_t length, sm_decimal *out) {
    sm_decimal found = {.text = text};
    size_t at = 0;
    if (length > 0 && text[0] == '-') {
        found.is_negative = true;
        at = 1;
    }
    found.whole = text + at;
    found.whole_length = digits_at(text + at, length - at);
    at += found.whole_length;
    if (at < length && text[at] == '.') {
        at++;
        found.fraction = text + at;
        found.fraction_length = digits_at(text + at, length - at);
        if (found.fraction_length == 0)
            return 0;
        at += found.fraction_length;
    }
    if (found.whole_length + found.fraction_length == 0)
        return 0;
    found.length = at;
    *out = found;
    return at;
}

// Powers of ten that a double holds exactly.
static const double exact_tens[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                    1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

enum { NUMBER_MAX_BYTES = 127 };

static sm_result long_value(const sm_decimal *number, double *out) {
    char copy[NUMBER_MAX_BYTES + 1];
    if (number->length > NUMBER_MAX_BYTES)
        return SM_INVALID;
    memcpy(copy, number->text, number->length);
    copy[number->length] = '\0';
    const locale_t plain = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    if (plain == (locale_t)0)
        return SM_NO_MEMORY;
    *out = strtod_l(copy, NULL, plain);
    freelocale(plain);
    return SM_OK;
}

// Appends digits to *mantissa; false once a double would not hold it exactly.
static bool add_digits(uint64_t *mantissa, const char *digits, size_t count) {
    const uint64_t exact_max = UINT64_C(1) << 53;
    for (size_t i = 0; i < count; i++) {
        *mantissa = *mantissa * 10 + (uint64_t)(digits[i] - '0');
        if (*mantissa > exact_max)
            return false;
    }
    return true;
}

sm_result sm_decimal_value(const sm_decimal *number, double *out) {
    uint64_t mantissa = 0;
    if (number->fraction_length >= sizeof exact_tens / sizeof exact_tens[0] ||
        !add_digits(&mantissa, number->whole, number->whole_length) ||
        !add_digits(&mantissa, number->fraction, number->fraction_length))
        return long_value(number, out);
    // Both operands are exact, so the one division is correctly rounded.
    const double magnitude = (double)mantissa / exact_tens[number->fraction_length];
    *out = number->is_negative && mantissa > 0 ? -magnitude : magnitude;
    return SM_OK;
}

sm_result sm_decimal_us(const sm_decimal *number, sm_us unit_us, sm_us *out) {
    enum { KEPT_DECIMALS = 11 };
    const uint64_t unit = (uint64_t)unit_us;
    const uint64_t whole_max = (uint64_t)SM_US_MAX / unit;
    uint64_t whole = 0, fraction = 0, scale = 1;
    for (size_t i = 0; i < number->whole_length; i++) {
        whole = whole * 10 + (uint64_t)(number->whole[i] - '0');
        if (whole > whole_max)
            return SM_OUT_OF_RANGE;
    }
    for (size_t i = 0; i < number->fraction_length && i < KEPT_DECIMALS; i++) {
        fraction = fraction * 10 + (uint64_t)(number->fraction[i] - '0');
        scale *= 10;
    }
    const uint64_t sum = whole * unit + (fraction * unit + scale / 2) / scale;
    if (sum > (uint64_t)SM_US_MAX)
        return SM_OUT_OF_RANGE;
    *out = (sm_us)sum;
    return SM_OK;
}
