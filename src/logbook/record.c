// SPDX-License-Identifier: GPL-3.0-or-later
#include "logbook/record.h"

#include <stdio.h>
#include <string.h>
#include <sys/random.h>
#include <time.h>
#include <unistd.h>

// A rehearsal's row number, by its token. Where there is none, NOT NULL fails the insert.
#define REHEARSAL "(SELECT id FROM rehearsal WHERE token = ?1)"
#define CHOSEN "IN (SELECT id FROM chosen)"
#define LOADS                                                                                                \
    "(SELECT load FROM rehearsal WHERE id " CHOSEN " UNION SELECT load FROM input WHERE rehearsal " CHOSEN   \
    " AND load IS NOT NULL)"
#define TITLES "(SELECT title FROM load WHERE id IN " LOADS ")"

static const sm_record_row kinds[SM_RECORD_KINDS] = {
    [SM_RECORD_FILE] =
        {'F', 3, "INSERT INTO file(hash, size, bytes) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
         "SELECT hash, size, bytes FROM file WHERE hash IN (SELECT file FROM member WHERE load "
         "IN " LOADS ")"},
    [SM_RECORD_LOAD] =
        {'L', 4,
         "INSERT INTO load(hash, title, content, length_us) VALUES (?1, ?2, ?3, ?4) ON CONFLICT "
         "DO NOTHING",
         "SELECT hash, title, content, length_us FROM load WHERE id IN " LOADS},
    [SM_RECORD_MEMBER] =
        {'M', 3,
         "INSERT INTO member(load, name, file) VALUES ((SELECT id FROM load WHERE hash = ?1), "
         "?2, ?3) ON CONFLICT DO NOTHING",
         "SELECT l.hash, m.name, m.file FROM member m JOIN load l ON l.id = m.load WHERE l.id "
         "IN " LOADS},
    [SM_RECORD_READING] =
        {'g', 8,
         "INSERT INTO reading(title, slot, value, ohms, taken, taken_us, person, origin) "
         "VALUES (?1, ?2, ?3, NULLIF(?4, ''), ?5, NULLIF(?6, ''), ?7, ?8) ON CONFLICT DO NOTHING",
         "SELECT title, slot, value, ohms, taken, taken_us, person, origin FROM reading WHERE "
         "title IN " TITLES " ORDER BY id"},
    [SM_RECORD_REHEARSAL] =
        {'R', 5,
         "INSERT INTO rehearsal(token, load, began_us, mode, flags) VALUES (?1, (SELECT id "
         "FROM load WHERE hash = ?2), ?3, ?4, ?5) ON CONFLICT DO NOTHING",
         "SELECT r.token, l.hash, r.began_us, r.mode, r.flags FROM rehearsal r JOIN load l "
         "ON l.id = r.load WHERE r.id " CHOSEN " ORDER BY r.id"},
    [SM_RECORD_ROW] =
        {'r', 10,
         "INSERT INTO row(rehearsal, n, wall_us, show_us, source, what, cue, target, detail, "
         "late_us) VALUES (" REHEARSAL ", ?2, ?3, NULLIF(?4, ''), ?5, ?6, ?7, ?8, ?9, ?10) ON "
         "CONFLICT DO NOTHING",
         "SELECT r.token, w.n, w.wall_us, show_us, source, what, cue, target, detail, w.late_us FROM "
         "row w JOIN rehearsal r ON r.id = w.rehearsal WHERE r.id " CHOSEN " ORDER BY r.id, n"},
    [SM_RECORD_INPUT] =
        {'i', 8,
         "INSERT INTO input(rehearsal, n, kind, at_us, source, line, detail, load) VALUES "
         "(" REHEARSAL ", ?2, ?3, ?4, ?5, ?6, ?7, (SELECT id FROM load WHERE hash = ?8)) ON "
         "CONFLICT DO NOTHING",
         "SELECT r.token, i.n, i.kind, i.at_us, i.source, i.line, i.detail, l.hash FROM input i "
         "JOIN rehearsal r ON r.id = i.rehearsal LEFT JOIN load l ON l.id = i.load WHERE r.id " CHOSEN
         " ORDER BY r.id, i.n"},
    [SM_RECORD_END] = {'E', 2, "UPDATE rehearsal SET ended_us = ?2 WHERE token = ?1",
                       "SELECT token, ended_us FROM rehearsal WHERE ended_us IS NOT NULL AND id " CHOSEN},
    [SM_RECORD_TICK] = {'t', 10,
                        "INSERT INTO walk_tick(token, n, title, item, answer, value, note, person, given_us, "
                        "hash) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, NULLIF(?9, ''), ?10) ON CONFLICT DO "
                        "NOTHING",
                        "SELECT token, n, title, item, answer, value, note, person, given_us, hash FROM "
                        "walk_tick WHERE title IN " TITLES " ORDER BY id"},
    [SM_RECORD_UNTICK] = {'u', 2, "DELETE FROM walk_tick WHERE token = ?1 AND n = ?2", NULL},
    [SM_RECORD_SIGN] =
        {'s', 7,
         "INSERT INTO walk_sign(token, n, title, who, signed_us, content, items) VALUES (?1, ?2, "
         "?3, ?4, ?5, ?6, ?7) ON CONFLICT DO NOTHING",
         "SELECT token, n, title, who, signed_us, content, items FROM walk_sign WHERE title IN " TITLES
         " ORDER BY id"},
    [SM_RECORD_CHANGE] =
        {'c', 5,
         "INSERT INTO walk_change(token, n, title, what, happened_us) VALUES (?1, ?2, ?3, ?4, "
         "?5) ON CONFLICT DO NOTHING",
         "SELECT token, n, title, what, happened_us FROM walk_change WHERE title IN " TITLES " ORDER BY id"},
    [SM_RECORD_DEBRIEF] =
        {'b', 4,
         "INSERT INTO debrief(rehearsal, head, tail, broken_off) VALUES (" REHEARSAL ", ?2, ?3, ?4) ON "
         "CONFLICT DO NOTHING",
         "SELECT r.token, head, tail, broken_off FROM debrief d JOIN rehearsal r ON r.id = d.rehearsal "
         "WHERE r.id " CHOSEN " ORDER BY r.id"},
    [SM_RECORD_STEP] =
        {'p', 10,
         "INSERT INTO drill_step(rehearsal, n, at_us, kind, name, words, within_us, took_us, state, key) "
         "VALUES (" REHEARSAL ", ?2, ?3, ?4, ?5, ?6, NULLIF(?7, ''), NULLIF(?8, ''), ?9, ?10) ON CONFLICT "
         "DO NOTHING",
         "SELECT r.token, n, at_us, kind, name, words, within_us, took_us, d.state, key FROM drill_step d "
         "JOIN rehearsal r ON r.id = d.rehearsal WHERE r.id " CHOSEN " ORDER BY r.id, n"},
    [SM_RECORD_OLD_DRILL] =
        {'d', 9,
         "INSERT INTO drill(token, person, drill, title, taken_us, score, passed, with_hints, "
         "marks) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9) ON CONFLICT DO NOTHING",
         NULL},
    [SM_RECORD_DRILL] =
        {'D', 10,
         "INSERT INTO drill(token, person, drill, title, taken_us, score, passed, with_hints, "
         "marks, seat) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10) ON CONFLICT DO NOTHING",
         "SELECT token, person, drill, title, taken_us, score, passed, with_hints, marks, seat FROM "
         "drill WHERE title IN " TITLES " ORDER BY id"},
};

