// SPDX-License-Identifier: GPL-3.0-or-later
// The operator: lines that act at their moments, from a script or the built-in sequence.
#include "engine/rehearsal.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

typedef enum when_kind { WHEN_WALL, WHEN_AFTER, WHEN_SHOW, WHEN_ARMED } when_kind;

typedef struct line {
    when_kind kind;
    sm_us us;
    uint32_t number;
    bool instructor; // in a drill: the line is the instructor's
    sm_action action;
} line;

struct sm_operator {
    line *lines;
    size_t count, next;
    sm_wall_time last; // when the line before acted
};

static bool add(sm_operator *o, line l) {
    line *lines = sm_array_grow(o->lines, o->count, sizeof *lines);
    if (!lines)
        return false;
    o->lines = lines;
    o->lines[o->count++] = l;
    return true;
}

void sm_operator_destroy(sm_operator *o) {
    if (!o)
        return;
    free(o->lines);
    free(o);
}

// ---- reading ---------------------------------------------------------------------------------

typedef struct script_reader {
    const sm_show *show;
    const char *file;
    sm_findings *findings;
    uint32_t number;
} script_reader;

static const char *skip_blanks(const char *at, const char *end) {
    while (at < end && (*at == ' ' || *at == '\t'))
        at++;
    return at;
}

static bool read_when(const script_reader *reader, const char *text, size_t length, uint32_t column,
                      line *out) {
    sm_moment_base plain = {0};
    const char *rest = text;
    out->kind = WHEN_WALL;
    if (*text == '+' || *text == '@') {
        out->kind = *text == '+' ? WHEN_AFTER : WHEN_SHOW;
        rest++;
    }
    const sm_moment_base *base = out->kind == WHEN_SHOW ? &reader->show->settings.timecode : &plain;
    size_t rest_length = length - (size_t)(rest - text);
    if (sm_moment_read(rest, rest_length, base, &out->us) == SM_OK &&
        (out->us >= 0 || out->kind == WHEN_SHOW))
        return true;
    sm_findings_add(reader->findings, reader->file, reader->number, column, SM_ERROR, "script",
                    "'%.*s' is no moment; write seconds since launch (2.5), seconds after the line before "
                    "(+3) or a moment of the "
                    "show (@0:20.000)",
                    (int)(length > 40 ? 40 : length), text);
    return false;
}

static uint32_t column_of(const char *begin, const char *at) {
    return (uint32_t)sm_utf8_count(begin, (size_t)(at - begin)) + 1;
}

// Where the line's comment begins: a # at its beginning or after a blank; its end where there is none.
static const char *comment_of(const char *begin, const char *end) {
    for (const char *at = begin; at < end; at++)
        if (*at == '#' && (at == begin || at[-1] == ' ' || at[-1] == '\t'))
            return at;
    return end;
}

// "instructor " before an action.
static const char *skip_instructor(const char *at, const char *end, bool *instructor) {
    static const char word[] = "instructor ";
    *instructor = (size_t)(end - at) >= sizeof word - 1 && memcmp(at, word, sizeof word - 1) == 0;
    return *instructor ? skip_blanks(at + sizeof word - 1, end) : at;
}

static bool is_instructors(sm_act act) {
    return act == SM_ACT_TICK || (sm_action_row_of(act)->drill_only && act != SM_ACT_HINT &&
                                  act != SM_ACT_ANSWER && act != SM_ACT_ASK);
}

// False only when memory runs out.
static bool read_line(const script_reader *reader, sm_operator *o, const char *begin, const char *end) {
    end = comment_of(begin, end);
    const char *when = skip_blanks(begin, end);
    if (when == end)
        return true;
    const char *when_end = when;
    while (when_end < end && *when_end != ' ' && *when_end != '\t')
        when_end++;
    line l = {.number = reader->number};
    bool good = read_when(reader, when, (size_t)(when_end - when), column_of(begin, when), &l);
    const char *action = skip_instructor(skip_blanks(when_end, end), end, &l.instructor);
    char why[200];
    size_t at = 0;
    if (sm_action_read(reader->show, action, (size_t)(end - action), &l.action, why, &at) != SM_OK) {
        sm_findings_add(reader->findings, reader->file, reader->number, column_of(begin, action + at),
                        SM_ERROR, "script", "%s", why);
        good = false;
    }
    if (good && l.instructor && !is_instructors(l.action.act)) {
        sm_findings_add(reader->findings, reader->file, reader->number, column_of(begin, action), SM_ERROR,
                        "script",
                        "an instructor does not do this; there are trigger, inject, call, judge, tick, "
                        "pass-time, hold-drill, go-drill and remark");
        good = false;
    }
    return !good || add(o, l);
}

static sm_result read_lines(script_reader *reader, sm_operator *o, const char *text, size_t length) {
    const char *at = text, *end = text + length;
    if (length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0)
        at += 3;
    while (at < end) {
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        stop = stop ? stop : end;
        const char *last = stop > at && stop[-1] == '\r' ? stop - 1 : stop;
        reader->number++;
        if (!read_line(reader, o, at, last))
            return SM_NO_MEMORY;
        at = stop + 1;
    }
    return sm_findings_count_of(reader->findings, SM_ERROR) == 0 ? SM_OK : SM_INVALID;
}

