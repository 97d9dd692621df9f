// SPDX-License-Identifier: GPL-3.0-or-later
// What a timecode that comes in says by itself: its rows read back, where a start would begin, what it lets nobody do. Of its state alone.
#include "engine/rehearsal.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define EARLY_US                                                                                             \
    (INT64_C(5) * 60 * SM_US_PER_S) // a start so long before the show is a mistake in timecode-start

static const char *const change_texts[] = {
    [SM_TIMECODE_CHANGE_WAITING] = "waiting", [SM_TIMECODE_CHANGE_LOCKED] = "locked",
    [SM_TIMECODE_CHANGE_FOLLOWS] = "follows", [SM_TIMECODE_CHANGE_FREE] = "free-running",
    [SM_TIMECODE_CHANGE_LOST] = "lost",       [SM_TIMECODE_CHANGE_JUMPED] = "jumped",
};
static_assert(sizeof change_texts / sizeof change_texts[0] == SM_TIMECODE_CHANGE_COUNT, "a word for each");

bool sm_timecode_has_line(sm_timecode_change change) {
    return change == SM_TIMECODE_CHANGE_LOCKED || change == SM_TIMECODE_CHANGE_FOLLOWS ||
           change == SM_TIMECODE_CHANGE_JUMPED;
}

const char *sm_timecode_change_text(sm_timecode_change change) {
    assert((unsigned)change < SM_TIMECODE_CHANGE_COUNT);
    return change_texts[change];
}

static bool read_number(const char **at, const char *before, double *out) {
    char *end;
    const size_t length = strlen(before);
    if (strncmp(*at, before, length) != 0)
        return false;
    *out = strtod(*at + length, &end);
    const bool any = end > *at + length;
    *at = end;
    return any;
}

static sm_us micro(double value) {
    return (sm_us)(value * 1e6 + (value < 0 ? -0.5 : 0.5));
}

bool sm_timecode_news_read(const char *change, const char *detail, sm_timecode_news *out) {
    int at = 0;
    while (at < SM_TIMECODE_CHANGE_COUNT && strcmp(change_texts[at], change) != 0)
        at++;
    if (at == SM_TIMECODE_CHANGE_COUNT)
        return false;
    *out = (sm_timecode_news){.change = (sm_timecode_change)at};
    double show, wall, speed, rate;
    if (sm_timecode_has_line(out->change)) {
        if (!read_number(&detail, "", &show) || !read_number(&detail, " at ", &wall) ||
            !read_number(&detail, ", speed ", &speed) || !read_number(&detail, ", rate ", &rate) ||
            speed <= 0)
            return false;
        out->line = (sm_show_clock){{micro(wall)}, {micro(show)}, (int32_t)micro(speed), true};
        out->rate = rate < 24.5 ? SM_TC_24 : rate < 27 ? SM_TC_25 : rate < 29.99 ? SM_TC_29_97 : SM_TC_30;
        out->drop = strncmp(detail, " drop", 5) == 0;
        detail += out->drop ? 5 : 0;
        detail += strncmp(detail, ", ", 2) == 0 ? 2 : 0;
    }
    snprintf(out->words, sizeof out->words, "%s", detail);
    return true;
}

bool sm_timecode_leads(const sm_timecode_in *timecode) {
    return timecode->state == SM_TIMECODE_LOCKED || timecode->state == SM_TIMECODE_FREE_RUNNING;
}

// ---- a start along it ------------------------------------------------------------------------------

sm_show_time sm_timecode_begins(const sm_timecode_in *timecode, const sm_show *show, sm_wall_time at) {
    const sm_us place = sm_show_clock_show_at(&timecode->line, at).us + show->settings.countdown_us;
    return (sm_show_time){place > 0 ? place : 0};
}

static sm_us past_us(const sm_show *show) {
    return show->length_us - show->settings.countdown_us;
}

const char *sm_timecode_outside(const sm_timecode_in *timecode, const sm_show *show, sm_wall_time at) {
    if (timecode->state != SM_TIMECODE_LOCKED)
        return NULL;
    if (sm_show_clock_show_at(&timecode->line, at).us < -EARLY_US)
        return "over 5 min before the show";
    return sm_timecode_begins(timecode, show, at).us >= show->length_us ? "past the end of the show" : NULL;
}

sm_us sm_timecode_turns_us(const sm_timecode_in *timecode, const sm_show *show, sm_wall_time at) {
    if (timecode->state != SM_TIMECODE_LOCKED)
        return INT64_MAX;
    const sm_us into_us = sm_show_clock_wall_at(&timecode->line, (sm_show_time){-EARLY_US}).us;
    const sm_us past = sm_show_clock_wall_at(&timecode->line, (sm_show_time){past_us(show)}).us;
    return into_us > at.us ? into_us : past > at.us ? past : INT64_MAX;
}

bool sm_timecode_refuses(const sm_timecode_in *timecode, const sm_show *show, sm_wall_time at, sm_text *why) {
    char span[24];
    if (timecode->state == SM_TIMECODE_OFF)
        return false;
    if (timecode->state != SM_TIMECODE_LOCKED) {
        sm_text_printf(why, "the timecode is not LOCKED: %s%s%s", sm_timecode_state_text(timecode->state),
                       timecode->why[0] ? ", " : "", timecode->why);
        return true;
    }
    const sm_us now_us = sm_show_clock_show_at(&timecode->line, at).us;
    const char *outside = sm_timecode_outside(timecode, show, at);
    if (outside && now_us < 0)
        sm_text_printf(why, "the timecode is %s before the show: look at timecode-start",
                       sm_clock_format(span, -now_us));
    else if (outside)
        sm_text_printf(why, "the timecode is %s", outside);
    return outside != NULL;
}

bool sm_timecode_keeps(const sm_timecode_in *timecode, sm_act act) {
    return timecode->state != SM_TIMECODE_OFF &&
           (act == SM_ACT_SEEK || act == SM_ACT_SPEED || act == SM_ACT_REPEAT || act == SM_ACT_START_IN);
}
