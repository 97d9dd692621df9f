// SPDX-License-Identifier: GPL-3.0-or-later
// What goes through a broker: topics, and the members of their messages, each declared once (contract.c, snapshot_fields.c). The writer, the
// strict reader, the JSON schema and slowmatch-mqtt(7) all come from these tables.
#ifndef SLOWMATCH_TELL_CONTRACT_H
#define SLOWMATCH_TELL_CONTRACT_H

#include "slowmatch/json.h"
#include "slowmatch/session.h"
#include "slowmatch/tell.h"

#include <stddef.h>

// ---- fields ---------------------------------------------------------------------------------

typedef enum tell_kind {
    TELL_BOOL,
    TELL_WORD,    // one of `words`
    TELL_INTEGER, // low to high
    TELL_NUMBER,  // what is not finite is null
    TELL_TEXT,    // an array of `size` bytes, its NUL included
    TELL_LONG,    // a const char *; what was read lives as long as the document
    TELL_LIST,    // rows in order, as many as the uint32_t at `count_at` says
    TELL_MAP,     // rows by number "i"; one that is left out is as at first
    TELL_PART,    // an object at a pointer
    TELL_KIND_COUNT
} tell_kind;

// How many there are of something, by the show: the length of a map, or the bound of a number.
typedef enum tell_size {
    TELL_FREE, // by the field itself
    TELL_SLOTS,
    TELL_RAILS,
    TELL_MODULES,
    TELL_FIXTURES,
    TELL_CHANNELS,
    TELL_POSITIONS,
    TELL_FEEDS,
    TELL_CUES,
    TELL_EVENTS,
    TELL_BURNING, // what may burn at a time
    TELL_SIZE_COUNT
} tell_size;

typedef struct tell_sizes {
    uint32_t of[TELL_SIZE_COUNT];
} tell_sizes;

typedef struct tell_field {
    const char *name, *help;
    const char *unit; // NULL: none
    tell_kind kind;
    bool required;       // always there; a member that is not is left out where its value is `none`
    bool lazy;           // changes all the time: told with the beat, and no event comes for it alone
    size_t offset, size; // of the member in its struct, in bytes; of rows: size of one row's struct
    int64_t low, high;   // of an integer
    int64_t none;        // the integer that means nothing; null in JSON where it lies outside low to high
    tell_size bound;     // an integer is below it; a map is as long; a list is at most as long
    uint32_t room;       // of a list or a map whose bound is TELL_FREE
    const char *const *words; // word_count of them
    size_t word_count;
    const struct tell_field *rows; // of a list, a map, a part
    size_t row_fields;
    size_t count_at;
    bool pointed; // the rows are behind a pointer
} tell_field;

// Short hands for the tables.
#define TELL_MONO_MAX INT64_C(1000000000000000)
#define TELL_AT(type, member) .offset = offsetof(type, member), .size = sizeof(((type *)0)->member)
#define TELL_TEXT_AT(type, member) .kind = TELL_TEXT, TELL_AT(type, member)
#define TELL_BOOL_AT(type, member) .kind = TELL_BOOL, TELL_AT(type, member)
#define TELL_US_AT(type, member) .kind = TELL_INTEGER, .unit = "us", TELL_AT(type, member)
#define TELL_INTEGER_AT(type, member) .kind = TELL_INTEGER, TELL_AT(type, member)
#define TELL_NUMBER_AT(type, member) .kind = TELL_NUMBER, TELL_AT(type, member)
#define TELL_ROWS(table) .rows = (table), .row_fields = sizeof(table) / sizeof(table)[0]
#define TELL_WORDS(table) .kind = TELL_WORD, .words = (table), .word_count = sizeof(table) / sizeof(table)[0]
// A moment or span that may be missing.
#define TELL_ANY_US .low = -SM_US_MAX, .high = SM_US_MAX, .none = SM_UNSET_US

// count_at of a list whose length other fields tell: what flies and what burns.
#define TELL_NO_COUNT SIZE_MAX

// ---- messages -------------------------------------------------------------------------------

typedef enum tell_topic {
    TELL_SHOW,
    TELL_STATE,
    TELL_LINK,
    TELL_BEAT,
    TELL_EVENT,
    TELL_PING,
    TELL_ECHO,
    TELL_SEAT,
    TELL_TOLD,
    TELL_TOPIC_COUNT
} tell_topic;

typedef struct tell_topic_row {
    const char *name; // last part of the topic
    const char *help;
    bool retained;
    int qos;
    const tell_field *fields;
    size_t field_count;
    const char *example; // a message of this topic, for the manual
} tell_topic_row;
const tell_topic_row *tell_topic_row_of(tell_topic topic);

#define TELL_ID 24
#define TELL_FILES_MAX 16
#define TELL_ROWS_MAX 64
#define TELL_SEATS_MAX SM_SEATS_MAX
#define TELL_LINES_MAX 8 // lines of a seat that wait for their receipt
#define TELL_SAID_MAX 32 // sentences that a seat is told at a time

typedef enum tell_link { TELL_LIVE, TELL_ENDED, TELL_GONE, TELL_LINK_COUNT } tell_link;

