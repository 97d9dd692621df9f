// SPDX-License-Identifier: GPL-3.0-or-later
// What is told when. Rows and changes go at once, in one message; what is lazy (levels) and the beat four times a second; the whole state
// each two seconds, and when somebody asks. All of it is written in the session's step, and posted.
#include "tell/post.h"

#include "slowmatch/clock.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define BEAT_US (SM_US_PER_S / 4)
#define REFRESH_US (2 * SM_US_PER_S)
// A state that is asked for again and again is told so often.
#define WANTED_US (SM_US_PER_S / 2)
#define STATE_BYTES_A_S 4000
// Without a beat of our own that came back within it, followers hear nothing. Begun anew, a connection takes its time.
#define UNHEARD_US (3 * SM_US_PER_S)

struct sm_teller {
    sm_session *session;
    post *post;
    char run[TELL_RUN];
    char host[256];
    int64_t launch_us;
    const sm_show *show;
    sm_us length_us; // of it, as told
    int32_t show_number;
    tell_sizes sizes;
    sm_snapshot *was; // as told last; NULL: nothing yet
    sm_snapshot *latest;
    int64_t seq;
    int64_t begun_us, beat_due_us, refresh_due_us, state_due_us, state_us;
    bool wanted, unheard;
    sm_seats_view seats; // as shown last
    tell_event_message event;
    tell_beat_message beat;
    sm_text text;
};

const char *sm_teller_run(const sm_teller *teller) {
    return teller->run;
}

// ---- the pieces -------------------------------------------------------------------------------

// What a row tells of the machine itself stays here: devices, and files that people named.
static bool is_of_the_machine(const sm_log_row *row) {
    return row->kind.what == SM_LOG_SOUND || row->kind.what == SM_LOG_LIGHTS ||
           sm_log_is_act(row->kind, SM_ACT_PAPER) || sm_log_is_act(row->kind, SM_ACT_KEEP_READINGS) ||
           sm_log_is_act(row->kind, SM_ACT_RELOAD);
}

// An event of the rows so far, and of what NOW has that was not told (NULL: nothing).
static void tell_event(sm_teller *t, sm_snapshot *now, tell_urgency least) {
    if (!t->was)
        return; // a state goes first
    t->event.mono_us = tell_mono_us();
    t->event.seq = t->seq + 1;
    t->event.show = t->show_number;
    t->event.change = now ? now : t->was;
    sm_text_clear(&t->text);
    tell_urgency urgency = tell_write(&t->text, TELL_EVENT, &t->event, &t->sizes, t->was);
    if (t->event.row_count == 0 && urgency < least)
        return;
    t->seq++; // one that could not be posted is a gap, and shows
    t->event.row_count = 0;
    post_put(t->post, TELL_EVENT, &t->text, 0);
    if (now)
        tell_snapshot_copy(t->was, now);
}

static void tell_state(sm_teller *t, int64_t mono_us) {
    const tell_state_message message = {
        .mono_us = mono_us, .seq = t->seq, .show = t->show_number, .now = t->was};
    sm_text_clear(&t->text);
    tell_write(&t->text, TELL_STATE, &message, &t->sizes, NULL);
    uint32_t each_s = 2 + (uint32_t)(t->text.length / STATE_BYTES_A_S);
    t->state_us = mono_us;
    t->state_due_us = mono_us + each_s * SM_US_PER_S;
    t->wanted = false;
    post_put(t->post, TELL_STATE, &t->text, 5 * each_s);
}

static void tell_beat(sm_teller *t, sm_wall_time now, int64_t mono_us) {
    const sm_snapshot *was = t->latest;
    sm_us ahead = was->state == SM_STATE_RUNNING ? now.us - was->wall.us : 0;
    t->beat.mono_us = mono_us;
    t->beat.seq = t->seq;
    t->beat.wall_us = now.us;
    t->beat.at_us = was->at.us + (sm_us)((double)ahead * was->speed_ppm / 1e6);
    t->beat.state = (int32_t)was->state;
    t->beat.drill = sm_session_drills(t->session);
    t->beat.show = t->show_number;
    t->beat.length_us = t->show->length_us;
    sm_text_clear(&t->text);
    tell_write(&t->text, TELL_BEAT, &t->beat, &t->sizes, NULL);
    post_put(t->post, TELL_BEAT, &t->text, 0);
}

