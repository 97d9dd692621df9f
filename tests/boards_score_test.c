// SPDX-License-Identifier: GPL-3.0-or-later
// The score board: what is due at one moment in one row, filters, search, and what went wrong.
#include "boards/score/opened.h"
#include "boards/score/search.h"
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
#define SCORE (SM_KEY_F0 + 2)

// Two rails, two universes, two positions; three cues are due at 2 s, one of them for several targets.
static show_folder evening(void) {
    show_folder f = show_folder_make();
    show_folder_put(&f, "show.ini",
                    "[show]\ntitle = Evening\nlength = 20\ncountdown = 0\n[limits]\narm-time = 0.1\n");
    show_folder_put(&f, "modules.csv", "name,slots\nM1,16\n");
    show_folder_put(&f, "positions.csv", "name,x,y\nleft,-5,20\nquay,5,20\n");
    show_folder_put(&f, "rails.csv", "name,module,first,slots,position\nA,M1,1,4,left\nB,M1,5,4,quay\n");
    show_folder_put(&f, "effects.csv", "name,lead,lasts,zone\nfountain,0,3,ground\ncomet,0,1,aerial\n");
    show_folder_put(&f, "profiles.csv",
                    "name,channels,home,hazard,enable,fire\npar,dim red,0 0,none,,\n"
                    "jet,permit flame,0 0,flame,permit 128-255,flame 1-255\n");
    show_folder_put(&f, "fixtures.csv",
                    "name,profile,universe,address,position\npar-1,par,1,1,left\npar-2,par,1,10,quay\n"
                    "jet-1,jet,2,1,quay\n");
    show_folder_put(&f, "groups.csv", "name,members\npars,par-1 par-2\n");
    show_folder_put(&f, "cues.csv",
                    "time,target,do,id,note\n"
                    "1,par-1,dim=10,10,dusk\n2,pars,dim=255,20,all on\n2,A-01 B-01,fountain,21,First bell\n"
                    "2,jet-1,permit=255,22,\n4,A-02,comet,30,left alone\n6,B-02,comet,31,\n"
                    "8,par-2,dim=0,40,night\n");
    return f;
}

static int begin(void **state) {
    *state = desk_at_board(evening(), SCORE, false);
    return 0;
}

// ---- one moment, one row ------------------------------------------------------------------------------

static void what_is_due_at_one_moment_is_one_row(void **state) {
    desk *r = *state;
    // Firings stand first, whatever the order of the table.
    int row = desk_find(r, "A-01 B-01");
    assert_true(row > 0);
    assert_non_null(strstr(desk_row(r, row), "+20"));
    assert_non_null(strstr(desk_row(r, row), "3 cues: fountain, dim=2"));
    assert_non_null(strstr(desk_row(r, row + 1), " 30 "));
    assert_false(desk_shows(r, "First bell"));
    desk_press(r, SM_KEY_DOWN);
    desk_press(r, SM_KEY_ENTER);
    row = desk_find(r, "-20");
    assert_true(row > 0);
    assert_non_null(strstr(desk_row(r, row + 1), "  20"));
    assert_non_null(strstr(desk_row(r, row + 2), "First bell"));
    assert_non_null(strstr(desk_row(r, row + 3), "jet-1"));
    desk_press(r, SM_KEY_DOWN); // on a line of it
    desk_press(r, SM_KEY_DOWN);
    desk_press(r, SM_KEY_ENTER);
    assert_false(desk_shows(r, "First bell"));
    assert_true(desk_shows(r, "+20"));
}

