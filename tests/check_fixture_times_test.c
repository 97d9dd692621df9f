// SPDX-License-Identifier: GPL-3.0-or-later
// The one walk over the fixture events against the timeline of the DMX part, which is made another way: random cue lists,
// judged channel by channel by trying every step, and flame by sampling the two channels' levels.
#include "support/check_folder.h"

#include "slowmatch/dmx.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { LISTS = 1500, ROWS = 12, SAMPLE_US = 250, LENGTH_S = 3 };

static uint64_t next_random(uint64_t *seed) {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return *seed;
}

static unsigned below(uint64_t *seed, unsigned bound) {
    return (unsigned)(next_random(seed) >> 16) % bound;
}

// Rows for the fixtures u1 and u2 (group both), channels FIRST and SECOND. Times lie close, so that rows meet.
static void write_cues(const check_folder *folder, uint64_t *seed, const char *first, const char *second) {
    static const char *const targets[] = {"u1", "u2", "both"};
    static const unsigned levels[] = {0, 1, 100, 128, 255};
    sm_text text = {0};
    sm_text_printf(&text, "time,target,do,fade,lasts\n");
    const unsigned rows = 1 + below(seed, ROWS);
    for (unsigned r = 0; r < rows; r++) {
        const unsigned which = 1 + below(seed, 3);
        sm_text_printf(&text, "0.%03u,%s,", below(seed, 8) * 100 + below(seed, 3) * below(seed, 2),
                       targets[below(seed, 3)]);
        if ((which & 1) != 0)
            sm_text_printf(&text, "%s=%u", first, levels[below(seed, 5)]);
        if ((which & 2) != 0)
            sm_text_printf(&text, "%s%s=%u", which == 3 ? " " : "", second, levels[below(seed, 5)]);
        sm_text_printf(&text, ",%u ms,%u ms\n", below(seed, 3) * 150, below(seed, 3) * 200 + below(seed, 3));
    }
    check_folder_write(folder, "cues.csv", sm_text_get(&text));
    sm_text_deinit(&text);
}

// ---- lamps: two-at-once and too-brief ----------------------------------------------------------

typedef struct channel_steps {
    const sm_show *show;
    const sm_dmx_step *steps;
    size_t count;
    uint8_t home;
} channel_steps;

static const sm_cue *cue_of(const channel_steps *c, size_t step) {
    return &c->show->cues[c->show->events[c->steps[step].event].cue];
}

static uint64_t row_of(const channel_steps *c, size_t step) {
    return UINT64_C(1) << (cue_of(c, step)->line - 2);
}

static bool returns_by(const channel_steps *c, size_t step, sm_us at_us) {
    const sm_cue *cue = cue_of(c, step);
    return cue->lasts_us > 0 && cue->time_us + cue->lasts_us <= at_us;
}

static uint64_t clashes_of(const channel_steps *c) {
    uint64_t rows = 0;
    for (size_t i = 1; i < c->count; i++) {
        const sm_cue *before = cue_of(c, i - 1), *now = cue_of(c, i);
        const bool fading =
            now->time_us < before->time_us + before->fade_us && !returns_by(c, i - 1, now->time_us);
        if (now->time_us == before->time_us || fading)
            rows |= before->line > now->line ? row_of(c, i - 1) : row_of(c, i);
    }
    return rows;
}

// What the channel is told to be once all due at AT_US is done, the steps up to STEP alone taken.
static uint8_t aim_after(const channel_steps *c, size_t step, sm_us at_us) {
    return returns_by(c, step, at_us) ? c->home : c->steps[step].to;
}

static uint64_t briefs_of(const channel_steps *c, sm_us least_us) {
    uint64_t rows = 0;
    for (size_t i = 0; i < c->count; i++) {
        const sm_us begins_us = cue_of(c, i)->time_us;
        const uint8_t level = c->steps[i].to;
        if ((i > 0 ? aim_after(c, i - 1, begins_us) : c->home) == level)
            continue;
        sm_us ends_us = INT64_MAX;
        for (size_t j = i; j < c->count && ends_us == INT64_MAX; j++) {
            const sm_us next_us = j + 1 < c->count ? cue_of(c, j + 1)->time_us : INT64_MAX;
            if (returns_by(c, j, next_us)) {
                if (c->home != level)
                    ends_us = cue_of(c, j)->time_us + cue_of(c, j)->lasts_us;
                else if (j + 1 < c->count && c->steps[j + 1].to != level)
                    ends_us = next_us;
            } else if (j + 1 < c->count && c->steps[j + 1].to != level) {
                ends_us = next_us;
            }
        }
        if (ends_us > begins_us && ends_us - begins_us < least_us)
            rows |= row_of(c, i);
    }
    return rows;
}

