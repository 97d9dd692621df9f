// SPDX-License-Identifier: GPL-3.0-or-later
// What `make mutants` showed that no other test of the walk held; worked out by hand from slowmatch(1) and walk.h.
#include "support/folder.h"
#include "support/walk_site.h"

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
    walk_site *const s = *state;
    static const struct {
        const char *text;
        uint32_t line; // 0: nothing is said of cells
    } tables[] = {
        {HEADER TEN_MORE "\n", 0},
        {HEADER TEN_MORE ",k\n", 1},
        {HEADER "\ntold,yes,,,,,,,,,,,,,,\n", 0},
        {HEADER "\n# told,yes,,,,,,,,,,,,,,,,,\ntold,yes,,,,,,,,,,,,,,,\n", 3},
    };
    sm_walk_list *const list = s->list;
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
}

// An answer's moment is told in JSON (in seconds since 1970), that of no answer is not.
static void json_tells_when_an_answer_was_given(void **state) {
    walk_site *const s = *state;
    sm_walk_list *const list = s->list;
    sm_walk *walk;
    const sm_unix_us noon = INT64_C(1780000000) * SM_US_PER_S;
    const sm_walk_facts facts = {.now_us = noon};
    static const char answers[] = "item,answer,by,when\ntold,yes,K,2026-05-28T20:26:40Z\n"; // 1780000000
    sm_findings *findings = sm_findings_create();
    sm_arena *texts = sm_arena_create();
    sm_walk_tick *ticks;
    size_t count;
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
}

// A place with nothing but a lamp, whatever the lamp's maker says of how near one may stand, is no distance to be measured.
static void a_place_with_a_lamp_alone_has_no_distance(void **state) {
    walk_site *const s = *state;
    folder_write(s->folder, "positions.csv",
                 "name,x,y\nhut,0,10\nleft,-20,40\nright,20,40\nwall,4,20\npole,8,20\n");
    folder_write(s->folder, "fixtures.csv",
                 "name,profile,universe,address,position,fuel\nlamp-1,lamp,1,1,wall,\nlamp-2,lamp,1,2,pole,\n"
                 "jet-1,jet,2,5,wall,200 ml\n");
    walk_site_load(s);
    assert_true(sm_walk_item_find(s->list, "distance:wall") != SM_NONE);
    assert_true(sm_walk_item_find(s->list, "distance:pole") == SM_NONE);
}

// Until the music is known a name waits for what it was put to; one that is void waits for nothing.
static void a_void_name_waits_for_nothing(void **state) {
    walk_site *const s = *state;
    const sm_unix_us noon = INT64_C(1780000000) * SM_US_PER_S;
    const sm_walk_facts facts = {.now_us = noon};
    sm_walk_list *list;
    sm_walk *walk;
    assert_int_equal(sm_walk_list_create(s->show, NULL, &list), SM_OK);
    const sm_walk_sign signs[] = {{"K", noon + 1, list->content, list->hash, NULL}, // dated later than now
                                  {"M", noon, list->content, list->hash, "a reason of before"}};
    const sm_walk_past past = {.signs = signs, .sign_count = 2};
    assert_int_equal(sm_walk_create(list, &past, &facts, &walk), SM_OK);
    assert_int_equal(walk->name_count, 2);
    for (size_t i = 0; i < 2; i++) {
        assert_non_null(walk->names[i].void_by);
        assert_false(walk->names[i].waits);
    }
    sm_walk_destroy(walk);
    sm_walk_list_destroy(list);
}

static void an_answer_without_memory_is_none(void **state) {
    walk_site *const s = *state;
    sm_walk_list *const list = s->list;
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
}

// Of many bad readings 40 are listed (walk/judge_walk.c; no source), and the others are counted: none is passed over.
static void of_many_bad_readings_each_is_listed_or_counted(void **state) {
    walk_site *const s = *state;
    folder_write(s->folder, "modules.csv", "name,slots\nnorth,64\n");
    folder_write(
        s->folder, "rails.csv",
        "name,module,first,slots,cable_length,position\nA,north,1,60,10 m,left\nB,north,61,4,20 m,right\n");
    sm_text cues = {0}, readings = {0};
    sm_text_printf(&cues, "time,target,do,lasts\n4,jet-1,permit=255 flame=0,\n5,jet-1,flame=255,1 s\n");
    sm_text_printf(&readings, "rail,slot,reading\n");
    for (int slot = 1; slot <= 43; slot++) {
        sm_text_printf(&cues, "7,A-%02d,comet,\n", slot);
        sm_text_printf(&readings, "A,%d,open\n", slot);
    }
    folder_write(s->folder, "cues.csv", sm_text_get(&cues));
    folder_write(s->folder, "readings.csv", sm_text_get(&readings));
    walk_site_load(s);
    sm_walk *walk;
    const sm_walk_facts facts = {.now_us = 1};
    assert_int_equal(sm_walk_create(s->list, &(sm_walk_past){0}, &facts, &walk), SM_OK);
    unsigned listed = 0, counted = 0;
    for (size_t i = 0; i < walk->reason_count; i++) {
        listed += strncmp(walk->reasons[i], "reading A-", 10) == 0;
        counted += strcmp(walk->reasons[i], "readings: 3 more slots") == 0;
    }
    assert_int_equal(listed, 40);
    assert_int_equal(counted, 1);
    sm_walk_destroy(walk);
    sm_text_deinit(&cues);
    sm_text_deinit(&readings);
}

// Where walk.csv gives every early item a place, nothing is asked before the places, and what has none comes after them.
static void what_comes_after_the_places_is_headed_so(void **state) {
    walk_site *const s = *state;
    sm_text rows = {0}, paper = {0};
    sm_text_printf(&rows, "item,ask,expect,where,hold\nbriefing,Asked,yes,left,no\n");
    for (uint32_t i = 0; s->list->items[i].position == SM_NONE; i++)
        sm_text_printf(&rows, "%s,Asked,yes,left,no\n", s->list->items[i].id);
    folder_write(s->folder, "walk.csv", sm_text_get(&rows));
    walk_site_load(s);
    sm_walk *walk;
    assert_int_equal(sm_walk_create(s->list, &(sm_walk_past){0}, &(sm_walk_facts){.now_us = 1}, &walk),
                     SM_OK);
    sm_walk_print(&paper, walk);
    assert_null(strstr(sm_text_get(&paper), "Before the places"));
    assert_non_null(strstr(sm_text_get(&paper), "After the places"));
    sm_walk_destroy(walk);
    sm_text_deinit(&rows);
    sm_text_deinit(&paper);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        ON_WALK_SITE(one_cell_too_many_is_said_and_one_less_is_not),
        ON_WALK_SITE(json_tells_when_an_answer_was_given),
        ON_WALK_SITE(a_place_with_a_lamp_alone_has_no_distance),
        ON_WALK_SITE(of_many_bad_readings_each_is_listed_or_counted),
        ON_WALK_SITE(what_comes_after_the_places_is_headed_so),
        ON_WALK_SITE(a_void_name_waits_for_nothing),
        ON_WALK_SITE(an_answer_without_memory_is_none),
    };
    return cmocka_run_group_tests_name("edges of the walk", tests, NULL, NULL);
}
