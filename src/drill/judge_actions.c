// SPDX-License-Identifier: GPL-3.0-or-later
// What the trainee's actions earn and cost. Rules, `never` and `before` judge a try, even one that this rehearsal refuses: a real
// module would not refuse. Expectations and needs take only what was accepted.
#include "drill/run.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

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
    v->decided = true;
    v->got = got;
    v->at = sm_rehearsal_facts(run->rehearsal).now;
    v->took_us = took_us;
}

// ---- built-in rules -----------------------------------------------------------------------------------

static void judge_rules(sm_drill_run *run, const sm_action *action, const sm_facts *facts) {
    run->tried_rule = false;
    if ((sm_action_row_of(action->act)->states & 1u << facts->state) == 0)
        return; // it does nothing in this state, on a real module too
    unsigned broken = drill_rules_broken(run, action, facts);
    run->tried_rule = broken != 0;
    for (int rule = 0; rule < SM_RULE_COUNT && broken != 0; rule++) {
        verdict *v = &run->rules[run->actor][rule]; // nobody else breaks any
        if ((broken & 1u << rule) != 0 && !v->decided)
            decide(run, v, -sm_drill_rule_of((sm_drill_rule)rule)->cost, SM_UNSET_US);
    }
}

// ---- nevers and befores --------------------------------------------------------------------------------

