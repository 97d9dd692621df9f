// SPDX-License-Identifier: GPL-3.0-or-later
// Decimal numbers as the tables write them: "1", "-0.5", ".5". The C library's readers follow the locale and
// take exponents, hexadecimal, "inf" and "+5", none of which a table may hold.
#ifndef SLOWMATCH_BASE_DECIMAL_H
#define SLOWMATCH_BASE_DECIMAL_H

#include "slowmatch/base.h"

// The digits of a number, where they stand in its text.
typedef struct sm_decimal {
    const char *text; // from its sign
    size_t length;
    const char *whole, *fraction;
    size_t whole_length, fraction_length;
    bool is_negative;
} sm_decimal;

// Finds the number that TEXT begins with. Returns its length, 0 if there is none; a point must have a digit
// after it.
size_t sm_decimal_scan(const char *text, size_t length, sm_decimal *out);

// NUMBER correctly rounded; SM_INVALID if it has more than 127 characters.
SM_MUST_CHECK sm_result sm_decimal_value(const sm_decimal *number, double *out);

// NUMBER without its sign times UNIT_US (at most 60000000), to the nearest microsecond, halves up. Digits
// after the eleventh decimal (0.6 ns of a minute) are dropped. SM_OUT_OF_RANGE above SM_US_MAX.
SM_MUST_CHECK sm_result sm_decimal_us(const sm_decimal *number, sm_us unit_us, sm_us *out);

#endif
