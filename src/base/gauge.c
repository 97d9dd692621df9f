// SPDX-License-Identifier: GPL-3.0-or-later
#include "base/decimal.h"

#include <math.h>
#include <string.h>

// What is still to be read of a gauge's text.
typedef struct rest {
    const char *text;
    size_t length;
} rest;

static void skip(rest *left, size_t count) {
    left->text += count;
    left->length -= count;
}

static size_t skip_blanks(rest *left) {
    size_t count = 0;
    while (count < left->length && (left->text[count] == ' ' || left->text[count] == '\t'))
        count++;
    skip(left, count);
    return count;
}

static bool skip_word(rest *left, const char *word) {
    const size_t length = strlen(word);
    if (left->length < length || memcmp(left->text, word, length) != 0)
        return false;
    skip(left, length);
    return true;
}

double sm_awg_area_mm2(int n) {
    const double pi = 3.14159265358979323846;
    const double diameter_mm = 0.127 * pow(92.0, (36.0 - n) / 39.0);
    return pi / 4.0 * diameter_mm * diameter_mm;
}

// "4/0 AWG" to "1/0 AWG": gauges -3 to 0.
static bool read_aught(rest *left, int *awg) {
    rest after = *left;
    if (after.length < 3 || after.text[0] < '1' || after.text[0] > '4')
        return false;
    const int aughts = after.text[0] - '0';
    skip(&after, 1);
    if (!skip_word(&after, "/0"))
        return false;
    skip_blanks(&after);
    if (!skip_word(&after, "AWG"))
        return false;
    *awg = 1 - aughts;
    *left = after;
    return true;
}

// A whole gauge number as written: no sign, no point, no leading zero ("00" is 2/0 on a reel, not 0).
static bool whole_gauge(const sm_decimal *number, int *awg) {
    if (number->is_negative || number->fraction_length > 0 || number->whole_length > 2)
        return false;
    if (number->whole_length == 2 && number->whole[0] == '0')
        return false;
    *awg = 0;
    for (size_t i = 0; i < number->whole_length; i++)
        *awg = *awg * 10 + (number->whole[i] - '0');
    return true;
}

static sm_result read_size(rest *left, sm_gauge *gauge) {
    sm_decimal number;
    int awg = 0;
    if (!read_aught(left, &awg)) {
        const size_t used = sm_decimal_scan(left->text, left->length, &number);
        if (used == 0 || number.is_negative)
            return SM_INVALID;
        skip(left, used);
        skip_blanks(left);
        if (skip_word(left, "mm2")) {
            const sm_result result = sm_decimal_value(&number, &gauge->area_mm2);
            return result == SM_OK && gauge->area_mm2 <= 0 ? SM_OUT_OF_RANGE : result;
        }
        if (!skip_word(left, "AWG") || !whole_gauge(&number, &awg))
            return SM_INVALID;
        if (awg > 50)
            return SM_OUT_OF_RANGE;
    }
    gauge->is_awg = true;
    gauge->awg = (int8_t)awg;
    gauge->area_mm2 = sm_awg_area_mm2(awg);
    return SM_OK;
}

// " ccs21" or " x1.61" or nothing.
static sm_result read_factor(rest *left, double *factor) {
    // Copper-clad steel by per cent of copper's conductance: grades 40 and 30 of ASTM B227, 21 of ASTM B869.
    static const struct {
        const char *word;
        double factor;
    } clads[] = {{"ccs21", 1 / 0.21}, {"ccs30", 1 / 0.30}, {"ccs40", 1 / 0.40}};
    *factor = 1;
    if (left->length == 0)
        return SM_OK;
    if (skip_blanks(left) == 0)
        return SM_INVALID;
    for (size_t i = 0; i < sizeof clads / sizeof clads[0]; i++) {
        if (skip_word(left, clads[i].word)) {
            *factor = clads[i].factor;
            return SM_OK;
        }
    }
    sm_decimal number;
    if (!skip_word(left, "x"))
        return SM_INVALID;
    const size_t used = sm_decimal_scan(left->text, left->length, &number);
    if (used == 0 || number.is_negative)
        return SM_INVALID;
    skip(left, used);
    const sm_result result = sm_decimal_value(&number, factor);
    return result == SM_OK && *factor <= 0 ? SM_OUT_OF_RANGE : result;
}

sm_result sm_gauge_read(const char *text, size_t length, sm_gauge *out) {
    sm_gauge gauge = {0};
    rest left = {text, length};
    if (length >= sizeof gauge.text)
        return SM_INVALID;
    sm_result result = read_size(&left, &gauge);
    if (result == SM_OK)
        result = read_factor(&left, &gauge.factor);
    if (result == SM_OK && left.length > 0)
        result = SM_INVALID;
    if (result != SM_OK)
        return result;
    memcpy(gauge.text, text, length);
    *out = gauge;
    return SM_OK;
}