// ---- the show -----------------------------------------------------------------------------------

static void tell_show(sm_teller *t) {
    const sm_show *show = t->show;
    post_show letter = {.number = t->show_number,
                        .slots = (int32_t)show->slot_count,
                        .channels = (int32_t)show->channel_count,
                        .cues = (int32_t)show->cue_count,
                        .events = (int32_t)show->event_count,
                        .launch_us = t->launch_us,
                        .length_us = show->length_us};
    snprintf(letter.title, sizeof letter.title, "%s", show->settings.title);
    snprintf(letter.folder, sizeof letter.folder, "%s", show->folder);
    t->length_us = show->length_us; // which its music tells later
    post_put_show(t->post, &letter);
}

// Another show: its snapshots have another shape.
static bool take_show(sm_teller *t, const sm_show *show) {
    sm_snapshot *was = NULL, *latest = NULL;
    if (sm_snapshot_create(show, &was) != SM_OK || sm_snapshot_create(show, &latest) != SM_OK) {
        sm_snapshot_destroy(was);
        return false;
    }
    sm_snapshot_destroy(t->was);
    sm_snapshot_destroy(t->latest);
    t->was = was;
    t->latest = latest;
    t->show = show;
    t->show_number++;
    t->sizes = tell_sizes_of(show);
    tell_show(t);
    return true;
}

// ---- the outlet's callbacks -----------------------------------------------------------------------

// What a drill plants and marks is for its debrief, here as at the console.
static bool is_hidden(const sm_log_row *row) {
    return row->kind.what == SM_LOG_EVENT || row->kind.what == SM_LOG_MARK;
}

void sm_teller_row(sm_teller *t, const sm_log_row *row) {
    if (row->source != SM_SOURCE_SEAT && sm_log_is_act(row->kind, SM_ACT_SEAT))
        post_free_seat(t->post, row->target);
    if (is_hidden(row))
        return;
    if (t->event.row_count == TELL_ROWS_MAX)
        tell_event(t, NULL, TELL_NOTHING);
    if (t->event.row_count == TELL_ROWS_MAX)
        return; // before the first snapshot: the log is not for those who come later
    tell_row *out = &t->event.rows[t->event.row_count++];
    memset(out, 0, sizeof *out);
    out->row.wall = row->wall;
    out->show_us = row->has_show ? row->show.us : SM_UNSET_US;
    out->row.source = row->source;
    out->row.kind.rank = row->kind.rank;
    snprintf(out->row.seat, sizeof out->row.seat, "%s", row->seat ? row->seat : "");
    snprintf(out->what, sizeof out->what, "%s", sm_log_word(row->kind));
    snprintf(out->row.cue, sizeof out->row.cue, "%s", row->cue);
    if (is_of_the_machine(row))
        return;
    snprintf(out->row.target, sizeof out->row.target, "%s", row->target);
    snprintf(out->row.detail, sizeof out->row.detail, "%s", row->detail);
}

void sm_teller_snapshot(sm_teller *t, const sm_snapshot *snapshot) {
    bool other = snapshot->show != t->show;
    if (!t->show)
        t->launch_us = sm_unix_now_us() - snapshot->wall.us;
    if (other && !take_show(t, snapshot->show))
        return;
    tell_snapshot_copy(t->latest, snapshot);
    if (other) {
        tell_snapshot_copy(t->was, snapshot);
        tell_state(t, tell_mono_us());
        if (t->show_number > 1)
            tell_beat(t, snapshot->wall, tell_mono_us()); // which show it is, before an event of it
    }
    tell_event(t, t->latest, TELL_AT_ONCE);
}

// Said once when it begins and once when it is over: the session has one row for it.
static void say_whether_heard(sm_teller *t, int64_t mono_us, int64_t heard_us, tell_cause cause) {
    bool unheard = mono_us - (heard_us > t->begun_us ? heard_us : t->begun_us) > UNHEARD_US;
    char line[400];
    if (unheard)
        snprintf(line, sizeof line,
                 "FOLLOWERS HEAR NOTHING of the broker at %.200s: %s; the rehearsal goes on", t->host,
                 tell_cause_text(cause));
    else
        snprintf(line, sizeof line, "followers hear again: the broker at %s answers", t->host);
    if (unheard != t->unheard)
        sm_session_say(t->session, unheard ? SM_OUTCOME_WRONG : SM_OUTCOME_TOLD, line);
    t->unheard = unheard;
}

