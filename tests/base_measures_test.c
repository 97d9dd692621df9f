// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers, measures, spans and gauges. Outside checks: the wire tables, the legal definitions of the units,
// and the C library's own correctly rounded reader.
#include "slowmatch/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static double measure(sm_quantity quantity, const char *text) {
    double value = (double)NAN;
    assert_int_equal(sm_measure_read(quantity, text, strlen(text), &value), SM_OK);
    return value;
}

static void assert_no_measure(sm_quantity quantity, const char *text) {
    double value = 77;
    if (sm_measure_read(quantity, text, strlen(text), &value) != SM_INVALID)
        fail_msg("\"%s\" was read as a measure", text);
    assert_true(value == 77);
}

static void reads_units_by_their_definitions(void **state) {
    (void)state;
    static const struct {
        sm_quantity quantity;
        const char *text;
        double expected;
    } rows[] = {
        // Foot and inch: international yard and pound agreement of 1959 (from memory): 0.3048 m and 25.4 mm
        // exactly.
        {SM_QUANTITY_CAPACITANCE, "470", 470e-6},
        {SM_QUANTITY_CAPACITANCE, "4.7 mF", 4.7e-3},
        {SM_QUANTITY_CAPACITANCE, "1 F", 1.0},
        {SM_QUANTITY_IMPULSE, "5 mJ/ohm", 5.0},
        {SM_QUANTITY_FUEL, "425 g", 425},
        {SM_QUANTITY_FUEL, "60", 60},
        {SM_QUANTITY_GAS, "425 g", 425},
        {SM_QUANTITY_GAS, "60", 60},
        {SM_QUANTITY_FLOW, "8 g/s", 8},
        {SM_QUANTITY_LENGTH, "1 ft", 0.3048},
        {SM_QUANTITY_LENGTH, "1000ft", 304.8},
        {SM_QUANTITY_LENGTH, "1 in", 0.0254},
        {SM_QUANTITY_LENGTH, "12 in", 0.3048},
        {SM_QUANTITY_LENGTH, "75 mm", 0.075},
        {SM_QUANTITY_LENGTH, "2.5", 2.5},
        {SM_QUANTITY_LENGTH, "-3m", -3},
        {SM_QUANTITY_CALIBRE, "75", 0.075},
        {SM_QUANTITY_CALIBRE, "3 in", 0.0762},
        // Mile an hour: 1609.344 m / 3600 s, the same agreement; knot: 1852 m / 3600 s, Monaco 1929 (from
        // memory).
        {SM_QUANTITY_SPEED, "1 mph", 0.44704},
        {SM_QUANTITY_SPEED, "1 kn", 1852.0 / 3600.0},
        {SM_QUANTITY_SPEED, "36 km/h", 10},
        {SM_QUANTITY_SPEED, "8.5", 8.5},
        // Fahrenheit: (F - 32) 5/9; -40 is the same on both (textbook).
        {SM_QUANTITY_TEMPERATURE, "212 F", 100},
        {SM_QUANTITY_TEMPERATURE, "32F", 0},
        {SM_QUANTITY_TEMPERATURE, "-40 F", -40},
        {SM_QUANTITY_TEMPERATURE, "-5 C", -5},
        {SM_QUANTITY_VOLTAGE, "18 V", 18},
        {SM_QUANTITY_CURRENT, "250 mA", 0.25},
        {SM_QUANTITY_CURRENT, "1", 1},
        {SM_QUANTITY_TEST_CURRENT, "10", 0.01},
        {SM_QUANTITY_TEST_CURRENT, "0.01 A", 0.01},
        {SM_QUANTITY_RESISTANCE, "1.6 ohm", 1.6},
        {SM_QUANTITY_RESISTANCE, "1.2kohm", 1200},
        {SM_QUANTITY_POWER, "2000 W", 2000},
        {SM_QUANTITY_VOLUME, "500 ml", 500},
        {SM_QUANTITY_FLOW, "40 ml/s", 40},
        {SM_QUANTITY_PERCENT, "2 %", 2},
        {SM_QUANTITY_PERCENT, "2", 2},
        {SM_QUANTITY_NUMBER, ".5", 0.5},
        {SM_QUANTITY_NUMBER, "-0.5", -0.5},
        {SM_QUANTITY_LENGTH, "1 \t m", 1},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const double value = measure(rows[i].quantity, rows[i].text);
        if (value != rows[i].expected)
            fail_msg("\"%s\" is %.17g, not %.17g", rows[i].text, value, rows[i].expected);
    }
    assert_false(signbit(measure(SM_QUANTITY_NUMBER, "-0")));
}

