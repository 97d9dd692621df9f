// SPDX-License-Identifier: GPL-3.0-or-later
// The console that follows: the boards of a rehearsal told elsewhere, and not one key that acts on it.
#include "support/broker_scene.h"
#include "support/desk.h"
#include "support/pty.h"
#include "support/short_show.h"

#include <locale.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#include <cmocka.h>

// ---- without a terminal ---------------------------------------------------------------------------

// A desk whose rehearsal is another's: what it is told to do is noted, and no more.
static bool note_act(void *owner, const char *line) {
    desk *d = owner;
    snprintf(d->acted, sizeof d->acted, "%s", line);
    d->acts++;
    return true;
}

static desk *begin_following(void) {
    desk *d = desk_create_short(false);
    desk_press(d, 'n');
    d->ui.view.following = "FOLLOWING";
    d->ui.view.key_of = NULL;
    d->ui.act = note_act;
    return d;
}

static void says_that_it_follows_at_every_size(void **state) {
    (void)state;
    static const int sizes[][2] = {{80, 24}, {40, 12}, {160, 50}, {20, 5}};
    desk *d = begin_following();
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        desk_size(d, sizes[i][0], sizes[i][1]);
        assert_true(desk_says(d, "REHEARSAL FOLLOWING SAFE"));
        assert_false(desk_shows(d, "SPACE MAKE SAFE"));
    }
    desk_destroy(d);
}

// Every key there is, on every board, in every state that comes of it, and the mouse on every cell of the foot and the strip.
static void no_key_acts(void **state) {
    (void)state;
    desk *d = begin_following();
    desk_do(d, "call-clear J");
    desk_do(d, "key on");
    desk_do(d, "arm");
    d->acts = 0;
    for (int board = 0; board < SM_BOARDS; board++) {
        for (int key = 1; key < 0x7f; key++) {
            if (key == 'q')
                continue; // leaves the screen
            desk_press(d, sm_board_at((size_t)board)->key);
            desk_press(d, key);
            desk_press(d, SM_KEY_ENTER);
            desk_press(d, SM_KEY_STOP_TYPING);
            desk_press(d, SM_KEY_ESCAPE);
            desk_press(d, SM_KEY_ESCAPE);
            assert_int_equal(d->acts, 0);
        }
        for (int x = 0; x < 80; x++) {
            sm_ui_point(&d->ui, (sm_mouse){.what = SM_MOUSE_CLICK, .x = x, .y = 23});
            sm_ui_point(&d->ui, (sm_mouse){.what = SM_MOUSE_CLICK, .x = x, .y = 4});
            desk_press(d, SM_KEY_ENTER);
            desk_press(d, SM_KEY_ESCAPE);
        }
        assert_int_equal(d->acts, 0);
    }
    desk_press(d, ' ');
    assert_true(desk_says(d, "THIS SCREEN ONLY FOLLOWS: it makes nothing safe"));
    desk_press(d, 'q');
    assert_int_equal(d->acts, 1);
    assert_string_equal(d->acted, "quit");
    desk_destroy(d);
}

// At a seat what stops is a hold, from any board and question; and nothing else acts.
static void at_a_seat_a_stop_is_a_hold(void **state) {
    (void)state;
    static const int stops[] = {' ', 'h', 'p', SM_KEY_STOP_TYPING};
    desk *d = begin_following();
    d->ui.view.seat = "";
    for (int board = 0; board < SM_BOARDS; board++) {
        for (size_t i = 0; i < sizeof stops / sizeof stops[0]; i++) {
            desk_press(d, sm_board_at((size_t)board)->key);
            d->acts = 0;
            desk_press(d, stops[i]);
            if (d->acts != 1)
                fail_msg("board %d, key %d: %d acts", board, stops[i], d->acts);
            assert_string_equal(d->acted, "hold");
        }
    }
    assert_true(desk_shows(d, "SPACE CALLS HOLD"));
    d->acts = 0;
    desk_type(d, "kacb\n:\033");
    assert_int_equal(d->acts, 0);
    desk_destroy(d);
}

