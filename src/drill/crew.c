// SPDX-License-Identifier: GPL-3.0-or-later
// Who of the crew has answered, and what they say when they are asked by name.
//
// The drill's `answers` are the list. A person counts as heard once they say that they are outside; they count no more once clear, which
// had been called, has lapsed, once anybody goes in, or once they do not answer. Who is asked answers in a moment, unless the file has
// them silent, or has them call by themselves soon: then that call is their answer.
#include "drill/run.h"

#include <stdio.h>
#include <string.h>

static uint32_t named(const sm_drill_run *run, const char *who) {
    for (uint32_t i = 0; i < run->drill->answer_count; i++)
        if (sm_person_same(run->drill->answers[i], who))
            return i;
    return SM_NONE;
}

// What they say is an answer only if it says where they are: "I am at A-05" and "the audience is early" are none.
static bool says_outside(const char *text) {
    return sm_words_said(NULL, "outside/out/clear", text);
}

// Who calls clear elsewhere sees who is still to answer, where the drill tells what comes next.
static void tell_spotter(sm_drill_run *run) {
    sm_text text = {0};
    for (uint32_t i = 0; i < run->drill->answer_count; i++)
        if (!run->answered[i])
            sm_text_printf(&text, "%s %s", text.length > 0 ? "," : "", run->drill->answers[i]);
    if (drill_sits(run, "spotter"))
        drill_tell_sitter(run, "spotter", "%s%s.",
                          text.length > 0 ? "Not heard yet:" : "Everyone has answered", sm_text_get(&text));
    sm_text_deinit(&text);
}

void drill_crew_heard(sm_drill_run *run, const char *who, const char *text) {
    uint32_t i = named(run, who);
    if (i == SM_NONE || !says_outside(text))
        return;
    bool news = !run->answered[i];
    run->answered[i] = true;
    run->silent[i] = false;
    if (news && run->drill->hints == SM_HINTS_FULL)
        tell_spotter(run);
}

void drill_crew_to_ask_again(sm_drill_run *run) {
    memset(run->answered, 0, run->drill->answer_count * sizeof *run->answered);
}

static void is_silent(sm_drill_run *run, const char *who) {
    uint32_t i = named(run, who);
    if (i == SM_NONE)
        return;
    run->answered[i] = false;
    run->silent[i] = true;
}

void drill_crew_hears_injection(sm_drill_run *run, const sm_injection *injection) {
    switch (injection->what) {
    case SM_INJECT_CALL:
        drill_crew_heard(run, injection->who, injection->text);
        break;
    case SM_INJECT_FALSE_CLEAR: // an answer for one, whatever it claims
        drill_crew_heard(run, injection->who, "clear");
        break;
    case SM_INJECT_NO_ANSWER:
        is_silent(run, injection->who);
        break;
    case SM_INJECT_PERSON_IN:
        drill_crew_to_ask_again(run);
        break;
    case SM_INJECT_WIND:
        run->wind_shown_m_s = injection->wind_m_s;
        break;
    default:
        break;
    }
}

bool drill_crew_answered(const sm_drill_run *run, const char *who) {
    uint32_t i = named(run, who);
    return i != SM_NONE && run->answered[i];
}

bool drill_crew_has_answered(const sm_drill_run *run) {
    bool all = true;
    for (uint32_t i = 0; i < run->drill->answer_count; i++)
        all = all && run->answered[i];
    return all;
}

// The file has WHO call by themselves that they are outside: in a moment, or for the first time yet. That is the story, and their answer.
static bool calls_by_themselves(const sm_drill_run *run, const char *who) {
    bool any = false, came = false, soon = false;
    for (uint32_t i = 0; i < run->drill->event_count; i++) {
        const sm_injection *in = &run->drill->events[i].injection;
        const trigger *t = drill_trigger_of(run, TRIGGER_EVENT, i);
        if (in->what != SM_INJECT_CALL || !sm_person_same(in->who, who) || !says_outside(in->text))
            continue;
        any = true;
        came = came || t->done;
        soon = soon || (t->based && !t->done);
    }
    return soon || (any && !came);
}

sm_result drill_crew_is_asked(sm_drill_run *run, const sm_action *action, sm_source source, sm_wall_time at) {
    uint32_t i = named(run, action->target);
    if (i == SM_NONE)
        return sm_rehearsal_refuse(run->rehearsal, action, source,
                                   "nobody of that name is on this drill's list of who answers", at);
    sm_result result = sm_rehearsal_act(run->rehearsal, action, source, at);
    if (result != SM_OK || drill_asks_sitter(run, run->drill->answers[i]) || run->silent[i] ||
        calls_by_themselves(run, run->drill->answers[i]))
        return result;
    trigger *t = drill_trigger_of(run, TRIGGER_ANSWER, i);
    if (!t->based)
        drill_base(run, t);
    return SM_OK;
}

sm_result drill_crew_answers(sm_drill_run *run, trigger *t) {
    const char *who = run->drill->answers[t->index];
    sm_result result = sm_rehearsal_bring(run->rehearsal, t->due);
    t->based = false; // they may be asked again
    if (result != SM_OK || run->silent[t->index] || drill_sits(run, who))
        return result;
    sm_action call = {.act = SM_ACT_CALL, .index = SM_NONE, .moment_us = SM_UNSET_US, .end_us = SM_UNSET_US};
    bool in = sm_rehearsal_has_person(run->rehearsal, who);
    snprintf(call.target, sizeof call.target, "%s", who);
    snprintf(call.detail, sizeof call.detail, in ? "%.90s here, I am in the field." : "%.90s here, outside.",
             who);
    result = sm_rehearsal_act(run->rehearsal, &call, SM_SOURCE_DRILL, sm_rehearsal_facts(run->rehearsal).now);
    if (result == SM_OK && !in)
        drill_crew_heard(run, who, call.detail);
    return result;
}

// ---- who sits elsewhere --------------------------------------------------------------------------

bool drill_left_to_sitter(sm_drill_run *run, trigger *t) {
    const sm_injection *in = &run->drill->events[t->index].injection;
    bool says = in->what == SM_INJECT_CALL || in->what == SM_INJECT_FALSE_CLEAR;
    if (in->what == SM_INJECT_NO_ANSWER && drill_sits(run, in->who))
        drill_tell_sitter(run, in->who, "You do not hear just now: do not answer.");
    if (!says || !drill_sits(run, in->who))
        return false;
    const char *text = in->what == SM_INJECT_CALL ? in->text : "Clear.";
    bool known = says_outside(text) && drill_crew_answered(run, in->who);
    if (known) { // they have said so by themselves
        drill_event_came(run, t);
        return true;
    }
    t->awaits = true;
    drill_tell_sitter(run, in->who, "It is so, say it in your words (answer ...): \"%s\"", text);
    return true;
}

bool drill_asks_sitter(sm_drill_run *run, const char *who) {
    if (!drill_sits(run, who))
        return false;
    drill_tell_sitter(run, who, "You are asked by name: answer where you are.");
    return true;
}
