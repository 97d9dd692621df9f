// SPDX-License-Identifier: GPL-3.0-or-later
// Timecode in, where --timecode-in names an input: what the listener hears becomes news for the rehearsal. A line of its place is told
// when it begins, and again when the show has come off it: some twice a minute for a source that runs true.
#include "cmd/outlets.h"
#include "cmd/timecode_words.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LOOK_US (SM_US_PER_S / 50)
#define OFF_US 1500                 // so far off it is told again,
#define AGAIN_US (SM_US_PER_S / 10) // at most so often;
#define WORN_US (SM_US_PER_S / 2)   // and once more when the engine has worn it off
#define STANDS_US (SM_US_PER_S / 2) // a reason why nothing is read stands so long before it is told
enum { WORDS = 160, REASON = 100 };

typedef struct timecode {
    sm_session *session;
    sm_listener *listener;
    const sm_show *show; // the listener holds it against this one
    const char *input;
    sm_timecode_state told; // OFF: nothing yet
    sm_timecode_rate rate;
    bool drop, bent;
    uint64_t jumps;
    sm_wall_time told_at;
    char reason[REASON], told_reason[REASON]; // why nothing is read: as of late, and as was told
    sm_wall_time reason_at;
    // Of a run without a screen: what a start waits for, as said last.
    bool says;
    char said[WORDS];
} timecode;

static sm_result create(sm_session *session, void *context, char problem[SM_SESSION_PROBLEM], void **self) {
    const cmd_outlet_call *call = context;
    const headless_options *options = call->options;
    if (!options->timecode_in)
        return SM_OK;
    timecode *t = calloc(1, sizeof *t);
    if (!t)
        return SM_NO_MEMORY;
    *t = (timecode){.session = session,
                    .show = sm_session_show(session),
                    .input = options->timecode_in,
                    .says = call->lines};
    sm_listener_options listen = {.show = &t->show->settings.timecode,
                                  .free_run_us = t->show->settings.timecode_gap_us};
    sm_result result = SM_INVALID;
    if (cmd_timecode_input_read("timecode-in", t->input, &listen.channel, &listen.device))
        result = sm_listener_open(&listen, &t->listener);
    if (result != SM_OK) {
        snprintf(problem, SM_SESSION_PROBLEM, "timecode in: %s", sm_result_text(result));
        free(t);
        return result;
    }
    *self = t;
    return SM_OK;
}

// ---- what is told ----------------------------------------------------------------------------------

static void put_words(const timecode *t, const sm_timecode_heard *h, sm_timecode_change change,
                      char words[WORDS]) {
    char number[16], level[24] = "";
    if (change == SM_TIMECODE_CHANGE_LOCKED || change == SM_TIMECODE_CHANGE_JUMPED) {
        snprintf(words, WORDS, "%s at %.1f dBFS from %.60s", cmd_timecode_number(h, number), h->level_dbfs,
                 t->input);
    } else if (change != SM_TIMECODE_CHANGE_FOLLOWS && change != SM_TIMECODE_CHANGE_FREE) {
        if (h->trouble == SM_TIMECODE_QUIET || h->trouble == SM_TIMECODE_NO_CODE)
            snprintf(level, sizeof level, ", at %.0f dBFS", h->level_dbfs);
        snprintf(words, WORDS, "%s%s", t->reason, level);
    }
}

// Why nothing is read, as of NOW.
static void note_reason(timecode *t, const sm_timecode_heard *h, sm_wall_time now) {
    char reason[REASON];
    const bool named = h->trouble == SM_TIMECODE_NO_INPUT && h->reason[0];
    snprintf(reason, sizeof reason, "%.99s", named ? h->reason : sm_timecode_trouble_text(h->trouble));
    if (strcmp(reason, t->reason) == 0)
        return;
    memcpy(t->reason, reason, sizeof reason);
    t->reason_at = now;
}

// Where it is off from what the show's clock says (while it runs), or from what was told.
static double off_us(const timecode *t, const sm_show_clock *line) {
    sm_show_clock stands = sm_session_show_clock(t->session);
    if (!stands.playing)
        stands = sm_session_timecode_in(t->session)->line;
    if (stands.speed_ppm == 0) // it never was locked
        return 0;
    return (double)(line->s0.us - sm_show_clock_show_at(&stands, line->w0).us);
}

static void tell(timecode *t, const sm_timecode_heard *h, sm_timecode_change change,
                 const sm_show_clock *line, sm_wall_time now) {
    sm_timecode_news news = {.change = change, .line = *line, .rate = h->rate, .drop = h->drop};
    put_words(t, h, change, news.words);
    t->bent = change == SM_TIMECODE_CHANGE_LOCKED || fabs(off_us(t, line)) > OFF_US / 3.0;
    sm_session_timecode(t->session, &news);
    if (change == SM_TIMECODE_CHANGE_LOST && t->told != h->state)
        sm_session_say(t->session, SM_OUTCOME_WRONG, "TIMECODE LOST: nothing goes on by itself");
    memcpy(t->told_reason, t->reason, sizeof t->reason);
    t->told = h->state;
    t->rate = h->rate;
    t->drop = h->drop;
    t->jumps = h->jumps;
    t->told_at = now;
    if (change == SM_TIMECODE_CHANGE_JUMPED)
        sm_session_say(t->session, SM_OUTCOME_WRONG,
                       "TIMECODE JUMPED: resume goes on where it is after the count, or make safe");
}

