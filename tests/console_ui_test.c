// SPDX-License-Identifier: GPL-3.0-or-later
// What keys do, and what is drawn, without a terminal: over the engine, with time at a stand.
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "console/ui.h"
#include "support/short_show.h"

#define S SM_US_PER_S

typedef struct rig {
    short_show files;
    sm_show *show;
    sm_rehearsal *rehearsal;
    sm_snapshot *now;
    sm_findings *findings;
    sm_recent recent;
    sm_text noise;
    sm_audio_status sound;
    sm_day day;
    sm_wall_time wall;
    sm_ui ui;
    sm_cells *cells;
    char acted[256]; // the latest line
    int acts;
    char file[256]; // asked to be read
    bool no_memory; // the owner cannot take lines
} rig;

static void keep_row(void *context, const sm_log_row *row) {
    sm_recent_put(&((rig *)context)->recent, row);
}

static void look(rig *r) {
    sm_rehearsal_snapshot(r->rehearsal, r->wall, r->now);
    sm_ui_look(&r->ui);
}

static bool act(void *owner, const char *line) {
    rig *r = owner;
    if (r->no_memory) {
        return false;
    }
    snprintf(r->acted, sizeof r->acted, "%s", line);
    r->acts++;
    sm_action action;
    char why[200];
    size_t at;
    if (sm_action_read(r->show, line, strlen(line), &action, why, &at) == SM_OK) {
        sm_result result = sm_rehearsal_act(r->rehearsal, &action, SM_SOURCE_CONSOLE, r->wall);
        assert_true(result == SM_OK || result == SM_REFUSED);
    }
    look(r);
    return true;
}

static void read_file(void *owner, const char *path) {
    snprintf(((rig *)owner)->file, sizeof((rig *)owner)->file, "%s", path);
}

static int begin(void **state) {
    rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    short_show_make(&r->files, "12 s");
    r->findings = sm_findings_create();
    assert_int_equal(sm_show_load(r->files.folder, &(sm_show_load_options){0}, r->findings, &r->show), SM_OK);
    sm_rehearsal_options options = {.sink = keep_row, .sink_context = r};
    assert_int_equal(sm_rehearsal_create(r->show, &options, &r->rehearsal), SM_OK);
    assert_int_equal(sm_snapshot_create(r->show, &r->now), SM_OK);
    sm_rehearsal_snapshot(r->rehearsal, r->wall, r->now);
    r->ui.view = (sm_view){.snapshot = r->now,
                           .show = r->show,
                           .day = &r->day,
                           .recent = &r->recent,
                           .findings = r->findings,
                           .checked = true,
                           .noise = &r->noise,
                           .rig = "",
                           .sound = &r->sound};
    r->ui.owner = r;
    r->ui.act = act;
    r->ui.read_file = read_file;
    assert_int_equal(sm_ui_init(&r->ui), SM_OK);
    r->cells = sm_cells_create(80, 24);
    assert_non_null(r->cells);
    *state = r;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    sm_cells_destroy(r->cells);
    sm_ui_deinit(&r->ui);
    sm_snapshot_destroy(r->now);
    sm_rehearsal_destroy(r->rehearsal);
    sm_show_destroy(r->show);
    sm_findings_destroy(r->findings);
    short_show_remove(&r->files);
    free(r);
    return 0;
}

static void advance(rig *r, sm_us span) {
    r->wall.us += span;
    assert_int_equal(sm_rehearsal_run(r->rehearsal, r->wall), SM_OK);
    look(r);
}

static void press(rig *r, const char *keys) {
    for (; *keys; keys++) {
        sm_ui_press(&r->ui, *keys == '\n' ? SM_KEY_ENTER : *keys);
    }
}

static bool shows(rig *r, const char *text) {
    sm_ui_draw(&r->ui, r->cells);
    bool found = false;
    sm_text row = {0};
    for (int y = 0; y < sm_cells_rows(r->cells); y++) {
        sm_text_clear(&row);
        sm_cells_row_text(r->cells, y, &row);
        found = found || strstr(sm_text_get(&row), text);
    }
    sm_text_deinit(&row);
    return found;
}

static void size(rig *r, int columns, int rows) {
    sm_cells_destroy(r->cells);
    r->cells = sm_cells_create(columns, rows);
    assert_non_null(r->cells);
}

// To ARMED, from the boards.
static void arm(rig *r) {
    press(r, "cK\nka\n");
    advance(r, S);
    assert_int_equal(r->now->state, SM_STATE_ARMED);
}

