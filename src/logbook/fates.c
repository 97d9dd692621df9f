// SPDX-License-Identifier: GPL-3.0-or-later
// What became of each slot in a rehearsal, and what was last read at each: for paper.
#include "logbook/query.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

static const char *const fate_words[] = {
    [SM_FATE_NOT_FIRED] = "not fired", [SM_FATE_FIRED] = "fired",    [SM_FATE_MISFIRED] = "misfired",
    [SM_FATE_PASSED] = "passed over",  [SM_FATE_HELD] = "held back",
};
static_assert(sizeof fate_words / sizeof fate_words[0] == SM_FATE_COUNT, "a word for each fate");

const char *sm_fate_text(sm_fate fate) {
    return fate_words[fate];
}

// What a slot is after a row that tells of it. A spent slot that is due again stays what it was.
static const sm_fate fates_told[SM_LOG_COUNT] = {
    [SM_LOG_FIRE] = SM_FATE_FIRED,
    [SM_LOG_MISFIRE] = SM_FATE_MISFIRED,
    [SM_LOG_PASSED] = SM_FATE_PASSED,
    [SM_LOG_INHIBITED] = SM_FATE_HELD,
};
static_assert(SM_FATE_NOT_FIRED == 0, "rows that fates_told leaves out tell of none");

typedef struct log_row {
    sm_log_kind kind;
    const char *target, *detail;
} log_row;

static void read_row(sm_query_reader *r, sqlite3_stmt *s, void *row) {
    const sm_log_kind kind = sm_log_kind_read(SM_SOURCE_ENGINE, sm_query_text(s, 0), sm_query_text(s, 1));
    *(log_row *)row = (log_row){kind, sm_query_keep(r, s, 1), sm_query_keep(r, s, 2)};
}

static sm_logbook_slot *slot_named(sm_logbook_fates *out, const char *name) {
    for (size_t i = 0; i < out->slot_count; i++)
        if (strcmp(out->slots[i].slot, name) == 0)
            return &out->slots[i];
    return NULL;
}

static void take_row(sm_logbook_fates *out, const log_row *row) {
    sm_logbook_slot *slot = slot_named(out, row->target);
    const sm_fate fate = fates_told[row->kind.what];
    if (sm_log_is_act(row->kind, SM_ACT_RERIG))
        out->slot_count = 0;
    if (sm_log_is_act(row->kind, SM_ACT_REPORT) && slot)
        slot->is_reported = true;
    if (fate == SM_FATE_NOT_FIRED)
        return;
    slot = slot ? slot : &out->slots[out->slot_count++];
    *slot = (sm_logbook_slot){row->target, fate, row->detail, false};
}

// The newest of the show called TITLE, or NUMBER where that is above 0; when it began.
static sm_result find_rehearsal(sm_logbook *logbook, const char *title, int64_t number,
                                sm_logbook_fates *out) {
    const sm_bind binds[] = {{.text = title}, {.number = number}};
    sqlite3_stmt *statement = sm_query_prepare(&logbook->store,
                                               "SELECT rehearsal.id, began_us FROM rehearsal JOIN load ON "
                                               "load.id = rehearsal.load WHERE title = ?1 AND "
                                               "(?2 = 0 OR rehearsal.id = ?2) ORDER BY rehearsal.id",
                                               binds, sizeof binds / sizeof binds[0]);
    sm_result result;
    if (!statement)
        return SM_UNREADABLE;
    while (sm_store_step(&logbook->store, statement, &result)) {
        out->number = sqlite3_column_int64(statement, 0);
        out->began_us = sqlite3_column_int64(statement, 1);
    }
    sqlite3_finalize(statement);
    if (result == SM_OK && out->number == 0) {
        snprintf(logbook->store.why, sizeof logbook->store.why,
                 number > 0 ? "rehearsal %lld is none of this show" : "no rehearsal of this show is kept",
                 (long long)number);
        return SM_NOT_FOUND;
    }
    return result;
}

static void read_reading(sm_query_reader *r, sqlite3_stmt *s, void *row) {
    *(sm_logbook_reading *)row = (sm_logbook_reading){sm_query_keep(r, s, 0), sm_query_keep(r, s, 1),
                                                      sm_query_keep(r, s, 2), sm_query_keep(r, s, 3)};
}

sm_result sm_logbook_fates_of(sm_logbook *logbook, const char *title, int64_t number, sm_arena *arena,
                              sm_logbook_fates *out) {
    sm_logbook_fates found = {0};
    sm_query_reader r = {.store = &logbook->store, .arena = arena};
    sm_result result = find_rehearsal(logbook, title, number, &found);
    if (result == SM_OK)
        result = sm_query_read(
            &r,
            "SELECT what, target, detail FROM row WHERE rehearsal = ?1 AND what IN ('fire', 'misfire', "
            "'passed', 'inhibited', 'report', 'rerig') ORDER BY n",
            (sm_bind){.number = found.number}, sizeof(log_row), read_row);
    if (result != SM_OK)
        return result;
    const log_row *rows = r.rows;
    const size_t count = r.count;
    found.slots = sm_arena_alloc(arena, count * sizeof *found.slots);
    if (!found.slots)
        return SM_NO_MEMORY;
    for (size_t i = 0; i < count; i++)
        take_row(&found, &rows[i]);
    result = sm_query_read(
        &r, "SELECT slot, value, taken, person FROM reading WHERE title = ?1 ORDER BY taken_us, id",
        (sm_bind){.text = title}, sizeof(sm_logbook_reading), read_reading);
    if (result != SM_OK)
        return result;
    found.readings = r.rows;
    found.reading_count = r.count;
    *out = found;
    return SM_OK;
}
