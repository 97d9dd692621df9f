// SPDX-License-Identifier: GPL-3.0-or-later
// What rows of small shows come to: levels, moments, groups, lengths; readings and places afterwards.
#include "support/rig_show.h" // assert_near
#include "support/show_folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// The level that WRITTEN comes to.
static uint8_t level_of(const char *written) {
    char cues[64];
    uint32_t count;
    const show_folder folder = show_folder_make_small();
    snprintf(cues, sizeof cues, "time,target,do\n0,par-1,dim=%s\n", written);
    show_folder_put(&folder, "cues.csv", cues);
    sm_show *const show = show_folder_load(&folder, SM_OK);
    const uint8_t level = sm_event_levels(show, 0, &count)->level;
    assert_int_equal(count, 1);
    sm_show_destroy(show);
    show_folder_remove(&folder);
    return level;
}

// Per cent to 8 bits, halves up (product rule, no standard fixes it; the rows were recomputed).
static void rounds_percent_half_up(void **state) {
    (void)state;
    static const struct {
        const char *written;
        uint8_t level;
    } rows[] = {{"0%", 0},     {"1%", 3},    {"10%", 26},  {"25%", 64},  {"33%", 84},
                {"50%", 128},  {"66%", 168}, {"75%", 191}, {"90%", 230}, {"99%", 252},
                {"100%", 255}, {"255", 255}, {"007", 7}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(level_of(rows[i].written), rows[i].level);
}

// Drop-frame numbers (SMPTE ST 12-1, second-hand and recomputed) as moments of cues.
static void reads_drop_frame_moments(void **state) {
    (void)state;
    static const sm_us times_us[] = {60026633, 60060000, 599999400, 3599996400};
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "show.ini",
                    "[show]\ntitle = Drop\ntimecode-start = 00:00:00;00\ntimecode = 29.97\n");
    show_folder_put(&folder, "cues.csv",
                    "time,target,do\n00:00:59;29,par-1,dim=1\n00:01:00;02,par-1,dim=2\n"
                    "00:10:00;00,par-1,dim=3\n01:00:00;00,par-1,dim=4\n");
    sm_show *const show = show_folder_load(&folder, SM_OK);
    assert_true(show->settings.timecode.drop);
    for (uint32_t i = 0; i < 4; i++)
        assert_int_equal(show->cues[i].time_us, times_us[i]);
    sm_show_destroy(show);
    // Frame 00 of a dropped minute does not exist.
    show_folder_put(&folder, "cues.csv", "time,target,do\n00:01:00;00,par-1,dim=1\n");
    show_folder_load(&folder, SM_INVALID);
    show_folder_remove(&folder);
}

static void takes_the_defaults_of_a_table_that_is_not_there(void **state) {
    (void)state;
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "igniters.csv", NULL);
    sm_show *const show = show_folder_load(&folder, SM_OK);
    assert_int_equal(show->igniter_count, 1);
    assert_string_equal(show->igniters[0].name, "");
    assert_near(show->igniters[0].ohms, 1.6, 1e-12);
    assert_int_equal(show->igniters[0].lead.awg, 24);
    assert_int_equal(show->effects[0].igniter, 0);
    assert_near(show->settings.meter_offset_ohms, 0.2, 1e-12);
    assert_near(show->settings.copper_hot_c, 40, 1e-12);
    assert_true(isnan(show->settings.wind_limit_m_s));
    assert_int_equal(show->settings.reentry_wait_us, SM_UNSET_US);
    assert_int_equal(show->settings.arm_time_us, 3 * SM_US_PER_S);
    assert_int_equal(show->settings.countdown_us, 5 * SM_US_PER_S);
    assert_int_equal(show->settings.expect_events, -1);
    assert_int_equal(show->settings.expect_length_us, SM_UNSET_US);
    assert_int_equal(show->settings.paired_count, 1);
    assert_int_equal(show->settings.paired[0], 1);
    assert_int_equal(show->settings.timecode.rate, SM_TC_25);
    assert_int_equal(show->settings.timecode.start_frames, 90000);
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

