// SPDX-License-Identifier: GPL-3.0-or-later
// The next right action, from what is open, and from what the drill still waits for.
#include "drill/run.h"

#include <stdio.h>
#include <string.h>

#define ROOM 240

static void say_action(const char *intro, const sm_action *action, char text[ROOM]) {
    const char *name = sm_action_row_of(action->act)->name;
    bool has_target = action->target[0] != '\0' && strchr(name, ' ') == NULL;
    snprintf(text, ROOM, "%s%s%s%.90s.", intro, name, has_target ? " " : "",
             has_target ? action->target : "");
}

// The expectation that is open and has the least time left.
static const sm_drill_expect *most_urgent(const sm_drill_run *run) {
    const sm_drill_expect *found = NULL;
    sm_us soonest = 0;
    for (uint32_t i = 0; i < run->drill->expect_count; i++) {
        const trigger *t = drill_trigger_of(run, TRIGGER_EXPECT, i);
        sm_us deadline = t->at.us + run->drill->expects[i].within_us;
        if (!t->done || run->expects[i].decided || (found != NULL && deadline >= soonest))
            continue;
        found = &run->drill->expects[i];
        soonest = deadline;
    }
    return found;
}

// The step towards STATE from where the module is. False: no step but to wait.
static bool step_towards(const sm_facts *f, sm_state state, char text[ROOM]) {
    bool wants_run = state == SM_STATE_RUNNING || state == SM_STATE_ENDED || state == SM_STATE_PAUSED;
    const char *step = NULL;
    if (f->state == SM_STATE_SAFE && f->people > 0)
        step = "Somebody is in the field: wait until they are out.";
    else if (f->state == SM_STATE_SAFE && !f->clear_called)
        step = "Next: ask each person by name, wait for each answer, then call clear.";
    else if (f->state == SM_STATE_SAFE && !f->key)
        step = "Next: key on.";
    else if (f->state == SM_STATE_SAFE)
        step = "Next: arm, and wait out the tone.";
    else if (f->state == SM_STATE_ARMED && wants_run)
        step = "Next: count down aloud and start.";
    if (step == NULL)
        return false;
    snprintf(text, ROOM, "%s", step);
    return true;
}

// The first order that is still open: what it needs first, then its own action.
static bool order_hint(const sm_drill_run *run, char text[ROOM]) {
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    const bool *came = run->need_came;
    for (uint32_t i = 0; i < run->drill->before_count; came += run->drill->befores[i++].need_count) {
        if (run->befores[i].decided)
            continue;
        const sm_drill_before *before = &run->drill->befores[i];
        if (before->action.act == SM_ACT_ARM && step_towards(&facts, SM_STATE_ARMED, text))
            return true;
        for (uint32_t n = 0; n < before->need_count; n++)
            if (!drill_still_holds(run, &before->needs[n], came[n], &facts)) {
                say_action("First: ", &before->needs[n], text);
                return true;
            }
        say_action("Next: ", &before->action, text);
        return true;
    }
    return false;
}

static bool waiting_hint(const sm_drill_run *run, char text[ROOM]) {
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    for (uint32_t i = 0; i < run->trigger_count; i++) {
        const trigger *t = &run->triggers[i];
        if (!t->based && t->when->on == SM_ON_STATE && step_towards(&facts, t->when->state, text))
            return true;
        if (!t->based && t->when->on == SM_ON_MOMENT && step_towards(&facts, SM_STATE_RUNNING, text))
            return true;
    }
    return false;
}

bool sm_drill_hint(const sm_drill_run *run, char text[ROOM]) {
    if (run->over || run->held) {
        snprintf(text, ROOM, "%s", run->over ? "The drill is over." : "The drill is held; talk.");
        return false;
    }
    const sm_drill_expect *open = most_urgent(run);
    if (open != NULL) {
        if (open->hint[0] != '\0')
            snprintf(text, ROOM, "%s", open->hint);
        else
            say_action("Now: ", &open->action, text);
        return true;
    }
    if (order_hint(run, text) || waiting_hint(run, text))
        return true;
    snprintf(text, ROOM, "Nothing is asked of you just now. Watch the field, not the screen.");
    return false;
}
