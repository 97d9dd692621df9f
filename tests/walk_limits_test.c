// SPDX-License-Identifier: GPL-3.0-or-later
// The walk at its edges: what is asked where there is less than usual, where one thing ends and the next begins, what a row of the log
// says to it. Each is a sentence of walk.h or of the format's page, unless said otherwise.
#include "support/folder.h"
#include "support/walk_site.h"

#include "slowmatch/walk.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#define NOON (INT64_C(1780000000) * SM_US_PER_S)
#define CUES "time,target,do,lasts\n"

static bool is_asked(const walk_site *s, const char *id) {
    return sm_walk_item_find(s->list, id) != SM_NONE;
}

static unsigned count_of(const char *text, const char *part) {
    unsigned count = 0;
    for (const char *at = text; (at = strstr(at, part)); at += strlen(part))
        count++;
    return count;
}

// ---- what is asked --------------------------------------------------------------------------------

// Product and fuel are asked about where there is any, the rest on every site.
static void what_needs_product_or_flame_is_asked_with_it(void **state) {
    walk_site *const s = *state;
    assert_true(is_asked(s, "product-watched") && is_asked(s, "valves-tried") && is_asked(s, "told"));
    folder_write(s->folder, "cues.csv", CUES "1.5,lamp-1 lamp-2,dim=200,2 s\n4,jet-1,flame=255,1 s\n");
    walk_site_load(s);
    assert_false(is_asked(s, "product-watched") || is_asked(s, "link-cut") || is_asked(s, "misfire-kit"));
    assert_true(is_asked(s, "valves-tried") && is_asked(s, "told") && is_asked(s, "search") == false);
}

// A row of walk.csv stands in place of the built-in item of the same name, a blank in it being a hyphen for `tick`, and of no other.
static void own_items_stand_in_place_of_their_namesakes_alone(void **state) {
    walk_site *const s = *state;
    static const char *const others[] = {"told",       "roles",    "names-in", "fallout-wind",
                                         "fire-cover", "first-in", "crew-fit"};
    walk_site_load(s);
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
        if (!is_asked(s, others[i]))
            fail_msg("%s is not asked", others[i]);
    folder_write(s->folder, "walk.csv",
                 "item,ask,expect,where,hold\ncrew fit,Who slept,yes,,no\ntol,Toll paid,yes,,no\n"
                 "roles-2,More roles,yes,,no\n");
    walk_site_load(s);
    assert_string_equal(walk_site_item(s, "crew-fit")->ask, "Who slept");
    assert_string_equal(walk_site_item(s, "roles-2")->ask, "More roles");
    assert_non_null(strstr(walk_site_item(s, "roles")->ask, "Lead, deputy"));
    assert_non_null(strstr(walk_site_item(s, "told")->ask, "Authorities"));
    unsigned fit = 0;
    for (uint32_t i = 0; i < s->list->count; i++)
        fit += strcmp(s->list->items[i].id, "crew-fit") == 0;
    assert_int_equal(fit, 1);
}

// Of rows of one item the last one stands, at its own place; a place that does not exist is told.
static void the_last_row_of_an_item_stands(void **state) {
    walk_site *const s = *state;
    folder_write(
        s->folder, "walk.csv",
        "item,ask,expect,where,hold\ngate,Shut,yes,left,yes\nrope,Tied,yes,left,no\ngate,Locked,no,right,no\n"
        "gate,Locked and taped,no,right,no\ngate-2,Another,yes,,no\nrol s,Rolls,yes,nowhere,no\n"
        "crew_fit,Fit,yes,,no\n");
    walk_site_load(s);
    unsigned gates = 0;
    for (uint32_t i = 0; i < s->list->count; i++)
        gates += strcmp(s->list->items[i].id, "gate") == 0;
    assert_int_equal(gates, 1);
    const sm_walk_item *gate = walk_site_item(s, "gate");
    assert_string_equal(gate->ask, "Locked and taped");
    assert_string_equal(gate->expect, "no");
    assert_false(gate->hold);
    assert_string_equal(s->show->positions[gate->position].name, "right");
    assert_string_equal(s->show->positions[walk_site_item(s, "rope")->position].name, "left");
    assert_int_equal(walk_site_item(s, "gate-2")->position, SM_NONE);
    assert_true(walk_site_item(s, "gate-2") <
                walk_site_item(s, "rope")); // what has no place comes before the places
    assert_string_equal(walk_site_item(s, "gate-2")->detail, "");
    assert_string_equal(walk_site_item(s, "rol-s")->detail, "where: nowhere\n");
    assert_string_equal(walk_site_item(s, "rope")->detail, "");
    folder_write(
        s->folder, "walk.csv",
        "item,ask,expect,where,hold\n\"one\ttwo\nthree four\",Tried,yes,,no\ncrew_fit,Fit,yes,,no\n");
    walk_site_load(s);
    assert_string_equal(walk_site_item(s, "one-two-three-four")->ask, "Tried"); // one word for `tick`
    assert_true(is_asked(s, "roles") && is_asked(s, "crew-fit") &&
                is_asked(s, "crew_fit")); // alike, and others
}

