// SPDX-License-Identifier: GPL-3.0-or-later
#include "tell/contract.h"

#include <assert.h>

// CLOCK_BOOTTIME of a machine that runs for 30 years.
#define MONO_MAX TELL_MONO_MAX
#define SEQ_MAX INT64_C(1000000000000)

#define MONO(type)                                                                                           \
    {                                                                                                        \
        .name = "mono_us", .required = true, TELL_US_AT(type, mono_us), .high = MONO_MAX,                    \
        .help = "when it was sent, on the sender's own clock, which never goes back"                         \
    }
#define SEQ(type, words)                                                                                     \
    { .name = "seq", .required = true, TELL_INTEGER_AT(type, seq), .high = SEQ_MAX, .help = (words) }
#define SHOW(type)                                                                                           \
    {                                                                                                        \
        .name = "show", .required = true, TELL_INTEGER_AT(type, show), .low = 1, .high = 1000000,            \
        .help = "number of the show in this run: a reload makes another one"                                 \
    }

// ---- the messages -----------------------------------------------------------------------------

static const char *const link_words[] = {[TELL_LIVE] = "live", [TELL_ENDED] = "ended", [TELL_GONE] = "gone"};
static_assert(sizeof link_words / sizeof link_words[0] == TELL_LINK_COUNT, "a word for each");

static const tell_field link_fields[] = {
    MONO(tell_link_message),
    {.name = "link",
     .required = true,
     TELL_WORDS(link_words),
     TELL_AT(tell_link_message, link),
     .help = "live; ended: the console has ended; gone: the broker has lost the console, which says nothing "
             "of the module"},
    {.name = "title", TELL_TEXT_AT(tell_link_message, title), .help = "of the show"},
};

static const tell_field file_fields[] = {
    {.name = "name",
     .required = true,
     TELL_TEXT_AT(tell_file, name),
     .help = "as in slowmatch-show(5): cues.csv"},
    {.name = "text", .required = true, .kind = TELL_LONG, TELL_AT(tell_file, text), .help = "what is in it"},
};

static const tell_field show_fields[] = {
    MONO(tell_show_message),
    SHOW(tell_show_message),
    {.name = "launch_us",
     .required = true,
     TELL_US_AT(tell_show_message, launch_us),
     .high = INT64_C(100000000000000000),
     .help = "microseconds from 1970 to wall time 0, by the console's clock: for times of day alone"},
    {.name = "length_us",
     .required = true,
     TELL_US_AT(tell_show_message, length_us),
     .high = SM_US_MAX,
     .help = "how long the show is, its music included"},
    {.name = "slots",
     .required = true,
     TELL_INTEGER_AT(tell_show_message, slots),
     .high = INT32_MAX,
     .help = "how many slots the files make: other numbers are another show"},
    {.name = "channels",
     .required = true,
     TELL_INTEGER_AT(tell_show_message, channels),
     .high = INT32_MAX,
     .help = "how many channels the files make: other numbers are another show"},
    {.name = "cues",
     .required = true,
     TELL_INTEGER_AT(tell_show_message, cues),
     .high = INT32_MAX,
     .help = "how many cues the files make: other numbers are another show"},
    {.name = "events",
     .required = true,
     TELL_INTEGER_AT(tell_show_message, events),
     .high = INT32_MAX,
     .help = "how many events the files make: other numbers are another show"},
    {.name = "files",
     .required = true,
     .kind = TELL_LIST,
     TELL_AT(tell_show_message, files),
     .count_at = offsetof(tell_show_message, file_count),
     .room = TELL_FILES_MAX,
     TELL_ROWS(file_fields),
     .help = "the tables of the show"},
};

static const tell_field state_fields[] = {
    MONO(tell_state_message),
    SEQ(tell_state_message, "of the latest event that is in it"),
    SHOW(tell_state_message),
    {.name = "now",
     .required = true,
     .kind = TELL_PART,
     TELL_AT(tell_state_message, now),
     .rows = tell_snapshot_fields,
     .row_fields = TELL_SNAPSHOT_FIELDS,
     .help = "everything that is shown"},
};

static const char *const source_words[] = {"console",    "remote", "script", "drill",
                                           "instructor", "seat",   "engine"};
static_assert(sizeof source_words / sizeof source_words[0] == SM_SOURCE_COUNT, "a word for each");

