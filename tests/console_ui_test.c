// SPDX-License-Identifier: GPL-3.0-or-later
// What keys do, and what is drawn, without a terminal: over the engine, with time at a stand.
#include "console/tell.h"
#include "support/desk.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S

// ---- the first screen ------------------------------------------------------------------------

static void the_first_screen_says_what_this_is(void **state) {
    desk *r = *state;
    assert_true(desk_shows(r, "This is a simulation. It has no way to fire anything"));
    assert_true(desk_shows(r, "SAFE means that the rehearsed module is not armed"));
    assert_true(desk_shows(r, "Is live product rigged within earshot?"));
    desk_size(r, 40, 12);
    assert_true(desk_shows(r, "no way to fire"));
    assert_true(desk_shows(r, "Live product within earshot? y yes"));
}

static void tones_are_off_until_someone_says_no(void **state) {
    desk *r = *state;
    assert_false(r->ui.view.tones);
    desk_type(r, "z"); // no answer; and not taken as a key of the boards
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    assert_false(r->ui.view.tones);
    desk_type(r, "Tn");
    assert_true(r->ui.view.tones);
    desk_type(r, "Ty");
    assert_false(r->ui.view.tones);
    desk_arm_by_keys(r);
    assert_false(r->ui.bell || r->ui.tones);
    desk_type(r, " Tn");
    desk_type(r, "ca\n"); // "a" is typed as the name of who calls
    desk_type(r, "ka\n");
    desk_type(r, "ka\n");
    assert_int_equal(r->now->state, SM_STATE_SAFE); // key off and on again: clear has lapsed
    desk_type(r, "ca\na\n");
    assert_int_equal(r->now->state, SM_STATE_ARMING);
    assert_true(r->ui.bell); // no sound plays
    desk_type(r, " ");
    r->ui.bell = false;
    r->sound.state = SM_AUDIO_SOUNDING;
    desk_arm(r);
    assert_int_equal(r->ui.tones, 1u << SM_TONE_ARMING);
}

// ---- the key table --------------------------------------------------------------------------------

static void every_key_is_there_once(void **state) {
    (void)state;
    size_t count;
    const sm_key_row *rows = sm_keymap(&count);
    for (size_t i = 0; i < count; i++) {
        assert_ptr_equal(sm_keymap_find(rows[i].key), &rows[i]);
        for (size_t board = 0; board < SM_BOARDS; board++)
            assert_int_not_equal(sm_board_at(board)->key, rows[i].key);
    }
}

static void every_action_outside_drills_has_a_key_and_help(void **state) {
    desk *r = *state;
    desk_type(r, "n");
    desk_size(r, 120, 200);
    desk_type(r, "?");
    size_t count;
    const sm_key_row *rows = sm_keymap(&count);
    for (int act_ = 0; act_ < SM_ACT_COUNT; act_++) {
        const sm_action_row *action = sm_action_row_of((sm_act)act_);
        if (action->drill_only)
            continue;
        bool key = act_ == SM_ACT_KEY_ON || act_ == SM_ACT_KEY_OFF || act_ == SM_ACT_START_IN_OFF ||
                   act_ == SM_ACT_LISTEN_OFF || act_ == SM_ACT_LIGHTS_ANSWER; // by the key that asks
        for (size_t i = 0; i < count; i++)
            key = key || rows[i].act == (sm_act)act_;
        assert_true(key);
        assert_true(act_ == SM_ACT_KEY_ON || act_ == SM_ACT_KEY_OFF || desk_shows(r, action->form));
    }
    assert_true(desk_shows(r, "it says nothing about slots, flames, heat"));
}

