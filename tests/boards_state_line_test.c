// SPDX-License-Identifier: GPL-3.0-or-later
// The state line, to the letter, for every state.
#include "boards/words/state_line.h"
#include "support/short_show.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S
// 2026-06-20 21:00:00 UTC: what rehearsal time 0 is.
#define LAUNCH_S INT64_C(1781989200)

typedef struct rig {
    short_show files;
    sm_show *show;
    sm_snapshot *now;
    sm_time_of_day day;
    uint32_t a1, a2, b1, a4; // slots
} rig;

static uint32_t slot(const rig *r, const char *name) {
    uint32_t number;
    assert_int_equal(sm_slot_find(r->show, name, strlen(name), &number), SM_OK);
    return number;
}

static int begin(void **state) {
    rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    short_show_make(&r->files, "12 s");
    sm_findings *findings = sm_findings_create();
    assert_int_equal(sm_show_load(r->files.folder, &(sm_show_load_options){0}, findings, &r->show), SM_OK);
    sm_findings_destroy(findings);
    assert_int_equal(sm_snapshot_create(r->show, &r->now), SM_OK);
    r->day.launch_us = LAUNCH_S * S;
    r->a1 = slot(r, "A-01");
    r->a2 = slot(r, "A-02");
    r->b1 = slot(r, "B-01");
    r->a4 = slot(r, "A-04");
    r->now->show = r->show;
    r->now->speed_ppm = 1000000;
    r->now->next_firing = SM_NONE;
    r->now->wait_since.us = SM_UNSET_US;
    r->now->wall.us = 1440 * S; // 21:24
    r->now->rail_plugged[0] = r->now->rail_plugged[1] = true;
    for (uint32_t i = 0; i < r->show->slot_count; i++)
        r->now->slots[i].phase = r->show->slot_firings[i] == SM_NONE ? SM_SLOT_SPARE : SM_SLOT_WAITING;
    *state = r;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    sm_snapshot_destroy(r->now);
    sm_show_destroy(r->show);
    short_show_remove(&r->files);
    free(r);
    return 0;
}

static void expect(const rig *r, const char *word, const char *text) {
    sm_text line = {0};
    sm_state_line got = sm_state_line_format(r->now, &r->day, &line);
    assert_string_equal(sm_text_get(&line), text);
    assert_int_equal(got.word_at, strlen("REHEARSAL "));
    assert_int_equal(got.word_length, strlen(word));
    assert_memory_equal(sm_text_get(&line) + got.word_at, word, strlen(word));
    assert_int_equal(got.armed, strcmp(word, "SAFE") != 0 && strcmp(word, "ARMING") != 0);
    sm_text_deinit(&line);
}

static void person(rig *r, const char *name, sm_us since) {
    sm_person *p = &r->now->people[r->now->people_count++];
    snprintf(p->name, sizeof p->name, "%s", name);
    p->since.us = since;
}

static void burn(rig *r, uint32_t number, sm_us left) {
    r->now->burning[r->now->burning_count++] =
        (sm_burning){0, number, {r->now->wall.us - S}, {r->now->wall.us + left}};
    r->now->slots[number].phase = SM_SLOT_BURNING;
}

// The firing of SLOT comes next.
static void next(rig *r, uint32_t number) {
    r->now->next_firing = r->show->firings[r->show->slot_firings[number]].event;
}

static void lapsed(rig *r) {
    snprintf(r->now->clear_lapse, sizeof r->now->clear_lapse, "K went in");
    r->now->clear_at.us = 1380 * S; // 21:23
    sm_guard_status *clear = &r->now->guards[SM_GUARD_CLEAR];
    clear->word = SM_GUARD_NOT_MET;
    snprintf(clear->why, sizeof clear->why, "lapsed: K went in");
}

static void safe(void **state) {
    rig *r = *state;
    expect(r, "SAFE", "REHEARSAL SAFE key OFF LIVE 3");
    person(r, "K", 840 * S);
    person(r, "M", 900 * S);
    expect(r, "SAFE", "REHEARSAL SAFE key OFF IN FIELD 2: K 21:14, M 21:15 LIVE 3");
    r->now->key = true;
    r->now->people_count = 0;
    r->now->rail_plugged[1] = false; // B-01 hangs on it
    expect(r, "SAFE", "REHEARSAL SAFE key ON LIVE 3 (1 on rails out)");
}

