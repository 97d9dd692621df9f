// SPDX-License-Identifier: GPL-3.0-or-later
// From every state that random actions reach, the step named is followed: it must be one that the engine takes, it must never put
// hands or feet in the field with the key on, and it must come to armed or to a named stop. The order of the steps: common practice of
// small crews, no source.
#include "support/engine_random.h"

#include "slowmatch/alerts.h"
#include "slowmatch/inject.h"
#include "slowmatch/next_step.h"
#include "slowmatch/rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define CUES "1,A-01,fountain,,\n2,A-02,comet,,\n3,A-03,shell,,\n30,B-01,fountain,,\n31,C-01,mine,,\n"
#define STEPS_MOST 40

static const engine_file limits[] = {
    {"show.ini", "[show]\ntitle = Trial\ncountdown = 2 s\nlength = 60\n[limits]\narm-time = 1 s\nwind = 8\n"
                 "reentry-wait = 1 min\nmisfire-wait = 2 min\n"},
    {"rails.csv", "name,module,first,slots,position\nA,M,1,6,left\nB,M,7,6,right\nC,M,13,2,\n"},
    {NULL, NULL}};

// What a crew, or its bad luck, may do; "!" before an injection.
static const char *const doings[] = {
    "key on",          "key off",
    "call-clear J",    "arm",
    "start",           "pause",
    "resume",          "safe",
    "enter K",         "enter M",
    "leave K",         "leave M",
    "unplug A",        "plug A",
    "unplug B",        "plug B",
    "unplug C",        "read A-01 open",
    "read B-01 short", "read C-01 9",
    "measure",         "repair A-01",
    "repair B-01",     "report A-02",
    "wind 12",         "wind 3",
    "inhibit aerial",  "allow aerial",
    "seek 20",         "rerig",
    "!misfire A-02",   "!open A-03",
    "!stray B-04",     "!storm",
    "!fire left",      "!link lost",
    "!link back",      "!flame-stuck F1",
    "!flame-out F1",   "!fires-alone A-03",
    "!tip A-01",       "!person in-field",
    "!person out",     "!no-answer M",
    "answer heard",    "hold M why",
    "hold K why",      "lift M J",
    "exchange A B",
};

static sm_result try(engine_run *run, double at_s, const char *line) {
    if (line[0] != '!')
        return engine_act(run, at_s, line);
    sm_injection injection;
    char why[200];
    size_t fault;
    sm_wall_time at = {(sm_us)(at_s * 1e6)};
    assert_int_equal(sm_injection_read(run->show, line + 1, strlen(line + 1), &injection, why, &fault),
                     SM_OK);
    return sm_rehearsal_inject(run->rehearsal, "e", &injection, at);
}

// The line that does STEP.
static void put_line(const sm_snapshot *now, const sm_step *step, char line[96]) {
    const char *name = sm_action_row_of(step->act)->name;
    char slot[48];
    switch (step->act) {
    case SM_ACT_PLUG:
    case SM_ACT_UNPLUG:
        snprintf(line, 96, "%s %s", name, now->show->rails[step->index].name);
        break;
    case SM_ACT_EXCHANGE:
        snprintf(line, 96, "%s %s %s", name, now->show->rails[step->index].name,
                 now->show->rails[step->second].name);
        break;
    case SM_ACT_REPORT:
    case SM_ACT_REPAIR:
        snprintf(line, 96, "%s %s", name, sm_slot_format(now->show, step->index, slot));
        break;
    case SM_ACT_ENTER:
        snprintf(line, 96, "%s K", name);
        break;
    case SM_ACT_LEAVE:
        snprintf(line, 96, "%s %.80s", name, now->people[0].name);
        break;
    case SM_ACT_LIFT:
        snprintf(line, 96, "%s %.40s J", name, now->hold_who);
        break;
    case SM_ACT_CALL_CLEAR:
        snprintf(line, 96, "%s J", name);
        break;
    case SM_ACT_INHIBIT:
        snprintf(line, 96, "%s aerial", name);
        break;
    default:
        snprintf(line, 96, "%s", name);
        break;
    }
}

static bool needs_hands(sm_act act) {
    return act == SM_ACT_ENTER || act == SM_ACT_RERIG || act == SM_ACT_PLUG || act == SM_ACT_UNPLUG ||
           act == SM_ACT_REPAIR || act == SM_ACT_MEASURE || act == SM_ACT_EXCHANGE;
}