static void judge_nevers(sm_drill_run *run, const sm_action *action, const sm_facts *facts) {
    for (uint32_t i = 0; i < run->drill->never_count; i++) {
        const sm_drill_never *never = &run->drill->nevers[i];
        if (action->act == SM_ACT_RESUME && run->paused_by_hold)
            continue; // it was the instructor who stopped the show: going on is what they wait for
        bool theirs = never->seat == SM_FOR_BOTH || (int)never->seat == (int)run->actor;
        if (run->nevers[i].decided || !theirs || (never->states & 1u << facts->state) == 0 ||
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
    case SM_ACT_REPORT:
        return came && (need->index == SM_NONE || sm_rehearsal_was_reported(r, need->index));
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
    for (int rule = 0; rule < SM_RULE_COUNT && run->actor != DRILL_OTHER; rule++)
        if (is_new(&run->rules[run->actor][rule])) {
            const sm_drill_rule_row *row = sm_drill_rule_of((sm_drill_rule)rule);
            log_mark(run, row->name, -row->cost, 0, row->say);
        }
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

// Nothing can be measured of what took no time: it was done before it was asked for, or while the drill's clock stood.
static void meet_untimed(sm_drill_run *run, uint32_t i, bool *untimed, const char *why) {
    const sm_drill_expect *expect = &run->drill->expects[i];
    decide(run, &run->expects[i], expect->marks, SM_UNSET_US);
    *untimed = true;
    log_mark(run, expect->name, expect->marks, expect->marks, why);
    drill_base_on(run, SM_ON_EXPECT, i);
}

static bool is_said(sm_act act) {
    return act == SM_ACT_ANSWER || act == SM_ACT_NOTE;
}

static sm_us took_us(const sm_drill_run *run, uint32_t i) {
    sm_wall_time now = run->held ? run->held_since : sm_rehearsal_facts(run->rehearsal).now;
    sm_us took = now.us - drill_trigger_of(run, TRIGGER_EXPECT, i)->at.us;
    return took > 0 ? took : 0;
}

// Hands were at a terminal that the module could still fire: it is mended, and no good work.
static bool was_plugged(const sm_drill_run *run, const sm_action *asked) {
    return asked->act == SM_ACT_REPAIR && asked->index != SM_NONE &&
           sm_rehearsal_plugged(run->rehearsal, run->drill->show->slot_rails[asked->index]);
}

static void meet(sm_drill_run *run, uint32_t i) {
    const sm_drill_expect *expect = &run->drill->expects[i];
    sm_us took = took_us(run, i);
    bool unjudged = is_said(expect->action.act) && expect->words[0] == '\0';
    run->expects[i].unjudged = unjudged;
    const bool plugged = was_plugged(run, &expect->action);
    decide(run, &run->expects[i], unjudged || plugged ? 0 : earned(expect, took), took);
    char why[64], seconds[24];
    sm_us_format(seconds, took);
    snprintf(why, sizeof why, "after %.*s s%s", (int)strlen(seconds) - 3, seconds, // to the millisecond
             plugged ? ", its rail plugged" : "");
    if (unjudged)
        sm_rehearsal_drill_row(run->rehearsal, DRILL_MARK, expect->name,
                               "said; what was said is for the instructor to judge");
    else
        log_mark(run, expect->name, run->expects[i].got, expect->marks, why);
    drill_base_on(run, SM_ON_EXPECT, i);
}

void drill_judge_open(sm_drill_run *run, uint32_t i) {
    const sm_action *asked = &run->drill->expects[i].action;
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    // Where the lead is about to go on, nothing is stopped yet: it must be said.
    bool stopped = is_stopped(&facts, asked->act) && !sm_drill_lead_is_busy(run);
    if (stopped || (run->expects[i].done_before && drill_still_holds(run, asked, true, &facts)))
        meet_untimed(run, i, &run->expects[i].before_asked, "at once, before it was asked");
}

// What the drill's meter showed, to a tenth of it or half a metre a second: reading a meter is no more exact.
static bool is_as_shown(const sm_drill_run *run, double wind_m_s) {
    double shown = run->wind_shown_m_s, off = fabs(wind_m_s - shown);
    return isnan(shown) || off <= 0.5 || off <= shown / 10;
}

// What was done is what was asked for: the right words, the wind as it was shown.
static bool fits(const sm_drill_run *run, const sm_drill_expect *expect, const sm_action *action) {
    if (is_said(action->act))
        return sm_words_said(run->drill->show, expect->words, action->target);
    return action->act != SM_ACT_WIND || is_as_shown(run, action->number);
}

// A stop that the state refuses, because it is stopped already, is a stop.
static bool meets(const sm_drill_run *run, const sm_drill_expect *expect, const sm_action *action,
                  bool accepted, const sm_facts *facts) {
    int wanted = stop_strength(expect->action.act);
    if (wanted > 0)
        return stop_strength(action->act) >= wanted && (accepted || is_stopped(facts, expect->action.act));
    bool theirs = !is_said(action->act) || drill_role_of(run, expect->seat, action->act) == run->actor;
    return accepted && theirs && sm_action_matches(&expect->action, action) && fits(run, expect, action);
}

// Hands at one slot disturb its neighbours: what was measured before is no measurement any more.
static bool undoes(sm_act done, sm_act need) {
    bool hands = done == SM_ACT_ENTER || done == SM_ACT_PLUG || done == SM_ACT_UNPLUG ||
                 done == SM_ACT_EXCHANGE || done == SM_ACT_REPAIR || done == SM_ACT_RERIG;
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

// What stays as it was done, so that it may come before it is asked for.
static bool lasts(sm_act act) {
    return act == SM_ACT_REPORT || act == SM_ACT_CALL_CLEAR || act == SM_ACT_PLUG || act == SM_ACT_UNPLUG ||
           act == SM_ACT_EXCHANGE || act == SM_ACT_INHIBIT || act == SM_ACT_ALLOW || act == SM_ACT_KEY_ON;
}

static void keep_done(sm_drill_run *run, uint32_t i, const sm_action *action) {
    const sm_action *asked = &run->drill->expects[i].action;
    bool over_silence = action->act == SM_ACT_CALL_CLEAR && !drill_crew_has_answered(run);
    if (lasts(action->act) && sm_action_matches(asked, action) && !over_silence)
        run->expects[i].done_before = true;
}

void drill_judge_clear_lapsed(sm_drill_run *run) {
    bool *came = run->need_came;
    for (uint32_t i = 0; i < run->drill->expect_count; i++)
        if (run->drill->expects[i].action.act == SM_ACT_CALL_CLEAR)
            run->expects[i].done_before = false;
    for (uint32_t i = 0; i < run->drill->before_count; came += run->drill->befores[i++].need_count)
        for (uint32_t n = 0; n < run->drill->befores[i].need_count; n++)
            came[n] = came[n] && run->drill->befores[i].needs[n].act != SM_ACT_CALL_CLEAR;
}

static void keep_heard(sm_drill_run *run, uint32_t i, const sm_action *action) {
    const sm_drill_expect *expect = &run->drill->expects[i];
    if (!is_said(action->act) || expect->action.act != action->act ||
        drill_role_of(run, expect->seat, action->act) != run->actor)
        return;
    const char *heard = sm_arena_text(run->texts, action->target, strlen(action->target));
    run->no_memory = run->no_memory || !heard;
    run->expects[i].heard = heard;
}

void drill_judge_done(sm_drill_run *run, const sm_action *action, bool accepted) {
    if (accepted)
        keep_needs(run, action);
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    for (uint32_t i = 0; i < run->drill->expect_count; i++) {
        bool open = drill_trigger_of(run, TRIGGER_EXPECT, i)->done;
        if (run->expects[i].decided)
            continue;
        if (!open && accepted)
            keep_done(run, i, action);
        else if (open)
            keep_heard(run, i, action);
        if (open && meets(run, &run->drill->expects[i], action, accepted, &facts)) {
            if (run->held && stop_strength(action->act) > 0)
                meet_untimed(run, i, &run->expects[i].in_hold, "at once, while the drill was held");
            else
                meet(run, i);
        }
    }
}

// ---- by hand ---------------------------------------------------------------------------------------------

static verdict *verdict_named(sm_drill_run *run, const char *name, uint32_t *expect) {
    const sm_drill *d = run->drill;
    *expect = SM_NONE;
    for (uint32_t i = 0; i < d->expect_count; i++)
        if (strcmp(d->expects[i].name, name) == 0) {
            *expect = i;
            return &run->expects[i];
        }
    for (uint32_t i = 0; i < d->before_count; i++)
        if (strcmp(d->befores[i].name, name) == 0)
            return &run->befores[i];
    for (uint32_t i = 0; i < d->never_count; i++)
        if (strcmp(d->nevers[i].name, name) == 0)
            return &run->nevers[i];
    return NULL;
}

static bool judge_spoken(sm_drill_run *run, const char *name, bool said) {
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

bool drill_judge_by_hand(sm_drill_run *run, const char *name, bool yes, const char *reason) {
    uint32_t expect;
    if (judge_spoken(run, name, yes))
        return true;
    verdict *v = verdict_named(run, name, &expect);
    const char *kept = sm_arena_text(run->texts, reason, strlen(reason));
    run->no_memory = run->no_memory || !kept;
    if (!v || !kept)
        return false;
    v->judged = yes ? 1 : -1;
    v->reason = kept;
    if (yes && expect != SM_NONE && !v->decided)
        drill_base_on(run, SM_ON_EXPECT, expect); // what follows it may come
    sm_rehearsal_drill_row(run->rehearsal, DRILL_MARK, name,
                           yes ? "yes, by the instructor" : "no, by the instructor");
    return true;
}

// ---- the end ---------------------------------------------------------------------------------------------

static void close_undone(sm_drill_run *run, verdict *v, const char *name, int32_t marks, const char *why) {
    v->decided = v->logged = true;
    v->at.us = v->took_us = SM_UNSET_US;
    log_mark(run, name, 0, marks, why);
}

void drill_judge_end(sm_drill_run *run) {
    const sm_drill *d = run->drill;
    for (uint32_t i = 0; i < d->expect_count; i++)
        if (!run->expects[i].decided && drill_counts(run, d->expects[i].seat))
            close_undone(run, &run->expects[i], d->expects[i].name, d->expects[i].marks,
                         drill_trigger_of(run, TRIGGER_EXPECT, i)->done ? "not done"
                                                                        : "what it answers never came");
    for (uint32_t i = 0; i < d->before_count; i++)
        if (!run->befores[i].decided)
            close_undone(run, &run->befores[i], d->befores[i].name, d->befores[i].marks,
                         "it never came to that");
}
