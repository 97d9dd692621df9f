// SPDX-License-Identifier: GPL-3.0-or-later
// Every alert is brought about in the engine, alone and in pairs, and taken away again. What must be told, in which rank and order: the
// product's own list, after 14 CFR 25.1322; no outside source for its words.
#include "support/alert_cases.h"

#include "slowmatch/inject.h"
#include "slowmatch/rig_explainer.h"

#include <assert.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void do_line(engine_run *run, const char *line) {
    bool injects = line[0] == '!';
    char *rest;
    if (alert_case_timecode(run->rehearsal, line))
        return;
    double at_s = strtod(line + injects, &rest);
    if (!injects) {
        if (engine_act(run, at_s, rest + 1) != SM_OK)
            fail_msg("%s: %s", line, sm_rehearsal_refusal(run->rehearsal));
        return;
    }
    sm_injection injection;
    char why[200];
    size_t fault;
    if (sm_injection_read(run->show, rest + 1, strlen(rest + 1), &injection, why, &fault) != SM_OK)
        fail_msg("%s: %s", line, why);
    sm_wall_time at = {(sm_us)(at_s * 1e6)};
    assert_int_equal(sm_rehearsal_inject(run->rehearsal, "e", &injection, at), SM_OK);
}

static void do_lines(engine_run *run, const char *lines) {
    char line[160];
    while (*lines) {
        size_t length = strcspn(lines, "\n");
        snprintf(line, sizeof line, "%.*s", (int)length, lines);
        do_line(run, line);
        lines += length + (lines[length] == '\n');
    }
}

typedef struct bench {
    sm_show *show;
    engine_run run;
    sm_alerts alerts;
    sm_rig_explainer rig;
    sm_text news; // "+people -people"
} bench;

static void begin(bench *b) {
    static const sm_rehearsal_options options = {.drill = true};
    *b = (bench){.show = engine_show(ALERT_CUES, alert_files)};
    engine_run_init(&b->run, b->show, &options);
}

static void end(bench *b) {
    engine_run_deinit(&b->run);
    sm_rig_explainer_deinit(&b->rig);
    sm_show_destroy(b->show);
    sm_text_deinit(&b->news);
}

static void hear(void *context, const sm_alert *alert, bool begins) {
    bench *b = context;
    sm_text_printf(&b->news, "%s%c%s", b->news.length > 0 ? " " : "", begins ? '+' : '-',
                   sm_alert_row_of(alert->id)->name);
}

// What stands at AT_S, ranks and order held.
static void look(bench *b, double at_s, const sm_alert_facts *facts) {
    engine_to(&b->run, at_s);
    const sm_snapshot *now = engine_look(&b->run);
    sm_alert_facts all = *facts;
    (void)sm_rig_explainer_look(&b->rig, now);
    all.swapped = b->rig.swapped;
    sm_alerts_look(&b->alerts, now, &all, hear, b);
    for (uint32_t i = 0; i < b->alerts.count; i++) {
        const sm_alert *alert = &b->alerts.at[i];
        assert_true(i == 0 || b->alerts.at[i - 1].id < alert->id);
        assert_true(alert->essential > 0 && alert->essential <= 22);
        assert_true(strlen(alert->words) >= alert->essential);
    }
}

// The latest row of the log about ID says that it BEGINS, or ends.
static void expect_row(const bench *b, sm_alert_id id, bool begins) {
    char about[64], says[64];
    const sm_alert_row *row = sm_alert_row_of(id);
    snprintf(about, sizeof about, ",engine,alert,,%s,", row->name);
    snprintf(says, sizeof says, "\"%s, %s: ", begins ? "begins" : "ends", sm_alert_rank_text(row->rank));
    const char *log = sm_text_get(&b->run.log), *last = NULL;
    for (const char *at = strstr(log, about); at; at = strstr(at + 1, about))
        last = at + strlen(about);
    assert_non_null(last);
    assert_memory_equal(last, says, strlen(says));
}

