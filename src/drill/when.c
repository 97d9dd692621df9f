// SPDX-License-Identifier: GPL-3.0-or-later
// The values of a drill's file that have a form of their own: when, action, states, needs.
#include "drill/read.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

static bool is_blank(char c) {
    return c == ' ' || c == '\t';
}

drill_value drill_part(const drill_value *value, size_t begin, size_t end) {
    while (begin < end && is_blank(value->text[begin]))
        begin++;
    while (end > begin && is_blank(value->text[end - 1]))
        end--;
    return (drill_value){value->text + begin, end - begin, value->entry};
}

void drill_wrong(drill_reader *reader, const drill_value *value, size_t byte, const char *rule,
                 const char *format, ...) {
    sm_text message = {0};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&message, format, args);
    va_end(args);
    const char *whole = value->entry->value;
    uint32_t column =
        value->entry->value_column + (uint32_t)sm_utf8_count(whole, (size_t)(value->text - whole) + byte);
    sm_findings_add(reader->findings, reader->file, value->entry->line, column, SM_ERROR, rule, "%s",
                    sm_text_get(&message));
    sm_text_deinit(&message);
}

static bool is(const drill_value *value, const char *word) {
    return strlen(word) == value->length && memcmp(word, value->text, value->length) == 0;
}

#define SHOWN(value) (int)((value)->length > 40 ? 40 : (value)->length), (value)->text

bool drill_is_known(const drill_value *value, size_t count, const char *(*name_of)(size_t i)) {
    size_t word = 0;
    while (word < value->length && !is_blank(value->text[word]))
        word++;
    for (size_t i = 0; i < count; i++)
        if (strcspn(name_of(i), " ") == word && strncmp(name_of(i), value->text, word) == 0)
            return true;
    return word == 0;
}

void drill_put_known(sm_text *out, size_t count, const char *(*name_of)(size_t i)) {
    for (size_t i = 0; i < count; i++)
        sm_text_printf(out, "%s%s", i == 0 ? "; there are " : i + 1 < count ? ", " : " and ", name_of(i));
}

static const char *action_name(size_t i) {
    return sm_action_row_of((sm_act)i)->name;
}

// What is wrong with an action, with all that there are where it is none.
static void action_wrong(drill_reader *reader, const drill_value *value, size_t at, const char *why) {
    sm_text known = {0};
    bool remote = value->length > 7 && memcmp(value->text, "remote ", 7) == 0;
    if (!remote && !drill_is_known(value, SM_ACT_COUNT, action_name))
        drill_put_known(&known, SM_ACT_COUNT, action_name);
    drill_wrong(reader, value, at, "drill-action", "%s%s", why, sm_text_get(&known));
    sm_text_deinit(&known);
}

bool drill_read_action(drill_reader *reader, const drill_value *value, sm_action *out) {
    char why[200];
    size_t at = 0;
    if (sm_action_read_partly(reader->show, value->text, value->length, out, why, &at) == SM_OK)
        return true;
    action_wrong(reader, value, at, why);
    return false;
}

bool drill_read_whole_action(drill_reader *reader, const drill_value *value, sm_action *out) {
    char why[200];
    size_t at = 0;
    if (sm_action_read(reader->show, value->text, value->length, out, why, &at) != SM_OK) {
        action_wrong(reader, value, at, why);
        return false;
    }
    return true;
}

static bool find_state(const drill_value *value, sm_state *out) {
    for (int state = 0; state < SM_STATE_COUNT; state++)
        if (is(value, sm_state_text((sm_state)state))) {
            *out = (sm_state)state;
            return true;
        }
    return false;
}

// ---- lists --------------------------------------------------------------------------------------

// The next item of a list with commas between, from *at on. False at its end.
static bool next_item(const drill_value *list, size_t *at, drill_value *out) {
    if (*at > list->length)
        return false;
    size_t end = *at;
    while (end < list->length && list->text[end] != ',')
        end++;
    *out = drill_part(list, *at, end);
    *at = end + 1;
    return true;
}

bool drill_read_states(drill_reader *reader, const drill_value *value, uint8_t *out) {
    size_t at = 0;
    drill_value item;
    uint8_t states = 0;
    while (next_item(value, &at, &item)) {
        sm_state state;
        if (!find_state(&item, &state)) {
            drill_wrong(reader, &item, 0, "drill-state",
                        "\"%.*s\" is no state; there are safe, arming, armed, running, paused and ended",
                        SHOWN(&item));
            return false;
        }
        states |= (uint8_t)(1u << state);
    }
    *out = states;
    return true;
}