// The walk begins where the first DMX line that says so begins; a cable from nowhere said comes from its source.
static void the_walk_begins_at_the_first_source_there_is(void **state) {
    walk_site *const s = *state;
    folder_edit(s->folder, "lines.csv", "one,1,hut,", "one,1,,");
    folder_edit(s->folder, "lines.csv", "two,2,hut,", "two,2,right,");
    walk_site_load(s);
    assert_string_equal(s->show->positions[s->list->route[0]].name, "right");
    assert_non_null(strstr(walk_site_item(s, "unit:lamp-1")->detail,
                           "line one, unit 1 of 2, data cable from its source, 15 m\n"));
    assert_non_null(strstr(walk_site_item(s, "unit:lamp-2")->detail,
                           "unit 2 of 2, data cable from lamp-1, 3 m, terminator here\n"));
    assert_non_null(strstr(walk_site_item(s, "unit:jet-1")->detail,
                           "unit 1 of 1, data cable from right, 20 m, terminator here\n"));
}

static void a_rail_is_asked_about_its_own_slots(void **state) {
    walk_site *const s = *state;
    folder_write(s->folder, "readings.csv", "rail,slot,reading\nA,1,2.9\nA,2,open\n");
    walk_site_load(s);
    const char *a = walk_site_item(s, "slots:A")->detail, *b = walk_site_item(s, "slots:B")->detail;
    assert_true(count_of(a, "A-0") == 4 && count_of(a, "B-0") == 0);
    assert_true(count_of(b, "B-0") == 4 && count_of(b, "A-0") == 0);
    // 1.6 ohm, 10 m of 22 AWG and the leads come to about 3 ohm.
    assert_string_equal(walk_site_item(s, "readings:A")->detail,
                        "A-01 good 2.90\nA-02 open\nA-03 unread\nA-04 unread\n");
    assert_non_null(strstr(walk_site_item(s, "readings:A")->ask, "1 of 4 as predicted"));
    assert_non_null(strstr(walk_site_item(s, "readings:A")->ask, ", 2 not read"));
    assert_non_null(strstr(walk_site_item(s, "readings:B")->ask, "0 of 4 as predicted"));
}

static void what_has_no_place_has_no_event(void **state) {
    walk_site *const s = *state;
    folder_edit(s->folder, "fixtures.csv", "lamp-2,lamp,1,2,wall,", "lamp-2,lamp,1,2,,");
    walk_site_load(s);
    uint32_t told = sm_walk_item_find(s->list, "told"), rail = sm_walk_item_find(s->list, "slots:B");
    uint32_t at_rail = 0;
    for (uint32_t event = 0; event < s->show->event_count; event++)
        assert_false(sm_walk_item_has_event(s->list, told, event));
    while (!sm_walk_item_has_event(s->list, rail, s->show->order[at_rail]))
        at_rail++;
    assert_int_equal(sm_event_due_us(s->show, s->show->order[at_rail]),
                     4800000); // the comet of B-01, seen at 5 s
}

