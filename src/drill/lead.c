// SPDX-License-Identifier: GPL-3.0-or-later
// The spotter's seat. A person sits at it; the drill plays the lead.
//
// The lead follows the [lead] lines of the file. A line waits for something, and it acts each time that this comes. It is passed
// over where the state does not allow it. It is passed over too where somebody is in the field or clear has lapsed, unless it is
// blind: a blind line is an error that the file planted, and the spotter must stop it.
// A stop by anybody but the lead drops the lines that are about to act: the blind ones, and those that lead to arming.
#include "drill/run.h"

#include <string.h>

#define LEAD "Lead"

// ---- what a spotter does ------------------------------------------------------------------------

bool drill_is_stop(sm_act act) {
    return act == SM_ACT_PAUSE || act == SM_ACT_SAFE || act == SM_ACT_KEY_OFF || act == SM_ACT_QUIT;
}

const char *sm_drill_not_theirs(const sm_drill *drill, sm_act act) {
    if (drill->seat != SM_SEAT_SPOTTER)
        return NULL;
    static const sm_act theirs[] = {
        SM_ACT_KEY_OFF,      SM_ACT_CALL_CLEAR, SM_ACT_PAUSE,   SM_ACT_SAFE,   SM_ACT_MARK, SM_ACT_ENTER,
        SM_ACT_LEAVE,        SM_ACT_REPORT,     SM_ACT_WIND,    SM_ACT_TICK,   SM_ACT_SIGN, SM_ACT_NOTE,
        SM_ACT_UNDO,         SM_ACT_VOLUME,     SM_ACT_MUTE,    SM_ACT_ANSWER, SM_ACT_ASK,  SM_ACT_QUIT,
        SM_ACT_START_IN_OFF, SM_ACT_HINT,       SM_ACT_GO_DRILL};
    for (size_t i = 0; i < sizeof theirs / sizeof theirs[0]; i++)
        if (theirs[i] == act)
            return NULL;
    if (act == SM_ACT_KEY_ON || act == SM_ACT_ARM || act == SM_ACT_START || act == SM_ACT_START_IN ||
        act == SM_ACT_RESUME)
        return "the spotter never has the key, arm, start or resume: the lead does that, on your clear";
    return "not from the spotter's seat: the lead does that; you watch, call clear, report, hold and make "
           "safe";
}

sm_action drill_as_said(const sm_drill_run *run, const sm_action *action) {
    sm_action said = *action;
    sm_state state = sm_rehearsal_state(run->rehearsal);
    if (action->act != SM_ACT_PAUSE || state == SM_STATE_RUNNING)
        return said;
    said = (sm_action){.act = state == SM_STATE_PAUSED ? SM_ACT_ANSWER : SM_ACT_SAFE,
                       .remote = action->remote,
                       .index = SM_NONE,
                       .moment_us = SM_UNSET_US,
                       .end_us = SM_UNSET_US};
    if (said.act == SM_ACT_ANSWER)
        strcpy(said.target, "Hold.");
    return said;
}

// ---- the lead ---------------------------------------------------------------------------------------

// A stop drops these. Work that is done in safe goes on: it waits for nobody's clear.
static bool leads_to_arming(sm_act act) {
    return act == SM_ACT_KEY_ON || act == SM_ACT_CALL_CLEAR || act == SM_ACT_ARM || act == SM_ACT_START ||
           act == SM_ACT_START_IN || act == SM_ACT_RESUME;
}

void drill_lead_drops(sm_drill_run *run) {
    for (uint32_t i = 0; i < run->drill->lead_count; i++) {
        const sm_drill_lead *line = &run->drill->leads[i];
        if (line->blind || leads_to_arming(line->action.act))
            drill_trigger_of(run, TRIGGER_LEAD, i)->based = false; // it may come again
    }
}

