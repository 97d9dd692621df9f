// SPDX-License-Identifier: GPL-3.0-or-later
// The items of a walk, the answers given, what is open, and which names stand.
#include "support/folder.h"
#include "support/walk_site.h"

#include "slowmatch/walk.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define NOON (INT64_C(1780000000) * SM_US_PER_S)
#define MINUTE (60 * SM_US_PER_S)

// Every item answered as expected.
static size_t answer_all(const walk_site *s, sm_walk_tick *ticks) {
    for (uint32_t i = 0; i < s->list->count; i++) {
        const sm_walk_item *item = &s->list->items[i];
        ticks[i] = (sm_walk_tick){.item = sm_arena_text(s->texts, item->id, strlen(item->id)),
                                  .answer = strcmp(item->expect, "no") == 0 ? SM_WALK_NO : SM_WALK_YES,
                                  .value = item->measured ? "900" : "",
                                  .note = item->kind == SM_WALK_READINGS ? "read on paper" : "",
                                  .by = "K",
                                  .when_us = NOON,
                                  .hash = item->hash};
    }
    return s->list->count;
}

static sm_walk_tick *tick_named(sm_walk_tick *ticks, size_t count, const char *id) {
    for (size_t i = 0; i < count; i++)
        if (strcmp(ticks[i].item, id) == 0)
            return &ticks[i];
    fail_msg("no answer to %s", id);
    return NULL;
}

static sm_walk_sign sign(const walk_site *s, const char *who, sm_unix_us when_us) {
    return (sm_walk_sign){who, when_us, s->list->content, s->list->hash, NULL};
}

#define TICKS_MAX 100
typedef struct judged {
    sm_walk_tick ticks[TICKS_MAX];
    sm_walk_sign signs[4];
    sm_walk_change changes[4];
    sm_walk_past past;
    sm_walk_facts facts;
    sm_findings *findings;
    sm_walk *walk;
} judged;

static void judge_begin(judged *j, const walk_site *s) {
    *j = (judged){.findings = sm_findings_create()};
    assert_true(s->list->count <= TICKS_MAX);
    j->past = (sm_walk_past){
        .ticks = j->ticks, .tick_count = answer_all(s, j->ticks), .signs = j->signs, .changes = j->changes};
    j->facts = (sm_walk_facts){
        .now_us = NOON + 10 * MINUTE, .findings = j->findings, .wind_known = true, .wind_m_s = 3};
}

static const sm_walk *judge(judged *j, const walk_site *s) {
    sm_walk_destroy(j->walk);
    assert_int_equal(sm_walk_create(s->list, &j->past, &j->facts, &j->walk), SM_OK);
    return j->walk;
}

static void judge_end(judged *j) {
    sm_walk_destroy(j->walk);
    sm_findings_destroy(j->findings);
}

static void assert_only_reason(const sm_walk *walk, const char *reason) {
    if (walk->reason_count != 1 || strcmp(walk->reasons[0], reason) != 0)
        fail_msg("%zu reasons, the first \"%s\", not just \"%s\"", walk->reason_count,
                 walk->reason_count > 0 ? walk->reasons[0] : "", reason);
}

// ---- items ----------------------------------------------------------------------------

