// SPDX-License-Identifier: GPL-3.0-or-later
// Timecode and moments. Outside checks: published drop-frame numbers, and libltc's own counting of a whole
// day.
#include "support/published.h"

#include "slowmatch/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <ltc.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

typedef struct number {
    int hours, minutes, seconds, frames;
} number;

static int64_t to_frames(sm_timecode_rate rate, bool drop, number n) {
    int64_t frames = -77;
    assert_int_equal(sm_timecode_to_frames(rate, drop, n.hours, n.minutes, n.seconds, n.frames, &frames),
                     SM_OK);
    return frames;
}

static number from_frames(sm_timecode_rate rate, bool drop, int64_t frames) {
    number n;
    sm_timecode_from_frames(rate, drop, frames, &n.hours, &n.minutes, &n.seconds, &n.frames);
    return n;
}

static bool same(number a, number b) {
    return a.hours == b.hours && a.minutes == b.minutes && a.seconds == b.seconds && a.frames == b.frames;
}

// SMPTE ST 12-1: 1800 and 1078920 are published (second-hand), the others recomputed; seconds are frames
// 1001/30000.
static void agrees_with_published_drop_frame_numbers(void **state) {
    (void)state;
    static const struct {
        int64_t frames;
        number expected;
        sm_us us;
    } rows[] = {
        {0, {0, 0, 0, 0}, 0},
        {1799, {0, 0, 59, 29}, 60026633},
        {1800, {0, 1, 0, 2}, 60060000},
        {3597, {0, 1, 59, 29}, 120019900},
        {3598, {0, 2, 0, 2}, 120053267},
        {17981, {0, 9, 59, 29}, 599966033},
        {17982, {0, 10, 0, 0}, 599999400},
        {19782, {0, 11, 0, 2}, 660059400},
        {53946, {0, 30, 0, 0}, 1799998200},
        {107892, {1, 0, 0, 0}, 3599996400},
        {1078920, {10, 0, 0, 0}, 35999964000},
        {2589407, {23, 59, 59, 29}, 86399880233},
    };
    published numbers = {.family = "drop-frame numbers",
                         .source = "SMPTE ST 12-1 (two second-hand, the others recomputed)"};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        published_hold(&numbers, (double)to_frames(SM_TC_29_97, true, rows[i].expected),
                       (double)rows[i].frames, 0);
        assert_true(same(from_frames(SM_TC_29_97, true, rows[i].frames), rows[i].expected));
        published_hold(&numbers, (double)sm_timecode_frames_us(SM_TC_29_97, rows[i].frames),
                       (double)rows[i].us, 0);
    }
    published_print(&numbers);
    // An hour of non-drop numbers lasts 3603.6 s (recomputed).
    assert_int_equal(sm_timecode_frames_us(SM_TC_29_97, to_frames(SM_TC_29_97, false, (number){1, 0, 0, 0})),
                     3603600000);
}

static void assert_counts_as_libltc(sm_timecode_rate rate, int fps, bool drop, enum LTC_TV_STANDARD standard,
                                    int64_t day) {
    LTCFrame reference;
    memset(&reference, 0, sizeof reference);
    reference.dfbit = drop;
    int wrapped = 0;
    int64_t frames = 0;
    for (; !wrapped; frames++) {
        const number expected = {
            (int)(reference.hours_tens * 10 + reference.hours_units),
            (int)(reference.mins_tens * 10 + reference.mins_units),
            (int)(reference.secs_tens * 10 + reference.secs_units),
            (int)(reference.frame_tens * 10 + reference.frame_units),
        };
        if (!same(from_frames(rate, drop, frames), expected) || to_frames(rate, drop, expected) != frames)
            fail_msg("frame %lld of a day at %d", (long long)frames, fps);
        wrapped = ltc_frame_increment(&reference, fps, standard, LTC_NO_PARITY);
    }
    assert_int_equal(frames, day);
}

