// SPDX-License-Identifier: GPL-3.0-or-later
// What boards, guards and foot say of a rehearsal, without a terminal: over the engine, with time at a stand.
#include "console/tell.h"
#include "support/desk.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S

// ---- boards ---------------------------------------------------------------------------------------------

static void the_score_passes_its_now_line(void **state) {
    desk *r = *state;
    desk_type(r, "n");
    assert_true(desk_shows(r, "3      ▸ 0.2 s  A-01"));
    assert_true(desk_shows(r, "red comes up"));
    desk_arm_by_keys(r);
    desk_type(r, "b\n");
    desk_advance(r, 300000 + 650000);                      // count 0.3 s, then 0.65 s of show
    assert_true(desk_shows(r, "BURNS  A-02 comet 0.2 s")); // flew 0.1 s from 0.5 s, burns 0.2 s, till 0.8 s
    assert_true(desk_shows(r, "A-01 fountain 0.6 s"));
    assert_true(desk_shows(r, "FLAME jet-1"));
    assert_true(desk_shows(r, " 6      burns    B-01"));
    assert_true(desk_shows(r, "end of the show at 0:01.000"));
    sm_ui_press(&r->ui, SM_KEY_PAGE_UP);
    assert_true(desk_shows(r, "scrolled"));
    sm_ui_press(&r->ui, SM_KEY_HOME);
    assert_false(desk_shows(r, "scrolled"));
}

static void the_rails_board_tells_what_became_of_slots(void **state) {
    desk *r = *state;
    desk_type(r, "n:read A-02 open\n:waive readings A-02 broken\n:allow A-02\n\n\t");
    assert_true(desk_shows(r, "--    OPEN  spare spare"));
    desk_arm_by_keys(r);
    desk_type(r, "b\n");
    desk_advance(r, 300000 + 700000);
    assert_true(desk_shows(r, "*0.5  MISF"));
    assert_true(desk_shows(r, "*12   spare")); // B-01, rounded up
    desk_advance(r, 2 * S);
    assert_int_equal(r->now->state, SM_STATE_ENDED);
    assert_true(desk_shows(r, "misfired: 1 LIVE")); // the board comes by itself
    assert_true(desk_shows(r, "NOT REPORTED"));
    desk_type(r, "x\n"); // suggested: the first not reported
    assert_string_equal(r->acted, "report A-02");
    assert_true(desk_shows(r, "reported"));
    assert_false(desk_shows(r, "NOT REPORTED"));
}

static void readings_are_as_old_as_the_oldest(void **state) {
    desk *r = *state;
    desk_type(r, "n:read A-01 2\n");
    desk_advance(r, 5 * S);
    assert_true(desk_shows(r, "read 5 s ago"));
    desk_type(r, ":read A-02 2\n");
    assert_true(desk_shows(r, "2 of 3 read"));
    assert_true(desk_shows(r, "read 5 s ago"));
    desk_type(r, "u");
    desk_type(r, "u");
    assert_false(desk_shows(r, "read 5 s"));
}

static void flame_is_said_in_words(void **state) {
    desk *r = *state;
    desk_type(r, "n\t\t");
    assert_true(desk_shows(r, "enable closed no flame"));
    desk_arm_by_keys(r);
    desk_type(r, "b\n");
    desk_advance(r, 300000 + 200000);
    assert_true(desk_shows(r, "enable OPEN no flame"));
    desk_advance(r, 200000);
    assert_true(desk_shows(r, "enable OPEN FLAME"));
    desk_type(r, "p");
    assert_true(desk_shows(r, "enable closed no flame"));
    assert_true(desk_shows(r, "255 255")); // lights hold
}