static void lamps_agree_with_trying_every_step(void **state) {
    (void)state;
    uint64_t seed = 0xC0FFEE5u, clashing = 0, brief = 0;
    check_folder folder;
    check_folder_init(&folder, NULL);
    check_folder_write(&folder, "show.ini", "[show]\ntitle = Lamps\n");
    check_folder_write(&folder, "profiles.csv", "name,channels,home\nlamp,a b,0 100\n");
    check_folder_write(&folder, "fixtures.csv", "name,profile,address\nu1,lamp,1\nu2,lamp,101\n");
    check_folder_write(&folder, "groups.csv", "name,members\nboth,u1 u2\n");
    for (int i = 0; i < LISTS; i++) {
        check_case test;
        sm_dmx_timeline *timeline;
        uint64_t clashes = 0, briefs = 0;
        write_cues(&folder, &seed, "a", "b");
        check_case_init(&test, &folder, NULL);
        assert_int_equal(sm_dmx_timeline_create(test.show, &timeline), SM_OK);
        for (uint32_t c = 0; c < test.show->channel_count; c++) {
            channel_steps channel = {.show = test.show, .home = c % 2 == 0 ? 0 : 100};
            channel.steps = sm_dmx_steps(timeline, c, &channel.count);
            clashes |= clashes_of(&channel);
            briefs |= briefs_of(&channel, 80000);
        }
        if (check_case_rows(&test, "two-at-once") != clashes || check_case_rows(&test, "too-brief") != briefs)
            check_case_print(&test);
        assert_int_equal(check_case_rows(&test, "two-at-once"), clashes);
        assert_int_equal(check_case_rows(&test, "too-brief"), briefs);
        clashing += clashes != 0;
        brief += briefs != 0;
        sm_dmx_timeline_destroy(timeline);
        check_case_deinit(&test);
    }
    assert_true(clashing > LISTS / 10 && clashing < LISTS && brief > LISTS / 20 && brief < LISTS);
    check_folder_deinit(&folder);
}

// ---- by several hands ----------------------------------------------------------------------------

static void backwards(sm_piece *piece, void *context, size_t count) {
    while (count-- > 0)
        piece(context, count);
}

// All that the check of SHOW says, with hands or without.
static void say_all(const sm_show *show, const char *folder, sm_together *together, sm_text *out) {
    sm_check_report *report = NULL;
    const sm_check_options options = {.audio_end_us = SM_UNSET_US, .together = together};
    assert_int_equal(sm_check_report_create(show, folder, NULL, &options, &report), SM_OK);
    sm_check_format_json(out, report);
    sm_check_report_destroy(report);
}

// The members of the group are not in the order of their numbers: which of them a finding names hangs on the order of events.
static void hands_find_the_same_in_the_same_order(void **state) {
    (void)state;
    uint64_t seed = 0x5A4D5u, with_findings = 0;
    check_folder folder;
    check_folder_init(&folder, NULL);
    check_folder_write(&folder, "show.ini", "[show]\ntitle = Hands\nlength = 3\n");
    check_folder_write(&folder, "profiles.csv",
                       "name,channels,home,hazard,enable,fire,burn\nlamp,a b,0 100,,,,\njet,a b,0 0,flame,a "
                       "128-255,b 100-255,10\n");
    check_folder_write(&folder, "fixtures.csv",
                       "name,profile,address\nu1,lamp,1\nu2,jet,11\nu3,lamp,21\nu4,jet,31\nu5,lamp,41\n"
                       "u6,lamp,51\nu7,jet,61\n");
    check_folder_write(&folder, "groups.csv", "name,members\nboth,u6 u3 u7 u1 u4 u5\n");
    for (int i = 0; i < LISTS / 3; i++) {
        check_case test;
        sm_text alone = {0}, by_hands = {0};
        write_cues(&folder, &seed, "a", "b");
        check_case_init(&test, &folder, NULL);
        say_all(test.show, folder.path, NULL, &alone);
        say_all(test.show, folder.path, backwards, &by_hands);
        assert_string_equal(sm_text_get(&by_hands), sm_text_get(&alone));
        with_findings +=
            check_case_count(&test, "two-at-once") > 1 && check_case_count(&test, "too-brief") > 1;
        sm_text_deinit(&alone);
        sm_text_deinit(&by_hands);
        check_case_deinit(&test);
    }
    assert_true(with_findings > LISTS / 30);
    check_folder_deinit(&folder);
}