static void refuses_what_is_no_measure(void **state) {
    (void)state;
    static const char *const texts[] = {
        "",      " ",      "m",   "+5 m",  "5 M",    "5 metres", "5  ",   " 5 m",  "5 m ",  "5m 3",
        "1e3 m", "0x10 m", "inf", "nan m", "-inf m", "1,5 m",    "1,000", "1.2.3", "5.",    "5. m",
        ".",     "-",      "--5", "- 5",   "5 V",    "1'000",    "5\nm",  "m 5",   "5 ftm", "½ m",
    };
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        assert_no_measure(SM_QUANTITY_LENGTH, texts[i]);
    assert_no_measure(SM_QUANTITY_NUMBER, "5 m");
    assert_no_measure(SM_QUANTITY_NUMBER, "5 ");
    assert_no_measure(SM_QUANTITY_CURRENT, "5 MA");
    assert_no_measure(SM_QUANTITY_PERCENT, "2 % %");
    double value = 77;
    // Only the bytes given are read.
    assert_int_equal(sm_measure_read(SM_QUANTITY_LENGTH, "5 mm", 3, &value), SM_OK);
    assert_true(value == 5);
    char digits[200];
    memset(digits, '9', sizeof digits);
    assert_int_equal(sm_measure_read(SM_QUANTITY_LENGTH, digits, sizeof digits, &value), SM_INVALID);
}

static void every_quantity_names_its_units(void **state) {
    (void)state;
    for (int i = 0; i < SM_QUANTITY_COUNT; i++)
        assert_true(strlen(sm_quantity_units((sm_quantity)i)) > 0);
    assert_string_equal(sm_quantity_units(SM_QUANTITY_LENGTH), "m, ft, mm or in");
}

static void assert_as_strtod(const char *text) {
    const double value = measure(SM_QUANTITY_NUMBER, text);
    if (value != strtod(text, NULL))
        fail_msg("\"%s\" is %.17g, and %.17g by the C library", text, value, strtod(text, NULL));
}

// Reference: strtod of the C library, correctly rounded, in the C locale in which the tests run.
static void rounds_decimals_as_the_c_library(void **state) {
    (void)state;
    static const char *const hard[] = {
        "9007199254740992",
        "9007199254740993",
        "9007199254740991",
        "0.1",
        "0.3",
        "123456789012345678901234567890",
        "0.000000000000000000000000000001",
        "1.7976931348623157",
        "0.50000000000000000000000000000000000001",
        "00000000000000000000000000.5",
        "1.0000000000000000000000000000000000",
    };
    for (size_t i = 0; i < sizeof hard / sizeof hard[0]; i++)
        assert_as_strtod(hard[i]);
    uint64_t seed = 1;
    for (int i = 0; i < 200000; i++) {
        seed = seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        const int decimals = (int)(seed >> 60);
        char text[64];
        snprintf(text, sizeof text, "%s%llu.%0*llu", seed & 1 ? "-" : "",
                 (unsigned long long)(seed >> 20 & 0xFFFFF), decimals + 1,
                 (unsigned long long)(seed >> 40 & 0xFFFF));
        assert_as_strtod(text);
    }
}

static sm_us span(const char *text, sm_us bare_us) {
    sm_us us = -77;
    assert_int_equal(sm_span_read(text, strlen(text), bare_us, &us), SM_OK);
    return us;
}

