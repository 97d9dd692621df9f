// SPDX-License-Identifier: GPL-3.0-or-later
// The outlet: off, listening, asking, on, ending. Rows of the log say what was asked for; each step does it.
//
// While on, every 25 ms: the levels of the engine are put into frames, the judge is asked, and what it lets pass goes to the sending
// process, where judge and mask look again. In safe the levels stand as they were: dark on people is a harm of its own, and a place that
// is looked at while safe is a preview.
#include "slowmatch/lights.h"

#include "lights/judge.h"
#include "lights/plan.h"
#include "lights/sender.h"
#include "lights/statement.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TICK_US (SM_US_PER_S / 40)
#define EARLY_US (SM_US_PER_S / 1000) // a wake that comes so little too soon is not waited for again
#define LISTEN_US                                                                                            \
    (5 * SM_US_PER_S / 2) // E1.31 6.7.1: a source that is silent for longer is lost (second-hand)
#define LOOK_US (SM_US_PER_S / 10)
#define SILENT_US (5 * SM_US_PER_S)  // the sending process says each second that it lives
#define READING_US (SM_US_PER_S / 2) // nobody reads a question sooner: what answers it was there before
enum { TOLD_LINES = 9 };

typedef enum phase { OFF, STARTING, LISTENING, ASKING, ON, ENDING } phase;

struct sm_lights {
    sm_session *session;
    sm_lights_options options;
    lights_sender sender;
    phase phase;
    const sm_show *show; // of frame, judge, levels
    lights_frame *frame;
    lights_judge *judge;
    uint8_t *levels;
    lights_verdict sent[SM_LIGHTS_UNIVERSES]; // as ordered last, universe 0: not yet
    lights_statement statement;
    sm_wall_time until;                    // of listening; on: of the statement
    sm_wall_time tick, asked_at, heard_at; // the latter: of the sending process
    sm_text heard;
    sm_person people[SM_PEOPLE_MAX]; // in the field
    uint32_t people_count;
    sm_lights_view view;
    bool on_asked, off_asked, quits, shown, hasty;
    char answer[256]; // "" none
};

// ---- what there is to see --------------------------------------------------------------------

static void say(sm_lights *l, sm_outcome_kind kind, const char *format, ...) SM_PRINTF(3, 4);
static void say(sm_lights *l, sm_outcome_kind kind, const char *format, ...) {
    char text[448];
    va_list args;
    va_start(args, format);
    vsnprintf(text, sizeof text, format, args);
    va_end(args);
    sm_session_say(l->session, kind, text);
}

static void copy_cut(char *out, size_t room, const sm_text *text) {
    snprintf(out, room, "%s", text->bytes ? text->bytes : "");
}

static lights_matter matter_of(const sm_lights *l) {
    return (lights_matter){.show = l->show,
                           .options = &l->options,
                           .frame = l->frame,
                           .people = l->people,
                           .people_count = l->people_count};
}

// "LIGHTS ON THE WIRE universe 1 to 10.9.0.2, by J"
static void put_alert(const sm_lights *l, sm_text *out) {
    char to[40];
    const size_t count = lights_frame_count(l->frame);
    uint32_t address = 0;
    const int32_t first = lights_frame_universe(l->frame, 0);
    (void)sm_lights_to_of(&l->options, first, &address);
    sm_text_printf(out, "LIGHTS ON THE WIRE universe %d to %s", first,
                   sm_lights_to_format(to, address, first));
    if (count > 1)
        sm_text_printf(out, " and %zu more", count - 1);
    sm_text_printf(out, ", by %s%s", l->statement.by, l->phase == ENDING ? ", fading home" : "");
}

static void show(sm_lights *l) {
    sm_text words = {0}, asks = {0}, alert = {0};
    const sm_show *now = sm_session_show(l->session);
    const lights_matter matter = matter_of(l);
    l->view.there = true;
    l->view.on = l->phase == ON || l->phase == ENDING;
    if (sm_lights_plan(now, &l->options, false, &words) == SM_OK && l->heard.length > 0)
        sm_text_printf(&words, "%s", sm_text_get(&l->heard));
    if (l->statement.said[0] != '\0')
        sm_text_printf(&words, "%s\n", l->statement.said);
    if (l->phase == STARTING || l->phase == LISTENING)
        sm_text_printf(&asks, "listening for other sources ...");
    else if (l->phase == ASKING)
        (void)lights_statement_asks(&l->statement, &matter, &asks);
    if (l->view.on)
        put_alert(l, &alert);
    copy_cut(l->view.words, sizeof l->view.words, &words);
    copy_cut(l->view.asks, sizeof l->view.asks, &asks);
    copy_cut(l->view.alert, sizeof l->view.alert, &alert);
    sm_text_deinit(&words);
    sm_text_deinit(&asks);
    sm_text_deinit(&alert);
    sm_session_show_lights(l->session, &l->view);
}

