// SPDX-License-Identifier: GPL-3.0-or-later
// What people who sit elsewhere do.
#include "drill/run.h"

#include <stdio.h>

#define SPOTTER "spotter"

bool sm_drill_seat_may(const char *seat, sm_act act) {
    static const sm_act anybodys[] = {SM_ACT_PAUSE,  SM_ACT_HOLD, SM_ACT_SAFE, SM_ACT_ANSWER,
                                      SM_ACT_REPORT, SM_ACT_NOTE, SM_ACT_WIND, SM_ACT_START_IN_OFF};
    static const sm_act spotters[] = {SM_ACT_CALL_CLEAR, SM_ACT_ENTER, SM_ACT_LEAVE, SM_ACT_ASK};
    for (size_t i = 0; i < sizeof anybodys / sizeof anybodys[0]; i++)
        if (anybodys[i] == act)
            return true;
    for (size_t i = 0; i < sizeof spotters / sizeof spotters[0]; i++)
        if (spotters[i] == act)
            return sm_person_same(seat, SPOTTER);
    return false;
}

// A person says TEXT: a call of theirs.
static sm_result speak(sm_drill_run *run, const sm_action *said, sm_wall_time at) {
    sm_action call = *said;
    call.act = SM_ACT_CALL;
    snprintf(call.target, sizeof call.target, "%s", said->seat);
    snprintf(call.detail, sizeof call.detail, "%s", said->target); // which has the whole text
    sm_result result = sm_rehearsal_act(run->rehearsal, &call, SM_SOURCE_SEAT, at);
    if (result != SM_OK)
        return result;
    if (!sm_rehearsal_has_person(run->rehearsal, said->seat))
        drill_crew_heard(run, said->seat, call.detail);
    drill_sitter_spoke(run, said->seat, call.detail);
    return SM_OK;
}

static sm_result act(sm_drill_run *run, const sm_action *action, sm_wall_time at) {
    static const char why[] =
        "not yours: the lead has the key, arms and starts; hold, safe, answer, report, wind and note are "
        "yours, and the spotter's call-clear, enter, leave and ask";
    if (!sm_drill_seat_may(action->seat, action->act))
        return sm_rehearsal_refuse(run->rehearsal, action, SM_SOURCE_SEAT, why, at);
    if (action->act == SM_ACT_ASK)
        return drill_crew_is_asked(run, action, SM_SOURCE_SEAT, at);
    if (action->act == SM_ACT_ANSWER && drill_is_named(run->drill, action->seat))
        return speak(run, action, at);
    if (action->act != SM_ACT_HOLD)
        return drill_act_judged(run, action, SM_SOURCE_SEAT, at);
    sm_action pause = *action; // a drill judges one hold
    pause.act = SM_ACT_PAUSE;
    pause.target[0] = pause.detail[0] = '\0';
    const sm_result result = drill_act_judged(run, &pause, SM_SOURCE_SEAT, at);
    if (result != SM_OK && result != SM_REFUSED)
        return result;
    // And it stands with its name, so that nobody resumes or arms over it before whoever called it agrees.
    return sm_rehearsal_act(run->rehearsal, action, SM_SOURCE_SEAT, at);
}

sm_result sm_drill_act_from(sm_drill_run *run, const sm_action *action, sm_wall_time at) {
    sm_result result = drill_bring(run, at);
    if (result != SM_OK)
        return result;
    run->actor = sm_person_same(action->seat, SPOTTER) ? DRILL_SPOTTER : DRILL_OTHER;
    if (action->act == SM_ACT_SEAT)
        result = sm_rehearsal_act(run->rehearsal, action, SM_SOURCE_SEAT, at);
    else
        result = act(run, action, at);
    return (result == SM_OK || result == SM_REFUSED) && run->no_memory ? SM_NO_MEMORY : result;
}
