// SPDX-License-Identifier: GPL-3.0-or-later
// Pointing at the strip: a click asks, and only a second key goes there.
#include "support/desk.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S

// 78 seconds on the 78 columns that the strip has at 80x24: a second each. The strip is in rows 4 and 5.
static int begin(void **state) {
    show_folder files = show_folder_make_small();
    show_folder_put(&files, "show.ini",
                    "[show]\ntitle = Jumps\nlength = 78\ncountdown = 2 s\n[limits]\narm-time = 1 s\n");
    show_folder_put(&files, "cues.csv",
                    "time,target,do\n5,A-01,fountain\n20,A-02,fountain\n40,A-03,fountain\n60,par-1,dim=9\n");
    *state = desk_at_board(files, SM_KEY_F0 + 2, false);
    return 0;
}

static void click(desk *r, int second) {
    int y = desk_find(r, "!");
    assert_int_not_equal(y, -1);
    sm_ui_point(&r->ui, (sm_mouse){1 + second, y, SM_MOUSE_CLICK});
}

static void a_click_asks_and_a_second_key_goes(void **state) {
    desk *r = *state;
    int acts = r->acts;
    click(r, 30);
    assert_int_equal(r->acts, acts);
    assert_true(
        desk_says(r, "JUMP: A-01, A-02 not fired yet, are passed over and stay LIVE; START WILL BEGIN"));
    desk_type(r, "x"); // any other key
    assert_int_equal(r->acts, acts);
    assert_true(desk_shows(r, "left: seek was not done"));
    click(r, 30);
    desk_type(r, "\n");
    assert_string_equal(r->acted, "seek 0:30.000");
    assert_int_equal(r->now->at.us, 30 * S);
    click(r, 3);
    click(r, 50); // a click is no answer either
    assert_int_equal(r->now->at.us, 30 * S);
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
}

// In every state: nothing moves by the click, the space bar still makes safe, and the question lapses with the state.
static void it_asks_in_the_armed_conditions(void **state) {
    desk *r = *state;
    desk_arm(r);
    click(r, 10);
    assert_true(desk_says(
        r, "JUMP: A-01 not fired yet, is passed over and stays LIVE; START WILL BEGIN AT 0:10.000."));
    desk_type(r, "\n");
    assert_int_equal(r->now->place.us, 10 * S);
    desk_do(r, "start");
    desk_advance(r, 4 * S);
    assert_int_equal(r->now->at.us, 12 * S);
    click(r, 30);
    assert_true(desk_shows(r, "JUMP while RUNNING: A-02 not fired yet, is passed over and stays LIVE; GOES"));
    desk_do(r, "pause");
    assert_int_equal(r->ui.mode, SM_UI_BOARD); // asked while running: not answered while paused
    int acts = r->acts;
    desk_type(r, "\n");
    assert_int_equal(r->acts, acts);
    click(r, 30);
    assert_true(desk_says(r, "LIVE; RESUME will go on from 0:30.000"));
    desk_type(r, " ");
    assert_int_equal(r->now->state, SM_STATE_SAFE);
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
}

// Typed while it runs it says what it leaves live and asks; by a key too, where it leaves something.
static void while_running_it_asks_however_it_was_given(void **state) {
    desk *r = *state;
    desk_do(r, "seek 30");
    desk_do(r, "mark later");
    desk_do(r, "safe");
    desk_arm(r);
    desk_do(r, "start");
    desk_advance(r, 4 * S);
    assert_int_equal(r->now->at.us, 2 * S);
    int acts = r->acts;
    desk_type(r, ">"); // nothing is left behind in a second
    assert_int_equal(r->acts, acts + 1);
    desk_type(r, ":seek later\n");
    assert_int_equal(r->acts, acts + 1);
    assert_true(desk_says(
        r, "JUMP while RUNNING: A-01, A-02 not fired yet, are passed over and stay LIVE; GOES ON AT ONCE, no "
           "count, from 0:30.000. Enter does it"));
    desk_type(r, "x");
    assert_int_equal(r->acts, acts + 1);
    desk_type(r, "j4.5\n\n");
    assert_string_equal(r->acted, "seek 4.5");
    desk_advance(r, S / 10);
    desk_type(r, ">"); // over the cue at 5 s
    assert_true(desk_says(r, "A-01 not fired yet, is passed over and stays LIVE;"));
    assert_int_equal(r->now->at.us, 4600000);
    desk_type(r, "\n");
    assert_int_equal(r->now->at.us, 5600000);
}

static void where_no_jump_is_allowed_it_is_refused(void **state) {
    desk *r = *state;
    desk_do(r, "call-clear K");
    desk_do(r, "key on");
    desk_do(r, "arm");
    assert_int_equal(r->now->state, SM_STATE_ARMING);
    click(r, 30);
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    assert_int_equal(r->now->state, SM_STATE_ARMING);
    assert_int_equal(r->now->at.us, 0);
    assert_true(desk_shows(r, "seek refused: not while arming"));
    assert_string_equal(r->acted, ""); // the engine may be armed by now: it is not even asked
}

static bool behind(void *owner) {
    (void)owner;
    return true;
}

// What was just given may have started the show: the screen still shows ARMED.
static void where_the_screen_is_behind_it_asks(void **state) {
    desk *r = *state;
    desk_arm(r);
    desk_type(r, ">");
    assert_string_equal(r->acted, "seek 0:01.000");
    r->ui.is_behind = behind;
    int acts = r->acts;
    desk_type(r, ">");
    assert_int_equal(r->acts, acts);
    assert_true(desk_shows(r, "JUMP: START WILL BEGIN AT 0:02.000. Enter does it"));
    desk_do(r, "start"); // now it is seen: a question of another state
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    desk_type(r, "\n");
    assert_int_equal(r->acts, acts);
}

static void the_wheel_shows_less_or_more(void **state) {
    desk *r = *state;
    int y = desk_find(r, "!");
    sm_ui_point(&r->ui, (sm_mouse){5, y, SM_MOUSE_WHEEL_UP});
    assert_true(desk_shows(r, "2x 0:00.0 to 0:39.0"));
    click(r, 10); // half a second a column now
    assert_true(desk_shows(r, "AT 0:05.000"));
    desk_type(r, "xZ");
    assert_true(desk_shows(r, "4x 0:00.0 to 0:19.5"));
    sm_ui_point(&r->ui, (sm_mouse){5, y, SM_MOUSE_WHEEL_DOWN});
    desk_type(r, "X");
    assert_false(desk_shows(r, "x 0:00.0 to"));
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_click_asks_and_a_second_key_goes, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(it_asks_in_the_armed_conditions, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(while_running_it_asks_however_it_was_given, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(where_no_jump_is_allowed_it_is_refused, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(where_the_screen_is_behind_it_asks, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(the_wheel_shows_less_or_more, begin, desk_teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
