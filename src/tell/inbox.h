// SPDX-License-Identifier: GPL-3.0-or-later
// What a broker sends, from the library's thread to the one that looks: whole messages in their order, with the moment they came.
#ifndef SLOWMATCH_TELL_INBOX_H
#define SLOWMATCH_TELL_INBOX_H

#include "tell/broker.h"
#include "tell/contract.h"

typedef struct inbox inbox;

typedef struct inbox_message {
    struct inbox_message *next;
    int64_t local_us; // when it came, by the clock given
    tell_topic topic;
    char run[TELL_RUN * 2];
    size_t length;
    char bytes[];
} inbox_message;

// Subscribes to what is told of RUN; NULL: to what says which runs there are; and to what SEAT (NULL: none) is told alone. Shows and
// states, which are retained and long, come only while they are wanted: at first they are. CLOCK_US as in sm_follow_options.
SM_MUST_CHECK sm_result inbox_create(const sm_broker *broker, const char *run, const char *seat,
                                     int64_t (*clock_us)(void), char problem[SM_SESSION_PROBLEM],
                                     inbox **out);
// What was said last goes, where the broker takes it within a moment.
void inbox_destroy(inbox *own);
int inbox_descriptor(const inbox *own);
// The messages that came, the oldest first; free each. NULL: none.
inbox_message *inbox_take(inbox *own);
// Where none was named: subscribes to RUN too.
void inbox_choose(inbox *own, const char *run);
// Whether shows, and states, are wanted from now on; what is retained comes at once then.
void inbox_want(inbox *own, bool show, bool state);
// A ping of the client's own to RUN.
void inbox_ping(inbox *own, const char *run, const tell_ping_message *ping);
// What a seat says, on its topic.
void inbox_sit(inbox *own, const char *run, const char *seat, const tell_seat_message *message);
tell_cause inbox_cause(const inbox *own);
const char *inbox_id(const inbox *own);
// Messages that were no messages, or more than is kept.
uint64_t inbox_refused(inbox *own);

#endif