static void reads_spans(void **state) {
    (void)state;
    const sm_us second = SM_US_PER_S, minute = 60 * SM_US_PER_S;
    assert_int_equal(span("5 s", 1000), 5 * second);
    assert_int_equal(span("40 ms", second), 40000);
    assert_int_equal(span("40", 1000), 40000);
    assert_int_equal(span("30", minute), 30 * minute);
    assert_int_equal(span("2min", second), 2 * minute);
    assert_int_equal(span("0.5 min", second), 30 * second);
    assert_int_equal(span(".0000005", second), 1); // half a microsecond goes up
    assert_int_equal(span("0.00000049999", second), 0);
    assert_int_equal(span("0.0004 ms", second), 0);
    assert_int_equal(span("0.0005 ms", second), 1);
    assert_int_equal(span("0.1", second), 100000);
    assert_int_equal(span("0.000001", second), 1);
    assert_int_equal(span("1.99999999999999999999", second), 2 * second);
    assert_int_equal(span("360000000", second), SM_US_MAX);
    assert_int_equal(span("0", second), 0);
}

static void refuses_what_is_no_span(void **state) {
    (void)state;
    static const char *const texts[] = {"",     "-1 s", "-0",   "5 us", "5 S",   "5 h",  "s",
                                        "5 s ", "1e3",  "+1 s", "1:00", "1,5 s", "5 sec"};
    sm_us us = 77;
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        if (sm_span_read(texts[i], strlen(texts[i]), SM_US_PER_S, &us) != SM_INVALID)
            fail_msg("\"%s\" was read as a span", texts[i]);
    static const char *const large[] = {"360000000.0000005", "360000001", "6000001 min",
                                        "99999999999999999999999999999999999999"};
    for (size_t i = 0; i < sizeof large / sizeof large[0]; i++)
        assert_int_equal(sm_span_read(large[i], strlen(large[i]), SM_US_PER_S, &us), SM_OUT_OF_RANGE);
    assert_int_equal(us, 77);
}

static void reads_integers(void **state) {
    (void)state;
    static const struct {
        const char *text;
        int32_t expected;
    } rows[] = {{"0", 0},
                {"-0", 0},
                {"007", 7},
                {"512", 512},
                {"2147483647", INT32_MAX},
                {"-2147483648", INT32_MIN},
                {"0000000000000000001", 1}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int32_t value = 77;
        assert_int_equal(sm_integer_read(rows[i].text, strlen(rows[i].text), &value), SM_OK);
        assert_int_equal(value, rows[i].expected);
    }
    static const char *const wrong[] = {
        "",    "-",   "+1",  " 1",  "1 ",         "1.0",         "1e3",
        "0x1", "12a", "1,0", "--1", "2147483648", "-2147483649", "99999999999999999999"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        int32_t value = 77;
        assert_int_equal(sm_integer_read(wrong[i], strlen(wrong[i]), &value), SM_INVALID);
        assert_int_equal(value, 77);
    }
}

// ASTM B258 (second-hand, formula recomputed): diameters and areas to the digits given; ohms of 1000 ft of
// solid copper at 20 C by NBS Circular 31 / Handbook 100 style tables (second-hand), copper being 1/58 ohm
// mm2/m (IEC 60028).
static void areas_agree_with_the_wire_tables(void **state) {
    (void)state;
    static const struct {
        int awg;
        double diameter_mm, area_mm2, ohms_per_1000_ft;
    } rows[] = {
        {10, 2.5882, 5.2612, 0.9989}, {12, 2.0525, 3.3088, 1.588}, {14, 1.6277, 2.0809, 2.525},
        {16, 1.2908, 1.3087, 4.016},  {18, 1.0237, 0.8230, 6.385}, {20, 0.8118, 0.5176, 10.15},
        {22, 0.6438, 0.3255, 16.14},  {24, 0.5106, 0.2047, 25.67}, {26, 0.4049, 0.1288, 40.81},
        {28, 0.3211, 0.0810, 64.90},  {30, 0.2546, 0.0509, 103.2},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const double area = sm_awg_area_mm2(rows[i].awg);
        assert_true(fabs(area - rows[i].area_mm2) <= 0.00005);
        assert_true(fabs(2 * sqrt(area / 3.14159265358979) - rows[i].diameter_mm) <= 0.00005);
        const double ohms = 304.8 / 58.0 / area;
        assert_true(fabs(ohms / rows[i].ohms_per_1000_ft - 1) <= 0.0005);
    }
    static const double odd_ohms[] = {1.260, 2.003, 3.184, 5.064, 8.051, 12.80, 20.36, 32.37, 51.47, 81.83};
    for (int i = 0; i < 10; i++)
        assert_true(fabs(304.8 / 58.0 / sm_awg_area_mm2(11 + 2 * i) / odd_ohms[i] - 1) <= 0.0005);
}

