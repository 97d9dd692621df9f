// SPDX-License-Identifier: GPL-3.0-or-later
// Debriefs of drills, in and out.
#include "logbook/debriefs.h"

#include "logbook/query.h"

#include "slowmatch/json.h"

#include <stdio.h>
#include <string.h>

// ---- in ---------------------------------------------------------------------------------

static void put_step(sm_text *out, const char *token, uint32_t n, const sm_drill_step *step) {
    SM_ENTRY_PUT(out, SM_ENTRY_STEP, sm_value_text(token), sm_value_number(n), sm_value_number(step->at_us),
                 sm_value_text(sm_step_kind_text(step->kind)), sm_value_text(step->name),
                 sm_value_text(step->text), sm_value_us(step->within_us), sm_value_us(step->took_us),
                 sm_value_text(sm_state_text(step->state)), sm_value_number(step->key));
}

void sm_debrief_entries_put(sm_text *out, const char *token, const sm_debrief *debrief) {
    SM_ENTRY_PUT(out, SM_ENTRY_DEBRIEF, sm_value_text(token), sm_value_text(debrief->head),
                 sm_value_text(debrief->tail), sm_value_number(debrief->broken_off));
    for (uint32_t i = 0; i < debrief->step_count; i++)
        put_step(out, token, i, &debrief->steps[i]);
}

// ---- out --------------------------------------------------------------------------------

typedef struct reader {
    sm_query_reader all;
    int64_t number; // of the rehearsal
} reader;

static void read_step(sm_query_reader *r, sqlite3_stmt *s, void *row) {
    sm_drill_step step = {.at_us = sqlite3_column_int64(s, 0),
                          .name = sm_query_keep(r, s, 2),
                          .text = sm_query_keep(r, s, 3),
                          .within_us = SM_UNSET_US,
                          .took_us = SM_UNSET_US,
                          .key = sqlite3_column_int(s, 7) != 0};
    if (sqlite3_column_type(s, 4) != SQLITE_NULL)
        step.within_us = sqlite3_column_int64(s, 4);
    if (sqlite3_column_type(s, 5) != SQLITE_NULL)
        step.took_us = sqlite3_column_int64(s, 5);
    for (int kind = 0; kind < SM_STEP_KIND_COUNT; kind++)
        if (strcmp(sm_query_text(s, 1), sm_step_kind_text((sm_step_kind)kind)) == 0)
            step.kind = (sm_step_kind)kind;
    sm_state state = sm_state_named(sm_query_text(s, 6));
    step.state = state < SM_STATE_COUNT ? state : SM_STATE_SAFE;
    *(sm_drill_step *)row = step;
}

static void read_entry(sm_query_reader *r, sqlite3_stmt *s, void *row) {
    sm_drill_entry entry = {.at = {sqlite3_column_int64(s, 0)},
                            .source = sm_source_named(sm_query_text(s, 1)),
                            .seat = sm_source_seat(sm_query_keep(r, s, 1)),
                            .target = sm_query_keep(r, s, 3),
                            .detail = sm_query_keep(r, s, 4)};
    entry.kind = sm_log_kind_read(entry.source, sm_query_text(s, 2), entry.target);
    *(sm_drill_entry *)row = entry;
}

static sm_result read_steps(reader *r, const sm_drill_step **steps, uint32_t *count) {
    sm_result result = sm_query_read(&r->all,
                                     "SELECT at_us, kind, name, words, within_us, took_us, state, key FROM "
                                     "drill_step WHERE rehearsal = ?1 ORDER BY n",
                                     (sm_bind){.number = r->number}, sizeof(sm_drill_step), read_step);
    *steps = r->all.rows;
    *count = (uint32_t)r->all.count;
    return result;
}