static void say_question(sm_lights *l, sm_wall_time now) {
    l->asked_at = now;
    show(l);
    say(l, SM_OUTCOME_TOLD, "lights: %s", l->view.asks);
}

// One outcome a line; a long plan is told by `slowmatch lights`.
static void say_plan(sm_lights *l) {
    char *copy = strdup(l->view.words), *rest = copy;
    int told = 0;
    for (char *line; copy && (line = strtok_r(rest, "\n", &rest));)
        if (told++ < TOLD_LINES)
            say(l, SM_OUTCOME_TOLD, "lights: %s", line);
    if (told > TOLD_LINES)
        say(l, SM_OUTCOME_TOLD, "lights: and %d more lines, see slowmatch lights SHOW", told - TOLD_LINES);
    free(copy);
}

// ---- beginning --------------------------------------------------------------------------------

static void forget(sm_lights *l) {
    lights_frame_destroy(l->frame);
    lights_judge_destroy(l->judge);
    free(l->levels);
    l->frame = NULL;
    l->judge = NULL;
    l->levels = NULL;
    l->show = NULL;
    l->phase = OFF;
}

static void put_homes(const sm_show *show_, uint8_t *levels) {
    for (uint32_t f = 0; f < show_->fixture_count; f++) {
        const sm_fixture *fixture = &show_->fixtures[f];
        if (fixture->profile != SM_NONE)
            memcpy(levels + fixture->channel_base, show_->profiles[fixture->profile].home,
                   show_->profiles[fixture->profile].channel_count);
    }
}

static sm_result prepare(sm_lights *l) {
    const sm_show *now = sm_session_show(l->session);
    memset(l->sent, 0, sizeof l->sent);
    l->statement = (lights_statement){0};
    sm_text_clear(&l->heard);
    l->levels = calloc((size_t)now->channel_count + 1, 1);
    sm_result result = l->levels ? lights_frame_create(now, &l->options, &l->frame) : SM_NO_MEMORY;
    if (result == SM_OK)
        result = lights_judge_create(now, &l->judge);
    if (result == SM_OK) {
        put_homes(now, l->levels);
        l->show = now;
    }
    return result;
}

static void begin(sm_lights *l) {
    char why[SM_LIGHTS_WHY];
    if (l->phase != OFF) {
        say(l, SM_OUTCOME_REFUSED, "lights: %s",
            l->phase == ENDING ? "they still fade home"
            : l->phase == ON   ? "they are on"
                               : "a question stands");
        return;
    }
    const sm_result result = prepare(l);
    if (result != SM_OK || lights_frame_count(l->frame) == 0) {
        say(l, SM_OUTCOME_REFUSED, "lights: %s",
            result == SM_OK             ? "no universe can be sent: slowmatch lights SHOW says why"
            : result == SM_OUT_OF_RANGE ? "more universes than can be sent"
                                        : sm_result_text(result));
        forget(l);
    } else if (!lights_sender_start(&l->sender, l->show->folder, &l->options, why)) {
        say(l, SM_OUTCOME_WRONG, "lights: %s", why);
        forget(l);
    } else {
        l->phase = STARTING;
    }
    show(l);
    if (l->phase == STARTING)
        say_plan(l);
}

// ---- ending -----------------------------------------------------------------------------------

// Nothing was sent yet: the question is over.
static void give_up(sm_lights *l, const char *why) {
    lights_sender_let_go(&l->sender);
    forget(l);
    show(l);
    say(l, SM_OUTCOME_TOLD, "lights: %s; nothing was sent", why);
}