static void what_comes_next_is_marked_and_named(void **state) {
    desk *r = *state;
    int now = desk_find(r, "── now 0:00.0 ── next firing A-01 fountain +1 at 0:02.000");
    assert_true(now > 0);
    assert_non_null(strstr(desk_row(r, now + 1), "▸ 1.0 s  par-1"));
    assert_non_null(strstr(desk_row(r, now + 2), "▸ 2.0 s  A-01"));
    assert_null(strstr(desk_row(r, now + 3), "▸"));
    desk_arm(r);
    desk_do(r, "start");
    desk_advance(r, 3 * S);
    now = desk_find(r, "── now 0:03.0 ── next firing A-02 comet in 1.0 s");
    assert_true(now > 0);
    assert_non_null(strstr(desk_row(r, now - 1), "burns    A-01 B-01"));
    assert_non_null(strstr(desk_row(r, now + 1), "▸ 1.0 s  A-02"));
}

static void the_chosen_row_stays_while_the_show_goes_on(void **state) {
    desk *r = *state;
    desk_arm(r);
    desk_do(r, "start");
    desk_press(r, SM_KEY_END);
    desk_press(r, SM_KEY_UP);
    assert_true(desk_shows(r, "scrolled ahead of now, Home follows"));
    int row = desk_find(r, "night");
    desk_advance(r, 5 * S);
    assert_int_equal(desk_find(r, "night"), row);
    desk_advance(r, 6 * S);
    assert_true(desk_shows(r, "scrolled back from now, Home follows"));
    desk_press(r, SM_KEY_HOME);
    assert_false(desk_shows(r, "scrolled"));
}

static void a_click_chooses_and_opens(void **state) {
    desk *r = *state;
    desk_click(r, "A-02");
    assert_true(desk_shows(r, "scrolled"));
    assert_false(desk_shows(r, "First bell"));
    desk_click(r, "A-01 B-01");
    assert_false(desk_shows(r, "First bell"));
    desk_click(r, "A-01 B-01"); // the chosen one
    assert_true(desk_shows(r, "First bell"));
    int row = desk_find(r, "night");
    desk_click(r, "night"); // stands where it stood
    assert_int_equal(desk_find(r, "night"), row);
    sm_ui_point(&r->ui, (sm_mouse){.x = 2, .y = row, .what = SM_MOUSE_WHEEL_UP});
    desk_press(r, SM_KEY_ENTER); // three rows up: a line of what is open
    assert_false(desk_shows(r, "First bell"));
    assert_int_equal(r->acts, 0);
}

// ---- filters -----------------------------------------------------------------------------------------------

// Pressing \ and typing TEXT.
static void filter(desk *r, const char *text) {
    desk_type(r, "\\");
    desk_type(r, text);
    desk_type(r, "\n");
    desk_work(r);
}

