// SPDX-License-Identifier: GPL-3.0-or-later
// What is asked at each place, word for word, from tables small enough to be read by eye.
#include "support/folder.h"
#include "support/walk_site.h"

#include "slowmatch/walk.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))

static int gate_open(void **state) {
    walk_site_open(state);
    walk_site *const s = *state;
    // A gate with nothing that burns, a mast whose effect needs no distance; jets of two makers at the wall.
    folder_write(s->folder, "positions.csv",
                 "name,x,y\nhut,0,10\nleft,-20,40\nright,20,40\nwall,4,20\ngate,9,5\nmast,1,60\n");
    folder_write(
        s->folder, "rails.csv",
        "name,module,first,slots,cable_length,position\nA,north,1,4,10 m,left\nB,north,5,4,20 m,right\n"
        "C,north,9,2,5 m,mast\nD,north,11,2,5 m,\n");
    folder_write(s->folder, "effects.csv",
                 "name,lead,lasts,zone,calibre\ncomet,0.2 s,1 s,aerial,30 mm\nfountain,0 s,3 "
                 "s,ground,\nflash,0 s,0 s,none,\n");
    folder_write(s->folder, "profiles.csv",
                 "name,channels,home,hazard,enable,fire,burn,clear\nlamp,dim,0,none,,,,\n"
                 "jet,permit flame,0 0,flame,permit 128-255,flame 1-255,8 ml/s,10 m\n"
                 "torch,permit flame,0 0,flame,permit 128-255,flame 1-255,,12.5 m\n"
                 "spark,permit flame,0 0,flame,permit 128-255,flame 1-255,2 ml/s,\n"
                 "gas,permit flame,0 0,flame,permit 128-255,flame 1-255,30 g/s,8 m\n");
    folder_write(
        s->folder, "feeds.csv",
        "name,from,volts,breaker,cord_length,cord_gauge\nmain,,230,16 A,0 m,\nwest,main,230,,12 m,2.5 mm2\n");
    folder_write(
        s->folder, "fixtures.csv",
        "name,profile,universe,address,position,feed,fuel,aim\nlamp-1,lamp,1,1,wall,west,,the water\n"
        "lamp-2,lamp,1,2,wall,,,\nlamp-3,lamp,1,3,gate,,,\njet-1,jet,2,5,wall,,200 ml,straight up\n"
        "torch-1,torch,2,7,wall,,,\nspark-1,spark,2,9,gate,,,\n"
        "gas-1,gas,2,11,hut,,425 g,\n");
    folder_write(s->folder, "lines.csv",
                 "name,universe,source,chain,cables\none,1,hut,lamp-1 lamp-2 lamp-3,15m 3m\ntwo,2,,jet-1 "
                 "torch-1 spark-1,\n");
    folder_write(s->folder, "cues.csv",
                 "time,target,do,lasts,igniters,wire\n1,A-01,comet,,2s,\n2,A-02,fountain,,,12 m 20 "
                 "AWG\n3,jet-1,permit=255 flame=0,,,\n"
                 "4,jet-1,flame=255,1.5 s,,\n5,B-01,comet,,3p,2 "
                 "m\n6,C-01,flash,,,\n7,D-02,fountain,,,\n8,A-04,flash,,,\n"
                 "9,gas-1,permit=255 flame=0,,,\n10,gas-1,flame=255,1.5 s,,\n");
    folder_write(s->folder, "readings.csv", "rail,slot,reading\nA,1,open\nB,1,2.5\nD,1,short\n");
    walk_site_load(s);
    return 0;
}

