// SPDX-License-Identifier: GPL-3.0-or-later
// The strip: its stretches by hand, what stands in which column, where flame burns against the DMX timeline.
#include "boards/strip/strip.h"
#include "support/short_show.h"

#include "slowmatch/dmx.h"

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

// ---- stretches -------------------------------------------------------------------------------

static void expect_window(sm_us length, sm_us now, int closer, sm_us from, sm_us to) {
    sm_strip_window window = sm_strip_window_at(length, now, closer);
    assert_int_equal(window.from_us, from);
    assert_int_equal(window.to_us, to);
}

// 92 s: half of it is 46 s and moves by 23 s, so that it first moves when now is beyond 23 + 46/4 = 34.5 s.
static void a_stretch_moves_by_halves(void **state) {
    (void)state;
    expect_window(92 * S, 50 * S, 0, 0, 92 * S);
    expect_window(92 * S, -5 * S, 1, 0, 46 * S);
    expect_window(92 * S, 34499 * MS, 1, 0, 46 * S);
    expect_window(92 * S, 34500 * MS, 1, 23 * S, 69 * S);
    expect_window(92 * S, 92 * S, 1, 46 * S, 92 * S);
    expect_window(92 * S, 0, 4, 0, 5750 * MS);
    expect_window(92 * S, 0, 5, 0, 5 * S); // 2.875 s would be too short
    expect_window(92 * S, 0, 9, 0, 5 * S);
    expect_window(3 * S, 1 * S, 4, 0, 3 * S); // a show shorter than the shortest stretch
    for (int closer = 1; closer <= 5; closer++) {
        for (sm_us now = 0; now <= 92 * S; now += 137 * MS) {
            sm_strip_window window = sm_strip_window_at(92 * S, now, closer);
            sm_us span = window.to_us - window.from_us, at = now - window.from_us;
            bool first = window.from_us == 0, last = window.to_us == 92 * S;
            assert_true((first || at >= span / 4) && (last || at < span * 3 / 4 + 2) && at >= 0 &&
                        at <= span);
        }
    }
}

// ---- flames --------------------------------------------------------------------------------------

static bool burns(const sm_strip_span *spans, size_t count, sm_us at) {
    for (size_t i = 0; i < count; i++)
        if (at >= spans[i].from_us && at < spans[i].to_us)
            return true;
    return false;
}

static bool is_within(sm_range range, uint8_t level) {
    return level >= range.low && level <= range.high;
}

static bool burns_by_timeline(const sm_show *show, const sm_dmx_timeline *timeline, sm_us at) {
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        const sm_profile *profile = &show->profiles[fixture->profile];
        if (profile->flame) {
            sm_dmx_channel enable = sm_dmx_channel_at(timeline, fixture->channel_base + profile->enable,
                                                      (sm_show_time){at}, true);
            sm_dmx_channel fire =
                sm_dmx_channel_at(timeline, fixture->channel_base + profile->fire, (sm_show_time){at}, true);
            if (is_within(profile->enable_range, sm_dmx_channel_level(&enable, (sm_show_time){at})) &&
                is_within(profile->fire_range, sm_dmx_channel_level(&fire, (sm_show_time){at})))
                return true;
        }
    }
    return false;
}

// Every millisecond.
static unsigned compare_flames(const char *folder) {
    sm_findings *findings = sm_findings_create();
    sm_show *show;
    assert_int_equal(sm_show_load(folder, &(sm_show_load_options){0}, findings, &show), SM_OK);
    sm_dmx_timeline *timeline;
    assert_int_equal(sm_dmx_timeline_create(show, &timeline), SM_OK);
    sm_strip_span *spans;
    size_t count;
    assert_int_equal(sm_strip_flames(show, &spans, &count), SM_OK);
    unsigned lit = 0;
    for (sm_us at = 500; at < show->length_us; at += MS) {
        bool drawn = burns(spans, count, at), told = burns_by_timeline(show, timeline, at);
        if (drawn != told)
            fail_msg("at %lld us flame is %s by the timeline", (long long)at, told ? "lit" : "not lit");
        lit += told;
    }
    free(spans);
    sm_dmx_timeline_destroy(timeline);
    sm_show_destroy(show);
    sm_findings_destroy(findings);
    return lit;
}