static void each_place_is_headed_once_on_paper(void **state) {
    walk_site *const s = *state;
    sm_text out = {0};
    sm_walk *walk = NULL;
    const sm_walk_past past = {0};
    const sm_walk_facts facts = {.now_us = NOON};
    assert_int_equal(sm_walk_create(s->list, &past, &facts, &walk), SM_OK);
    sm_walk_print(&out, walk);
    static const char *const heads[] = {"\nBefore the places\n", "\nPlace 1 of 4: hut (x 0 m, y 10 m)\n",
                                        "\nPlace 2 of 4: ",      "\nPlace 3 of 4: ",
                                        "\nPlace 4 of 4: ",      "\nAfter the places\n"};
    const char *at = out.bytes;
    for (size_t i = 0; i < sizeof heads / sizeof heads[0]; i++)
        if (count_of(out.bytes, heads[i]) != 1 || !(at = strstr(at, heads[i])))
            fail_msg("%s is not there once, in its order", heads[i]);
    sm_walk_destroy(walk);
    sm_text_deinit(&out);
}

// Briefing and those who must be told come before the places, fire cover and the storm watch after them.
static void what_comes_first_and_last_stands_there(void **state) {
    walk_site *const s = *state;
    static const char *const first[] = {"told", "roles", "link-cut", "no-flame"}, *const last[] = {
                                                                                      "fire-cover",
                                                                                      "shunts-off", "search",
                                                                                      "storm-watch"};
    uint32_t begin = sm_walk_item_find(s->list, "slots:A"), end = sm_walk_item_find(s->list, "slots:B");
    for (size_t i = 0; i < 4; i++) {
        uint32_t before = sm_walk_item_find(s->list, first[i]), after = sm_walk_item_find(s->list, last[i]);
        assert_true(before < begin && before < end && after > begin && after > end && after != SM_NONE);
    }
}

// A place is walked to when something is there to be looked at, or when the walk begins there.
static void a_place_with_nothing_is_not_walked_to(void **state) {
    walk_site *const s = *state;
    folder_edit(s->folder, "positions.csv", "hut,0,10\n", "far,500,500\nhut,0,10\n");
    folder_edit(s->folder, "walk.csv", "Briefing held in the hut,yes,hut,yes", "Briefing held,yes,,yes");
    walk_site_load(s);
    assert_int_equal(s->list->route_count, 4);
    assert_string_equal(s->show->positions[s->list->route[0]].name, "hut"); // where the lines begin
    for (uint32_t i = 0; i < s->list->route_count; i++)
        assert_string_not_equal(s->show->positions[s->list->route[i]].name, "far");
}

// ---- what the show's files say -------------------------------------------------------------------------

// The music is the show's, and a file that is not there counts as not there, whatever went wrong before.
static void the_content_has_the_music_in_it(void **state) {
    walk_site *const s = *state;
    sm_walk_hash first, later, music;
    char path[256];
    folder_edit(s->folder, "show.ini", "title = Small Show\n", "title = Small Show\naudio = music.wav\n");
    folder_write(s->folder, "music.wav", "one");
    walk_site_load(s);
    errno = 0;
    assert_int_equal(sm_walk_hash_music(folder_path(path, s->folder, "music.wav"), NULL, &music), SM_OK);
    // SHA-256 of "one", by sha256sum.
    assert_string_equal(music.hex, "7692c3ad3540bb803c020b3aee66cd8887123234ea0c6e7143c0add73ff431ed");
    assert_int_equal(sm_walk_content(s->show, &music, &first), SM_OK);
    errno = ENOENT;
    assert_int_equal(sm_walk_content(s->show, &music, &later), SM_OK);
    assert_true(sm_walk_hash_equal(&first, &later));
    folder_write(s->folder, "music.wav", "two");
    assert_int_equal(sm_walk_hash_music(path, NULL, &music), SM_OK);
    assert_int_equal(sm_walk_content(s->show, &music, &later), SM_OK);
    assert_false(sm_walk_hash_equal(&first, &later));
    assert_int_equal(unlink(path), 0);
    assert_int_equal(sm_walk_hash_music(path, NULL, &music), SM_OK);
    assert_string_equal(music.hex, "");
}

// ---- what is answered ------------------------------------------------------------------------------------

