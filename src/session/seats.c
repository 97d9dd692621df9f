// SPDX-License-Identifier: GPL-3.0-or-later
// People who sit elsewhere: what they say, what they are told, who sits where.
#include "session/inside.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

// ---- what they are told -----------------------------------------------------------------------

void sm_session_tell_seat(sm_session *session, const char *seat, sm_seat_word word, const char *text) {
    for (size_t i = 0; i < session->outlet_count; i++) {
        const sm_outlet_run *run = &session->outlets[i];
        if (run->outlet->tell_seat)
            run->outlet->tell_seat(run->self, seat, word, text);
    }
}

void sm_session_hear_drill(void *context, const char *seat, const char *text) {
    sm_session_tell_seat(context, seat, SM_SEAT_PROMPTED, text);
}

// To whoever sits there, and to the lead.
static void answer(sm_session *session, const char *seat, sm_outcome_kind kind, const char *format, ...)
    SM_PRINTF(4, 5);
static void answer(sm_session *session, const char *seat, sm_outcome_kind kind, const char *format, ...) {
    sm_text text = {0};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&text, format, args);
    va_end(args);
    sm_session_tell_seat(session, seat, SM_SEAT_ANSWERED, sm_text_get(&text));
    sm_session_tell(session, kind, "seat %s: %s", seat, sm_text_get(&text));
    sm_text_deinit(&text);
}

// ---- the instructor -----------------------------------------------------------------------------

static void tell_instructor(void *context, const char *line) {
    sm_session_tell_seat(context, SM_SEAT_INSTRUCTOR, SM_SEAT_ANSWERED, line);
}