static void expect_wait(const rig *r, const char *text) {
    sm_text wait = {0};
    (void)sm_wait_describe(r->now, &wait);
    assert_string_equal(sm_text_get(&wait), text);
    sm_text_deinit(&wait);
}

static void waits(void **state) {
    rig *r = *state;
    expect_wait(r, "");
    r->now->misfired = 2;
    r->now->wait_since.us = r->now->wall.us - 250 * S;
    expect_wait(r, "wait 04:10 of 30:00 since made safe (your setting)");
    expect(r, "SAFE", "REHEARSAL SAFE key OFF LIVE 3"); // it is an alert's
    r->now->wait_since.us = r->now->wall.us - 1800 * S;
    expect_wait(r, "wait 30:00 of 30:00 has run since made safe (your setting)");
    r->now->state = SM_STATE_ENDED;
    expect_wait(r, "wait of 30:00 not begun (your setting)");
    r->now->state = SM_STATE_SAFE;
    r->now->misfired = 0;
    r->now->wait_since.us = r->now->wall.us - 4000 * S;
    r->show->settings.reentry_wait_us = SM_UNSET_US;
    expect_wait(r, "waited 1:06:40 since made safe, NO LIMIT SET (reentry-wait)");
    r->now->key = true;
    expect_wait(r, "waited 1:06:40, BEGINS AGAIN AT KEY OFF, NO LIMIT SET (reentry-wait)");
    r->now->state = SM_STATE_ENDED;
    expect_wait(r, "wait not begun, NO LIMIT SET (reentry-wait)");
}

static void made_safe(void **state) {
    rig *r = *state;
    snprintf(r->now->made_safe_at, sizeof r->now->made_safe_at, "0:43.200");
    burn(r, r->b1, 11 * S + S / 2);
    expect(r, "SAFE", "REHEARSAL SAFE key OFF LIVE 2, MADE SAFE AT 0:43.200, START BEGINS AT 0:00.000");
}

static void arming(void **state) {
    rig *r = *state;
    r->now->state = SM_STATE_ARMING;
    r->now->arming_ends.us = r->now->wall.us + 2 * S;
    r->now->clear_called = true;
    r->now->clear_at.us = 1200 * S;
    snprintf(r->now->clear_who, sizeof r->now->clear_who, "J");
    expect(r, "ARMING", "REHEARSAL ARMING 2.0 s clear called by J 21:20");
    r->now->clear_called = false;
    lapsed(r);
    expect(r, "ARMING", "REHEARSAL ARMING 2.0 s"); // that it lapsed is an alert's
}

static void armed(void **state) {
    rig *r = *state;
    r->now->state = SM_STATE_ARMED;
    r->show->settings.countdown_us = 5 * S;
    expect(r, "ARMED", "REHEARSAL ARMED START BEGINS AT 0:00.000 after 5 s");
    r->now->place.us = 20 * S + S / 2;
    expect(r, "ARMED", "REHEARSAL ARMED START BEGINS AT 0:20.500 after 5 s");
    lapsed(r);
    expect(r, "ARMED", "REHEARSAL ARMED START WOULD BE REFUSED: clear");
}

static void starts_by_itself(void **state) {
    rig *r = *state;
    r->now->state = SM_STATE_ARMED;
    r->show->settings.countdown_us = 5 * S;
    r->now->starts_at.us = 1800 * S; // 21:30:00
    expect(r, "ARMED",
           "REHEARSAL ARMED STARTS BY ITSELF AT 21:30:00, in 06:00, BEGINS AT 0:00.000 after 5 s");
    r->now->starts_at.us = SM_UNSET_US;
    snprintf(r->now->start_cancelled, sizeof r->now->start_cancelled, "K went in");
    r->now->start_cancelled_at.us = 1380 * S;
    lapsed(r);
    expect(r, "ARMED",
           "REHEARSAL ARMED, START BY ITSELF CANCELLED 21:23: K went in START WOULD BE REFUSED: clear");
}

