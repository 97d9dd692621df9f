// SPDX-License-Identifier: GPL-3.0-or-later
// The board of the ground over the engine, without a terminal.
#include "boards/ground/ground.h"
#include "support/desk.h"
#include "support/short_show.h"

#include "slowmatch/site.h"

#include <locale.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S
#define DEMO "demo-shows/lantern-quay"

static void expect_near(double got, double wanted, double room) {
    if (!(fabs(got - wanted) <= room))
        fail_msg("%.12g is not %.12g", got, wanted);
}

// ---- what is asked for --------------------------------------------------------------------------

typedef struct rig {
    short_show files;
    bool demo;
    desk desk;
    void *board;
} rig;

static void open_show(rig *r, const char *folder) {
    desk_begin(&r->desk, &(desk_options){.folder = folder});
    desk_size(&r->desk, 200, 48);
    r->board = calloc(1, sm_board_ground.state_size);
    assert_non_null(r->board);
}

static void close_show(rig *r) {
    sm_board_ground.forget(r->board);
    free(r->board);
    desk_end(&r->desk);
}

static int begin_demo(void **state) {
    rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    r->demo = true;
    open_show(r, DEMO);
    *state = r;
    return 0;
}

static int begin_short(void **state) {
    rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    short_show_make(&r->files, "12 s");
    open_show(r, r->files.folder);
    *state = r;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    close_show(r);
    if (!r->demo)
        short_show_remove(&r->files);
    free(r);
    return 0;
}

static void act(rig *r, const char *line) {
    assert_int_equal(desk_act(&r->desk, line, SM_SOURCE_CONSOLE), SM_OK);
}

static void advance(rig *r, sm_us span) {
    desk_advance(&r->desk, span);
}

static void start(rig *r) {
    act(r, "call-clear K");
    act(r, "key on");
    act(r, "arm");
    advance(r, r->desk.show->settings.arm_time_us);
    act(r, "start");
    advance(r, r->desk.show->settings.countdown_us);
}

static unsigned press(rig *r, int key) {
    sm_request request = {0};
    return sm_board_ground.press(r->board, &r->desk.ui.view, key, &request);
}

static void draw(rig *r) {
    sm_cells_clear(r->desk.cells);
    sm_board_ground.draw(r->board, &r->desk.ui.view, sm_area_of(r->desk.cells), true);
}

// All rows, wrapped lines put together again (their indents shrink to one blank).
static char *screen(rig *r, int from_column) {
    sm_text text = {0};
    draw(r);
    for (int y = 0; y < sm_cells_rows(r->desk.cells); y++) {
        sm_text row = {0};
        for (int x = from_column; x < sm_cells_columns(r->desk.cells); x++) {
            sm_text_append(&row, sm_cells_at(r->desk.cells, x, y)->text,
                           strlen(sm_cells_at(r->desk.cells, x, y)->text));
        }
        const char *at = sm_text_get(&row);
        at += strspn(at, " ");
        size_t length = strlen(at);
        while (length > 0 && at[length - 1] == ' ')
            length--;
        sm_text_append(&text, at, length);
        sm_text_append(&text, " ", 1);
        sm_text_deinit(&row);
    }
    return text.bytes;
}

// TEXT stands on the board, also where it is broken over rows beside the plan.
static bool shows(rig *r, const char *text) {
    bool found = false;
    for (int from = 0; from < sm_cells_columns(r->desk.cells) && !found; from++) {
        char *all = screen(r, from);
        found = strstr(all, text) != NULL;
        free(all);
    }
    return found;
}