const sm_record_row *sm_record_row_of(sm_record_kind kind) {
    return &kinds[kind];
}

sm_field sm_field_text(const char *text) {
    return (sm_field){text, strlen(text)};
}

sm_field sm_field_integer(char buffer[24], int64_t value) {
    int length = snprintf(buffer, 24, "%lld", (long long)value);
    return (sm_field){buffer, (size_t)length};
}

sm_field sm_field_us(char buffer[24], int64_t us) {
    return us == SM_UNSET_US ? (sm_field){"", 0} : sm_field_integer(buffer, us);
}

bool sm_record_put(sm_text *out, const sm_record *record) {
    size_t before = out->length;
    bool failed = out->failed;
    sm_text_printf(out, "%c%zu\n", kinds[record->kind].letter, record->count);
    for (size_t i = 0; i < record->count; i++) {
        sm_text_printf(out, "%zu:", record->fields[i].length);
        sm_text_append(out, record->fields[i].bytes, record->fields[i].length);
        sm_text_append(out, "\n", 1);
    }
    if (!out->failed || failed)
        return !out->failed;
    out->length = before;
    if (out->bytes)
        out->bytes[before] = '\0';
    out->failed = false;
    return false;
}

// Digits up to STOP; *at behind it. False where there are none, too many, or none such.
static bool read_count(const char **at, const char *end, char stop, size_t *out) {
    size_t value = 0;
    const char *begin = *at;
    for (; *at < end && **at >= '0' && **at <= '9' && *at - begin < 12; (*at)++)
        value = value * 10 + (size_t)(**at - '0');
    bool whole = *at > begin && *at < end && **at == stop;
    *out = value;
    (*at)++;
    return whole;
}

bool sm_record_next(const char **at, const char *end, sm_record *out) {
    const char *p = *at;
    int kind = 0;
    if (p == end)
        return false;
    while (kind < SM_RECORD_KINDS && kinds[kind].letter != *p)
        kind++;
    p++;
    if (kind == SM_RECORD_KINDS || !read_count(&p, end, '\n', &out->count) ||
        out->count != kinds[kind].fields)
        return false;
    out->kind = (sm_record_kind)kind;
    for (size_t i = 0; i < out->count; i++) {
        size_t length;
        if (!read_count(&p, end, ':', &length) || length >= (size_t)(end - p) || p[length] != '\n')
            return false;
        out->fields[i] = (sm_field){p, length};
        p += length + 1;
    }
    *at = p;
    return true;
}

void sm_record_token(char token[33]) {
    uint64_t words[2];
    if (getrandom(words, sizeof words, GRND_NONBLOCK) != (ssize_t)sizeof words) {
        struct timespec now;
        clock_gettime(CLOCK_REALTIME, &now);
        words[0] = (uint64_t)now.tv_sec * UINT64_C(1000000000) + (uint64_t)now.tv_nsec;
        words[1] = (uint64_t)getpid();
    }
    snprintf(token, 33, "%016llx%016llx", (unsigned long long)words[0], (unsigned long long)words[1]);
}
