// SPDX-License-Identifier: GPL-3.0-or-later
#include "logbook/entry.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>
#include <sys/random.h>
#include <time.h>
#include <unistd.h>

// A rehearsal's row number, by its token. Where there is none, NOT NULL fails the insert.
#define REHEARSAL "(SELECT id FROM rehearsal WHERE token = ?1)"
#define ONCE " ON CONFLICT DO NOTHING"

typedef struct entry_row {
    size_t values;
    const char *insert;
} entry_row;

static const entry_row kinds[] = {
    [SM_ENTRY_FILE] = {3, "INSERT INTO file(hash, size, bytes) VALUES (?1, ?2, ?3)" ONCE},
    [SM_ENTRY_LOAD] = {4, "INSERT INTO load(hash, title, content, length_us) VALUES (?1, ?2, ?3, ?4)" ONCE},
    [SM_ENTRY_MEMBER] =
        {3,
         "INSERT INTO member(load, name, file) VALUES ((SELECT id FROM load WHERE hash = ?1), ?2, ?3)" ONCE},
    [SM_ENTRY_READING] = {8, "INSERT INTO reading(title, slot, value, ohms, taken, taken_us, person, origin) "
                             "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)" ONCE},
    [SM_ENTRY_REHEARSAL] =
        {5, "INSERT INTO rehearsal(token, load, began_us, mode, flags) VALUES (?1, (SELECT id "
            "FROM load WHERE hash = ?2), ?3, ?4, ?5)" ONCE},
    [SM_ENTRY_ROW] = {10,
                      "INSERT INTO row(rehearsal, n, wall_us, show_us, source, what, cue, target, detail, "
                      "late_us) VALUES (" REHEARSAL ", ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)" ONCE},
    [SM_ENTRY_INPUT] = {8, "INSERT INTO input(rehearsal, n, kind, at_us, source, line, detail, load) VALUES "
                           "(" REHEARSAL
                           ", ?2, ?3, ?4, ?5, ?6, ?7, (SELECT id FROM load WHERE hash = ?8))" ONCE},
    [SM_ENTRY_END] = {2, "UPDATE rehearsal SET ended_us = ?2 WHERE token = ?1"},
    [SM_ENTRY_TICK] = {10,
                       "INSERT INTO walk_tick(token, n, title, item, answer, value, note, person, given_us, "
                       "hash) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)" ONCE},
    [SM_ENTRY_UNTICK] = {2, "INSERT INTO walk_untick(token, n) VALUES (?1, ?2)" ONCE},
    [SM_ENTRY_SIGN] =
        {7, "INSERT INTO walk_sign(token, n, title, who, signed_us, content, items) VALUES (?1, ?2, "
            "?3, ?4, ?5, ?6, ?7)" ONCE},
    [SM_ENTRY_VOID] = {4, "INSERT INTO walk_void(title, who, signed_us, why) VALUES (?1, ?2, ?3, ?4)" ONCE},
    [SM_ENTRY_CHANGE] =
        {5, "INSERT INTO walk_change(token, n, title, what, happened_us) VALUES (?1, ?2, ?3, ?4, "
            "?5)" ONCE},
    [SM_ENTRY_DEBRIEF] = {4, "INSERT INTO debrief(rehearsal, head, tail, broken_off) VALUES (" REHEARSAL
                             ", ?2, ?3, ?4)" ONCE},
    [SM_ENTRY_STEP] = {10,
                       "INSERT INTO drill_step(rehearsal, n, at_us, kind, name, words, within_us, took_us, "
                       "state, key) VALUES (" REHEARSAL ", ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)" ONCE},
    [SM_ENTRY_DRILL] = {10,
                        "INSERT INTO drill(token, person, drill, title, taken_us, score, passed, with_hints, "
                        "marks, seat) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)" ONCE},
    [SM_ENTRY_ATTEMPT] =
        {10, "INSERT INTO attempt(token, title, person, drill, seat, began_us, pass, again_days, file, "
             "taken_by) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)" ONCE},
    [SM_ENTRY_MARK] =
        {11, "INSERT INTO attempt_mark(token, n, kind, name, marks, got, computed, decided, took_us, "
             "within_us, reason) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)" ONCE},
    [SM_ENTRY_SCORE] =
        {6, "INSERT INTO attempt_score(token, n, how, score, passed, with_hints) VALUES (?1, ?2, ?3, "
            "?4, ?5, ?6)" ONCE},
};
static_assert(sizeof kinds / sizeof kinds[0] == SM_ENTRY_KINDS, "a statement a kind");

size_t sm_entry_values(sm_entry_kind kind) {
    return kinds[kind].values;
}

const char *sm_entry_insert(sm_entry_kind kind) {
    return kinds[kind].insert;
}

// ---- values ------------------------------------------------------------------------------

sm_value sm_value_bytes(const char *bytes, size_t length) {
    return (sm_value){SM_VALUE_BYTES, (int64_t)length, bytes};
}

sm_value sm_value_text(const char *text) {
    return (sm_value){SM_VALUE_TEXT, (int64_t)strlen(text), text};
}

sm_value sm_value_number(int64_t number) {
    return (sm_value){SM_VALUE_NUMBER, number, NULL};
}

sm_value sm_value_us(int64_t us) {
    return us == SM_UNSET_US ? (sm_value){SM_VALUE_NOTHING, 0, NULL} : sm_value_number(us);
}

// ---- entries -----------------------------------------------------------------------------

// Its kind, then of each value the kind, the number and the bytes.
void sm_entry_put(sm_text *out, sm_entry_kind kind, const sm_value *values, size_t count) {
    char letter = (char)kind;
    assert(count == kinds[kind].values);
    sm_text_append(out, &letter, 1);
    for (size_t i = 0; i < count; i++) {
        letter = (char)values[i].kind;
        sm_text_append(out, &letter, 1);
        sm_text_append(out, (const char *)&values[i].number, sizeof values[i].number);
        if (values[i].bytes)
            sm_text_append(out, values[i].bytes, (size_t)values[i].number);
    }
}

bool sm_entry_next(const char **at, const char *end, sm_entry *out) {
    const char *p = *at;
    if (p >= end)
        return false;
    out->kind = (sm_entry_kind)*p++;
    for (size_t i = 0; i < kinds[out->kind].values; i++) {
        sm_value *value = &out->values[i];
        value->kind = (sm_value_kind)*p++;
        memcpy(&value->number, p, sizeof value->number);
        p += sizeof value->number;
        bool has_bytes = value->kind == SM_VALUE_TEXT || value->kind == SM_VALUE_BYTES;
        value->bytes = has_bytes ? p : NULL;
        p += has_bytes ? value->number : 0;
    }
    *at = p;
    return true;
}

void sm_token_make(char token[33]) {
    uint64_t words[2];
    if (getrandom(words, sizeof words, GRND_NONBLOCK) != (ssize_t)sizeof words) {
        struct timespec now;
        clock_gettime(CLOCK_REALTIME, &now);
        words[0] = (uint64_t)now.tv_sec * UINT64_C(1000000000) + (uint64_t)now.tv_nsec;
        words[1] = (uint64_t)getpid();
    }
    snprintf(token, 33, "%016llx%016llx", (unsigned long long)words[0], (unsigned long long)words[1]);
}