// comet-white, 30 mm: 1.18 inches, up to 1.5, at 70 ft an inch 105 ft = 32.004 m. mine-silver, 50 mm: 1.97 inches, up to
// 2, 140 ft = 42.672 m (OAR 837-012-0840(3)(a), read; recomputed). spark-pot: twice its 2 m of fallout are 13.1 ft, less
// than the 15 ft = 4.572 m that a near effect has at least (NYC Fire Code 3309.12.1, read). jet: 10 m, its maker's.
static void distances_are_those_of_the_figures(void **state) {
    rig *r = *state;
    sm_ground *ground;
    assert_int_equal(sm_ground_create(r->desk.show, &ground), SM_OK);
    static const struct {
        const char *position;
        double metres, found_m;
        const char *what;
    } by_hand[] = {{"quay-left", 32.004, 48, "comet-white"},
                   {"barge", 42.672, 60, "mine-silver"},
                   {"steps", 4.572, 9, "spark-pot"},
                   {"wall-2", 10, 19, "jet-2"}};
    for (size_t i = 0; i < sizeof by_hand / sizeof by_hand[0]; i++) {
        uint32_t p = sm_position_find(r->desk.show, by_hand[i].position);
        const sm_place_need *need = &ground->places[p].need;
        expect_near(need->metres, by_hand[i].metres, 1e-9);
        assert_string_equal(need->what, by_hand[i].what);
        expect_near(sm_site_audience_m(r->desk.show, p), by_hand[i].found_m, 1e-9);
        assert_true(need->wanted && sm_need_reached(r->desk.show, p, need));
    }
    assert_false(ground->places[sm_position_find(r->desk.show, "pole-1")].need.wanted);
    r->desk.show->settings.audience_m = 20; // the crowd stands closer
    const sm_place_on_ground *quay = &ground->places[sm_position_find(r->desk.show, "quay-left")];
    assert_false(sm_need_reached(r->desk.show, quay->position, &quay->need));
    sm_text text = {0};
    sm_place_distance(r->desk.show, quay, &text);
    assert_non_null(strstr(sm_text_get(&text), "28.0 m to the audience front: SHORTER than the figure used, "
                                               "32.0 m for comet-white (105 ft: 70 ft an inch of calibre;"));
    sm_text_clear(&text);
    sm_place_distance(r->desk.show, &ground->places[sm_position_find(r->desk.show, "wall-1")], &text);
    assert_non_null(strstr(sm_text_get(&text), "1.0 m BEHIND the audience front: SHORTER"));
    assert_non_null(
        strstr(sm_text_get(&text), "local law, the maker's data and the licensed operator go first"));
    sm_text_deinit(&text);
    sm_ground_destroy(ground);
}

static void every_unit_is_there_once(void **state) {
    rig *r = *state;
    sm_ground *ground;
    assert_int_equal(sm_ground_create(r->desk.show, &ground), SM_OK);
    assert_int_equal(ground->unit_count, r->desk.show->rail_count + r->desk.show->fixture_count);
    assert_int_equal(ground->placed, ground->unit_count);
    uint32_t sum = 0;
    for (uint32_t p = 0; p < ground->place_count; p++) {
        const sm_place_on_ground *place = &ground->places[p];
        assert_int_equal(place->first, sum);
        sum += place->count;
        for (uint32_t u = place->first; u < sum; u++) {
            const sm_unit *unit = &ground->units[u];
            assert_int_equal(unit->position, p);
            assert_int_equal(unit->kind == SM_UNIT_RAIL ? r->desk.show->rails[unit->index].position
                                                        : r->desk.show->fixtures[unit->index].position,
                             p);
        }
    }
    assert_int_equal(sum, ground->unit_count);
    assert_int_equal(ground->places[sm_position_find(r->desk.show, "pole-1")].count, 2);
    sm_ground_destroy(ground);
}

// ---- the plan of the demo --------------------------------------------------------------------------

// Metres that a dot of the drawn plan stands for, and where it lies, worked out from the site's own extent: x from -24 m to
// 20 m, y from 0 (the audience front) to 60 m; the last row holds the scale.
static void expect_places(rig *r, int columns, int rows) {
    sm_ground *ground;
    sm_ground_plan drawn = {0};
    desk_size(&r->desk, columns, rows);
    assert_int_equal(sm_ground_create(r->desk.show, &ground), SM_OK);
    sm_ground_look(ground, r->desk.now);
    assert_int_equal(sm_ground_plan_draw(&drawn, ground, SM_NONE, false, sm_area_of(r->desk.cells)), SM_OK);
    int across = columns * 2, down = (rows - 1) * 4;
    double scale = fmax(44.0 / (across - 1), 60.0 / (down - 1));
    double left_m = -2 - scale * (across - 1) / 2, far_m = 30 + scale * (down - 1) / 2;
    for (uint32_t p = 0; p < r->desk.show->position_count; p++) {
        double x = (r->desk.show->positions[p].x_m - left_m) / scale;
        double y = (far_m - r->desk.show->positions[p].y_m) / scale;
        bool found = false;
        for (int dy = -1; dy <= 1 && !found; dy++) { // within one dot
            for (int dx = -1; dx <= 1 && !found; dx++) {
                int at_x = (int)floor(x + 0.5) + dx, at_y = (int)floor(y + 0.5) + dy;
                if (at_x < 0 || at_y < 0 || at_x >= across || at_y >= down)
                    continue;
                const char *text = sm_cells_at(r->desk.cells, at_x / 2, at_y / 4)->text;
                static const uint8_t bits[2][4] = {{0x01, 0x02, 0x04, 0x40}, {0x08, 0x10, 0x20, 0x80}};
                unsigned dots = ((unsigned char)text[1] & 3U) << 6 | ((unsigned char)text[2] & 0x3FU);
                found = (unsigned char)text[0] == 0xE2 && dots & bits[at_x % 2][at_y % 4];
            }
        }
        if (!found)
            fail_msg("%s is not on the plan of %dx%d", r->desk.show->positions[p].name, columns, rows);
    }
    sm_ground_plan_deinit(&drawn);
    sm_ground_destroy(ground);
}

