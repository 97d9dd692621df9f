// SPDX-License-Identifier: GPL-3.0-or-later
// Which universes may be sent: none that holds anything but lights, whatever the tables say. The cases are worked out by hand.
#include "support/show_folder.h"

#include "slowmatch/wire.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define PROFILES                                                                                             \
    "name,channels,hazard,enable,fire,wire,burn,longest,recover\n"                                           \
    "par,dim red green,,,,light,,,\n"                                                                        \
    "long,a b c d e f g h i j,,,,light,,,\n"                                                                 \
    "dim,level,,,,,,,\n"                                                                                     \
    "hazer,fan haze,,,,never,,,\n"                                                                           \
    "lost,permit flame,,,,light,,,\n"                                                                        \
    "renamed,master level,,,,light,8 ml/s,,\n"                                                               \
    "timed,master level,,,,light,,2 s,\n"                                                                    \
    "fire2ch,master level,,,,light,,,\n"                                                                     \
    "rested,master level,,,,light,,,2 s\n"                                                                   \
    "jet,permit flame,flame,permit 128-255,flame 1-255,never,,,\n"

typedef struct wire_case {
    const char *name, *fixtures, *lines;
    const char *universes; // "1 2!": 1 may be sent, 2 may not
    const char *why;       // of the first that may not
} wire_case;

static const wire_case cases[] = {
    {"lights alone", "p,par,1,1\nq,par,1,4\nr,par,9,510\n", "", "1 9", ""},
    {"a flame unit", "p,par,1,1\nq,jet,1,100\nr,par,2,1\n", "", "1! 2", "q (jet) is a flame unit"},
    {"a flame unit with its mark forgotten, and called a light", "p,par,1,1\nq,lost,1,100\n", "", "1!",
     "q (lost) has a channel that sounds like flame"},
    {"a flame unit with mark and names forgotten, which burns", "p,par,1,1\nq,renamed,1,100\n", "", "1!",
     "q (renamed) holds fuel or is told how it burns"},
    {"or has a longest flame", "q,timed,1,100\n", "", "1!", "q (timed) holds fuel or is told how it burns"},
    {"or has to recover", "q,rested,1,100\n", "", "1!", "q (rested) holds fuel or is told how it burns"},
    {"a flame unit that is a lamp by every mark, but for its name", "p,par,1,1\nFlameJet-2,par,1,100\n", "",
     "1!", "FlameJet-2 (par) is called like a flame unit; only what is none gets another name"},
    {"or by its profile's name", "p,fire2ch,1,1\n", "", "1!",
     "p (fire2ch) is called like a flame unit; only what is none gets another name"},
    {"a hazer is no light", "p,par,3,1\nq,hazer,3,100\n", "", "3!", "q (hazer) is not marked `wire` light"},
    {"the column left empty is never", "p,par,3,1\nq,dim,3,100\n", "", "3!",
     "q (dim) is not marked `wire` light"},
    {"one channel past 512", "p,par,1,510\nq,par,2,511\n", "", "1 2!",
     "q (par) takes addresses outside 1 to 512"},
    {"before 1", "p,par,1,0\n", "", "1!", "p (par) takes addresses outside 1 to 512"},
    {"the last channel of one on the first of another", "p,par,1,1\nq,par,1,3\n", "", "1!",
     "q (par) shares an address with p"},
    {"a short one within a long one", "p,long,1,10\nq,par,1,14\n", "", "1!",
     "q (par) shares an address with p"},
    {"the last channel on the first of one before it", "p,par,1,10\nq,par,1,8\n", "", "1!",
     "q (par) shares an address with p"},
    {"side by side", "p,par,1,10\nq,par,1,7\nr,par,1,13\n", "", "1", ""},
    {"a flame unit of universe 2 on the line of universe 1", "p,par,1,1\nq,jet,2,1\nr,par,3,1\n", "l,1,p q\n",
     "1! 2! 3", "q (jet) is a flame unit"},
    {"a light on a line of another universe", "p,par,1,1\nq,par,2,9\n", "l,1,p q\n", "1! 2!",
     "q (par) stands on a line of another universe"},
    {"a line that is called like one of flame units", "p,par,1,1\nq,par,2,9\n", "flame-left,1,p\n", "1! 2",
     "p (par) stands on a line that is called like one of flame units"},
    {"a line in a universe where nothing is patched", "p,jet,2,1\n", "l,7,p\n", "2! 7!",
     "p (jet) is a flame unit"},
};

