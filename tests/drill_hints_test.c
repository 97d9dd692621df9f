// SPDX-License-Identifier: GPL-3.0-or-later
// Every hint of every drill and seat, at every moment of a run that does what the hints and the brief say: none tells what only the file
// knows, and none contradicts what is so. What a trainee can know is held against the rows of the log and the snapshot, not against the
// code that makes the hints.
#include "boards/words/alert_line.h"
#include "session/drill_view.h"
#include "support/drill_play.h"
#include "support/drill_scripts.h"

#include "slowmatch/alerts.h"

#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

typedef struct watcher {
    const sm_drill *drill;
    sm_drill_run *run;
    char known[20000]; // all that was told, heard, read or seen
    uint32_t hints;
    sm_us opened_us[64]; // an expectation each: seen to be open first, SM_UNSET_US: not yet
    bool heard[8];       // a name each of who must answer
} watcher;

static void learn(watcher *w, const char *text) {
    size_t used = strlen(w->known);
    if (strstr(w->known, text))
        return;
    assert_true(used + strlen(text) + 2 < sizeof w->known);
    snprintf(w->known + used, sizeof w->known - used, "%s\n", text);
}

// Who has said that they are outside since clear lapsed or anybody went in, by the rows alone.
static void follow_crew(watcher *w, const sm_log_row *row) {
    bool lapsed = row->kind.what == SM_LOG_GUARD && strcmp(row->target, "clear") == 0;
    bool went_in = sm_log_is_act(row->kind, SM_ACT_ENTER) ||
                   (row->kind.what == SM_LOG_EVENT && strcmp(row->detail, "person in-field") == 0);
    if (lapsed || went_in)
        memset(w->heard, 0, sizeof w->heard);
    char line[500], call[120], false_clear[120];
    snprintf(line, sizeof line, "%s %s", sm_log_is_act(row->kind, SM_ACT_CALL) ? "call" : "",
             row->kind.what == SM_LOG_EVENT ? row->detail : row->target);
    for (uint32_t i = 0; i < w->drill->answer_count; i++) {
        snprintf(call, sizeof call, "call %s", w->drill->answers[i]);
        snprintf(false_clear, sizeof false_clear, "false-clear %s", w->drill->answers[i]);
        if ((strstr(line, call) && (strstr(row->detail, "out") || strstr(row->detail, "clear"))) ||
            strstr(line, false_clear))
            w->heard[i] = true;
    }
}

// What stands in the log may be read, but for what is planted where nobody can see it.
static void hear(void *context, const sm_log_row *row) {
    watcher *w = context;
    char line[500];
    follow_crew(w, row);
    bool planted = row->kind.what == SM_LOG_EVENT || row->kind.what == SM_LOG_MARK;
    if (planted || sm_log_is_act(row->kind, SM_ACT_HINT))
        return;
    snprintf(line, sizeof line, "%s %s", row->target, row->detail);
    learn(w, line);
}

// What is seen and heard of the events that have come, and which slots a meter has shown to be other than they should be.
static void learn_seen(watcher *w) {
    const sm_show *show = w->drill->show;
    for (uint32_t i = 0; i < w->drill->event_count; i++) {
        sm_wall_time at;
        sm_text told = {0};
        const sm_injection *in = &w->drill->events[i].injection;
        if (sm_drill_event_came(w->run, i, &at) &&
            (sm_injection_tell(show, in, &told) || in->what == SM_INJECT_CALL)) {
            learn(w, sm_text_get(&told));
            learn(w, in->text);
            learn(w, in->who);
        }
        sm_text_deinit(&told);
    }
}

// What would fly in this wind stands in the cue list.
static void learn_what_flies(watcher *w) {
    const sm_alert *wind = sm_alerts_find(sm_rehearsal_alerts(sm_drill_rehearsal(w->run)), SM_ALERT_WIND);
    learn(w, wind ? wind->words : "");
}

static bool is_read_bad(const watcher *w, uint32_t slot) {
    return sm_verdict_refuses(sm_rehearsal_verdict_read(sm_drill_rehearsal(w->run), slot));
}

// Every slot that the hint names is known: it was told, it misfired in sight, or a meter has shown it.
static void no_slot_is_given_away(const watcher *w, const char *hint) {
    const sm_show *show = w->drill->show;
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        char name[48];
        sm_slot_format(show, slot, name);
        if (strstr(hint, name) && !strstr(w->known, name) && !is_read_bad(w, slot))
            fail_msg("%s as %s: \"%s\" names %s, which nobody could know", w->drill->name,
                     sm_drill_seat_text(w->drill->seat), hint, name);
    }
}