static bool must_follow(const timecode *t, const sm_timecode_heard *h, const sm_show_clock *line,
                        sm_wall_time now) {
    const sm_us since_us = now.us - t->told_at.us;
    if (h->rate != t->rate || h->drop != t->drop)
        return true;
    if (t->bent && since_us >= WORN_US)
        return true;
    return since_us >= AGAIN_US && fabs(off_us(t, line)) > OFF_US;
}

static bool must_explain(const timecode *t, const sm_timecode_heard *h, sm_wall_time now) {
    const bool unread = h->state == SM_TIMECODE_WAITING || h->state == SM_TIMECODE_LOST;
    return unread && strcmp(t->reason, t->told_reason) != 0 && now.us - t->reason_at.us >= STANDS_US &&
           now.us - t->told_at.us >= SM_US_PER_S;
}

// What has changed since it was told. False: nothing.
static bool find_change(const timecode *t, const sm_timecode_heard *h, const sm_show_clock *line,
                        sm_wall_time now, sm_timecode_change *change) {
    static const sm_timecode_change begins[] = {[SM_TIMECODE_WAITING] = SM_TIMECODE_CHANGE_WAITING,
                                                [SM_TIMECODE_LOCKED] = SM_TIMECODE_CHANGE_LOCKED,
                                                [SM_TIMECODE_FREE_RUNNING] = SM_TIMECODE_CHANGE_FREE,
                                                [SM_TIMECODE_LOST] = SM_TIMECODE_CHANGE_LOST};
    *change = begins[h->state];
    if (h->state == SM_TIMECODE_LOCKED && h->jumps != t->jumps)
        *change = SM_TIMECODE_CHANGE_JUMPED;
    else if (h->state == SM_TIMECODE_LOCKED && t->told == h->state)
        *change = SM_TIMECODE_CHANGE_FOLLOWS;
    return *change == SM_TIMECODE_CHANGE_JUMPED || h->state != t->told || must_explain(t, h, now) ||
           (*change == SM_TIMECODE_CHANGE_FOLLOWS && must_follow(t, h, line, now));
}

// Before a first step that comes late could start anything.
static void begin(void *self) {
    timecode *t = self;
    sm_timecode_heard h;
    sm_listener_look(t->listener, &h);
    note_reason(t, &h, (sm_wall_time){0});
    h.state = SM_TIMECODE_WAITING;
    tell(t, &h, SM_TIMECODE_CHANGE_WAITING, &(sm_show_clock){0}, (sm_wall_time){0});
}

static sm_wall_time step(void *self, sm_wall_time now) {
    timecode *t = self;
    const sm_show *show = sm_session_show(t->session);
    sm_timecode_heard h;
    sm_timecode_change change;
    if (show != t->show)
        sm_listener_show(t->listener, &show->settings.timecode, show->settings.timecode_gap_us);
    t->show = show;
    sm_listener_look(t->listener, &h);
    note_reason(t, &h, now);
    const double ppm = fmin(fmax(h.speed, SM_LISTEN_SLOWEST), SM_LISTEN_FASTEST) * 1e6;
    const sm_show_clock line = {
        sm_session_wall_at(t->session, h.mono_ns), {llround(h.show_us)}, (int32_t)lround(ppm), true};
    if (find_change(t, &h, &line, now, &change))
        tell(t, &h, change, &line, now);
    return (sm_wall_time){now.us + LOOK_US};
}

// Who reads lines only has no screen that says it: what the start or the resume waits for, once.
static void snapshot(void *self, const sm_snapshot *now) {
    timecode *t = self;
    char room[256] = "";
    sm_text why = SM_TEXT_IN(room);
    const bool could_go = now->state == SM_STATE_ARMED || now->state == SM_STATE_PAUSED;
    const char *outside = sm_timecode_outside(&now->timecode, now->show, now->wall);
    if (!t->says || now->timecode.state == SM_TIMECODE_OFF || !could_go) {
        t->said[0] = '\0';
        return;
    }
    if (outside)
        sm_text_printf(&why, "it is %s", outside);
    else if (now->timecode.state != SM_TIMECODE_LOCKED)
        sm_text_printf(&why, "it is %s%s%s", sm_timecode_state_text(now->timecode.state),
                       now->timecode.why[0] ? ", " : "", now->timecode.why);
    if (why.length > 0 && strcmp(sm_text_get(&why), t->said) != 0) {
        char line[300];
        snprintf(line, sizeof line,
                 "REHEARSAL %s: nothing goes on before the timecode is LOCKED within the show; %s",
                 sm_state_text(now->state), sm_text_get(&why));
        sm_session_say(t->session, SM_OUTCOME_WRONG, line);
    }
    snprintf(t->said, sizeof t->said, "%s", sm_text_get(&why));
    sm_text_deinit(&why);
}

static void destroy(void *self) {
    timecode *t = self;
    sm_listener_close(t->listener);
    free(t);
}

const sm_outlet cmd_outlet_timecode = {.name = "timecode",
                                       .create = create,
                                       .begin = begin,
                                       .step = step,
                                       .snapshot = snapshot,
                                       .destroy = destroy};