// Without the show's own course, as a debrief has it.
static sm_result steps_of_rows(reader *r, const sm_drill_step **steps, uint32_t *count) {
    sm_result result = sm_query_read(
        &r->all,
        "SELECT wall_us - late_us, source, what, target, detail FROM row WHERE rehearsal = ?1 AND "
        "(SELECT mode = 'drill' FROM rehearsal WHERE id = ?1) AND NOT (source = 'engine' AND what "
        "IN ('fire', 'set', 'home', 'out', 'inhibited', 'passed', 'spent', 'sound')) ORDER BY n",
        (sm_bind){.number = r->number}, sizeof(sm_drill_entry), read_entry);
    return result == SM_OK
               ? sm_drill_steps_of(r->all.rows, (uint32_t)r->all.count, r->all.arena, steps, count)
               : result;
}

// The debrief without its steps. SM_NOT_FOUND.
static sm_result read_debrief(reader *r, sm_debrief *out) {
    const sm_bind bind = {.number = r->number};
    sqlite3_stmt *statement = sm_query_prepare(
        r->all.store, "SELECT head, tail, broken_off FROM debrief WHERE rehearsal = ?1", &bind, 1);
    if (!statement)
        return SM_UNREADABLE;
    sm_result result;
    bool there = sm_store_step(r->all.store, statement, &result);
    if (there)
        *out = (sm_debrief){.head = sm_query_keep(&r->all, statement, 0),
                            .tail = sm_query_keep(&r->all, statement, 1),
                            .broken_off = sqlite3_column_int(statement, 2) != 0};
    sqlite3_finalize(statement);
    if (result != SM_OK || there)
        return r->all.no_memory ? SM_NO_MEMORY : result;
    snprintf(r->all.store->why, sizeof r->all.store->why,
             "rehearsal %lld has no debrief: it was no drill, or its debrief was not kept; `logbook replay "
             "%lld` shows what its rows tell",
             (long long)r->number, (long long)r->number);
    return SM_NOT_FOUND;
}

static void print_steps(const sm_drill_step *steps, uint32_t count, size_t columns, bool json, sm_text *out) {
    if (!json)
        sm_drill_steps_text(steps, count, columns, out);
    for (uint32_t i = 0; json && i < count; i++)
        sm_drill_step_json(&steps[i], out);
}

static sm_result end(reader *r, const sm_text *out, sm_result result) {
    sm_arena_destroy(r->all.arena);
    if (result == SM_NO_MEMORY)
        snprintf(r->all.store->why, sizeof r->all.store->why, "memory ran out");
    return sm_query_done(r->all.store, out, result);
}

sm_result sm_logbook_debrief(sm_logbook *logbook, int64_t number, size_t columns, bool json, sm_text *out) {
    reader r = {.all = {.store = &logbook->store, .arena = sm_arena_create()}, .number = number};
    sm_debrief debrief = {0};
    sm_result result = r.all.arena ? sm_query_has(r.all.store, number) : SM_NO_MEMORY;
    if (result == SM_OK)
        result = read_debrief(&r, &debrief);
    if (result == SM_OK)
        result = read_steps(&r, &debrief.steps, &debrief.step_count);
    if (result == SM_OK && json) {
        sm_json line = sm_json_line_open(out);
        sm_json_integer(&line, "number", number);
        sm_json_text(&line, "head", debrief.head);
        sm_json_text(&line, "tail", debrief.tail);
        sm_json_bool(&line, "broken_off", debrief.broken_off);
        sm_json_line_close(&line);
        print_steps(debrief.steps, debrief.step_count, columns, true, out);
    } else if (result == SM_OK) {
        sm_debrief_text(&debrief, columns, out);
    }
    return end(&r, out, result);
}

sm_result sm_logbook_steps(sm_logbook *logbook, int64_t number, size_t columns, bool json, sm_text *out) {
    reader r = {.all = {.store = &logbook->store, .arena = sm_arena_create()}, .number = number};
    const sm_drill_step *steps = NULL;
    uint32_t count = 0;
    sm_result result = r.all.arena ? sm_query_has(r.all.store, number) : SM_NO_MEMORY;
    if (result == SM_OK)
        result = read_steps(&r, &steps, &count);
    if (result == SM_OK && count == 0)
        result = steps_of_rows(&r, &steps, &count);
    if (result == SM_OK && count > 0)
        print_steps(steps, count, columns, json, out);
    return end(&r, out, result);
}
