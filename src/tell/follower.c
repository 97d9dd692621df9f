// SPDX-License-Identifier: GPL-3.0-or-later
// What a follower may believe.
//
// Live is what a beat says that is younger than YOUNG_US by our estimate of the sender's clock (offset.h), for LOST_US from the moment it
// was sent. That estimate cannot see a delay that is always there, so it is *proven* only while an echo of a ping of ours, sent less than
// PROVEN_US ago, has come back, and a beat that was sent no earlier than the echo: that is no older than the ping. What the broker has
// retained, and what it says of links, never makes anything live. A state with events missing is behind; where that lasts it counts as
// lost, since it may be an old one.
#include "tell/inbox.h"
#include "tell/mirror.h"
#include "tell/offset.h"
#include "tell/sitter.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define YOUNG_US SM_US_PER_S
#define LOST_US (2 * SM_US_PER_S)
#define PROVEN_US (2 * SM_US_PER_S)
#define PING_US SM_US_PER_S
// While something is missing, the follower asks for it this often.
#define ASK_US (SM_US_PER_S / 4)
// A state that lacks events for longer than this counts as lost. No event comes after a beat that was sent later, so one that a beat
// names and that has not come is missing.
#define BEHIND_US SM_US_PER_S
// Where no run was named, one whose beat is heard within this time is taken; after it, one of which the broker has retained something.
#define CHOOSE_US (3 * SM_US_PER_S / 2)
#define RUNS_MAX 16
// Two intervals between beats.
#define STANDS_US (SM_US_PER_S / 2)

struct sm_follower {
    inbox *in;
    int64_t (*clock_us)(void);
    int64_t begun_us;
    char runs[RUNS_MAX][TELL_RUN * 2]; // whose beat was heard
    size_t run_count;
    char retained[TELL_RUN * 2]; // of which something came that was no beat
    bool chosen;
    mirror mirror;
    tell_offset offset;
    bool has_beat;    // a beat has been believed
    int64_t fresh_us; // our clock, when the latest believed beat was sent
    sm_wall_time beat_wall;
    int64_t beat_mono_us;   // stamp of the latest beat, believed or not
    int64_t known_us;       // our clock, when the state was last known to be whole
    tell_echo_message echo; // the latest echo
    int64_t proven_us;      // our clock, when the latest ping was sent that a beat came after; 0: none
    int64_t ping_due_us;
    sitter sitter;
    bool ended;
    bool has_next; // another run began after this one ended
    uint64_t refused;
    sm_snapshot *shown;
    int32_t shown_of; // number of the show that `shown` is of
    sm_follow_view view;
};

static const char *const link_texts[] = {[SM_FOLLOW_WAITING] = "waiting",
                                         [SM_FOLLOW_LIVE] = "live",
                                         [SM_FOLLOW_UNPROVEN] = "age not proven",
                                         [SM_FOLLOW_LOST] = "link lost"};
static_assert(sizeof link_texts / sizeof link_texts[0] == SM_FOLLOW_LINK_COUNT, "a text for each");

const char *sm_follow_link_text(sm_follow_link link) {
    return link_texts[link];
}

// ---- what comes -------------------------------------------------------------------------------

// A beat that was sent at the moment of an echo or later is no older than the ping, whatever the broker holds back.
static void prove(sm_follower *f) {
    if (f->echo.sent_us > f->proven_us && f->beat_mono_us >= f->echo.mono_us)
        f->proven_us = f->echo.sent_us;
}

static void take_echo(sm_follower *f, const inbox_message *message) {
    tell_echo_message echo = {0};
    tell_document *document = tell_read(TELL_ECHO, message->bytes, message->length, NULL, &echo);
    f->refused += !document;
    if (document && echo.sent_us > f->echo.sent_us && echo.sent_us <= message->local_us) {
        f->echo = echo;
        prove(f);
    }
    tell_document_free(document);
}