// Every frame of a day, beside libltc (reference tool); 2589408 drop-frame frames a day (SMPTE ST 12-1,
// second-hand).
static void counts_every_frame_of_a_day_as_libltc(void **state) {
    (void)state;
    assert_counts_as_libltc(SM_TC_29_97, 30, true, LTC_TV_525_60, 2589408);
    assert_counts_as_libltc(SM_TC_29_97, 30, false, LTC_TV_525_60, 2592000);
    assert_counts_as_libltc(SM_TC_25, 25, false, LTC_TV_625_50, 2160000);
    assert_counts_as_libltc(SM_TC_24, 24, false, LTC_TV_FILM_24, 2073600);
}

static void wraps_at_a_day(void **state) {
    (void)state;
    assert_true(same(from_frames(SM_TC_29_97, true, 2589408), (number){0, 0, 0, 0}));
    assert_true(same(from_frames(SM_TC_29_97, true, -1), (number){23, 59, 59, 29}));
    assert_true(same(from_frames(SM_TC_25, false, -1), (number){23, 59, 59, 24}));
    assert_true(same(from_frames(SM_TC_25, false, 2160000 * INT64_C(3) + 7), (number){0, 0, 0, 7}));
    assert_true(same(from_frames(SM_TC_25, false, INT64_C(-2160000) * 3), (number){0, 0, 0, 0}));
}

static void refuses_numbers_that_do_not_exist(void **state) {
    (void)state;
    static const struct {
        sm_timecode_rate rate;
        bool drop;
        number n;
    } rows[] = {
        // Dropped: second 00, frames 00 and 01, of a minute that is no tenth (SMPTE ST 12-1, second-hand).
        {SM_TC_29_97, true, {0, 1, 0, 0}},   {SM_TC_29_97, true, {0, 1, 0, 1}},
        {SM_TC_29_97, true, {0, 59, 0, 0}},  {SM_TC_29_97, true, {23, 11, 0, 1}},
        {SM_TC_29_97, false, {0, 0, 0, 30}}, {SM_TC_24, false, {0, 0, 0, 24}},
        {SM_TC_25, false, {0, 0, 0, 25}},    {SM_TC_30, false, {0, 0, 0, 30}},
        {SM_TC_25, false, {24, 0, 0, 0}},    {SM_TC_25, false, {0, 60, 0, 0}},
        {SM_TC_25, false, {0, 0, 60, 0}},    {SM_TC_25, false, {-1, 0, 0, 0}},
        {SM_TC_25, false, {0, -1, 0, 0}},    {SM_TC_25, false, {0, 0, -1, 0}},
        {SM_TC_25, false, {0, 0, 0, -1}},    {SM_TC_30, true, {0, 0, 0, 0}},
        {SM_TC_25, true, {0, 0, 0, 0}},      {SM_TC_24, true, {0, 0, 0, 0}},
    };
    int64_t frames = 77;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const number n = rows[i].n;
        assert_int_equal(sm_timecode_to_frames(rows[i].rate, rows[i].drop, n.hours, n.minutes, n.seconds,
                                               n.frames, &frames),
                         SM_INVALID);
    }
    assert_int_equal(frames, 77);
    assert_int_equal(to_frames(SM_TC_29_97, true, (number){0, 10, 0, 0}), 17982);
    assert_int_equal(to_frames(SM_TC_29_97, false, (number){0, 1, 0, 0}), 1800);
}

// The remainder decides, without any floating point: |us den - frames num| at most half of den.
static void frames_are_nearest_microseconds(void **state) {
    (void)state;
    static const struct {
        sm_timecode_rate rate;
        int64_t us_of_them; // 30 frames at 29.97 last 1.001 s, a second of the other rates 1 s
        int64_t frame_count;
    } rows[] = {{SM_TC_24, 1000000, 24},
                {SM_TC_25, 1000000, 25},
                {SM_TC_29_97, 1001000, 30},
                {SM_TC_30, 1000000, 30}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        for (int64_t frames = -100000; frames <= 100000; frames++) {
            const sm_us us = sm_timecode_frames_us(rows[i].rate, frames);
            const int64_t off = us * rows[i].frame_count - frames * rows[i].us_of_them;
            if (2 * (off < 0 ? -off : off) > rows[i].frame_count)
                fail_msg("frame %lld", (long long)frames);
        }
        assert_int_equal(sm_timecode_frames_us(rows[i].rate, INT64_MAX), SM_US_MAX);
        assert_int_equal(sm_timecode_frames_us(rows[i].rate, INT64_MIN), -SM_US_MAX);
    }
}