static void fixed_points_of_the_gauge_definition(void **state) {
    (void)state;
    // ASTM B258 defines 36 AWG as 0.0050 in and 4/0 as 0.4600 in (second-hand).
    const double quarter_pi = 0.78539816339744830962;
    assert_true(fabs(sm_awg_area_mm2(36) / (quarter_pi * 0.127 * 0.127) - 1) < 1e-12);
    assert_true(fabs(sm_awg_area_mm2(-3) / (quarter_pi * 11.684 * 11.684) - 1) < 1e-12);
}

static sm_gauge gauge(const char *text) {
    sm_gauge read = {0};
    assert_int_equal(sm_gauge_read(text, strlen(text), &read), SM_OK);
    assert_string_equal(read.text, text);
    return read;
}

static void reads_gauges(void **state) {
    (void)state;
    static const struct {
        const char *text;
        int awg;
    } awgs[] = {{"22 AWG", 22}, {"22AWG", 22},   {"0 AWG", 0},   {"1/0 AWG", 0}, {"2/0 AWG", -1},
                {"3/0AWG", -2}, {"4/0 AWG", -3}, {"50 AWG", 50}, {"1 AWG", 1}};
    for (size_t i = 0; i < sizeof awgs / sizeof awgs[0]; i++) {
        const sm_gauge read = gauge(awgs[i].text);
        assert_true(read.is_awg);
        assert_int_equal(read.awg, awgs[i].awg);
        assert_true(read.area_mm2 == sm_awg_area_mm2(awgs[i].awg));
        assert_true(read.factor == 1);
    }
    const sm_gauge metric = gauge("1.5mm2");
    assert_false(metric.is_awg);
    assert_true(metric.area_mm2 == 1.5);
    assert_true(gauge("0.75 mm2").area_mm2 == 0.75);
}

static void reads_gauge_factors(void **state) {
    (void)state;
    assert_true(gauge("22 AWG ccs21").factor == 1 / 0.21);
    assert_true(gauge("22 AWG ccs30").factor == 1 / 0.30);
    assert_true(gauge("22 AWG ccs40").factor == 1 / 0.40);
    assert_true(gauge("1.5 mm2 x1.61").factor == 1.61);
    assert_true(gauge("1.5 mm2 x.5").factor == 0.5);
    // ASTM B227 grades 40 and 30, 10 AWG at 68 F: 2.547 and 3.396 ohm for 1000 ft (a public product table,
    // second-hand); those are of hard drawn wire and of the table's rounding, hence 2.5 %.
    const double copper_ohms = 304.8 / 58.0 / sm_awg_area_mm2(10);
    assert_true(fabs(copper_ohms * gauge("10 AWG ccs40").factor / 2.547 - 1) < 0.025);
    assert_true(fabs(copper_ohms * gauge("10 AWG ccs30").factor / 3.396 - 1) < 0.025);
    // ASTM B869 table 1 (read in the standard): at most 49.150 ohm for 1000 ft of 0.0320 in at 21 %: a limit,
    // above the nominal by 1.6 to 2.1 %.
    const double ohms = 304.8 / 58.0 / sm_awg_area_mm2(20) * gauge("20 AWG ccs21").factor;
    assert_true(ohms < 49.150 && ohms > 49.150 * 0.975);
}