static const struct {
    const char *id, *ask, *detail, *place; // ASK and DETAIL: a part of it, or "=" and the whole
    bool hold;
} items[] = {
    {"slots:A", "Rail A on module north, slots 1 to 4, cable 10 m 22 AWG",
     "=A-01 comet, 2 in series\n"
     "A-02 fountain, extra wire 12 m 20 AWG\nA-04 flash\n",
     "left", true},
    {"slots:B", "slots 5 to 8, cable 20 m", "=B-01 comet, 3 in parallel, extra wire 2 m 22 AWG\n", "right",
     true},
    {"slots:C", "slots 9 to 10, cable 5 m", "=C-01 flash\n", "mast", true},
    {"slots:D", "slots 11 to 12", "=D-02 fountain\n", NULL, true},
    {"readings:A", "0 of 3 as predicted (continuity only; not proof that it fires), 2 not read",
     "=A-01 open\nA-02 unread\nA-03 spare\nA-04 unread\n", "left", true},
    {"readings:C", "0 of 1 as predicted (continuity only; not proof that it fires), 1 not read",
     "=C-01 unread\nC-02 spare\n", "mast", true},
    {"readings:D", "0 of 1 as predicted (continuity only; not proof that it fires), 1 not read",
     "=D-01 stray\nD-02 unread\n", NULL, true},
    {"unit:lamp-1",
     "=lamp-1 (lamp) set to address 1 of universe 1, switches 1 to 9 100000000, read back aloud; aimed: the "
     "water",
     "=line one, unit 1 of 3, data cable from hut, 15 m\nmains feed west, cord 12 m 2.5 mm2\n", "wall",
     false},
    {"unit:lamp-2",
     "=lamp-2 (lamp) set to address 2 of universe 1, switches 1 to 9 010000000, read back aloud",
     "=line one, unit 2 of 3, data cable from lamp-1, 3 m\n", "wall", false},
    {"unit:lamp-3", "address 3 of universe 1",
     "=line one, unit 3 of 3, data cable from lamp-2, terminator here\n", "gate", false},
    {"unit:jet-1", "aimed: straight up", "=line two, unit 1 of 3, data cable from its source\n", "wall",
     true},
    {"unit:spark-1", "address 9", "=line two, unit 3 of 3, data cable from torch-1, terminator here\n",
     "gate", true},
    {"fuel:jet-1",
     "=jet-1: fuel fitted, amount measured and written down; the list says 200 ml; the cues burn 12 ml", "=",
     "wall", true},
    {"fuel:torch-1", "=torch-1: fuel fitted, amount measured and written down", "=", "wall", true},
    {"fuel:spark-1", "=spark-1: fuel fitted, amount measured and written down; the cues burn 0 ml", "=",
     "gate", true},
    {"fuel:gas-1",
     "=gas-1: fuel fitted, amount measured and written down; the list says 425 g; the cues burn 45 g", "=",
     "hut", true},
    {"power-off:torch-1", "power was off", "=", "wall", true},
    {"leak:jet-1", "=jet-1: no fuel in it yet: leak-checked as its maker says", "=", "wall", true},
    {"home:jet-1", "=jet-1: no fuel in it yet: enable (permit) stands at home with nothing sent", "=", "wall",
     true},
    {"cable:gas-1", "=gas-1: no fuel in it yet: data cable pulled, and enable (permit) went home", "=", "hut",
     true},
    // 30 mm: 1.5 inches at 70 ft, 105 ft are 32.0 m (OAR 837-012-0840(3)(a), read); from y 40 to the front at 0.
    {"distance:left", "=Distance from left to the audience front, measured; by the list 40.0 m",
     "figure used 32.0 m, for comet: 70 ft", "left", true},
    {"distance:wall", "by the list 20.0 m",
     "figure used 12.5 m, for torch-1: the maker's least distance; profiles.csv\n", "wall", true},
    {"distance:mast", "by the list 60.0 m", "=no figure used\nlocal law and the maker's data go first\n",
     "mast", true},
    {"distance:gate", "by the list 5.0 m", "=no figure used\nlocal law and the maker's data go first\n",
     "gate", true},
};

static bool says(const char *text, const char *part) {
    return part[0] == '=' ? strcmp(text, part + 1) == 0 : strstr(text, part) != NULL;
}

static void each_item_says_what_the_tables_say(void **state) {
    walk_site *const s = *state;
    for (size_t i = 0; i < COUNT(items); i++) {
        const uint32_t at = sm_walk_item_find(s->list, items[i].id);
        if (at == SM_NONE)
            fail_msg("%s is not asked", items[i].id);
        const sm_walk_item *item = &s->list->items[at];
        if (!says(item->ask, items[i].ask))
            fail_msg("%s asks: %s", item->id, item->ask);
        if (!says(item->detail, items[i].detail))
            fail_msg("%s tells: %s", item->id, item->detail);
        assert_string_equal(item->position == SM_NONE ? "" : s->show->positions[item->position].name,
                            items[i].place ? items[i].place : "");
        if (item->hold != items[i].hold)
            fail_msg("%s: hold %d", item->id, item->hold);
    }
    static const char *const none[] = {"fuel:lamp-1", "power-off:lamp-1", "home:lamp-1", "leak:lamp-1",
                                       "distance:"};
    for (size_t i = 0; i < COUNT(none); i++)
        assert_int_equal(sm_walk_item_find(s->list, none[i]), SM_NONE);
}

