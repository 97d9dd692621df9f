// SPDX-License-Identifier: GPL-3.0-or-later
// What waits for a moment: when it is based, when it is due, which is next.
#include "drill/run.h"

#include <string.h>

static void add_trigger(sm_drill_run *run, trigger_kind kind, uint32_t index, const sm_drill_when *when,
                        uint64_t *random) {
    uint64_t drawn = sm_drill_random(random);
    uint64_t width =
        (uint64_t)(when->most_us - when->least_us) + 1; // 2^64 is so much wider that the rest is even
    run->triggers[run->trigger_count++] = (trigger){
        .kind = kind, .index = index, .when = when, .delay_us = when->least_us + (sm_us)(drawn % width)};
}

// Who is asked answers so much later; only the asking bases it.
static const sm_drill_when answer = {
    .on = SM_ON_NOTHING, .least_us = 2 * SM_US_PER_S, .most_us = 3 * SM_US_PER_S};

void drill_triggers_add(sm_drill_run *run) {
    const sm_drill *d = run->drill;
    uint64_t random = run->options.seed;
    for (uint32_t i = 0; i < d->event_count; i++)
        add_trigger(run, TRIGGER_EVENT, i, &d->events[i].when, &random);
    for (uint32_t i = 0; i < d->expect_count; i++)
        add_trigger(run, TRIGGER_EXPECT, i, &d->expects[i].after, &random);
    for (uint32_t i = 0; i < d->spoken_count; i++)
        add_trigger(run, TRIGGER_SPOKEN, i, &d->spokens[i].after, &random);
    add_trigger(run, TRIGGER_ENDS, 0, &d->ends, &random);
    for (uint32_t i = 0; i < d->lead_count; i++)
        add_trigger(run, TRIGGER_LEAD, i, &d->leads[i].after, &random);
    for (uint32_t i = 0; i < d->answer_count;
         i++) // last, so that nobody's name shifts what is drawn for the others
        add_trigger(run, TRIGGER_ANSWER, i, &answer, &random);
    for (uint32_t i = 0; i < run->trigger_count; i++)
        if (run->triggers[i].when->on == SM_ON_BEGIN) {
            run->triggers[i].based = true;
            run->triggers[i].due.us = run->triggers[i].delay_us;
        }
}

trigger *drill_trigger_of(const sm_drill_run *run, trigger_kind kind, uint32_t index) {
    const sm_drill *d = run->drill;
    const uint32_t counts[] = {[TRIGGER_EVENT] = d->event_count,   [TRIGGER_EXPECT] = d->expect_count,
                               [TRIGGER_SPOKEN] = d->spoken_count, [TRIGGER_ENDS] = 1,
                               [TRIGGER_LEAD] = d->lead_count,     [TRIGGER_ANSWER] = d->answer_count};
    for (int before = 0; before < (int)kind; before++)
        index += counts[before];
    return &run->triggers[index];
}

void drill_base(sm_drill_run *run, trigger *t) {
    t->based = true;
    t->due.us = sm_rehearsal_facts(run->rehearsal).now.us + t->delay_us;
}

void drill_base_on(sm_drill_run *run, sm_drill_on on, uint32_t index) {
    for (uint32_t i = 0; i < run->trigger_count; i++) {
        trigger *t = &run->triggers[i];
        if (!t->based && t->when->on == on && t->when->index == index)
            drill_base(run, t);
    }
}

void drill_base_on_states(sm_drill_run *run) {
    for (uint32_t i = 0; i < run->trigger_count; i++) {
        trigger *t = &run->triggers[i];
        if (!t->based && t->when->on == SM_ON_STATE && run->states_entered[t->when->state])
            drill_base(run, t);
    }
    memset(run->states_entered, 0, sizeof run->states_entered);
}

void drill_base_on_action(sm_drill_run *run, const sm_action *action) {
    for (uint32_t i = 0; i < run->trigger_count; i++) {
        trigger *t = &run->triggers[i];
        if (!t->based && t->when->on == SM_ON_ACTION && sm_action_matches(&t->when->action, action))
            drill_base(run, t);
    }
}

// When T next acts: once it is due, or at its moment of the show. False: not by itself.
static bool wants(const sm_drill_run *run, const trigger *t, sm_wall_time *at) {
    if (t->done || t->awaits)
        return false;
    if (t->based) {
        *at = t->due;
        return true;
    }
    if (t->when->on != SM_ON_MOMENT || sm_rehearsal_state(run->rehearsal) != SM_STATE_RUNNING)
        return false;
    sm_show_clock clock = sm_rehearsal_show_clock(run->rehearsal);
    *at = sm_show_clock_wall_at(&clock, t->when->moment);
    return true;
}

trigger *drill_trigger_next(const sm_drill_run *run, sm_wall_time *at) {
    trigger *next = NULL;
    for (uint32_t i = 0; i < run->trigger_count && !run->over && !run->held; i++) {
        sm_wall_time wanted;
        if (!wants(run, &run->triggers[i], &wanted) || (next && wanted.us >= at->us))
            continue;
        next = &run->triggers[i];
        *at = wanted;
    }
    return next;
}

void drill_triggers_shift(sm_drill_run *run, sm_wall_time now) {
    for (uint32_t i = 0; i < run->trigger_count; i++) {
        trigger *t = &run->triggers[i];
        sm_us based_at = t->due.us - t->delay_us;
        if (t->based && !t->done)
            t->due.us += now.us - (based_at > run->held_since.us ? based_at : run->held_since.us);
        if (t->done && t->kind == TRIGGER_EXPECT && !run->expects[t->index].decided)
            t->at.us += now.us - (t->at.us > run->held_since.us ? t->at.us : run->held_since.us);
    }
}

void drill_event_came(sm_drill_run *run, trigger *t) {
    t->done = true;
    t->at = sm_rehearsal_facts(run->rehearsal).now;
    drill_base_on_states(run);
    drill_base_on(run, SM_ON_EVENT, t->index);
}