typedef struct moment_row {
    const char *text;
    sm_us us;
} moment_row;

static void assert_moments(const sm_moment_base *base, const moment_row *rows, size_t count) {
    for (size_t i = 0; i < count; i++) {
        sm_us us = -77;
        if (sm_moment_read(rows[i].text, strlen(rows[i].text), base, &us) != SM_OK || us != rows[i].us)
            fail_msg("\"%s\" was read as %lld", rows[i].text, (long long)us);
    }
}

static void assert_no_moments(const sm_moment_base *base, const char *const *texts, size_t count,
                              sm_result expected) {
    for (size_t i = 0; i < count; i++) {
        sm_us us = 77;
        if (sm_moment_read(texts[i], strlen(texts[i]), base, &us) != expected || us != 77)
            fail_msg("\"%s\" was read as %lld", texts[i], (long long)us);
    }
}

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

static void reads_moments(void **state) {
    (void)state;
    const sm_moment_base base = {SM_TC_25, false, 90000};
    static const moment_row rows[] = {
        {"0", 0},
        {"-0", 0},
        {"20", 20000000},
        {"20.5", 20500000},
        {".5", 500000},
        {"-5.000000", -5000000},
        {"0.000001", 1},
        {"007.1", 7100000},
        {"90", 90000000},
        {"0:20.000", 20000000},
        {"1:05.25", 65250000},
        {"75:00", 4500000000},
        {"-1:00.001", -60001000},
        {"1:02:03.456789", 3723456789},
        {"0:00:00", 0},
        {"100:00:00", 360000000000},
        {"360000000", SM_US_MAX},
        {"-100000:00:00", -SM_US_MAX},
        {"01:00:00:00", 0},
        {"01:00:00:12", 480000},
        {"00:59:59:24", -40000},
        {"00:00:00:00", -3600000000},
        {"23:59:59:24", 82799960000},
    };
    assert_moments(&base, rows, COUNT(rows));
    sm_us us = 0;
    assert_int_equal(sm_moment_read("1:05.25garbage", 7, &base, &us), SM_OK); // only the bytes given are read
    assert_int_equal(us, 65250000);
}

static void refuses_what_is_no_moment(void **state) {
    (void)state;
    const sm_moment_base base = {SM_TC_25, false, 90000};
    static const char *const invalid[] = {
        "",
        "-",
        ".",
        "-.",
        "5.",
        "+5",
        " 5",
        "5 ",
        "5 s",
        "1e3",
        "0x10",
        "inf",
        "nan",
        "1,5",
        "1.1234567",
        "1.0000000",
        "1:60",
        "1:5",
        "1:005",
        "1:05.",
        ":05",
        "1:",
        "1:.5",
        "1:60:00",
        "1:5:00",
        "1:00:60",
        "1::00",
        "--5",
        "-01:00:00:00",
        "01:00:00:25",
        "01:00:00;12",
        "1:00:00:00",
        "01:00:00:1",
        "01:00:00:00.5",
        "01:00:00:00:00",
        "24:00:00:00",
        "01;00;00;00",
        "01;00:00:00",
        "01:00;00:00",
        "1;05",
        "1:02;03",
        "01:00:00:012",
        "1.5:00",
        "5\n",
        "five",
        "1:-05",
    };
    assert_no_moments(&base, invalid, COUNT(invalid), SM_INVALID);
    static const char *const outside[] = {"360000000.000001", "360000001", "-360000001", "100000:00:01",
                                          "99999999999999999999999999999999"};
    assert_no_moments(&base, outside, COUNT(outside), SM_OUT_OF_RANGE);
    sm_us us = 77;
    assert_int_equal(sm_moment_read("5\0", 2, &base, &us), SM_INVALID);
}

