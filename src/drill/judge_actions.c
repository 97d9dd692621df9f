// SPDX-License-Identifier: GPL-3.0-or-later
// What the trainee's actions earn and cost. Rules, `never` and `before` judge a try, even one that this rehearsal refuses: a real
// module would not refuse. Expectations and needs take only what was accepted.
#include "drill/run.h"

#include <assert.h>
#include <ctype.h>
#include <stdio.h>
#include <string.h>

static const sm_drill_rule_row rules[] = {
    [SM_RULE_ENTRY] =
        {"entry-too-early", 100,
         "Nobody goes into the field unless the module is safe, the key is off and the wait is over. What "
         "did not go may still go."},
    [SM_RULE_HANDS] =
        {"hands-on-live", 100,
         "Nobody plugs, unplugs or repairs unless the module is safe and the key is off: hands at a "
         "terminal that can be fired are hands in front of it."},
    [SM_RULE_PLUGGED] =
        {"repair-plugged", 100,
         "Nobody works at a slot whose rail is plugged: it is unplugged at the module end first."},
    [SM_RULE_PEOPLE] =
        {"people-in-field", 100,
         "With anyone in the field there is no key, no measuring, no arming, no start and no resume."},
    [SM_RULE_LINK] =
        {"resume-after-link", 100,
         "A link that was lost says nothing about the module. Nobody resumes after it: make safe, key off, "
         "and begin again."},
    [SM_RULE_NO_CLEAR] =
        {"arm-without-clear", 40,
         "Arming needs a new clear: everyone called by name and answered. An old clear is none, and "
         "silence is none."},
    [SM_RULE_UNREPORTED] =
        {"misfire-unreported", 40,
         "A misfire is live. It is reported by slot and heard back before anyone goes in."},
    [SM_RULE_WAIVER] =
        {"waiver-names-nothing", 20,
         "A waiver names what it is about, slot or rail, and why. Without that nobody knows what was let "
         "go."},
    [SM_RULE_SILENCE] = {"clear-over-silence", 100,
                         "Clear is called when everyone has answered from outside, by name. Silence is no "
                         "answer, and one person "
                         "cannot answer for another."},
    [SM_RULE_KEY] = {"spotter-at-the-key", 40,
                     "The spotter never has the key, and does not arm, start or resume: whoever watches the "
                     "field has no hand "
                     "on the module but to stop it."},
};
static_assert(sizeof rules / sizeof rules[0] == SM_RULE_COUNT, "a row for each rule");

const sm_drill_rule_row *sm_drill_rule_of(sm_drill_rule rule) {
    return &rules[rule];
}

// ---- marks in the log -------------------------------------------------------------------------------

static void log_mark(sm_drill_run *run, const char *name, int32_t got, int32_t of, const char *why) {
    char detail[80];
    if (got < 0)
        snprintf(detail, sizeof detail, "%d", got);
    else
        snprintf(detail, sizeof detail, "%d of %d", got, of);
    sm_text text = {0};
    sm_text_printf(&text, "%s%s%s", detail, why[0] != '\0' ? ": " : "", why);
    sm_rehearsal_drill_row(run->rehearsal, DRILL_MARK, name, sm_text_get(&text));
    sm_text_deinit(&text);
}

static void decide(sm_drill_run *run, verdict *v, int32_t got, sm_us took_us) {
    *v = (verdict){
        .decided = true, .got = got, .at = sm_rehearsal_facts(run->rehearsal).now, .took_us = took_us};
}

// ---- built-in rules -----------------------------------------------------------------------------------

static bool is_word(char c) {
    return isalnum((unsigned char)c) || c == '-' || c == '_';
}

static bool names_anything(const sm_show *show, const char *reason) {
    for (const char *at = reason; *at != '\0';) {
        while (*at != '\0' && !is_word(*at))
            at++;
        size_t length = 0;
        while (is_word(at[length]))
            length++;
        char name[64];
        uint32_t slot;
        snprintf(name, sizeof name, "%.*s", (int)(length < 63 ? length : 63), at);
        if (length > 0 &&
            (sm_rail_find(show, name) != SM_NONE || sm_slot_find(show, at, length, &slot) == SM_OK))
            return true;
        at += length;
    }
    return false;
}

static bool wait_is_over(const sm_drill_run *run, const sm_facts *facts) {
    if (!run->armed_once)
        return true;
    sm_us wait = sm_wait_asked_us(&run->drill->show->settings, facts->misfired > 0);
    return wait == SM_UNSET_US || facts->wait_since.us == SM_UNSET_US ||
           facts->now.us >= facts->wait_since.us + wait;
}