static void flames_are_those_of_the_timeline(void **state) {
    (void)state;
    assert_in_range(compare_flames("demo-shows/lantern-quay"), 5000, 60000);
    short_show files;
    short_show_make(&files, "1 s");
    // Ranges in the middle of a fade, passed on the way up and down; a return home; an enable that closes and opens.
    short_show_write(&files, "profiles.csv",
                     "name,channels,home,hazard,enable,fire\npar,dimmer red,0 0,none,,\n"
                     "jet,permit flame,0 0,flame,permit 100-150,flame 60-200\n");
    short_show_write(
        &files, "cues.csv",
        "time,target,do,fade,lasts\n0,jet-1,permit=125,,\n0.1,jet-1,flame=255,2,\n3,jet-1,flame=0,1,\n"
        "4.5,jet-1,flame=100,,0.5\n5.2,jet-1,flame=100,,\n5.4,jet-1,permit=255,1,\n"
        "6.5,jet-1,permit=0,1,\n8,jet-1,permit=120,,0.25\n8.1,jet-1,flame=61,0.05,2\n");
    short_show_write(&files, "show.ini", "[show]\ntitle = Flames\nlength = 10\n");
    assert_in_range(compare_flames(files.folder), 1500, 4500);
    short_show_remove(&files);
}

// ---- what is drawn --------------------------------------------------------------------------------

typedef struct rig {
    short_show files;
    sm_show *show;
    sm_snapshot *now;
    sm_findings *findings;
    sm_audio_status sound;
    sm_view view;
    sm_strip *strip;
    sm_cells *cells;
    sm_text row;
} rig;

static int begin(void **state) {
    rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    short_show_make(&r->files, "1 s");
    r->findings = sm_findings_create();
    assert_int_equal(sm_show_load(r->files.folder, &(sm_show_load_options){0}, r->findings, &r->show), SM_OK);
    assert_int_equal(sm_snapshot_create(r->show, &r->now), SM_OK);
    r->view = (sm_view){.snapshot = r->now, .show = r->show, .sound = &r->sound};
    r->strip = sm_strip_create();
    assert_non_null(r->strip);
    *state = r;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    sm_text_deinit(&r->row);
    sm_cells_destroy(r->cells);
    sm_strip_destroy(r->strip);
    sm_snapshot_destroy(r->now);
    sm_show_destroy(r->show);
    sm_findings_destroy(r->findings);
    short_show_remove(&r->files);
    free(r);
    return 0;
}

// Another show of LENGTH seconds with CUES.
static void reload(rig *r, int length, const char *cues) {
    char settings[128];
    snprintf(settings, sizeof settings, "[show]\ntitle = Strip\nlength = %d\n", length);
    short_show_write(&r->files, "show.ini", settings);
    short_show_write(&r->files, "cues.csv", cues);
    sm_strip_forget(r->strip);
    sm_snapshot_destroy(r->now);
    sm_show_destroy(r->show);
    assert_int_equal(sm_show_load(r->files.folder, &(sm_show_load_options){0}, r->findings, &r->show), SM_OK);
    assert_int_equal(sm_snapshot_create(r->show, &r->now), SM_OK);
    r->view.snapshot = r->now;
    r->view.show = r->show;
}

static void draw(rig *r, int columns, int rows) {
    sm_cells_destroy(r->cells);
    r->cells = sm_cells_create(columns, rows);
    assert_non_null(r->cells);
    sm_strip_draw(r->strip, &r->view, sm_area_of(r->cells));
}

static const char *row(rig *r, int y) {
    sm_text_clear(&r->row);
    sm_cells_row_text(r->cells, y, &r->row);
    return sm_text_get(&r->row);
}