// Home over FADE_US, then the end; by the sending process alone.
static void end(sm_lights *l, sm_lights_change change, sm_us fade_us, const char *why) {
    const lights_order order = {.kind = LIGHTS_END, .span_us = fade_us};
    if (!lights_sender_order(&l->sender, &order))
        lights_sender_let_go(&l->sender); // its end closed says the same, without a fade
    l->phase = ENDING;
    sm_session_log_lights(l->session, change, why);
    show(l);
    if (change != SM_LIGHTS_OFF)
        say(l, SM_OUTCOME_WRONG, "LIGHTS %s: %s", change == SM_LIGHTS_LAPSED ? "LAPSED" : "STOPPED", why);
}

static void stopped(sm_lights *l, const char *why) {
    lights_sender_let_go(&l->sender);
    sm_session_log_lights(l->session, SM_LIGHTS_STOPPED, why);
    forget(l);
    show(l);
    say(l, SM_OUTCOME_WRONG, "LIGHTS STOPPED: %s; nothing is sent any more, the lights hold their last look",
        why);
}

// The show was read again. Universes whose slots belong to other channels now get nothing more, not even their end.
static void lapse_on_reload(sm_lights *l) {
    lights_judge *anew = NULL;
    const uint8_t zeros[SM_SACN_SLOTS] = {0};
    const sm_result result = lights_judge_create(sm_session_show(l->session), &anew);
    for (size_t i = 0; i < lights_frame_count(l->frame); i++) {
        lights_verdict verdict;
        char why[SM_LIGHTS_WHY];
        const int32_t universe = lights_frame_universe(l->frame, i);
        const bool same = result == SM_OK && lights_judge_pass(anew, universe, zeros, NULL, &verdict, why) &&
                          memcmp(verdict.owned, l->sent[i].owned, sizeof verdict.owned) == 0;
        const lights_order drop = {.kind = LIGHTS_DROP, .universe = universe};
        if (!same && !lights_sender_order(&l->sender, &drop))
            lights_sender_let_go(&l->sender);
    }
    lights_judge_destroy(anew);
    end(l, SM_LIGHTS_LAPSED, 0, "the show was read again");
}

// ---- what people say ----------------------------------------------------------------------------

static void go(sm_lights *l, sm_wall_time now) {
    const sm_us span_us = l->show->settings.statement_us;
    const lights_order order = {.kind = LIGHTS_GO, .span_us = span_us};
    sm_text detail = {0};
    if (!lights_sender_order(&l->sender, &order)) {
        give_up(l, "the sending process is gone");
        return;
    }
    l->phase = ON;
    l->heard_at = now;
    l->until.us = now.us + span_us;
    l->tick = now;
    sm_text_printf(&detail, "by %s: interface %s, priority %d; %s", l->statement.by, l->options.interface,
                   l->options.priority, l->statement.said);
    sm_session_log_lights(l->session, SM_LIGHTS_ON, sm_text_get(&detail));
    sm_text_deinit(&detail);
    show(l);
    say(l, SM_OUTCOME_TOLD, "%s: sent, nobody knows what arrives", l->view.alert);
}

static void take_answer(sm_lights *l, sm_wall_time now) {
    const lights_matter matter = matter_of(l);
    char why[SM_LIGHTS_WHY];
    sm_text next = {0};
    if (l->hasty) { // a paste: nobody has read the second question before it was answered
        say(l, SM_OUTCOME_REFUSED,
            "lights: one answer at a time, to the question that is shown; none was taken");
    } else if (l->phase != ASKING) {
        say(l, SM_OUTCOME_REFUSED, "lights: %s",
            l->phase == STARTING || l->phase == LISTENING ? "still listening for other sources"
                                                          : "nothing is asked");
    } else if (now.us - l->asked_at.us < READING_US) {
        say(l, SM_OUTCOME_REFUSED, "lights: read the question first; it came too soon to be an answer");
    } else if (!lights_statement_take(&l->statement, &matter, l->answer, why)) {
        say(l, SM_OUTCOME_REFUSED, "lights: %s", why);
    } else if (lights_statement_asks(&l->statement, &matter, &next)) {
        say_question(l, now);
    } else {
        go(l, now);
    }
    sm_text_deinit(&next);
    l->answer[0] = '\0';
    l->hasty = false;
}

static void take_off(sm_lights *l) {
    if (l->phase == ON)
        end(l, SM_LIGHTS_OFF, l->show->settings.lights_fade_us, l->quits ? "quit" : "by hand");
    else if (l->phase == STARTING || l->phase == LISTENING || l->phase == ASKING)
        give_up(l, "given up");
}