static const char *first_reason(const walk_site *s, const sm_walk_past *past, const sm_walk_facts *facts,
                                const char *begins) {
    static char found[200];
    sm_walk *walk = NULL;
    found[0] = '\0';
    assert_int_equal(sm_walk_create(s->list, past, facts, &walk), SM_OK);
    for (size_t i = 0; i < walk->reason_count && found[0] == '\0'; i++)
        if (strncmp(walk->reasons[i], begins, strlen(begins)) == 0)
            snprintf(found, sizeof found, "%s", walk->reasons[i]);
    sm_walk_destroy(walk);
    return found;
}

// A reading asks again about its own rail.
static void a_new_reading_asks_about_its_rail_alone(void **state) {
    walk_site *const s = *state;
    sm_unix_us read[8];
    walk_site_load(s);
    for (size_t i = 0; i < 8; i++)
        read[i] = SM_UNSET_US;
    const sm_walk_tick ticks[] = {{.item = "readings:A",
                                   .answer = SM_WALK_YES,
                                   .value = "",
                                   .note = "on paper",
                                   .by = "K",
                                   .when_us = NOON},
                                  {.item = "readings:B",
                                   .answer = SM_WALK_YES,
                                   .value = "",
                                   .note = "on paper",
                                   .by = "K",
                                   .when_us = NOON}};
    const sm_walk_past past = {.ticks = ticks, .tick_count = 2};
    const sm_walk_facts facts = {.now_us = NOON + 2, .read_us = read};
    read[4] = NOON; // B-01, with the answer
    assert_string_equal(first_reason(s, &past, &facts, "readings:"), "");
    read[4] = NOON + 1;
    assert_string_equal(first_reason(s, &past, &facts, "readings:A"), "");
    assert_string_equal(first_reason(s, &past, &facts, "readings:B"),
                        "readings:B: changed since it was answered");
}

// An answer to what is asked no more is passed over; each name is printed once.
static void old_answers_and_names_do_no_harm(void **state) {
    walk_site *const s = *state;
    sm_text out = {0};
    sm_walk *walk = NULL;
    walk_site_load(s);
    const sm_walk_tick ticks[] = {
        {.item = "gone", .answer = SM_WALK_YES, .value = "", .note = "", .by = "K", .when_us = NOON},
        {.item = "told", .answer = SM_WALK_YES, .value = "", .note = "", .by = "K", .when_us = NOON}};
    const sm_walk_sign signs[] = {{"K", NOON, s->list->content, s->list->hash, NULL},
                                  {"M", NOON, s->list->content, s->list->hash, NULL}};
    const sm_walk_past past = {.ticks = ticks, .tick_count = 2, .signs = signs, .sign_count = 2};
    const sm_walk_facts facts = {.now_us = NOON};
    assert_int_equal(sm_walk_create(s->list, &past, &facts, &walk), SM_OK);
    assert_int_equal(walk->standings[sm_walk_item_find(s->list, "told")].tick.answer, SM_WALK_YES);
    for (size_t i = 0; i < walk->note_count; i++)
        assert_null(strstr(walk->notes[i], "not applicable"));
    sm_walk_print_state(&out, walk);
    assert_int_equal(count_of(out.bytes, "signed by "), 2);
    assert_non_null(strstr(out.bytes, "signed by K at "));
    assert_non_null(strstr(out.bytes, "signed by M at "));
    sm_walk_destroy(walk);
    sm_text_deinit(&out);
}

// One person is one, in whatever case and with whatever blanks the name was typed. Small letters of capitals by the Unicode Character
// Database (U+00C9 and U+00E9, U+0416 and U+0436; from memory).
static void one_person_signs_once(void **state) {
    walk_site *const s = *state;
    static const struct {
        const char *first, *second;
        bool same;
    } cases[] = {{"K", " k\t", true},
                 {"Kim Ray", "KIM  ray", true},
                 {"\xC3\x89lise", "\xC3\xA9lise ", true},
                 {"\xD0\x96", "\xD0\xB6", true},
                 {"Kim Ray", "Kimray", false},
                 {"Kim", "Kimm", false},
                 {"\xC3\x89lise", "Elise", false},
                 {"K\xFF", "K\xFE", false}, // no characters, and different ones
                 {"K\xFF", "k\xFF", true}};
    walk_site_load(s);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char by[80];
        sm_walk *walk = NULL;
        snprintf(by, sizeof by, "%s AND %s", cases[i].first, cases[i].second);
        const sm_walk_tick tick = {
            .item = "told", .answer = SM_WALK_NA, .value = "", .note = "nobody near", .by = by};
        const sm_walk_past past = {.ticks = &tick, .tick_count = 1};
        const sm_walk_facts facts = {.now_us = NOON};
        assert_int_equal(sm_walk_create(s->list, &past, &facts, &walk), SM_OK);
        if (walk->standings[sm_walk_item_find(s->list, "told")].open != cases[i].same)
            fail_msg("%s", by);
        sm_walk_destroy(walk);
    }
}