// ---- the first screen ------------------------------------------------------------------------

static void the_first_screen_says_what_this_is(void **state) {
    rig *r = *state;
    assert_true(shows(r, "This is a simulation. It has no way to fire anything"));
    assert_true(shows(r, "SAFE means that the rehearsed module is not armed"));
    assert_true(shows(r, "Is live product rigged within earshot?"));
    size(r, 40, 12);
    assert_true(shows(r, "no way to fire"));
    assert_true(shows(r, "Live product within earshot? y yes"));
}

static void tones_are_off_until_someone_says_no(void **state) {
    rig *r = *state;
    assert_false(r->ui.view.tones);
    press(r, "z"); // no answer; and not taken as a key of the boards
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    assert_false(r->ui.view.tones);
    press(r, "Tn");
    assert_true(r->ui.view.tones);
    press(r, "Ty");
    assert_false(r->ui.view.tones);
    arm(r);
    assert_false(r->ui.bell || r->ui.arming_tone);
    press(r, " Tn");
    press(r, "ca\n"); // "a" is typed as the name of who calls
    press(r, "ka\n");
    press(r, "ka\n");
    assert_int_equal(r->now->state, SM_STATE_SAFE); // key off and on again: clear has lapsed
    press(r, "ca\na\n");
    assert_int_equal(r->now->state, SM_STATE_ARMING);
    assert_true(r->ui.arming_tone);
}

// ---- the key table --------------------------------------------------------------------------------

static void every_key_is_there_once(void **state) {
    (void)state;
    size_t count;
    const sm_key_row *rows = sm_keymap(&count);
    for (size_t i = 0; i < count; i++) {
        assert_ptr_equal(sm_keymap_find(rows[i].key), &rows[i]);
        for (size_t board = 0; board < SM_BOARDS; board++) {
            assert_int_not_equal(sm_board_at(board)->key, rows[i].key);
        }
    }
}

static void every_action_outside_drills_has_a_key_and_help(void **state) {
    rig *r = *state;
    press(r, "n");
    size(r, 120, 200);
    press(r, "?");
    size_t count;
    const sm_key_row *rows = sm_keymap(&count);
    for (int act_ = 0; act_ < SM_ACT_COUNT; act_++) {
        const sm_action_row *action = sm_action_row_of((sm_act)act_);
        if (action->drill_only) {
            continue;
        }
        bool key = act_ == SM_ACT_KEY_ON || act_ == SM_ACT_KEY_OFF || act_ == SM_ACT_START_IN_OFF;
        for (size_t i = 0; i < count; i++) {
            key = key || rows[i].act == (sm_act)act_;
        }
        assert_true(key);
        assert_true(act_ == SM_ACT_KEY_ON || act_ == SM_ACT_KEY_OFF || shows(r, action->form));
    }
    assert_true(shows(r, "it says nothing about slots, flames, heat"));
}

static void safe_comes_first_in_every_mode(void **state) {
    rig *r = *state;
    sm_ui_press(&r->ui, ' '); // on the first screen
    assert_string_equal(r->acted, "safe");
    press(r, "n");
    static const char *const before[] = {"", "?", "a", "T", "\t", "\t\t1.5"};
    for (size_t i = 0; i < sizeof before / sizeof before[0]; i++) {
        press(r, before[i]);
        r->acted[0] = '\0';
        sm_ui_press(&r->ui, ' ');
        assert_string_equal(r->acted, "safe");
        press(r, "\033n\033");
        r->ui.mode = SM_UI_BOARD;
        r->acted[0] = '\0';
        press(r, before[i]);
        sm_ui_press(&r->ui, SM_KEY_F0 + 8);
        assert_string_equal(r->acted, "safe");
        r->ui.mode = SM_UI_BOARD;
    }
    press(r, ":a b"); // typed: a blank is a blank
    assert_string_equal(r->ui.prompt.text, "a b");
    sm_ui_press(&r->ui, SM_KEY_F0 + 8);
    assert_string_equal(r->acted, "safe");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
}

