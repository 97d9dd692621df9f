// SPDX-License-Identifier: GPL-3.0-or-later
// The state machine enumerated whole: every state, every action, every set of guards not met. What is allowed where, what is asked and
// what it does is written down here a second time, from the format's page.
#include "support/engine_run.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
// Rails A and B are in use, C is not. A-01 fires at 1 s, A-02 at 5 s; F1's enable and fire are open from 1 s on.
static const char cues[] =
    "1,A-01,fountain,,\n1,F1,permit=255 flame=200,,\n5,A-02,fountain,,\n50,B-01,mine,,\n";

enum {
    SAFE = 1 << SM_STATE_SAFE,
    ARMED = 1 << SM_STATE_ARMED,
    RUNNING = 1 << SM_STATE_RUNNING,
    PAUSED = 1 << SM_STATE_PAUSED,
    ALL = (1 << SM_STATE_COUNT) - 1,
    KEY = 1 << SM_GUARD_KEY,
    FIELD = 1 << SM_GUARD_FIELD,
    CLEAR = 1 << SM_GUARD_CLEAR,
    RAILS = 1 << SM_GUARD_RAILS,
    READINGS = 1 << SM_GUARD_READINGS,
    NEVER_HERE = 1 << 30, // refused here: nobody has called a hold, no two rails are of one size
    STAYS = -1            // the state afterwards is the state before
};

typedef struct act_rule {
    sm_act act;
    const char *text;
    int allowed; // states
    int asks;    // guards
    int leads_to;
    int needs_unmet; // refused unless this guard is not met: K can only leave when reported in the field
} act_rule;