static void flames_burn_too(void **state) {
    rig *r = *state;
    r->now->state = SM_STATE_RUNNING;
    uint32_t jet = sm_fixture_find(r->show, "jet-1");
    burn(r, r->b1, S);
    memset(r->now->levels + r->show->fixtures[jet].channel_base, 255, 2);
    expect(r, "RUNNING", "REHEARSAL RUNNING no firing to come, in flight 0, burning 2 (flames 1)");
    r->now->state = SM_STATE_ENDED;
    r->now->burning_count = 0;
    expect(r, "ENDED", "REHEARSAL ENDED STILL ARMED misfired 0, passed over 0, make safe, key off");
}

// The next firing of a repeat lies behind: it comes after the jump.
static void next_across_a_repeat(void **state) {
    rig *r = *state;
    r->now->state = SM_STATE_RUNNING;
    r->now->repeat_on = true;
    r->now->repeat_from.us = S / 10;
    r->now->repeat_to.us = S / 2;
    r->now->at.us = 4 * S / 10;
    next(r, r->a1); // 0.2 s: 0.1 s to the end, 0.1 s from the beginning
    expect(r, "RUNNING", "REHEARSAL RUNNING next A-01 in 0.2 s, in flight 0, burning 0");
}

static void running(void **state) {
    rig *r = *state;
    r->now->state = SM_STATE_RUNNING;
    r->now->at.us = 0;
    next(r, r->a1); // fires at 0.2 s
    r->now->flying = 1;
    burn(r, r->b1, S);
    r->now->burning_count = 2;
    expect(r, "RUNNING", "REHEARSAL RUNNING next A-01 in 0.2 s, in flight 1, burning 2");
    r->now->speed_ppm = 100000; // a tenth of the speed: ten times as long
    expect(r, "RUNNING", "REHEARSAL RUNNING next A-01 in 2.0 s, in flight 1, burning 2");
    r->now->speed_ppm = 1000000;
    r->now->at.us = -3 * S;
    r->now->counting_down = true;
    expect(r, "RUNNING", "REHEARSAL RUNNING COUNT 3.0 s, next A-01 in 3.2 s, in flight 1, burning 2");
    r->now->counting_down = false;
    r->now->slots[r->a2].phase = SM_SLOT_MISFIRED;
    r->now->misfired = 1;
    expect(r, "RUNNING", "REHEARSAL RUNNING next A-01 in 3.2 s, in flight 1, burning 2");
    r->now->misfired = 0;
    r->now->slots[r->a2].phase = SM_SLOT_WAITING;
    r->now->next_firing = SM_NONE;
    r->now->flying = r->now->burning_count = 0;
    r->now->repeat_on = r->now->repeat_rerig = true;
    r->now->repeat_from.us = S;
    r->now->repeat_to.us = 61 * S;
    expect(r, "RUNNING", "REHEARSAL RUNNING no firing to come, in flight 0, burning 0");
    lapsed(r);
    person(r, "K", 1380 * S);
    expect(r, "RUNNING", "REHEARSAL RUNNING IN FIELD 1 no firing to come, in flight 0, burning 0");
    r->now->state = SM_STATE_PAUSED;
    expect(r, "PAUSED", "REHEARSAL PAUSED STILL ARMED IN FIELD 1 RESUME WOULD BE REFUSED: clear");
}

static void paused(void **state) {
    rig *r = *state;
    r->now->state = SM_STATE_PAUSED;
    next(r, r->a2); // fires at 0.5 s
    r->now->at.us = S / 10;
    burn(r, r->a1, 12 * S);
    expect(r, "PAUSED", "REHEARSAL PAUSED STILL ARMED RESUME FIRES A-02 0.4 s after the count");
    r->now->next_firing = SM_NONE;
    expect(r, "PAUSED", "REHEARSAL PAUSED STILL ARMED RESUME FIRES nothing more");
}