static void take_words(sm_lights *l, sm_wall_time now) {
    if (l->off_asked)
        take_off(l);
    if (l->on_asked)
        begin(l);
    if (l->answer[0] != '\0')
        take_answer(l, now);
    l->off_asked = l->on_asked = false;
}

void sm_lights_snapshot(sm_lights *l, const sm_snapshot *snapshot) {
    l->people_count = snapshot->people_count;
    memcpy(l->people, snapshot->people, snapshot->people_count * sizeof l->people[0]);
}

void sm_lights_row(sm_lights *l, const sm_log_row *row) {
    l->quits |= sm_log_is_act(row->kind, SM_ACT_QUIT);
    if (sm_log_is_act(row->kind, SM_ACT_LIGHTS_ON))
        l->on_asked = true;
    else if (sm_log_is_act(row->kind, SM_ACT_LIGHTS_OFF) || sm_log_is_act(row->kind, SM_ACT_QUIT))
        l->off_asked = true;
    else if (sm_log_is_act(row->kind, SM_ACT_LIGHTS_ANSWER) && l->answer[0] != '\0')
        l->hasty = true;
    else if (sm_log_is_act(row->kind, SM_ACT_LIGHTS_ANSWER))
        snprintf(l->answer, sizeof l->answer, "%s", row->detail);
}

// ---- what the sending process says ------------------------------------------------------------------

static void hear_other(sm_lights *l, const lights_news *news) {
    sm_text line = {0};
    sm_text_printf(&line, "other source on universe %d: %.80s, priority %d", news->universe, news->text,
                   news->priority);
    sm_text_printf(&l->heard, "%s\n", sm_text_get(&line));
    if (l->phase == ON)
        end(l, SM_LIGHTS_LAPSED, l->show->settings.lights_fade_us, sm_text_get(&line));
    else
        say(l, SM_OUTCOME_TOLD, "lights: %s", sm_text_get(&line));
    sm_text_deinit(&line);
    show(l);
}

static void take_news(sm_lights *l, const lights_news *news, sm_wall_time now) {
    l->heard_at = now;
    switch (news->kind) {
    case LIGHTS_LISTENS:
        if (l->phase == STARTING) {
            l->phase = LISTENING;
            l->until.us = now.us + LISTEN_US;
        }
        if (news->text[0] != '\0')
            sm_text_printf(&l->heard, "%s\n", news->text);
        break;
    case LIGHTS_HEARD:
        hear_other(l, news);
        break;
    case LIGHTS_LAPSED:
        if (l->phase == ON) {
            l->phase = ENDING;
            sm_session_log_lights(l->session, SM_LIGHTS_LAPSED, news->text);
            show(l);
            say(l, SM_OUTCOME_WRONG, "LIGHTS LAPSED: %s", news->text);
        }
        break;
    case LIGHTS_STOPPED:
        if (l->phase == ON || l->phase == ENDING)
            stopped(l, news->text);
        else
            give_up(l, news->text);
        break;
    default:
        break;
    }
}

static void is_gone(sm_lights *l) {
    if (l->phase == ENDING) {
        lights_sender_let_go(&l->sender);
        forget(l);
        show(l);
    } else if (l->phase == ON) {
        stopped(l, "the sending process ended");
    } else if (l->phase != OFF) {
        give_up(l, "the sending process ended");
    }
}

static void hear(sm_lights *l, sm_wall_time now) {
    lights_news news;
    for (int i = 0; i < 64 && l->phase != OFF; i++) {
        const lights_sender_said said = lights_sender_hear(&l->sender, &news);
        if (said == LIGHTS_NOTHING_NEW)
            break;
        if (said == LIGHTS_NEWS)
            take_news(l, &news, now);
        else
            is_gone(l);
    }
    if ((l->phase == ON || l->phase == ENDING) && now.us - l->heard_at.us > SILENT_US)
        stopped(l, "the sending process does not answer");
}

// ---- frames ---------------------------------------------------------------------------------------------

// The frame of universe I into ORDERS, where it is other than the one before. False: the judge refused, and the lights are stopped.
static bool judge_frame(sm_lights *l, size_t i, lights_orders *orders, size_t *count) {
    uint8_t slots[SM_SACN_SLOTS];
    char why[SM_LIGHTS_WHY];
    lights_frame_fill(l->frame, i, l->levels, slots);
    if (l->sent[i].universe != 0 && memcmp(l->sent[i].slots, slots, sizeof slots) == 0)
        return true;
    if (!lights_judge_pass(l->judge, lights_frame_universe(l->frame, i), slots, l->levels,
                           &orders->verdicts[*count], why)) {
        stopped(l, why);
        return false;
    }
    ++*count;
    return true;
}