static bool moves(const sm_snapshot *now) {
    return now->state == SM_STATE_RUNNING || now->state == SM_STATE_ARMING || now->flying > 0 ||
           now->burning_count > 0;
}

void sm_teller_tell_seat(sm_teller *t, const char *seat, sm_seat_word word, const char *text) {
    post_say(t->post, seat, word, text);
}

static bool seats_are_same(const sm_seats_view *a, const sm_seats_view *b) {
    bool same = a->count == b->count;
    for (uint32_t i = 0; same && i < a->count; i++)
        same = strcmp(a->at[i].name, b->at[i].name) == 0 && strcmp(a->at[i].who, b->at[i].who) == 0 &&
               a->at[i].sits == b->at[i].sits && a->at[i].asked == b->at[i].asked;
    return same;
}

static void show_seats(sm_teller *t, const post_news *news) {
    sm_seats_view view = {.count = news->seat_count};
    for (uint32_t i = 0; i < news->seat_count; i++) {
        const tell_seat *seat = &news->seats[i];
        sm_seat_view *out = &view.at[i];
        memcpy(out->name, seat->name, sizeof out->name);
        memcpy(out->who, seat->who, sizeof out->who);
        out->sits = (sm_sits)seat->sits;
        out->asked = seat->asked;
    }
    if (seats_are_same(&view, &t->seats))
        return;
    t->seats = view;
    sm_session_show_seats(t->session, &view);
}

sm_wall_time sm_teller_step(sm_teller *t, sm_wall_time now) {
    const int64_t mono_us = tell_mono_us();
    if (!t->was) {
        sm_session_want(t->session);
        return (sm_wall_time){now.us + BEAT_US / 10};
    }
    tell_event(t, NULL, TELL_AT_ONCE);
    if (mono_us >= t->beat_due_us || post_has_seat_news(t->post)) {
        post_news news;
        post_take(t->post, &news);
        show_seats(t, &news);
        post_tell_seats(t->post);
        memcpy(t->beat.seats, news.seats, sizeof news.seats);
        t->beat.seat_count = news.seat_count;
        t->wanted |= news.wanted || news.connected;
        if (news.connected)
            t->refresh_due_us = mono_us;
        tell_event(t, t->latest, TELL_LATER);
        tell_beat(t, now, mono_us);
        t->beat_due_us = mono_us + BEAT_US;
        say_whether_heard(t, mono_us, news.heard_us, news.cause);
        if (moves(t->latest))
            sm_session_want(t->session); // levels, and what else changes without an event
    }
    if (mono_us >= t->state_due_us || (t->wanted && mono_us >= t->state_us + WANTED_US))
        tell_state(t, mono_us);
    if (mono_us >= t->refresh_due_us) {
        if (t->show->length_us != t->length_us)
            tell_show(t);
        post_refresh(t->post);
        t->refresh_due_us = mono_us + REFRESH_US;
    }
    return (sm_wall_time){now.us + (t->beat_due_us - mono_us)};
}

// ---- beginning and ending -----------------------------------------------------------------------

sm_result sm_teller_create(const sm_broker *broker, sm_session *session, const char *seats,
                           char problem[SM_SESSION_PROBLEM], sm_teller **out) {
    sm_teller *t = calloc(1, sizeof *t);
    if (!t)
        return SM_NO_MEMORY;
    t->session = session;
    t->begun_us = tell_mono_us();
    snprintf(t->host, sizeof t->host, "%s", broker->host);
    tell_random_name(t->run, 9);
    sm_result result = post_create(broker, t->run, seats, session, problem, &t->post);
    if (result != SM_OK) {
        free(t);
        return result;
    }
    *out = t;
    return SM_OK;
}

void sm_teller_destroy(sm_teller *t) {
    if (!t)
        return;
    tell_event(t, NULL, TELL_AT_ONCE);
    post_tell_seats(t->post);
    post_destroy(t->post);
    sm_snapshot_destroy(t->was);
    sm_snapshot_destroy(t->latest);
    sm_text_deinit(&t->text);
    free(t);
}