static const tell_field row_fields[] = {
    {.name = "wall_us",
     .required = true,
     TELL_US_AT(tell_row, row.wall),
     .low = -SM_US_MAX,
     .high = SM_US_MAX,
     .help = "when, on the rehearsal's clock"},
    {.name = "show_us",
     TELL_US_AT(tell_row, show_us),
     .low = -SM_US_MAX,
     .high = SM_US_MAX,
     .none = SM_UNSET_US,
     .help = "where in the show"},
    {.name = "source",
     .required = true,
     TELL_WORDS(source_words),
     TELL_AT(tell_row, row.source),
     .help = "whose"},
    {.name = "seat", TELL_TEXT_AT(tell_row, row.seat), .help = "of the source seat: which"},
    {.name = "what",
     .required = true,
     TELL_TEXT_AT(tell_row, what),
     .help = "the word of the log (slowmatch(1), LOG)"},
    {.name = "rank",
     TELL_INTEGER_AT(tell_row, row.kind.rank),
     .high = 3,
     .help = "of an alert that begins: 1 warning, 2 caution, 3 advisory"},
    {.name = "cue", TELL_TEXT_AT(tell_row, row.cue), .help = "id of the cue"},
    {.name = "target", TELL_TEXT_AT(tell_row, row.target), .help = "slot, fixture or argument"},
    {.name = "detail", TELL_TEXT_AT(tell_row, row.detail), .help = "the rest"},
};

static const tell_field event_fields[] = {
    MONO(tell_event_message),
    SEQ(tell_event_message, "counts these messages from 1: a gap means that one was lost"),
    SHOW(tell_event_message),
    {.name = "rows",
     .kind = TELL_LIST,
     TELL_AT(tell_event_message, rows),
     .count_at = offsetof(tell_event_message, row_count),
     .room = TELL_ROWS_MAX,
     TELL_ROWS(row_fields),
     .help = "new rows of the log"},
    {.name = "change",
     .required = true,
     .kind = TELL_PART,
     TELL_AT(tell_event_message, change),
     .rows = tell_snapshot_fields,
     .row_fields = TELL_SNAPSHOT_FIELDS,
     .help = "what is other than before: put it over the latest state"},
};

static const char *const sits_words[] = {
    [SM_SITS_NOBODY] = "free", [SM_SITS_THERE] = "taken", [SM_SITS_LOST] = "lost"};

static const tell_field seat_fields[] = {
    {.name = "name", .required = true, TELL_TEXT_AT(tell_seat, name), .help = "of the seat"},
    {.name = "id", TELL_TEXT_AT(tell_seat, id), .help = "of the follower that sits there"},
    {.name = "who", TELL_TEXT_AT(tell_seat, who), .help = "their name, as they gave it"},
    {.name = "sits",
     TELL_WORDS(sits_words),
     TELL_AT(tell_seat, sits),
     .help = "lost: nothing was heard of them for 3 s. Nobody else sits there until the lead says that it is "
             "free"},
    {.name = "asked", TELL_BOOL_AT(tell_seat, asked), .help = "by somebody who does not sit there"},
    {.name = "holds",
     TELL_INTEGER_AT(tell_seat, holds),
     .high = SEQ_MAX,
     .help = "of theirs, that were received: a hold with a higher number was not delivered"},
    {.name = "lines",
     TELL_INTEGER_AT(tell_seat, lines),
     .high = SEQ_MAX,
     .help = "of theirs, that were received: a line with a higher number was not delivered"},
};

static const tell_field beat_fields[] = {
    MONO(tell_beat_message),
    SEQ(tell_beat_message, "of the latest event"),
    SHOW(tell_beat_message),
    {.name = "length_us",
     TELL_US_AT(tell_beat_message, length_us),
     .high = SM_US_MAX,
     .help = "how long that show is: its music may tell later than its files"},
    {.name = "wall_us",
     .required = true,
     TELL_US_AT(tell_beat_message, wall_us),
     .low = -SM_US_MAX,
     .high = SM_US_MAX,
     .help = "the rehearsal's clock"},
    {.name = "at_us",
     .required = true,
     TELL_US_AT(tell_beat_message, at_us),
     .low = -SM_US_MAX,
     .high = SM_US_MAX,
     .help = "show time"},
    {.name = "state",
     .required = true,
     TELL_WORDS(tell_state_words),
     TELL_AT(tell_beat_message, state),
     .help = "of the rehearsed module"},
    {.name = "drill",
     TELL_BOOL_AT(tell_beat_message, drill),
     .help = "a drill is taken: seats may say more than hold"},
    {.name = "seats",
     .kind = TELL_LIST,
     TELL_AT(tell_beat_message, seats),
     .count_at = offsetof(tell_beat_message, seat_count),
     .room = TELL_SEATS_MAX,
     TELL_ROWS(seat_fields),
     .help = "those that the lead granted"},
};