// A page a board, its own keys first, then what is the same on all.
static void help_has_a_page_for_each_board(void **state) {
    desk *r = *state;
    desk_type(r, "n");
    desk_size(r, 100, 60);
    desk_press(r, SM_KEY_F0 + 3);
    desk_type(r, "?");
    size_t at = sm_board_named("rails");
    for (size_t i = 0; i < SM_BOARDS; i++, at = (at + 1) % SM_BOARDS) {
        const sm_board *board = sm_board_at(at);
        char title[200];
        snprintf(title, sizeof title, " %s: %s", board->name, board->about);
        title[90] = '\0';
        int own = desk_find(r, title), all = desk_find(r, "SAFE means");
        assert_true(own > 0 && all > own + (int)board->key_count);
        if (board->key_count > 0) { // behind a title of one row or two
            char keys[24];
            snprintf(keys, sizeof keys, "%.20s", board->keys[0].keys);
            assert_true(strstr(desk_row(r, own + 1), keys) || strstr(desk_row(r, own + 2), keys));
        }
        desk_press(r, SM_KEY_RIGHT);
    }
    desk_press(r, SM_KEY_LEFT); // the last of them
    desk_press(r, SM_KEY_ESCAPE);
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    assert_int_equal(r->ui.chosen, sm_board_named("rails")); // only the help was turned
}

static void help_finds_a_text_on_all_pages(void **state) {
    desk *r = *state;
    desk_type(r, "n?/mIsFiRe\n"); // small and capital letters alike
    assert_int_equal(r->ui.mode, SM_UI_HELP);
    desk_size(r, 100, 60);
    assert_true(desk_shows(r, "help on “mIsFiRe”"));
    assert_true(desk_shows(r, "rails: what hangs on every slot")); // the title of what was found
    assert_true(desk_shows(r, "MISF misfired"));
    assert_true(desk_shows(r, "report SLOT: report a misfire by slot"));
    assert_true(desk_shows(r, "CAUTION: a slot misfired and nobody has reported it"));
    assert_false(desk_shows(r, "turn the key switch"));
    assert_false(desk_shows(r, "walk: the walk before the show"));
    desk_type(r, "/no such thing\n");
    assert_true(desk_shows(r, "Nothing here has that text."));
    desk_type(r, "/\n"); // nothing typed: everything again
    assert_true(desk_shows(r, "SAFE means"));
    desk_type(r, "/clear"); // a search takes no keys for actions, and is left as any prompt
    desk_press(r, SM_KEY_ESCAPE);
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    desk_type(r, "?");
    assert_true(desk_shows(r, "SAFE means")); // and begins anew
}

static void safe_comes_first_in_every_mode(void **state) {
    desk *r = *state;
    sm_ui_press(&r->ui, ' '); // on the first screen
    assert_string_equal(r->acted, "safe");
    desk_type(r, "n");
    static const char *const before[] = {"", "?", "a", "T", "\t", "\t\t1.5"};
    for (size_t i = 0; i < sizeof before / sizeof before[0]; i++) {
        desk_type(r, before[i]);
        r->acted[0] = '\0';
        sm_ui_press(&r->ui, ' ');
        assert_string_equal(r->acted, "safe");
        desk_type(r, "\033n\033");
        r->ui.mode = SM_UI_BOARD;
        r->acted[0] = '\0';
        desk_type(r, before[i]);
        sm_ui_press(&r->ui, SM_KEY_F0 + 8);
        assert_string_equal(r->acted, "safe");
        r->ui.mode = SM_UI_BOARD;
    }
    desk_type(r, ":a b"); // typed: a blank is a blank
    assert_string_equal(r->ui.prompt.text, "a b");
    sm_ui_press(&r->ui, SM_KEY_F0 + 8);
    assert_string_equal(r->acted, "safe");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
}

// A blank that stops is typed all the same: what is typed after it must not become keys.
static void what_is_typed_after_a_stop_is_typed(void **state) {
    desk *r = *state;
    desk_type(r, "n");
    desk_arm_by_keys(r);
    int acts = r->acts;
    desk_type(r, "nall out  kab");
    assert_int_equal(r->acts, acts + 1);
    assert_string_equal(r->acted, "safe");
    assert_int_equal(r->now->state, SM_STATE_SAFE);
    assert_string_equal(r->ui.prompt.text, "all out kab");
    assert_true(r->now->key); // k was no key
    desk_type(r, "\033");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
}