// One second on 20 columns, 50 ms each. A-01 is seen at 0.2 s, A-02 and B-01 at 0.6 s, the flame burns from 0.3 to 0.8 s,
// the lamp changes at 0. Nothing has been decoded, and nothing is waited for.
static void ticks_stand_where_things_are_seen(void **state) {
    rig *r = *state;
    r->sound.has_music = true;
    draw(r, 20, 2);
    assert_string_equal(row(r, 0), "│");
    assert_string_equal(row(r, 1), "⡀   ! ^^^^^^!^^^");
    assert_int_equal(sm_cells_at(r->cells, 4, 1)->look, SM_LOOK_PYRO);
    assert_int_equal(sm_cells_at(r->cells, 6, 1)->look, SM_LOOK_FLAME);
    r->now->at.us = 499 * MS;
    draw(r, 20, 4);
    assert_string_equal(row(r, 2), "    ! ^^^│^^!^^^");
    assert_string_equal(row(r, 3), "⡀");
    assert_int_equal(sm_cells_at(r->cells, 9, 3)->look, SM_LOOK_SELECTED);
    r->now->at.us = S; // the end is in the last column
    draw(r, 20, 4);
    assert_string_equal(sm_cells_at(r->cells, 19, 0)->text, "│");
}

// One dot for one change, another for each doubling: 1, 2, 4, 8 changes in a column each.
static void lights_are_as_dense_as_they_change(void **state) {
    rig *r = *state;
    sm_text cues = {0};
    sm_text_printf(&cues, "time,target,do\n");
    for (int column = 0; column < 4; column++)
        for (int i = 0; i < 1 << column; i++)
            sm_text_printf(&cues, "%d.%d,par-1,red=%d\n", column, i, i);
    reload(r, 10, sm_text_get(&cues));
    sm_text_deinit(&cues);
    draw(r, 10, 2);
    assert_string_equal(row(r, 1), "⡀⣀⣄⣤");
    sm_cells_to_ascii(r->cells);
    assert_string_equal(row(r, 1), "._..");
}

static void marks_and_the_repeat_have_their_places(void **state) {
    rig *r = *state;
    reload(r, 100, "time,target,do\n50,A-01,fountain\n");
    r->now->mark_count = 3;
    snprintf(r->now->marks[0].name, sizeof r->now->marks[0].name, "chorus");
    r->now->marks[0].at.us = 10 * S;
    snprintf(r->now->marks[1].name, sizeof r->now->marks[1].name, "a long name of a mark");
    r->now->marks[1].at.us = 30 * S;
    snprintf(r->now->marks[2].name, sizeof r->now->marks[2].name, "end");
    r->now->marks[2].at.us = 40 * S;
    draw(r, 100, 4);
    assert_string_equal(row(r, 0),
                        "          'chorus             'a long … 'end"); // cut where the next begins
    r->now->repeat_on = true;
    r->now->repeat_from.us = 60 * S;
    r->now->repeat_to.us = 70 * S; // excluded: its last column is the one before
    draw(r, 100, 4);
    assert_non_null(strstr(row(r, 0), "'end                [────────]"));
    draw(r, 100, 2);
    assert_string_equal(sm_cells_at(r->cells, 60, 1)->text, "[");
    assert_string_equal(sm_cells_at(r->cells, 69, 1)->text, "]");
    assert_string_equal(sm_cells_at(r->cells, 50, 1)->text, "!");
}

