// SPDX-License-Identifier: GPL-3.0-or-later
// Timecode in: the show's place follows what is heard, and nothing else does. Arm and start stay the operator's.
//
// The *line* is what the timecode says: at this wall moment this show time, at this speed. While the show does not run the line says
// where a start would begin. While it runs, its clock is bent towards the line and never stepped: no event is passed by or comes twice.
// Where the line breaks off or jumps, the show pauses, and goes on only when somebody resumes it: along the line, after the count.
#include "engine/rehearsal.h"

#include <assert.h>
#include <stdio.h>

#define OFF_SMALL_US 500               // left alone
#define OFF_JUMP_US (SM_US_PER_S / 10) // no bending any more
#define BEND_US (SM_US_PER_S / 2)      // an offset is worn off in that time,
#define BEND_MOST 10                   // by one part in so many of the pace at most

// ---- its rows -----------------------------------------------------------------------------------

// Everything that a replay needs stands in the row: "12.345678 at 23.456789, speed 1.000020, rate 29.97 drop, WORDS".
static void log_news(sm_rehearsal *r, const sm_timecode_news *news) {
    char room[300] = "";
    sm_text detail = SM_TEXT_IN(room);
    if (sm_timecode_has_line(news->change)) {
        char show[24], wall[24];
        sm_text_printf(&detail, "%s at %s, speed %.6f, rate %s%s%s", sm_us_format(show, news->line.s0.us),
                       sm_us_format(wall, news->line.w0.us), news->line.speed_ppm / 1e6,
                       sm_timecode_rate_text(news->rate), news->drop ? " drop" : "",
                       news->words[0] ? ", " : "");
    }
    sm_text_printf(&detail, "%s", news->words);
    sm_log_plain(r, SM_LOG_TIMECODE, sm_timecode_change_text(news->change), sm_text_get(&detail));
    sm_text_deinit(&detail);
}

// ---- the show follows ---------------------------------------------------------------------------

static void jumped(sm_rehearsal *r) {
    r->timecode.has_jumped = true;
    r->timecode.jumped_from = sm_show_now(r);
    r->timecode.jumped_to = sm_show_clock_show_at(&r->timecode.line, r->now);
    if (r->state == SM_STATE_RUNNING)
        sm_pause_here(r);
}

static void bend(sm_rehearsal *r) {
    if (r->state != SM_STATE_RUNNING)
        return;
    const sm_show_clock *line = &r->timecode.line;
    const sm_show_time stands = sm_show_clock_show_at(&r->clock, r->now);
    const sm_us off = sm_show_clock_show_at(line, r->now).us - stands.us;
    if (off > OFF_JUMP_US || off < -OFF_JUMP_US) {
        jumped(r);
        return;
    }
    sm_us more = off > OFF_SMALL_US || off < -OFF_SMALL_US ? off * 1000000 / BEND_US : 0;
    const sm_us most = line->speed_ppm / BEND_MOST;
    more = more > most ? most : more < -most ? -most : more;
    r->clock = (sm_show_clock){r->now, stands, line->speed_ppm + (int32_t)more, true};
}

static void take(sm_rehearsal *r, const sm_timecode_news *news) {
    static const sm_timecode_state states[] = {
        [SM_TIMECODE_CHANGE_WAITING] = SM_TIMECODE_WAITING,
        [SM_TIMECODE_CHANGE_LOCKED] = SM_TIMECODE_LOCKED,
        [SM_TIMECODE_CHANGE_FOLLOWS] = SM_TIMECODE_LOCKED,
        [SM_TIMECODE_CHANGE_FREE] = SM_TIMECODE_FREE_RUNNING,
        [SM_TIMECODE_CHANGE_LOST] = SM_TIMECODE_LOST,
        [SM_TIMECODE_CHANGE_JUMPED] = SM_TIMECODE_LOCKED,
    };
    static_assert(sizeof states / sizeof states[0] == SM_TIMECODE_CHANGE_COUNT, "a state for each");
    sm_timecode_in *timecode = &r->timecode;
    if (timecode->state == SM_TIMECODE_OFF)
        sm_start_cancel(r, "timecode comes in");
    if (timecode->state != states[news->change])
        timecode->since = r->now;
    timecode->state = states[news->change];
    const bool heard = sm_timecode_has_line(news->change) || news->change == SM_TIMECODE_CHANGE_FREE;
    snprintf(timecode->why, sizeof timecode->why, "%s", heard ? "" : news->words);
    if (sm_timecode_has_line(news->change)) {
        timecode->line = news->line;
        timecode->rate = news->rate;
        timecode->drop = news->drop;
    }
    if (news->change == SM_TIMECODE_CHANGE_JUMPED)
        jumped(r);
    else if (sm_timecode_has_line(news->change))
        bend(r);
    else if (!sm_timecode_leads(timecode) && r->state == SM_STATE_RUNNING)
        sm_pause_here(r);
}

sm_result sm_rehearsal_timecode(sm_rehearsal *r, const sm_timecode_news *news, sm_wall_time at) {
    assert(news->change < SM_TIMECODE_CHANGE_COUNT &&
           (!sm_timecode_has_line(news->change) || news->line.speed_ppm > 0));
    sm_result result = sm_run_until(r, at.us > r->now.us ? at : r->now, true);
    if (result != SM_OK)
        return result;
    log_news(r, news);
    take(r, news);
    r->alerts_changed = true;
    sm_alerts_tell(r);
    return SM_OK;
}

const sm_timecode_in *sm_rehearsal_timecode_in(const sm_rehearsal *r) {
    return &r->timecode;
}