// "only in a drill" is everywhere else a refusal: allowed nowhere.
static const act_rule rules[] = {
    {SM_ACT_KEY_ON, "key on", ALL, 0, STAYS, 0},
    {SM_ACT_KEY_OFF, "key off", ALL, 0, SM_STATE_SAFE, 0},
    {SM_ACT_CALL_CLEAR, "call-clear M", ALL, FIELD, STAYS, 0},
    {SM_ACT_ARM, "arm", SAFE, KEY | FIELD | CLEAR | RAILS | READINGS, SM_STATE_ARMING, 0},
    {SM_ACT_START, "start", ARMED, KEY | FIELD | CLEAR, SM_STATE_RUNNING, 0},
    {SM_ACT_START_IN, "start-in 90 s", ARMED, KEY | FIELD | CLEAR, STAYS, 0},
    {SM_ACT_START_IN_OFF, "start-in off", ALL, 0, STAYS, 0},
    {SM_ACT_PAUSE, "pause", RUNNING, 0, SM_STATE_PAUSED, 0},
    {SM_ACT_RESUME, "resume", PAUSED, KEY | FIELD | CLEAR, SM_STATE_RUNNING, 0},
    {SM_ACT_HOLD, "hold M smoke", ALL, 0, STAYS, 0}, // but arming and running: see check_act
    {SM_ACT_LIFT, "lift M J", ALL, 0, STAYS, NEVER_HERE},
    {SM_ACT_SAFE, "safe", ALL, 0, SM_STATE_SAFE, 0},
    {SM_ACT_SEEK, "seek 4", SAFE | ARMED | RUNNING | PAUSED, 0, STAYS, 0},
    {SM_ACT_SPEED, "speed 0.5", ALL, 0, STAYS, 0},
    {SM_ACT_REPEAT, "repeat 1 3", ALL, 0, STAYS, 0},
    {SM_ACT_REPEAT_OFF, "repeat off", ALL, 0, STAYS, 0},
    {SM_ACT_MARK, "mark here", ALL, 0, STAYS, 0},
    {SM_ACT_RERIG, "rerig", SAFE, 0, STAYS, 0},
    {SM_ACT_INHIBIT, "inhibit B-02", ALL, 0, STAYS, 0},
    {SM_ACT_ALLOW, "allow B", SAFE | PAUSED, 0, STAYS, 0},
    {SM_ACT_PLUG, "plug C", ALL, 0, STAYS, 0},
    {SM_ACT_UNPLUG, "unplug B", ALL, 0, STAYS, 0},
    {SM_ACT_EXCHANGE, "exchange A B", SAFE, 0, STAYS, NEVER_HERE},
    {SM_ACT_REPAIR, "repair B-01", ALL, 0, STAYS, 0},
    {SM_ACT_ENTER, "enter M", ALL, 0, STAYS, 0},
    {SM_ACT_LEAVE, "leave K", ALL, 0, STAYS, FIELD},
    {SM_ACT_MEASURE, "measure", SAFE, 0, STAYS, 0},
    {SM_ACT_READ, "read B-01 1.9", ALL, 0, STAYS, 0},
    {SM_ACT_KEEP_READINGS, "keep-readings K", ALL, 0, STAYS, 0},
    {SM_ACT_REPORT, "report A-01", ALL, 0, STAYS, 0},
    {SM_ACT_WIND, "wind 3", ALL, 0, STAYS, 0},
    {SM_ACT_WAIVE, "waive readings A-02 by K", SAFE, 0, STAYS, 0},
    {SM_ACT_TICK, "tick item yes", ALL, 0, STAYS, 0},
    {SM_ACT_SIGN, "sign M", ALL, 0, STAYS, 0},
    {SM_ACT_NOTE, "note text", ALL, 0, STAYS, 0},
    {SM_ACT_SEAT, "seat left free", ALL, 0, STAYS, 0},
    {SM_ACT_PAPER, "paper crew.html", ALL, 0, STAYS, 0},
    {SM_ACT_PROPOSE, "propose 2 +0.05 s on", ALL, 0, STAYS, 0},
    {SM_ACT_LISTEN, "listen 2", SAFE, 0, STAYS, NEVER_HERE}, // nothing sounds
    {SM_ACT_LISTEN_OFF, "listen off", ALL, 0, STAYS, 0},
    {SM_ACT_APPLY, "apply", SAFE, 0, STAYS, KEY},
    {SM_ACT_UNDO, "undo", ALL, 0, STAYS, 0},
    {SM_ACT_RELOAD, "reload", SAFE, 0, STAYS, 0},
    {SM_ACT_VOLUME, "volume 40", ALL, 0, STAYS, 0},
    {SM_ACT_MUTE, "mute", ALL, 0, STAYS, 0},
    {SM_ACT_LIGHTS_ON, "lights on", ALL, 0, STAYS, 0},
    {SM_ACT_LIGHTS_ANSWER, "lights answer 1 J", ALL, 0, STAYS, 0},
    {SM_ACT_LIGHTS_OFF, "lights off", ALL, 0, STAYS, 0},
    {SM_ACT_HINT, "hint", 0, 0, STAYS, 0},
    {SM_ACT_TRIGGER, "trigger event", 0, 0, STAYS, 0},
    {SM_ACT_CALL, "call K hold", 0, 0, STAYS, 0},
    {SM_ACT_ANSWER, "answer yes", 0, 0, STAYS, 0},
    {SM_ACT_ASK, "ask K", 0, 0, STAYS, 0},
    {SM_ACT_INJECT, "inject storm", 0, 0, STAYS, 0},
    {SM_ACT_JUDGE, "judge clear yes", 0, 0, STAYS, 0},
    {SM_ACT_REMARK, "remark text", 0, 0, STAYS, 0},
    {SM_ACT_PASS_TIME, "pass-time", 0, 0, STAYS, 0},
    {SM_ACT_HOLD_DRILL, "hold-drill", 0, 0, STAYS, 0},
    {SM_ACT_GO_DRILL, "go-drill", 0, 0, STAYS, 0},
    {SM_ACT_QUIT, "quit", ALL, 0, SM_STATE_SAFE, 0},
};

// When each state has been reached: running with A-01 burning and F1 alight.
static const double reached_s[SM_STATE_COUNT] = {0, 0.5, 1, 5, 6, 63};

static void must(sm_result result) {
    assert_int_equal(result, SM_OK);
}