static void reads_timecode_against_the_start(void **state) {
    (void)state;
    const sm_moment_base drop = {SM_TC_29_97, true, 107892}; // 01:00:00;00
    static const moment_row drop_rows[] = {
        {"01:00:00;00", 0},      {"01:01:00;02", 60060000},    {"01:00:00;01", 33367}, // 33366.67 us
        {"00:59:59;29", -33367}, {"00:00:00;00", -3599996400},
    };
    assert_moments(&drop, drop_rows, COUNT(drop_rows));
    static const char *const drop_wrong[] = {"01:01:00;00", "01:01:00;01", "01:00:00:00", "01:00:00;30"};
    assert_no_moments(&drop, drop_wrong, COUNT(drop_wrong), SM_INVALID);

    const sm_moment_base non_drop = {SM_TC_29_97, false, 108000}; // 01:00:00:00
    static const moment_row non_drop_rows[] = {{"02:00:00:00", 3603600000}, {"01:01:00:00", 60060000}};
    assert_moments(&non_drop, non_drop_rows, COUNT(non_drop_rows));
    static const char *const non_drop_wrong[] = {"01:01:00;02"};
    assert_no_moments(&non_drop, non_drop_wrong, COUNT(non_drop_wrong), SM_INVALID);

    const sm_moment_base film = {SM_TC_24, false, 0};
    static const moment_row film_rows[] = {
        {"00:00:00:01", 41667}, {"00:00:00:02", 83333}, {"00:00:01:00", 1000000}};
    assert_moments(&film, film_rows, COUNT(film_rows));
}

static void reads_the_start_of_a_show(void **state) {
    (void)state;
    bool drop = false;
    int64_t frames = 77;
    assert_int_equal(sm_timecode_read("10:00:00;00", 11, SM_TC_29_97, &drop, &frames), SM_OK);
    assert_true(drop);
    assert_int_equal(frames, 1078920);
    assert_int_equal(sm_timecode_read("01:00:00:00", 11, SM_TC_25, &drop, &frames), SM_OK);
    assert_false(drop);
    assert_int_equal(frames, 90000);
    static const char *const wrong[] = {
        "", "0", "1:00:00:00", "01:00:00", "-01:00:00:00", "01:00:00;00", "01:00:00:25"};
    for (size_t i = 0; i < COUNT(wrong); i++)
        assert_int_equal(sm_timecode_read(wrong[i], strlen(wrong[i]), SM_TC_25, &drop, &frames), SM_INVALID);
    assert_int_equal(frames, 90000);
}

static void formats_moments(void **state) {
    (void)state;
    static const struct {
        sm_us us;
        const char *log, *clock;
    } rows[] = {
        {0, "0.000000", "0:00.000"},
        {1, "0.000001", "0:00.000"},
        {-1, "-0.000001", "-0:00.001"}, // down, not towards 0
        {-1000, "-0.001000", "-0:00.001"},
        {999, "0.000999", "0:00.000"},
        {-5000000, "-5.000000", "-0:05.000"},
        {65250999, "65.250999", "1:05.250"},
        {3599999999, "3599.999999", "59:59.999"},
        {3600000000, "3600.000000", "1:00:00.000"},
        {SM_US_MAX, "360000000.000000", "100000:00:00.000"},
        {INT64_MIN, "-9223372036854.775808", NULL},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char buffer[24];
        assert_string_equal(sm_us_format(buffer, rows[i].us), rows[i].log);
        if (rows[i].clock)
            assert_string_equal(sm_clock_format(buffer, rows[i].us), rows[i].clock);
    }
}

static void reads_back_what_it_formats(void **state) {
    (void)state;
    const sm_moment_base base = {SM_TC_25, false, 0};
    for (sm_us us = -SM_US_MAX; us < SM_US_MAX - INT64_C(3456789012345); us += INT64_C(345678901234)) {
        char buffer[24];
        sm_us read = 0;
        sm_us_format(buffer, us);
        assert_int_equal(sm_moment_read(buffer, strlen(buffer), &base, &read), SM_OK);
        assert_int_equal(read, us);
        sm_clock_format(buffer, us);
        assert_int_equal(sm_moment_read(buffer, strlen(buffer), &base, &read), SM_OK);
        assert_true(read <= us && us - read < 1000);
    }
}

