// SPDX-License-Identifier: GPL-3.0-or-later
#include "base/decimal.h"

#include <assert.h>
#include <string.h>

// A unit's size in the quantity's own unit as a fraction of whole numbers, so that one division rounds once.
// Inch and foot: 25.4 mm and 304.8 mm (international yard and pound agreement, 1959). Knot: 1852 m in an
// hour.
typedef struct unit {
    const char *name;
    double numerator, denominator;
    double offset; // subtracted before scaling: degrees Fahrenheit count from another zero
} unit;

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static const unit no_units[] = {{"", 1, 1, 0}};
static const unit lengths[] = {
    {"m", 1, 1, 0}, {"ft", 381, 1250, 0}, {"mm", 1, 1000, 0}, {"in", 127, 5000, 0}};
static const unit voltages[] = {{"V", 1, 1, 0}};
static const unit currents[] = {{"A", 1, 1, 0}, {"mA", 1, 1000, 0}};
static const unit resistances[] = {{"ohm", 1, 1, 0}, {"kohm", 1000, 1, 0}};
static const unit capacitances[] = {{"uF", 1, 1000000, 0}, {"mF", 1, 1000, 0}, {"F", 1, 1, 0}};
static const unit impulses[] = {{"mJ/ohm", 1, 1, 0}};
static const unit powers[] = {{"W", 1, 1, 0}};
static const unit volumes[] = {{"ml", 1, 1, 0}};
static const unit fuels[] = {{"ml", 1, 1, 0}, {"g", 1, 1, 0}};
static const unit gases[] = {{"g", 1, 1, 0}};
static const unit flows[] = {{"ml/s", 1, 1, 0}, {"g/s", 1, 1, 0}};
static const unit frequencies[] = {{"Hz", 1, 1, 0}};
static const unit apparents[] = {{"VA", 1, 1, 0}};
static const unit speeds[] = {
    {"m/s", 1, 1, 0}, {"km/h", 5, 18, 0}, {"mph", 1397, 3125, 0}, {"kn", 463, 900, 0}};
static const unit temperatures[] = {{"C", 1, 1, 0}, {"F", 5, 9, 32}};
static const unit percents[] = {{"%", 1, 1, 0}};

typedef struct quantity {
    const char *words;
    const char *bare; // the unit of a bare number
    const unit *units;
    size_t count;
} quantity;

static const quantity quantities[] = {
    [SM_QUANTITY_NUMBER] = {"no unit", "", no_units, COUNT(no_units)},
    [SM_QUANTITY_LENGTH] = {"m, ft, mm or in", "m", lengths, COUNT(lengths)},
    [SM_QUANTITY_CALIBRE] = {"mm, in, m or ft", "mm", lengths, COUNT(lengths)},
    [SM_QUANTITY_VOLTAGE] = {"V", "V", voltages, COUNT(voltages)},
    [SM_QUANTITY_CURRENT] = {"A or mA", "A", currents, COUNT(currents)},
    [SM_QUANTITY_TEST_CURRENT] = {"mA or A", "mA", currents, COUNT(currents)},
    [SM_QUANTITY_RESISTANCE] = {"ohm or kohm", "ohm", resistances, COUNT(resistances)},
    [SM_QUANTITY_CAPACITANCE] = {"uF, mF or F", "uF", capacitances, COUNT(capacitances)},
    [SM_QUANTITY_IMPULSE] = {"mJ/ohm", "mJ/ohm", impulses, COUNT(impulses)},
    [SM_QUANTITY_POWER] = {"W", "W", powers, COUNT(powers)},
    [SM_QUANTITY_VOLUME] = {"ml", "ml", volumes, COUNT(volumes)},
    [SM_QUANTITY_FUEL] = {"ml or g", "ml", fuels, COUNT(fuels)},
    [SM_QUANTITY_GAS] = {"g", "g", gases, COUNT(gases)},
    [SM_QUANTITY_FLOW] = {"ml/s or g/s", "ml/s", flows, COUNT(flows)},
    [SM_QUANTITY_FREQUENCY] = {"Hz", "Hz", frequencies, COUNT(frequencies)},
    [SM_QUANTITY_APPARENT] = {"VA", "VA", apparents, COUNT(apparents)},
    [SM_QUANTITY_SPEED] = {"m/s, km/h, mph or kn", "m/s", speeds, COUNT(speeds)},
    [SM_QUANTITY_TEMPERATURE] = {"C or F", "C", temperatures, COUNT(temperatures)},
    [SM_QUANTITY_PERCENT] = {"%", "%", percents, COUNT(percents)},
};
static_assert(sizeof quantities / sizeof quantities[0] == SM_QUANTITY_COUNT, "a row for each quantity");