static bool flame_is_home(engine_run *run) {
    const sm_snapshot *s = engine_look(run);
    return s->levels[engine_channel(run->show, "F1", "permit")] == 0 &&
           s->levels[engine_channel(run->show, "F1", "flame")] == 0;
}

static void reach(engine_run *run, sm_state state) {
    must(engine_act(run, 0, "unplug C"));
    must(engine_act(run, 0, "inhibit B"));
    must(engine_act(run, 0, "mark first"));
    must(engine_act(run, 0, "propose 4 -1 f"));
    must(engine_act(run, 0, "key on"));
    must(engine_act(run, 0, "call-clear J"));
    if (state >= SM_STATE_ARMING)
        must(engine_act(run, 0, "arm"));
    if (state >= SM_STATE_RUNNING)
        must(engine_act(run, 1, "start"));
    engine_to(run, state == SM_STATE_PAUSED ? 5 : reached_s[state]);
    if (state == SM_STATE_PAUSED)
        must(engine_act(run, 5, "pause"));
    engine_to(run, reached_s[state]);
    assert_int_equal(engine_look(run)->state, state);
    assert_int_equal(flame_is_home(run), state != SM_STATE_RUNNING);
}

// False where UNMET cannot be had in STATE: the key is on everywhere but in safe, and nobody calls clear over a person in the field.
static bool spoil(engine_run *run, sm_state state, int unmet) {
    double at = reached_s[state];
    if (((unmet & KEY) != 0 && state != SM_STATE_SAFE) || ((unmet & FIELD) != 0 && (unmet & CLEAR) == 0))
        return false;
    if ((unmet & RAILS) != 0)
        must(engine_act(run, at, "unplug A"));
    if ((unmet & READINGS) != 0)
        must(engine_act(run, at, (unmet & RAILS) != 0 ? "read B-01 open" : "read A-02 open"));
    if ((unmet & KEY) != 0)
        must(engine_act(run, at, "key off"));
    if ((unmet & FIELD) != 0)
        must(engine_act(run, at, "enter K"));
    if ((unmet & CLEAR) != 0 && (unmet & (FIELD | RAILS | KEY)) == 0)
        must(engine_act(run, at, "repair C-01"));
    if ((unmet & CLEAR) == 0)
        must(engine_act(run, at, "call-clear J"));
    const sm_snapshot *s = engine_look(run);
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++)
        assert_int_equal(s->guards[guard].word == SM_GUARD_NOT_MET, unmet >> guard & 1);
    assert_int_equal(s->state, state);
    return true;
}

static bool expected_refused(const act_rule *rule, sm_state state, int unmet) {
    return (rule->allowed >> state & 1) == 0 || (rule->asks & unmet) != 0 ||
           (rule->needs_unmet & unmet) != rule->needs_unmet;
}

static void check_act(engine_run *run, const act_rule *rule, sm_state state, int unmet) {
    sm_text before = {0}, after = {0};
    engine_snapshot_text(&before, engine_look(run));
    sm_text_clear(&run->rows);
    // A waiver names what stands in the way: with rail A unplugged that is B-01.
    const char *text =
        rule->act == SM_ACT_WAIVE && (unmet & RAILS) != 0 ? "waive readings B-01 by K" : rule->text;
    sm_result result = engine_act(run, reached_s[state], text);
    bool refused = expected_refused(rule, state, unmet);
    if ((result == SM_REFUSED) != refused)
        fail_msg("%s in %s with %d not met: %s", text, sm_state_text(state), unmet,
                 sm_rehearsal_refusal(run->rehearsal));
    assert_int_equal(sm_rehearsal_refusal(run->rehearsal)[0] != '\0', refused);
    engine_snapshot_text(&after, engine_look(run));
    if (refused && strcmp(sm_text_get(&before), sm_text_get(&after)) != 0)
        fail_msg("%s refused in %s changed\n%s\nto\n%s", text, sm_state_text(state), sm_text_get(&before),
                 sm_text_get(&after));
    assert_int_equal(strstr(sm_text_get(&run->rows), ",refused,,") != NULL, refused);
    // Nothing fires in the step of an action; the rest of this very instant is for what is due by itself.
    assert_null(strstr(sm_text_get(&run->rows), ",engine,fire,"));
    sm_state next = refused || rule->leads_to == STAYS ? state : (sm_state)rule->leads_to;
    if (rule->act == SM_ACT_HOLD) // whoever calls it: arming ends in safe, running in paused
        next = state == SM_STATE_ARMING ? SM_STATE_SAFE : state == SM_STATE_RUNNING ? SM_STATE_PAUSED : next;
    assert_int_equal(engine_look(run)->state, next);
    if (next != SM_STATE_RUNNING)
        assert_true(flame_is_home(run));
    sm_text_deinit(&before);
    sm_text_deinit(&after);
}