static sm_show *load(const wire_case *test, show_folder *folder) {
    char fixtures[400] = "name,profile,universe,address\n", lines[200] = "name,universe,chain\n";
    *folder = show_folder_make_small();
    strncat(fixtures, test->fixtures, sizeof fixtures - strlen(fixtures) - 1);
    strncat(lines, test->lines, sizeof lines - strlen(lines) - 1);
    show_folder_put(folder, "profiles.csv", PROFILES);
    show_folder_put(folder, "fixtures.csv", fixtures);
    show_folder_put(folder, "lines.csv", test->lines[0] ? lines : NULL);
    show_folder_put(folder, "groups.csv", NULL);
    show_folder_put(folder, "cues.csv", "time,target,do\n1,A-01,comet\n");
    return show_folder_load(folder, SM_OK);
}

static void only_lights_alone_may_be_sent(void **state) {
    (void)state;
    for (size_t i = 0; i < COUNT(cases); i++) {
        show_folder folder;
        sm_show *show = load(&cases[i], &folder);
        sm_wire_universe *universes;
        size_t count;
        sm_text found = {0}, why = {0};
        assert_int_equal(sm_wire_survey(show, &universes, &count), SM_OK);
        for (size_t u = 0; u < count; u++) {
            const bool sent = universes[u].why == SM_WIRE_LIGHTS_ALONE;
            sm_text_printf(&found, "%s%d%s", u == 0 ? "" : " ", universes[u].number, sent ? "" : "!");
            if (!sent && why.length == 0)
                sm_wire_put_why(show, &universes[u], &why);
        }
        if (strcmp(sm_text_get(&found), cases[i].universes) != 0 ||
            strcmp(sm_text_get(&why), cases[i].why) != 0)
            print_error("%s: %s, %s\n", cases[i].name, sm_text_get(&found), sm_text_get(&why));
        assert_string_equal(sm_text_get(&found), cases[i].universes);
        assert_string_equal(sm_text_get(&why), cases[i].why);
        sm_text_deinit(&found);
        sm_text_deinit(&why);
        free(universes);
        sm_show_destroy(show);
        show_folder_remove(&folder);
    }
}

typedef struct told {
    const char *fixtures, *lines, *universes; // "1:2 7:0": the lights of each universe
    const char *why;
} told;

static const told tellings[] = {
    // q stands in its own universe and in that of its line, twice in the list of either, and is one light.
    {"p,par,1,1\nq,par,1,4\nr,par,1,7\n", "l,2,q\n", "1:3 2:1",
     "q (par) stands on a line of another universe"},
    {"p,par,1,1\nq,par,2,9\n", "l,1,p q\n", "1:2 2:1", "q (par) stands on a line of another universe"},
    {"p,jet,1,1\nq,par,1,40\nr,par,1,511\n", "", "1:2", "p (jet) is a flame unit"}, // the first, not the last
};

static void lights_are_counted_once_and_the_first_that_stops_is_told(void **state) {
    (void)state;
    for (size_t i = 0; i < COUNT(tellings); i++) {
        show_folder folder;
        sm_show *show =
            load(&(wire_case){.fixtures = tellings[i].fixtures, .lines = tellings[i].lines}, &folder);
        sm_wire_universe *universes;
        size_t count;
        sm_text found = {0}, why = {0};
        assert_int_equal(sm_wire_survey(show, &universes, &count), SM_OK);
        for (size_t u = 0; u < count; u++)
            sm_text_printf(&found, "%s%d:%u", u == 0 ? "" : " ", universes[u].number, universes[u].lights);
        sm_wire_put_why(show, &universes[0], &why);
        assert_string_equal(sm_text_get(&found), tellings[i].universes);
        assert_string_equal(sm_text_get(&why), tellings[i].why);
        sm_text_deinit(&found);
        sm_text_deinit(&why);
        free(universes);
        sm_show_destroy(show);
        show_folder_remove(&folder);
    }
}

// A fixture whose profile the tables do not have: the loader refuses it, and it is no light either way.
static void a_fixture_without_a_profile_is_no_light(void **state) {
    (void)state;
    sm_fixture fixture = {.name = "x", .profile = SM_NONE, .universe = 3, .address = 1};
    const sm_show show = {.fixtures = &fixture, .fixture_count = 1};
    sm_wire_universe *universes;
    size_t count;
    sm_text why = {0};
    assert_int_equal(sm_wire_survey(&show, &universes, &count), SM_OK);
    assert_int_equal(count, 1);
    assert_int_equal(universes[0].number, 3);
    assert_int_equal(universes[0].lights, 0);
    assert_int_equal(universes[0].why, SM_WIRE_NO_LIGHT);
    sm_wire_put_why(&show, &universes[0], &why);
    assert_string_equal(sm_text_get(&why), "x (no profile) is not marked `wire` light");
    sm_text_deinit(&why);
    free(universes);
}