static void each_begins_is_told_and_ends(void **state) {
    (void)state;
    for (size_t i = 0; i < ALERT_CASES; i++) {
        const alert_case *c = &alert_cases[i];
        const sm_alert_facts facts = {0};
        bench b;
        begin(&b);
        do_lines(&b.run, c->lines);
        look(&b, c->at_s, &facts);
        const sm_alert *alert = sm_alerts_find(&b.alerts, c->id);
        if (!alert)
            fail_msg("%s does not stand; %s does", sm_alert_row_of(c->id)->name,
                     b.alerts.count > 0 ? b.alerts.at[0].words : "nothing");
        assert_memory_equal(alert->words, c->words, strlen(c->words));
        expect_row(&b, c->id, true);
        if (c->undo) {
            do_lines(&b.run, c->undo);
            look(&b, c->at_s, &facts);
            if (sm_alerts_find(&b.alerts, c->id))
                fail_msg("%s still stands", sm_alert_row_of(c->id)->name);
            char ended[48];
            snprintf(ended, sizeof ended, "-%s", sm_alert_row_of(c->id)->name);
            assert_non_null(strstr(sm_text_get(&b.news), ended));
            expect_row(&b, c->id, false);
        }
        end(&b);
    }
}

// Both stand that were brought about, whatever else does, and the one of the lower number is told first.
static void pairs_keep_their_order(void **state) {
    (void)state;
    const alert_case *running[] = {&alert_cases[SM_ALERT_PEOPLE], &alert_cases[SM_ALERT_LINK]};
    static const char *const also[] = {"!7 fire left\n", "!7 storm\n",    "!7 tip B-01\n",
                                       "7 wind 12\n",    "7 speed 0.5\n", "7 inhibit B-01\n"};
    static const sm_alert_id ids[] = {SM_ALERT_FIRE,         SM_ALERT_STORM, SM_ALERT_TIPPED,
                                      SM_ALERT_WIND_RUNNING, SM_ALERT_SPEED, SM_ALERT_HELD_BACK};
    for (size_t i = 0; i < 2; i++) {
        for (size_t k = 0; k < sizeof ids / sizeof ids[0]; k++) {
            const sm_alert_facts facts = {0};
            bench b;
            begin(&b);
            do_lines(&b.run, running[i]->lines);
            do_lines(&b.run, also[k]);
            look(&b, 7, &facts);
            assert_non_null(sm_alerts_find(&b.alerts, running[i]->id));
            // Without its link the module holds: it does not run.
            bool holds = running[i]->id == SM_ALERT_LINK && ids[k] == SM_ALERT_WIND_RUNNING;
            sm_alert_id id = holds ? SM_ALERT_WIND : ids[k];
            assert_non_null(sm_alerts_find(&b.alerts, id));
            assert_int_equal(b.alerts.at[0].id, running[i]->id < id ? running[i]->id : id);
            end(&b);
        }
    }
}

static void nothing_stands_where_nothing_is_wrong(void **state) {
    (void)state;
    const sm_alert_facts facts = {0};
    bench b;
    begin(&b);
    do_lines(&b.run, "0 safe\n0 safe\n1 call-clear J\n1 key on\n1 arm\n3 start\n");
    look(&b, 5, &facts);
    assert_int_equal(b.alerts.count, 0); // safe with nothing fired begins no wait
    end(&b);
}

// Somebody in the field with the key off, or the key on with nobody in, is how work is done.
static void the_key_is_told_only_with_somebody_in_the_field(void **state) {
    (void)state;
    static const char *const quiet[] = {"1 enter K\n", "1 key on\n", "1 key on\n2 enter K\n3 leave K\n"};
    const sm_alert_facts facts = {0};
    bench b;
    for (size_t i = 0; i < sizeof quiet / sizeof quiet[0]; i++) {
        begin(&b);
        do_lines(&b.run, quiet[i]);
        look(&b, 4, &facts);
        assert_int_equal(b.alerts.count, 0);
        end(&b);
    }
    begin(&b);
    do_lines(&b.run, ALERT_RUNNING "3 enter K\n4 safe\n");
    look(&b, 4, &facts);
    assert_int_equal(b.alerts.at[0].id, SM_ALERT_KEY_ON); // safe, and no more than that
    end(&b);
}

