// SPDX-License-Identifier: GPL-3.0-or-later
// How a walk stands, for any answers, readings, weather and names: against a second judge, written from the sentences of walk.h and of
// the format's page, that knows no order of asking.
#include "support/folder.h"

#include "slowmatch/drill.h"
#include "slowmatch/walk.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define NOW (INT64_C(1780000000) * SM_US_PER_S)
#define HOUR (3600 * SM_US_PER_S)
#define ROUNDS 1500
#define TICKS 120
#define SIGNS 4
#define SLOTS 16

static const struct {
    const char *text;
    double metres, millilitres; // NAN: not a measure of that kind
} values[] = {{"", NAN, NAN},        {"900", 900, 900},      {"32 m", 32, NAN}, {"31.9 m", 31.9, NAN},
              {"106 ft", 32.3, NAN}, {"2000 ml", NAN, 2000}, {"x", NAN, NAN},   {"5", 5, 5}};
static const struct {
    const char *text;
    bool two; // different people
} names[] = {{"", false},    {"K", false},    {"K and M", true}, {"K and k", false},
             {"K, M", true}, {"M + K", true}, {"K and ", false}};
static const struct {
    const char *text, *slot;
} waivers[] = {{"readings, by K: A-02 broken lead", "A-02"},
               {"readings, by K: B-01", "B-01"},
               {"readings, by K: A-022", ""}};

static const struct {
    const char *what, *rail; // at which somebody worked; NULL: none
} changes[] = {{"K went in", NULL},  {"A-02 repaired", "A"}, {"B-01 repaired", "B"},
               {"A repaired", NULL}, {" repaired", NULL},    {"in", NULL}};

typedef struct draft {
    const sm_walk_list *list;
    sm_walk_tick ticks[TICKS];
    size_t value_of[TICKS], name_of[TICKS];
    sm_walk_sign signs[SIGNS];
    sm_walk_change change;
    size_t repaired; // row of `changes`
    sm_verdict verdicts[SLOTS];
    sm_unix_us read_us[SLOTS];
    const char *waived[COUNT(waivers)];
    sm_walk_past past;
    sm_walk_facts facts;
    uint64_t random;
} draft;

static uint32_t below(draft *r, uint32_t count) {
    return (uint32_t)(sm_drill_random(&r->random) % count);
}

static sm_unix_us some_time(draft *r) {
    static const sm_unix_us ages[] = {-1, 0, 1, HOUR, 4 * HOUR - 1, 4 * HOUR, 5 * HOUR};
    return NOW - ages[below(r, COUNT(ages))];
}

// Mostly what is expected, so that some walks are whole.
static void answer(draft *r, size_t at, uint32_t item, bool gladly) {
    const sm_walk_item *asked = &r->list->items[item];
    const bool good = gladly || below(r, 4) > 0;
    r->value_of[at] = good ? 1 : below(r, COUNT(values));
    r->name_of[at] = below(r, COUNT(names));
    r->ticks[at] = (sm_walk_tick){.item = !gladly && below(r, 30) == 0 ? "no such item" : asked->id,
                                  .answer = strcmp(asked->expect, "no") == 0 ? SM_WALK_NO : SM_WALK_YES,
                                  .value = values[r->value_of[at]].text,
                                  .note = below(r, 2) == 0 ? "" : "why",
                                  .by = names[r->name_of[at]].text,
                                  .when_us = some_time(r),
                                  .hash = asked->hash};
    if (!good)
        r->ticks[at].answer = (sm_walk_answer)(1 + below(r, SM_WALK_ANSWER_COUNT - 1));
    if (!gladly && below(r, 6) == 0)
        r->ticks[at].hash = below(r, 2) == 0 ? r->list->items[0].hash : (sm_walk_hash){""};
}