static void a_filter_says_itself_and_counts_what_it_hides(void **state) {
    desk *r = *state;
    // The show has 9 events: 4 firings, 1 of a flame, 4 of lights.
    static const struct {
        const char *typed, *said;
    } cases[] = {
        {"pyro", "FILTER pyro only: 5 of 9 hidden"},
        {"rail A", "FILTER rail A: 7 of 9 hidden"},
        {"A", "FILTER rail A: 7 of 9 hidden"},
        {"position quay", "FILTER position quay: 4 of 9 hidden"},
        {"universe 2", "FILTER universe 2: 8 of 9 hidden"},
        {"par-2", "FILTER fixture par-2: 7 of 9 hidden"},
        {"pyro, position quay", "FILTER pyro only, position quay: 7 of 9 hidden"},
        {"pyro universe 1", "FILTER pyro only, universe 1: 9 of 9 hidden"},
        {"flame", "FILTER flame only: 8 of 9 hidden"},
        {"light", "FILTER light only: 5 of 9 hidden"},
        {"pyro flame", "FILTER pyro and flame only: 4 of 9 hidden"},
        {"light position quay", "FILTER light only, position quay: 7 of 9 hidden"},
        {"effect comet", "FILTER effect comet: 7 of 9 hidden"},
        {"fountain rail B", "FILTER rail B, effect fountain: 8 of 9 hidden"},
        {"zone aerial", "FILTER zone aerial: 7 of 9 hidden"},
        {"ground", "FILTER zone ground: 7 of 9 hidden"},
        {"wrong", "FILTER only misfired, passed, held, inhibited: 9 of 9 hidden"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        filter(r, cases[i].typed);
        if (!desk_shows(r, cases[i].said))
            fail_msg("'%s' does not say '%s'", cases[i].typed, cases[i].said);
    }
    filter(r, "");
    assert_false(desk_shows(r, "FILTER"));
}

static void only_what_passes_is_shown_of_a_row(void **state) {
    desk *r = *state;
    filter(r, "rail B");
    assert_true(desk_shows(r, "B-01"));
    assert_true(desk_shows(r, "First bell")); // alone at its moment now
    assert_true(desk_find(r, "A-01  ") < 0);
    assert_false(desk_shows(r, "dusk"));
    assert_true(desk_shows(r, "next firing A-01 fountain +1 at 0:02.000"));
    // Nor is the next firing taken from the state line.
    desk_arm(r);
    desk_do(r, "start");
    desk_advance(r, 3 * S);
    assert_true(desk_shows(r, "RUNNING next A-02 in 1.0 s"));
    assert_true(desk_shows(r, "FILTER rail B"));
}

static void a_wrong_filter_stays_to_be_mended(void **state) {
    desk *r = *state;
    filter(r, "rail Z");
    assert_int_equal(r->ui.mode, SM_UI_PROMPT);
    assert_true(desk_shows(r, "no rail 'Z' in this show"));
    desk_press(r, SM_KEY_BACKSPACE);
    desk_type(r, "A\n");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    assert_true(desk_shows(r, "FILTER rail A"));
    filter(r, "zone sky");
    assert_true(desk_shows(r, "no zone 'sky': ground, aerial or near"));
    desk_press(r, SM_KEY_ESCAPE);
    filter(r, "universe 9");
    assert_true(desk_shows(r, "universe '9' has no fixture in this show"));
    desk_press(r, SM_KEY_F0 + 8); // F8
    assert_string_equal(r->acted, "safe");
    assert_int_equal(r->ui.mode, SM_UI_BOARD);
    assert_true(desk_shows(r, "FILTER rail A"));
}

static void a_finding_s_cue_is_shown_although_the_filter_hides_it(void **state) {
    desk *r = *state;
    filter(r, "pyro");
    sm_board_score.show_cue(r->ui.states[0], &r->ui.view, 6); // id 40, of par-2
    desk_work(r);
    assert_true(desk_shows(r, "filter taken off to show cue 40"));
    assert_true(desk_shows(r, "night"));
    assert_false(desk_shows(r, "FILTER"));
}

static void what_is_hidden_is_said_on_the_smallest_terminal(void **state) {
    desk *r = *state;
    desk_size(r, 40, 12);
    filter(r, "pyro");
    assert_true(desk_shows(r, "FILTER pyro only: 5 of 9 hidden"));
    desk_type(r, "/comet\n");
    desk_work(r);
    assert_true(desk_shows(r, "“comet” 1 of 2"));
    assert_true(desk_shows(r, "FILTER pyro only: 5 of 9 hidden"));
    assert_true(desk_shows(r, "A-02"));
}

// A repeat comes by again, but a slot fires once.
static void what_is_spent_has_no_countdown_in_a_repeat(void **state) {
    desk *r = *state;
    desk_do(r, "repeat 0 5");
    desk_arm(r);
    desk_do(r, "start");
    desk_advance(r, 3 * S + S / 2);
    assert_null(strstr(desk_row(r, desk_find(r, "A-02")), "spent"));
    desk_advance(r, 3 * S); // at 1.5 s of the second time
    assert_int_equal(r->now->at.us / S, 1);
    assert_non_null(strstr(desk_row(r, desk_find(r, "A-02  ")), "spent"));
    assert_null(strstr(desk_row(r, desk_find(r, "A-02  ")), " s "));
    assert_non_null(strstr(desk_row(r, desk_find(r, "night")), " s ")); // a light comes, and comes again
    int row = desk_find(r, "jet-1 par-1"); // at 2 s, of which A-01 and B-01 are spent
    assert_true(row > 0);
    assert_non_null(strstr(desk_row(r, row), " s "));
    assert_null(strstr(desk_row(r, row), "A-01"));
    assert_null(strstr(desk_row(r, row), "fountain"));
}

// ---- widths ----

// The clock of each row comes in at 92 columns, and takes none of the notes' room that they have at 80.
static void a_wider_board_has_no_narrower_notes(void **state) {
    (void)state;
    show_folder f = evening();
    char note[161], cues[256];
    memset(note, 'x', sizeof note - 1);
    note[sizeof note - 1] = '\0';
    snprintf(cues, sizeof cues, "time,target,do,id,note\n1,A-01,fountain,10,%s\n", note);
    show_folder_put(&f, "cues.csv", cues);
    desk *r = desk_at_board(f, SCORE, false);
    int before = 0, at_80 = 0;
    for (int columns = 60; columns < 150; columns++) { // from 150 on boards stand beside each other
        desk_size(r, columns, 24);
        int shown = 0;
        for (const char *at = desk_row(r, desk_find(r, "A-01  ")); *at; at++)
            shown += *at == 'x';
        at_80 = columns == 80 ? shown : at_80;
        before = columns == 92 ? at_80 : before;
        if (shown < before)
            fail_msg("%d columns of notes at %d, %d at %d", before, columns - 1, shown, columns);
        before = shown;
    }
    assert_true(before > 30);
    desk_destroy(r);
}

// ---- search ------------------------------------------------------------------------------------------------

static void seek(desk *r, const char *text) {
    desk_type(r, "/");
    desk_type(r, text);
    desk_type(r, "\n");
    desk_work(r);
}

static void a_search_looks_at_target_effect_note_and_id(void **state) {
    desk *r = *state;
    static const struct {
        const char *typed, *said;
    } cases[] = {
        {"b-02", "“b-02” 1 of 1"},      {"COMET", "“COMET” 1 of 2"},
        {"par-2", "“par-2” 1 of 2"},    {"first", "“first” 1 of 1"},
        {"31", "“31” 1 of 1"},          {"2", "“2” 1 of 6"},
        {"dim", "“dim” is nowhere in"}, {"zzz", "“zzz” is nowhere in what is shown"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        desk_press(r, SM_KEY_HOME);
        seek(r, cases[i].typed);
        if (!desk_shows(r, cases[i].said))
            fail_msg("'%s' does not say '%s'", cases[i].typed, cases[i].said);
    }
    seek(r, "first");
    assert_true(desk_shows(r, "First bell")); // opened, as it was folded
}

static void the_next_match_goes_round_and_says_so(void **state) {
    desk *r = *state;
    desk_type(r, "N");
    assert_true(desk_shows(r, "nothing was looked for yet"));
    seek(r, "comet");
    assert_true(desk_shows(r, "“comet” 1 of 2, N next"));
    desk_type(r, "N");
    assert_true(desk_shows(r, "“comet” 2 of 2, N next"));
    desk_type(r, "N");
    assert_true(desk_shows(r, "“comet” 1 of 2, from the beginning again"));
    filter(r, "rail B");
    assert_true(desk_shows(r, "“comet” in 1 rows"));
    desk_press(r, SM_KEY_ESCAPE);
    assert_false(desk_shows(r, "comet”"));
}

static void a_search_begins_at_the_chosen_row(void **state) {
    desk *r = *state;
    desk_arm(r);
    desk_do(r, "start");
    desk_advance(r, 5 * S);
    seek(r, "comet"); // the first one is past
    assert_true(desk_shows(r, "“comet” 2 of 2"));
}

// ---- what went wrong -----------------------------------------------------------------------------------------

static void only_what_went_wrong_follows_what_goes_wrong(void **state) {
    desk *r = *state;
    desk_do(r, "read A-02 open");
    desk_do(r, "waive readings A-02 broken");
    desk_do(r, "allow A-02");
    desk_type(r, "O");
    desk_work(r);
    assert_true(desk_shows(r, "only misfired, passed, held, inhibited: 9 of 9 hidden"));
    desk_do(r, "inhibit B-02");
    desk_row(r, 0);
    desk_work(r);
    assert_true(desk_shows(r, "8 of 9 hidden"));
    assert_true(desk_shows(r, "INHIBITED"));
    desk_arm(r);
    desk_do(r, "start");
    desk_advance(r, 5 * S);
    desk_row(r, 0);
    desk_work(r);
    assert_true(desk_shows(r, "7 of 9 hidden"));
    assert_true(desk_shows(r, "MISFIRED A-02"));
    desk_type(r, "O");
    desk_work(r);
    assert_false(desk_shows(r, "hidden"));
}

// ---- the lines against going through everything ------------------------------------------------------------------

static uint32_t next_random(uint32_t *seed) {
    *seed = *seed * 1664525 + 1013904223; // a linear congruential generator
    return *seed >> 16;
}

// EVENTS rows at few moments, so that many fall together.
static show_folder crowd(uint32_t count, uint32_t moments) {
    static const char *const does[] = {"A-01,comet",  "A-02,fountain", "B-01,comet",
                                       "par-1,dim=1", "pars,dim=2",    "jet-1,permit=3"};
    show_folder f = evening();
    sm_text cues = {0};
    uint32_t seed = 7;
    sm_text_printf(&cues, "time,target,do,note\n");
    for (uint32_t i = 0; i < count; i++) {
        uint32_t tenth = next_random(&seed) % moments;
        sm_text_printf(&cues, "%u.%u,%s,%s\n", tenth / 10, tenth % 10, does[next_random(&seed) % 6],
                       i % 97 == 0 ? "Needle here" : "hay");
    }
    assert_false(cues.failed);
    show_folder_put(&f, "cues.csv", sm_text_get(&cues));
    sm_text_deinit(&cues);
    return f;
}

static void compare_roll(const sm_show *show, const char *named) {
    sm_filter filter = sm_filter_all();
    char why[200];
    assert_int_equal(sm_filter_read(show, named, &filter, why), SM_OK);
    sm_cue_lines *lines = sm_cue_lines_create(show, &filter, NULL);
    assert_non_null(lines);
    while (!sm_cue_lines_work(lines, 17)) {
    }
    uint32_t line = SM_NONE, instant = SM_NONE, passed = 0, cue = SM_NONE;
    sm_us due = SM_UNSET_US;
    for (uint32_t place = 0; place < show->event_count; place++) {
        uint32_t event = show->order[place];
        if (!sm_filter_passes(&filter, show, event))
            continue;
        bool later = sm_event_due_us(show, event) != due;
        instant += later;
        line += later || show->events[event].cue != cue;
        due = sm_event_due_us(show, event);
        cue = show->events[event].cue;
        assert_int_equal(sm_cue_lines_at(lines, place), line);
        assert_int_equal(sm_cue_lines_instant_of(lines, line), instant);
        assert_int_equal(sm_cue_lines_due_us(lines, line), due);
        assert_true(sm_cue_lines_due(lines, due) <= line);
        assert_int_equal(sm_cue_lines_due_us(lines, sm_cue_lines_due(lines, due)), due);
        passed++;
        assert_int_equal(sm_cue_lines_events(lines, 0, line + 1) >= passed, true);
    }
    assert_int_equal(lines->line_count, line + 1);
    assert_int_equal(lines->instant_count, instant + 1);
    assert_int_equal(lines->events, passed);
    assert_int_equal(sm_cue_lines_events(lines, 0, lines->line_count), passed);
    // Down and up again through all rows, everything closed: each instant once.
    sm_opened opened = {0};
    sm_row row = sm_row_start(lines, 0);
    for (uint32_t i = 0; i < lines->instant_count; i++) {
        assert_int_equal(row.instant, i);
        sm_row next = sm_row_next(lines, &opened, row);
        assert_true(sm_row_same(sm_row_before(lines, &opened, next), row));
        row = next;
    }
    assert_true(sm_row_is_end(lines, row));
    sm_cue_lines_destroy(lines);
}

static void the_roll_is_what_going_through_everything_gives(void **state) {
    (void)state;
    show_folder f = crowd(3000, 180);
    sm_show *show = show_folder_load(&f, SM_OK);
    static const char *const named[] = {"", "pyro", "rail B", "position quay", "universe 1", "fixture jet-1"};
    for (size_t i = 0; i < sizeof named / sizeof named[0]; i++)
        compare_roll(show, named[i]);
    sm_show_destroy(show);
    show_folder_remove(&f);
}

static void opened_rows_are_walked_both_ways(void **state) {
    desk *r = *state;
    sm_filter filter = sm_filter_all();
    sm_cue_lines *lines = sm_cue_lines_create(r->show, &filter, NULL);
    assert_non_null(lines);
    while (!sm_cue_lines_work(lines, 1)) {
    }
    sm_opened opened = {0};
    assert_true(sm_opened_set(&opened, 2 * S, true));
    sm_row rows[16];
    int count = 0;
    for (sm_row row = sm_row_start(lines, 0); !sm_row_is_end(lines, row);
         row = sm_row_next(lines, &opened, row))
        rows[count++] = row;
    assert_int_equal(count, 1 + 1 + 3 + 3); // 10; the heading and 20 21 22; 30 31 40
    sm_row back = sm_row_start(lines, lines->instant_count);
    while (count > 0) {
        back = sm_row_before(lines, &opened, back);
        assert_true(sm_row_same(back, rows[--count]));
    }
    assert_true(sm_opened_set(&opened, 2 * S, false));
    assert_false(sm_opened_has(&opened, 2 * S));
    sm_opened_deinit(&opened);
    sm_cue_lines_destroy(lines);
}

// ---- a large show holds no key --------------------------------------------------------------------------------

static void a_search_over_a_large_show_holds_no_key(void **state) {
    (void)state;
    desk *r = desk_at_board(crowd(60000, 180000), SCORE, false);
    assert_true(desk_shows(r, "putting")); // not in order yet, and says so
    assert_true(desk_work(r) > 1);
    assert_false(desk_shows(r, "putting"));
    desk_type(r, "/needle\n");
    assert_true(desk_shows(r, "looking for “needle”"));
    int acts = r->acts;
    desk_type(r, " "); // meanwhile
    assert_int_equal(r->acts, acts + 1);
    assert_string_equal(r->acted, "safe");
    assert_true(desk_work(r) > 3);
    char said[64];
    snprintf(said, sizeof said, "“needle” 1 of %d", (60000 + 96) / 97);
    assert_true(desk_shows(r, said));
    desk_destroy(r);
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(what_is_due_at_one_moment_is_one_row, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(what_comes_next_is_marked_and_named, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(the_chosen_row_stays_while_the_show_goes_on, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(a_click_chooses_and_opens, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(a_filter_says_itself_and_counts_what_it_hides, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(only_what_passes_is_shown_of_a_row, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(a_wrong_filter_stays_to_be_mended, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(a_finding_s_cue_is_shown_although_the_filter_hides_it, begin,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(what_is_hidden_is_said_on_the_smallest_terminal, begin,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(what_is_spent_has_no_countdown_in_a_repeat, begin, desk_teardown),
        cmocka_unit_test(a_wider_board_has_no_narrower_notes),
        cmocka_unit_test_setup_teardown(a_search_looks_at_target_effect_note_and_id, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(the_next_match_goes_round_and_says_so, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(a_search_begins_at_the_chosen_row, begin, desk_teardown),
        cmocka_unit_test_setup_teardown(only_what_went_wrong_follows_what_goes_wrong, begin, desk_teardown),
        cmocka_unit_test(the_roll_is_what_going_through_everything_gives),
        cmocka_unit_test_setup_teardown(opened_rows_are_walked_both_ways, begin, desk_teardown),
        cmocka_unit_test(a_search_over_a_large_show_holds_no_key),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