// On a terminal too small for any question, none is put or answered; the stops work, also while text was being typed.
static void too_small_takes_only_stops(void **state) {
    desk *r = *state;
    desk_type(r, "n");
    desk_arm_by_keys(r);
    desk_type(r, "b");
    desk_size(r, 30, 8);
    assert_true(desk_shows(r, "SPACE makes safe"));
    desk_type(r, "\n"); // would have started, unseen
    assert_int_equal(r->now->state, SM_STATE_ARMED);
    desk_size(r, 80, 24);
    assert_true(desk_shows(r, "START"));
    desk_type(r, "\n");
    assert_int_equal(r->now->state, SM_STATE_RUNNING);
    desk_size(r, 30, 8);
    assert_true(desk_shows(r, "SPACE makes safe"));
    desk_type(r, "n p"); // `n` opens no prompt that could take the blank
    assert_int_equal(r->now->state, SM_STATE_SAFE);
    desk_size(r, 80, 24);
    assert_true(desk_shows(r, "SAFE"));
    desk_type(r, ":");
    desk_size(r, 30, 8);
    assert_true(desk_shows(r, "SPACE makes safe"));
    int acts = r->acts;
    desk_type(r, " ");
    assert_int_equal(r->acts, acts + 1);
    assert_string_equal(r->acted, "safe");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
}

static void the_stop_is_always_on_screen(void **state) {
    desk *r = *state;
    static const int sizes[][2] = {{40, 12}, {80, 24}, {120, 40}, {200, 60}};
    static const char *const before[] = {"n", "?", "\033a", "\033T", "n\t", "\t"};
    for (size_t i = 0; i < sizeof before / sizeof before[0]; i++) {
        desk_type(r, before[i]);
        for (size_t s = 0; s < sizeof sizes / sizeof sizes[0]; s++) {
            desk_size(r, sizes[s][0], sizes[s][1]);
            assert_true(desk_shows(r, "SPACE MAKE SAFE"));
            assert_true(desk_shows(r, "REHEARSAL SAFE"));
        }
    }
    desk_type(r, ":");
    for (size_t s = 0; s < sizeof sizes / sizeof sizes[0]; s++) {
        desk_size(r, sizes[s][0], sizes[s][1]);
        assert_true(desk_shows(r, "F8 MAKE SAFE"));
    }
}

// ---- two steps --------------------------------------------------------------------------------------

static void arm_and_start_take_two_different_keys(void **state) {
    desk *r = *state;
    desk_type(r, "ncK\nk");
    r->acted[0] = '\0';
    desk_type(r, "aa"); // the same key twice does nothing
    assert_string_equal(r->acted, "");
    assert_int_equal(r->now->state, SM_STATE_SAFE);
    desk_type(r, "a\n");
    assert_int_equal(r->now->state, SM_STATE_ARMING);
    desk_advance(r, S);
    desk_type(r, "bb");
    assert_int_equal(r->now->state, SM_STATE_ARMED);
    desk_type(r, "b\n");
    assert_int_equal(r->now->state, SM_STATE_RUNNING);
    desk_type(r, "p"); // a stop asks nothing
    assert_int_equal(r->now->state, SM_STATE_PAUSED);
    desk_type(r, "r");
    assert_true(desk_shows(r, "FIRES A-01"));
    desk_type(r, "\n");
    assert_int_equal(r->now->state, SM_STATE_RUNNING);
}

static void a_question_lapses_with_its_state(void **state) {
    desk *r = *state;
    desk_type(r, "n");
    desk_arm_by_keys(r);
    desk_type(r, "b");
    assert_int_equal(r->ui.mode, SM_UI_CONFIRM);
    desk_do(r, "key off"); // by another hand
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    desk_type(r, "\n");
    assert_int_equal(r->now->state, SM_STATE_SAFE);
}