static void ended(void **state) {
    rig *r = *state;
    r->now->state = SM_STATE_ENDED;
    r->now->misfired = 2;
    r->now->passed = 1;
    expect(r, "ENDED",
           "REHEARSAL ENDED STILL ARMED misfired 2, passed over 1: LIVE, make safe, key off, report by slot");
    r->now->misfired = 0;
    expect(r, "ENDED", "REHEARSAL ENDED STILL ARMED misfired 0, passed over 1: LIVE, make safe, key off");
    r->now->passed = 0;
    burn(r, r->b1, 3 * S);
    expect(r, "ENDED", "REHEARSAL ENDED STILL ARMED misfired 0, passed over 0, make safe, key off");
}

// Whatever stands in the show and however many it is, the line is whole and says REHEARSAL and the state first.
static void many_of_everything(void **state) {
    rig *r = *state;
    for (int i = 0; i < SM_PEOPLE_MAX; i++)
        person(r, "Somebody with a long name indeed, written out", i * S);
    for (uint32_t i = 0; i < r->show->slot_count; i++)
        r->now->slots[i].phase = SM_SLOT_MISFIRED;
    r->now->misfired = r->show->slot_count;
    sm_text line = {0};
    sm_state_line_format(r->now, &r->day, &line);
    assert_false(line.failed);
    static const char begins[] = "REHEARSAL SAFE key OFF IN FIELD 64: ";
    assert_memory_equal(sm_text_get(&line), begins, sizeof begins - 1);
    sm_text_deinit(&line);
}

static void times_for_people(void **state) {
    (void)state;
    char buffer[24];
    assert_string_equal(sm_countdown_format(0, buffer), "0.0 s");
    assert_string_equal(sm_countdown_format(-5, buffer), "0.0 s");
    assert_string_equal(sm_countdown_format(1, buffer), "0.1 s"); // never 0 before it is
    assert_string_equal(sm_countdown_format(9900000, buffer), "9.9 s");
    assert_string_equal(sm_countdown_format(9900001, buffer), "10 s");
    assert_string_equal(sm_countdown_format(12 * S, buffer), "12 s");
    assert_string_equal(sm_countdown_format(12 * S + 1, buffer), "13 s");
    assert_string_equal(sm_wait_format(-1, buffer), "00:00");
    assert_string_equal(sm_wait_format(250 * S + 999999, buffer), "04:10");
    assert_string_equal(sm_wait_format(3600 * S, buffer), "1:00:00");
    assert_string_equal(sm_age_format(59 * S, buffer), "59 s");
    assert_string_equal(sm_age_format(60 * S, buffer), "1 min");
    assert_string_equal(sm_age_format(3660 * S, buffer), "1 h 01 min");
    assert_string_equal(sm_age_format(((sm_us)48 * 3600 - 1) * S, buffer), "47 h 59 min");
    assert_string_equal(sm_age_format((sm_us)48 * 3600 * S, buffer), "2 days");
    assert_string_equal(sm_age_format((sm_us)163 * 24 * 3600 * S, buffer), "163 days");
    char clock[16];
    sm_time_of_day day = {LAUNCH_S * S};
    assert_string_equal(sm_time_of_day_minute(&day, (sm_wall_time){0}, clock), "21:00");
    assert_string_equal(sm_time_of_day_second(&day, (sm_wall_time){3 * 3600 * S + 5 * S}, clock), "00:00:05");
}

int main(void) {
    setenv("TZ", "UTC", 1);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(safe, begin, end),
        cmocka_unit_test_setup_teardown(waits, begin, end),
        cmocka_unit_test_setup_teardown(made_safe, begin, end),
        cmocka_unit_test_setup_teardown(arming, begin, end),
        cmocka_unit_test_setup_teardown(armed, begin, end),
        cmocka_unit_test_setup_teardown(starts_by_itself, begin, end),
        cmocka_unit_test_setup_teardown(flames_burn_too, begin, end),
        cmocka_unit_test_setup_teardown(next_across_a_repeat, begin, end),
        cmocka_unit_test_setup_teardown(running, begin, end),
        cmocka_unit_test_setup_teardown(paused, begin, end),
        cmocka_unit_test_setup_teardown(ended, begin, end),
        cmocka_unit_test_setup_teardown(many_of_everything, begin, end),
        cmocka_unit_test(times_for_people),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
