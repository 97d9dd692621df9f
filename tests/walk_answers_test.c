// SPDX-License-Identifier: GPL-3.0-or-later
// Answers to the walk as they are typed and as they come back from a table: what is read of them, and what is said of the rest.
#include "support/walk_site.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define NOON (INT64_C(1780000000) * SM_US_PER_S)

static void ticks_are_taken_apart(void **state) {
    walk_site *const s = *state;
    sm_walk_tick tick;
    const sm_walk_item *distance = walk_site_item(s, "distance:left");
    assert_int_equal(sm_walk_tick_read(distance, "yes 33.5 m behind the crane by K", s->texts, &tick), SM_OK);
    assert_int_equal(tick.answer, SM_WALK_YES);
    assert_string_equal(tick.value, "33.5 m");
    assert_string_equal(tick.note, "behind the crane");
    assert_string_equal(tick.by, "K");
    assert_int_equal(sm_walk_tick_read(distance, "yes 33 by hand, by K", s->texts, &tick), SM_OK);
    assert_string_equal(tick.value, "33");
    assert_string_equal(tick.note, "by hand");
    assert_int_equal(sm_walk_tick_read(distance, "later behind the crane", s->texts, &tick), SM_OK);
    assert_string_equal(tick.value, ""); // a word that is no measure belongs to the note
    assert_string_equal(tick.note, "behind the crane");
    assert_int_equal(
        sm_walk_tick_read(walk_site_item(s, "told"), "na 33 baby steps by K and M", s->texts, &tick), SM_OK);
    assert_string_equal(tick.value, "");
    assert_string_equal(tick.note, "33 baby steps");
    assert_string_equal(tick.by, "K and M");
    assert_int_equal(
        sm_walk_tick_read(walk_site_item(s, "told"), "yes stood nearby the crane", s->texts, &tick), SM_OK);
    assert_string_equal(tick.by, ""); // "nearby" names nobody
    assert_string_equal(tick.note, "stood nearby the crane");
    assert_int_equal(sm_walk_tick_read(distance, "later", s->texts, &tick), SM_OK);
    assert_int_equal(tick.answer, SM_WALK_LATER);
    assert_int_equal(sm_walk_tick_read(distance, "perhaps", s->texts, &tick), SM_INVALID);
}

// A reload takes the list away, and with it every item; what was answered is then judged against the list made anew.
static void answers_outlive_the_list(void **state) {
    walk_site *const s = *state;
    sm_findings *findings = sm_findings_create();
    sm_walk_tick read[2], *table = NULL;
    size_t count = 0;
    static const char text[] = "item,answer,by\nbriefing,yes,K\n";
    assert_non_null(findings);
    assert_int_equal(sm_walk_tick_read(walk_site_item(s, "told"), "yes by K", s->texts, &read[0]), SM_OK);
    assert_int_equal(
        sm_walk_ticks_read(s->list, "a.csv", text, sizeof text - 1, findings, s->texts, &table, &count),
        SM_OK);
    assert_int_equal(count, 1);
    read[1] = table[0];
    const sm_walk_past past = {.ticks = read, .tick_count = 2};
    const sm_walk_facts facts = {.now_us = NOON};
    walk_site_load(s);
    sm_walk *walk = NULL;
    assert_int_equal(sm_walk_create(s->list, &past, &facts, &walk), SM_OK);
    assert_int_equal(walk->standings[sm_walk_item_find(s->list, "told")].tick.answer, SM_WALK_YES);
    assert_int_equal(walk->standings[sm_walk_item_find(s->list, "briefing")].tick.answer, SM_WALK_YES);
    sm_walk_destroy(walk);
    sm_findings_destroy(findings);
}

static void dates_are_read(void **state) {
    (void)state;
    static const struct {
        const char *text;
        sm_unix_us when_us; // recomputed with date -u +%s
    } dates[] = {{"2026-07-04T20:15Z", INT64_C(1783196100000000)},
                 {"2026-07-04 20:15:30+02:00", INT64_C(1783188930000000)},
                 {"1970-01-01T00:00-0100", INT64_C(3600000000)}};
    for (size_t i = 0; i < sizeof dates / sizeof dates[0]; i++) {
        sm_unix_us when_us = 0;
        assert_int_equal(sm_walk_when_read(dates[i].text, strlen(dates[i].text), &when_us), SM_OK);
        assert_int_equal(when_us, dates[i].when_us);
    }
    static const char *const wrong[] = {"",
                                        "2026",
                                        "2026-07-04",
                                        "2026-13-04T20:15",
                                        "2026-04-31T20:15Z",
                                        "2026-07-04T24:15",
                                        "2026-07-04T20:15+2",
                                        "2026-07-04T20:15Zx"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        sm_unix_us when_us = 7;
        assert_int_equal(sm_walk_when_read(wrong[i], strlen(wrong[i]), &when_us), SM_INVALID);
        assert_int_equal(when_us, 7);
    }
}