#define BIT(rule) (1u << SM_RULE_##rule)

// The rules that trying ACTION breaks, a bit each.
static unsigned broken_by(const sm_drill_run *run, const sm_action *action, const sm_facts *facts) {
    const sm_show *show = run->drill->show;
    bool off = facts->state == SM_STATE_SAFE && !facts->key;
    bool people = facts->people > 0;
    switch (action->act) {
    case SM_ACT_ENTER:
        return (!off || !wait_is_over(run, facts) ? BIT(ENTRY) : 0) |
               (facts->misfired_unreported > 0 ? BIT(UNREPORTED) : 0);
    case SM_ACT_PLUG:
    case SM_ACT_UNPLUG:
        return off ? 0 : BIT(HANDS);
    case SM_ACT_REPAIR:
        return (off ? 0 : BIT(HANDS)) |
               (sm_rehearsal_plugged(run->rehearsal, show->slot_rails[action->index]) ? BIT(PLUGGED) : 0);
    case SM_ACT_KEY_ON:
    case SM_ACT_MEASURE:
    case SM_ACT_START:
    case SM_ACT_START_IN:
        return people ? BIT(PEOPLE) : 0;
    case SM_ACT_ARM:
        return (people ? BIT(PEOPLE) : 0) | (facts->clear_called ? 0 : BIT(NO_CLEAR));
    case SM_ACT_RESUME:
        return (people ? BIT(PEOPLE) : 0) | (facts->link_lost_since_safe ? BIT(LINK) : 0);
    case SM_ACT_WAIVE:
        return names_anything(show, action->detail) ? 0 : BIT(WAIVER);
    default:
        return 0;
    }
}

// The same in the spotter's seat. A spotter reports who comes and goes, and does not send them.
static unsigned broken_by_spotter(const sm_drill_run *run, const sm_action *action, const sm_facts *facts) {
    switch (action->act) {
    case SM_ACT_CALL_CLEAR:
        return facts->people > 0 || !drill_crew_has_answered(run) ? BIT(SILENCE) : 0;
    case SM_ACT_KEY_ON:
    case SM_ACT_ARM:
    case SM_ACT_START:
    case SM_ACT_START_IN:
    case SM_ACT_RESUME:
        return BIT(KEY);
    default:
        return 0;
    }
}

static void judge_rules(sm_drill_run *run, const sm_action *action, const sm_facts *facts) {
    run->tried_rule = false;
    if ((sm_action_row_of(action->act)->states & 1u << facts->state) == 0)
        return; // it does nothing in this state, on a real module too
    unsigned broken = run->drill->seat == SM_SEAT_SPOTTER ? broken_by_spotter(run, action, facts)
                                                          : broken_by(run, action, facts);
    run->tried_rule = broken != 0;
    for (int rule = 0; rule < SM_RULE_COUNT; rule++) {
        if ((broken & 1u << rule) == 0 || run->rules[rule].decided)
            continue;
        decide(run, &run->rules[rule], -rules[rule].cost, SM_UNSET_US);
    }
}

// ---- nevers and befores --------------------------------------------------------------------------------

static void judge_nevers(sm_drill_run *run, const sm_action *action, const sm_facts *facts) {
    for (uint32_t i = 0; i < run->drill->never_count; i++) {
        const sm_drill_never *never = &run->drill->nevers[i];
        if (run->nevers[i].decided || (never->states & 1u << facts->state) == 0 ||
            !sm_action_matches(&never->action, action))
            continue;
        decide(run, &run->nevers[i], -never->marks, SM_UNSET_US);
    }
}