// ANSI E1.31-2018, 6.2.7: universes are 1 to 63999; E1.11: a universe has 512 slots, the first at 1 (read second-hand). The loader
// refuses most of these; who sends asks again.
static void what_lies_outside_a_universe_is_never_sent(void **state) {
    (void)state;
    static const struct {
        int32_t universe, address;
        bool is_inside;
    } rows[] = {{1, 1, true},  {63999, 510, true}, {0, 1, false},   {-1, 1, false},       {64000, 1, false},
                {5, 0, false}, {5, -2, false},     {5, 511, false}, {5, INT32_MAX, false}};
    show_folder folder;
    sm_show *const show = load(&(wire_case){.fixtures = "p,par,1,1\n", .lines = ""}, &folder);
    for (size_t i = 0; i < COUNT(rows); i++) {
        sm_wire_universe *universes;
        size_t count;
        show->fixtures[0].universe = rows[i].universe;
        show->fixtures[0].address = rows[i].address;
        assert_int_equal(sm_wire_survey(show, &universes, &count), SM_OK);
        assert_int_equal(count, 1);
        assert_int_equal(universes[0].why, rows[i].is_inside ? SM_WIRE_LIGHTS_ALONE : SM_WIRE_OUTSIDE);
        free(universes);
    }
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

// What is written down of fuel says that a unit burns, whatever its profile says, and where it has none.
static void fuel_of_either_measure_burns(void **state) {
    (void)state;
    static const struct {
        double ml, g;
        bool burns;
    } rows[] = {{200, NAN, true}, {NAN, 425, true}, {0, NAN, true}, {NAN, NAN, false}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        sm_fixture fixture = {
            .name = "x", .profile = SM_NONE, .address = 1, .fuel_ml = rows[i].ml, .fuel_g = rows[i].g};
        const sm_show show = {.fixtures = &fixture, .fixture_count = 1};
        assert_int_equal(sm_wire_burns(&show, 0), rows[i].burns);
    }
}

// A unit of a line that the tables do not have: the loader refuses it, and it takes no place either way.
static void a_line_may_name_what_is_not_there(void **state) {
    (void)state;
    show_folder folder;
    sm_show *const show =
        load(&(wire_case){.fixtures = "p,par,1,1\nq,par,1,4\n", .lines = "l,7,p q\n"}, &folder);
    sm_wire_universe *universes;
    size_t count;
    static const uint32_t nothing[] = {SM_NONE, SM_NONE};
    assert_int_equal(show->lines[0].chain_count, 2);
    show->lines[0].chain = nothing;
    assert_int_equal(sm_wire_survey(show, &universes, &count), SM_OK);
    assert_int_equal(count, 1);
    assert_int_equal(universes[0].number, 1);
    assert_int_equal(universes[0].lights, 2);
    assert_int_equal(universes[0].why, SM_WIRE_LIGHTS_ALONE);
    free(universes);
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

static void words_of_flame_units_are_known(void **state) {
    (void)state;
    static const char *const hazardous[] = {
        "flame", "FIRE",  "permit",      "fuel-2",   "spark",     "sparks",     "igniter_1", "arm",
        "valve", "Pilot", "main-valves", "flamejet", "FuelValve", "mainvalve2", "gas-2",     "feu"};
    static const char *const flames[] = {"jet-1",    "FlameThrower", "fire_3",
                                         "torch-2x", "pyro-a",       "gasburner"};
    static const char *const lamps[] = {"arm-left",         "safety-1", "heat",
                                        "shot-blinder",     "jetty-2",  "firefly",
                                        "wash-gas-station", "sparkle",  ""};
    static const char *const harmless[] = {"warm",   "alarm", "red", "dim",    "firefly", "pan",
                                           "gasket", "",      "9",   "charm2", "army",    "fired"};
    for (size_t i = 0; i < COUNT(hazardous); i++)
        assert_true(sm_wire_sounds_hazardous(hazardous[i]));
    for (size_t i = 0; i < COUNT(harmless); i++)
        assert_false(sm_wire_sounds_hazardous(harmless[i]));
    for (size_t i = 0; i < COUNT(flames); i++)
        assert_true(sm_wire_is_called_flame(flames[i]));
    for (size_t i = 0; i < COUNT(lamps); i++)
        assert_false(sm_wire_is_called_flame(lamps[i]));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(only_lights_alone_may_be_sent),
        cmocka_unit_test(lights_are_counted_once_and_the_first_that_stops_is_told),
        cmocka_unit_test(a_fixture_without_a_profile_is_no_light),
        cmocka_unit_test(what_lies_outside_a_universe_is_never_sent),
        cmocka_unit_test(fuel_of_either_measure_burns),
        cmocka_unit_test(a_line_may_name_what_is_not_there),
        cmocka_unit_test(words_of_flame_units_are_known),
    };
    return cmocka_run_group_tests_name("universes that may be sent", tests, NULL, NULL);
}