// ---- flames: what burns ---------------------------------------------------------------------------

static uint8_t level_at(const sm_dmx_timeline *timeline, uint32_t channel, sm_us at_us) {
    const sm_show_time at = {at_us};
    const sm_dmx_channel state = sm_dmx_channel_at(timeline, channel, at, true);
    return sm_dmx_channel_level(&state, at);
}

typedef struct sampled {
    double burn_s;
    unsigned edges;   // each may be off by a sample
    bool not_enabled; // for two samples in a row at least
} sampled;

static sampled sample_flame(const sm_show *show, const sm_dmx_timeline *timeline, uint32_t fixture) {
    const uint32_t base = show->fixtures[fixture].channel_base;
    sampled found = {0};
    bool was_burning = false, was_dry = false;
    long burning_samples = 0;
    for (sm_us at_us = 0; at_us < LENGTH_S * SM_US_PER_S; at_us += SAMPLE_US) {
        const bool fire = level_at(timeline, base + 1, at_us) >= 100,
                   enable = level_at(timeline, base, at_us) >= 128;
        found.not_enabled = found.not_enabled || (fire && !enable && was_dry);
        was_dry = fire && !enable;
        found.edges += (fire && enable) != was_burning;
        was_burning = fire && enable;
        burning_samples += was_burning;
    }
    found.burn_s = (double)burning_samples * SAMPLE_US / (double)SM_US_PER_S;
    return found;
}

static void flames_agree_with_sampled_levels(void **state) {
    (void)state;
    uint64_t seed = 0xF1A3Eu, burnt = 0, dry = 0;
    check_folder folder;
    check_folder_init(&folder, NULL);
    check_folder_write(&folder, "show.ini", "[show]\ntitle = Flames\nlength = 3 \n");
    check_folder_write(&folder, "profiles.csv",
                       "name,channels,home,hazard,enable,fire,burn\njet,permit flame,0 0,flame,permit "
                       "128-255,flame 100-255,10\n");
    check_folder_write(&folder, "fixtures.csv", "name,profile,address\nu1,jet,1\nu2,jet,11\n");
    check_folder_write(&folder, "groups.csv", "name,members\nboth,u1 u2\n");
    for (int i = 0; i < LISTS / 10; i++) {
        check_case test;
        sm_dmx_timeline *timeline;
        bool not_enabled = false;
        write_cues(&folder, &seed, "permit", "flame");
        check_case_init(&test, &folder, NULL);
        assert_int_equal(sm_dmx_timeline_create(test.show, &timeline), SM_OK);
        assert_int_equal(test.report->summary->unit_count, 2);
        for (uint32_t f = 0; f < 2; f++) {
            const sampled expected = sample_flame(test.show, timeline, f);
            const sm_check_unit *unit = &test.report->summary->units[f];
            if (fabs(unit->burn_s - expected.burn_s) > (expected.edges + 1) * SAMPLE_US / (double)SM_US_PER_S)
                fail_msg("list %d: burns %.6f s, sampled %.6f s", i, unit->burn_s, expected.burn_s);
            assert_true(fabs(unit->used_ml - 10.0 * unit->burn_s) < 1e-9);
            not_enabled = not_enabled || expected.not_enabled;
            burnt += unit->burn_s > 0;
        }
        if (not_enabled)
            assert_true(check_case_count(&test, "flame-not-enabled") > 0);
        dry += not_enabled;
        sm_dmx_timeline_destroy(timeline);
        check_case_deinit(&test);
    }
    assert_true(burnt > LISTS / 100 && dry > LISTS / 100);
    check_folder_deinit(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lamps_agree_with_trying_every_step),
        cmocka_unit_test(hands_find_the_same_in_the_same_order),
        cmocka_unit_test(flames_agree_with_sampled_levels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