static void draw(draft *r, const sm_walk_list *list, sm_findings *findings, uint64_t seed) {
    *r = (draft){.list = list, .random = seed};
    const bool gladly = below(r, 3) == 0; // all is well but for one thing or none
    size_t count = 0;
    for (uint32_t i = 0; i < list->count; i++)
        if (gladly || below(r, 5) > 0)
            answer(r, count++, i, gladly);
    for (uint32_t more = gladly ? below(r, 2) : below(r, 20); more > 0; more--)
        answer(r, count++, below(r, list->count), false);
    const uint32_t signs = below(r, SIGNS + 1);
    for (uint32_t i = 0; i < signs; i++) {
        static const char *const who[] = {"K", "M", "k"};
        r->signs[i] = (sm_walk_sign){who[below(r, 3)], some_time(r), list->content, list->hash, NULL};
        if (below(r, 8) == 0)
            r->signs[i].content = list->hash;
        if (below(r, 8) == 0)
            r->signs[i].items = list->content;
    }
    for (uint32_t slot = 0; slot < list->show->slot_count; slot++) {
        r->verdicts[slot] =
            gladly || below(r, 6) > 0 ? SM_VERDICT_GOOD : (sm_verdict)below(r, SM_VERDICT_COUNT);
        r->read_us[slot] = gladly || below(r, 4) > 0 ? SM_UNSET_US : some_time(r);
    }
    r->change = (sm_walk_change){changes[r->repaired = below(r, COUNT(changes))].what, some_time(r)};
    const size_t waived = below(r, COUNT(waivers) + 1);
    for (size_t i = 0; i < waived; i++)
        r->waived[i] = waivers[i].text;
    r->past = (sm_walk_past){.ticks = r->ticks,
                             .tick_count = count,
                             .signs = r->signs,
                             .sign_count = signs,
                             .changes = &r->change,
                             .change_count = below(r, gladly ? 5 : 2) == 0};
    static const double winds[] = {0.0, 7.9, 8.0, 8.1};
    r->facts = (sm_walk_facts){.now_us = NOW,
                               .findings = below(r, 2) == 0 ? findings : NULL,
                               .verdicts = r->verdicts,
                               .read_us = r->read_us,
                               .waivers = r->waived,
                               .waiver_count = waived,
                               .wind_known = below(r, 3) > 0,
                               .wind_m_s = winds[below(r, gladly ? 3 : 4)],
                               .storm = below(r, 8) == 0};
}

// ---- the second judge ------------------------------------------------------------------------------------

static bool same_hash(const sm_walk_hash *a, const sm_walk_hash *b) {
    return strcmp(a->hex, b->hex) == 0;
}

// "What it rests on changed since": its hash differs, or a slot of the rail that it is about was read anew or repaired.
static bool has_changed(const draft *r, const sm_walk_item *item, const sm_walk_tick *tick) {
    if (tick->hash.hex[0] != '\0' && !same_hash(&tick->hash, &item->hash))
        return true;
    bool anew = false;
    for (uint32_t slot = 0; slot < r->list->show->slot_count; slot++)
        anew = anew || (r->list->show->slot_rails[slot] == item->index && r->read_us[slot] != SM_UNSET_US &&
                        r->read_us[slot] > tick->when_us);
    const char *worked_at = changes[r->repaired].rail;
    anew = anew || (item->kind == SM_WALK_READINGS && r->past.change_count > 0 && worked_at &&
                    r->change.when_us > tick->when_us &&
                    strcmp(worked_at, r->list->show->rails[item->index].name) == 0);
    return item->kind == SM_WALK_READINGS && anew;
}

// A slot of the rail that ITEM is about fires, and nobody has read it.
static bool has_unread(const draft *r, const sm_walk_item *item) {
    const sm_show *show = r->list->show;
    bool found = false;
    for (uint32_t slot = 0; slot < show->slot_count; slot++)
        found =
            found || (show->slot_rails[slot] == item->index && show->slot_firings[slot] != SM_NONE &&
                      (r->verdicts[slot] == SM_VERDICT_UNREAD || r->verdicts[slot] == SM_VERDICT_UNPLUGGED));
    return item->kind == SM_WALK_READINGS && found;
}

// A plain yes closes no rail that was not read. Answered as expected, a measure where one is asked for and no less than its figure; or not applicable, on a hold by two people with a
// reason.
static bool is_closed(const draft *r, const sm_walk_item *item, size_t at) {
    const sm_walk_tick *tick = &r->ticks[at];
    if (has_changed(r, item, tick))
        return false;
    switch (tick->answer) {
    case SM_WALK_NA:
        return !item->hold || (tick->note[0] != '\0' && names[r->name_of[at]].two);
    case SM_WALK_YES:
    case SM_WALK_NO: {
        const double value = item->quantity == SM_QUANTITY_LENGTH ? values[r->value_of[at]].metres
                                                                  : values[r->value_of[at]].millilitres;
        const bool as_expected = (tick->answer == SM_WALK_NO) == (strcmp(item->expect, "no") == 0);
        if (tick->answer == SM_WALK_YES && tick->note[0] == '\0' && has_unread(r, item))
            return false;
        return as_expected && (!item->measured || (!isnan(value) && !(value < item->least)));
    }
    default:
        return false;
    }
}

// The row of its last answer; the count where there is none.
static size_t last_answer(const draft *r, const char *id) {
    size_t last = r->past.tick_count;
    for (size_t i = 0; i < r->past.tick_count; i++)
        if (strcmp(r->ticks[i].item, id) == 0)
            last = i;
    return last;
}

static bool is_waived(const draft *r, const char *slot) {
    for (size_t i = 0; i < r->facts.waiver_count; i++)
        if (strcmp(waivers[i].slot, slot) == 0)
            return true;
    return false;
}

