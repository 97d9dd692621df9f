// SPDX-License-Identifier: GPL-3.0-or-later
// What `make mutants` showed that no other test of the walk held; worked out by hand from slowmatch(1) and walk.h.
#include "support/folder.h"

#include "slowmatch/walk.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#define HEADER "item,answer,value,note,by,when"
#define TEN_MORE ",a,b,c,d,e,f,g,h,i,j"

static const sm_finding *about_cells(sm_findings *findings) {
    for (size_t i = 0; i < sm_findings_count(findings); i++)
        if (strstr(sm_findings_at(findings, i)->message, "cells; a row has at most"))
            return sm_findings_at(findings, i);
    return NULL;
}

// A table of answers has at most 16 cells a row.
static void one_cell_too_many_is_said_and_one_less_is_not(void **state) {
    (void)state;
    static const struct {
        const char *text;
        uint32_t line; // 0: nothing is said of cells
    } tables[] = {
        {HEADER TEN_MORE "\n", 0},
        {HEADER TEN_MORE ",k\n", 1},
        {HEADER "\ntold,yes,,,,,,,,,,,,,,\n", 0},
        {HEADER "\n# told,yes,,,,,,,,,,,,,,,,,\ntold,yes,,,,,,,,,,,,,,,\n", 3},
    };
    char folder[64];
    folder_make(folder);
    folder_small_show(folder);
    sm_show *show = folder_load(folder);
    sm_walk_list *list;
    assert_int_equal(sm_walk_list_create(show, &(sm_walk_hash){""}, &list), SM_OK);
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        sm_findings *findings = sm_findings_create();
        sm_arena *texts = sm_arena_create();
        sm_walk_tick *ticks = NULL;
        size_t count = 0;
        const sm_result result = sm_walk_ticks_read(list, "a.csv", tables[i].text, strlen(tables[i].text),
                                                    findings, texts, &ticks, &count);
        const sm_finding *finding = about_cells(findings);
        assert_true(result == SM_OK || sm_findings_count(findings) > 0);
        assert_int_equal(finding ? finding->line : 0, tables[i].line);
        if (finding)
            assert_string_equal(finding->message, "17 cells; a row has at most 16");
        sm_findings_destroy(findings);
        sm_arena_destroy(texts);
    }
    sm_walk_list_destroy(list);
    sm_show_destroy(show);
    folder_remove(folder);
}

// An answer's moment is told in JSON (in seconds since 1970), that of no answer is not.
static void json_tells_when_an_answer_was_given(void **state) {
    (void)state;
    char folder[64];
    folder_make(folder);
    folder_small_show(folder);
    sm_show *show = folder_load(folder);
    sm_walk_list *list;
    sm_walk *walk;
    const sm_unix_us noon = INT64_C(1780000000) * SM_US_PER_S;
    const sm_walk_facts facts = {.now_us = noon};
    static const char answers[] = "item,answer,by,when\ntold,yes,K,2026-05-28T20:26:40Z\n"; // 1780000000
    sm_findings *findings = sm_findings_create();
    sm_arena *texts = sm_arena_create();
    sm_walk_tick *ticks;
    size_t count;
    assert_int_equal(sm_walk_list_create(show, &(sm_walk_hash){""}, &list), SM_OK);
    assert_int_equal(
        sm_walk_ticks_read(list, "a.csv", answers, strlen(answers), findings, texts, &ticks, &count), SM_OK);
    const sm_walk_past past = {.ticks = ticks, .tick_count = count};
    assert_int_equal(sm_walk_create(list, &past, &facts, &walk), SM_OK);
    sm_text json = {0};
    sm_walk_print_json(&json, walk);
    const char *told = strstr(sm_text_get(&json), "{\"item\": \"told\"");
    assert_non_null(told);
    const char *answered = strstr(told, "\"answer\": \"yes\""), *end = strchr(told, '\n');
    assert_true(answered && answered < end);
    const char *when = strstr(answered, "\"when\": 1780000000");
    assert_true(when && when < end);
    const char *open = strstr(sm_text_get(&json), "\"answer\": null");
    assert_non_null(open);
    when = strstr(open, "\"when\": null");
    assert_true(when && when < strchr(open, '\n'));
    sm_text_deinit(&json);
    sm_walk_destroy(walk);
    sm_findings_destroy(findings);
    sm_arena_destroy(texts);
    sm_walk_list_destroy(list);
    sm_show_destroy(show);
    folder_remove(folder);
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

// A place with nothing but a lamp, whatever the lamp's maker says of how near one may stand, is no distance to be measured.
static void a_place_with_a_lamp_alone_has_no_distance(void **state) {
    (void)state;
    char folder[64];
    folder_make(folder);
    folder_small_show(folder);
    folder_write(folder, "positions.csv",
                 "name,x,y\nhut,0,10\nleft,-20,40\nright,20,40\nwall,4,20\npole,8,20\n");
    folder_write(folder, "fixtures.csv",
                 "name,profile,universe,address,position,fuel\nlamp-1,lamp,1,1,wall,\nlamp-2,lamp,1,2,pole,\n"
                 "jet-1,jet,2,5,wall,200 ml\n");
    sm_show *const show = folder_load(folder);
    sm_walk_list *list;
    assert_int_equal(sm_walk_list_create(show, &(sm_walk_hash){""}, &list), SM_OK);
    assert_true(sm_walk_item_find(list, "distance:wall") != SM_NONE);
    assert_true(sm_walk_item_find(list, "distance:pole") == SM_NONE);
    sm_walk_list_destroy(list);
    sm_show_destroy(show);
    folder_remove(folder);
}

static void an_answer_without_memory_is_none(void **state) {
    (void)state;
    char folder[64];
    folder_make(folder);
    folder_small_show(folder);
    sm_show *const show = folder_load(folder);
    sm_walk_list *list;
    assert_int_equal(sm_walk_list_create(show, &(sm_walk_hash){""}, &list), SM_OK);
    for (size_t n = 1; n <= 5; n++) { // four texts are kept
        sm_arena *const texts = sm_arena_create();
        sm_walk_tick tick = {.when_us = 7};
        sm_arena_fail_at(texts, n);
        const sm_result result = sm_walk_tick_read(&list->items[0], "yes all there, by K", texts, &tick);
        assert_int_equal(result, n < 5 ? SM_NO_MEMORY : SM_OK);
        if (n < 5)
            assert_int_equal(tick.when_us, 7);
        else
            assert_string_equal(tick.by, "K");
        sm_arena_destroy(texts);
    }
    sm_walk_list_destroy(list);
    sm_show_destroy(show);
    folder_remove(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_cell_too_many_is_said_and_one_less_is_not),
        cmocka_unit_test(json_tells_when_an_answer_was_given),
        cmocka_unit_test(a_day_that_is_not_there_is_refused),
        cmocka_unit_test(a_place_with_a_lamp_alone_has_no_distance),
        cmocka_unit_test(an_answer_without_memory_is_none),
    };
    return cmocka_run_group_tests_name("edges of the walk", tests, NULL, NULL);
}