// Wind over the limit: no aerials, not fewer (common practice of small crews, no source). The aerials of CUES.
static void expect_no_aerial_in_wind(const sm_snapshot *now) {
    for (uint32_t slot = 1; slot <= 2 && now->wind_known && now->wind_m_s > 8; slot++)
        assert_true(now->slots[slot].inhibited || now->slots[slot].phase != SM_SLOT_WAITING);
}

// What the readings explain, as whoever shows them has it.
static sm_step step_by_readings(const sm_snapshot *now) {
    const sm_show *show = now->show;
    sm_read_value *values = calloc(show->slot_count + 1u, sizeof *values);
    sm_rig_diagnosis *diagnosis = NULL;
    sm_step_facts facts = {.swapped = {SM_NONE, SM_NONE}};
    assert_non_null(values);
    for (uint32_t slot = 0; slot < show->slot_count; slot++)
        values[slot] = now->slots[slot].reading;
    assert_int_equal(sm_rig_diagnose(show, values, NULL, &diagnosis), SM_OK);
    if (diagnosis->count > 0 && diagnosis->explanations[0].fault == SM_RIG_RAILS_SWAPPED)
        memcpy(facts.swapped, diagnosis->explanations[0].rails, sizeof facts.swapped);
    sm_rig_diagnosis_destroy(diagnosis);
    free(values);
    return sm_next_step(now, &facts);
}

// Nothing that leads to firing, and no hands.
static bool goes_on(sm_act act) {
    return needs_hands(act) || act == SM_ACT_CALL_CLEAR || act == SM_ACT_KEY_ON || act == SM_ACT_ARM ||
           act == SM_ACT_START;
}

// The alert row stands above NEXT: what any warning or caution begins with is the step, or the step is more pressing. A show that is paused
// may go on over what it lit; one that runs is watched, and stopped for a warning.
static void expect_as_alerts(const sm_snapshot *now, const sm_step *step, uint64_t seed) {
    static const sm_alert_facts facts = {0};
    sm_alerts alerts = {0};
    sm_alerts_look(&alerts, now, &facts, NULL, NULL);
    for (uint32_t i = 0; i < alerts.count; i++) {
        const sm_alert *alert = &alerts.at[i];
        if (now->state == SM_STATE_RUNNING && sm_alert_row_of(alert->id)->rank != SM_ALERT_WARNING)
            continue;
        const sm_act asked = sm_alert_act(alert->id, now->state, now->key);
        const bool stays_out =
            (alert->id == SM_ALERT_WAIT || alert->id == SM_ALERT_BURNING) && now->state != SM_STATE_PAUSED;
        bool other = (stays_out || alert->id == SM_ALERT_HOLD) && goes_on(step->act);
        other |= i == 0 && asked != SM_ACT_COUNT && step->act != asked && step->id > SM_STEP_KEY_OFF;
        other |= asked == SM_ACT_SAFE && step->act != SM_ACT_SAFE && step->id > SM_STEP_KEY_OFF;
        other |= i == 0 && step->act == SM_ACT_SAFE && asked != SM_ACT_SAFE && alert->id != SM_ALERT_HOLD &&
                 sm_alert_row_of(alert->id)->rank == SM_ALERT_WARNING;
        if (other)
            fail_msg("seed %llu: %s says %s, NEXT %s", (unsigned long long)seed, alert->words,
                     sm_alert_to_do(alert->id, now->state, now->key), step->words);
    }
}

// Follows the steps from AT_S on. Fails the test where they lead nowhere.
static void follow(engine_run *run, double at_s, uint64_t seed, unsigned seen[SM_STEP_COUNT]) {
    sm_step step = {0};
    for (int i = 0; i < STEPS_MOST; i++) {
        engine_to(run, at_s);
        const sm_snapshot *now = engine_look(run);
        step = step_by_readings(now);
        seen[step.id]++;
        if (step.id == SM_STEP_ARM || step.id == SM_STEP_WAIT_ARMING || step.id == SM_STEP_START ||
            step.id == SM_STEP_RESUME || step.id == SM_STEP_WATCH)
            expect_no_aerial_in_wind(now);
        if (step.stop || step.id == SM_STEP_START)
            return; // a named stop, or armed
        assert_true(step.act != SM_ACT_WAIVE);
        expect_as_alerts(now, &step, seed);
        if (needs_hands(step.act))
            assert_true(now->state == SM_STATE_SAFE && !now->key && !now->incidents.link_lost);
        if (step.act == SM_ACT_REPAIR)
            assert_true(now->slots[step.index].phase != SM_SLOT_MISFIRED &&
                        !now->rail_plugged[now->show->slot_rails[step.index]]);
        if (step.id == SM_STEP_WATCH || step.id == SM_STEP_RESUME)
            return; // running and paused are past arming
        if (step.act != SM_ACT_COUNT) {
            char line[96];
            put_line(now, &step, line);
            if (engine_act(run, at_s, line) != SM_OK)
                fail_msg("seed %llu: %s is refused: %s", (unsigned long long)seed, line,
                         sm_rehearsal_refusal(run->rehearsal));
        }
        at_s += 0.5;
    }
    fail_msg("seed %llu: %d steps lead nowhere, the last: %s", (unsigned long long)seed, STEPS_MOST,
             step.words);
}