static void places_are_where_they_belong(void **state) {
    rig *r = *state;
    static const int sizes[][2] = {{19, 5}, {24, 12}, {47, 15}, {71, 31}, {120, 31}, {200, 48}};
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++)
        expect_places(r, sizes[i][0], sizes[i][1]);
}

static void names_and_distances_stand_on_it(void **state) {
    rig *r = *state;
    static const int sizes[][2] = {{80, 15}, {120, 31}, {200, 48}};
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        desk_size(&r->desk, sizes[i][0], sizes[i][1]);
        static const char *const names[] = {
            "A", "B", "C", "D", "jet-1", "audience front", " m  x along the front"};
        for (size_t n = 0; n < sizeof names / sizeof names[0]; n++)
            assert_true(shows(r, names[n]));
    }
    desk_size(&r->desk, 40, 5);
    assert_true(shows(r, "C") && shows(r, "jet-1") && shows(r, "nothing burns"));
    desk_size(&r->desk, 80, 15);
    assert_true(shows(r, "rail A  1 of 16"));
    assert_true(
        shows(r, "48.0 m to the audience front: not shorter than the figure used, 32.0 m for comet-white"));
    // quay-left is 52 m from the loudspeaker at the front; 15 C: 340.3 m/s (recomputed). Of rail A silver lasts longest, 12 s.
    desk_size(&r->desk, 200, 48);
    assert_true(shows(r, "sound of the loudspeaker 0.15 s to here, 0.00 s to the audience front"));
    assert_false(shows(r, "drift with the wind measured"));
    act(r, "wind 5 m/s");
    assert_true(shows(
        r, "drift with the wind measured, 5.0 m/s: 60 m in the 12.0 s that fountain-silver is seen; what "
           "falls longer drifts further. No limit"));
    desk_size(&r->desk, 80, 15);
    press(r, SM_KEY_DOWN);
    assert_true(shows(r, "rail B  2 of 16"));
    press(r, SM_KEY_END);
    assert_true(shows(r, "unit jet-4  16 of 16"));
    assert_true(shows(r, "10.0 m for jet-4 (the maker's least distance; profiles.csv)"));
    desk_size(&r->desk, 200, 60);
    assert_true(shows(r, "quay-right 48.0 m, not shorter than 32.0 m (comet-white)"));
    assert_true(shows(r, "steps 9.0 m, not shorter than 4.6 m (spark-pot)"));
    assert_true(shows(r, "par-1 par-2")); // two at one place
    desk_size(&r->desk, 120, 31);
    assert_false(shows(r, "par-4par")); // names keep apart
    desk_size(&r->desk, 60, 15);
    assert_true(shows(r, "+1")); // folded, with a count
}

// Nothing outside ASCII is left, and no '?' for something that has no likeness.
static void it_reads_in_ascii(void **state) {
    rig *r = *state;
    start(r);
    for (int i = 0; i < 20; i++) {
        advance(r, 800000);
        draw(r);
        sm_cells_to_ascii(r->desk.cells);
        for (int y = 0; y < sm_cells_rows(r->desk.cells); y++) {
            for (int x = 0; x < sm_cells_columns(r->desk.cells); x++) {
                const char *text = sm_cells_at(r->desk.cells, x, y)->text;
                assert_true((unsigned char)text[0] < 0x80 && text[0] != '?');
            }
        }
    }
}