// A show of lights alone needs two files beside its fixtures.
static void loads_a_show_without_pyro(void **state) {
    (void)state;
    static const char *const taken_away[] = {"modules.csv", "rails.csv",  "igniters.csv", "effects.csv",
                                             "feeds.csv",   "groups.csv", "lines.csv",    "positions.csv"};
    const show_folder folder = show_folder_make_small();
    for (size_t i = 0; i < sizeof taken_away / sizeof taken_away[0]; i++)
        show_folder_put(&folder, taken_away[i], NULL);
    show_folder_put(&folder, "cues.csv", "time,target,do\n2,par-1 par-2,red=10\n");
    sm_show *const show = show_folder_load(&folder, SM_OK);
    assert_int_equal(show->event_count, 2);
    assert_int_equal(show->slot_count, 0);
    sm_show_destroy(show);
    // And one with no cue yet.
    show_folder_put(&folder, "cues.csv", "time,target,do\n");
    sm_show *const empty = show_folder_load(&folder, SM_OK);
    assert_int_equal(empty->event_count, 0);
    assert_int_equal(empty->length_us, 0);
    sm_show_destroy(empty);
    show_folder_remove(&folder);
}

static sm_us length_of(const char *settings, const char *cues, sm_us audio_end_us) {
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "show.ini", settings);
    show_folder_put(&folder, "cues.csv", cues);
    sm_show *const show = show_folder_load(&folder, SM_OK);
    if (audio_end_us != SM_UNSET_US)
        sm_show_set_audio_end(show, audio_end_us);
    const sm_us length_us = show->length_us;
    sm_show_destroy(show);
    show_folder_remove(&folder);
    return length_us;
}

static void knows_how_long_the_show_is(void **state) {
    (void)state;
    static const char plain[] = "[show]\ntitle = L\n", given[] = "[show]\ntitle = L\nlength = 0:07\n";
    static const char cues[] = "time,target,do,fade,lasts\n1,par-1,dim=1,4,2\n2,A-01,comet,,\n";
    assert_int_equal(length_of(plain, cues, SM_UNSET_US), 5 * SM_US_PER_S); // 1 s and the fade of 4 s
    assert_int_equal(length_of(plain, "time,target,do,fade,lasts\n1,par-1,dim=1,1,5\n", SM_UNSET_US),
                     6 * SM_US_PER_S);
    assert_int_equal(length_of(plain, "time,target,do,lasts\n2,A-01,comet,9\n", SM_UNSET_US),
                     11 * SM_US_PER_S);
    assert_int_equal(length_of(plain, "time,target,do\n2,A-01,comet\n", SM_UNSET_US), 4 * SM_US_PER_S);
    assert_int_equal(length_of(plain, cues, 3 * SM_US_PER_S), 5 * SM_US_PER_S);
    assert_int_equal(length_of(plain, cues, 8 * SM_US_PER_S), 8 * SM_US_PER_S);
    assert_int_equal(length_of(given, cues, 8 * SM_US_PER_S), 7 * SM_US_PER_S);
}

static void expands_groups_in_order(void **state) {
    (void)state;
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "groups.csv",
                    "name,members\nodd,par-2 A-3\nall,jet-1 odd par-1\nA-team,A-08 A-1\n");
    show_folder_put(&folder, "cues.csv", "time,target,do\n0,A-team A-04,comet\n");
    sm_show *const show = show_folder_load(&folder, SM_OK);
    const sm_group *const all = &show->groups[1];
    assert_int_equal(all->member_count, 4);
    assert_int_equal(all->members[0].index, 2);
    assert_int_equal(all->members[1].index, 1);
    assert_int_equal(all->members[2].kind, SM_TARGET_SLOT);
    assert_int_equal(all->members[2].index, 2);
    assert_int_equal(all->members[3].index, 0);
    assert_int_equal(show->firing_count, 3);
    assert_int_equal(show->firings[0].slot, 7);
    assert_int_equal(show->firings[1].slot, 0);
    assert_int_equal(show->firings[2].slot, 3);
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