// On a terminal too small for any question, none is put or answered; the stops work, also while text was being typed.
static void too_small_takes_only_stops(void **state) {
    rig *r = *state;
    press(r, "n");
    arm(r);
    press(r, "b");
    size(r, 30, 8);
    assert_true(shows(r, "SPACE makes safe"));
    press(r, "\n"); // would have started, unseen
    assert_int_equal(r->now->state, SM_STATE_ARMED);
    size(r, 80, 24);
    assert_true(shows(r, "START"));
    press(r, "\n");
    assert_int_equal(r->now->state, SM_STATE_RUNNING);
    size(r, 30, 8);
    assert_true(shows(r, "SPACE makes safe"));
    press(r, "n p"); // `n` opens no prompt that could take the blank
    assert_int_equal(r->now->state, SM_STATE_SAFE);
    size(r, 80, 24);
    assert_true(shows(r, "SAFE"));
    press(r, ":");
    size(r, 30, 8);
    assert_true(shows(r, "SPACE makes safe"));
    int acts = r->acts;
    press(r, " ");
    assert_int_equal(r->acts, acts + 1);
    assert_string_equal(r->acted, "safe");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
}

static void the_stop_is_always_on_screen(void **state) {
    rig *r = *state;
    static const int sizes[][2] = {{40, 12}, {80, 24}, {120, 40}, {200, 60}};
    static const char *const before[] = {"n", "?", "\033a", "\033T", "n\t", "\t"};
    for (size_t i = 0; i < sizeof before / sizeof before[0]; i++) {
        press(r, before[i]);
        for (size_t s = 0; s < sizeof sizes / sizeof sizes[0]; s++) {
            size(r, sizes[s][0], sizes[s][1]);
            assert_true(shows(r, "SPACE MAKE SAFE"));
            assert_true(shows(r, "REHEARSAL SAFE"));
        }
    }
    press(r, ":");
    for (size_t s = 0; s < sizeof sizes / sizeof sizes[0]; s++) {
        size(r, sizes[s][0], sizes[s][1]);
        assert_true(shows(r, "F8 MAKE SAFE"));
    }
}

// ---- two steps --------------------------------------------------------------------------------------

static void arm_and_start_take_two_different_keys(void **state) {
    rig *r = *state;
    press(r, "ncK\nk");
    r->acted[0] = '\0';
    press(r, "aa"); // the same key twice does nothing
    assert_string_equal(r->acted, "");
    assert_int_equal(r->now->state, SM_STATE_SAFE);
    press(r, "a\n");
    assert_int_equal(r->now->state, SM_STATE_ARMING);
    advance(r, S);
    press(r, "bb");
    assert_int_equal(r->now->state, SM_STATE_ARMED);
    press(r, "b\n");
    assert_int_equal(r->now->state, SM_STATE_RUNNING);
    press(r, "p"); // a stop asks nothing
    assert_int_equal(r->now->state, SM_STATE_PAUSED);
    press(r, "r");
    assert_true(shows(r, "FIRES A-01"));
    press(r, "\n");
    assert_int_equal(r->now->state, SM_STATE_RUNNING);
}

static void a_question_lapses_with_its_state(void **state) {
    rig *r = *state;
    press(r, "n");
    arm(r);
    press(r, "b");
    assert_int_equal(r->ui.mode, SM_UI_CONFIRM);
    act(r, "key off"); // by another hand
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    press(r, "\n");
    assert_int_equal(r->now->state, SM_STATE_SAFE);
}

static void a_refusal_is_the_engines(void **state) {
    rig *r = *state;
    press(r, "n");
    press(r, "b"); // not armed: nothing to ask about
    assert_string_equal(r->acted, "start");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    r->no_memory = true;
    press(r, "p");
    assert_true(shows(r, "memory ran out: nothing was done"));
}

// ---- typing -------------------------------------------------------------------------------------------

static void a_slip_stays_to_be_mended(void **state) {
    rig *r = *state;
    press(r, "n:raed A-01 2\n");
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    assert_true(r->ui.has_message);
    assert_int_equal(r->acts, 0);
    for (int i = 0; i < 11; i++) {
        sm_ui_press(&r->ui, SM_KEY_BACKSPACE);
    }
    press(r, "read A-01 2\n");
    assert_string_equal(r->acted, "read A-01 2");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    press(r, ":\n"); // nothing typed, nothing done
    assert_int_equal(r->acts, 1);
    press(r, "fsome file.csv\n");
    assert_string_equal(r->file, "some file.csv");
}