// In a drill a seat does what is its part, by its keys or typed; the foot says which key stops, also while something is typed.
static void in_a_drill_a_seat_has_its_part(void **state) {
    (void)state;
    desk *d = begin_following();
    d->ui.view.seat = "spotter";
    d->ui.view.seat_drills = true;
    desk_press(d, ' ');
    assert_string_equal(d->acted, "safe");
    assert_true(desk_shows(d, "SPACE MAKES SAFE"));
    desk_press(d, 'p');
    assert_string_equal(d->acted, "hold");
    desk_type(d, "cKim\n");
    assert_string_equal(d->acted, "call-clear Kim");
    desk_type(d, ":");
    desk_look(d);
    assert_true(desk_shows(d, "F8 MAKES SAFE"));
    desk_type(d, "NO DRILL\n");
    assert_string_equal(d->acted, "NO DRILL");
    d->acts = 0;
    desk_type(d, "kabMPU"); // the lead's
    assert_int_equal(d->acts, 0);
    assert_true(desk_says(d, "not from this seat"));
    d->ui.view.seat = "instructor";
    desk_type(d, ":state\n");
    assert_string_equal(d->acted, "state");
    desk_destroy(d);
}

// The usual order is what a drill asks for: followers see it in none.
static void no_step_is_given_away_in_a_drill(void **state) {
    (void)state;
    desk *d = begin_following();
    desk_press(d, SM_KEY_F0 + 5);
    desk_size(d, 120, 40);
    assert_true(desk_says(d, "NEXT: "));
    d->ui.view.told_drills = true;
    desk_look(d);
    desk_size(d, 120, 40);
    assert_true(desk_says(d, " MET."));
    assert_false(desk_says(d, "NEXT: "));
    desk_destroy(d);
}

static void a_seat_that_is_anothers_says_so(void **state) {
    (void)state;
    desk *d = begin_following();
    d->ui.view.seat_refused = true;
    d->acts = 0;
    desk_press(d, ' ');
    assert_int_equal(d->acts, 0);
    assert_true(desk_says(d, "THE SEAT IS NOT YOURS: nothing here acts"));
    assert_true(desk_shows(d, "THE SEAT IS NOT YOURS, SHOUT"));
    d->ui.view.seat_refused = false;
    d->ui.view.seat_asked = true; // a broker that refuses what we say never answers
    d->ui.view.seat = "K";
    desk_look(d);
    assert_true(desk_shows(d, "NO SEAT YET, SHOUT"));
    assert_false(desk_shows(d, "CALLS HOLD"));
    desk_destroy(d);
}

static void who_sits_where_has_a_row(void **state) {
    (void)state;
    static const sm_seats_view seats = {
        3,
        {{.name = "spotter", .who = "Kim", .sits = SM_SITS_THERE},
         {.name = "K", .sits = SM_SITS_NOBODY},
         {.name = "left", .who = "Ann", .sits = SM_SITS_LOST, .asked = true}}};
    desk *d = begin_following();
    d->ui.view.seats = &seats;
    d->ui.view.told = "You are asked by name: answer where you are.";
    desk_size(d, 120, 30);
    assert_true(desk_says(d, "SEATS spotter: Kim · K: free · left: LOST, Ann, asked for by another"));
    assert_true(desk_says(d, "TO YOU ALONE: You are asked by name"));
    desk_destroy(d);
}

static void help_has_the_keys_that_look_alone(void **state) {
    (void)state;
    desk *d = begin_following();
    desk_size(d, 100, 200);
    desk_press(d, '?');
    assert_true(desk_says(d, "this screen only follows, and makes nothing safe"));
    assert_true(desk_says(d, "other colours"));
    assert_false(desk_says(d, "turn the key switch"));
    assert_false(desk_says(d, "call-clear"));
    desk_destroy(d);
}

static void unproven_age_is_a_warning(void **state) {
    (void)state;
    desk *d = begin_following();
    d->ui.view.age_not_proven = true;
    desk_look(d);
    desk_size(d, 40, 12);
    assert_true(desk_says(d, "AGE NOT PROVEN"));
    desk_destroy(d);
}

// ---- the program, a broker, a terminal --------------------------------------------------------------