bool drill_read_needs(drill_reader *reader, const drill_value *value, sm_drill_before *out) {
    uint32_t count = 1;
    for (size_t i = 0; i < value->length; i++)
        count += value->text[i] == ',';
    sm_action *needs = sm_arena_alloc(reader->drill->arena, count * sizeof *needs);
    if (!needs) {
        reader->no_memory = true;
        return false;
    }
    size_t at = 0;
    drill_value item;
    bool good = true;
    for (uint32_t i = 0; next_item(value, &at, &item); i++)
        good = drill_read_action(reader, &item, &needs[i]) && good;
    out->needs = needs;
    out->need_count = good ? count : 0;
    return good;
}

bool drill_read_names(drill_reader *reader, const drill_value *value, sm_drill *drill) {
    uint32_t count = 1;
    for (size_t i = 0; i < value->length; i++)
        count += value->text[i] == ',';
    const char **names = sm_arena_alloc(drill->arena, count * sizeof *names);
    size_t at = 0;
    drill_value item;
    for (uint32_t i = 0; names && next_item(value, &at, &item); i++) {
        names[i] = sm_arena_text(drill->arena, item.text, item.length);
        reader->no_memory = reader->no_memory || !names[i];
        if (item.length == 0)
            drill_wrong(reader, &item, 0, "value", "a name is missing between two commas");
    }
    reader->no_memory = reader->no_memory || !names;
    drill->answers = names;
    drill->answer_count = names ? count : 0;
    return !reader->no_memory;
}

// ---- when ------------------------------------------------------------------------------------------

static bool read_span(drill_reader *reader, const drill_value *value, sm_us *out) {
    if (sm_span_read(value->text, value->length, SM_US_PER_S, out) == SM_OK && *out <= 3600 * SM_US_PER_S)
        return true;
    drill_wrong(reader, value, 0, "drill-when", "\"%.*s\" is no time up to an hour; write 5 s or 5 s..20 s",
                SHOWN(value));
    return false;
}

static bool read_delay(drill_reader *reader, const drill_value *value, sm_drill_when *out) {
    size_t dots = 0;
    while (dots + 1 < value->length && (value->text[dots] != '.' || value->text[dots + 1] != '.'))
        dots++;
    bool window = dots + 1 < value->length;
    drill_value least = drill_part(value, 0, window ? dots : value->length);
    if (!read_span(reader, &least, &out->least_us))
        return false;
    out->most_us = out->least_us;
    if (!window)
        return true;
    drill_value most = drill_part(value, dots + 2, value->length);
    if (!read_span(reader, &most, &out->most_us))
        return false;
    if (out->most_us < out->least_us)
        drill_wrong(reader, &most, 0, "drill-when", "the window ends before it begins");
    return out->most_us >= out->least_us;
}

static bool read_moment(drill_reader *reader, const drill_value *value, sm_drill_when *out) {
    drill_value moment = drill_part(value, 1, value->length);
    out->on = SM_ON_MOMENT;
    if (sm_moment_read(moment.text, moment.length, &reader->show->settings.timecode, &out->moment.us) !=
        SM_OK) {
        drill_wrong(reader, &moment, 0, "drill-when", "\"%.*s\" is no moment; write @0:20.000",
                    SHOWN(&moment));
        return false;
    }
    if (out->moment.us <= reader->show->length_us)
        return true;
    drill_wrong(reader, &moment, 0, "drill-when", "%.*s lies past the end of the show", SHOWN(&moment));
    return false;
}

typedef struct names {
    const drill_reader *reader;
} names;

static const char *name_at(const void *context, size_t index) {
    const drill_reader *reader = ((const names *)context)->reader;
    if (index < SM_STATE_COUNT)
        return sm_state_text((sm_state)index);
    if (index == SM_STATE_COUNT)
        return "begin";
    const section *s = &reader->sections[index - SM_STATE_COUNT - 1];
    return s->kind == SECTION_EVENT || s->kind == SECTION_EXPECT ? s->name : "";
}

const section *drill_find_section(const drill_reader *reader, section_kind kind, const char *name) {
    for (uint32_t i = 0; i < reader->section_count; i++)
        if (reader->sections[i].kind == kind && strcmp(reader->sections[i].name, name) == 0)
            return &reader->sections[i];
    return NULL;
}

static bool read_name(drill_reader *reader, const drill_value *value, sm_drill_when *out) {
    char name[64];
    snprintf(name, sizeof name, "%.*s", (int)(value->length > 63 ? 63 : value->length), value->text);
    const section *found = drill_find_section(reader, SECTION_EVENT, name);
    out->on = SM_ON_EVENT;
    if (!found) {
        found = drill_find_section(reader, SECTION_EXPECT, name);
        out->on = SM_ON_EXPECT;
    }
    if (found) {
        out->index = found->row;
        return true;
    }
    const names context = {reader};
    const char *near = sm_nearest_name(name, SM_STATE_COUNT + 1 + reader->section_count, name_at, &context);
    drill_wrong(reader, value, 0, "drill-when", "no state, event or expectation is called \"%s\"%s%s%s", name,
                near ? "; did you mean " : "", near ? near : "", near ? "?" : "");
    return false;
}