// A show that has run for some seconds, perhaps with a misfire. Returns the wall time.
static double play_a_little(engine_run *run, engine_dice *dice) {
    static const char *const lines[] = {"call-clear J", "key on", "arm"};
    if (engine_roll(dice, 2))
        (void)try(run, 0, "!misfire A-02");
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(engine_act(run, 0, lines[i]), SM_OK);
    assert_int_equal(engine_act(run, 1.5, "start"), SM_OK);
    double at_s = 4 + engine_roll(dice, 5);
    assert_int_equal(engine_act(run, at_s, engine_roll(dice, 2) ? "pause" : "safe"), SM_OK);
    return at_s;
}

static void steps_lead_to_armed_or_a_named_stop(void **state) {
    (void)state;
    sm_show *show = engine_show(CUES, limits);
    static const sm_rehearsal_options options = {.drill = true};
    unsigned seen[SM_STEP_COUNT] = {0}, rounds = engine_soaks() ? 100000 : 4000;
    for (unsigned round = 0; round < rounds; round++) {
        engine_dice dice = {round};
        engine_run run;
        engine_run_init(&run, show, &options);
        double at_s = round % 3 == 0 ? play_a_little(&run, &dice) : 0;
        for (uint32_t n = engine_roll(&dice, 24); n > 0; n--) {
            at_s += engine_roll(&dice, 8) == 0 ? 200 : engine_roll(&dice, 4) * 0.7; // waits run out, too
            (void)try(&run, at_s,
                      doings[engine_roll(&dice, sizeof doings / sizeof doings[0])]); // may be refused
        }
        follow(&run, at_s, round, seen);
        engine_run_deinit(&run);
    }
    for (int id = 0; id < SM_STEP_COUNT; id++)
        if (seen[id] == 0 && id != SM_STEP_WAIT_TIMECODE) // engine_timecode_test
            fail_msg("no state leads to step %d", id);
    sm_show_destroy(show);
}