// Fuel comes behind all places: what is tried without it stands before it, for every unit of the show.
static void fuel_comes_after_what_is_tried_without(void **state) {
    static const char *const before[] = {"power-off:", "leak:", "home:", "cable:"};
    walk_site *const s = *state;
    size_t fuels = 0;
    for (uint32_t f = 0; f < s->list->count; f++) {
        if (strncmp(s->list->items[f].id, "fuel:", 5) != 0)
            continue;
        fuels++;
        for (size_t b = 0; b < COUNT(before); b++) {
            char id[64];
            snprintf(id, sizeof id, "%s%s", before[b], s->list->items[f].id + 5);
            assert_true(sm_walk_item_find(s->list, id) < f);
        }
        for (uint32_t i = f; i < s->list->count; i++)
            for (size_t b = 0; b < COUNT(before); b++)
                if (strncmp(s->list->items[i].id, before[b], strlen(before[b])) == 0)
                    fail_msg("%s comes after %s", s->list->items[i].id, s->list->items[f].id);
    }
    assert_int_equal(fuels, 4);
}

// What is fitted of a gas is weighed: grams close its item, millilitres say nothing of it.
static void a_gas_is_weighed(void **state) {
    static const struct {
        const char *value, *why; // NULL: not open
    } rows[] = {{"425 g", NULL},
                {"45", NULL},
                {"44 g", "measured 44 g, less than the 45.0 g used"},
                {"900 ml", "no measured value"}};
    walk_site *const s = *state;
    const sm_walk_item *item = &s->list->items[sm_walk_item_find(s->list, "fuel:gas-1")];
    for (size_t i = 0; i < COUNT(rows); i++) {
        const sm_walk_tick tick = {
            .item = item->id, .answer = SM_WALK_YES, .value = rows[i].value, .note = "", .by = "K"};
        const sm_walk_past past = {.ticks = &tick, .tick_count = 1};
        const sm_walk_facts facts = {0};
        sm_walk *walk = NULL;
        assert_int_equal(sm_walk_create(s->list, &past, &facts, &walk), SM_OK);
        const sm_walk_standing *standing = &walk->standings[item - s->list->items];
        assert_true(standing->open == (rows[i].why ? true : false));
        if (rows[i].why)
            assert_string_equal(standing->why, rows[i].why);
        sm_walk_destroy(walk);
    }
}

static void each_figure_is_the_largest_that_is_known(void **state) {
    static const struct {
        const char *id;
        double least; // NAN: none
    } rows[] = {{"fuel:jet-1", 12.0},    {"fuel:torch-1", NAN},  {"fuel:spark-1", 0.0},
                {"distance:wall", 12.5}, {"distance:mast", NAN}, {"slots:A", NAN}};
    walk_site *const s = *state;
    for (size_t i = 0; i < COUNT(rows); i++) {
        const double least = s->list->items[sm_walk_item_find(s->list, rows[i].id)].least;
        if (isnan(rows[i].least) ? !isnan(least) : !(fabs(least - rows[i].least) < 1e-9))
            fail_msg("%s: %g", rows[i].id, least);
    }
    for (uint32_t i = 0; i < s->list->count; i++) { // a value is asked for of fuel and distance alone
        const sm_walk_kind kind = s->list->items[i].kind;
        assert_int_equal(s->list->items[i].measured, kind == SM_WALK_FUEL || kind == SM_WALK_DISTANCE);
    }
}

// The hand at a slot does nothing else when its cue comes earlier or later, or stands in another row of cues.csv.
static void a_cue_moved_in_time_asks_nothing_of_the_field(void **state) {
    walk_site *const s = *state;
    folder_edit(s->folder, "cues.csv", "1,A-01,comet,,2s,\n", "");
    folder_edit(s->folder, "cues.csv", "8,A-04,flash,,,\n", "0.9,A-04,flash,,,\n1.1,A-01,comet,,2s,\n");
    sm_show *show = folder_load(s->folder);
    sm_walk_list *list = NULL;
    assert_int_equal(sm_walk_list_create(show, &(sm_walk_hash){""}, &list), SM_OK);
    assert_false(sm_walk_hash_equal(&list->content, &s->list->content));
    assert_int_equal(list->count, s->list->count);
    for (uint32_t i = 0; i < list->count; i++)
        if (!sm_walk_hash_equal(&list->items[i].hash, &s->list->items[i].hash))
            fail_msg("%s is asked again", list->items[i].id);
    sm_walk_list_destroy(list);
    sm_show_destroy(show);
}

#define AT_THE_GATE(test) cmocka_unit_test_setup_teardown(test, gate_open, walk_site_close)

int main(void) {
    const struct CMUnitTest tests[] = {
        AT_THE_GATE(each_item_says_what_the_tables_say),
        AT_THE_GATE(a_cue_moved_in_time_asks_nothing_of_the_field),
        AT_THE_GATE(fuel_comes_after_what_is_tried_without),
        AT_THE_GATE(a_gas_is_weighed),
        AT_THE_GATE(each_figure_is_the_largest_that_is_known),
    };
    return cmocka_run_group_tests_name("walk items", tests, NULL, NULL);
}