static bool everyone_was_heard(const watcher *w) {
    bool all = true;
    for (uint32_t i = 0; i < w->drill->answer_count; i++)
        all = all && w->heard[i];
    return all;
}

// What the hint says is so: nobody is said to have answered who was never heard, no key goes on with people in, nothing is measured, armed or
// started then, and no hands go to a plugged rail.
static void nothing_is_contradicted(const watcher *w, const char *hint, sm_act act) {
    const sm_facts f = sm_rehearsal_facts(sm_drill_rehearsal(w->run));
    bool off = f.state == SM_STATE_SAFE && !f.key;
    bool wrong =
        (strstr(hint, "Everyone has answered") && !everyone_was_heard(w)) ||
        (f.people > 0 && (act == SM_ACT_KEY_ON || act == SM_ACT_MEASURE || act == SM_ACT_ARM ||
                          act == SM_ACT_START || act == SM_ACT_RESUME || act == SM_ACT_CALL_CLEAR)) ||
        (!off &&
         (act == SM_ACT_ENTER || act == SM_ACT_UNPLUG || act == SM_ACT_PLUG || act == SM_ACT_REPAIR)) ||
        (!f.clear_called && (act == SM_ACT_ARM || act == SM_ACT_START)) || act == SM_ACT_WAIVE ||
        act == SM_ACT_RERIG;
    if (wrong)
        fail_msg("%s as %s, %s, key %s, %u in the field: \"%s\"", w->drill->name,
                 sm_drill_seat_text(w->drill->seat), sm_state_text(f.state), f.key ? "on" : "off", f.people,
                 hint);
    if (sm_drill_not_theirs(w->drill, act) && act != SM_ACT_COUNT)
        fail_msg("%s as %s: \"%s\" is not theirs to do", w->drill->name, sm_drill_seat_text(w->drill->seat),
                 hint);
}

// While a warning stands whose words begin with a stop, the lead's hint is a stop: people in the field come before any order of work.
static void a_warning_is_answered_first(const watcher *w, const char *hint, sm_act act) {
    const sm_rehearsal *r = sm_drill_rehearsal(w->run);
    const sm_alerts *alerts = sm_rehearsal_alerts(r);
    const sm_facts f = sm_rehearsal_facts(r);
    bool warned = alerts->count > 0 && sm_alert_row_of(alerts->at[0].id)->rank == SM_ALERT_WARNING &&
                  (f.key || f.state != SM_STATE_SAFE) && alerts->at[0].id != SM_ALERT_HOLD;
    bool stops = act == SM_ACT_SAFE || act == SM_ACT_KEY_OFF || act == SM_ACT_PAUSE;
    if (warned && !stops && w->drill->seat == SM_SEAT_LEAD && !sm_drill_is_over(w->run) &&
        !sm_drill_is_held(w->run))
        fail_msg("%s: \"%s\" stands, and the hint is \"%s\"", w->drill->name, alerts->at[0].words, hint);
}

// Nor is a task hinted at that was there before the warning, in any seat, and nothing leads on towards arming or into the field.
static void no_older_task_stands_before_a_warning(const watcher *w, const char *hint, sm_act act) {
    const sm_alerts *alerts = sm_rehearsal_alerts(sm_drill_rehearsal(w->run));
    const sm_alert *first = alerts->count > 0 ? &alerts->at[0] : NULL;
    if (!first || sm_alert_row_of(first->id)->rank != SM_ALERT_WARNING || sm_drill_is_over(w->run))
        return;
    bool stops = act == SM_ACT_SAFE || act == SM_ACT_KEY_OFF || act == SM_ACT_PAUSE;
    for (uint32_t i = 0; i < w->drill->expect_count && !stops; i++)
        if (strcmp(hint, w->drill->expects[i].hint) == 0 && w->opened_us[i] != SM_UNSET_US &&
            w->opened_us[i] < first->since.us)
            fail_msg("%s as %s: \"%s\" stands, and the hint is the older \"%s\"", w->drill->name,
                     sm_drill_seat_text(w->drill->seat), first->words, hint);
    static const sm_act on[] = {SM_ACT_CALL_CLEAR, SM_ACT_KEY_ON, SM_ACT_ARM,  SM_ACT_START,
                                SM_ACT_RESUME,     SM_ACT_ENTER,  SM_ACT_PLUG, SM_ACT_MEASURE};
    for (size_t i = 0; i < sizeof on / sizeof on[0]; i++)
        if (act == on[i])
            fail_msg("%s as %s: \"%s\" stands, and the hint is \"%s\"", w->drill->name,
                     sm_drill_seat_text(w->drill->seat), first->words, hint);
}

