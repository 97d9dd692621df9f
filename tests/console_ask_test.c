// SPDX-License-Identifier: GPL-3.0-or-later
// Asking: offers, completion, lines before, holding back in two keys, letting go read back, a start at a clock time, the latest call,
// the key row. Over the engine, without a terminal.
#include "console/modes/typing.h"
#include "support/desk.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S
#define press desk_type
#define shows desk_shows
#define says desk_says

// ---- offers --------------------------------------------------------------------------------------

// What is offered is no part of what is typed: typing goes in its place.
static void an_offer_is_only_an_offer(void **state) {
    desk *r = *state;
    press(r, "\tU"); // rails: the cursor is on rail A
    assert_true(shows(r, "unplug RAIL: A"));
    assert_string_equal(r->ui.prompt.text, "");
    press(r, "B\n");
    assert_string_equal(r->acted, "unplug B");
    press(r, "U\n"); // needs just that: Enter takes it
    assert_string_equal(r->acted, "unplug A");
    press(r, "PA\nPB\nM\n"); // measures all: what can be left out is not offered
    assert_string_equal(r->acted, "measure");
    int acts = r->acts;
    press(r, "d\n"); // needs more: taken to go on from
    assert_int_equal(r->acts, acts);
    assert_string_equal(r->ui.prompt.text, "A-01 ");
    press(r, "1.9\n");
    assert_string_equal(r->acted, "read A-01 1.9");
    press(r, "i\t"); // Tab takes it
    assert_string_equal(r->ui.prompt.text, "A-01");
    press(r, "\n");
    assert_string_equal(r->acted, "inhibit A-01");
}

// Nobody is at product during a test: it is said before the current goes.
static void measuring_with_somebody_in_is_said_before(void **state) {
    desk *r = *state;
    press(r, "M");
    assert_false(shows(r, "everybody out first"));
    press(r, "\033");
    desk_do(r, "enter K");
    press(r, "M");
    assert_true(shows(r, "IN FIELD 1: K; everybody out first."));
    press(r, "\033");
    press(r, ":measure");
    assert_true(shows(r, "IN FIELD 1: K; everybody out first."));
}

// The screen still has ARMING when the tone has ended: the key must not start what it was pressed to ask for.
static void a_start_at_the_end_of_the_tone_takes_two_keys(void **state) {
    desk *r = *state;
    press(r, "cK\nka\n");
    assert_int_equal(r->now->state, SM_STATE_ARMING);
    r->wall.us += 60 * S; // nobody has looked since
    press(r, "b");
    desk_advance(r, S);
    assert_int_equal(r->now->state, SM_STATE_ARMED);
    press(r, "b");
    assert_int_equal(r->ui.mode, SM_UI_CONFIRM);
    press(r, "\n");
    assert_int_equal(r->now->state, SM_STATE_RUNNING);
}

// ---- completion -----------------------------------------------------------------------------------

static void actions_complete_by_name(void **state) {
    desk *r = *state;
    press(r, ":ar\t\n");
    assert_string_equal(r->acted, "arm"); // refused: what was typed stays to be mended
    assert_string_equal(r->ui.prompt.text, "arm");
    press(r, "\033");
    assert_string_equal(r->ui.history.lines[0], "arm");
    press(r, ":unp\t");
    assert_string_equal(r->ui.prompt.text, "unplug "); // a blank, for what follows
    press(r, "\t");
    assert_string_equal(r->ui.prompt.text, "unplug A"); // cycles: A, B, A
    press(r, "\t");
    assert_string_equal(r->ui.prompt.text, "unplug B");
    press(r, "\t");
    assert_string_equal(r->ui.prompt.text, "unplug A");
    sm_ui_press(&r->ui, SM_KEY_BACK_TAB);
    assert_string_equal(r->ui.prompt.text, "unplug B");
    press(r, "\n");
    assert_string_equal(r->acted, "unplug B");
    press(r, ":re"); // those allowed now come first: resume is not
    assert_string_equal(r->ui.completion.words.names[r->ui.completion.words.kept - 1], "resume");
    press(r, "p\t"); // repeat, repeat off, repair, report: no more in common
    assert_string_equal(r->ui.prompt.text, "repeat");
    press(r, " o\t");
    assert_string_equal(r->ui.prompt.text, "repeat off");
    press(r, "\n");
    assert_string_equal(r->acted, "repeat off");
    press(r, ":key\t");
    assert_string_equal(r->ui.prompt.text, "key o");
    press(r, "n\t\n");
    assert_string_equal(r->acted, "key on");
}

