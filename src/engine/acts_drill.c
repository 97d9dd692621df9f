// SPDX-License-Identifier: GPL-3.0-or-later
// What is said in a drill, and the wait that is passed in practice.
#include "engine/act_call.h"

#include "slowmatch/inject.h"

#include <stdio.h>

sm_result sm_act_speak(const sm_act_call *c) {
    sm_act_log(c);
    if (c->source ==
        SM_SOURCE_DRILL) { // the lead says so: nobody has to answer that, and an earlier call still waits
        sm_hear_words(c->r, c->action->target, c->action->detail);
        return SM_OK;
    }
    sm_hear_call(c->r, c->action->target, c->action->detail);
    char why[160];
    snprintf(why, sizeof why, "%.60s called", c->action->target);
    sm_start_cancel(c->r, why);
    return SM_OK;
}

sm_result sm_act_answer(const sm_act_call *c) {
    sm_incidents *incidents = &c->r->incidents;
    sm_act_log(c);
    incidents->calls_open = 0; // whoever is silent stays so: what was said to them is no answer of theirs
    incidents->answer_at = c->r->now;
    char said_room[SM_WORDS_ROOM] = "";
    sm_text said = SM_TEXT_IN(said_room);
    sm_text_printf(&said, "%s", c->action->target);
    sm_copy_cut(incidents->answer, sizeof incidents->answer, sm_text_get(&said));
    sm_text_deinit(&said);
    return SM_OK;
}

sm_result sm_act_pass_time(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    sm_us wait = sm_wait_asked_us(&r->show->settings, true); // enough for either
    if (r->state != SM_STATE_SAFE || r->burning_count > 0 || r->hung_count > 0)
        return sm_act_refuse(c, "a wait runs out in safe, with nothing burning");
    if (wait == SM_UNSET_US)
        return sm_act_refuse(c, "no wait is set in [limits]");
    if (r->wait_since.us == SM_UNSET_US)
        return sm_act_refuse(c, "there is nothing to wait for");
    char left[24], detail[80];
    sm_us left_us = r->wait_since.us + wait - r->now.us;
    left_us = left_us > 0 ? left_us : 0;
    snprintf(detail, sizeof detail, "%s waited (passed in practice)", sm_clock_format(left, left_us));
    sm_log_action(r, c->action, c->source, detail);
    r->wait_since.us -= left_us; // as if it had begun so much earlier
    return SM_OK;
}