sm_result sm_operator_read(const sm_show *show, const char *file, const char *text, size_t length,
                           sm_findings *findings, sm_operator **out) {
    sm_operator *o = calloc(1, sizeof *o);
    if (!o)
        return SM_NO_MEMORY;
    script_reader reader = {show, file, findings, 0};
    sm_result result = read_lines(&reader, o, text, length);
    if (result == SM_OK)
        *out = o;
    else
        sm_operator_destroy(o);
    return result;
}

sm_result sm_operator_builtin(const sm_show *show, sm_operator **out) {
    static const struct {
        when_kind kind;
        const char *action;
    } sequence[] = {
        {WHEN_WALL, "call-clear"}, {WHEN_WALL, "key on"}, {WHEN_WALL, "arm"}, {WHEN_ARMED, "start"}};
    sm_operator *o = calloc(1, sizeof *o);
    if (!o)
        return SM_NO_MEMORY;
    for (size_t i = 0; i < sizeof sequence / sizeof sequence[0]; i++) {
        line l = {.kind = sequence[i].kind};
        char why[200];
        size_t at;
        sm_result read =
            sm_action_read(show, sequence[i].action, strlen(sequence[i].action), &l.action, why, &at);
        assert(read == SM_OK);
        (void)read;
        if (!add(o, l)) {
            sm_operator_destroy(o);
            return SM_NO_MEMORY;
        }
    }
    *out = o;
    return SM_OK;
}

void sm_operator_follow(sm_operator *o, const sm_operator *old) {
    o->next = old->next < o->count ? old->next : o->count;
    o->last = old->last;
}

// ---- acting ----------------------------------------------------------------------------------------

static sm_wall_time later(sm_wall_time a, sm_wall_time b) {
    return a.us > b.us ? a : b;
}

// A line that waits for a moment of the show. Only a running show gets there; one that repeats a stretch before it never does.
static sm_operator_word next_in_show(const sm_operator *o, const sm_rehearsal *r, sm_us moment,
                                     sm_wall_time *at) {
    if (r->state == SM_STATE_ARMING || r->starts_at.us != SM_UNSET_US)
        return SM_OPERATOR_HELD;
    if (r->state == SM_STATE_ENDED)
        return SM_OPERATOR_NEVER;
    if (r->state != SM_STATE_RUNNING)
        return SM_OPERATOR_NEVER;
    if (moment > sm_show_now(r).us) {
        if (r->repeat_ahead && moment >= r->repeat_to.us)
            return SM_OPERATOR_NEVER;
        if (moment > r->show->length_us)
            return SM_OPERATOR_HELD;
    }
    *at = later(later(sm_show_clock_wall_at(&r->clock, (sm_show_time){moment}), r->now), o->last);
    return SM_OPERATOR_WAIT;
}

// The built-in sequence starts when a timecode that is listened to lets it.
static bool waits_for_timecode(const sm_rehearsal *r) {
    char room[256] = "";
    sm_text why = SM_TEXT_IN(room);
    const bool refuses = sm_timecode_refuses(&r->timecode, r->show, r->now, &why);
    sm_text_deinit(&why);
    return refuses;
}

sm_operator_word sm_operator_next(const sm_operator *o, const sm_rehearsal *r, sm_wall_time *at) {
    if (o->next == o->count)
        return SM_OPERATOR_OUT;
    const line *l = &o->lines[o->next];
    switch (l->kind) {
    case WHEN_WALL:
        *at = later(later((sm_wall_time){l->us}, r->now), o->last);
        return SM_OPERATOR_WAIT;
    case WHEN_AFTER:
        *at = later((sm_wall_time){o->last.us + l->us}, r->now);
        return SM_OPERATOR_WAIT;
    case WHEN_SHOW:
        return next_in_show(o, r, l->us, at);
    case WHEN_ARMED:
        *at = r->now;
        if (r->state == SM_STATE_ARMED)
            return waits_for_timecode(r) ? SM_OPERATOR_HELD : SM_OPERATOR_WAIT;
        return r->state == SM_STATE_ARMING ? SM_OPERATOR_HELD : SM_OPERATOR_NEVER;
    }
    return SM_OPERATOR_OUT;
}

uint32_t sm_operator_line(const sm_operator *o) {
    return o->next < o->count ? o->lines[o->next].number : 0;
}

sm_source sm_operator_source(const sm_operator *o) {
    assert(o->next < o->count);
    return o->lines[o->next].instructor ? SM_SOURCE_INSTRUCTOR : SM_SOURCE_SCRIPT;
}

const sm_action *sm_operator_take(sm_operator *o, sm_wall_time at) {
    assert(o->next < o->count);
    o->last = at;
    return &o->lines[o->next++].action;
}