// What the boards call next is the hint, and no step of their own beside it.
static void next_is_the_hint(const watcher *w, const char *hint) {
    sm_drill_view drill_view;
    sm_drill_view_fill(&drill_view, w->run);
    const sm_view view = {.drill = &drill_view}; // nothing else is looked at
    sm_text text = {0};
    bool told = w->drill->hints == SM_HINTS_FULL;
    assert_int_equal(sm_next_step_describe(&view, &text), told);
    assert_string_equal(sm_text_get(&text), told ? hint : "");
    sm_text_deinit(&text);
}

static void learn_opened(watcher *w) {
    for (uint32_t i = 0; i < w->drill->expect_count; i++)
        if (w->opened_us[i] == SM_UNSET_US && sm_drill_mark_at(w->run, i).came)
            w->opened_us[i] = sm_rehearsal_facts(sm_drill_rehearsal(w->run)).now.us;
}

static void look(watcher *w) {
    char hint[240];
    sm_act act = sm_drill_hint(w->run, hint);
    learn_opened(w);
    learn_seen(w);
    learn_what_flies(w);
    no_slot_is_given_away(w, hint);
    nothing_is_contradicted(w, hint, act);
    a_warning_is_answered_first(w, hint, act);
    no_older_task_stands_before_a_warning(w, hint, act);
    if (!sm_drill_is_over(w->run))
        next_is_the_hint(w, hint);
    w->hints++;
}

static void act_on(watcher *w, const char *line, sm_wall_time at) {
    sm_action action;
    char why[200];
    size_t fault;
    if (sm_action_read(w->drill->show, line, strlen(line), &action, why, &fault) != SM_OK)
        fail_msg("%s: %s: %s", w->drill->name, line, why);
    sm_result result = sm_drill_act(w->run, &action, SM_SOURCE_CONSOLE, at);
    assert_true(result == SM_OK || result == SM_REFUSED);
}

// The target that an open expectation gives to ACT: a newcomer reads it in the hint's sentence.
static const char *asked_target(const watcher *w, sm_act act, const char *hint) {
    static char name[48];
    for (uint32_t slot = 0; slot < w->drill->show->slot_count; slot++)
        if (strstr(hint, sm_slot_format(w->drill->show, slot, name)))
            return name;
    for (uint32_t i = 0; i < w->drill->expect_count; i++) {
        const sm_drill_mark mark = sm_drill_mark_at(w->run, i);
        if (mark.came && !mark.decided && w->drill->expects[i].action.act == act)
            return w->drill->expects[i].action.target;
    }
    return "";
}

static bool needs_target(sm_act act) {
    return act == SM_ACT_INHIBIT || act == SM_ACT_REPORT || act == SM_ACT_UNPLUG || act == SM_ACT_PLUG ||
           act == SM_ACT_REPAIR;
}

static void type(watcher *w, sm_act act, const char *hint, char line[128]) {
    drill_play_follow_hint(act, hint, line);
    bool bare = strcmp(line, sm_action_row_of(act)->name) == 0;
    if (act == SM_ACT_WIND)
        strcpy(line, "wind 6 m/s"); // as every meter of the course shows in the lull
    else if (bare && needs_target(act))
        snprintf(line, 128, "%s %.60s", sm_action_row_of(act)->name,
                 asked_target(w, act, hint)[0] != '\0' ? asked_target(w, act, hint) : "A");
}

static void begin_to_watch(watcher *w, const sm_drill *drill) {
    *w = (watcher){.drill = drill};
    for (size_t i = 0; i < sizeof w->opened_us / sizeof w->opened_us[0]; i++)
        w->opened_us[i] = SM_UNSET_US;
    for (uint32_t i = 0; i < drill->brief_count; i++)
        learn(w, drill->briefs[i]);
}