// Never done by one key: the engine may be armed where the screen is behind. So it is not even asked.
static void what_leads_to_firing_is_refused_where_it_is_pressed(void **state) {
    desk *r = *state;
    desk_type(r, "n");
    desk_type(r, "b");
    assert_int_equal(r->acts, 0);
    assert_true(desk_shows(r, "start refused: not while safe; allowed in: armed"));
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    desk_type(r, "r");
    assert_int_equal(r->acts, 0);
    assert_true(desk_shows(r, "resume refused: not while safe; allowed in: paused"));
    r->no_memory = true;
    desk_type(r, "p");
    assert_true(desk_shows(r, "memory ran out: nothing was done"));
}

// ---- typing -------------------------------------------------------------------------------------------

static void a_slip_stays_to_be_mended(void **state) {
    desk *r = *state;
    desk_type(r, "n:raed A-01 2\n");
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    assert_true(r->ui.has_message);
    assert_int_equal(r->acts, 0);
    for (int i = 0; i < 11; i++)
        sm_ui_press(&r->ui, SM_KEY_BACKSPACE);
    desk_type(r, "read A-01 2\n");
    assert_string_equal(r->acted, "read A-01 2");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    desk_type(r, ":\n"); // nothing typed, nothing done
    assert_int_equal(r->acts, 1);
    desk_type(r, "fsome file.csv\n");
    assert_string_equal(r->file, "some file.csv");
    desk_type(r, "\t2.\n"); // rails: a figure that is none yet
    assert_true(desk_shows(r, "'2.' is no reading; write ohms"));
    assert_int_equal(r->acts, 1);
    desk_type(r, "1\n");
    assert_string_equal(r->acted, "read A-01 2.1");
}

static void prompts_begin_with_what_the_cursor_is_on(void **state) {
    desk *r = *state;
    desk_type(r, "n\t"); // rails
    sm_ui_press(&r->ui, SM_KEY_RIGHT);
    desk_type(r, "i\n");
    assert_string_equal(r->acted, "inhibit A-02");
    assert_true(desk_shows(r, "INHIB"));
    desk_type(r, "U\n");
    assert_string_equal(r->acted, "unplug A");
    assert_true(desk_shows(r, "UNPLUGGED"));
    desk_type(r, "\t"); // fixtures
    sm_ui_press(&r->ui, SM_KEY_DOWN);
    desk_type(r, "i\n");
    assert_string_equal(r->acted, "inhibit jet-1");
    assert_true(desk_shows(r, "INHIBITED"));
}

static void a_prompt_edits_whole_characters(void **state) {
    (void)state;
    sm_prompt prompt;
    sm_prompt_begin(&prompt, "note:", "caf");
    sm_prompt_press(&prompt, 0xE9);
    sm_prompt_press(&prompt, 0x706B);
    assert_string_equal(prompt.text, "café火");
    sm_prompt_press(&prompt, SM_KEY_LEFT);
    sm_prompt_press(&prompt, SM_KEY_BACKSPACE);
    assert_string_equal(prompt.text, "caf火");
    sm_prompt_press(&prompt, SM_KEY_DELETE);
    assert_string_equal(prompt.text, "caf");
    sm_prompt_press(&prompt, SM_KEY_HOME);
    sm_prompt_press(&prompt, 'x');
    sm_prompt_press(&prompt, SM_KEY_RIGHT);
    sm_prompt_press(&prompt, SM_KEY_ERASE_LINE);
    assert_string_equal(prompt.text, "af");
    sm_prompt_press(&prompt, SM_KEY_END);
    for (int i = 0; i < 1000; i++)
        sm_prompt_press(&prompt, 0x1F525);
    assert_true(prompt.length < SM_PROMPT_BYTES);
    assert_int_equal(sm_utf8_count(prompt.text, prompt.length), 2 + (prompt.length - 2) / 4);
    assert_int_equal(sm_prompt_press(&prompt, SM_KEY_ENTER), SM_PROMPT_DONE);
    assert_int_equal(sm_prompt_press(&prompt, SM_KEY_ESCAPE), SM_PROMPT_LEFT);
}