static void expect_candidates(desk *r, const char *line, const char *expected) {
    sm_completion found;
    sm_complete(&r->ui.view, line, strlen(line), &found);
    sm_text got = {0};
    for (size_t i = 0; i < found.words.kept; i++)
        sm_text_printf(&got, "%s%s", i > 0 ? "," : "", found.words.names[i]);
    if (strcmp(sm_text_get(&got), expected) != 0)
        fail_msg("%s: %s, not %s", line, sm_text_get(&got), expected);
    sm_text_deinit(&got);
}

static void arguments_complete_by_kind(void **state) {
    desk *r = *state;
    (void)desk_act(r, "enter Anna Berg", SM_SOURCE_CONSOLE);
    (void)desk_act(r, "enter Anton", SM_SOURCE_CONSOLE);
    (void)desk_act(r, "mark bridge", SM_SOURCE_CONSOLE);
    (void)desk_act(r, "unplug B", SM_SOURCE_CONSOLE);
    expect_candidates(r, "read A-", "A-01,A-02,A-03,A-04");
    expect_candidates(r, "read A-02 ", "open,short");
    expect_candidates(r, "plug ", "B");
    expect_candidates(r, "unplug ", "A");
    expect_candidates(r, "measure ", "A,B");
    expect_candidates(r, "leave An", "Anna Berg,Anton");
    expect_candidates(r, "leave Anna B", "Anna Berg");
    expect_candidates(r, "seek b", "bridge");
    expect_candidates(r, "repeat 0 bri", "bridge");
    expect_candidates(r, "repeat 0 1 ", "rerig");
    expect_candidates(r, "waive r", "rails,readings");
    expect_candidates(r, "inhibit a", "aerial");
    expect_candidates(r, "inhibit j", "jet-1");
    expect_candidates(r, "inhibit l", "long,left"); // an effect, a position
    expect_candidates(r, "allow ", "");             // typed in full
    expect_candidates(r, "tick x ", "yes,no,na,later");
    expect_candidates(r, "remote 2 pau", "pause");
    expect_candidates(r, "report ", ""); // nothing misfired
    expect_candidates(r, "nonsense ", "");
    expect_candidates(r, "note pl", "");
}

// An action that is not allowed now is named all the same, with why.
static void what_is_not_allowed_is_said(void **state) {
    desk *r = *state;
    press(r, ":start");
    assert_true(shows(r, "start: not while safe; allowed in: armed"));
    press(r, "\033:hint");
    assert_true(shows(r, "hint: only in a drill"));
    press(r, "\033:seek");
    assert_true(shows(r, "seek MOMENT: go to a moment of the show"));
    press(r, "\033i");
    assert_true(says(r, "Tab: ground aerial near A B fountain comet long"));
}

static void lines_before_come_back(void **state) {
    desk *r = *state;
    press(r, ":wind 3\n:wind 3\n:note one\n:wi");
    sm_ui_press(&r->ui, SM_KEY_UP);
    assert_string_equal(r->ui.prompt.text, "note one");
    sm_ui_press(&r->ui, SM_KEY_UP);
    assert_string_equal(r->ui.prompt.text, "wind 3"); // kept once
    sm_ui_press(&r->ui, SM_KEY_UP);
    assert_string_equal(r->ui.prompt.text, "wind 3");
    sm_ui_press(&r->ui, SM_KEY_DOWN);
    sm_ui_press(&r->ui, SM_KEY_DOWN);
    assert_string_equal(r->ui.prompt.text, "wi"); // what was being typed
    press(r, "\033");
    for (int i = 0; i < SM_HISTORY + 20; i++) {
        char line[32];
        snprintf(line, sizeof line, ":note %d\n", i);
        press(r, line);
    }
    press(r, ":");
    for (int i = 0; i < SM_HISTORY + 5; i++)
        sm_ui_press(&r->ui, SM_KEY_UP);
    assert_string_equal(r->ui.prompt.text, "note 20");
}

// ---- holding back ------------------------------------------------------------------------------------