static void closer_is_a_stretch_round_now(void **state) {
    rig *r = *state;
    reload(r, 80, "time,target,do\n1,A-01,fountain\n41,A-02,comet\n");
    r->now->at.us = 30 * S;
    draw(r, 80, 2);
    assert_string_equal(row(r, 1), " !                                       !");
    sm_strip_zoom(r->strip, r->show, true); // 40 s: 20 to 60
    draw(r, 80, 2);
    assert_string_equal(row(r, 1), "                                          !");
    assert_non_null(strstr(row(r, 0), "2x 0:20.0 to 1:00.0"));
    for (int i = 0; i < 10; i++)
        sm_strip_zoom(r->strip, r->show, true);
    draw(r, 80, 2);
    assert_non_null(strstr(row(r, 0), "16x 0:27.5 to 0:32.5"));
    for (int i = 0; i < 4; i++)
        sm_strip_zoom(r->strip, r->show, false); // not one for each press beyond the least
    draw(r, 80, 2);
    assert_null(strstr(row(r, 0), "x 0:"));
    sm_strip_zoom(r->strip, r->show, false);
    draw(r, 80, 2);
    assert_string_equal(row(r, 1), " !                                       !");
}

static void a_column_is_a_moment(void **state) {
    rig *r = *state;
    sm_show_time at;
    reload(r, 80, "time,target,do\n1,A-01,fountain\n");
    assert_false(sm_strip_moment(r->strip, &r->view, 3, &at)); // not drawn yet
    draw(r, 80, 2);
    assert_true(sm_strip_moment(r->strip, &r->view, 0, &at));
    assert_int_equal(at.us, 0);
    assert_true(sm_strip_moment(r->strip, &r->view, 43, &at));
    assert_int_equal(at.us, 43 * S);
    assert_false(sm_strip_moment(r->strip, &r->view, 80, &at));
    assert_false(sm_strip_moment(r->strip, &r->view, -1, &at));
    r->now->mark_count = 1;
    r->now->marks[0].at.us = 43700 * MS;
    assert_true(sm_strip_moment(r->strip, &r->view, 43, &at));
    assert_int_equal(at.us, 43700 * MS); // the mark's own
    r->now->at.us = 30 * S;
    sm_strip_zoom(r->strip, r->show, true);
    draw(r, 80, 2);
    assert_true(sm_strip_moment(r->strip, &r->view, 1, &at));
    assert_int_equal(at.us, 20500 * MS);
}

// Between two columns nothing changes, so that nothing has to be sent; at any size nothing leaves the area.
static void it_stands_still_between_columns(void **state) {
    rig *r = *state;
    reload(r, 100, "time,target,do\n50,A-01,fountain\n");
    for (int closer = 0; closer < 3; closer++) {
        r->now->at.us = 40 * S + MS;
        draw(r, 100, 4);
        sm_cells *before = r->cells;
        r->cells = NULL;
        r->now->at.us += 200 * MS;
        draw(r, 100, 4);
        for (int y = 0; y < 4; y++) {
            for (int x = 0; x < 100; x++) {
                assert_string_equal(sm_cells_at(before, x, y)->text, sm_cells_at(r->cells, x, y)->text);
                assert_int_equal(sm_cells_at(before, x, y)->look, sm_cells_at(r->cells, x, y)->look);
            }
        }
        sm_cells_destroy(before);
        sm_strip_zoom(r->strip, r->show, true);
    }
    for (int columns = 1; columns < 60; columns++) {
        for (int rows = 1; rows < 7; rows++) {
            r->now->at.us = (sm_us)columns * 2 * S - 10 * S;
            draw(r, columns, rows);
        }
    }
}

int main(void) {
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_stretch_moves_by_halves),
        cmocka_unit_test(flames_are_those_of_the_timeline),
        cmocka_unit_test_setup_teardown(ticks_stand_where_things_are_seen, begin, end),
        cmocka_unit_test_setup_teardown(lights_are_as_dense_as_they_change, begin, end),
        cmocka_unit_test_setup_teardown(marks_and_the_repeat_have_their_places, begin, end),
        cmocka_unit_test_setup_teardown(closer_is_a_stretch_round_now, begin, end),
        cmocka_unit_test_setup_teardown(a_column_is_a_moment, begin, end),
        cmocka_unit_test_setup_teardown(it_stands_still_between_columns, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