static void a_good_rig_is_walked_to_armed_in_the_order_of_practice(void **state) {
    (void)state;
    static const sm_step_id order[] = {SM_STEP_MEASURE, SM_STEP_CALL_CLEAR,  SM_STEP_KEY_ON,
                                       SM_STEP_ARM,     SM_STEP_WAIT_ARMING, SM_STEP_START};
    sm_show *show = engine_show(CUES, limits);
    static const sm_rehearsal_options options = {0};
    engine_run run;
    engine_run_init(&run, show, &options);
    for (size_t i = 0; i < sizeof order / sizeof order[0]; i++) {
        double at_s = (double)i / 2;
        engine_to(&run, at_s);
        const sm_snapshot *now = engine_look(&run);
        sm_step step = sm_next_step(now, NULL);
        assert_int_equal(step.id, order[i]);
        char line[96];
        if (step.act == SM_ACT_COUNT)
            continue;
        put_line(now, &step, line);
        assert_int_equal(engine_act(&run, at_s, line), SM_OK);
    }
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void wind_over_the_limit_is_made_safe_while_aerials_would_go(void **state) {
    (void)state;
    static const struct {
        const char *lines; // a second apart
        sm_step_id with, without;
    } cases[] = {
        {"arm", SM_STEP_MAKE_SAFE, SM_STEP_WAIT_ARMING},
        {"arm\n\n", SM_STEP_MAKE_SAFE, SM_STEP_START},
        {"arm\n\nstart", SM_STEP_MAKE_SAFE, SM_STEP_WATCH},
        {"arm\n\nstart\npause", SM_STEP_MAKE_SAFE, SM_STEP_RESUME},
    };
    sm_show *show = engine_show(CUES, limits);
    static const sm_rehearsal_options options = {0};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        engine_run run;
        engine_run_init(&run, show, &options);
        assert_int_equal(engine_act(&run, 0, "call-clear J"), SM_OK);
        assert_int_equal(engine_act(&run, 0, "key on"), SM_OK);
        double at_s = 0;
        for (const char *line = cases[i].lines; *line;) {
            char one[16];
            size_t length = strcspn(line, "\n");
            snprintf(one, sizeof one, "%.*s", (int)length, line);
            if (length > 0)
                assert_int_equal(engine_act(&run, at_s, one), SM_OK);
            line += length + (line[length] == '\n');
            at_s++;
        }
        at_s -= 0.5;
        assert_int_equal(engine_act(&run, at_s, "wind 8"), SM_OK); // at the limit is not over it
        assert_int_equal(sm_next_step(engine_look(&run), NULL).id, cases[i].without);
        assert_int_equal(engine_act(&run, at_s, "wind 8.1"), SM_OK);
        assert_int_equal(sm_next_step(engine_look(&run), NULL).id, cases[i].with);
        assert_int_equal(engine_act(&run, at_s, "inhibit aerial"), SM_OK);
        assert_int_equal(sm_next_step(engine_look(&run), NULL).id, cases[i].without);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

static void a_bad_slot_is_mended_with_the_rail_out_and_one_in_by_name(void **state) {
    (void)state;
    static const char *const words[] = {"key off and out",
                                        "unplug rail A at the module end",
                                        "one in by name, another watching",
                                        "repair A-01: terminal, lead, spare slot",
                                        "everybody out and counted",
                                        "plug rail A at the module end",
                                        "measure all rails",
                                        "ask each by name, then call clear",
                                        "key in and on",
                                        "arm"};
    sm_show *show = engine_show(CUES, limits);
    static const sm_rehearsal_options options = {0};
    engine_run run;
    engine_run_init(&run, show, &options);
    assert_int_equal(engine_act(&run, 0, "read A-01 open"), SM_OK);
    assert_int_equal(engine_act(&run, 0, "key on"), SM_OK);
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        const sm_snapshot *now = engine_look(&run);
        sm_step step = sm_next_step(now, NULL);
        assert_string_equal(step.words, words[i]);
        char line[96];
        put_line(now, &step, line);
        assert_int_equal(engine_act(&run, (double)i + 1, line), SM_OK);
    }
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

#define MISFIRED "measure\n!misfire A-02\ncall-clear J\nkey on\narm\n\n\nstart\n\n\n\n\n\n\n\n\n\n"

// Lines half a second apart ("" waits, "*" waits 130 s, "!" injects), then the step. What stops the crew comes before what it may do next,
// the key before feet, feet before hands (common practice of small crews, no source).
static const struct {
    const char *lines;
    bool run_first; // armed, started, and at show time 2.5 s
    sm_step_id step;
} situations[] = {
    // in safe, nothing fired
    {"measure", false, SM_STEP_CALL_CLEAR},
    {"measure\nread A-01 open", false, SM_STEP_UNPLUG},
    {"measure\nread A-01 open\nkey on", false, SM_STEP_KEY_OFF},
    {"measure\nread A-01 open\ninhibit A-01", false, SM_STEP_UNPLUG}, // held back, and as live as before
    {"measure\nread A-01 open\nwaive readings A-01 by K", false, SM_STEP_CALL_CLEAR},
    {"measure\nread B-02 open", false, SM_STEP_CALL_CLEAR}, // no cue fires it
    {"measure\nread A-01 open\nunplug A", false, SM_STEP_ENTER},
    {"measure\nread A-01 open\nread B-01 open\nunplug A", false, SM_STEP_UNPLUG},
    {"measure\nread A-01 open\nunplug A\nenter K", false, SM_STEP_REPAIR},
    {"measure\nread A-01 open\nenter K", false, SM_STEP_LEAVE}, // nobody mends what is plugged
    {"measure\nread B-02 1.7", false, SM_STEP_UNPLUG},          // no cue fires it, and something is there
    {"measure\nread B-02 1.7\nkey on", false, SM_STEP_KEY_OFF},
    {"measure\nread B-02 1.7\ncall-clear J\nkey on\narm", false, SM_STEP_MAKE_SAFE},
    {"safe\ncall-clear J\narm", true, SM_STEP_MAKE_SAFE}, // what was lit burns on
    {"measure\nread B-02 1.7\nunplug B", false, SM_STEP_ENTER},
    {"measure\nread A-01 open\nhold M boat", false, SM_STEP_LIFT}, // nobody is sent to a rail over it
    {"measure\nread A-01 open\nunplug A\nenter K\nhold M boat", false, SM_STEP_LEAVE},
    {"measure\nread B-02 1.7\nunplug B\nenter K", false, SM_STEP_TAKE_OFF},
    {"measure\nread B-02 1.7\nunplug B\nenter K\nrepair B-02", false, SM_STEP_LEAVE},
    {"measure\nread B-02 1.7\nunplug B\nenter K\nrepair B-02\nleave K", false, SM_STEP_PLUG},
    {"measure\nenter K", false, SM_STEP_LEAVE},
    {"measure\nenter K\nkey on", false, SM_STEP_KEY_OFF},
    {"measure\nunplug A", false, SM_STEP_PLUG},
    {"measure\nunplug A\nwaive rails A by K", false, SM_STEP_CALL_CLEAR},
    {"measure\nunplug A\nkey on", false, SM_STEP_KEY_OFF},
    {"measure\nunplug C\nplug C", false, SM_STEP_CALL_CLEAR},
    {"measure\nwind 8.5", false, SM_STEP_HOLD_BACK},
    {"measure\nwind 8.5\ninhibit aerial", false, SM_STEP_CALL_CLEAR},
    {"measure\ncall-clear J", false, SM_STEP_KEY_ON},
    // the key goes in after the clear, not before
    {"measure\nkey on", false, SM_STEP_KEY_OFF},
    {"measure\ncall-clear J\nkey on\nenter K\nleave K", false, SM_STEP_KEY_OFF},
    {"measure\ncall-clear J\nkey on\narm\nenter K\nleave K\nsafe", false, SM_STEP_KEY_OFF},
    // a hold
    {"measure\nhold M why", false, SM_STEP_LIFT},
    {"measure\ncall-clear J\nkey on\nhold M why", false, SM_STEP_LIFT},
    // all is measured before clear; arming does not ask for it, so that nobody is sent back after
    {"", false, SM_STEP_MEASURE},
    {"key on", false, SM_STEP_KEY_OFF},
    {"call-clear J", false, SM_STEP_KEY_ON},
    {"call-clear J\nkey on", false, SM_STEP_ARM},
    // two rails at the module: one step instead of many repairs
    {"exchange A B\nmeasure", false, SM_STEP_EXCHANGE},
    {"exchange A B\nmeasure\nkey on", false, SM_STEP_KEY_OFF},
    {"exchange A B\nmeasure\nenter K", false, SM_STEP_LEAVE},
    {"exchange A B\nmeasure\nexchange A B", false, SM_STEP_MEASURE},
    {"exchange A B\nmeasure\nexchange A B\nmeasure", false, SM_STEP_CALL_CLEAR},
    {"measure\n!storm", false, SM_STEP_WITHDRAW},
    {"measure\n!storm\nread A-01 open", false, SM_STEP_WITHDRAW}, // do not stay to unplug
    {"measure\n!storm\nenter K", false, SM_STEP_WITHDRAW},
    {"measure\n!storm\nread A-01 open\nkey on", false, SM_STEP_KEY_OFF},
    {"measure\n!fire left", false, SM_STEP_KEEP_BACK},
    {"measure\n!fire left\nkey on", false, SM_STEP_KEY_OFF},
    {"measure\n!storm\n!fire left", false, SM_STEP_WITHDRAW},
    {"measure\n!link lost", false, SM_STEP_LINK_KEY_OFF}, // and nothing that turns it on
    {"measure\nkey on\n!link lost", false, SM_STEP_LINK},
    {"measure\nenter K\n!link lost", false, SM_STEP_CALL_OUT},
    {"measure\nkey on\nenter K\n!link lost", false, SM_STEP_LINK},
    {"measure\n!link lost\n!storm", false, SM_STEP_LINK_KEY_OFF},
    {"measure\n!link lost\n!link back", false, SM_STEP_CALL_CLEAR},
    {"measure\n!tip A-01", false, SM_STEP_OPERATOR},
    {"measure\n!tip A-01\nkey on", false, SM_STEP_KEY_OFF},
    // armed
    {"measure\ncall-clear J\nkey on\narm", false, SM_STEP_WAIT_ARMING},
    {"measure\ncall-clear J\nkey on\narm\nenter K", false, SM_STEP_MAKE_SAFE},
    {"measure\ncall-clear J\nkey on\narm\nunplug A", false, SM_STEP_MAKE_SAFE}, // clear lapsed
    {"measure\ncall-clear J\nkey on\narm\n!fire left", false, SM_STEP_MAKE_SAFE},
    {"measure\ncall-clear J\nkey on\narm\n!link lost", false, SM_STEP_LINK},
    {"measure\ncall-clear J\nkey on\narm\nkey off", false, SM_STEP_CALL_CLEAR},
    // running: A-01 burns, A-02 has fired
    {"", true, SM_STEP_WATCH},
    {"pause", true, SM_STEP_RESUME},
    {"pause\nenter K", true, SM_STEP_MAKE_SAFE},
    {"hold M why", true, SM_STEP_LIFT},
    {"enter K", true, SM_STEP_MAKE_SAFE},
    {"!flame-stuck F1", true, SM_STEP_MAKE_SAFE},
    {"safe", true, SM_STEP_KEY_OFF},
    {"safe\nkey off", true, SM_STEP_STAY_OUT},
    {"safe\nkey off\nenter K", true, SM_STEP_LEAVE},
    {"safe\nkey off\n*", true, SM_STEP_RIG_ANEW},
    {"safe\n*", true, SM_STEP_KEY_OFF},
    {"safe\nkey off\n*\nenter K", true, SM_STEP_LEAVE},
    // a misfire
    {MISFIRED "safe\nkey off", false, SM_STEP_REPORT},
    {MISFIRED "safe", false, SM_STEP_KEY_OFF},
    {MISFIRED "safe\nkey off\nenter K", false, SM_STEP_LEAVE},
    {MISFIRED "safe\nkey off\nreport A-02", false, SM_STEP_STAY_OUT},
    {MISFIRED "safe\nkey off\nreport A-02\n*\n*", false, SM_STEP_OPERATOR},
    {MISFIRED "safe\nkey off\n*\n*", false, SM_STEP_REPORT},
    // the end
    {"*", true, SM_STEP_END},
    {"*\nenter K", true, SM_STEP_END},
};

static void each_situation_has_its_step(void **state) {
    (void)state;
    static const char to_safe[] = "measure\ncall-clear J\nkey on\narm\n\n\n";
    sm_show *show = engine_show(CUES, limits);
    static const sm_rehearsal_options options = {.drill = true};
    for (size_t i = 0; i < sizeof situations / sizeof situations[0]; i++) {
        engine_run run;
        engine_run_init(&run, show, &options);
        double at_s = 0;
        char lines[300];
        snprintf(lines, sizeof lines, "%s%s%s", situations[i].run_first ? to_safe : "",
                 situations[i].run_first ? "start\n\n\n\n\n\n\n\n\n\n" : "", situations[i].lines);
        for (const char *line = lines; *line;) {
            char one[48];
            const size_t length = strcspn(line, "\n");
            snprintf(one, sizeof one, "%.*s", (int)length, line);
            if (one[0] == '*')
                at_s += 130;
            else if (length > 0 && try(&run, at_s, one) != SM_OK)
                fail_msg("%s: %s is refused: %s", situations[i].lines, one,
                         sm_rehearsal_refusal(run.rehearsal));
            line += length + (line[length] == '\n');
            at_s += 0.5;
        }
        engine_to(&run, at_s);
        const sm_step step = step_by_readings(engine_look(&run));
        if (step.id != situations[i].step)
            fail_msg("%s%s: step %d (%s), not %d", situations[i].run_first ? "run, " : "",
                     situations[i].lines, (int)step.id, step.words, (int)situations[i].step);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steps_lead_to_armed_or_a_named_stop),
        cmocka_unit_test(a_good_rig_is_walked_to_armed_in_the_order_of_practice),
        cmocka_unit_test(wind_over_the_limit_is_made_safe_while_aerials_would_go),
        cmocka_unit_test(a_bad_slot_is_mended_with_the_rail_out_and_one_in_by_name),
        cmocka_unit_test(each_situation_has_its_step),
    };
    return cmocka_run_group_tests_name("next_step", tests, NULL, NULL);
}