static sm_result read_table(const walk_site *s, const char *text, sm_text *said, sm_walk_tick **ticks,
                            size_t *count) {
    sm_findings *findings = sm_findings_create();
    assert_non_null(findings);
    sm_result result =
        sm_walk_ticks_read(s->list, "back.csv", text, strlen(text), findings, s->texts, ticks, count);
    sm_text_clear(said);
    for (size_t i = 0; i < sm_findings_count(findings); i++) {
        sm_finding_format(said, NULL, sm_findings_at(findings, i));
        sm_text_append(said, "\n", 1);
    }
    sm_findings_destroy(findings);
    return result;
}

static void answers_come_back_from_a_table(void **state) {
    walk_site *const s = *state;
    sm_text said = {0};
    sm_walk_tick *ticks = NULL;
    size_t count = 0;
    assert_int_equal(read_table(s,
                                "\xEF\xBB\xBF"
                                "by,item,answer,note,value,when\r\n# a comment\r\n\r\nK, told "
                                ",yes,\"two\nlines, one comma\",,\r\n"
                                "M,distance:left,yes,,33 m,2026-07-04T20:15Z\r\n",
                                &said, &ticks, &count),
                     SM_OK);
    assert_int_equal(count, 2);
    assert_string_equal(ticks[0].item, "told");
    assert_string_equal(ticks[0].note, "two\nlines, one comma");
    assert_string_equal(ticks[0].by, "K");
    assert_int_equal(ticks[0].when_us, SM_UNSET_US);
    assert_string_equal(ticks[1].value, "33 m");
    assert_int_equal(ticks[1].when_us, INT64_C(1783196100000000));
    sm_text_deinit(&said);
}

static void wrong_tables_are_told_line_by_line(void **state) {
    walk_site *const s = *state;
    sm_text said = {0};
    sm_walk_tick *ticks = NULL;
    size_t count = 0;
    assert_int_equal(read_table(s,
                                "item,answer,value,when\n\ntold,perhaps,,\ntodl,yes,,\ndistance:left,yes,far,"
                                "\ntold,yes,,noon\n,yes,,\n",
                                &said, &ticks, &count),
                     SM_INVALID);
    assert_string_equal(
        said.bytes,
        "back.csv:3:6: error: \"perhaps\" is no answer; write yes, no, na or later [answers]\n"
        "back.csv:4:1: error: no item \"todl\" on this walk; did you mean told [answers]\n"
        "back.csv:5:19: error: \"far\" is no such measure; write a number with m, ft, mm or in [answers]\n"
        "back.csv:6:11: error: \"noon\" is not a date and time such as 2026-07-04T20:15 [answers]\n"
        "back.csv:7: error: the item is missing [answers]\n");
    assert_int_equal(read_table(s, "item,anwser\ntold,yes\n", &said, &ticks, &count), SM_INVALID);
    assert_non_null(
        strstr(said.bytes, "back.csv:1:6: error: no column \"anwser\"; did you mean answer [answers]\n"));
    assert_non_null(strstr(said.bytes, "back.csv:1: error: the column answer is missing [answers]\n"));
    assert_int_equal(read_table(s, "", &said, &ticks, &count), SM_INVALID);
    assert_int_equal(read_table(s, "\xEF\xBB\xBF", &said, &ticks, &count), SM_INVALID);
    assert_non_null(strstr(said.bytes, "empty; the first line names the columns"));
    assert_int_equal(read_table(s, "item,answer\n\"told,yes\n", &said, &ticks, &count), SM_INVALID);
    assert_int_equal(read_table(s, "item,answer\n\"told\"x,yes\ntold,yes\n", &said, &ticks, &count),
                     SM_INVALID);
    assert_string_equal(said.bytes,
                        "back.csv:2: error: a quote stands where none may, or is left open [answers]\n");
    assert_null(ticks);
    sm_text_deinit(&said);
}