static void holds_back_in_two_keys_in_every_state(void **state) {
    desk *r = *state;
    press(r, "I");
    assert_true(says(r, "HOLD BACK which? a all aerials g ground f all flames p all pyro"));
    assert_false(shows(r, "n near")); // this show has none
    press(r, "n");
    assert_int_equal(r->acts, 0);
    press(r, "Ia");
    assert_string_equal(r->acted, "inhibit aerial");
    press(r, "If");
    assert_string_equal(r->acted, "inhibit jet-1");
    desk_arm_by_keys(r);
    assert_true(says(r, "HELD BACK 1 slot, 1 fixture: aerial, jet-1"));
    press(r, "b");
    assert_true(says(r, "HELD BACK 1 slot"));
    press(r, "\nIp");
    assert_int_equal(r->now->state, SM_STATE_RUNNING);
    assert_int_equal(r->now->inhibit_count, 4);
    press(r, "I "); // the stop comes first
    assert_int_equal(r->now->state, SM_STATE_SAFE);
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
}

static void letting_go_is_read_back(void **state) {
    desk *r = *state;
    press(r, "IaIgA");
    assert_string_equal(r->ui.prompt.offer, "");
    assert_true(shows(r, "what holds now: aerial, ground"));
    press(r, "A-02\n");
    assert_true(shows(r, "A-02 holds nothing back; what does: aerial, ground"));
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    sm_ui_press(&r->ui, SM_KEY_ERASE_LINE);
    press(r, "ground\n");
    assert_true(says(r, "ALLOW ground: A-01, B-01 (2 slots) FIRE AGAIN."));
    assert_string_equal(r->acted, "inhibit ground");
    press(r, "x");
    assert_int_equal(r->now->inhibit_count, 2);
    press(r, ":inhibit B\n:allow ground\n");
    assert_true(says(r, "ALLOW ground: A-01 (1 slot) FIRE AGAIN; 1 stay held back by another name."));
    press(r, "\n");
    assert_string_equal(r->acted, "allow ground");
    assert_int_equal(r->now->inhibit_count, 2);
    desk_arm_by_keys(r); // in ARMED nothing is let go
    press(r, "Aaerial\n");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    assert_int_equal(r->now->inhibit_count, 2);
}

// ---- a start at a clock time -------------------------------------------------------------------------

static void starts_at_a_clock_time(void **state) {
    desk *r = *state;
    press(r, "S");
    assert_true(shows(r, "start-in: not while safe; allowed in: armed"));
    desk_arm_by_keys(r);
    press(r, "S25:00\n");
    assert_true(shows(r, "no such time"));
    sm_ui_press(&r->ui, SM_KEY_ERASE_LINE);
    press(r, "21:05\n"); // launched at 21:00:00
    assert_true(shows(r, "STARTS BY ITSELF AT 21:05:00"));
    assert_int_equal(r->now->starts_at.us, SM_UNSET_US);
    desk_advance(r, S); // it is no later for thinking about it
    press(r, "\n");
    assert_int_equal(r->now->starts_at.us, 300 * S);
    assert_true(says(r, "ARMED STARTS BY ITSELF AT 21:05:00, in 04:58"));
    press(r, "S"); // again: taken back
    assert_int_equal(r->now->starts_at.us, SM_UNSET_US);
    press(r, "S20:59:30\n\n"); // tomorrow
    assert_int_equal(r->now->starts_at.us, 24 * 3600 * S - 30 * S);
    press(r, "SSin 90 s\n\n");
    assert_true(r->now->starts_at.us == 92 * S);
    (void)desk_act(r, "enter M", SM_SOURCE_CONSOLE);
    assert_true(says(r, "START BY ITSELF CANCELLED 21:00: M went in"));
    desk_advance(r, 200 * S);
    assert_int_equal(r->now->state, SM_STATE_ARMED);
    (void)desk_act(r, "leave M", SM_SOURCE_CONSOLE);
    (void)desk_act(r, "call-clear J", SM_SOURCE_CONSOLE);
    press(r, "Sin 10\n\n");
    desk_advance(r, 10 * S);
    assert_int_equal(r->now->state, SM_STATE_RUNNING);
}