// A waiver names the slot as a word of its own.
static void a_waiver_names_a_slot_as_a_word(void **state) {
    walk_site *const s = *state;
    folder_write(s->folder, "readings.csv", "rail,slot,reading\nA,2,open\n");
    walk_site_load(s);
    static const char buffer[] = "xA-02 broken lead";
    const struct {
        const char *text;
        bool waives;
    } cases[] = {{"readings, by K: A-02 broken lead", true},
                 {buffer + 1, true},
                 {buffer, false},
                 {"(A-02)", true},
                 {"A-021 broken", false},
                 {"AA-02 and A-02", true}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const sm_walk_past past = {0};
        const sm_walk_facts facts = {.now_us = NOON, .waivers = &cases[i].text, .waiver_count = 1};
        bool said = first_reason(s, &past, &facts, "reading A-02")[0] != '\0';
        if (said == cases[i].waives)
            fail_msg("%s", cases[i].text);
    }
}

static void rows_of_the_log_say_to_the_walk_what_they_are(void **state) {
    walk_site *const s = *state;
    static const struct {
        const char *word, *target, *detail;
        sm_walk_said_kind kind;
        const char *says;
    } rows[] = {
        {"sign", "K", "", SM_WALK_SAID_SIGN, "K"},
        {"enter", "K", "", SM_WALK_SAID_CHANGE, "K went in"},
        {"plug", "A", "", SM_WALK_SAID_CHANGE, "rail A plugged"},
        {"repair", "A-01", "", SM_WALK_SAID_CHANGE, "A-01 repaired"},
        {"read", "A-01", "2.9", SM_WALK_SAID_CHANGE, "new reading of A-01"},
        {"wind", "9 m/s", "", SM_WALK_SAID_CHANGE, "wind 9 m/s, over the limit"},
        {"wind", "8 m/s", "", SM_WALK_SAID_NOTHING, ""}, // equal is not over
        {"undo", "", "tick", SM_WALK_SAID_UNTICK, ""},
        {"undo", "", "read A-01", SM_WALK_SAID_NOTHING, ""},
        {"note", "x", "", SM_WALK_SAID_NOTHING, ""},
        {"tick", "no-such-item", "yes", SM_WALK_SAID_NOTHING, ""},
        {"tick", "told", "yes by K", SM_WALK_SAID_TICK, "told"},
    };
    sm_arena *texts = sm_arena_create();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        sm_walk_said said = {0};
        assert_int_equal(sm_walk_row_read(s->list, 8.0,
                                          sm_log_kind_read(SM_SOURCE_CONSOLE, rows[i].word, rows[i].target),
                                          rows[i].target, rows[i].detail, NOON, texts, &said),
                         SM_OK);
        assert_int_equal(said.kind, rows[i].kind);
        const char *says = said.kind == SM_WALK_SAID_SIGN     ? said.sign.who
                           : said.kind == SM_WALK_SAID_CHANGE ? said.change.what
                           : said.kind == SM_WALK_SAID_TICK   ? said.tick.item
                                                              : "";
        assert_string_equal(says, rows[i].says);
    }
    sm_walk_said said = {0}; // what is no speed is over no limit
    assert_int_equal(sm_walk_row_read(s->list, -INFINITY,
                                      sm_log_kind_read(SM_SOURCE_CONSOLE, "wind", "fresh"), "fresh", "", NOON,
                                      texts, &said),
                     SM_OK);
    assert_int_equal(said.kind, SM_WALK_SAID_NOTHING);
    sm_arena_destroy(texts);
}

// ---- the way --------------------------------------------------------------------------------------------