static void what_the_snapshot_cannot_know_is_told_too(void **state) {
    (void)state;
    const sm_time_of_day day = {.launch_us = 1781817240000000 +
                                             6 * 3600 * SM_US_PER_S}; // 2026-06-18T21:14:00Z and six hours
    const sm_alert_facts facts = {.day = &day,
                                  .age_not_proven = true,
                                  .sound_lost = true,
                                  .sounds = true,
                                  .show_changed = "cues.csv",
                                  .lights = "LIGHTS ON THE WIRE universe 1 to 10.9.0.2, by J",
                                  .not_kept = "no space left"};
    bench b;
    begin(&b);
    look(&b, 0, &facts);
    assert_string_equal(sm_alerts_find(&b.alerts, SM_ALERT_AGE)->words,
                        "AGE NOT PROVEN, TREAT AS ARMED: it may all be late");
    assert_string_equal(sm_alerts_find(&b.alerts, SM_ALERT_SILENT)->words, "SOUND LOST");
    assert_string_equal(sm_alerts_find(&b.alerts, SM_ALERT_READINGS_OLD)->words,
                        "READINGS OLD 1 of 1, the oldest 6 h 00 min, 1 from a file");
    assert_string_equal(sm_alerts_find(&b.alerts, SM_ALERT_SHOW_CHANGED)->words, "SHOW CHANGED: cues.csv");
    assert_string_equal(sm_alerts_find(&b.alerts, SM_ALERT_NOT_KEPT)->words, "NOT BEING KEPT: no space left");
    assert_non_null(sm_alerts_find(&b.alerts, SM_ALERT_OFFSET));
    assert_string_equal(sm_alerts_find(&b.alerts, SM_ALERT_LIGHTS)->words,
                        "LIGHTS ON THE WIRE universe 1 to 10.9.0.2, by J");
    do_line(&b.run, "1 measure A"); // taken now: old no more
    look(&b, 1, &facts);
    assert_null(sm_alerts_find(&b.alerts, SM_ALERT_READINGS_OLD));
    end(&b);
}

static void acknowledged_is_the_attention_never_the_fact(void **state) {
    (void)state;
    const sm_alert_facts facts = {0};
    bench b;
    begin(&b);
    do_lines(&b.run, alert_cases[SM_ALERT_PEOPLE].lines);
    look(&b, 7, &facts);
    assert_int_equal(sm_alerts_calls(&b.alerts), SM_ALERT_WARNING);
    sm_alerts_acknowledge(&b.alerts, SM_ALERT_PEOPLE);
    sm_alerts_acknowledge(&b.alerts, SM_ALERT_CLEAR_LAPSED);
    look(&b, 8, &facts);
    assert_int_equal(sm_alerts_calls(&b.alerts), 0);
    assert_non_null(sm_alerts_find(&b.alerts, SM_ALERT_PEOPLE));
    assert_true(sm_alerts_find(&b.alerts, SM_ALERT_PEOPLE)->since.us == 7 * SM_US_PER_S);
    do_lines(&b.run, "9 leave K\n");
    look(&b, 9, &facts);
    do_lines(&b.run, "10 enter M\n"); // another one: attention again
    look(&b, 10, &facts);
    assert_int_equal(sm_alerts_calls(&b.alerts), SM_ALERT_WARNING);
    end(&b);
}

static void the_longer_wait_holds_and_nothing_fired_waits_for_nothing(void **state) {
    (void)state;
    const sm_alert_facts facts = {0};
    bench b;
    begin(&b);
    do_lines(&b.run, ALERT_RUNNING "!2 misfire A-02\n");
    look(&b, 7, &facts);
    do_lines(&b.run, "8 safe\n8 key off\n9 report A-02\n");
    look(&b, 8 + 11 * 60, &facts); // over the 10 min, within the 30 min: live is live, reported or not
    assert_non_null(sm_alerts_find(&b.alerts, SM_ALERT_WAIT));
    look(&b, 24 + 30 * 60, &facts); // the flame's product is out by then
    assert_null(sm_alerts_find(&b.alerts, SM_ALERT_WAIT));
    end(&b);
}

// What begins or ends with time alone has its row at that very moment, however the time is stepped: in this show the enable opens at
// show 1 s, the flame is out at 7 s, so that it idles too long just after 17 s, wall 21 s; made safe at 22 s, the wait of 30 min for
// the misfire has run at 1822 s.
static void rows_come_at_their_moment_however_time_is_stepped(void **state) {
    (void)state;
    static const char lines[] = ALERT_RUNNING "!2 misfire A-02\n";
    static const char safe[] = "22 safe\n";
    static const double steps[] = {2000, 0.7, 0.05};
    sm_text first = {0};
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        bench b;
        begin(&b);
        do_lines(&b.run, lines);
        double at_s = 3;
        while (at_s < 22) {
            engine_to(&b.run, at_s);
            at_s += steps[i];
        }
        do_lines(&b.run, safe);
        at_s = 22;
        while (at_s < 2000) {
            engine_to(&b.run, at_s);
            at_s += steps[i] * 10;
        }
        engine_to(&b.run, 2000);
        const char *log = sm_text_get(&b.run.log);
        assert_non_null(strstr(log,
                               "\n5.500000,1.500000,engine,alert,,misfired,\"begins, CAUTION: MISFIRE A-02"
                               " NOT REPORTED, LIVE\",0\n"));
        assert_non_null(strstr(log, "\n21.000001,17.000001,engine,alert,,permit-open,\"begins, CAUTION: "));
        assert_non_null(strstr(log, "\n22.000000,,engine,alert,,permit-open,\"ends, CAUTION: "));
        assert_non_null(
            strstr(log, "\n22.000000,,engine,alert,,wait,\"begins, CAUTION: wait 00:00 of 30:00"));
        assert_non_null(strstr(log, "\n1822.000000,,engine,alert,,wait,\"ends, CAUTION: "));
        if (i == 0)
            sm_text_printf(&first, "%s", log);
        assert_string_equal(log, sm_text_get(&first));
        end(&b);
    }
    sm_text_deinit(&first);
}