static bool is_named(const char *name, const char *text, size_t length) {
    return strlen(name) == length && memcmp(name, text, length) == 0;
}

// Splits "NUMBER UNIT"; false if TEXT has no such form. *unit_length is 0 for a bare number.
static bool split(const char *text, size_t length, sm_decimal *number, const char **unit_text,
                  size_t *unit_length) {
    size_t at = sm_decimal_scan(text, length, number);
    if (at == 0)
        return false;
    const bool is_bare = at == length;
    while (at < length && (text[at] == ' ' || text[at] == '\t'))
        at++;
    *unit_text = text + at;
    *unit_length = length - at;
    return is_bare || at < length;
}

sm_result sm_measure_read(sm_quantity quantity_id, const char *text, size_t length, double *out) {
    const quantity *const kind = &quantities[quantity_id];
    sm_decimal number;
    const char *unit_text;
    size_t unit_length;
    if (!split(text, length, &number, &unit_text, &unit_length))
        return SM_INVALID;
    if (unit_length == 0) {
        unit_text = kind->bare;
        unit_length = strlen(kind->bare);
    }
    for (size_t i = 0; i < kind->count; i++) {
        const unit *const each = &kind->units[i];
        if (!is_named(each->name, unit_text, unit_length))
            continue;
        double value;
        const sm_result result = sm_decimal_value(&number, &value);
        if (result == SM_OK)
            *out = (value - each->offset) * each->numerator / each->denominator;
        return result;
    }
    return SM_INVALID;
}

const char *sm_quantity_units(sm_quantity quantity_id) {
    return quantities[quantity_id].words;
}

sm_result sm_span_read(const char *text, size_t length, sm_us bare_us, sm_us *out) {
    static const struct {
        const char *name;
        sm_us us;
    } units[] = {{"s", SM_US_PER_S}, {"ms", 1000}, {"min", 60 * SM_US_PER_S}};
    sm_decimal number;
    const char *unit_text;
    size_t unit_length;
    if (!split(text, length, &number, &unit_text, &unit_length) || number.is_negative)
        return SM_INVALID;
    if (unit_length == 0)
        return sm_decimal_us(&number, bare_us, out);
    for (size_t i = 0; i < COUNT(units); i++)
        if (is_named(units[i].name, unit_text, unit_length))
            return sm_decimal_us(&number, units[i].us, out);
    return SM_INVALID;
}

sm_result sm_integer_read(const char *text, size_t length, int32_t *out) {
    const bool is_negative = length > 0 && text[0] == '-';
    const int64_t magnitude_max = is_negative ? -(int64_t)INT32_MIN : INT32_MAX;
    int64_t magnitude = 0;
    size_t at = is_negative ? 1 : 0;
    if (at == length)
        return SM_INVALID;
    for (; at < length; at++) {
        if (text[at] < '0' || text[at] > '9')
            return SM_INVALID;
        magnitude = magnitude * 10 + (text[at] - '0');
        if (magnitude > magnitude_max)
            return SM_INVALID;
    }
    *out = (int32_t)(is_negative ? -magnitude : magnitude);
    return SM_OK;
}