static void the_program_follows_until_the_console_dies(void **state) {
    (void)state;
    char program[256], broker[40];
    const char *build = getenv("SLOWMATCH_BUILD");
    scene s;
    scene_begin(&s);
    scene_start_broker(&s);
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    snprintf(broker, sizeof broker, "127.0.0.1:%d", s.port);
    const char *const argv[] = {program, "follow", broker, NULL};
    char config[64];
    snprintf(config, sizeof config, "XDG_CONFIG_HOME=%s", s.folder);
    pty *p = pty_start(100, 30, argv, (const char *const[]){config, NULL});
    pty_expect(p, "waiting for a rehearsal at 127.0.0.1");
    s.console = scene_start_console(&s, scene_running);
    pty_expect(p, "REHEARSAL FOLLOWING RUNNING");
    pty_expect(p, "Lantern Quay");
    pty_type(p, " ");
    pty_expect(p, "THIS SCREEN ONLY FOLLOWS");
    pty_type(p, "D");
    pty_expect_gone(p, "F2 score");
    scene_stop(&s.console, SIGKILL);
    pty_expect(p, "REHEARSAL FOLLOWING LINK LOST TREAT AS ARMED, key ON, last known RUNNING");
    pty_expect(p, "TREAT AS ARMED");
    pty_type(p, "D");
    pty_expect(p, "LAST KNOWN, NOT NOW: all below is as it was");
    pty_type(p, "q");
    int status = pty_expect_end(p);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    pty_destroy(p);
    scene_end(&s);
}

// A console that left by itself and is begun again is followed by whoever named no run and sits at no seat.
static void a_console_begun_anew_is_followed(void **state) {
    (void)state;
    char program[256], broker[40], config[64];
    const char *build = getenv("SLOWMATCH_BUILD");
    scene s;
    scene_begin(&s);
    s.other = true;
    scene_start_broker(&s);
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    snprintf(broker, sizeof broker, "127.0.0.1:%d", s.port);
    snprintf(config, sizeof config, "XDG_CONFIG_HOME=%s", s.folder);
    s.console = scene_start_console(&s, "0 note begun\n600 safe\n");
    pty *p = pty_start(100, 30, (const char *const[]){program, "follow", broker, NULL},
                       (const char *const[]){config, NULL});
    pty_expect(p, "REHEARSAL FOLLOWING SAFE");
    scene_stop(&s.console, SIGTERM); // it says that it ends
    pty_expect(p, "ITS CONSOLE HAS ENDED");
    s.console = scene_start_console(&s, "0 call-clear J\n0 key on\n0 arm\n600 safe\n");
    pty_expect(p, "this is another rehearsal, begun since");
    pty_expect(p, "REHEARSAL FOLLOWING ARMED");
    scene_stop(&s.console, SIGKILL); // only lost: nothing is switched to
    pty_expect(p, "REHEARSAL FOLLOWING LINK LOST TREAT AS ARMED");
    s.console = scene_start_console(&s, "0 note begun\n600 safe\n");
    pty_expect(p, "another rehearsal is told there");
    pty_expect(p, "REHEARSAL FOLLOWING LINK LOST TREAT AS ARMED");
    pty_type(p, "q");
    int status = pty_expect_end(p);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    pty_destroy(p);
    scene_end(&s);
}

int main(void) {
    setlocale(LC_ALL, "C.UTF-8");
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(says_that_it_follows_at_every_size),
        cmocka_unit_test(no_key_acts),
        cmocka_unit_test(at_a_seat_a_stop_is_a_hold),
        cmocka_unit_test(in_a_drill_a_seat_has_its_part),
        cmocka_unit_test(no_step_is_given_away_in_a_drill),
        cmocka_unit_test(a_seat_that_is_anothers_says_so),
        cmocka_unit_test(who_sits_where_has_a_row),
        cmocka_unit_test(help_has_the_keys_that_look_alone),
        cmocka_unit_test(unproven_age_is_a_warning),
        cmocka_unit_test(the_program_follows_until_the_console_dies),
        cmocka_unit_test(a_console_begun_anew_is_followed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