// The first hint knows what began with the drill: no rail is unplugged before anything was read.
static void the_first_hint_waits_for_the_meter(void **state) {
    watcher w;
    char hint[240];
    sm_drill *drill = drill_play_load(*state, "02-one-bad-igniter");
    begin_to_watch(&w, drill);
    const sm_drill_options options = {.seed = (uint64_t)drill->seed, .waits = true};
    assert_int_equal(sm_drill_run_create(drill, &options, &w.run), SM_OK);
    act_on(&w, "go-drill", (sm_wall_time){0});
    assert_int_equal(sm_drill_hint(w.run, hint), SM_ACT_MEASURE);
    sm_drill_run_destroy(w.run);
    sm_drill_destroy(drill);
}

// Follows the hint after PATIENCE looks, half a second apart, until the drill is over or nothing moves any more.
static void follow_a_drill(const sm_drill *drill, int patience) {
    watcher w;
    begin_to_watch(&w, drill);
    const sm_drill_options options = {
        .seed = (uint64_t)drill->seed, .sink = hear, .sink_context = &w, .waits = true};
    assert_int_equal(sm_drill_run_create(drill, &options, &w.run), SM_OK);
    act_on(&w, "go-drill", (sm_wall_time){0}); // as on the console, once its question is answered
    look(&w);
    for (int step = 0; step < 700; step++) {
        const sm_wall_time at = {step * SM_US_PER_S / 2};
        char hint[240], line[128];
        assert_int_equal(sm_drill_run_to(w.run, at), SM_OK);
        look(&w);
        sm_act act = sm_drill_hint(w.run, hint);
        if (step % patience != 0 || act == SM_ACT_COUNT || act == SM_ACT_QUIT)
            continue;
        type(&w, act, hint, line);
        act_on(&w, line, at);
        look(&w);
    }
    assert_int_equal(sm_drill_rules_broken(w.run), 0); // whoever follows the hints breaks none
    assert_true(w.hints >= 700);
    sm_drill_run_destroy(w.run);
}

static void every_hint_of_every_drill_and_seat(void **state) {
    sm_arena *arena = sm_arena_create();
    const char *const *names;
    size_t count;
    assert_int_equal(sm_drill_names(*state, arena, &names, &count), SM_OK);
    for (size_t i = 0; i < count; i++)
        for (int seat = 0; seat < SM_SEAT_COUNT; seat++)
            for (int patience = 2; patience <= 10; patience += 4) {
                sm_drill *drill = drill_play_load(*state, names[i]);
                assert_int_equal(sm_drill_sit(drill, (sm_drill_seat)seat), SM_OK);
                follow_a_drill(drill, patience);
                sm_drill_destroy(drill);
            }
    sm_arena_destroy(arena);
}

static void look_at(void *context, sm_drill_run *run) {
    watcher *w = context;
    w->run = run;
    look(w);
}

// The perfect script of DRILL without its line LEFT_OUT, which whoever takes it puts off for ever. False: it has no such line.
static bool put_off_a_line(const sm_drill *drill, int left_out) {
    watcher w;
    char script[2000] = "";
    const char *at = drill_script_perfect(drill->name, drill->seat), *out = NULL;
    for (int line = 0; *at != '\0'; line++) {
        size_t length = strcspn(at, "\n") + 1;
        if (line == left_out)
            out = at;
        else
            strncat(script, at, length);
        at += length;
    }
    begin_to_watch(&w, drill);
    const drill_play_options options = {
        .seed = (uint64_t)drill->seed, .sink = hear, .sink_context = &w, .look = look_at};
    if (out)
        sm_drill_run_destroy(drill_play(drill, script, &options));
    return out != NULL;
}

static void every_hint_while_a_task_is_put_off(void **state) {
    sm_arena *arena = sm_arena_create();
    const char *const *names;
    size_t count;
    assert_int_equal(sm_drill_names(*state, arena, &names, &count), SM_OK);
    for (size_t i = 0; i < count; i++)
        for (int seat = 0; seat < SM_SEAT_COUNT; seat++) {
            sm_drill *drill = drill_play_load(*state, names[i]);
            assert_int_equal(sm_drill_sit(drill, (sm_drill_seat)seat), SM_OK);
            int line = 0;
            while (put_off_a_line(drill, line))
                line++;
            assert_true(line >= 3);
            sm_drill_destroy(drill);
        }
    sm_arena_destroy(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_hint_of_every_drill_and_seat),
                                       cmocka_unit_test(every_hint_while_a_task_is_put_off),
                                       cmocka_unit_test(the_first_hint_waits_for_the_meter)};
    return cmocka_run_group_tests_name("hints", tests, drill_play_load_demo, drill_play_drop_demo);
}