static void prompts_begin_with_what_the_cursor_is_on(void **state) {
    rig *r = *state;
    press(r, "n\t"); // rails
    sm_ui_press(&r->ui, SM_KEY_RIGHT);
    press(r, "i\n");
    assert_string_equal(r->acted, "inhibit A-02");
    assert_true(shows(r, "INHIB"));
    press(r, "U\n");
    assert_string_equal(r->acted, "unplug A");
    assert_true(shows(r, "UNPLUGGED"));
    press(r, "\t"); // fixtures
    sm_ui_press(&r->ui, SM_KEY_DOWN);
    press(r, "i\n");
    assert_string_equal(r->acted, "inhibit jet-1");
    assert_true(shows(r, "INHIBITED"));
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
    for (int i = 0; i < 1000; i++) {
        sm_prompt_press(&prompt, 0x1F525);
    }
    assert_true(prompt.length < SM_PROMPT_BYTES);
    assert_int_equal(sm_utf8_count(prompt.text, prompt.length), 2 + (prompt.length - 2) / 4);
    assert_int_equal(sm_prompt_press(&prompt, SM_KEY_ENTER), SM_PROMPT_DONE);
    assert_int_equal(sm_prompt_press(&prompt, SM_KEY_ESCAPE), SM_PROMPT_LEFT);
}

// ---- boards ---------------------------------------------------------------------------------------------

static void the_score_passes_its_now_line(void **state) {
    rig *r = *state;
    press(r, "n");
    assert_true(shows(r, "3      ▸ 0.2 s  A-01"));
    assert_true(shows(r, "red comes up"));
    arm(r);
    press(r, "b\n");
    advance(r, 300000 + 650000);                      // count 0.3 s, then 0.65 s of show
    assert_true(shows(r, "BURNS  A-02 comet 0.2 s")); // flew 0.1 s from 0.5 s, burns 0.2 s, till 0.8 s
    assert_true(shows(r, "A-01 fountain 0.6 s"));
    assert_true(shows(r, "FLAME jet-1"));
    assert_true(shows(r, " 6      burns    B-01"));
    assert_true(shows(r, "end of the show at 0:01.000"));
    sm_ui_press(&r->ui, SM_KEY_PAGE_UP);
    assert_true(shows(r, "scrolled"));
    sm_ui_press(&r->ui, SM_KEY_HOME);
    assert_false(shows(r, "scrolled"));
}

static void the_rails_board_tells_what_became_of_slots(void **state) {
    rig *r = *state;
    press(r, "n:read A-02 open\n:waive readings A-02 broken\n:allow A-02\n\n\t");
    assert_true(shows(r, "--    OPEN  spare spare"));
    arm(r);
    press(r, "b\n");
    advance(r, 300000 + 700000);
    assert_true(shows(r, "*0.5  MISF"));
    assert_true(shows(r, "*12   spare")); // B-01, rounded up
    advance(r, 2 * S);
    assert_int_equal(r->now->state, SM_STATE_ENDED);
    assert_true(shows(r, "misfired: 1 LIVE")); // the board comes by itself
    assert_true(shows(r, "NOT REPORTED"));
    press(r, "x\n"); // suggested: the first not reported
    assert_string_equal(r->acted, "report A-02");
    assert_true(shows(r, "reported"));
    assert_false(shows(r, "NOT REPORTED"));
}

static void readings_are_as_old_as_the_oldest(void **state) {
    rig *r = *state;
    press(r, "n:read A-01 2\n");
    advance(r, 5 * S);
    assert_true(shows(r, " 5 s ago"));
    press(r, ":read A-02 2\n");
    assert_true(shows(r, "read 2 of "));
    assert_true(shows(r, " 5 s ago"));
    press(r, "u");
    press(r, "u");
    assert_false(shows(r, " s ago"));
}

static void flame_is_said_in_words(void **state) {
    rig *r = *state;
    press(r, "n\t\t");
    assert_true(shows(r, "enable closed no flame"));
    arm(r);
    press(r, "b\n");
    advance(r, 300000 + 200000);
    assert_true(shows(r, "enable OPEN no flame"));
    advance(r, 200000);
    assert_true(shows(r, "enable OPEN FLAME"));
    press(r, "p");
    assert_true(shows(r, "enable closed no flame"));
    assert_true(shows(r, "255 255")); // lights hold
}

static void guards_say_what_to_do(void **state) {
    rig *r = *state;
    press(r, "n\t\t\t:enter K\n:unplug B\n:read A-01 short\n");
    assert_true(shows(r, "NOT MET      0 s      1 in the field: K"));
    assert_true(shows(r, "not plugged: B"));
    assert_true(shows(r, "A-01 short"));
    assert_true(shows(r, "c calls clear"));
    press(r, ":waive rails B stays out\n");
    assert_true(shows(r, "WAIVED"));
}

