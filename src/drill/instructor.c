// SPDX-License-Identifier: GPL-3.0-or-later
// What the instructor alone does: makes things happen, speaks for the crew, judges, holds the drill.
#include "drill/run.h"

#include <stdio.h>
#include <string.h>

bool sm_drill_is_instructors(sm_act act) {
    static const bool acts[SM_ACT_COUNT] = {
        [SM_ACT_TRIGGER] = true,    [SM_ACT_INJECT] = true,   [SM_ACT_CALL] = true, [SM_ACT_JUDGE] = true,
        [SM_ACT_HOLD_DRILL] = true, [SM_ACT_GO_DRILL] = true, [SM_ACT_TICK] = true, [SM_ACT_REMARK] = true};
    return acts[act];
}

static sm_result refuse(sm_drill_run *run, const sm_action *action, const char *why, sm_wall_time at) {
    return sm_rehearsal_refuse(run->rehearsal, action, SM_SOURCE_INSTRUCTOR, why, at);
}

static sm_result inject(sm_drill_run *run, const sm_action *action, sm_wall_time at) {
    sm_injection injection;
    char why[200];
    size_t byte = 0;
    if (sm_injection_read(run->drill->show, action->target, strlen(action->target), &injection, why, &byte) !=
        SM_OK)
        return refuse(run, action, why, at);
    sm_result result = sm_rehearsal_act(run->rehearsal, action, SM_SOURCE_INSTRUCTOR, at);
    if (result == SM_OK)
        result = sm_rehearsal_inject(run->rehearsal, "instructor", &injection,
                                     sm_rehearsal_facts(run->rehearsal).now);
    if (result == SM_OK)
        drill_crew_hears_injection(run, &injection);
    drill_base_on_states(run);
    return result;
}

static sm_result judge(sm_drill_run *run, const sm_action *action, const char *answer, const char *reason,
                       sm_wall_time at) {
    bool yes = strcmp(answer, "yes") == 0, no = strcmp(answer, "no") == 0;
    bool earlier = run->broken_off || !(yes || no);
    if (earlier)
        return refuse(run, action, "write yes or no, and why", at);
    if (!drill_judge_by_hand(run, action->target, yes, reason))
        return refuse(run, action, "there is no such mark, or it is a built-in rule, which nobody overrules",
                      at);
    return sm_rehearsal_act(run->rehearsal, action, SM_SOURCE_INSTRUCTOR, at);
}

// The first word of DETAIL into ANSWER; what follows it.
static const char *first_word(const char *detail, char answer[8]) {
    size_t length = strcspn(detail, " ");
    snprintf(answer, 8, "%.*s", (int)(length < 7 ? length : 7), detail);
    return detail + length + strspn(detail + length, " ");
}

static sm_result hold(sm_drill_run *run, const sm_action *action, sm_wall_time at) {
    bool holds = action->act == SM_ACT_HOLD_DRILL;
    if (holds == run->held)
        return refuse(run, action, holds ? "the drill is held already" : "the drill is not held", at);
    sm_result result = sm_rehearsal_act(run->rehearsal, action, SM_SOURCE_INSTRUCTOR, at);
    if (result != SM_OK)
        return result;
    sm_wall_time now = sm_rehearsal_facts(run->rehearsal).now;
    run->held = holds;
    if (!holds)
        drill_triggers_shift(run, now);
    run->held_since = now;
    // The show stands while people talk. It is the trainee who resumes it, or in the spotter's drill the lead.
    bool stands = holds && sm_rehearsal_state(run->rehearsal) == SM_STATE_RUNNING;
    bool goes_on = !holds && run->paused_by_hold && run->drill->seat == SM_SEAT_SPOTTER &&
                   sm_rehearsal_state(run->rehearsal) == SM_STATE_PAUSED;
    run->paused_by_hold = stands || (run->paused_by_hold && !goes_on);
    if (!stands && !goes_on)
        return SM_OK;
    const sm_action moves = {.act = stands ? SM_ACT_PAUSE : SM_ACT_RESUME, .index = SM_NONE};
    result = sm_rehearsal_act(run->rehearsal, &moves, stands ? SM_SOURCE_INSTRUCTOR : SM_SOURCE_DRILL, now);
    drill_base_on_states(run);
    return result == SM_REFUSED ? SM_OK : result;
}

bool drill_instructor_acts(sm_drill_run *run, const sm_action *action, sm_wall_time at, sm_result *result) {
    char answer[8];
    const char *reason = first_word(action->detail, answer);
    switch (action->act) {
    case SM_ACT_INJECT:
        *result = inject(run, action, at);
        return true;
    case SM_ACT_JUDGE:
    case SM_ACT_TICK:
        *result = judge(run, action, answer, reason, at);
        return true;
    case SM_ACT_HOLD_DRILL:
    case SM_ACT_GO_DRILL:
        *result = hold(run, action, at);
        return true;
    default:
        return false;
    }
}
