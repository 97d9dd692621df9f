// SPDX-License-Identifier: GPL-3.0-or-later
// Entries: what is kept, one after another, on its way from who rehearses to the thread that writes. In memory only; the files hold rows.
#ifndef SLOWMATCH_LOGBOOK_ENTRY_H
#define SLOWMATCH_LOGBOOK_ENTRY_H

#include "slowmatch/show.h"

// The values of each kind are those of its statement in entry.c, in this order. TOKEN is the rehearsal's random name; 0: no value.
typedef enum sm_entry_kind {
    SM_ENTRY_FILE,      // hash, size, bytes
    SM_ENTRY_LOAD,      // hash, title, content, length in us
    SM_ENTRY_MEMBER,    // load's hash, name, file's hash
    SM_ENTRY_READING,   // title, slot, value, ohms or 0, when as written, in us or 0, by, origin
    SM_ENTRY_REHEARSAL, // token, load's hash, began in us, mode, flags
    SM_ENTRY_ROW,       // token, n, wall, show or 0, source, what, cue, target, detail, late
    SM_ENTRY_INPUT,     // token, n, kind, at, source, line, detail, load's hash or ""
    SM_ENTRY_END,       // token, ended in us
    SM_ENTRY_TICK,      // token, n, title, item, answer, value, note, by, when in us or 0, item's hash
    SM_ENTRY_UNTICK,    // token, n
    SM_ENTRY_SIGN,      // token, n, title, who, when in us, content, items
    SM_ENTRY_VOID,      // title, who, when signed in us, why
    SM_ENTRY_CHANGE,    // token, n, title, what, when in us
    SM_ENTRY_DEBRIEF,   // token, head, tail, broken off
    SM_ENTRY_STEP,      // token, n, at, kind, name, words, within or 0, took or 0, state, key
    SM_ENTRY_DRILL,     // token, person, drill, title, when in us, score, passed, with hints, marks, seat
    SM_ENTRY_ATTEMPT,   // token, title, person, drill, seat, when in us, pass, again in days
    SM_ENTRY_MARK, // token, n, kind, name, marks, got, computed, decided, took or 0, within or 0, reason or 0
    SM_ENTRY_SCORE, // token, n, how, score, passed, with hints
    SM_ENTRY_KINDS
} sm_entry_kind;

#define SM_ENTRY_VALUES 11

typedef enum sm_value_kind { SM_VALUE_NOTHING, SM_VALUE_NUMBER, SM_VALUE_TEXT, SM_VALUE_BYTES } sm_value_kind;

typedef struct sm_value {
    sm_value_kind kind;
    int64_t number;    // of bytes and texts the length
    const char *bytes; // not NUL-terminated where it was read
} sm_value;

typedef struct sm_entry {
    sm_entry_kind kind;
    sm_value values[SM_ENTRY_VALUES];
} sm_entry;

sm_value sm_value_text(const char *text);
sm_value sm_value_bytes(const char *bytes, size_t length);
sm_value sm_value_number(int64_t number);
sm_value sm_value_us(int64_t us); // nothing for SM_UNSET_US

// Appends an entry of KIND with these values. Where memory runs out OUT has failed, and its end is no whole entry: it is good for nothing.
#define SM_ENTRY_PUT(out, kind, ...)                                                                         \
    sm_entry_put(out, kind, (const sm_value[]){__VA_ARGS__},                                                 \
                 sizeof((const sm_value[]){__VA_ARGS__}) / sizeof(sm_value))
void sm_entry_put(sm_text *out, sm_entry_kind kind, const sm_value *values, size_t count);
// The next entry at *AT; false at the end.
bool sm_entry_next(const char **at, const char *end, sm_entry *out);

// How many values an entry of KIND has, and the statement that puts them into a file; what is there already stays as it is.
size_t sm_entry_values(sm_entry_kind kind);
const char *sm_entry_insert(sm_entry_kind kind);

// A random name, 32 hexadecimal digits.
void sm_token_make(char token[33]);

#endif