// NEED was done and still holds: no later action took it back, and a clear has not lapsed. A module that is stopped counts as
// stopped, whoever did it.
bool drill_still_holds(const sm_drill_run *run, const sm_action *need, bool came, const sm_facts *facts) {
    const sm_rehearsal *r = run->rehearsal;
    switch (need->act) {
    case SM_ACT_PAUSE:
        return facts->state == SM_STATE_SAFE || facts->state == SM_STATE_PAUSED;
    case SM_ACT_SAFE:
        return facts->state == SM_STATE_SAFE;
    case SM_ACT_KEY_OFF:
        return !facts->key;
    case SM_ACT_KEY_ON:
        return came && facts->key;
    case SM_ACT_CALL_CLEAR:
        return came && facts->clear_called;
    case SM_ACT_PLUG:
    case SM_ACT_UNPLUG:
        return came &&
               (need->index == SM_NONE || sm_rehearsal_plugged(r, need->index) == (need->act == SM_ACT_PLUG));
    case SM_ACT_ENTER:
    case SM_ACT_LEAVE:
        return came && (need->target[0] == '\0' ||
                        sm_rehearsal_has_person(r, need->target) == (need->act == SM_ACT_ENTER));
    case SM_ACT_INHIBIT:
    case SM_ACT_ALLOW:
        return came && (need->target[0] == '\0' ||
                        sm_rehearsal_inhibits(r, need->target) == (need->act == SM_ACT_INHIBIT));
    default:
        return came;
    }
}

static void judge_befores(sm_drill_run *run, const sm_action *action, const sm_facts *facts) {
    const bool *came = run->need_came;
    for (uint32_t i = 0; i < run->drill->before_count; came += run->drill->befores[i++].need_count) {
        const sm_drill_before *before = &run->drill->befores[i];
        if (run->befores[i].decided || !sm_action_matches(&before->action, action))
            continue;
        bool all = true;
        for (uint32_t n = 0; n < before->need_count; n++)
            all = all && drill_still_holds(run, &before->needs[n], came[n], facts);
        decide(run, &run->befores[i], all ? before->marks : 0, SM_UNSET_US);
    }
}

void drill_judge_try(sm_drill_run *run, const sm_action *action) {
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    judge_rules(run, action, &facts);
    judge_nevers(run, action, &facts);
    judge_befores(run, action, &facts);
}

static bool is_new(verdict *v) {
    bool is = v->decided && !v->logged;
    v->logged = v->decided;
    return is;
}

// One slip costs once. An action that was refused and breaks a rule costs by the rule; the orders that it would break stay open.
static void take_back_befores(sm_drill_run *run) {
    for (uint32_t i = 0; i < run->drill->before_count; i++)
        if (run->befores[i].decided && !run->befores[i].logged)
            run->befores[i] = (verdict){0};
}

void drill_log_tried(sm_drill_run *run, bool accepted) {
    const sm_drill *d = run->drill;
    if (!accepted && run->tried_rule)
        take_back_befores(run);
    for (int rule = 0; rule < SM_RULE_COUNT; rule++)
        if (is_new(&run->rules[rule]))
            log_mark(run, rules[rule].name, -rules[rule].cost, 0, rules[rule].say);
    for (uint32_t i = 0; i < d->never_count; i++)
        if (is_new(&run->nevers[i]))
            log_mark(run, d->nevers[i].name, -d->nevers[i].marks, 0, d->nevers[i].say);
    for (uint32_t i = 0; i < d->before_count; i++)
        if (is_new(&run->befores[i]))
            log_mark(run, d->befores[i].name, run->befores[i].got, d->befores[i].marks,
                     run->befores[i].got == d->befores[i].marks ? "in order" : d->befores[i].say);
}

// ---- expectations ----------------------------------------------------------------------------------------

// How strong a stop is; 0: it is none. `quit` makes safe too, but it ends the drill and meets no expectation.
static int stop_strength(sm_act act) {
    switch (act) {
    case SM_ACT_PAUSE:
        return 1;
    case SM_ACT_SAFE:
        return 2;
    case SM_ACT_KEY_OFF:
        return 3;
    default:
        return 0;
    }
}

static bool is_stopped(const sm_facts *facts, sm_act act) {
    switch (act) {
    case SM_ACT_PAUSE:
        return facts->state == SM_STATE_SAFE || facts->state == SM_STATE_PAUSED;
    case SM_ACT_SAFE:
        return facts->state == SM_STATE_SAFE;
    case SM_ACT_KEY_OFF:
        return !facts->key;
    default:
        return false;
    }
}

// Whole up to the time, less in a straight line up to twice the time, floored.
static int32_t earned(const sm_drill_expect *expect, sm_us took) {
    if (took <= expect->within_us)
        return expect->marks;
    if (expect->late_none || took >= 2 * expect->within_us)
        return 0;
    return (int32_t)((sm_us)expect->marks * (2 * expect->within_us - took) / expect->within_us);
}

#define BEFORE_ASKED "at once, before it was asked"

