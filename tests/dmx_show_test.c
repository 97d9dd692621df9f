// SPDX-License-Identifier: GPL-3.0-or-later
// The timeline of shows that were read from their folders: fixtures of different profiles under one cue, and the demo show.
#include "slowmatch/dmx.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static const struct {
    const char *name, *text;
} files[] = {
    {"show.ini", "[show]\ntitle = Two kinds of lamps\n"},
    {"profiles.csv", "name,channels,home\nsmall,dim red,0 9\nlarge,mode red blue dim,7 8 0 1\n"},
    {"fixtures.csv", "name,profile,address\nS,small,1\nL,large,10\n"},
    {"groups.csv", "name,members\nboth,S L\n"},
    {"cues.csv", "time,target,do,fade,lasts\n"
                 "1,both,dim=50% red=200,,3\n"
                 "2,L,blue=100,2,\n"
                 "3,both,red=100,1,\n"},
};

static sm_show *load(const char *folder) {
    sm_findings *findings = sm_findings_create();
    assert_non_null(findings);
    static const sm_show_load_options options = {0};
    sm_show *show = NULL;
    sm_result result = sm_show_load(folder, &options, findings, &show);
    for (size_t i = 0; i < sm_findings_count(findings); i++)
        print_message("%s\n", sm_findings_at(findings, i)->message);
    assert_int_equal(result, SM_OK);
    sm_findings_destroy(findings);
    return show;
}

static sm_show *load_files(void) {
    char folder[] = "/tmp/slowmatch-dmx-XXXXXX";
    assert_non_null(mkdtemp(folder));
    char path[96];
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, files[i].name);
        FILE *file = fopen(path, "w");
        assert_non_null(file);
        assert_true(fputs(files[i].text, file) >= 0);
        assert_int_equal(fclose(file), 0);
    }
    sm_show *show = load(folder);
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, files[i].name);
        unlink(path);
    }
    rmdir(folder);
    return show;
}

static uint8_t level_of(const sm_show *show, const sm_dmx_timeline *timeline, const char *fixture,
                        const char *channel, sm_us at_us) {
    const sm_fixture *row = &show->fixtures[sm_fixture_find(show, fixture)];
    const sm_profile *profile = &show->profiles[row->profile];
    uint32_t number = 0;
    while (strcmp(profile->channels[number], channel) != 0)
        assert_true(++number < profile->channel_count);
    sm_show_time at = {at_us};
    sm_dmx_channel state = sm_dmx_channel_at(timeline, row->channel_base + number, at, true);
    return sm_dmx_channel_level(&state, at);
}

static void a_cue_over_two_profiles_tells_each_by_its_own_channels(void **state) {
    (void)state;
    static const struct {
        const char *fixture, *channel;
        sm_us at_us;
        uint8_t level;
    } points[] = {
        {"S", "dim", 999999, 0},    {"L", "dim", 999999, 1},    {"S", "red", 999999, 9},
        {"L", "red", 999999, 8},    {"L", "mode", 999999, 7},   {"S", "dim", 1000000, 128},
        {"L", "dim", 1000000, 128}, {"S", "red", 1000000, 200}, {"L", "red", 1000000, 200},
        {"L", "mode", 1000000, 7},  {"L", "blue", 3000000, 50}, {"L", "blue", 4000000, 100},
        {"S", "red", 3500000, 150}, {"L", "red", 3500000, 150}, {"S", "red", 4000000, 100},
        {"L", "red", 9000000, 100}, {"S", "dim", 3999999, 128}, {"S", "dim", 4000000, 0},
        {"L", "dim", 3999999, 128}, {"L", "dim", 4000000, 1},   {"L", "mode", 9000000, 7},
    };
    sm_show *show = load_files();
    sm_dmx_timeline *timeline = NULL;
    assert_int_equal(sm_dmx_timeline_create(show, &timeline), SM_OK);
    for (size_t i = 0; i < sizeof points / sizeof *points; i++)
        assert_int_equal(level_of(show, timeline, points[i].fixture, points[i].channel, points[i].at_us),
                         points[i].level);
    sm_dmx_timeline_destroy(timeline);
    sm_show_destroy(show);
}

// Every level that an event tells is one step of its channel, in order of due time, and no other step is there.
static void the_demo_show_has_a_step_for_every_level(void **state) {
    (void)state;
    sm_show *show = load("demo-shows/lantern-quay");
    sm_dmx_timeline *timeline = NULL;
    assert_int_equal(sm_dmx_timeline_create(show, &timeline), SM_OK);
    size_t told = 0, steps = 0;
    for (uint32_t e = 0; e < show->event_count; e++) {
        uint32_t count;
        sm_event_levels(show, e, &count);
        told += count;
    }
    for (uint32_t c = 0; c < show->channel_count; c++) {
        size_t count;
        const sm_dmx_step *of_channel = sm_dmx_steps(timeline, c, &count);
        for (size_t i = 1; i < count; i++) {
            sm_us before_us = sm_event_due_us(show, of_channel[i - 1].event);
            sm_us due_us = sm_event_due_us(show, of_channel[i].event);
            assert_true(before_us < due_us ||
                        (before_us == due_us && of_channel[i - 1].event < of_channel[i].event));
        }
        steps += count;
    }
    assert_true(told > 200);
    assert_int_equal(steps, told);
    sm_dmx_timeline_destroy(timeline);
    sm_show_destroy(show);
}

int main(void) {
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cue_over_two_profiles_tells_each_by_its_own_channels),
        cmocka_unit_test(the_demo_show_has_a_step_for_every_level),
    };
    return cmocka_run_group_tests_name("dmx_show", tests, NULL, NULL);
}
