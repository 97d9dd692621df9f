// SPDX-License-Identifier: GPL-3.0-or-later
// Records: what is kept, as a stream of bytes. The queue of the writer, spill files and exports all hold it.
//
// A record is a letter, the number of its fields and a newline, then each field as its length, a colon, its bytes and a newline.
// A record that was cut off is seen by its lengths.
#ifndef SLOWMATCH_LOGBOOK_RECORD_H
#define SLOWMATCH_LOGBOOK_RECORD_H

#include "slowmatch/show.h"

#define SM_RECORD_FIELDS 12
// The first line of a file of records.
#define SM_RECORD_HEADER "slowmatch records 1\n"

typedef enum sm_record_kind {
    SM_RECORD_FILE,      // hash, size, bytes (deflated)
    SM_RECORD_LOAD,      // hash, title, content, length in us
    SM_RECORD_MEMBER,    // load's hash, name, file's hash
    SM_RECORD_READING,   // title, slot, value, ohms or "", when as written, in us or "", by, origin
    SM_RECORD_REHEARSAL, // token, load's hash, began in us, mode, flags
    SM_RECORD_ROW,       // token, n, wall, show or "", source, what, cue, target, detail, late
    SM_RECORD_INPUT,     // token, n, kind, at, source, line, detail, load's hash or ""
    SM_RECORD_END,       // token, ended in us
    SM_RECORD_TICK,      // token, n, title, item, answer, value, note, by, when in us or "", item's hash
    SM_RECORD_UNTICK,    // token, n
    SM_RECORD_SIGN,      // token, n, title, who, when in us, content, items
    SM_RECORD_CHANGE,    // token, n, title, what, when in us
    SM_RECORD_DEBRIEF,   // token, head, tail, broken off
    SM_RECORD_STEP,      // token, n, at, kind, name, words, within or "", took or "", state, key
    SM_RECORD_OLD_DRILL, // token, person, drill, title, when in us, score, passed, with hints, marks: before there were seats
    SM_RECORD_DRILL, // the same, and the seat
    SM_RECORD_KINDS
} sm_record_kind;

typedef struct sm_field {
    const char *bytes;
    size_t length;
} sm_field;

typedef struct sm_record {
    sm_record_kind kind;
    size_t count;
    sm_field fields[SM_RECORD_FIELDS];
} sm_record;

sm_field sm_field_text(const char *text);
// Digits in BUFFER.
sm_field sm_field_integer(char buffer[24], int64_t value);
// "" for SM_UNSET_US.
sm_field sm_field_us(char buffer[24], int64_t us);

// Appends RECORD. False: memory ran out; OUT is as before.
bool sm_record_put(sm_text *out, const sm_record *record);
// The next record at *AT; false at the end, or where what follows is no whole record.
bool sm_record_next(const char **at, const char *end, sm_record *out);
// A random name, 32 hexadecimal digits.
void sm_record_token(char token[33]);

// Of each kind: its letter, how many fields, how it is put into the file, and how it is got out again for all rehearsals of the
// temporary table `chosen` (NULL: never).
typedef struct sm_record_row {
    char letter;
    size_t fields;
    const char *insert, *select;
} sm_record_row;
const sm_record_row *sm_record_row_of(sm_record_kind kind);

#endif