static void nothing_is_drawn_outside_whatever_the_size(void **state) {
    desk *r = *state;
    desk_type(r, "n");
    desk_arm_by_keys(r);
    desk_type(r, "b\n");
    desk_advance(r, 900000);
    for (size_t board = 0; board < SM_BOARDS; board++) {
        for (int columns = 1; columns <= 210; columns += columns < 90 ? 1 : 20) {
            desk_size(r, columns, 1 + columns * 3 % 70);
            sm_frame_draw(&r->ui, r->cells); // asserts in the grid fail on a cell outside
            sm_text row = {0};
            bool tiny = columns < SM_UI_COLUMNS || sm_cells_rows(r->cells) < SM_UI_ROWS;
            sm_cells_row_text(r->cells, tiny ? 0 : 1, &row);
            assert_int_equal(strncmp(sm_text_get(&row), tiny ? "REHEARSAL" : " REHEARSAL",
                                     columns < 10 ? (size_t)columns - 1 : 9),
                             0);
            sm_text_deinit(&row);
        }
        desk_type(r, "\t");
    }
}

// A generator of its own, so that a failure comes again: xorshift, 64 bits (Marsaglia 2003; from memory).
static uint64_t draw_number(uint64_t *seed) {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return *seed;
}

static void a_key_that_means_nothing_says_so(void **state) {
    desk *d = *state;
    desk_type(d, "n");
    desk_press(d, SM_KEY_F0 + 7); // the notes have no filter
    desk_type(d, "\\");
    assert_true(desk_shows(d, "no key \\ on this board"));
    assert_int_equal(d->acts, 0);
}

static void any_keys_in_any_order(void **state) {
    desk *r = *state;
    uint64_t seed = 0x9E3779B97F4A7C15;
    int steps = getenv("SLOWMATCH_SOAK") ? 200000 : 4000;
    static const char letters[] = "\n\n\n\n\033 abcdefgijklmnoprstuvwxzADFGILMPRSTUW:?.,[]'+-0123456789\t";
    for (int step = 0; step < steps; step++) {
        uint64_t number = draw_number(&seed);
        int key = number % 4 == 0 ? SM_KEY_SPECIAL + (int)(number >> 8) % 26
                                  : letters[(number >> 8) % (sizeof letters - 1)];
        sm_ui_press(&r->ui, key == '\n' ? SM_KEY_ENTER : key);
        if (number % 7 == 0)
            desk_advance(r, (sm_us)(number >> 40) % 400000);
        if (number % 50 == 0)
            desk_size(r, 1 + (int)((number >> 16) % 210), 1 + (int)((number >> 24) % 70));
        sm_frame_draw(&r->ui, r->cells);
        assert_true(sm_cells_columns(r->cells) < 16 || desk_shows(r, "REHEARSAL"));
    }
    assert_true(r->acts > steps / 100);
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_first_screen_says_what_this_is, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(tones_are_off_until_someone_says_no, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(help_has_a_page_for_each_board, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(help_finds_a_text_on_all_pages, desk_setup_first, desk_teardown),
        cmocka_unit_test(every_key_is_there_once),
        cmocka_unit_test_setup_teardown(every_action_outside_drills_has_a_key_and_help, desk_setup_first,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(safe_comes_first_in_every_mode, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(the_stop_is_always_on_screen, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(too_small_takes_only_stops, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(what_is_typed_after_a_stop_is_typed, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(arm_and_start_take_two_different_keys, desk_setup_first,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(a_question_lapses_with_its_state, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(what_leads_to_firing_is_refused_where_it_is_pressed, desk_setup_first,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(a_slip_stays_to_be_mended, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(prompts_begin_with_what_the_cursor_is_on, desk_setup_first,
                                        desk_teardown),
        cmocka_unit_test(a_prompt_edits_whole_characters),
        cmocka_unit_test_setup_teardown(nothing_is_drawn_outside_whatever_the_size, desk_setup_first,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(a_key_that_means_nothing_says_so, desk_setup_first, desk_teardown),
        cmocka_unit_test_setup_teardown(any_keys_in_any_order, desk_setup_first, desk_teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