static void what_happens_is_said_at_its_place(void **state) {
    rig *r = *state;
    assert_true(shows(r, "nothing burns or shines"));
    start(r);
    advance(r, 4 * S + S / 2); // A-01 and B-01, fountains of 8 s, since 0:04
    assert_true(shows(r, "A burns 8 s"));
    assert_true(shows(r, "now A burns 8 s · B burns 8 s"));
    assert_true(shows(r, "8 lights on"));
    assert_true(shows(r, "35%")); // pars at 35 % of blue, faded in
    advance(r, 3 * S + 400000);   // 0:07.9: comets of 0.2 s lead
    assert_true(shows(r, "in flight"));
    advance(r, 400000); // 0:08.3: the outer flames of 0.4 s
    assert_true(shows(r, "jet-1 FLAME"));
    assert_false(shows(r, "jet-2 FLAME"));
    desk_size(&r->desk, 80, 15); // letters, where there is less room
    assert_true(shows(r, "*2 4"));
    act(r, "pause");
    assert_false(shows(r, "FLAME"));
    advance(r, 5 * S);
    assert_true(shows(r, "nothing burns") || shows(r, "lights on")); // burnt down in wall time
    assert_false(shows(r, "burns"));
}

static void a_rail_is_held_by_as_many_slots_as_are(void **state) {
    rig *r = *state;
    act(r, "inhibit A-05");
    assert_true(shows(r, "1 of 11 held"));
    act(r, "inhibit A");
    assert_false(shows(r, "of 11 held"));
    assert_true(shows(r, "held"));
}

static void what_misfired_stands_live_at_its_rail(void **state) {
    rig *r = *state;
    act(r, "unplug B");
    act(r, "waive rails B stays out");
    start(r);
    advance(r, 4 * S + S / 2);
    assert_true(shows(r, "STILL LIVE")); // not all that are live: the state line counts those yet to fire too
    desk_size(&r->desk, 80, 15);
    assert_true(shows(r, "B !")); // by a letter on the small plan
    press(r, SM_KEY_DOWN);
    assert_true(shows(r, "UNPLUGGED, 10 not fired, 0 spent; misfired, LIVE: B-01"));
}

static void people_are_listed_and_nobody_knows_where(void **state) {
    rig *r = *state;
    act(r, "enter K");
    act(r, "enter M");
    assert_true(shows(r, "IN FIELD K "));
    assert_true(shows(r, "where they stand is not known"));
}

// What a drill plants is seen where it is, by its word.
static void what_goes_wrong_is_seen_at_its_place(void **state) {
    rig *r = *state;
    desk_inject(&r->desk, "fire barge");
    assert_true(shows(r, "FIRE at barge"));
    assert_true(shows(r, "C FIRE"));
    desk_inject(&r->desk, "tip A-03");
    assert_true(shows(r, "A TIPPED"));
    desk_inject(&r->desk, "flame-stuck jet-3");
    assert_true(shows(r, "jet-3 FLAME"));
    desk_inject(&r->desk, "feed-lost feed-left");
    assert_true(shows(r, "par-3 par-4 x")); // no room for words there
    for (int i = 0; i < 4; i++)
        press(r, SM_KEY_DOWN);
    assert_true(shows(r, "unit par-1"));
    assert_true(shows(r, "aims at the crane; no mains"));
    desk_size(&r->desk, 80, 15);
    assert_true(shows(r, "FIRE at barge"));
}

static void a_preview_is_only_for_safe_with_the_key_off(void **state) {
    rig *r = *state;
    press(r, SM_KEY_ENTER);
    assert_true(shows(r, "PREVIEW  0:04.000")); // A's first cue
    assert_true(shows(r, "A burns 8 s"));
    assert_true(shows(r, "Nothing runs, nothing is fired or lit"));
    press(r, SM_KEY_RIGHT);
    assert_true(shows(r, "PREVIEW  0:04.500"));
    press(r, SM_KEY_LEFT);
    press(r, SM_KEY_LEFT);
    press(r, SM_KEY_LEFT); // there is none before
    assert_true(shows(r, "PREVIEW  0:00.000"));
    for (int i = 0; i < 17; i++)
        press(r, SM_KEY_RIGHT);
    assert_true(shows(r, "jet-1 FLAME"));
    assert_int_equal(r->desk.now->burning_count + r->desk.now->flying, 0);
    assert_int_equal(r->desk.now->state, SM_STATE_SAFE);
    act(r, "key on");
    assert_false(shows(r, "PREVIEW"));
    press(r, SM_KEY_ENTER);
    assert_false(shows(r, "PREVIEW"));
    act(r, "key off");
    press(r, SM_KEY_ENTER);
    assert_true(shows(r, "PREVIEW"));
    press(r, SM_KEY_ENTER);
    assert_false(shows(r, "PREVIEW"));
}