// FIPS 180-4: the digest of "abc" (example of the standard, from memory; recomputed with sha256sum).
static void hashes_are_sha_256(void **state) {
    (void)state;
    sm_walk_hash hash = sm_walk_hash_bytes("abc", 3);
    assert_string_equal(hash.hex, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

static void items_come_from_the_show_in_walking_order(void **state) {
    walk_site *const s = *state;
    static const char *const places[] = {"hut", "wall", "right", "left"}; // 10.8, 25.6, 40 m: the shortest
    assert_int_equal(s->list->route_count, 4);
    for (uint32_t i = 0; i < 4; i++)
        assert_string_equal(s->show->positions[s->list->route[i]].name, places[i]);
    // 10.770 + 25.612 + 40 m (recomputed by hand)
    assert_true(s->list->metres > 76.38 && s->list->metres < 76.39);
    for (int fuel = 0; fuel < 2;
         fuel++) { // no place is left and come back to, but for fuel, in its own round
        uint32_t at = 0;
        for (uint32_t i = 0; i < s->list->count; i++) {
            if (s->list->items[i].position == SM_NONE || (s->list->items[i].kind == SM_WALK_FUEL) != fuel)
                continue;
            while (at < 4 && s->list->route[at] != s->list->items[i].position)
                at++;
            assert_true(at < 4);
        }
    }
    assert_string_equal(walk_site_item(s, "briefing")->ask,
                        "Briefing held in the hut"); // in place of the built-in
    assert_non_null(strstr(walk_site_item(s, "slots:A")->detail, "A-01 comet\n"));
    assert_non_null(
        strstr(walk_site_item(s, "unit:jet-1")->ask, "address 5 of universe 2, switches 1 to 9 101000000"));
    assert_true(walk_site_item(s, "unit:jet-1")->hold);
    assert_false(walk_site_item(s, "unit:lamp-1")->hold);
    // 8 ml/s for the second of flame at 4 s->
    assert_true(walk_site_item(s, "fuel:jet-1")->least == 8.0);
    // 30 mm is 1.5 in: 70 ft an inch is 105 ft, 32.0 m (OAR 837-012-0840(3)(a), read in the rule); ground 75 ft, 22.9 m.
    double least = walk_site_item(s, "distance:left")->least;
    assert_true(least > 31.99 && least < 32.02);
    assert_true(walk_site_item(s, "distance:wall")->least == 10.0); // the maker's figure
}

static void what_no_show_has_is_not_asked(void **state) {
    walk_site *const s = *state;
    assert_true(sm_walk_item_find(s->list, "valves-tried") != SM_NONE);
    folder_edit(s->folder, "fixtures.csv", "jet-1,jet,2,5,wall,200 ml,straight up\n", "");
    folder_edit(s->folder, "lines.csv", "two,2,hut,jet-1,20m\n", "");
    folder_edit(s->folder, "cues.csv", "3,jet-1,permit=255 flame=0,\n4,jet-1,flame=255,1 s\n", "");
    folder_edit(s->folder, "cues.csv", "9.5,jet-1,permit=0,\n", "");
    walk_site_load(s);
    assert_true(sm_walk_item_find(s->list, "valves-tried") == SM_NONE);
    assert_true(sm_walk_item_find(s->list, "distance:wall") == SM_NONE);
}

// ---- what is open --------------------------------------------------------------------------

static void all_answered_leaves_no_hold_open(void **state) {
    walk_site *const s = *state;
    judged j;
    sm_text text = {0};
    judge_begin(&j, s);
    assert_int_equal(judge(&j, s)->reason_count, 0);
    sm_walk_print_state(&text, j.walk);
    assert_non_null(strstr(text.bytes,
                           "No open hold is recorded. The decision belongs to the crew lead and the "
                           "licensed operator.\n"));
    j.past.tick_count = 0;
    judge(&j, s);
    size_t holds = 0;
    for (uint32_t i = 0; i < s->list->count; i++)
        holds += s->list->items[i].hold;
    assert_int_equal(j.walk->reason_count, holds);
    sm_text_clear(&text);
    sm_walk_print(&text, j.walk);
    sm_walk_print_json(&text, j.walk);
    assert_non_null(strstr(text.bytes, "NO-GO"));
    for (const char *at = text.bytes; (at = strstr(at, "GO")); at += 2) // GO stands nowhere by itself
        assert_int_equal(strncmp(at - 3, "NO-GO", 5), 0);
    assert_null(strstr(text.bytes, "is safe"));
    sm_text_deinit(&text);
    judge_end(&j);
}

static void holds_stay_open_until_answered_as_expected(void **state) {
    walk_site *const s = *state;
    judged j;
    judge_begin(&j, s);
    sm_walk_tick *boats = tick_named(j.ticks, j.past.tick_count, "boats"); // expects no
    boats->answer = SM_WALK_YES;
    assert_only_reason(judge(&j, s), "boats: answered yes");
    boats->answer = SM_WALK_LATER;
    assert_only_reason(judge(&j, s), "boats: left for later");
    boats->answer = SM_WALK_NA;
    assert_only_reason(judge(&j, s), "boats: na on a hold needs a reason");
    boats->note = "winter, the harbour is frozen";
    assert_only_reason(judge(&j, s), "boats: na on a hold needs two different names");
    boats->by = "K and k";
    assert_only_reason(judge(&j, s), "boats: na on a hold needs two different names");
    boats->by = "K and M";
    assert_int_equal(judge(&j, s)->reason_count, 0);
    assert_int_equal(j.walk->note_count, 2); // the na, and the slots that were not read
    assert_string_equal(j.walk->notes[0], "boats: not applicable, by K and M: winter, the harbour is frozen");
    judge_end(&j);
}

// On paper: what was answered, by whom and when, as far as that is known.
static void answers_stand_on_paper(void **state) {
    walk_site *const s = *state;
    judged j;
    sm_text text = {0};
    judge_begin(&j, s);
    sm_walk_tick *told = tick_named(j.ticks, j.past.tick_count, "told");
    told->when_us = SM_UNSET_US;
    told->by = "";
    tick_named(j.ticks, j.past.tick_count, "boats")->when_us = SM_UNSET_US;
    tick_named(j.ticks, j.past.tick_count, "flowers")->note = "well";
    tick_named(j.ticks, j.past.tick_count, "briefing")->answer = SM_WALK_LATER;
    sm_walk_print(&text, judge(&j, s));
    static const char *const parts[] = {"        answered yes\n",
                                        "        answered no by K\n",
                                        "        answered yes by K at 2026-05-2",
                                        ": well\n",
                                        "        answered yes 900 by K at 2026-",
                                        "; open: left for later\n"};
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        if (!strstr(sm_text_get(&text), parts[i]))
            fail_msg("no \"%s\" in %s", parts[i], sm_text_get(&text));
    sm_text_deinit(&text);
    judge_end(&j);
}

static void a_measure_below_the_figure_is_open(void **state) {
    walk_site *const s = *state;
    judged j;
    judge_begin(&j, s);
    sm_walk_tick *distance = tick_named(j.ticks, j.past.tick_count, "distance:left");
    distance->value = "";
    assert_only_reason(judge(&j, s), "distance:left: no measured value");
    distance->value = "31.9 m";
    assert_only_reason(judge(&j, s), "distance:left: measured 31.9 m, less than the 32.0 m used");
    distance->value = "106 ft"; // 32.3 m
    assert_int_equal(judge(&j, s)->reason_count, 0);
    judge_end(&j);
}

static void readings_check_and_weather_are_reasons(void **state) {
    walk_site *const s = *state;
    judged j;
    folder_write(s->folder, "readings.csv", "rail,slot,reading\nA,2,open\n");
    walk_site_load(s);
    judge_begin(&j, s);
    assert_only_reason(judge(&j, s), "reading A-02: open");
    const char *const waivers[] = {"readings, by K: A-02 broken lead"};
    j.facts.waivers = waivers;
    j.facts.waiver_count = 1;
    assert_int_equal(judge(&j, s)->reason_count, 0);
    sm_findings_add(j.findings, "cues.csv", 3, 1, SM_ERROR, "slot-twice", "A-01 again");
    sm_findings_add(j.findings, "cues.csv", 4, 1, SM_WARNING, "lead-unknown", "no lead");
    assert_only_reason(judge(&j, s), "check: cues.csv:3:1: error: A-01 again [slot-twice]");
    judge_end(&j);
    judge_begin(&j, s);
    j.facts.waivers = waivers;
    j.facts.waiver_count = 1;
    j.facts.wind_m_s = 8.5;
    assert_only_reason(judge(&j, s), "wind 8.5 m/s, over the limit of 8.0 m/s");
    j.facts.wind_m_s = 8;
    j.facts.storm = true;
    assert_only_reason(judge(&j, s), "storm");
    judge_end(&j);
}

// ---- what changed is asked again, and only that ----------------------------------------------

static void only_what_changed_is_asked_again(void **state) {
    walk_site *const s = *state;
    judged j;
    judge_begin(&j, s);
    folder_edit(s->folder, "cues.csv", "8,A-04,comet", "8,A-04,fountain");
    walk_site_load(s);
    assert_only_reason(judge(&j, s), "slots:A: changed since it was answered");
    folder_write(s->folder, "readings.csv", "rail,slot,reading\nB,1,4.0\n");
    walk_site_load(s);
    judge(&j, s);
    assert_int_equal(j.walk->reason_count, 2);
    assert_string_equal(j.walk->reasons[0], "readings:B: changed since it was answered");
    judge_end(&j);
}

static void two_different_people_sign(void **state) {
    walk_site *const s = *state;
    judged j;
    judge_begin(&j, s);
    j.signs[0] = sign(s, "K", NOON);
    j.signs[1] = sign(s, "k", NOON + MINUTE);
    j.past.sign_count = 2;
    assert_int_equal(judge(&j, s)->signed_by, 1);
    j.signs[1].who = "M";
    assert_int_equal(judge(&j, s)->signed_by, 2);
    tick_named(j.ticks, j.past.tick_count, "told")->answer = SM_WALK_NO;
    assert_int_equal(judge(&j, s)->signed_by, 0);
    assert_string_equal(j.walk->names[0].void_by, "a reason for NO-GO stands");
    judge_end(&j);
}

static void assert_void(judged *j, const walk_site *s, const char *by) {
    judge(j, s);
    assert_int_equal(j->walk->signed_by, 0);
    assert_non_null(j->walk->names[0].void_by);
    if (strncmp(j->walk->names[0].void_by, by, strlen(by)) != 0)
        fail_msg("void by \"%s\", not \"%s\"", j->walk->names[0].void_by, by);
}

static void signatures_become_void(void **state) {
    walk_site *const s = *state;
    judged j;
    judge_begin(&j, s);
    j.signs[0] = sign(s, "K", NOON);
    j.past.sign_count = 1;
    j.facts.now_us = NOON + 240 * MINUTE - 1;
    assert_int_equal(judge(&j, s)->signed_by, 1);
    j.facts.now_us++;
    assert_void(&j, s, "4 h have passed");
    j.facts.now_us = NOON - 1;
    assert_void(&j, s, "dated later than now");
    j.facts.now_us = NOON + MINUTE;
    j.changes[0] = (sm_walk_change){"M went in", NOON};
    j.past.change_count = 1;
    assert_int_equal(judge(&j, s)->signed_by, 1); // before the name, or with it
    j.changes[0].when_us++;
    assert_void(&j, s, "M went in at ");
    j.past.change_count = 0;
    j.facts.wind_m_s = 9;
    assert_void(&j, s, "wind over the limit");
    j.facts.wind_m_s = 3;
    j.facts.storm = true;
    assert_void(&j, s, "storm");
    j.facts.storm = false;
    folder_edit(s->folder, "cues.csv", "1.5,lamp-1",
                "1.6,lamp-1"); // no item rests on it, the show is another
    walk_site_load(s);
    assert_void(&j, s, "the show changed");
    folder_edit(s->folder, "cues.csv", "1.6,lamp-1", "1.5,lamp-1");
    walk_site_load(s);
    assert_int_equal(judge(&j, s)->signed_by, 1);
    folder_write(s->folder, "readings.csv", "rail,slot,reading\nA,1,2.9\n");
    walk_site_load(s);
    assert_void(&j, s, "an item or a reading changed");
    judge_end(&j);
}

// ---- what else stands in the way ----------------------------------------------------------------

static void previews_only_when_safe_with_the_key_off(void **state) {
    (void)state;
    for (int at = 0; at < SM_STATE_COUNT; at++)
        for (int key = 0; key < 2; key++)
            assert_true((!sm_walk_preview_refusal((sm_state)at, key)) == (at == SM_STATE_SAFE && !key));
}

// A note says how readings are known that nobody has taken. One person is one name, however it was typed.
static void a_plain_yes_closes_no_reading_that_was_not_taken(void **state) {
    walk_site *const s = *state;
    judged j;
    judge_begin(&j, s);
    j.signs[0] = sign(s, "Kim", NOON + MINUTE);
    j.signs[1] = sign(s, " kim ", NOON + 2 * MINUTE);
    j.past.sign_count = 2;
    assert_int_equal(judge(&j, s)->signed_by, 1);
    tick_named(j.ticks, j.past.tick_count, "readings:B")->note = "";
    assert_only_reason(judge(&j, s),
                       "readings:B: yes, and 4 of 4 slots not read: measure them, or note how it is known");
    judge_end(&j);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hashes_are_sha_256),
        ON_WALK_SITE(items_come_from_the_show_in_walking_order),
        ON_WALK_SITE(what_no_show_has_is_not_asked),
        ON_WALK_SITE(all_answered_leaves_no_hold_open),
        ON_WALK_SITE(holds_stay_open_until_answered_as_expected),
        ON_WALK_SITE(answers_stand_on_paper),
        ON_WALK_SITE(a_measure_below_the_figure_is_open),
        ON_WALK_SITE(readings_check_and_weather_are_reasons),
        ON_WALK_SITE(only_what_changed_is_asked_again),
        ON_WALK_SITE(two_different_people_sign),
        ON_WALK_SITE(signatures_become_void),
        cmocka_unit_test(previews_only_when_safe_with_the_key_off),
        ON_WALK_SITE(a_plain_yes_closes_no_reading_that_was_not_taken),
    };
    return cmocka_run_group_tests_name("walk", tests, NULL, NULL);
}
