// SPDX-License-Identifier: GPL-3.0-or-later
// An action that is being done: what all of its functions share.
#ifndef SLOWMATCH_ENGINE_ACT_CALL_H
#define SLOWMATCH_ENGINE_ACT_CALL_H

#include "engine/rehearsal.h"

typedef struct sm_act_call {
    sm_rehearsal *r;
    const sm_action *action;
    sm_source source;
} sm_act_call;

// Does it: checks what only it knows, logs the action's row, then acts.
typedef sm_result sm_act_fn(const sm_act_call *c);

// The row of the action.
void sm_act_log(const sm_act_call *c);
// `refused` in place of it; SM_REFUSED.
SM_PRINTF(2, 3) sm_result sm_act_refuse(const sm_act_call *c, const char *format, ...);

// acts_field.c
sm_act_fn sm_act_rerig, sm_act_plug, sm_act_unplug, sm_act_exchange, sm_act_repair, sm_act_enter,
    sm_act_leave, sm_act_measure, sm_act_read_slot, sm_act_report, sm_act_wind, sm_act_waive;
// acts_drill.c: words over the radio, and a wait passed in practice
sm_act_fn sm_act_speak, sm_act_answer, sm_act_pass_time;
// holds.c: a hold by name, and its lifting
sm_act_fn sm_act_hold, sm_act_lift;

#endif