typedef struct tell_link_message {
    int64_t mono_us;
    int32_t link; // tell_link
    char title[120];
} tell_link_message;

typedef struct tell_file {
    char name[32];
    const char *text;
} tell_file;

typedef struct tell_show_message {
    int64_t mono_us;
    int32_t show; // its number in this run, from 1
    int64_t launch_us, length_us;
    int32_t slots, channels, cues, events; // so many a reader must find in the files
    tell_file files[TELL_FILES_MAX];
    uint32_t file_count;
} tell_show_message;

typedef struct tell_state_message {
    int64_t mono_us, seq;
    int32_t show;
    sm_snapshot *now;
} tell_state_message;

// `seat` is in the row.
typedef struct tell_row {
    sm_recent_row row;
    sm_us show_us; // SM_UNSET_US: none
    char what[24];
} tell_row;

typedef struct tell_event_message {
    int64_t mono_us, seq;
    int32_t show;
    tell_row rows[TELL_ROWS_MAX];
    uint32_t row_count;
    sm_snapshot *change;
} tell_event_message;

// A seat that the lead granted, and who sits there.
typedef struct tell_seat {
    char name[SM_SEAT_NAME], id[TELL_ID], who[SM_SEAT_WHO];
    int32_t sits;         // sm_sits
    bool asked;           // somebody else has asked for this seat
    int64_t holds, lines; // how many of the seat's holds and lines the console has received
} tell_seat;

typedef struct tell_beat_message {
    int64_t mono_us, seq;
    sm_us wall_us, at_us;
    int32_t state; // sm_state
    bool drill;    // a drill is being taken
    int32_t show;
    int64_t length_us;
    tell_seat seats[TELL_SEATS_MAX];
    uint32_t seat_count;
} tell_beat_message;

typedef struct tell_ping_message {
    int64_t sent_us;
    bool want; // the follower asks for a whole state
} tell_ping_message;

typedef struct tell_echo_message {
    int64_t mono_us;
    int64_t sent_us; // copied from the ping
} tell_echo_message;

typedef struct tell_line {
    int64_t n;
    char line[SM_FOLLOW_LINE];
} tell_line;

typedef struct tell_seat_message {
    int64_t sent_us, beat_us;
    char id[TELL_ID], who[SM_SEAT_WHO];
    bool leaves;
    int64_t holds; // how many holds this seat has called so far
    char why[160]; // reason of the latest hold
    int64_t
        held_mono_us; // when the latest hold was called, on the console's clock as the seat estimates it; 0: not known
    int64_t heard; // number of the latest sentence of the console that the seat has read
    tell_line lines[TELL_LINES_MAX];
    uint32_t line_count;
} tell_seat_message;

// A sentence that only the person at this seat is told.
typedef struct tell_said {
    int64_t n;
    int32_t word; // sm_seat_word
    const char *text;
} tell_said;

typedef struct tell_told_message {
    int64_t mono_us;
    char id[TELL_ID];
    tell_said said[TELL_SAID_MAX];
    uint32_t said_count;
} tell_told_message;

// LINE, of a seat, is a stop: the seat sends it until it is received, and the console does it however late it comes.
bool tell_is_stop(const char *line);

// ---- the snapshot ---------------------------------------------------------------------------

enum { TELL_SNAPSHOT_FIELDS = 72 };
extern const tell_field tell_snapshot_fields[TELL_SNAPSHOT_FIELDS];
extern const char *const tell_state_words[SM_STATE_COUNT];
tell_sizes tell_sizes_of(const sm_show *show);
// TO and FROM are of shows of one shape.
void tell_snapshot_copy(sm_snapshot *to, const sm_snapshot *from);
// What no single field can say: the numbers agree with each other and with the show.
bool tell_snapshot_is_sound(const sm_snapshot *now);

// ---- writing and reading ----------------------------------------------------------------------

// Where row I of the rows of FIELD in BASE begins; how many rows there are.
void *tell_row_at(const tell_field *field, const void *base, uint32_t i);
uint32_t tell_row_count(const tell_field *field, const void *base, const tell_sizes *sizes);

typedef enum tell_urgency {
    TELL_NOTHING, // but the clocks
    TELL_LATER,   // what is lazy
    TELL_AT_ONCE
} tell_urgency;
// Appends the message of TOPIC at MESSAGE. WAS, of an event: only what differs from that snapshot is in its change. Returns whether any
// does; the text's `failed` tells of memory.
tell_urgency tell_write(sm_text *out, tell_topic topic, const void *message, const tell_sizes *sizes,
                        const sm_snapshot *was);

// A message as read; its long texts live as long as it.
typedef struct tell_document tell_document;
// The largest message that is looked at.
#define TELL_BYTES_MAX ((size_t)4 << 20)
// Reads LENGTH bytes strictly: types, ranges, lengths, no name twice, none unknown. NULL: MESSAGE may be half filled, and must not be used.
// Parts of a snapshot go where MESSAGE points at; a state's is emptied first.
tell_document *tell_read(tell_topic topic, const void *bytes, size_t length, const tell_sizes *sizes,
                         void *message);
void tell_document_free(tell_document *document);

#endif