// Places in a row, in any order of the table, are walked along it; of two at one spot the first of the table comes first.
static void places_in_a_row_are_walked_along_it(void **state) {
    (void)state;
    enum { SPOTS = 7, COUNT = 2 * SPOTS };
    uint32_t seed = 5;
    for (int round = 0; round < 100; round++) {
        sm_walk_point points[COUNT];
        uint32_t at[COUNT], order[COUNT], start = 0;
        double metres;
        for (uint32_t i = 0; i < COUNT; i++)
            at[i] = i;
        for (uint32_t i = COUNT - 1; i > 0; i--) {
            seed = seed * 1664525u + 1013904223u;
            uint32_t other = (seed >> 16) % (i + 1), kept = at[i];
            at[i] = at[other];
            at[other] = kept;
        }
        for (uint32_t i = 0; i < COUNT; i++) {
            uint32_t spot = at[i] / 2;
            points[i] = (sm_walk_point){10.0 * spot, 3.0};
            start = at[i] == 0 ? i : start;
        }
        sm_walk_route(points, COUNT, start, order, &metres);
        assert_true(fabs(metres - 10.0 * (SPOTS - 1)) < 1e-9);
        for (uint32_t i = 1; i < COUNT; i++) {
            double step = points[order[i]].x_m - points[order[i - 1]].x_m;
            assert_true(step > 0.0 || i == 1 || order[i - 1] < order[i]);
        }
    }
}

static double step(const sm_walk_point *points, uint32_t a, uint32_t b) {
    return hypot(points[a].x_m - points[b].x_m, points[a].y_m - points[b].y_m);
}

static double least_from(const sm_walk_point *points, uint32_t at, unsigned left, uint32_t count) {
    double least = left == 0 ? 0.0 : INFINITY;
    for (uint32_t next = 0; next < count; next++)
        if (left & 1u << next)
            least =
                fmin(least, step(points, at, next) + least_from(points, next, left & ~(1u << next), count));
    return least;
}

// "Up to this many points every order is tried", this many too.
static void as_many_places_as_are_tried_are_walked_the_shortest_way(void **state) {
    (void)state;
    uint32_t seed = 3;
    for (int round = 0; round < 60; round++) {
        sm_walk_point points[SM_WALK_EXACT_MAX];
        uint32_t order[SM_WALK_EXACT_MAX];
        double metres;
        for (size_t i = 0; i < 2 * SM_WALK_EXACT_MAX; i++) {
            seed = seed * 1664525u + 1013904223u;
            *(i % 2 == 0 ? &points[i / 2].x_m : &points[i / 2].y_m) = (double)(seed >> 20);
        }
        sm_walk_route(points, SM_WALK_EXACT_MAX, 0, order, &metres);
        double least = least_from(points, 0, (1u << SM_WALK_EXACT_MAX) - 2, SM_WALK_EXACT_MAX);
        assert_true(fabs(metres - least) < 1e-6);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        ON_WALK_SITE(what_needs_product_or_flame_is_asked_with_it),
        ON_WALK_SITE(own_items_stand_in_place_of_their_namesakes_alone),
        ON_WALK_SITE(the_last_row_of_an_item_stands),
        ON_WALK_SITE(the_walk_begins_at_the_first_source_there_is),
        ON_WALK_SITE(a_rail_is_asked_about_its_own_slots),
        ON_WALK_SITE(what_has_no_place_has_no_event),
        ON_WALK_SITE(what_comes_first_and_last_stands_there),
        ON_WALK_SITE(a_place_with_nothing_is_not_walked_to),
        ON_WALK_SITE(old_answers_and_names_do_no_harm),
        ON_WALK_SITE(each_place_is_headed_once_on_paper),
        ON_WALK_SITE(the_content_has_the_music_in_it),
        ON_WALK_SITE(a_new_reading_asks_about_its_rail_alone),
        ON_WALK_SITE(one_person_signs_once),
        ON_WALK_SITE(a_waiver_names_a_slot_as_a_word),
        ON_WALK_SITE(rows_of_the_log_say_to_the_walk_what_they_are),
        cmocka_unit_test(as_many_places_as_are_tried_are_walked_the_shortest_way),
        cmocka_unit_test(places_in_a_row_are_walked_along_it),
    };
    return cmocka_run_group_tests_name("walk limits", tests, NULL, NULL);
}