static void take_beat(sm_follower *f, const inbox_message *message) {
    static const tell_sizes none = {0};
    tell_beat_message *beat = calloc(1, sizeof *beat);
    tell_document *document =
        beat ? tell_read(TELL_BEAT, message->bytes, message->length, &none, beat) : NULL;
    if (!document) {
        f->refused++;
    } else if (beat->mono_us > f->beat_mono_us) { // else it is one that came before
        int64_t age_us = tell_offset_put(&f->offset, message->local_us, beat->mono_us);
        f->beat_mono_us = beat->mono_us;
        f->beat_wall = (sm_wall_time){beat->wall_us};
        prove(f);
        if (age_us < YOUNG_US) {
            f->has_beat = true;
            f->fresh_us = message->local_us - age_us;
            f->ended = f->has_next = false;
            sitter_take_beat(&f->sitter, beat);
            if (f->mirror.has_state && beat->seq <= f->mirror.seq)
                f->known_us = message->local_us;
            mirror_take_beat(&f->mirror, beat);
        }
    }
    tell_document_free(document);
    free(beat);
}

static void take_link(sm_follower *f, const inbox_message *message) {
    tell_link_message link = {0};
    tell_document *document =
        message->length > 0 ? tell_read(TELL_LINK, message->bytes, message->length, NULL, &link) : NULL;
    f->refused += !document && message->length > 0;
    if (document && link.link == TELL_LIVE)
        snprintf(f->view.title, sizeof f->view.title, "%s", link.title);
    if (document && link.link == TELL_ENDED && link.mono_us >= f->beat_mono_us)
        f->ended = true;
    tell_document_free(document);
}

static void choose(sm_follower *f, const char *run) {
    snprintf(f->view.run, sizeof f->view.run, "%s", run);
    f->chosen = true;
    inbox_choose(f->in, run);
}

// Where none was named: the first whose beat is heard. When none is, what is retained of one will do, and is shown as lost.
static void note_run(sm_follower *f, const inbox_message *message) {
    size_t i = 0;
    if (message->topic != TELL_BEAT) {
        if (message->length > 0)
            snprintf(f->retained, sizeof f->retained, "%s", message->run);
        return;
    }
    while (i < f->run_count && strcmp(f->runs[i], message->run) != 0)
        i++;
    if (i == f->run_count && i < RUNS_MAX) {
        snprintf(f->runs[f->run_count++], sizeof f->runs[0], "%s", message->run);
        f->has_next |= f->ended;
    }
    if (!f->chosen)
        choose(f, message->run);
}

static void take(sm_follower *f, const inbox_message *message) {
    note_run(f, message);
    if (!f->chosen || strcmp(message->run, f->view.run) != 0)
        return;
    if (message->topic == TELL_BEAT)
        take_beat(f, message);
    else if (message->topic == TELL_LINK)
        take_link(f, message);
    else if (message->topic == TELL_ECHO)
        take_echo(f, message);
    else if (message->topic == TELL_TOLD)
        f->refused += !sitter_take_told(&f->sitter, message->bytes, message->length);
    else if (message->length > 0)
        mirror_take(&f->mirror, message->topic, message->bytes, message->length);
}

// ---- what is shown ----------------------------------------------------------------------------

static bool is_behind(const sm_follower *f) {
    return mirror_is_behind(&f->mirror);
}

static sm_follow_link link_now(const sm_follower *f, int64_t now_us) {
    if (!f->mirror.has_state)
        return SM_FOLLOW_WAITING;
    if (!f->has_beat || f->ended || now_us - f->fresh_us > LOST_US ||
        (is_behind(f) && now_us - f->known_us > BEHIND_US))
        return SM_FOLLOW_LOST;
    return f->proven_us > 0 && now_us - f->proven_us < PROVEN_US ? SM_FOLLOW_LIVE : SM_FOLLOW_UNPROVEN;
}

// The rehearsal's wall clock goes on from the latest beat, also where none comes: ages grow.
static sm_wall_time wall_now(const sm_follower *f, int64_t now_us) {
    const sm_wall_time told = f->mirror.now->wall;
    if (f->offset.count == 0)
        return told;
    sm_us wall = f->beat_wall.us + (tell_offset_mono_us(&f->offset, now_us) - f->beat_mono_us);
    wall = wall > SM_US_MAX ? SM_US_MAX : wall;
    return (sm_wall_time){wall > told.us ? wall : told.us};
}