static void guards_say_what_to_do(void **state) {
    desk *r = *state;
    desk_type(r, "n\t\t\t:enter K\n:unplug B\n:read A-01 short\n");
    assert_true(desk_shows(r, "NOT MET      0 s      1 in the field: K"));
    assert_true(desk_shows(r, "not plugged: B"));
    assert_true(desk_shows(r, "A-01 short"));
    assert_false(desk_shows(r, "inhibits")); // there is no room for it, and that is said
    assert_true(desk_shows(r, "more rows: Down, PageDown"));
    desk_press(r, SM_KEY_PAGE_DOWN);
    assert_true(desk_shows(r, "c calls clear"));
    assert_true(desk_shows(r, "inhibits  none"));
    assert_false(desk_shows(r, "more rows"));
    desk_press(r, SM_KEY_PAGE_UP);
    desk_type(r, ":waive rails B stays out\n");
    assert_true(desk_shows(r, "WAIVED"));
}

// A drill that gives hints only when asked, or none, gives no step away either: not on the board, not in the foot.
static void a_drill_without_hints_names_no_next_step(void **state) {
    desk *r = *state;
    desk_type(r, "n");
    desk_press(r, SM_KEY_F0 + 5);
    assert_true(desk_shows(r, "MET. NEXT: "));
    sm_drill drill = {.title = "Trial"};
    const sm_drill_view view = {.drill = &drill, .next = SM_ACT_ASK, .hint = "Ask each by name."};
    for (int hints = 0; hints < SM_HINTS_COUNT; hints++) {
        drill.hints = (sm_drill_hints)hints;
        r->ui.view.drill = &view;
        assert_int_equal(desk_shows(r, "NEXT: "), hints == SM_HINTS_FULL);
        // The drill's own next, never another beside it: it knows what it asks for.
        assert_int_equal(desk_shows(r, "Ask each by name."), hints == SM_HINTS_FULL);
        assert_false(desk_shows(r, "measure all rails"));
    }
    r->ui.view.drill = NULL;
}

// The one thing to do stands in the foot of every board, and comes back once what was told is old.
static void the_foot_names_the_next_step(void **state) {
    desk *r = *state;
    desk_type(r, "n");
    desk_press(r, SM_KEY_F0 + 2);
    desk_advance(r, 11 * SM_US_PER_S);
    assert_int_equal(desk_find(r, " NEXT: [M] measure all rails"), 22);
    desk_do(r, "measure");
    assert_true(strstr(desk_row(r, 22), "measure"));
    desk_advance(r, 11 * SM_US_PER_S);
    assert_int_equal(desk_find(r, " NEXT: [c] ask each by name, then call clear"), 22);
    sm_ui_say(&r->ui, SM_OUTCOME_TOLD, "told");
    assert_false(desk_shows(r, "NEXT: "));
    desk_advance(r, 11 * SM_US_PER_S);
    assert_true(desk_shows(r, " NEXT: [c]"));
    sm_ui_say(&r->ui, SM_OUTCOME_WRONG, "wrong"); // stays until a key is pressed
    desk_advance(r, 11 * SM_US_PER_S);
    assert_false(desk_shows(r, "NEXT: "));
}

static void guards_send_nobody_out_while_armed(void **state) {
    desk *r = *state;
    desk_type(r, "n\t\t\t");
    assert_true(desk_shows(r, "everybody out, then M"));
    desk_arm_by_keys(r);
    assert_false(desk_shows(r, "everybody out"));
    assert_true(desk_shows(r, "does not refuse; make safe before measuring"));
    desk_do(r, "unplug B");
    assert_true(desk_shows(r, "not plugged: B"));
    assert_true(desk_shows(r, "make safe and key off first"));
    assert_false(desk_shows(r, "P plugs a rail"));
    desk_type(r, " k"); // nothing fired: there is no wait
    assert_true(desk_shows(r, "NEXT: [P] plug rail B at the module end"));
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_score_passes_its_now_line, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(the_rails_board_tells_what_became_of_slots, desk_setup_first,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(readings_are_as_old_as_the_oldest, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(flame_is_said_in_words, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(guards_say_what_to_do, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(a_drill_without_hints_names_no_next_step, desk_setup_first,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(the_foot_names_the_next_step, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(guards_send_nobody_out_while_armed, desk_setup_first, desk_teardown),
    };
    return cmocka_run_group_tests_name("what the console shows", tests, NULL, NULL);
}
