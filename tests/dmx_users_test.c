// SPDX-License-Identifier: GPL-3.0-or-later
// What the strip draws as flame, what the checks judge to burn and what the engine sends are one thing, to the microsecond: random
// cue lists of two flame units, judged by the summary of the checks, drawn by the strip, and played by the engine at the edges
// of every span that was drawn.
#include "boards/strip/strip.h"
#include "support/check_folder.h"

#include "slowmatch/engine.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { LISTS = 300, ROWS = 14, UNITS = 2, MOMENTS_MAX = 1000 };
#define COUNTDOWN_US (2 * SM_US_PER_S)

static unsigned below(uint64_t *seed, unsigned bound) {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return (unsigned)(*seed >> 16) % bound;
}

static void write_cues(const check_folder *folder, uint64_t *seed) {
    static const char *const targets[] = {"u1", "u2", "both"};
    sm_text text = {0};
    sm_text_printf(&text, "time,target,do,fade,lasts\n");
    for (unsigned r = 1 + below(seed, ROWS); r > 0; r--) {
        const unsigned which = 1 + below(seed, 3);
        sm_text_printf(&text, "%u.%03u,%s,", below(seed, 3), below(seed, 8) * 100 + below(seed, 3),
                       targets[below(seed, 3)]);
        if ((which & 1) != 0)
            sm_text_printf(&text, "permit=%u", below(seed, 256));
        if ((which & 2) != 0)
            sm_text_printf(&text, "%sflame=%u", which == 3 ? " " : "", below(seed, 256));
        sm_text_printf(&text, ",%u ms,%u ms\n", below(seed, 3) * 157, below(seed, 3) * 200 + below(seed, 3));
    }
    check_folder_write(folder, "cues.csv", sm_text_get(&text));
    sm_text_deinit(&text);
}

// How many units are drawn to burn at AT_US.
static unsigned drawn_at(const sm_strip_span *spans, size_t count, sm_us at_us) {
    unsigned drawn = 0;
    for (size_t i = 0; i < count; i++)
        drawn += at_us >= spans[i].from_us && at_us < spans[i].to_us;
    return drawn;
}

// How many burn by the levels on the wire: permit 128 to 200, flame 60 to 180, as the profile says.
static unsigned sent(const sm_snapshot *s) {
    unsigned burning = 0;
    for (unsigned unit = 0; unit < UNITS; unit++) {
        const uint8_t *levels = s->levels + s->show->fixtures[unit].channel_base;
        burning += levels[0] >= 128 && levels[0] <= 200 && levels[1] >= 60 && levels[1] <= 180;
    }
    return burning;
}

static int by_size(const void *a, const void *b) {
    const sm_us x = *(const sm_us *)a, y = *(const sm_us *)b;
    return (x > y) - (x < y);
}

static void act(const sm_show *show, sm_rehearsal *rehearsal, const char *line, sm_wall_time at) {
    sm_action action;
    char why[200];
    size_t fault;
    assert_int_equal(sm_action_read(show, line, strlen(line), &action, why, &fault), SM_OK);
    assert_int_equal(sm_rehearsal_act(rehearsal, &action, SM_SOURCE_SCRIPT, at), SM_OK);
}

// A running rehearsal, its show time 0 at wall *BEGINS.
static sm_rehearsal *run(const sm_show *show, sm_wall_time *begins) {
    sm_rehearsal *rehearsal;
    assert_int_equal(sm_rehearsal_create(show, &(sm_rehearsal_options){0}, &rehearsal), SM_OK);
    const sm_wall_time armed = {show->settings.arm_time_us};
    act(show, rehearsal, "call-clear", (sm_wall_time){0});
    act(show, rehearsal, "key on", (sm_wall_time){0});
    act(show, rehearsal, "arm", (sm_wall_time){0});
    act(show, rehearsal, "start", armed);
    begins->us = armed.us + COUNTDOWN_US;
    return rehearsal;
}

static void play(const sm_show *show, const sm_strip_span *spans, size_t count, int list) {
    sm_us moments[MOMENTS_MAX];
    size_t used = 0;
    sm_wall_time begins;
    sm_snapshot *snapshot;
    sm_rehearsal *rehearsal = run(show, &begins);
    assert_int_equal(sm_snapshot_create(show, &snapshot), SM_OK);
    for (size_t i = 0; i < count && used + 4 <= MOMENTS_MAX; i++) {
        const sm_us edges[] = {spans[i].from_us - 1, spans[i].from_us, spans[i].to_us - 1, spans[i].to_us};
        for (size_t e = 0; e < sizeof edges / sizeof edges[0]; e++)
            if (edges[e] >= 0 && edges[e] < show->length_us)
                moments[used++] = edges[e];
    }
    qsort(moments, used, sizeof moments[0], by_size);
    for (size_t i = 0; i < used; i++) {
        const sm_wall_time at = {begins.us + moments[i]};
        assert_int_equal(sm_rehearsal_run(rehearsal, at), SM_OK);
        sm_rehearsal_snapshot(rehearsal, at, snapshot);
        if (sent(snapshot) != drawn_at(spans, count, moments[i]))
            fail_msg("list %d at %lld us: %u burn, %u are drawn", list, (long long)moments[i], sent(snapshot),
                     drawn_at(spans, count, moments[i]));
    }
    sm_snapshot_destroy(snapshot);
    sm_rehearsal_destroy(rehearsal);
}

static void strip_checks_and_engine_agree(void **state) {
    (void)state;
    uint64_t seed = 0x5EED5u;
    unsigned burnt = 0;
    check_folder folder;
    check_folder_init(&folder, NULL);
    check_folder_write(&folder, "show.ini", "[show]\ntitle = Flames\nlength = 3\ncountdown = 2 s\n");
    check_folder_write(&folder, "profiles.csv",
                       "name,channels,home,hazard,enable,fire\njet,permit flame,0 0,flame,permit "
                       "128-200,flame 60-180\n");
    check_folder_write(&folder, "fixtures.csv", "name,profile,address\nu1,jet,1\nu2,jet,11\n");
    check_folder_write(&folder, "groups.csv", "name,members\nboth,u1 u2\n");
    for (int list = 0; list < LISTS; list++) {
        check_case test;
        sm_strip_span *spans;
        size_t count;
        double judged_s = 0, drawn_s = 0;
        write_cues(&folder, &seed);
        check_case_init(&test, &folder, NULL);
        assert_int_equal(sm_strip_flames(test.show, &spans, &count), SM_OK);
        for (unsigned unit = 0; unit < UNITS; unit++)
            judged_s += test.report->summary->units[unit].burn_s;
        for (size_t i = 0; i < count; i++)
            drawn_s += (double)(spans[i].to_us - spans[i].from_us) / (double)SM_US_PER_S;
        if (fabs(judged_s - drawn_s) > 1e-7)
            fail_msg("list %d: %.6f s are judged, %.6f s drawn", list, judged_s, drawn_s);
        play(test.show, spans, count, list);
        burnt += count > 0;
        free(spans);
        check_case_deinit(&test);
    }
    assert_in_range(burnt, LISTS / 3, LISTS);
    check_folder_deinit(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(strip_checks_and_engine_agree)};
    return cmocka_run_group_tests_name("dmx_users", tests, NULL, NULL);
}
