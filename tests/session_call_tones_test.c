// SPDX-License-Identifier: GPL-3.0-or-later
// What an ear is given beside the music, and short jumps: over the engine, without a terminal, a device or a clock.
#include "support/desk.h"
#include "support/short_show.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S
#define MS (SM_US_PER_S / 1000)

typedef struct rig {
    desk desk;  // what *state is
    bool blind; // no new snapshot after an action
} rig;

// Every action is done, a microsecond later than what was before.
static bool act(void *owner, const char *line) {
    desk *d = owner;
    snprintf(d->acted, sizeof d->acted, "%s", line);
    d->acts++;
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(d->show, line, strlen(line), &action, why, &at), SM_OK);
    d->wall.us++;
    assert_int_equal(sm_rehearsal_act(d->rehearsal, &action, SM_SOURCE_CONSOLE, d->wall), SM_OK);
    if (!((rig *)owner)->blind)
        desk_look(d);
    return true;
}

// Firings: A-01 at 2, A-02 at 4.9 (a comet that is to be seen at 5), A-03 and B-01 at 10.
static int begin(void **state) {
    rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    short_show files;
    short_show_make(&files, "1 s");
    short_show_write(
        &files, "show.ini",
        "[show]\ntitle = Long Evening\nlength = 20\ncountdown = 300 ms\n[limits]\narm-time = 200 ms\n");
    short_show_write(&files, "cues.csv",
                     "time,target,do,fade,lasts,id\n1,par-1,dimmer=100%,,,1\n2,A-01,fountain,,,2\n"
                     "5,A-02,comet,,,3\n5,par-1,dimmer=0,,,4\n10,A-03 B-01,fountain,,,5\n");
    desk_begin(&r->desk, &(desk_options){.folder = files.folder});
    short_show_remove(&files); // all of it has been read
    r->desk.ui.act = act;
    desk_size(&r->desk, 120, 24);
    *state = &r->desk;
    return 0;
}

// Without a new snapshot, unlike desk_type.
static void press(desk *r, const char *keys) {
    for (; *keys; keys++)
        sm_ui_press(&r->ui, *keys == '\n' ? SM_KEY_ENTER : *keys);
}

// ---- tones ---------------------------------------------------------------------------------------

static void assert_calls(desk *r, const char *calls, bool ticks, const sm_audio_call *expected,
                         size_t count) {
    sm_audio_call *got = NULL;
    size_t got_count = 99;
    assert_int_equal(sm_call_tones_make(r->now, calls, ticks, &got, &got_count), SM_OK);
    assert_int_equal(got_count, count);
    for (size_t i = 0; i < count; i++) {
        assert_int_equal(got[i].show.us, expected[i].show.us);
        assert_int_equal(got[i].tone, expected[i].tone);
    }
    free(got);
}

static void firings_are_counted_from_three(void **state) {
    desk *r = *state;
    // The comet is counted to when the module fires it; the firing 2.9 s before leaves only its two and one.
    static const sm_audio_call pyro[] = {
        {{-1 * S}, SM_TONE_THREE}, {{0}, SM_TONE_TWO},         {{1 * S}, SM_TONE_ONE},
        {{2 * S}, SM_TONE_GO},     {{2900 * MS}, SM_TONE_TWO}, {{3900 * MS}, SM_TONE_ONE},
        {{4900 * MS}, SM_TONE_GO}, {{7 * S}, SM_TONE_THREE},   {{8 * S}, SM_TONE_TWO},
        {{9 * S}, SM_TONE_ONE},    {{10 * S}, SM_TONE_GO},
    };
    assert_calls(r, "pyro", false, pyro, 11);
    assert_calls(r, "aerial", false,
                 (sm_audio_call[]){{{1900 * MS}, SM_TONE_THREE},
                                   {{2900 * MS}, SM_TONE_TWO},
                                   {{3900 * MS}, SM_TONE_ONE},
                                   {{4900 * MS}, SM_TONE_GO}},
                 4);
    assert_calls(r, "B", false, pyro + 7, 4);
    assert_calls(r, "par-1", false,
                 (sm_audio_call[]){{{-2 * S}, SM_TONE_THREE},
                                   {{-1 * S}, SM_TONE_TWO},
                                   {{0}, SM_TONE_ONE},
                                   {{1 * S}, SM_TONE_GO},
                                   {{2 * S}, SM_TONE_THREE},
                                   {{3 * S}, SM_TONE_TWO},
                                   {{4 * S}, SM_TONE_ONE},
                                   {{5 * S}, SM_TONE_GO}},
                 8);
    assert_calls(r, "A-04", false, NULL, 0); // no cue fires it
    assert_calls(r, "", false, NULL, 0);
}