static sm_result say(sm_drill_run *run, const char *words) {
    sm_action call = {.act = SM_ACT_CALL,
                      .index = SM_NONE,
                      .moment_us = SM_UNSET_US,
                      .end_us = SM_UNSET_US,
                      .target = LEAD};
    size_t length = strnlen(words, sizeof call.detail - 1);
    memcpy(call.detail, words, length);
    return sm_rehearsal_act(run->rehearsal, &call, SM_SOURCE_DRILL, sm_rehearsal_facts(run->rehearsal).now);
}

sm_result drill_lead_reads_back(sm_drill_run *run, const sm_action *action) {
    static const struct {
        sm_act act;
        const char *words;
    } table[] = {{SM_ACT_PAUSE, "Hold. Holding."},
                 {SM_ACT_SAFE, "Safe. Made safe."},
                 {SM_ACT_KEY_OFF, "Key off. Key is out."},
                 {SM_ACT_CALL_CLEAR, "Clear heard."}};
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        if (table[i].act == action->act)
            return say(run, table[i].words);
    return SM_OK;
}

// It changes nothing: the key is on already.
static bool is_so_already(const sm_drill_lead *line, const sm_facts *facts) {
    return (line->action.act == SM_ACT_KEY_ON && facts->key) ||
           (line->action.act == SM_ACT_KEY_OFF && !facts->key);
}

static bool would_do(const sm_drill_lead *line, const sm_facts *facts) {
    bool empty = facts->people == 0, off = facts->state == SM_STATE_SAFE && !facts->key;
    if ((sm_action_row_of(line->action.act)->states & 1u << facts->state) == 0)
        return false;
    if (line->blind)
        return true;
    switch (line->action.act) {
    case SM_ACT_KEY_ON:
        return empty && facts->clear_called;
    case SM_ACT_ARM:
    case SM_ACT_START:
    case SM_ACT_START_IN:
    case SM_ACT_RESUME:
        return empty && facts->clear_called && !facts->link_lost;
    case SM_ACT_MEASURE:
        return empty && off;
    case SM_ACT_ENTER:
    case SM_ACT_PLUG:
    case SM_ACT_UNPLUG:
    case SM_ACT_EXCHANGE:
    case SM_ACT_REPAIR:
        return off;
    default:
        return true;
    }
}

bool sm_drill_lead_is_busy(const sm_drill_run *run) {
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    for (uint32_t i = 0; i < run->drill->lead_count && !run->over; i++) {
        const trigger *t = drill_trigger_of(run, TRIGGER_LEAD, i);
        const sm_drill_lead *line = &run->drill->leads[i];
        if (t->based && !t->done && line->acts && !drill_is_stop(line->action.act) && would_do(line, &facts))
            return true;
    }
    return false;
}

static sm_result do_line(sm_drill_run *run, const sm_drill_lead *line, const sm_facts *facts) {
    sm_result result = SM_OK;
    if (line->acts && is_so_already(line, facts)) {
        drill_base_on_action(run, &line->action);
        return SM_OK;
    }
    if (line->acts && !would_do(line, facts))
        return SM_OK;
    if (line->says[0] != '\0')
        result = say(run, line->says);
    if (result != SM_OK || !line->acts)
        return result;
    result = sm_rehearsal_act(run->rehearsal, &line->action, SM_SOURCE_DRILL, facts->now);
    if (result == SM_OK && line->action.act == SM_ACT_ENTER)
        drill_crew_to_ask_again(run);
    if (result == SM_OK)
        drill_base_on_action(run, &line->action);
    drill_base_on_states(run);
    return result == SM_REFUSED ? SM_OK : result;
}

sm_result drill_lead_acts(sm_drill_run *run, trigger *t) {
    sm_result result = sm_rehearsal_bring(run->rehearsal, t->due);
    if (result != SM_OK)
        return result;
    drill_base_on_states(run);
    t->based = false;
    t->done = t->when->on == SM_ON_MOMENT; // a moment of the show comes once
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    return do_line(run, &run->drill->leads[t->index], &facts);
}