static size_t bad_readings(const draft *r, bool *unread) {
    size_t bad = 0;
    for (uint32_t slot = 0; slot < r->list->show->slot_count; slot++) {
        char name[48];
        if (r->list->show->slot_firings[slot] == SM_NONE)
            continue;
        *unread = *unread || r->verdicts[slot] == SM_VERDICT_UNREAD;
        bad +=
            sm_verdict_refuses(r->verdicts[slot]) && !is_waived(r, sm_slot_format(r->list->show, slot, name));
    }
    return bad;
}

static bool stands(const draft *r, const sm_walk_sign *sign, size_t reasons) {
    return reasons == 0 && sign->when_us <= NOW && NOW - sign->when_us < 4 * HOUR &&
           same_hash(&sign->content, &r->list->content) && same_hash(&sign->items, &r->list->hash) &&
           !(r->past.change_count > 0 && r->change.when_us > sign->when_us);
}

static void compare(const draft *r, const sm_walk *walk) {
    size_t reasons = 0, notes = 0;
    for (uint32_t i = 0; i < r->list->count; i++) {
        const sm_walk_item *item = &r->list->items[i];
        const size_t at = last_answer(r, item->id);
        const bool answered = at < r->past.tick_count, closed = answered && is_closed(r, item, at);
        if (walk->standings[i].open == closed)
            fail_msg("%s (%s): %s", item->id, answered ? r->ticks[at].value : "",
                     closed ? walk->standings[i].why : "is not open");
        assert_int_equal(walk->standings[i].changed, answered && has_changed(r, item, &r->ticks[at]));
        assert_int_equal(walk->standings[i].tick.answer, answered ? r->ticks[at].answer : SM_WALK_UNANSWERED);
        reasons += !closed && item->hold;
        notes += (!closed && !item->hold) || (closed && item->hold && r->ticks[at].answer == SM_WALK_NA);
    }
    bool unread = false;
    reasons += bad_readings(r, &unread);
    reasons += r->facts.findings ? sm_findings_count_of(r->facts.findings, SM_ERROR) : 0;
    reasons += r->facts.wind_known && r->facts.wind_m_s > 8.0; // the show's limit
    reasons += r->facts.storm;
    notes += r->facts.waiver_count;
    notes += unread;
    notes += !r->facts.findings;
    notes += !r->facts.wind_known;
    assert_int_equal(walk->reason_count, reasons);
    assert_int_equal(walk->note_count, notes);
    assert_int_equal(walk->name_count, r->past.sign_count);
    bool has_k = false, has_m = false;
    for (size_t i = 0; i < walk->name_count; i++) {
        const bool standing = stands(r, &r->signs[i], reasons);
        if (!walk->names[i].void_by != standing)
            fail_msg("%s: %s", r->signs[i].who, standing ? walk->names[i].void_by : "stands");
        has_k = has_k || (standing && r->signs[i].who[0] != 'M');
        has_m = has_m || (standing && r->signs[i].who[0] == 'M');
    }
    assert_int_equal(walk->signed_by, has_k + has_m); // k is K
}

static void any_walk_stands_as_its_sentences_say(void **state) {
    (void)state;
    char folder[64];
    folder_make(folder);
    folder_small_show(folder);
    sm_show *show = folder_load(folder);
    sm_walk_list *list = NULL;
    sm_findings *findings = sm_findings_create();
    draft *r = calloc(1, sizeof *r);
    assert_true(findings && r && show->slot_count <= SLOTS);
    assert_int_equal(sm_walk_list_create(show, &(sm_walk_hash){""}, &list), SM_OK);
    assert_true(list->count <= TICKS - 20);
    size_t whole = 0, signed_twice = 0;
    for (uint64_t seed = 1; seed <= ROUNDS; seed++) {
        if (seed == ROUNDS / 2) { // from here on the check has found something
            sm_findings_add(findings, "cues.csv", 3, 1, SM_ERROR, "slot-twice", "A-01 again");
            sm_findings_add(findings, "cues.csv", 4, 1, SM_WARNING, "lead-unknown", "no lead");
        }
        draw(r, list, findings, seed);
        sm_walk *walk = NULL;
        assert_int_equal(sm_walk_create(list, &r->past, &r->facts, &walk), SM_OK);
        compare(r, walk);
        whole += walk->reason_count == 0;
        signed_twice += walk->signed_by == 2;
        sm_walk_destroy(walk);
    }
    assert_true(whole > ROUNDS / 20 && signed_twice > 5);
    free(r);
    sm_findings_destroy(findings);
    sm_walk_list_destroy(list);
    sm_show_destroy(show);
    folder_remove(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(any_walk_stands_as_its_sentences_say)};
    return cmocka_run_group_tests_name("walk standing", tests, NULL, NULL);
}