static void refuses_what_is_no_gauge(void **state) {
    (void)state;
    static const char *const invalid[] = {
        "",
        "22",
        "AWG",
        "22 awg",
        "22.5 AWG",
        "-1 AWG",
        "00 AWG",
        "022 AWG",
        "5/0 AWG",
        "0/0 AWG",
        "4/0",
        "4/0 mm2",
        "1.5 mm",
        "1.5 mm2x2",
        "22 AWGccs21",
        "22 AWG ccs21 ",
        "22 AWG ",
        "22 AWG ccs22",
        "22 AWG x",
        "22 AWG x-1",
        "22 AWG x1 2",
        "-1.5 mm2",
        " 22 AWG",
        "100 AWG",
        "1e1 mm2",
        "22 AWG ccs211",
        "22 AWG            ccs21",
    };
    sm_gauge read = {.awg = 77};
    for (size_t i = 0; i < sizeof invalid / sizeof invalid[0]; i++)
        if (sm_gauge_read(invalid[i], strlen(invalid[i]), &read) != SM_INVALID)
            fail_msg("\"%s\" was read as a gauge", invalid[i]);
    static const char *const outside[] = {"51 AWG", "99 AWG", "0 mm2", "0.0mm2", "22 AWG x0"};
    for (size_t i = 0; i < sizeof outside / sizeof outside[0]; i++)
        assert_int_equal(sm_gauge_read(outside[i], strlen(outside[i]), &read), SM_OUT_OF_RANGE);
    assert_int_equal(read.awg, 77);
}

// Texts of the readers' own characters, in buffers of their exact size, so that a sanitizer sees one byte too
// many.
static void reads_no_byte_too_many(void **state) {
    (void)state;
    static const char alphabet[] = "0123456789.-:; /xmAWGinftskhoCF%V2c";
    const sm_moment_base base = {SM_TC_29_97, true, 107892};
    uint64_t seed = 7;
    size_t accepted = 0;
    for (int i = 0; i < 300000; i++) {
        char scratch[16];
        const size_t length = (size_t)(i % 13);
        for (size_t j = 0; j < length; j++) {
            seed = seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
            scratch[j] = alphabet[(seed >> 33) % (i & 1 ? 14 : sizeof alphabet - 1)];
        }
        char *const text = malloc(length > 0 ? length : 1);
        assert_non_null(text);
        memcpy(text, scratch, length);
        double value = 0;
        sm_us us = 0;
        int32_t whole = 0;
        sm_gauge wire = {.area_mm2 = 1, .factor = 1};
        for (int q = 0; q < SM_QUANTITY_COUNT; q++) {
            accepted += sm_measure_read((sm_quantity)q, text, length, &value) == SM_OK;
            assert_true(isfinite(value));
        }
        accepted += sm_span_read(text, length, SM_US_PER_S, &us) == SM_OK;
        assert_in_range(us, 0, SM_US_MAX);
        accepted += sm_moment_read(text, length, &base, &us) == SM_OK;
        assert_true(us >= -SM_US_MAX && us <= SM_US_MAX);
        accepted += sm_integer_read(text, length, &whole) == SM_OK;
        accepted += sm_gauge_read(text, length, &wire) == SM_OK;
        assert_true(wire.area_mm2 > 0 && wire.factor > 0);
        free(text);
    }
    assert_true(accepted > 1000); // it was not all refused
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_units_by_their_definitions),
        cmocka_unit_test(refuses_what_is_no_measure),
        cmocka_unit_test(every_quantity_names_its_units),
        cmocka_unit_test(rounds_decimals_as_the_c_library),
        cmocka_unit_test(reads_spans),
        cmocka_unit_test(refuses_what_is_no_span),
        cmocka_unit_test(reads_integers),
        cmocka_unit_test(areas_agree_with_the_wire_tables),
        cmocka_unit_test(fixed_points_of_the_gauge_definition),
        cmocka_unit_test(reads_gauges),
        cmocka_unit_test(reads_gauge_factors),
        cmocka_unit_test(refuses_what_is_no_gauge),
        cmocka_unit_test(reads_no_byte_too_many),
    };
    return cmocka_run_group_tests_name("base measures", tests, NULL, NULL);
}
