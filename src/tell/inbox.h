// SPDX-License-Identifier: GPL-3.0-or-later
// Takes what a broker sends from the library's thread to the thread that looks: whole messages, in order, each with the moment it came.
#ifndef SLOWMATCH_TELL_INBOX_H
#define SLOWMATCH_TELL_INBOX_H

#include "tell/broker.h"
#include "tell/contract.h"

typedef struct inbox inbox;

typedef struct inbox_message {
    struct inbox_message *next;
    int64_t local_us; // when it came, by the clock that inbox_create was given
    tell_topic topic;
    char run[TELL_RUN * 2];
    size_t length;
    char bytes[];
} inbox_message;

// Subscribes to what is told of RUN (NULL: to what says which runs there are), and to what SEAT alone is told (NULL: no seat). Shows and
// states are retained and long: they come only while they are wanted, which they are at first. CLOCK_US as in sm_follow_options.
SM_MUST_CHECK sm_result inbox_create(const sm_broker *broker, const char *run, const char *seat,
                                     int64_t (*clock_us)(void), char problem[SM_SESSION_PROBLEM],
                                     inbox **out);
// What was said last still goes out, where the broker takes it within a moment.
void inbox_destroy(inbox *own);
int inbox_descriptor(const inbox *own);
// Takes the messages that have come, as a list with the oldest first; the caller frees each. NULL: none came.
inbox_message *inbox_take(inbox *own);
// Subscribes to RUN, where inbox_create was given none.
void inbox_choose(inbox *own, const char *run);
// Says whether shows and states are wanted from now on. Where they are, the broker sends what it has retained at once.
void inbox_want(inbox *own, bool show, bool state);
// Sends a ping of this client's own to RUN.
void inbox_ping(inbox *own, const char *run, const tell_ping_message *ping);
// Publishes what SEAT says, on the seat's own topic.
void inbox_sit(inbox *own, const char *run, const char *seat, const tell_seat_message *message);
tell_cause inbox_cause(const inbox *own);
const char *inbox_id(const inbox *own);
// How many messages were dropped: they could not be read, or more came than are kept.
uint64_t inbox_refused(inbox *own);

#endif