// Recomputed with date -u -d ... +%s.
static void dates_at_the_ends_of_their_ranges(void **state) {
    (void)state;
    static const struct {
        const char *text;
        int64_t seconds; // 0: no date
    } dates[] = {{"2026-12-31T23:59:59Z", 1798761599},
                 {"2026-02-28T00:00Z", 1772236800},
                 {"2026-10-10T23:59+00:59", 1791673200},
                 {"2026-10-10T23:59:61Z", 0},
                 {"2026-00-10T00:00Z", 0},
                 {"2026-01-00T00:00Z", 0},
                 {"2026-02-29T00:00Z", 0},
                 {"1969-12-31T23:59Z", 0},
                 {"2026-10-10T23:60Z", 0},
                 {"2026-10-10T23:59+00:59x", 0},
                 {"2026-10-10T23:59+0059", 1791673200},
                 {"2026-10-10T23:59x", 0},
                 {"2026-10-10T23:59+24:00", 0},
                 {"2026-10-10T23:59+00:60", 0}};
    char buffer[24];
    for (size_t i = 0; i < sizeof dates / sizeof dates[0]; i++) {
        sm_unix_us when_us = 0;
        sm_result result = sm_walk_when_read(dates[i].text, strlen(dates[i].text), &when_us);
        if ((result == SM_OK) != (dates[i].seconds != 0) || when_us != dates[i].seconds * SM_US_PER_S)
            fail_msg("%s: %lld", dates[i].text, (long long)when_us);
    }
    assert_string_equal(sm_walk_when_format(buffer, SM_UNSET_US), "");
}

static void a_day_that_is_not_there_is_refused(void **state) {
    (void)state;
    static const struct {
        const char *text;
        sm_result result;
    } days[] = {{"2026-04-30T12:00Z", SM_OK},        {"2026-04-31T12:00Z", SM_INVALID},
                {"2028-02-29T12:00Z", SM_OK},        {"2026-02-29T12:00Z", SM_INVALID},
                {"2026-12-31T23:59:59Z", SM_OK},     {"2026-12-31T23:59:60Z", SM_INVALID},
                {"2026-06-15T23:59:60Z", SM_INVALID}};
    for (size_t i = 0; i < sizeof days / sizeof days[0]; i++) {
        sm_unix_us when_us;
        assert_int_equal(sm_walk_when_read(days[i].text, strlen(days[i].text), &when_us), days[i].result);
    }
}

// An empty cell at the end of a line is on that line.
static void what_is_missing_is_missing_on_its_line(void **state) {
    walk_site *const s = *state;
    walk_site_load(s);
    static const char text[] = "answer,item\nyes,\n";
    sm_findings *findings = sm_findings_create();
    sm_arena *texts = sm_arena_create();
    sm_walk_tick *ticks = NULL;
    size_t count = 0;
    assert_int_equal(
        sm_walk_ticks_read(s->list, "a.csv", text, strlen(text), findings, texts, &ticks, &count),
        SM_INVALID);
    assert_int_equal(sm_findings_count(findings), 1);
    assert_int_equal(sm_findings_at(findings, 0)->line, 2);
    sm_findings_destroy(findings);
    sm_arena_destroy(texts);
}

// A value is looked at where one is asked for; elsewhere it may be anything.
static void only_a_measure_must_be_one(void **state) {
    walk_site *const s = *state;
    walk_site_load(s);
    static const char good[] =
        "item,answer,value\ntold,yes,by letter\ndistance:left,yes,33 m\ndistance:right,later,\n";
    static const char bad[] = "item,answer,value\ndistance:left,yes,by letter\n";
    sm_findings *findings = sm_findings_create();
    sm_arena *texts = sm_arena_create();
    sm_walk_tick *ticks = NULL;
    size_t count = 0;
    assert_int_equal(
        sm_walk_ticks_read(s->list, "a.csv", good, strlen(good), findings, texts, &ticks, &count), SM_OK);
    assert_int_equal(count, 3);
    assert_string_equal(ticks[0].value, "by letter");
    assert_string_equal(ticks[2].value, ""); // not measured yet
    assert_int_equal(sm_walk_ticks_read(s->list, "a.csv", bad, strlen(bad), findings, texts, &ticks, &count),
                     SM_INVALID);
    sm_findings_destroy(findings);
    sm_arena_destroy(texts);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        ON_WALK_SITE(ticks_are_taken_apart),
        ON_WALK_SITE(answers_outlive_the_list),
        cmocka_unit_test(dates_are_read),
        ON_WALK_SITE(answers_come_back_from_a_table),
        ON_WALK_SITE(wrong_tables_are_told_line_by_line),
        cmocka_unit_test(dates_at_the_ends_of_their_ranges),
        ON_WALK_SITE(what_is_missing_is_missing_on_its_line),
        ON_WALK_SITE(only_a_measure_must_be_one),
        cmocka_unit_test(a_day_that_is_not_there_is_refused),
    };
    return cmocka_run_group_tests_name("answers to the walk", tests, NULL, NULL);
}