static void the_clock_is_read(void **state) {
    (void)state;
    sm_time_of_day day = {INT64_C(1781989200) * S};
    sm_wall_time at;
    static const char *const wrong[] = {"",         "21",     "21:3", "24:00",  "21:60",
                                        "21:30:60", "21:30 ", "x",    "21:30:5"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_false(sm_time_of_day_find(&day, wrong[i], (sm_wall_time){0}, &at));
    assert_true(sm_time_of_day_find(&day, "21:00", (sm_wall_time){0}, &at)); // now is past: tomorrow
    assert_int_equal(at.us, 24 * 3600 * S);
    assert_true(sm_time_of_day_find(&day, "9:00:07", (sm_wall_time){0}, &at));
    assert_int_equal(at.us, 12 * 3600 * S + 7 * S);
}

// ---- guards in the questions ------------------------------------------------------------------------

static void questions_name_what_is_not_met(void **state) {
    desk *r = *state;
    press(r, ":read A-03 2\n:read A-02 open\n:enter K\na"); // no cue fires it
    assert_true(says(r,
                     "arm will be refused: A-02 open; 1 in the field: K; clear has not been called; key OFF; "
                     "F3 looks, F mends, W leaves out by name. Any key leaves it."));
    assert_false(says(r, "Enter does it"));
    press(r, "\033:leave K\n:waive readings A-02 broken lead by K\nzx\n");
    press(r, "\033:speed 0.5\ncK\nka");
    assert_true(says(r, "WAIVED readings"));
    assert_true(says(r, "STRAY A-03: something there that no cue"));
    assert_true(says(r, "Enter does it, any other key leaves it."));
    assert_true(says(r, "SPEED 0.5"));
}

// In the order of the work, each with how it stands, since when, why, and what to do; and the one thing to do now.
static void the_guards_board_leads_through_the_work(void **state) {
    desk *r = *state;
    sm_ui_press(&r->ui, SM_KEY_F0 + 5);
    assert_true(shows(r, "2 of 5 MET. NEXT: [M] measure all rails"));
    assert_true(shows(r, "3 readings  NOT CHECKED           3 of 3 slots unread"));
    assert_true(shows(r, "6 arm       to do"));
    press(r, "M\n:unplug B\n");
    assert_true(says(r, "NEXT: [P] plug rail B at the module end"));
    press(r, ":plug B\n:enter K\n");
    desk_advance(r, 65 * S);
    assert_true(says(r, "2 field NOT MET 1 min 1 in the field: K"));
    assert_true(says(r, "NEXT: [l] everybody out and counted"));
    press(r, ":leave K\n");
    assert_true(shows(r, "3 readings  MET          1 min    3 of 3 slots as predicted"));
    assert_true(says(r, "NEXT: [c] ask each by name, then call clear"));
    press(r, "cJ\n");
    assert_true(says(r, "4 of 5 MET. NEXT: [k] key in and on"));
    press(r, "k:read A-03 2\nIa");
    assert_true(says(r, "5 of 5 MET. NEXT: [k] key off and out"));
    assert_true(says(r, "stray STRAY A-03: something there that no cue fires"));
    assert_true(says(r, "inhibits HELD BACK 1 slot: aerial"));
    press(r, "a");
    assert_true(says(r, "STRAY A-03"));
    press(r, "\n");
    desk_advance(r, S);
    assert_true(shows(r, "6 arm       done"));
    assert_true(says(r, "NEXT: [SPACE] make safe, then key off")); // the stray is as live as any
    press(r, ":enter K\n");
    assert_true(says(r, "NEXT: [SPACE] make safe, then key off"));
    press(r, " :waive rails B stays out by K\n:unplug B\n");
    assert_true(says(r, "WAIVED 0 s by K: B stays out by K"));
    desk_size(r, 40, 24);
    assert_true(shows(r, "2 field     NOT MET"));
}

// ---- the latest call ----------------------------------------------------------------------------------

static void the_latest_call_stays_until_answered(void **state) {
    desk *r = *state;
    assert_false(shows(r, "CALL"));
    (void)desk_act(r, "call left hold, hold, hold", SM_SOURCE_INSTRUCTOR);
    desk_advance(r, 12 * S);
    press(r, ":note something else\n:wind 3\n");
    assert_true(shows(r, "CALL left 12 s ago: hold, hold, hold"));
    assert_true(shows(r, "[y] answers"));
    (void)desk_act(r, "call spotter a person at the fence", SM_SOURCE_INSTRUCTOR);
    assert_true(shows(r, "CALL spotter 0 s ago: a person at the fence · 2 calls unanswered"));
    desk_size(r, 40, 12);
    assert_true(shows(r, "CALL spotter"));
    assert_true(shows(r, "[y] answers"));
    desk_size(r, 80, 24);
    assert_int_equal(desk_act(r, "answer holding", SM_SOURCE_CONSOLE), SM_OK);
    desk_advance(r, 3 * S);
    assert_true(shows(r, "call spotter 3 s ago: a person at the fence · answered 3 s ago: holding"));
    assert_false(shows(r, "CALL"));
}

// The crew's answers are heard when clear is called; who did not answer is still open, until they do.
static void a_clear_that_is_called_closes_what_was_heard(void **state) {
    desk *r = *state;
    desk_inject(r, "call K outside");
    desk_inject(r, "call M outside");
    assert_true(shows(r, "CALL M 0 s ago: outside · 2 calls unanswered"));
    desk_do(r, "call-clear J");
    assert_true(shows(r, "call M 0 s ago: outside · clear called since"));
    assert_false(shows(r, "[y] answers"));
    desk_advance(r, 1 * S);
    desk_inject(r, "no-answer K");
    desk_inject(r, "call M outside");
    desk_do(r, "call-clear J");
    assert_true(shows(r, "CALL M 0 s ago: outside"));
    assert_false(shows(r, "unanswered"));
    assert_int_equal(r->now->incidents.calls_open, 1);
    desk_do(r, "answer K, where are you");
    assert_true(shows(r, "answered 0 s ago: K, where are you"));
    assert_true(shows(r, "NO ANSWER from K")); // who is asked has not answered by that
    desk_inject(r, "call K outside");
    assert_false(shows(r, "NO ANSWER"));
}

// Whoever is asked to arm, start or go on is told who was called and has not answered, also when somebody else called since.
static void each_question_that_leads_on_names_who_has_not_answered(void **state) {
    desk *r = *state;
    desk_do(r, "call-clear J");
    desk_do(r, "key on");
    desk_type(r, "a");
    assert_true(shows(r, "ARM the rehearsed"));
    assert_false(shows(r, "NO ANSWER"));
    desk_press(r, SM_KEY_ESCAPE);
    desk_inject(r, "no-answer K");
    desk_inject(r, "call M outside");
    desk_type(r, "a");
    assert_true(shows(r, "NO ANSWER from K"));
    desk_press(r, SM_KEY_ENTER);
    desk_advance(r, 10 * S);
    desk_type(r, "b");
    assert_true(shows(r, "START counts down"));
    assert_true(shows(r, "NO ANSWER from K"));
}

// ---- the key row ----------------------------------------------------------------------------------------

static void help_never_drops_out_and_no_hint_is_cut(void **state) {
    desk *r = *state;
    for (int columns = 40; columns <= 200; columns++) {
        desk_size(r, columns, 24);
        sm_frame_draw(&r->ui, r->cells);
        sm_text row = {0};
        sm_cells_row_text(r->cells, 23, &row);
        const char *text = sm_text_get(&row);
        assert_non_null(strstr(text, "SPACE MAKE SAFE"));
        assert_non_null(strstr(text, "? help"));
        // Every key that stands there has its whole word: each piece between two blanks is one of the table's, or names the next step.
        size_t count;
        const sm_key_row *rows = sm_keymap(&count);
        sm_text left = {0};
        sm_text_printf(&left, "%s", strstr(text, "SAFE ") + 5);
        for (char *piece = strtok(left.bytes, " "); piece; piece = strtok(NULL, " ")) {
            bool known = strstr(" measure on off ", piece) != NULL;
            for (size_t i = 0; i < count; i++) {
                char name[16];
                known = known || strcmp(piece, sm_key_name(rows[i].key, name)) == 0 ||
                        (rows[i].hint && strcmp(piece, rows[i].hint) == 0);
            }
            if (!known)
                fail_msg("%d columns: '%s' in %s", columns, piece, text);
        }
        sm_text_deinit(&left);
        sm_text_deinit(&row);
    }
}

// Nobody waits for tones that cannot come.
static void call_tones_and_ticks_need_sound(void **state) {
    desk *r = *state;
    press(r, "C");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    assert_true(shows(r, "no sound: no device is open (o chooses one)"));
    press(r, "K");
    assert_false(r->ui.view.ticks);
    r->ui.view.silent = true;
    press(r, "C");
    assert_true(shows(r, "no sound: this rehearsal was begun with --silent"));
}

// What only the engine knows comes while the line stands there, with all that was typed; nothing comes back once another key was pressed.
static void a_refusal_brings_back_what_was_typed(void **state) {
    desk *r = *state;
    desk_type(r, "eK\n");
    assert_int_equal(r->now->people_count, 1);
    desk_type(r, "eK\n");
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    assert_string_equal(r->ui.prompt.text, "K");
    sm_ui_press(&r->ui, SM_KEY_BACKSPACE);
    desk_type(r, "M\n"); // mended
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    assert_int_equal(r->now->people_count, 2);
    desk_type(r, ":unplug A\n:unplug A\n");
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    assert_string_equal(r->ui.prompt.text, "unplug A");
    sm_ui_press(&r->ui, SM_KEY_ESCAPE);
    sm_ui_refused(&r->ui, "unplug refused: too late");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    desk_type(r, "jbanana\n"); // no mark
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    assert_string_equal(r->ui.prompt.text, "banana");
    sm_ui_press(&r->ui, SM_KEY_ESCAPE);
    desk_type(r, "wstrong\n");
    assert_true(desk_shows(r, "is no wind speed"));
    sm_ui_press(&r->ui, SM_KEY_ESCAPE);
    desk_type(r, "e"); // it was about another line
    assert_false(desk_shows(r, "is no wind speed"));
}

// Where no other name would help, or the next key may be a hold, the next key is a key.
static void a_refusal_that_no_words_mend_closes_the_line(void **state) {
    desk *r = *state;
    desk_type(r, "eK\n");
    desk_type(r, "cJ\n"); // K is in
    assert_string_equal(r->acted, "call-clear J");
    assert_false(r->now->clear_called);
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    desk_do(r, "leave K");
    desk_arm(r);
    desk_type(r, ":repair A-01\n");
    assert_string_equal(r->acted, "repair A-01");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
}

// The one whose reading is bad on the rail that is out, wherever the cursor was left.
static void a_repair_begins_with_what_is_to_be_put_right(void **state) {
    desk *r = *state;
    desk_press(r, SM_KEY_F0 + 3);
    desk_do(r, "read A-02 open");
    desk_type(r, "F");
    assert_string_equal(r->ui.prompt.offer, "A-01"); // nobody can be at A-02 yet
    desk_press(r, SM_KEY_ESCAPE);
    desk_do(r, "unplug A");
    desk_type(r, "F");
    assert_string_equal(r->ui.prompt.offer, "A-02");
    desk_press(r, SM_KEY_ESCAPE);
    desk_press(r, SM_KEY_F0 + 5);
    desk_type(r, "F");
    assert_string_equal(r->ui.prompt.offer, "A-02");
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
#define OVER(test) cmocka_unit_test_setup_teardown(test, desk_setup_short, desk_teardown)
    const struct CMUnitTest tests[] = {
        OVER(call_tones_and_ticks_need_sound),
        OVER(an_offer_is_only_an_offer),
        OVER(measuring_with_somebody_in_is_said_before),
        OVER(a_start_at_the_end_of_the_tone_takes_two_keys),
        OVER(actions_complete_by_name),
        OVER(arguments_complete_by_kind),
        OVER(what_is_not_allowed_is_said),
        OVER(lines_before_come_back),
        OVER(holds_back_in_two_keys_in_every_state),
        OVER(letting_go_is_read_back),
        OVER(starts_at_a_clock_time),
        cmocka_unit_test_setup_teardown(a_refusal_brings_back_what_was_typed, desk_setup_short,
                                        desk_teardown),
        OVER(a_refusal_that_no_words_mend_closes_the_line),
        OVER(a_repair_begins_with_what_is_to_be_put_right),
        cmocka_unit_test(the_clock_is_read),
        OVER(questions_name_what_is_not_met),
        OVER(the_guards_board_leads_through_the_work),
        cmocka_unit_test_setup_teardown(the_latest_call_stays_until_answered, desk_setup_short_drill,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(each_question_that_leads_on_names_who_has_not_answered,
                                        desk_setup_short_drill, desk_teardown),
        cmocka_unit_test_setup_teardown(a_clear_that_is_called_closes_what_was_heard, desk_setup_short_drill,
                                        desk_teardown),
        OVER(help_never_drops_out_and_no_hint_is_cut),
    };
    return cmocka_run_group_tests_name("console_ask", tests, NULL, NULL);
}