// What a preview says is what the rehearsal then does, moment by moment.
static void a_preview_is_what_will_be(void **state) {
    rig *r = *state;
    sm_ground *played, *previewed;
    assert_int_equal(sm_ground_create(r->desk.show, &played), SM_OK);
    assert_int_equal(sm_ground_create(r->desk.show, &previewed), SM_OK);
    start(r);
    unsigned lit = 0, burning = 0;
    for (sm_us at = 0; at < r->desk.show->length_us; at += 370000) {
        assert_int_equal(r->desk.now->at.us, at);
        sm_ground_look(played, r->desk.now);
        assert_int_equal(sm_ground_preview(previewed, (sm_show_time){at}), SM_OK);
        for (uint32_t u = 0; u < played->unit_count; u++) {
            assert_int_equal(previewed->doing[u].burning, played->doing[u].burning);
            assert_int_equal(previewed->doing[u].flying, played->doing[u].flying);
            assert_int_equal(previewed->doing[u].lit, played->doing[u].lit);
            assert_int_equal(previewed->doing[u].percent, played->doing[u].percent);
            lit += played->doing[u].lit;
            burning += played->doing[u].burning;
        }
        advance(r, 370000);
    }
    assert_true(lit > 20 && burning > 100);
    sm_ground_destroy(played);
    sm_ground_destroy(previewed);
}

// ---- shows with less -------------------------------------------------------------------------------

static void reload(rig *r) {
    close_show(r);
    r->desk.wall.us = 0;
    open_show(r, r->files.folder);
}

static void what_is_missing_is_said(void **state) {
    rig *r = *state;
    desk_size(&r->desk, 80, 30);
    assert_true(shows(r, "NOT ON THE PLAN, no position: par-1 jet-1"));
    press(r, SM_KEY_END);
    assert_true(shows(r, "no position: write one of positions.csv in its column `position` of fixtures.csv"));
    press(r, SM_KEY_HOME);
    assert_true(
        shows(r, "20.0 m to the audience front: SHORTER than the figure used, 22.9 m for fountain (75 ft:"));
    assert_true(shows(r, "; no figure for comet there;")); // the comet has no calibre
    short_show_write(&r->files, "rails.csv", "name,module,first,slots\nA,M1,1,4\nB,M1,5,4\n");
    short_show_write(&r->files, "positions.csv", "name,x,y\n");
    reload(r);
    desk_size(&r->desk, 80, 30);
    assert_true(shows(r, "No plan: this show has no positions.csv"));
    assert_true(shows(r, "NOT ON THE PLAN, no position: A B par-1 jet-1"));
    short_show_write(&r->files, "rails.csv",
                     "name,module,first,slots,position\nA,M1,1,4,left\nB,M1,5,4,right\n");
    short_show_write(&r->files, "positions.csv", "name,x,y\nleft,,\nright,5,20\n");
    reload(r);
    desk_size(&r->desk, 120, 40);
    assert_true(shows(r, "1 place with units at x 0 m, y 0 m, which is also what an empty x or y counts as"));
}

// par-1's dimmer and red, by the rule of the manual: 100 % times red.
static void light_is_dimmer_times_brightest_colour(void **state) {
    rig *r = *state;
    uint32_t par = sm_fixture_find(r->desk.show, "par-1"), jet = sm_fixture_find(r->desk.show, "jet-1");
    uint8_t levels[8] = {0};
    uint8_t *own = levels + r->desk.show->fixtures[par].channel_base;
    static const uint8_t cases[][3] = {{0, 0, 0},   {255, 255, 100}, {255, 0, 0},
                                       {0, 255, 0}, {128, 128, 25},  {1, 255, 1}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        own[0] = cases[i][0];
        own[1] = cases[i][1];
        assert_int_equal(sm_light_percent(r->desk.show, par, levels), cases[i][2]);
    }
    memset(levels, 255, sizeof levels);
    assert_int_equal(sm_light_percent(r->desk.show, jet, levels), 0); // flame is said otherwise
}

