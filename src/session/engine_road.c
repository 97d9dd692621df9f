// SPDX-License-Identifier: GPL-3.0-or-later
// The one road to the engine, or to the drill around it.
#include "session/inside.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool sm_session_engine_due(const sm_session *session, sm_wall_time *due) {
    return session->drill_run ? sm_drill_next_due(session->drill_run, due)
                              : sm_rehearsal_next_due(session->rehearsal, due);
}

// A virtual clock issues everything when it is due.
static void issue(sm_session *session) {
    if (session->audio)
        sm_rehearsal_issue_at(session->rehearsal, sm_audio_now(session->audio));
}

sm_result sm_session_engine_run(sm_session *session, sm_wall_time to) {
    issue(session);
    return session->drill_run ? sm_drill_run_to(session->drill_run, to)
                              : sm_rehearsal_run(session->rehearsal, to);
}

sm_wall_time sm_session_act_moment(sm_session *session) {
    sm_wall_time due;
    issue(session);
    bool behind = sm_session_engine_due(session, &due) && due.us < session->now.us;
    return behind ? due : session->now;
}

static bool has_stopped(const sm_session *session, const sm_action *action) {
    sm_state state = sm_rehearsal_state(session->rehearsal);
    return action->act == SM_ACT_PAUSE ? state != SM_STATE_RUNNING : state == SM_STATE_SAFE;
}

static bool is_stop(sm_act act) {
    return act == SM_ACT_SAFE || act == SM_ACT_KEY_OFF || act == SM_ACT_PAUSE || act == SM_ACT_QUIT;
}

// A file of readings is taken back as one; whatever else can be taken back, or forgets readings, ends that.
static void follow_undo(sm_session *session, sm_action *action) {
    switch (action->act) {
    case SM_ACT_UNDO:
        if (session->file_reads > 1 && action->count == 0) {
            action->count = session->file_reads;
            snprintf(action->target, sizeof action->target, "%d", (int)action->count);
        }
        session->file_reads = 0;
        break;
    case SM_ACT_READ:
    case SM_ACT_MARK:
    case SM_ACT_TICK:
    case SM_ACT_NOTE:
    case SM_ACT_PROPOSE:
    case SM_ACT_APPLY:
    case SM_ACT_REPAIR:
    case SM_ACT_MEASURE:
    case SM_ACT_RELOAD:
        session->file_reads = 0;
        break;
    default:
        break;
    }
}

static sm_result ask_for_paper(sm_session *session, const char *path) {
    char *copy = strdup(path);
    if (!copy)
        return SM_NO_MEMORY;
    free(session->paper_path);
    session->paper_path = copy;
    return SM_OK;
}

// Lights are asked for by hand, where an outlet is for them.
static bool refuses_lights(const sm_session *session, const sm_action *action, sm_source source,
                           char why[200]) {
    if (action->act != SM_ACT_LIGHTS_ON && action->act != SM_ACT_LIGHTS_ANSWER)
        return false;
    if (!session->lights.there)
        snprintf(why, 200, "no wire was named: start slowmatch with --lights INTERFACE --lights-to ADDRESS");
    else if (source != SM_SOURCE_CONSOLE || action->remote != 0)
        snprintf(why, 200, "only a person at this console states what is connected, never a script");
    else
        return false;
    return true;
}

sm_result sm_session_engine_act(sm_session *session, const sm_action *given, sm_source source,
                                sm_wall_time at) {
    assert(given->act < SM_ACT_COUNT && source < SM_SOURCE_COUNT);
    sm_action action = *given;
    issue(session);
    follow_undo(session, &action);
    char why[200];
    if (sm_session_refuses_words(session, &action, why) || sm_session_refuses_name(session, &action, why) ||
        refuses_lights(session, &action, source, why))
        return sm_rehearsal_refuse(session->rehearsal, &action, source, why, at);
    sm_result result = !session->drill_run        ? sm_rehearsal_act(session->rehearsal, &action, source, at)
                       : source == SM_SOURCE_SEAT ? sm_drill_act_from(session->drill_run, &action, at)
                                                  : sm_drill_act(session->drill_run, &action, source, at);
    if (result == SM_NO_MEMORY && session->drill_run && is_stop(action.act) && !has_stopped(session, &action))
        result = sm_rehearsal_act(session->rehearsal, &action, source, at);
    session->reload_wanted |= result == SM_OK && action.act == SM_ACT_RELOAD;
    session->apply_wanted |= result == SM_OK && action.act == SM_ACT_APPLY;
    if (result == SM_OK && action.act == SM_ACT_PAPER)
        result = ask_for_paper(session, action.target);
    if (result == SM_OK && action.act == SM_ACT_KEEP_READINGS)
        result = sm_session_ask_to_keep(session, action.target);
    session->changed = true;
    return result;
}

bool sm_session_no_drill(sm_session *session) {
    if (!session->drill_run || sm_drill_is_over(session->drill_run))
        return false;
    if (sm_drill_no_drill(session->drill_run, sm_session_act_moment(session)) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out");
    session->changed = true;
    return true;
}