static void instruct(sm_session *session, const char *line) {
    bool did = false;
    if (sm_link_obey(&session->feed, session->drill_run, sm_session_act_moment(session), line,
                     tell_instructor, session, &did) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out");
    session->instructed |= did;
}

static const sm_seat_view *seat_of(const sm_session *session, const char *name) {
    for (uint32_t i = 0; i < session->seats.count; i++)
        if (strcmp(session->seats.at[i].name, name) == 0)
            return &session->seats.at[i];
    return NULL;
}

void sm_session_feed_instructor(sm_session *session) {
    const sm_seat_view *seat = seat_of(session, SM_SEAT_INSTRUCTOR);
    if (session->drill_run && seat && seat->sits == SM_SITS_THERE)
        sm_link_tell_news(&session->feed, session->drill_run, tell_instructor, session);
}

// ---- what they say --------------------------------------------------------------------------------

static void act(sm_session *session, const sm_action *action) {
    const char *name = sm_action_row_of(action->act)->name;
    if (!session->drill_run && action->act != SM_ACT_HOLD) {
        answer(session, action->seat, SM_OUTCOME_REFUSED,
               "%s refused: outside a drill a seat calls hold, and no more", name);
        return;
    }
    if (action->act == SM_ACT_SEAT) {
        answer(session, action->seat, SM_OUTCOME_REFUSED, "seat refused: the lead alone says who sits where");
        return;
    }
    sm_result result = sm_session_engine_act(session, action, SM_SOURCE_SEAT, sm_session_act_moment(session));
    if (result == SM_REFUSED)
        answer(session, action->seat, SM_OUTCOME_REFUSED, "%s refused: %s", name,
               sm_rehearsal_refusal(session->rehearsal));
    else if (result != SM_OK)
        answer(session, action->seat, SM_OUTCOME_WRONG, "%s: %s", name, sm_result_text(result));
    else
        sm_session_tell_seat(session, action->seat, SM_SEAT_ANSWERED, "");
}

void sm_session_do_from(sm_session *session, const char *seat, const char *line) {
    sm_action action;
    char why[200], hold[SM_SESSION_LINE];
    size_t at;
    if (strcmp(line, SM_NO_DRILL) == 0) {
        snprintf(hold, sizeof hold, "hold %s NO DRILL", seat);
        sm_session_tell(session, SM_OUTCOME_WRONG, "NO DRILL, from the seat %s", seat);
        if (sm_session_no_drill(session))
            return;
        line = hold; // there is no drill to end: it stops all the same
    }
    if (session->drill_run && strcmp(seat, SM_SEAT_INSTRUCTOR) == 0) {
        instruct(session, line);
        return;
    }
    if (sm_action_read(session->show, line, strlen(line), &action, why, &at) != SM_OK) {
        answer(session, seat, SM_OUTCOME_WRONG, "%s", why);
        return;
    }
    if (action.remote != 0) {
        answer(session, seat, SM_OUTCOME_REFUSED, "no remote is in your hand there");
        return;
    }
    snprintf(action.seat, sizeof action.seat, "%s", seat);
    act(session, &action);
}

// ---- who sits where -----------------------------------------------------------------------------

void sm_seats_describe(const sm_seats_view *seats, bool drill, sm_text *out) {
    static const char *const nobody[] = {"free", "free, played by the drill"};
    for (uint32_t i = 0; i < seats->count; i++) {
        const sm_seat_view *seat = &seats->at[i];
        const char *who = seat->who[0] ? seat->who : "somebody";
        sm_text_printf(out, "%s%s: ", i > 0 ? " · " : "", seat->name);
        if (seat->sits == SM_SITS_NOBODY)
            sm_text_printf(out, "%s", nobody[drill && strcmp(seat->name, SM_SEAT_INSTRUCTOR) != 0]);
        else
            sm_text_printf(out, "%s%s", seat->sits == SM_SITS_LOST ? "LOST, " : "", who);
        if (seat->asked)
            sm_text_printf(out, ", asked for by another: seat %s free", seat->name);
    }
}

// The row of what became of a seat, and the same to the lead.
static void note(sm_session *session, const sm_seat_view *was, const sm_seat_view *is) {
    static const char *const words[] = {[SM_SITS_NOBODY] = "left by",
                                        [SM_SITS_THERE] = "taken by",
                                        [SM_SITS_LOST] = "LOST: nothing heard of"};
    static_assert(sizeof words / sizeof words[0] == SM_SITS_COUNT, "a word for each");
    assert(was->sits != is->sits);
    const sm_seat_view *named = is->sits == SM_SITS_NOBODY ? was : is;
    const char *who = named->who[0] ? named->who : "somebody";
    const char *word = was->sits == SM_SITS_LOST && is->sits == SM_SITS_THERE ? "back:" : words[is->sits];
    sm_action action = {.act = SM_ACT_SEAT,
                        .index = SM_NONE,
                        .second = SM_NONE,
                        .moment_us = SM_UNSET_US,
                        .end_us = SM_UNSET_US};
    snprintf(action.seat, sizeof action.seat, "%s", is->name);
    snprintf(action.target, sizeof action.target, "%s", is->name);
    snprintf(action.detail, sizeof action.detail, "%s %s", word, who);
    if (sm_session_engine_act(session, &action, SM_SOURCE_SEAT, sm_session_act_moment(session)) ==
        SM_NO_MEMORY)
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out");
    sm_session_tell(session, is->sits == SM_SITS_LOST ? SM_OUTCOME_WRONG : SM_OUTCOME_TOLD,
                    "the seat %s is %s", is->name, action.detail);
}

static void follow(sm_session *session, const sm_seat_view *was, const sm_seat_view *is) {
    bool sat = was->sits != SM_SITS_NOBODY, sits = is->sits != SM_SITS_NOBODY;
    bool instructs = strcmp(is->name, SM_SEAT_INSTRUCTOR) == 0;
    if (was->sits != is->sits)
        note(session, was, is);
    if (is->asked && !was->asked)
        sm_session_tell(session, SM_OUTCOME_WRONG,
                        "somebody else asks for the seat %s; it is theirs once you say: seat %s free",
                        is->name, is->name);
    if (!session->drill_run)
        return;
    if (sits && !sat && instructs)
        sm_link_welcome(session->drill_run, tell_instructor, session);
    if (sits != sat && instructs)
        session->feed = (sm_link_feed){.told = sm_drill_entry_count(session->drill_run)};
    else if (sits != sat)
        sm_drill_run_sit(session->drill_run, is->name, is->who, sits);
}

void sm_session_show_seats(sm_session *session, const sm_seats_view *view) {
    sm_seats_view was = session->seats, is = *view;
    assert(is.count <= SM_SEATS_MAX);
    for (uint32_t i = 0; i < is.count; i++) {
        bool same = i < was.count && was.at[i].sits == is.at[i].sits;
        is.at[i].since = same ? was.at[i].since : session->now;
    }
    pthread_mutex_lock(&session->lock);
    session->seats = is;
    session->wanted = true; // a snapshot: whoever looks sees it with that
    sm_session_send_news(session);
    pthread_mutex_unlock(&session->lock);
    for (uint32_t i = 0; i < is.count; i++)
        follow(session, i < was.count ? &was.at[i] : &(sm_seat_view){0}, &is.at[i]);
}

void sm_session_seats(sm_session *session, sm_seats_view *out) {
    pthread_mutex_lock(&session->lock);
    *out = session->seats;
    pthread_mutex_unlock(&session->lock);
}

// ---- the end of a drill ---------------------------------------------------------------------------

static void debrief_seat(sm_session *session, const char *seat) {
    sm_debrief *debrief = NULL;
    sm_text text = {0};
    assert(sm_drill_is_over(session->drill_run));
    if (sm_debrief_create_for(session->drill_run, seat, &debrief) == SM_OK)
        sm_debrief_text(debrief, 100, &text);
    if (debrief && !text.failed)
        sm_session_tell_seat(session, seat, SM_SEAT_DEBRIEFED, sm_text_get(&text));
    sm_text_deinit(&text);
    sm_debrief_destroy(debrief);
}

void sm_session_debrief_seats(sm_session *session) {
    const sm_drill_run *run = session->drill_run;
    if (!run || session->seats_debriefed || !sm_drill_is_over(run))
        return;
    session->seats_debriefed = true;
    for (uint32_t i = 0; i < sm_drill_sitters(run); i++)
        debrief_seat(session, sm_drill_sitter_seat(run, i));
}