static bool read_base(drill_reader *reader, const drill_value *value, sm_drill_when *out) {
    if (value->length == 0) {
        drill_wrong(reader, value, 0, "drill-when",
                    "a moment is missing; write begin, @0:20.000, action NAME, a "
                    "state, an event or an expectation");
        return false;
    }
    if (is(value, "begin")) {
        out->on = SM_ON_BEGIN;
        return true;
    }
    if (value->text[0] == '@')
        return read_moment(reader, value, out);
    if (value->length > 7 && memcmp(value->text, "action ", 7) == 0) {
        drill_value action = drill_part(value, 7, value->length);
        out->on = SM_ON_ACTION;
        return drill_read_action(reader, &action, &out->action);
    }
    if (find_state(value, &out->state)) {
        out->on = SM_ON_STATE;
        return true;
    }
    return read_name(reader, value, out);
}

bool drill_read_when(drill_reader *reader, const drill_value *value, sm_drill_when *out) {
    size_t plus = value->length;
    for (size_t i = 1; i < value->length; i++)
        if (value->text[i] == '+' && is_blank(value->text[i - 1]))
            plus = i;
    drill_value base = drill_part(value, 0, plus);
    bool good = read_base(reader, &base, out);
    if (plus == value->length)
        return good;
    drill_value delay = drill_part(value, plus + 1, value->length);
    return read_delay(reader, &delay, out) && good;
}

// ---- rings ------------------------------------------------------------------------------------------

// What comes before a step of a chain of events and expectations. False at its beginning.
static bool step_back(const sm_drill *drill, sm_drill_on *on, uint32_t *index) {
    const sm_drill_when *when =
        *on == SM_ON_EVENT ? &drill->events[*index].when : &drill->expects[*index].after;
    if (when->on != SM_ON_EVENT && when->on != SM_ON_EXPECT)
        return false;
    *on = when->on;
    *index = when->index;
    return true;
}

void drill_refuse_rings(drill_reader *reader) {
    const sm_drill *drill = reader->drill;
    for (uint32_t i = 0; i < reader->section_count; i++) {
        const section *s = &reader->sections[i];
        if (s->kind != SECTION_EVENT && s->kind != SECTION_EXPECT)
            continue;
        sm_drill_on on = s->kind == SECTION_EVENT ? SM_ON_EVENT : SM_ON_EXPECT;
        const sm_drill_on own = on;
        uint32_t index = s->row, steps = 0;
        while (steps <= reader->section_count && step_back(drill, &on, &index) &&
               !(on == own && index == s->row))
            steps++;
        if (on == own && index == s->row && step_back(drill, &(sm_drill_on){own}, &(uint32_t){s->row}))
            sm_findings_add(reader->findings, reader->file, s->line, 2, SM_ERROR, "drill-ring",
                            "%s waits for itself, by way of what it waits for; it never comes", s->name);
    }
}

// ---- seats ------------------------------------------------------------------------------------------

static sm_drill_for seat_of(const sm_drill *drill, sm_drill_on on, uint32_t index) {
    assert((on == SM_ON_EVENT && drill->events) || (on == SM_ON_EXPECT && drill->expects));
    return on == SM_ON_EVENT ? drill->events[index].seat : drill->expects[index].seat;
}

void drill_refuse_absent(drill_reader *reader) {
    const sm_drill *drill = reader->drill;
    for (uint32_t i = 0; i < reader->section_count; i++) {
        const section *s = &reader->sections[i];
        const sm_drill_when *when = s->kind == SECTION_EVENT    ? &drill->events[s->row].when
                                    : s->kind == SECTION_EXPECT ? &drill->expects[s->row].after
                                    : s->kind == SECTION_SPOKEN ? &drill->spokens[s->row].after
                                    : s->kind == SECTION_LEAD   ? &drill->leads[s->row].after
                                                                : NULL;
        if (!when || (when->on != SM_ON_EVENT && when->on != SM_ON_EXPECT))
            continue;
        sm_drill_for own = s->kind == SECTION_EVENT    ? drill->events[s->row].seat
                           : s->kind == SECTION_EXPECT ? drill->expects[s->row].seat
                           : s->kind == SECTION_SPOKEN ? drill->spokens[s->row].seat
                                                       : SM_FOR_SPOTTER;
        sm_drill_for awaited = seat_of(drill, when->on, when->index);
        if (awaited == SM_FOR_BOTH || awaited == own)
            continue;
        const char *name =
            when->on == SM_ON_EVENT ? drill->events[when->index].name : drill->expects[when->index].name;
        sm_findings_add(reader->findings, reader->file, s->line, 2, SM_ERROR, "drill-seat",
                        "%s waits for %s, which is only in the %s's seat; give both the same seat", s->name,
                        name, sm_drill_seat_text((sm_drill_seat)awaited));
    }
}