static void writes_in_the_notation_of_another(void **state) {
    (void)state;
    static const sm_moment_base bases[] = {
        {SM_TC_25, false, 90000}, {SM_TC_29_97, true, 107892}, {SM_TC_25, false, 0}};
    static const struct {
        const char *like;
        size_t base;
        sm_us us;
        const char *expected; // NULL: out of range
    } rows[] = {
        {"0:04.000", 0, 4050000, "0:04.050"},
        {"0:04.000", 0, 4050001, "0:04.050001"}, // more decimals only where they are needed
        {"0:04", 0, 5000000, "0:05"},
        {"0:04", 0, 5500000, "0:05.5"},
        {"00:04.00", 0, 64250000, "01:04.25"},
        {"59:59.9", 0, 3600000000, "60:00.0"},
        {"0:59:59.9", 0, 3600000000, "1:00:00.0"},
        {"01:00:00", 0, 3599000000, "00:59:59"},
        {"4.5", 0, 100250000, "100.25"},
        {"004", 0, 9000000, "009"},
        {".5", 0, 750000, "0.75"},
        {"-0:01.0", 0, 500000, "0:00.5"},
        {"0:01.0", 0, -500000, "-0:00.5"},
        {"4", 0, -1, "-0.000001"},
        {"01:00:04:00", 0, 4050000, "01:00:04:01"}, // the nearest frame: of 40 ms
        {"01:00:04:00", 0, 4019999, "01:00:04:00"},
        {"01:00:04:00", 0, 4020000, "01:00:04:01"},
        {"01:00:04:00", 0, -1000000, "00:59:59:00"},
        {"00:00:04:00", 2, -40000, NULL}, // the day before
        {"01:00:59;29", 1, 59993267, "01:00:59;28"},
        {"01:00:00;00", 1, 60060000, "01:01:00;02"}, // SMPTE ST 12-1: ;00 and ;01 are left out
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        char buffer[32] = "none";
        sm_us read;
        const sm_moment_base *const base = &bases[rows[i].base];
        const sm_result result =
            sm_moment_write_like(rows[i].like, strlen(rows[i].like), base, rows[i].us, buffer);
        assert_int_equal(result, rows[i].expected ? SM_OK : SM_OUT_OF_RANGE);
        assert_string_equal(buffer, rows[i].expected ? rows[i].expected : "none");
        if (rows[i].expected)
            assert_int_equal(sm_moment_read(buffer, strlen(buffer), base, &read), SM_OK);
    }
    char buffer[32];
    assert_int_equal(sm_moment_write_like("soon", 4, &bases[0], 0, buffer), SM_INVALID);
    assert_int_equal(sm_moment_write_like("1", 1, &bases[0], SM_US_MAX + 1, buffer), SM_OUT_OF_RANGE);
}

static void the_nearest_frame_is_the_frame(void **state) {
    (void)state;
    for (int rate = 0; rate < SM_TC_COUNT; rate++)
        for (int64_t frame = -200000; frame < 3000000; frame += 997)
            assert_int_equal(sm_timecode_nearest_frame((sm_timecode_rate)rate,
                                                       sm_timecode_frames_us((sm_timecode_rate)rate, frame)),
                             frame);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(agrees_with_published_drop_frame_numbers),
        cmocka_unit_test(counts_every_frame_of_a_day_as_libltc),
        cmocka_unit_test(wraps_at_a_day),
        cmocka_unit_test(refuses_numbers_that_do_not_exist),
        cmocka_unit_test(frames_are_nearest_microseconds),
        cmocka_unit_test(reads_moments),
        cmocka_unit_test(refuses_what_is_no_moment),
        cmocka_unit_test(reads_timecode_against_the_start),
        cmocka_unit_test(reads_the_start_of_a_show),
        cmocka_unit_test(formats_moments),
        cmocka_unit_test(reads_back_what_it_formats),
        cmocka_unit_test(writes_in_the_notation_of_another),
        cmocka_unit_test(the_nearest_frame_is_the_frame),
    };
    return cmocka_run_group_tests_name("base timecode", tests, NULL, NULL);
}