// What had been done when it was asked for took no time: there is nothing to measure.
static void meet_before(sm_drill_run *run, uint32_t i) {
    const sm_drill_expect *expect = &run->drill->expects[i];
    decide(run, &run->expects[i], expect->marks, SM_UNSET_US);
    run->expects[i].before_asked = true;
    log_mark(run, expect->name, expect->marks, expect->marks, BEFORE_ASKED);
    drill_base_on(run, SM_ON_EXPECT, i);
}

static void meet(sm_drill_run *run, uint32_t i) {
    const sm_drill_expect *expect = &run->drill->expects[i];
    sm_us took = sm_rehearsal_facts(run->rehearsal).now.us - drill_trigger_of(run, TRIGGER_EXPECT, i)->at.us;
    decide(run, &run->expects[i], earned(expect, took), took);
    char why[64], seconds[24];
    sm_us_format(seconds, took);
    snprintf(why, sizeof why, "after %.*s s", (int)strlen(seconds) - 3, seconds); // to the millisecond
    log_mark(run, expect->name, run->expects[i].got, expect->marks, why);
    drill_base_on(run, SM_ON_EXPECT, i);
}

void drill_judge_open(sm_drill_run *run, uint32_t i) {
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    // Where the lead is about to go on, nothing is stopped yet: it must be said.
    if (is_stopped(&facts, run->drill->expects[i].action.act) && !sm_drill_lead_is_busy(run))
        meet_before(run, i);
}

// A stop that the state refuses, because it is stopped already, is a stop.
static bool meets(const sm_drill_expect *expect, const sm_action *action, bool accepted,
                  const sm_facts *facts) {
    int wanted = stop_strength(expect->action.act);
    if (wanted > 0)
        return stop_strength(action->act) >= wanted && (accepted || is_stopped(facts, expect->action.act));
    return accepted && sm_action_matches(&expect->action, action);
}

// Hands at one slot disturb its neighbours: what was measured before is no measurement any more.
static bool undoes(sm_act done, sm_act need) {
    bool hands = done == SM_ACT_ENTER || done == SM_ACT_PLUG || done == SM_ACT_UNPLUG ||
                 done == SM_ACT_REPAIR || done == SM_ACT_RERIG;
    return hands && need == SM_ACT_MEASURE;
}

static void keep_needs(sm_drill_run *run, const sm_action *action) {
    bool *came = run->need_came;
    for (uint32_t i = 0; i < run->drill->before_count; came += run->drill->befores[i++].need_count)
        for (uint32_t n = 0; n < run->drill->befores[i].need_count; n++) {
            const sm_action *need = &run->drill->befores[i].needs[n];
            came[n] = (came[n] && !undoes(action->act, need->act)) || sm_action_matches(need, action);
        }
}

void drill_judge_done(sm_drill_run *run, const sm_action *action, bool accepted) {
    if (accepted)
        keep_needs(run, action);
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    for (uint32_t i = 0; i < run->drill->expect_count; i++)
        if (drill_trigger_of(run, TRIGGER_EXPECT, i)->done && !run->expects[i].decided &&
            meets(&run->drill->expects[i], action, accepted, &facts))
            meet(run, i);
}

bool drill_judge_spoken(sm_drill_run *run, const char *name, bool said) {
    for (uint32_t i = 0; i < run->drill->spoken_count; i++) {
        const sm_drill_spoken *spoken = &run->drill->spokens[i];
        if (strcmp(spoken->name, name) != 0)
            continue;
        decide(run, &run->spokens[i], said ? spoken->marks : 0, SM_UNSET_US);
        log_mark(run, name, run->spokens[i].got, spoken->marks, said ? "said" : spoken->say);
        return true;
    }
    return false;
}

void drill_judge_end(sm_drill_run *run) {
    static const verdict not_come = {
        .decided = true, .logged = true, .at = {SM_UNSET_US}, .took_us = SM_UNSET_US};
    for (uint32_t i = 0; i < run->drill->expect_count; i++)
        if (!run->expects[i].decided) {
            run->expects[i] = not_come;
            log_mark(run, run->drill->expects[i].name, 0, run->drill->expects[i].marks,
                     drill_trigger_of(run, TRIGGER_EXPECT, i)->done ? "not done"
                                                                    : "what it answers never came");
        }
    for (uint32_t i = 0; i < run->drill->before_count; i++)
        if (!run->befores[i].decided) {
            run->befores[i] = not_come;
            log_mark(run, run->drill->befores[i].name, 0, run->drill->befores[i].marks,
                     "it never came to that");
        }
}