// What went out is known as sent; what did not is ordered once more with the next.
static void keep_sent(sm_lights *l, const lights_orders *orders, size_t count) {
    for (size_t i = 0, v = 0; i < lights_frame_count(l->frame) && v < count; i++)
        if (lights_frame_universe(l->frame, i) == orders->verdicts[v].universe)
            l->sent[i] = orders->verdicts[v++];
}

static void order_frames(sm_lights *l, sm_wall_time now) {
    lights_orders orders;
    size_t count = 0;
    if (now.us < l->tick.us - EARLY_US)
        return;
    l->tick.us += TICK_US;
    if (l->tick.us < now.us)
        l->tick.us = now.us + TICK_US;
    if (sm_session_state(l->session) != SM_STATE_SAFE)
        sm_session_levels(l->session, l->levels);
    for (size_t i = 0; i < lights_frame_count(l->frame); i++)
        if (!judge_frame(l, i, &orders, &count))
            return;
    if (count > 0 && lights_sender_frames(&l->sender, &orders, count))
        keep_sent(l, &orders, count);
}

// ---- the beginning ------------------------------------------------------------------------------------------

// A destination that is of no use was typed by mistake; a wire that cannot be sent on now may be mended before it is asked for.
static void say_what_is_amiss(sm_lights *l) {
    char why[SM_LIGHTS_WHY];
    sm_text useless = {0};
    if (lights_put_useless(sm_session_show(l->session), &l->options, &useless) == SM_OK && useless.length > 0)
        say(l, SM_OUTCOME_WRONG, "lights: %.*s", (int)strcspn(sm_text_get(&useless), "\n"),
            sm_text_get(&useless));
    if (sm_lights_options_fit(&l->options, why) && why[0] != '\0')
        say(l, SM_OUTCOME_WRONG, "lights: %s; as it is, nothing can be sent", why);
    sm_text_deinit(&useless);
}

// ---- the step ---------------------------------------------------------------------------------------------

// What ends lights by itself.
static void look_after(sm_lights *l, sm_wall_time now) {
    const bool other_show = l->phase != OFF && l->phase != ENDING && l->show != sm_session_show(l->session);
    if (other_show && l->phase == ON)
        lapse_on_reload(l);
    else if (other_show)
        give_up(l, "the show was read again");
    else if (l->phase == ON && sm_session_state(l->session) == SM_STATE_ENDED)
        end(l, SM_LIGHTS_OFF, l->show->settings.lights_fade_us, "end of the show");
    else if (l->phase == ON && now.us >= l->until.us)
        end(l, SM_LIGHTS_LAPSED, l->show->settings.lights_fade_us, "the statement's time is over");
    if (l->phase == LISTENING && now.us >= l->until.us) {
        l->phase = ASKING;
        say_question(l, now);
    }
}

sm_wall_time sm_lights_step(sm_lights *l, sm_wall_time now) {
    if (!l->shown) {
        show(l);
        say_what_is_amiss(l);
    }
    l->shown = true;
    lights_sender_reap(&l->sender);
    look_after(l, now);
    hear(l, now);
    take_words(l, now);
    if (l->phase == ON)
        order_frames(l, now);
    return l->phase == ON    ? l->tick
           : l->phase == OFF ? (sm_wall_time){INT64_MAX}
                             : (sm_wall_time){now.us + LOOK_US};
}

// ---- making one ---------------------------------------------------------------------------------------------

sm_result sm_lights_create(sm_session *session, const sm_lights_options *options, sm_lights **out) {
    sm_lights *l = calloc(1, sizeof *l);
    if (!l)
        return SM_NO_MEMORY;
    l->session = session;
    l->options = *options;
    *out = l;
    return SM_OK;
}

void sm_lights_destroy(sm_lights *l) {
    if (!l)
        return;
    if (l->phase == ON) {
        const lights_order order = {.kind = LIGHTS_END, .span_us = l->show->settings.lights_fade_us};
        (void)lights_sender_order(&l->sender, &order);
    }
    lights_sender_let_go(&l->sender);
    forget(l);
    sm_text_deinit(&l->heard);
    free(l);
}