static void what_is_inhibited_is_not_called(void **state) {
    desk *r = *state;
    press(r, "n");
    act(r, "inhibit A");
    static const sm_audio_call left[] = {
        {{7 * S}, SM_TONE_THREE}, {{8 * S}, SM_TONE_TWO}, {{9 * S}, SM_TONE_ONE}, {{10 * S}, SM_TONE_GO}};
    assert_calls(r, "pyro", false, left, 4);
    act(r, "inhibit par-1");
    assert_calls(r, "par-1", false, NULL, 0);
}

static void ticks_come_when_the_audience_should_see_it(void **state) {
    desk *r = *state;
    static const sm_audio_call ticks[] = {
        {{1 * S}, SM_TONE_TICK}, {{2 * S}, SM_TONE_TICK}, {{5 * S}, SM_TONE_TICK}, {{10 * S}, SM_TONE_TICK}};
    assert_calls(r, "", true, ticks, 4);
    static const sm_audio_call both[] = {
        {{1 * S}, SM_TONE_TICK}, {{2 * S}, SM_TONE_TICK}, {{5 * S}, SM_TONE_TICK}, {{7 * S}, SM_TONE_THREE},
        {{8 * S}, SM_TONE_TWO},  {{9 * S}, SM_TONE_ONE},  {{10 * S}, SM_TONE_GO},  {{10 * S}, SM_TONE_TICK}};
    assert_calls(r, "B-01", true, both, 8);
}

static void keys_choose_tones_and_the_first_row_says_so(void **state) {
    desk *r = *state;
    r->sound.state = SM_AUDIO_SOUNDING; // without sound there is nothing to choose
    press(r, "y");
    press(r, "Cnothing-such\n");
    assert_true(desk_shows(r, "'nothing-such': a slot, rail"));
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    sm_ui_press(&r->ui, SM_KEY_ESCAPE);
    assert_string_equal(r->ui.view.calls, "");
    press(r, "Cpyro\n");
    assert_string_equal(r->ui.view.calls, "pyro");
    assert_true(desk_shows(r, "NOT HEARD while tones are off"));
    assert_true(desk_shows(r, "calls pyro (tones off)"));
    press(r, "TnK");
    assert_true(r->ui.view.ticks);
    assert_true(desk_shows(r, "calls pyro, ticks"));
    assert_false(desk_shows(r, "tones off)"));
    press(r, "K");
    assert_false(r->ui.view.ticks);
    press(r, "C");
    sm_ui_press(&r->ui, SM_KEY_ERASE_LINE);
    press(r, "off\n");
    assert_string_equal(r->ui.view.calls, "");
    assert_false(desk_shows(r, "calls"));
    assert_int_equal(r->acts, 0); // settings of this console: nothing for the engine or its log
    r->ui.view.timecode_side = "right";
    assert_true(desk_shows(r, "timecode right"));
}

static void the_device_list_can_be_empty(void **state) {
    desk *r = *state;
    press(r, "no");
    assert_true(desk_shows(r, "No sound device was found"));
    press(r, "1\n");
    assert_true(desk_shows(r, "the list is empty"));
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    sm_ui_press(&r->ui, SM_KEY_STOP_TYPING);
    assert_string_equal(r->acted, "safe");
    r->ui.view.silent = true;
    press(r, "o");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    assert_true(desk_shows(r, "begun with --silent"));
}