// Whatever was done, `safe` then makes safe in one step, and from there nothing ever fires.
static void check_safe(engine_run *run) {
    must(engine_act(run, 63, "safe"));
    const sm_snapshot *s = engine_look(run);
    assert_int_equal(s->state, SM_STATE_SAFE);
    assert_false(s->clear_called);
    assert_int_equal(s->place.us, 0);
    sm_text_clear(&run->rows);
    engine_to(run, 1000);
    assert_null(strstr(sm_text_get(&run->rows), ",fire,"));
    assert_true(flame_is_home(run));
}

static void every_state_every_action_every_guard(void **unused) {
    (void)unused;
    assert_int_equal(COUNT(rules), SM_ACT_COUNT);
    sm_show *show = engine_show(cues, NULL);
    unsigned tried = 0;
    for (int state = 0; state < SM_STATE_COUNT; state++)
        for (int unmet = 0; unmet < 1 << SM_GUARD_COUNT; unmet++)
            for (size_t i = 0; i < COUNT(rules); i++) {
                assert_int_equal(rules[i].act, i);
                engine_run run;
                engine_run_init(&run, show, NULL);
                reach(&run, (sm_state)state);
                if (spoil(&run, (sm_state)state, unmet)) {
                    check_act(&run, &rules[i], (sm_state)state, unmet);
                    check_safe(&run);
                    tried++;
                }
                engine_run_deinit(&run);
            }
    // 24 sets of guards can be had in safe (no field without clear), 12 elsewhere (the key is on).
    assert_int_equal(tried, (24 + 5 * 12) * SM_ACT_COUNT);
    sm_show_destroy(show);
}

// The table of actions that help, completion and the manual read says the same.
static void the_table_says_the_same(void **unused) {
    (void)unused;
    for (size_t i = 0; i < COUNT(rules); i++) {
        const sm_action_row *row = sm_action_row_of(rules[i].act);
        assert_int_equal(row->states, rules[i].allowed == 0 ? ALL : rules[i].allowed);
        assert_int_equal(row->drill_only, rules[i].allowed == 0);
        assert_int_equal(strncmp(rules[i].text, row->name, strlen(row->name)), 0);
        assert_int_equal(strncmp(row->form, row->name, strlen(row->name)), 0);
        assert_true(row->help[0] != '\0');
    }
}

// Left alone, only arming and running go on by themselves, and nothing fires but in running.
static void a_state_left_alone(void **unused) {
    (void)unused;
    static const sm_state later[SM_STATE_COUNT] = {SM_STATE_SAFE,  SM_STATE_ARMED,  SM_STATE_ARMED,
                                                   SM_STATE_ENDED, SM_STATE_PAUSED, SM_STATE_ENDED};
    sm_show *show = engine_show(cues, NULL);
    for (int state = 0; state < SM_STATE_COUNT; state++) {
        engine_run run;
        engine_run_init(&run, show, NULL);
        reach(&run, (sm_state)state);
        sm_text_clear(&run.rows);
        engine_to(&run, 1000);
        assert_int_equal(engine_look(&run)->state, later[state]);
        bool fires = strstr(sm_text_get(&run.rows), ",fire,") != NULL;
        assert_int_equal(fires, state == SM_STATE_RUNNING);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_state_every_action_every_guard),
        cmocka_unit_test(the_table_says_the_same),
        cmocka_unit_test(a_state_left_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