static void show_lost(sm_follower *f, int64_t now_us) {
    sm_incidents *incidents = &f->shown->incidents;
    if (!incidents->link_lost)
        incidents->link_state = f->shown->state;
    incidents->link_lost = true;
    incidents->link_at.us = f->has_beat ? f->shown->wall.us - (now_us - f->fresh_us) : SM_UNSET_US;
}

// False: memory ran out, or there is nothing yet.
static bool fit_shown(sm_follower *f) {
    sm_snapshot *made;
    if (!f->mirror.has_state)
        return false;
    if (f->shown && f->shown_of == f->mirror.show_number)
        return true;
    if (sm_snapshot_create(f->mirror.show, &made) != SM_OK)
        return false;
    sm_snapshot_destroy(f->shown);
    f->shown = made;
    f->shown_of = f->mirror.show_number;
    return true;
}

static void show_state(sm_follower *f, int64_t now_us) {
    const bool lost = f->view.link == SM_FOLLOW_LOST;
    const sm_snapshot *now = f->mirror.now;
    tell_snapshot_copy(f->shown, now);
    f->shown->wall = wall_now(f, now_us);
    // Where no beat comes the show stands still, and never goes back.
    sm_us gone = f->shown->wall.us - now->wall.us, silent = f->has_beat ? now_us - f->fresh_us : 0;
    gone -= silent > STANDS_US ? silent - STANDS_US : 0;
    if (now->state == SM_STATE_RUNNING && gone > 0)
        f->shown->at.us += (sm_us)((double)gone * now->speed_ppm / 1e6);
    if (lost)
        show_lost(f, now_us);
}

// Where the link is lost the state and what to do need the row.
static void put_words(sm_follow_view *view, const char *seat) {
    char behind[48] = "";
    const char *drill = view->drill && view->link != SM_FOLLOW_LOST ? ", DRILL" : "";
    if (view->link == SM_FOLLOW_LOST)
        seat = "";
    else if (view->hold == SM_HOLD_NOT_DELIVERED)
        snprintf(behind, sizeof behind, ", HOLD NOT DELIVERED, SHOUT IT");
    else if (view->said == SM_SAID_NOT_DELIVERED)
        snprintf(behind, sizeof behind, ", NOT DELIVERED, SAY IT ALOUD");
    else if (view->seat == SM_SEAT_REFUSED || view->seat == SM_SEAT_UNKNOWN)
        snprintf(behind, sizeof behind, ", SEAT NOT YOURS");
    else if (view->behind)
        snprintf(behind, sizeof behind, ", BEHIND, catching up");
    else if (view->missed > 0)
        snprintf(behind, sizeof behind, ", %llu missed", (unsigned long long)view->missed);
    bool sits = view->seat == SM_SEAT_TAKEN && seat[0];
    snprintf(view->words, sizeof view->words, "FOLLOWING%s%s%s%s", sits ? " as " : "", sits ? seat : "",
             drill, behind);
}

// What is long comes only while it is missing.
static void want(sm_follower *f) {
    if (f->chosen)
        inbox_want(f->in, mirror_lacks_show(&f->mirror), is_behind(f));
}

static void ping(sm_follower *f, int64_t now_us) {
    if (!f->chosen || now_us < f->ping_due_us)
        return;
    bool want = is_behind(f);
    inbox_ping(f->in, f->view.run, &(tell_ping_message){.sent_us = now_us, .want = want});
    f->ping_due_us = now_us + (want ? ASK_US : PING_US);
}

// What is due from the seat goes at once.
static void sit(sm_follower *f, int64_t now_us) {
    if (f->offset.count > 0 && f->sitter.held_us > 0)
        f->sitter.said.held_mono_us = tell_offset_mono_us(&f->offset, f->sitter.held_us);
    if (f->chosen)
        sitter_look(&f->sitter, f->in, f->view.run, now_us, f->beat_mono_us);
}