// Nobody is told to do what is done already, or what the state refuses.
static void what_is_done_is_not_to_be_done(void **state) {
    (void)state;
    bench b;
    begin(&b);
    look(&b, 0, &(sm_alert_facts){0});
    const sm_snapshot *now = engine_look(&b.run);
    assert_string_equal(sm_alert_to_do(SM_ALERT_STRAY, now->state, now->key),
                        "unplug its rail, look what is there");
    assert_string_equal(sm_alert_to_do(SM_ALERT_TIPPED, now->state, now->key),
                        "all stay out; the licensed operator decides");
    assert_string_equal(sm_alert_to_do(SM_ALERT_UNHEARD, now->state, now->key),
                        "ask again by name; no answer is a hold");
    do_line(&b.run, "1 key on");
    look(&b, 1, &(sm_alert_facts){0});
    now = engine_look(&b.run);
    assert_string_equal(sm_alert_to_do(SM_ALERT_STRAY, now->state, now->key),
                        "key off, unplug its rail, look what is there");
    assert_string_equal(sm_alert_to_do(SM_ALERT_TIPPED, now->state, now->key),
                        "key off, all stay out; the licensed operator decides");
    do_line(&b.run, "2 call-clear J");
    do_line(&b.run, "3 arm");
    do_line(&b.run, "10 start");
    look(&b, 30, &(sm_alert_facts){0});
    now = engine_look(&b.run);
    assert_int_equal(now->state, SM_STATE_RUNNING);
    for (int id = 0; id < SM_ALERT_COUNT; id++)
        assert_string_equal(sm_alert_to_do((sm_alert_id)id, now->state, now->key),
                            sm_alert_row_of((sm_alert_id)id)->to_do);
    end(&b);
}

// slowmatch(1) lists every row of the table, as the table has it.
static void the_manual_lists_them(void **state) {
    (void)state;
    char *page = NULL;
    size_t length;
    assert_int_equal(sm_file_read("man/slowmatch.1", &page, &length), SM_OK);
    for (int id = 0; id < SM_ALERT_COUNT; id++) {
        const sm_alert_row *row = sm_alert_row_of((sm_alert_id)id);
        sm_text line = {0};
        sm_text_printf(&line, ": %s. To do (%s): %s.\n", row->when, row->who, row->to_do);
        if (!strstr(page, sm_text_get(&line)))
            fail_msg("slowmatch(1) has no line that says%s", sm_text_get(&line));
        sm_text_deinit(&line);
    }
    free(page);
}

int main(void) {
    static_assert(SM_ALERT_TIMECODE_WAITS == ALERT_CASES + 1,
                  "a case for all but readings, a follower's and the session's");
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_begins_is_told_and_ends),
        cmocka_unit_test(pairs_keep_their_order),
        cmocka_unit_test(nothing_stands_where_nothing_is_wrong),
        cmocka_unit_test(the_key_is_told_only_with_somebody_in_the_field),
        cmocka_unit_test(what_the_snapshot_cannot_know_is_told_too),
        cmocka_unit_test(acknowledged_is_the_attention_never_the_fact),
        cmocka_unit_test(rows_come_at_their_moment_however_time_is_stepped),
        cmocka_unit_test(what_is_done_is_not_to_be_done),
        cmocka_unit_test(the_manual_lists_them),
        cmocka_unit_test(the_longer_wait_holds_and_nothing_fired_waits_for_nothing),
    };
    return cmocka_run_group_tests_name("alerts", tests, NULL, NULL);
}