static const tell_field ping_fields[] = {
    {.name = "sent_us",
     .required = true,
     TELL_US_AT(tell_ping_message, sent_us),
     .high = MONO_MAX,
     .help = "when it was sent, on the follower's own clock"},
    {.name = "want", TELL_BOOL_AT(tell_ping_message, want), .help = "asks for a whole state"},
};

static const tell_field echo_fields[] = {
    MONO(tell_echo_message),
    {.name = "sent_us",
     .required = true,
     TELL_US_AT(tell_echo_message, sent_us),
     .high = MONO_MAX,
     .help = "as the ping had it. A beat with this mono_us or a later one was sent after that ping"},
};

static const tell_field line_fields[] = {
    {.name = "n",
     .required = true,
     TELL_INTEGER_AT(tell_line, n),
     .high = SEQ_MAX,
     .help = "counts the lines of this follower, from 1"},
    {.name = "line",
     .required = true,
     TELL_TEXT_AT(tell_line, line),
     .help = "an action, as typed: call-clear Kim; or NO DRILL, which ends the drill for all"},
};

static const tell_field seat_message_fields[] = {
    {.name = "sent_us",
     .required = true,
     TELL_US_AT(tell_seat_message, sent_us),
     .high = MONO_MAX,
     .help = "when it was sent, on the follower's own clock"},
    {.name = "id",
     .required = true,
     TELL_TEXT_AT(tell_seat_message, id),
     .help = "that of the follower's pings. The first sits there until it leaves or the lead says that the "
             "seat is free"},
    {.name = "beat_us",
     TELL_US_AT(tell_seat_message, beat_us),
     .high = MONO_MAX,
     .help =
         "mono_us of the latest beat that was heard; lines that came with one older than 2 s came too late, "
         "and are not done. A hold is"},
    {.name = "who", TELL_TEXT_AT(tell_seat_message, who), .help = "the person's name"},
    {.name = "leaves", TELL_BOOL_AT(tell_seat_message, leaves), .help = "the seat is free again"},
    {.name = "holds",
     TELL_INTEGER_AT(tell_seat_message, holds),
     .high = SEQ_MAX,
     .help = "how many holds were called there so far; a new one stops the rehearsal"},
    {.name = "why", TELL_TEXT_AT(tell_seat_message, why), .help = "of the latest hold"},
    {.name = "held_mono_us",
     TELL_US_AT(tell_seat_message, held_mono_us),
     .high = MONO_MAX,
     .help = "when the latest hold was called, by the console's clock as the follower reckons it"},
    {.name = "heard",
     TELL_INTEGER_AT(tell_seat_message, heard),
     .high = SEQ_MAX,
     .help = "number of the latest thing that was told to this seat"},
    {.name = "lines",
     .kind = TELL_LIST,
     TELL_AT(tell_seat_message, lines),
     .count_at = offsetof(tell_seat_message, line_count),
     .room = TELL_LINES_MAX,
     TELL_ROWS(line_fields),
     .help =
         "actions that were not received yet, said again until they are, for 2 s at most. In a drill alone; "
         "the seat called instructor has the instructor's"},
};

static const char *const told_words[] = {
    [SM_SEAT_ANSWERED] = "answer", [SM_SEAT_PROMPTED] = "prompt", [SM_SEAT_DEBRIEFED] = "debrief"};

static const tell_field said_fields[] = {
    {.name = "n",
     .required = true,
     TELL_INTEGER_AT(tell_said, n),
     .high = SEQ_MAX,
     .help = "counts what this seat is told, from 1"},
    {.name = "word",
     TELL_WORDS(told_words),
     TELL_AT(tell_said, word),
     .help = "answer: what came of a line; prompt: what to know or to say; debrief: what this seat did"},
    {.name = "text", .required = true, .kind = TELL_LONG, TELL_AT(tell_said, text), .help = "the words"},
};

static const tell_field told_fields[] = {
    MONO(tell_told_message),
    {.name = "id",
     .required = true,
     TELL_TEXT_AT(tell_told_message, id),
     .help = "of the follower that sits there"},
    {.name = "said",
     .kind = TELL_LIST,
     TELL_AT(tell_told_message, said),
     .count_at = offsetof(tell_told_message, said_count),
     .room = TELL_SAID_MAX,
     TELL_ROWS(said_fields),
     .help = "what was not heard yet"},
};

