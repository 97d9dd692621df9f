// SPDX-License-Identifier: GPL-3.0-or-later
// Answers, moments of the calendar, and the words that follow `tick`.
#include "slowmatch/walk.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

static const char *const answers[] = {[SM_WALK_UNANSWERED] = "",
                                      [SM_WALK_YES] = "yes",
                                      [SM_WALK_NO] = "no",
                                      [SM_WALK_NA] = "na",
                                      [SM_WALK_LATER] = "later"};
static_assert(sizeof answers / sizeof answers[0] == SM_WALK_ANSWER_COUNT, "a word for each answer");

const char *sm_walk_answer_text(sm_walk_answer answer) {
    return answers[answer];
}

sm_result sm_walk_answer_read(const char *text, size_t length, sm_walk_answer *out) {
    for (int i = SM_WALK_YES; i < SM_WALK_ANSWER_COUNT; i++)
        if (strlen(answers[i]) == length && memcmp(answers[i], text, length) == 0) {
            *out = (sm_walk_answer)i;
            return SM_OK;
        }
    return SM_INVALID;
}

// ---- when -------------------------------------------------------------------------------

static bool digits(const char **at, const char *end, int count, int low, int high, int *out) {
    int value = 0;
    for (int i = 0; i < count; i++) {
        if (*at >= end || **at < '0' || **at > '9')
            return false;
        value = value * 10 + (*(*at)++ - '0');
    }
    *out = value;
    return value >= low && value <= high;
}

static bool skip(const char **at, const char *end, const char *any) {
    bool there = *at < end && strchr(any, **at);
    *at += there;
    return there;
}

// "Z", "+02:00", "-0530", or nothing: *local. *east_s seconds east of Greenwich.
static bool read_zone(const char **at, const char *end, bool *local, int *east_s) {
    int hours, minutes;
    *local = *at == end;
    *east_s = 0;
    if (*local || skip(at, end, "Z"))
        return *at == end;
    int sign = *at < end && **at == '-' ? -1 : 1;
    if (!skip(at, end, "+-") || !digits(at, end, 2, 0, 23, &hours))
        return false;
    skip(at, end, ":");
    if (!digits(at, end, 2, 0, 59, &minutes) || *at != end)
        return false;
    *east_s = sign * (hours * 3600 + minutes * 60);
    return true;
}

sm_result sm_walk_when_read(const char *text, size_t length, sm_unix_us *out) {
    const char *at = text, *end = text + length;
    struct tm tm = {.tm_isdst = -1};
    int year, month, east_s;
    bool local;
    if (!digits(&at, end, 4, 1970, 9999, &year) || !skip(&at, end, "-") ||
        !digits(&at, end, 2, 1, 12, &month) || !skip(&at, end, "-") ||
        !digits(&at, end, 2, 1, 31, &tm.tm_mday))
        return SM_INVALID;
    if (!skip(&at, end, "T ") || !digits(&at, end, 2, 0, 23, &tm.tm_hour) || !skip(&at, end, ":") ||
        !digits(&at, end, 2, 0, 59, &tm.tm_min))
        return SM_INVALID;
    if (skip(&at, end, ":") && !digits(&at, end, 2, 0, 60, &tm.tm_sec))
        return SM_INVALID;
    if (!read_zone(&at, end, &local, &east_s))
        return SM_INVALID;
    tm.tm_year = year - 1900;
    tm.tm_mon = month - 1;
    struct tm asked = tm;
    time_t seconds = local ? mktime(&tm) : timegm(&tm);
    if (tm.tm_mday != asked.tm_mday || tm.tm_mon != asked.tm_mon) // 31 April
        return SM_INVALID;
    *out = ((int64_t)seconds - east_s) * SM_US_PER_S;
    return SM_OK;
}

char *sm_walk_when_format(char buffer[24], sm_unix_us when_us) {
    buffer[0] = '\0';
    time_t seconds = (time_t)(when_us / SM_US_PER_S);
    struct tm tm;
    if (when_us != SM_UNSET_US && localtime_r(&seconds, &tm))
        strftime(buffer, 24, "%Y-%m-%d %H:%M", &tm);
    return buffer;
}

// ---- what follows `tick ITEM` -----------------------------------------------------------------

static size_t word_length(const char *text) {
    return strcspn(text, " \t");
}

static const char *skip_blanks(const char *text) {
    return text + strspn(text, " \t");
}

// How much of TEXT is a value for ITEM: one word, or a number and its unit; 0 where none is.
static size_t value_length(const sm_walk_item *item, const char *text) {
    double value;
    size_t one = word_length(text);
    const char *second = skip_blanks(text + one);
    size_t both = (size_t)(second - text) + word_length(second);
    if (!item->measured)
        return 0;
    if (both > one && sm_measure_read(item->quantity, text, both, &value) == SM_OK)
        return both;
    return sm_measure_read(item->quantity, text, one, &value) == SM_OK ? one : 0;
}

// Who stands behind the last "by" of NOTE; NULL where none does.
static const char *find_by(const char *note) {
    const char *found = NULL;
    for (const char *at = note; (at = strstr(at, "by ")); at++)
        if (at == note || at[-1] == ' ' || at[-1] == '\t')
            found = at;
    return found;
}

sm_result sm_walk_tick_read(const sm_walk_item *item, const char *text, sm_arena *arena, sm_walk_tick *out) {
    text = skip_blanks(text);
    sm_walk_tick tick = {.when_us = SM_UNSET_US, .hash = item->hash};
    size_t length = word_length(text);
    if (sm_walk_answer_read(text, length, &tick.answer) != SM_OK)
        return SM_INVALID;
    const char *value = skip_blanks(text + length);
    size_t value_bytes = value_length(item, value);
    const char *note = skip_blanks(value + value_bytes);
    const char *by = find_by(note);
    size_t note_bytes = by ? (size_t)(by - note) : strlen(note);
    while (note_bytes > 0 && strchr(" \t,;", note[note_bytes - 1]))
        note_bytes--;
    const char *who = by ? skip_blanks(by + 3) : "";
    tick.item = sm_arena_text(arena, item->id, strlen(item->id)); // the list may go before the answer
    tick.value = sm_arena_text(arena, value, value_bytes);
    tick.note = sm_arena_text(arena, note, note_bytes);
    tick.by = sm_arena_text(arena, who, strlen(who));
    if (!tick.item || !tick.value || !tick.note || !tick.by)
        return SM_NO_MEMORY;
    *out = tick;
    return SM_OK;
}