static void keeps_allow_comments(void **state) {
    (void)state;
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "show.ini",
                    "; allow audio-short: the rest is silence\n[show]\n# allow expect-differs\ntitle = A\n");
    show_folder_put(
        &folder, "cues.csv",
        "time,target,do\n# a remark\n#allow too-brief: a blink, wanted\n# allow two-at-once\n\n"
        "1,par-1,dim=1\n# allowed is another word\n2,par-1,dim=2\n# allow lead-unknown: at the end\n");
    sm_show *const show = show_folder_load(&folder, SM_OK);
    static const sm_allow expected[] = {
        {.file = "show.ini",
         .line = 1,
         .row_line = 2,
         .rule = "audio-short",
         .reason = "the rest is silence"},
        {.file = "show.ini", .line = 3, .row_line = 4, .rule = "expect-differs", .reason = ""},
        {.file = "cues.csv", .line = 3, .row_line = 6, .rule = "too-brief", .reason = "a blink, wanted"},
        {.file = "cues.csv", .line = 4, .row_line = 6, .rule = "two-at-once", .reason = ""},
        {.file = "cues.csv", .line = 9, .row_line = 0, .rule = "lead-unknown", .reason = "at the end"},
    };
    assert_int_equal(show->allow_count, sizeof expected / sizeof expected[0]);
    for (size_t i = 0; i < show->allow_count; i++) {
        assert_string_equal(show->allows[i].file, expected[i].file);
        assert_int_equal(show->allows[i].line, expected[i].line);
        assert_int_equal(show->allows[i].row_line, expected[i].row_line);
        assert_string_equal(show->allows[i].rule, expected[i].rule);
        assert_string_equal(show->allows[i].reason, expected[i].reason);
    }
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

static void remembers_cells_by_profile(void **state) {
    (void)state;
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "profiles.csv", "name,channels\npar,dim red\njet,red x dim\n");
    show_folder_put(&folder, "cues.csv",
                    "time,target,do\n0,par-1,dim=1 red=2\n1,jet-1,dim=1 red=2\n2,par-2,dim=1 red=2\n"
                    "3,jet-1 par-1,dim=1 red=2\n4,par-1,red=2  dim=1\n");
    sm_show *const show = show_folder_load(&folder, SM_OK);
    static const sm_level of_par[] = {{0, 1}, {1, 2}}, of_jet[] = {{0, 2}, {2, 1}};
    static const sm_level *const expected[] = {of_par, of_jet, of_par, of_jet, of_par, of_par};
    uint32_t count;
    for (uint32_t i = 0; i < 6; i++) {
        const sm_level *const levels = sm_event_levels(show, i, &count);
        assert_int_equal(count, 2);
        assert_memory_equal(levels, expected[i], 2 * sizeof *levels);
    }
    // What jets are told is not in the order of their channels: such cells are parsed once.
    assert_ptr_equal(sm_event_levels(show, 1, &count), sm_event_levels(show, 3, &count));
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

// ---- readings and places afterwards -----------------------------------------------

static void reads_another_readings_file(void **state) {
    (void)state;
    char path[128];
    sm_reading *rows = NULL;
    size_t count = 0;
    const show_folder folder = show_folder_make_small();
    sm_show *const show = show_folder_load(&folder, SM_OK);
    sm_arena *const texts = sm_arena_create();
    sm_findings *const findings = sm_findings_create();
    show_folder_put(&folder, "later.csv", "by,reading,slot,rail\nK,short,2,A\n,0.9,3,A\n");
    snprintf(path, sizeof path, "%s/later.csv", folder.path);
    assert_int_equal(sm_readings_load(show, path, findings, &rows, &count, texts), SM_OK);
    assert_int_equal(count, 2);
    assert_int_equal(rows[0].value.kind, SM_READ_SHORT);
    assert_string_equal(rows[0].by, "K");
    assert_int_equal(rows[1].slot, 2);
    free(rows);
    rows = NULL;
    show_folder_put(&folder, "later.csv", "rail,slot,reading\nB,2,short\n");
    assert_int_equal(sm_readings_load(show, path, findings, &rows, &count, texts), SM_INVALID);
    assert_string_equal(sm_findings_at(findings, 0)->rule, "rail-unknown");
    assert_string_equal(sm_findings_at(findings, 0)->file, path);
    show_folder_put(&folder, "later.csv", NULL);
    assert_int_equal(sm_readings_load(show, path, findings, &rows, &count, texts), SM_UNREADABLE);
    assert_null(rows);
    assert_int_equal(count, 2);
    sm_findings_destroy(findings);
    sm_arena_destroy(texts);
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

static void takes_a_readings_file_in_place_of_the_folders(void **state) {
    (void)state;
    char path[128];
    sm_show *show = NULL;
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "readings.csv", "rail,slot,reading\nA,1,open\n");
    show_folder_put(&folder, "fixed.csv", "rail,slot,reading\nA,1,1.6\nA,2,1.7\n");
    snprintf(path, sizeof path, "%s/fixed.csv", folder.path);
    sm_show_load_options options = {.readings_file = path};
    sm_findings *const findings = sm_findings_create();
    assert_int_equal(sm_show_load(folder.path, &options, findings, &show), SM_OK);
    assert_int_equal(show->reading_count, 2);
    sm_show_destroy(show);
    show = NULL;
    options.readings_file = "/tmp/there-is-no-such-file.csv";
    assert_int_equal(sm_show_load(folder.path, &options, findings, &show), SM_UNREADABLE);
    assert_string_equal(sm_findings_at(findings, 0)->file, "/tmp/there-is-no-such-file.csv");
    assert_null(show);
    sm_findings_destroy(findings);
    show_folder_remove(&folder);
}

