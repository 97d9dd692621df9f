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
    assert_string_equal(d->acted, "hold");
    assert_true(desk_shows(d, "SPACE CALLS HOLD"));
    desk_press(d, 'p');
    assert_string_equal(d->acted, "hold");
    desk_type(d, "cKim\n");
    assert_string_equal(d->acted, "call-clear Kim");
    desk_type(d, ":");
    desk_look(d);
    assert_true(desk_shows(d, "F8 CALLS HOLD"));
    desk_type(d, "safe\n");
    assert_string_equal(d->acted, "safe");
    desk_type(d, ":NO DRILL\n");
    assert_string_equal(d->acted, "NO DRILL");
    d->acts = 0;
    desk_type(d, "kabMPU"); // the lead's
    assert_int_equal(d->acts, 0);
    assert_true(desk_says(d, "not from this seat"));
    desk_press(d, SM_KEY_ESCAPE);
    d->ui.view.seat = "instructor";
    desk_type(d, ":state\n");
    assert_string_equal(d->acted, "state");
    desk_destroy(d);
}

// Whoever is called types an answer, with the key for it or without: no letter of it and no blank in it acts, in a drill or out of one.
static void an_answer_typed_at_a_seat_is_no_key(void **state) {
    (void)state;
    static const char *const typed[] = {"yHere, outside the field\n", "Kim here, outside the field\033",
                                        "answer Here, outside the field\n"};
    desk *d = begin_following();
    d->ui.view.seat = "K";
    for (int drills = 0; drills < 2; drills++) {
        d->ui.view.seat_drills = drills == 1;
        for (size_t i = 0; i < sizeof typed / sizeof typed[0]; i++) {
            d->acts = 0;
            d->acted[0] = '\0';
            desk_type(d, typed[i]);
            assert_int_equal(d->acts, drills == 1 && i != 1);
            assert_string_equal(d->acted, d->acts ? "answer Here, outside the field" : "");
        }
        assert_true(drills == 1 || desk_says(d, "a seat calls hold, and no more outside a drill"));
    }
    desk_destroy(d);
}

// Whoever leaves a seat leaves it without anybody: it is asked first.
static void leaving_a_seat_is_asked(void **state) {
    (void)state;
    desk *d = begin_following();
    d->ui.view.seat = "K";
    desk_press(d, 'q');
    assert_int_equal(d->acts, 0);
    assert_true(desk_says(d, "LEAVE THE SEAT"));
    desk_press(d, 'x');
    assert_int_equal(d->acts, 0);
    desk_type(d, "q\n");
    assert_string_equal(d->acted, "quit");
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

// The program in a terminal, beside a broker; SEAT NULL: none.
static pty *start_program(scene *s, const char *seat) {
    char program[256], broker[40], config[64];
    const char *build = getenv("SLOWMATCH_BUILD");
    scene_begin(s);
    s->other = true;
    s->seats = seat;
    scene_start_broker(s);
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    snprintf(broker, sizeof broker, "127.0.0.1:%d", s->port);
    snprintf(config, sizeof config, "XDG_CONFIG_HOME=%s", s->folder);
    const char *const argv[] = {program, "follow", broker, seat ? "--seat" : NULL, seat, NULL};
    return pty_start(100, 30, argv, (const char *const[]){config, NULL});
}

static void leave(pty *p) {
    int status = pty_expect_end(p);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    pty_destroy(p);
}

static void until_the_console_dies(scene *s) {
    pty *p = start_program(s, NULL);
    pty_expect(p, "waiting for a rehearsal at 127.0.0.1");
    s->console = scene_start_console(s, "0 call-clear J\n0 key on\n600 safe\n");
    pty_expect(p, "REHEARSAL FOLLOWING SAFE key ON");
    pty_expect(p, "Lantern Quay");
    pty_type(p, " ");
    pty_expect(p, "THIS SCREEN ONLY FOLLOWS");
    pty_type(p, "D");
    pty_expect_gone(p, "F2 score");
    scene_stop(&s->console, SIGKILL);
    pty_expect(p, "REHEARSAL FOLLOWING LINK LOST TREAT AS ARMED, key ON, last known SAFE");
    pty_expect(p, "TREAT AS ARMED");
    pty_type(p, "D");
    pty_expect(p, "LAST KNOWN, NOT NOW: all below is as it was");
    pty_type(p, "q");
    leave(p);
}

// A console that left by itself and is begun again is followed by whoever named no run, at the same seat. Where it was only lost whoever
// looks is asked.
static void begun_anew(scene *s) {
    pty *p = start_program(s, "K");
    s->console = scene_start_console(s, "0 note begun\n600 safe\n");
    pty_expect(p, "REHEARSAL FOLLOWING as K SAFE");
    scene_stop(&s->console, SIGTERM); // it says that it ends
    pty_expect(p, "ENDED BY THE LEAD, TREAT AS ARMED");
    pty_expect(p, "ITS CONSOLE HAS ENDED");
    s->console = scene_start_console(s, "0 call-clear J\n0 key on\n0 arm\n600 safe\n");
    pty_expect(p, "REHEARSAL FOLLOWING as K ARM");
    scene_stop(&s->console, SIGKILL); // only lost: nothing is switched to
    pty_expect(p, "REHEARSAL FOLLOWING LINK LOST TREAT AS ARMED, key ON, last known ARM");
    s->console = scene_start_console(s, "0 note begun\n600 safe\n");
    pty_expect(p, "ANOTHER REHEARSAL is told there");
    pty_expect(p, "REHEARSAL FOLLOWING LINK LOST TREAT AS ARMED, key ON, last known ARM");
    pty_type(p, "\r");
    pty_expect(p, "REHEARSAL FOLLOWING as K SAFE");
    pty_type(p, "q");
    pty_expect(p, "LEAVE THE SEAT");
    pty_type(p, "\r");
    leave(p);
}

// Both at once: they mostly wait.
static void the_program_follows(void **state) {
    (void)state;
    static const scene_row scenes[] = {{"until the console dies", until_the_console_dies},
                                       {"begun anew", begun_anew}};
    assert_true(scene_play_all(scenes, sizeof scenes / sizeof scenes[0]));
}

int main(void) {
    setlocale(LC_ALL, "C.UTF-8");
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(says_that_it_follows_at_every_size),
        cmocka_unit_test(no_key_acts),
        cmocka_unit_test(at_a_seat_a_stop_is_a_hold),
        cmocka_unit_test(in_a_drill_a_seat_has_its_part),
        cmocka_unit_test(an_answer_typed_at_a_seat_is_no_key),
        cmocka_unit_test(leaving_a_seat_is_asked),
        cmocka_unit_test(no_step_is_given_away_in_a_drill),
        cmocka_unit_test(a_seat_that_is_anothers_says_so),
        cmocka_unit_test(who_sits_where_has_a_row),
        cmocka_unit_test(help_has_the_keys_that_look_alone),
        cmocka_unit_test(unproven_age_is_a_warning),
        cmocka_unit_test(the_program_follows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