static void a_suggestion_is_the_unit(void **state) {
    rig *r = *state;
    sm_text text = {0};
    sm_board_ground.suggest(r->board, &r->desk.ui.view, SM_ARG_RAIL, &text);
    assert_string_equal(sm_text_get(&text), "A");
    press(r, SM_KEY_END);
    sm_text_clear(&text);
    sm_board_ground.suggest(r->board, &r->desk.ui.view, SM_ARG_RAIL, &text);
    assert_string_equal(sm_text_get(&text), "");
    sm_board_ground.suggest(r->board, &r->desk.ui.view, SM_ARG_TARGET, &text);
    assert_string_equal(sm_text_get(&text), "jet-1");
    sm_text_deinit(&text);
}

// Clicks where the grid has the name; the board's own corner is elsewhere on a wide screen.
static void a_click_goes_to_a_place(void **state) {
    rig *r = *state;
    const sm_mouse away = {199, 0, SM_MOUSE_CLICK};
    sm_request request = {0};
    sm_cells_clear(r->desk.cells);
    sm_board_ground.draw(r->board, &r->desk.ui.view, sm_area_part(sm_area_of(r->desk.cells), 30, 3, 170, 45),
                         true);
    for (int y = 0; y < 48; y++) {
        for (int x = 30; x + 4 < 130; x++) {
            char name[6] = "";
            for (int i = 0; i < 5; i++)
                name[i] = sm_cells_at(r->desk.cells, x + i, y)->text[0];
            if (strcmp(name, "par-5") == 0) {
                sm_board_ground.point(r->board, &r->desk.ui.view,
                                      (sm_mouse){x - 30 + 1, y - 3, SM_MOUSE_CLICK}, &request);
                y = 48;
                break;
            }
        }
    }
    assert_true(shows(r, "unit par-5"));
    draw(r);
    sm_board_ground.point(r->board, &r->desk.ui.view, away, &request); // beside the plan
    assert_true(shows(r, "unit par-5"));
    assert_string_equal(request.line, "");
    desk_size(&r->desk, 80, 10);
    draw(r);
    assert_true(shows(r, "nothing burns"));
    sm_board_ground.point(r->board, &r->desk.ui.view, (sm_mouse){1, 1, SM_MOUSE_WHEEL_DOWN}, &request);
    assert_false(shows(r, "nothing burns"));
    sm_board_ground.point(r->board, &r->desk.ui.view, (sm_mouse){1, 1, SM_MOUSE_WHEEL_UP}, &request);
    assert_true(shows(r, "nothing burns"));
}

int main(void) {
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(distances_are_those_of_the_figures, begin_demo, end),
        cmocka_unit_test_setup_teardown(every_unit_is_there_once, begin_demo, end),
        cmocka_unit_test_setup_teardown(places_are_where_they_belong, begin_demo, end),
        cmocka_unit_test_setup_teardown(names_and_distances_stand_on_it, begin_demo, end),
        cmocka_unit_test_setup_teardown(it_reads_in_ascii, begin_demo, end),
        cmocka_unit_test_setup_teardown(what_happens_is_said_at_its_place, begin_demo, end),
        cmocka_unit_test_setup_teardown(a_rail_is_held_by_as_many_slots_as_are, begin_demo, end),
        cmocka_unit_test_setup_teardown(what_misfired_stands_live_at_its_rail, begin_demo, end),
        cmocka_unit_test_setup_teardown(people_are_listed_and_nobody_knows_where, begin_demo, end),
        cmocka_unit_test_setup_teardown(what_goes_wrong_is_seen_at_its_place, begin_demo, end),
        cmocka_unit_test_setup_teardown(a_preview_is_only_for_safe_with_the_key_off, begin_demo, end),
        cmocka_unit_test_setup_teardown(a_preview_is_what_will_be, begin_demo, end),
        cmocka_unit_test_setup_teardown(a_click_goes_to_a_place, begin_demo, end),
        cmocka_unit_test_setup_teardown(what_is_missing_is_said, begin_short, end),
        cmocka_unit_test_setup_teardown(light_is_dimmer_times_brightest_colour, begin_short, end),
        cmocka_unit_test_setup_teardown(a_suggestion_is_the_unit, begin_short, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