static void tells_where_cells_stand(void **state) {
    (void)state;
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "show.ini", "[show]\ntitle   =   A\n[expect]\nevents = 3\n");
    show_folder_put(&folder, "cues.csv",
                    "# x\ntime,do,target,note\n1,dim=1,par-1,\"a\nb\"\n\n3,dim=1, \"par-2\",\n");
    sm_show *const show = show_folder_load(&folder, SM_OK);
    sm_place cues[] = {{2, "do", 0},   {3, "time", 0}, {3, "target", 0},
                       {3, "fade", 0}, {4, "do", 0},   {6, "target", 0}};
    assert_int_equal(sm_places_resolve(show, "cues.csv", cues, 6), SM_OK);
    static const uint32_t columns[] = {6, 1, 9, 0, 0, 10};
    for (size_t i = 0; i < 6; i++)
        assert_int_equal(cues[i].column, columns[i]);
    sm_place settings[] = {{2, "title", 0}, {4, "events", 0}};
    assert_int_equal(sm_places_resolve(show, "show.ini", settings, 2), SM_OK);
    assert_int_equal(settings[0].column, 13);
    assert_int_equal(settings[1].column, 10);
    show_folder_put(&folder, "cues.csv", "time,do,target\n1,dim=1,par-1\n");
    assert_int_equal(sm_places_resolve(show, "cues.csv", cues, 6), SM_OK);
    for (size_t i = 0; i < 6; i++)
        assert_int_equal(cues[i].column, 0); // it has changed
    show_folder_put(&folder, "cues.csv", NULL);
    assert_int_equal(sm_places_resolve(show, "cues.csv", cues, 6), SM_UNREADABLE);
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

static void formats_readings(void **state) {
    (void)state;
    char text[24];
    assert_string_equal(sm_read_value_format(text, (sm_read_value){.kind = SM_READ_NOTHING}), "");
    assert_string_equal(sm_read_value_format(text, (sm_read_value){.kind = SM_READ_OPEN}), "open");
    assert_string_equal(sm_read_value_format(text, (sm_read_value){.kind = SM_READ_SHORT}), "short");
    assert_string_equal(sm_read_value_format(text, (sm_read_value){.kind = SM_READ_OHMS, .ohms = 1.835}),
                        "1.83");
    assert_true(strlen(sm_read_value_format(text, (sm_read_value){.kind = SM_READ_OHMS, .ohms = 1e300})) <
                24);
}

// A cue's own aim goes before its effect's.
static void takes_the_aim_of_the_cue_before_the_effects(void **state) {
    (void)state;
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "effects.csv", "name,aim\nfountain,\ncomet,\"80 deg, left\"\n");
    show_folder_put(&folder, "cues.csv",
                    "time,target,do,aim\n1,A-01,comet,\n2,A-02,comet,up\n3,A-03,fountain,\n");
    sm_show *const show = show_folder_load(&folder, SM_OK);
    assert_string_equal(sm_firing_aim(show, &show->firings[0]), "80 deg, left");
    assert_string_equal(sm_firing_aim(show, &show->firings[1]), "up");
    assert_string_equal(sm_firing_aim(show, &show->firings[2]), "");
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rounds_percent_half_up),
        cmocka_unit_test(reads_drop_frame_moments),
        cmocka_unit_test(takes_the_defaults_of_a_table_that_is_not_there),
        cmocka_unit_test(loads_a_show_without_pyro),
        cmocka_unit_test(knows_how_long_the_show_is),
        cmocka_unit_test(expands_groups_in_order),
        cmocka_unit_test(keeps_allow_comments),
        cmocka_unit_test(remembers_cells_by_profile),
        cmocka_unit_test(reads_another_readings_file),
        cmocka_unit_test(takes_the_aim_of_the_cue_before_the_effects),
        cmocka_unit_test(takes_a_readings_file_in_place_of_the_folders),
        cmocka_unit_test(tells_where_cells_stand),
        cmocka_unit_test(formats_readings),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
