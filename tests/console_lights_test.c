// SPDX-License-Identifier: GPL-3.0-or-later
// What the screen says of lights on a wire: the question and its answers by keys, the board, the alert.
#include "support/desk.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define PLAN "universe 1 to 10.9.0.2: par-1\nuniverse 2 NEVER SENT: jet-1 (jet) is a flame unit\n"

static void see(desk *d, const char *asks, const char *alert, const char *words) {
    sm_lights_view *lights = &d->ui.view.lights;
    *lights = (sm_lights_view){.there = true, .on = alert[0] != '\0'};
    snprintf(lights->asks, sizeof lights->asks, "%s", asks);
    snprintf(lights->alert, sizeof lights->alert, "%s", alert);
    snprintf(lights->words, sizeof lights->words, "%s", words);
    desk_look(d);
}

static void without_a_wire_the_key_says_so(void **state) {
    desk *d = *state;
    desk_press(d, SM_KEY_F0 + 4);
    desk_type(d, "^");
    assert_int_equal(d->acts, 0);
    assert_true(desk_shows(d, "--lights INTERFACE"));
    assert_false(desk_shows(d, "WIRE:"));
}

static void the_question_is_read_and_answered_by_keys(void **state) {
    desk *d = *state;
    see(d, "", "", PLAN);
    desk_type(d, "^");
    assert_string_equal(d->acted, "lights on");
    see(d,
        "\"No flame unit is connected to any node or line of universe 1: fuel shut, power off at the unit.\" "
        "...",
        "", PLAN);
    assert_true(desk_says(d, "No flame unit is connected to any node or line of universe 1: fuel shut"));
    assert_true(desk_shows(d, "universe 2 NEVER SENT: jet-1 (jet) is a flame unit"));
    assert_true(desk_shows(d, "Nothing is sent before all is answered"));
    assert_true(desk_shows(d, "REHEARSAL"));
    desk_type(d, "1 J\n");
    assert_string_equal(d->acted, "lights answer 1 J");
    see(d, "STROBES: which of these lamps strobe", "", PLAN);
    assert_true(desk_shows(d, "STROBES")); // the next one, at once
    desk_press(d, SM_KEY_ESCAPE);
    assert_string_equal(d->acted, "lights answer 1 J"); // left, and it still stands
    desk_type(d, "^");
    assert_string_equal(d->acted, "lights answer 1 J");
    assert_true(desk_shows(d, "STROBES"));
    desk_press(d, SM_KEY_STOP_TYPING); // a stop from this prompt too
    assert_string_equal(d->acted, "safe");
    desk_type(d, "~");
    assert_string_equal(d->acted, "lights off");
}

// The row of keys has them where they do something, and nowhere else.
static void the_keys_are_shown_where_they_work(void **state) {
    desk *d = *state;
    desk_size(d, 180, 40);
    desk_look(d);
    assert_false(desk_shows(d, "^ lights"));
    see(d, "", "", PLAN);
    assert_true(desk_shows(d, "^ lights"));
    assert_false(desk_shows(d, "~ lights off"));
    see(d, "", "LIGHTS ON THE WIRE universe 1 to 10.9.0.2, by J", PLAN);
    assert_false(desk_shows(d, "^ lights"));
    assert_true(desk_shows(d, "~ lights off"));
    desk_type(d, "?/on a wire\n");
    assert_true(desk_shows(d, "lights on: ask for lights on a wire"));
}

static void the_board_says_what_is_sent_and_what_not(void **state) {
    desk *d = *state;
    see(d, "", "", PLAN);
    desk_press(d, SM_KEY_F0 + 4);
    assert_true(desk_shows(d, "WIRE: nothing is sent"));
    assert_true(desk_shows(d, "universe 2 NEVER SENT: jet-1 (jet) is a flame unit"));
    see(d, "", "LIGHTS ON THE WIRE universe 1 to 10.9.0.2, by J",
        PLAN "other source on universe 1: The desk, priority 100\n");
    assert_true(desk_find(d, "LIGHTS ON THE WIRE universe 1 to 10.9.0.2, by J") >= 0);
    assert_true(desk_shows(d, "other source on universe 1: The desk, priority 100"));
    assert_true(desk_shows(d, "ADVISORY LIGHTS ON THE WIRE")); // in the alerts' row
    assert_true(desk_shows(d, "HELD: the wire has what it had"));
    desk_do(d, "enter K");
    desk_do(d, "key on"); // its warning hides that of the lights
    assert_true(desk_shows(d, "WARNING KEY ON, IN FIELD 1: K"));
    assert_true(desk_shows(d, "LIGHTS ON, "));
}

static int begin(void **state) {
    const int status = desk_setup_short(state);
    desk_size(*state, 100, 40);
    return status;
}

int main(void) {
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(without_a_wire_the_key_says_so, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(the_question_is_read_and_answered_by_keys, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(the_keys_are_shown_where_they_work, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(the_board_says_what_is_sent_and_what_not, begin, desk_teardown),
    };
    return cmocka_run_group_tests_name("lights on the screen", tests, NULL, NULL);
}