static void nothing_is_drawn_outside_whatever_the_size(void **state) {
    rig *r = *state;
    press(r, "n");
    arm(r);
    press(r, "b\n");
    advance(r, 900000);
    for (size_t board = 0; board < SM_BOARDS; board++) {
        for (int columns = 1; columns <= 210; columns += columns < 90 ? 1 : 20) {
            size(r, columns, 1 + columns * 3 % 70);
            sm_ui_draw(&r->ui, r->cells); // asserts in the grid fail on a cell outside
            sm_text row = {0};
            bool tiny = columns < SM_UI_COLUMNS || sm_cells_rows(r->cells) < SM_UI_ROWS;
            sm_cells_row_text(r->cells, tiny ? 0 : 1, &row);
            assert_int_equal(strncmp(sm_text_get(&row), tiny ? "REHEARSAL" : " REHEARSAL",
                                     columns < 10 ? (size_t)columns - 1 : 9),
                             0);
            sm_text_deinit(&row);
        }
        press(r, "\t");
    }
}

// A generator of its own, so that a failure comes again: xorshift, 64 bits (Marsaglia 2003; from memory).
static uint64_t draw_number(uint64_t *seed) {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return *seed;
}

static void any_keys_in_any_order(void **state) {
    rig *r = *state;
    uint64_t seed = 0x9E3779B97F4A7C15;
    int steps = getenv("SLOWMATCH_SOAK") ? 200000 : 4000;
    static const char letters[] = "\n\n\n\n\033 abcdefgijklmnoprstuvwxzADFGILMPRSTUW:?.,[]'+-0123456789\t";
    for (int step = 0; step < steps; step++) {
        uint64_t number = draw_number(&seed);
        int key = number % 4 == 0 ? SM_KEY_SPECIAL + (int)(number >> 8) % 26
                                  : letters[(number >> 8) % (sizeof letters - 1)];
        sm_ui_press(&r->ui, key == '\n' ? SM_KEY_ENTER : key);
        if (number % 7 == 0) {
            advance(r, (sm_us)(number >> 40) % 400000);
        }
        if (number % 50 == 0) {
            size(r, 1 + (int)((number >> 16) % 210), 1 + (int)((number >> 24) % 70));
        }
        sm_ui_draw(&r->ui, r->cells);
        assert_true(sm_cells_columns(r->cells) < 16 || shows(r, "REHEARSAL"));
    }
    assert_true(r->acts > steps / 100);
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8")) {
        return 1;
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_first_screen_says_what_this_is, begin, end),
        cmocka_unit_test_setup_teardown(tones_are_off_until_someone_says_no, begin, end),
        cmocka_unit_test(every_key_is_there_once),
        cmocka_unit_test_setup_teardown(every_action_outside_drills_has_a_key_and_help, begin, end),
        cmocka_unit_test_setup_teardown(safe_comes_first_in_every_mode, begin, end),
        cmocka_unit_test_setup_teardown(the_stop_is_always_on_screen, begin, end),
        cmocka_unit_test_setup_teardown(too_small_takes_only_stops, begin, end),
        cmocka_unit_test_setup_teardown(arm_and_start_take_two_different_keys, begin, end),
        cmocka_unit_test_setup_teardown(a_question_lapses_with_its_state, begin, end),
        cmocka_unit_test_setup_teardown(a_refusal_is_the_engines, begin, end),
        cmocka_unit_test_setup_teardown(a_slip_stays_to_be_mended, begin, end),
        cmocka_unit_test_setup_teardown(prompts_begin_with_what_the_cursor_is_on, begin, end),
        cmocka_unit_test(a_prompt_edits_whole_characters),
        cmocka_unit_test_setup_teardown(the_score_passes_its_now_line, begin, end),
        cmocka_unit_test_setup_teardown(the_rails_board_tells_what_became_of_slots, begin, end),
        cmocka_unit_test_setup_teardown(readings_are_as_old_as_the_oldest, begin, end),
        cmocka_unit_test_setup_teardown(flame_is_said_in_words, begin, end),
        cmocka_unit_test_setup_teardown(guards_say_what_to_do, begin, end),
        cmocka_unit_test_setup_teardown(nothing_is_drawn_outside_whatever_the_size, begin, end),
        cmocka_unit_test_setup_teardown(any_keys_in_any_order, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
