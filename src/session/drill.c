// SPDX-License-Identifier: GPL-3.0-or-later
// A drill being taken: its instructor, its end.
#include "session/inside.h"

#include <assert.h>
#include <stdlib.h>

// ---- its end ------------------------------------------------------------------------------

// Written down as it stands now. False: memory ran out.
static bool write_debrief(sm_session *session) {
    sm_debrief *debrief = NULL;
    assert(session->drill_run);
    if (sm_debrief_create(session->drill_run, &debrief) != SM_OK) {
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out: no debrief");
        return false;
    }
    pthread_mutex_lock(&session->lock);
    sm_debrief_destroy(session->debrief);
    session->debrief = debrief;
    pthread_mutex_unlock(&session->lock);
    session->changed = true;
    return true;
}

void sm_session_serve_instructor(sm_session *session) {
    bool did = false;
    if (session->link &&
        sm_link_serve(session->link, session->drill_run, sm_session_act_moment(session), &did) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out");
    did |= session->instructed;
    session->instructed = false;
    session->changed |= did;
    if (did && session->debriefed) // a mark was overruled, or there is a remark more
        write_debrief(session);
    session->seats_debriefed = session->seats_debriefed && !did;
    sm_session_feed_instructor(session);
}

static void make_safe(sm_session *session, sm_source source, sm_wall_time now) {
    const sm_action safe = {.act = SM_ACT_SAFE, .index = SM_NONE};
    if (sm_session_engine_act(session, &safe, source, now) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out");
}

bool sm_session_end_drill(sm_session *session) {
    if (!session->drill_run || sm_drill_is_over(session->drill_run))
        return false;
    sm_wall_time now = sm_session_act_moment(session);
    // Ended before it is made safe: how the drill is left is no stop of the trainee's.
    if (sm_drill_finish(session->drill_run, now) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out");
    make_safe(session, SM_SOURCE_CONSOLE, now);
    session->changed = true;
    return true;
}

// The answers given since the last round. False: none.
static bool take_answers(sm_session *session) {
    char *answers[SM_DRILL_QUESTIONS];
    bool any = false;
    pthread_mutex_lock(&session->lock);
    for (unsigned i = 0; i < SM_DRILL_QUESTIONS; i++) {
        answers[i] = session->answers[i];
        session->answers[i] = NULL;
    }
    pthread_mutex_unlock(&session->lock);
    for (unsigned i = 0; i < SM_DRILL_QUESTIONS; i++) {
        if (!answers[i])
            continue;
        any = true;
        if (sm_drill_answer(session->drill_run, i, answers[i], sm_session_act_moment(session)) != SM_OK)
            sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out: this answer is not kept");
        free(answers[i]);
    }
    return any;
}

void sm_session_follow_drill(sm_session *session) {
    if (session->drill_run && session->kept)
        sm_logbook_writer_attempt(session->kept, session->drill_run);
    if (!session->drill_run || !sm_drill_is_over(session->drill_run) || session->script)
        return; // an operator has nobody to debrief, and nothing of it runs on
    if (!session->debriefed) {
        // Nothing may run on while somebody types: whoever ended it, it is made safe.
        if (sm_rehearsal_state(session->rehearsal) != SM_STATE_SAFE)
            make_safe(session, SM_SOURCE_DRILL, sm_session_act_moment(session));
        session->debriefed = write_debrief(session);
    }
    sm_session_debrief_seats(session);
    if (take_answers(session))
        write_debrief(session);
}

static sm_logbook_drill taken_by(const sm_session *session, const char *person, const char *seat) {
    const sm_drill_run *run = session->drill_run;
    return (sm_logbook_drill){.person = person,
                              .drill = session->drill->drill->name,
                              .seat = seat,
                              .title = session->show->settings.title,
                              .when_us = sm_unix_now_us(),
                              .score = sm_drill_score(run),
                              .passed = session->drill->passed && !session->operated &&
                                        !session->drill->piped, // a script is nobody
                              .with_hints = sm_drill_with_hints(run),
                              .marks = ""};
}

// Who sat elsewhere, by their own marks. Of whom the file asks nothing has what the crew has.
static void keep_sitter(sm_session *session, const char *person, const char *seat) {
    sm_text marks = {0};
    sm_logbook_drill taken = taken_by(session, person, seat);
    taken.beside = true;
    if (sm_drill_debrief_json_for(session->drill_run, seat, &marks, &taken.score, &taken.passed))
        taken.marks = sm_text_get(&marks);
    sm_logbook_writer_drill(session->kept, &taken);
    sm_text_deinit(&marks);
}

// Under the name of whoever had the key, or watched alone: all marks.
static void keep_drill(sm_session *session) {
    const sm_drill_run *run = session->drill_run;
    if (!session->kept || !sm_drill_has_begun(run) || sm_drill_was_broken_off(run))
        return;
    if (session->drill->crew) {
        sm_logbook_drill taken =
            taken_by(session, session->drill->crew, sm_drill_seat_text(session->drill->drill->seat));
        taken.marks = sm_text_get(&session->drill->json);
        sm_logbook_writer_drill(session->kept, &taken);
    }
    for (uint32_t i = 0; i < sm_drill_sitters(run); i++)
        if (sm_drill_sitter_who(run, i)[0] != '\0')
            keep_sitter(session, sm_drill_sitter_who(run, i), sm_drill_sitter_seat(run, i));
}

void sm_session_finish_drill(sm_session *session) {
    sm_drill_taken *drill = session->drill;
    sm_wall_time now = sm_session_act_moment(session);
    assert(!session->drill_run || (drill && drill->drill));
    if (session->script) // the operator has left: nothing came after that
        now = sm_rehearsal_facts(session->rehearsal).now;
    if (!session->drill_run || sm_drill_finish(session->drill_run, now) != SM_OK)
        return;
    take_answers(session);
    sm_drill_debrief_json(session->drill_run, &drill->json);
    drill->passed = sm_drill_passed(session->drill_run);
    drill->taken = sm_debrief_create(session->drill_run, &drill->debrief) == SM_OK && !drill->json.failed;
    keep_drill(session);
    if (session->kept)
        sm_logbook_writer_attempt(session->kept, session->drill_run);
    if (session->kept && drill->debrief)
        sm_logbook_writer_debrief(session->kept, drill->debrief);
    sm_session_debrief_seats(session);
    sm_session_serve_instructor(session);
}