// ---- the topics -----------------------------------------------------------------------------

#define FIELDS(table) .fields = (table), .field_count = sizeof(table) / sizeof(table)[0]

static const tell_topic_row topics[] = {
    [TELL_SHOW] =
        {.name = "show",
         .retained = true,
         FIELDS(show_fields),
         .help = "The show that is rehearsed. Each 2 s, a long one more seldom; at once when it changes.",
         .example = "{\"mono_us\":81000000,\"show\":1,\"launch_us\":1780002000000000,"
                    "\"length_us\":90000000,\"slots\":8,\"channels\":0,\"cues\":8,\"events\":8,\"files\":[{"
                    "\"name\":\"show.ini\",\"text\":\"[show]\\n\"}]}"},
    [TELL_STATE] =
        {.name = "state",
         .retained = true,
         FIELDS(state_fields),
         .help = "The whole state. Each 2 s, a long one more seldom, and at once for a follower that is new "
                 "or has lost something. Retained means last known, never now.",
         .example = "{\"mono_us\":81000000,\"seq\":7,\"show\":1,\"now\":{\"wall_us\":5000000,"
                    "\"state\":\"armed\",\"key\":true}}"},
    [TELL_LINK] = {.name = "link",
                   .retained = true,
                   .qos = 1,
                   FIELDS(link_fields),
                   .help = "Whether the console tells anything. Its will says gone.",
                   .example = "{\"mono_us\":81000000,\"link\":\"live\",\"title\":\"First Light\"}"},
    [TELL_BEAT] = {.name = "beat",
                   FIELDS(beat_fields),
                   .help = "Four times a second while the rehearsal moves. Nothing else says that it is now.",
                   .example = "{\"mono_us\":81000000,\"seq\":7,\"show\":1,\"length_us\":90000000,"
                              "\"wall_us\":5000000,\"at_us\":0,\"state\":\"armed\"}"},
    [TELL_EVENT] = {.name = "event",
                    FIELDS(event_fields),
                    .help = "What has happened, at once.",
                    .example = "{\"mono_us\":81000000,\"seq\":8,\"show\":1,\"rows\":[{\"wall_us\":5000000,"
                               "\"source\":\"console\",\"what\":\"start\"}],\"change\":{\"wall_us\":5000000,"
                               "\"state\":\"running\"}}"},
    [TELL_PING] =
        {.name = "ping",
         FIELDS(ping_fields),
         .help = "From a follower, on ping/ID with an ID of its own (letters and digits, at most 23), once a "
                 "second. The console answers on echo/ID.",
         .example = "{\"sent_us\":1200,\"want\":true}"},
    [TELL_ECHO] = {.name = "echo",
                   FIELDS(echo_fields),
                   .help = "To one follower, on echo/ID: its ping has come.",
                   .example = "{\"mono_us\":80900000,\"sent_us\":1200}"},
    [TELL_SEAT] = {.name = "seat",
                   FIELDS(seat_message_fields),
                   .help =
                       "From whoever sits at a seat that the lead granted by its name, on seat/NAME: "
                       "once a second, and "
                       "four times while a hold or a line was not received. Nothing else from there acts.",
                   .example =
                       "{\"sent_us\":1200,\"id\":\"k3\",\"beat_us\":81000000,\"who\":\"Kim\",\"holds\":1,"
                       "\"why\":\"somebody at the fence\",\"lines\":[{\"n\":1,\"line\":\"safe\"}]}"},
    [TELL_TOLD] =
        {.name = "told",
         .qos = 1,
         FIELDS(told_fields),
         .help = "To whoever sits at a seat, on told/NAME, and nobody else's to read: what came of their "
                 "lines, what they are to say, their debrief. Said again until it was heard.",
         .example = "{\"mono_us\":81000000,\"id\":\"k3\",\"said\":[{\"n\":1,\"word\":\"prompt\",\"text\":"
                    "\"You are asked by name: answer where you are.\"}]}"},
};
static_assert(sizeof topics / sizeof topics[0] == TELL_TOPIC_COUNT, "a row for each");

const tell_topic_row *tell_topic_row_of(tell_topic topic) {
    assert(topic < TELL_TOPIC_COUNT);
    return &topics[topic];
}