// ---- short jumps ---------------------------------------------------------------------------------

static void assert_moves(desk *r, const char *key, const char *line, sm_us at) {
    r->acted[0] = '\0';
    press(r, key);
    assert_string_equal(r->acted, line);
    assert_int_equal(r->now->at.us, at);
}

static void seconds_and_cues_are_a_key_away(void **state) {
    desk *r = *state;
    press(r, "n");
    assert_moves(r, "<", "", 0);
    assert_true(desk_shows(r, "this is the beginning"));
    assert_moves(r, ">", "seek 0:01.000", 1 * S);
    act(r, "seek 19.5");
    assert_moves(r, ">", "seek 0:20.000", 20 * S);
    assert_moves(r, ">", "", 20 * S);
    assert_moves(r, "<", "seek 0:19.000", 19 * S);
    assert_moves(r, ")", "", 19 * S);
    assert_true(desk_shows(r, "no cue after"));
    assert_moves(r, "(", "seek 0:10.000", 10 * S);
    assert_moves(r, "(", "seek 0:05.000", 5 * S);
    assert_moves(r, "(", "seek 0:04.900", 4900 * MS); // the comet is fired ahead of its cue
    assert_moves(r, "((", "seek 0:01.000", 1 * S);
    assert_moves(r, "(", "", 1 * S);
    assert_moves(r, ")", "seek 0:02.000", 2 * S);
}

static void keys_faster_than_snapshots_add_up(void **state) {
    desk *r = *state;
    press(r, "n");
    ((rig *)*state)->blind = true;
    press(r, ">>>");
    assert_string_equal(r->acted, "seek 0:03.000");
    press(r, "BBB");
    assert_string_equal(r->acted, "mark beat-3");
    r->wall.us++; // taken after all of them
    desk_look(r);
    press(r, ">");
    assert_string_equal(r->acted, "seek 0:04.000");
}

static void beats_are_tapped_and_gone_to(void **state) {
    desk *r = *state;
    press(r, "n");
    press(r, "}");
    assert_true(desk_shows(r, "no beat was tapped after"));
    act(r, "seek 1");
    press(r, "B");
    act(r, "seek 3");
    act(r, "mark refrain"); // no beat
    act(r, "seek 6");
    press(r, "B");
    assert_string_equal(r->acted, "mark beat-2");
    assert_moves(r, "{", "seek 0:01.000", 1 * S);
    assert_moves(r, "{", "", 1 * S);
    assert_moves(r, "}", "seek 0:06.000", 6 * S);
    // While it runs, the beat passed only just now is not the one before.
    press(r, "cK\nka\n");
    desk_advance(r, S);
    act(r, "seek 5.9");
    press(r, "b\n");
    desk_advance(r, 300 * MS + 200 * MS);
    assert_int_equal(r->now->state, SM_STATE_RUNNING);
    assert_in_range(r->now->at.us, 6 * S, 6200 * MS);
    press(r, "{");
    assert_string_equal(r->acted, "seek 0:01.000");
    // Beats are marks as all others: a repeat takes their names.
    act(r, "repeat beat-1 beat-2");
    assert_true(r->now->repeat_on);
    assert_int_equal(r->now->repeat_from.us, 1 * S);
    assert_int_equal(r->now->repeat_to.us, 6 * S);
}

int main(void) {
    setlocale(LC_CTYPE, "C.UTF-8");
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(firings_are_counted_from_three, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(what_is_inhibited_is_not_called, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(ticks_come_when_the_audience_should_see_it, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(keys_choose_tones_and_the_first_row_says_so, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(the_device_list_can_be_empty, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(seconds_and_cues_are_a_key_away, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(keys_faster_than_snapshots_add_up, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(beats_are_tapped_and_gone_to, begin, desk_teardown),
    };
    return cmocka_run_group_tests_name("session_call_tones", tests, NULL, NULL);
}