bool sm_follower_hold(sm_follower *f, const char *why) {
    bool called = sitter_hold(&f->sitter, why, f->clock_us());
    sit(f, f->clock_us());
    return called;
}

bool sm_follower_say(sm_follower *f, const char *line) {
    bool said = sitter_say(&f->sitter, line, f->clock_us());
    sit(f, f->clock_us());
    return said;
}

const char *sm_follower_seat(const sm_follower *f) {
    return f->sitter.seat;
}

const char *sm_follower_told(sm_follower *f, sm_seat_word *word) {
    return sitter_told(&f->sitter, word);
}

const sm_follow_view *sm_follower_look(sm_follower *f) {
    for (inbox_message *message = inbox_take(f->in), *next; message; message = next) {
        next = message->next;
        take(f, message);
        free(message);
    }
    const int64_t now_us = f->clock_us();
    sm_follow_view *view = &f->view;
    if (!f->chosen && f->retained[0] && now_us - f->begun_us > CHOOSE_US)
        choose(f, f->retained);
    want(f);
    ping(f, now_us);
    sit(f, now_us);
    view->seat = f->sitter.standing;
    view->hold = sitter_hold_now(&f->sitter, now_us);
    view->said = sitter_said_now(&f->sitter, now_us);
    view->seats = f->sitter.seats;
    view->drill = f->sitter.drill;
    view->debrief = f->sitter.debrief;
    if (!is_behind(f) && !f->known_us)
        f->known_us = now_us;
    view->link = link_now(f, now_us);
    view->why = tell_cause_text(inbox_cause(f->in));
    view->ended = f->ended;
    view->behind = f->mirror.has_state && is_behind(f);
    view->missed = f->mirror.missed;
    view->refused = f->refused + f->mirror.refused + inbox_refused(f->in);
    view->silent_us = f->has_beat ? now_us - f->fresh_us : SM_UNSET_US;
    bool shows = fit_shown(f);
    if (shows)
        show_state(f, now_us);
    view->show = shows ? f->mirror.show : NULL;
    view->show_number = f->mirror.show_number;
    view->now = shows ? f->shown : NULL;
    view->recent = &f->mirror.recent;
    view->day = f->mirror.day;
    put_words(view, f->sitter.seat);
    return view;
}

size_t sm_follower_runs(const sm_follower *f, char names[256]) {
    size_t length = 0;
    names[0] = '\0';
    for (size_t i = 0; i < f->run_count && length < 200; i++)
        length += (size_t)snprintf(names + length, 256 - length, " %s", f->runs[i]);
    return f->run_count;
}

bool sm_follower_has_next(const sm_follower *f) {
    return f->has_next;
}

void sm_follower_go_on(sm_follower *f) {
    f->has_next = f->run_count > 1;
}

int sm_follower_descriptor(const sm_follower *f) {
    return inbox_descriptor(f->in);
}

// ---- beginning and ending -----------------------------------------------------------------------

sm_result sm_follower_create(const sm_broker *broker, const sm_follow_options *options,
                             char problem[SM_SESSION_PROBLEM], sm_follower **out) {
    sm_follower *f = calloc(1, sizeof *f);
    if (!f)
        return SM_NO_MEMORY;
    f->clock_us = options->clock_us ? options->clock_us : tell_mono_us;
    f->begun_us = f->clock_us();
    if (options->run) {
        snprintf(f->view.run, sizeof f->view.run, "%s", options->run);
        f->chosen = true;
    }
    sm_result result = inbox_create(broker, options->run, options->seat, f->clock_us, problem, &f->in);
    if (result != SM_OK) {
        free(f);
        return result;
    }
    sitter_init(&f->sitter, options->seat, options->who, inbox_id(f->in));
    *out = f;
    return SM_OK;
}

void sm_follower_destroy(sm_follower *f) {
    if (!f)
        return;
    sitter_leave(&f->sitter, f->in, f->view.run, f->clock_us());
    inbox_destroy(f->in);
    sitter_deinit(&f->sitter);
    mirror_deinit(&f->mirror);
    sm_snapshot_destroy(f->shown);
    free(f);
}
