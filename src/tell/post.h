// SPDX-License-Identifier: GPL-3.0-or-later
// Between a session, which never waits, and the network: a thread that takes letters and publishes them, and what comes back.
#ifndef SLOWMATCH_TELL_POST_H
#define SLOWMATCH_TELL_POST_H

#include "tell/broker.h"
#include "tell/contract.h"

typedef struct post post;

// A show to be told of: read from its folder by the post.
typedef struct post_show {
    int32_t number, slots, channels, cues, events;
    int64_t launch_us, length_us;
    char title[120], folder[4096];
} post_show;

// SEATS: names with commas between, NULL: none is granted. What is called there is acted in SESSION at once, from the library's thread.
SM_MUST_CHECK sm_result post_create(const sm_broker *broker, const char *run, const char *seats,
                                    sm_session *session, char problem[SM_SESSION_PROBLEM], post **out);
// A message, at once; of a state also how long it is to last. Never waits. False: memory ran out.
bool post_put(post *own, tell_topic topic, const sm_text *text, uint32_t expiry_s);
// The show from now on; it is told anew by itself.
bool post_put_show(post *own, const post_show *show);
// Tells again that the link is live, and the show where it is due.
bool post_refresh(post *own);

// What has come back since the latest call.
typedef struct post_news {
    bool wanted;      // somebody asks for a whole state
    tell_cause cause; // why nothing is heard, where nothing is
    bool connected;   // the broker is there (again), and knows nothing
    int64_t heard_us; // when a beat of ours came back last (tell_mono_us), 0: never
    tell_seat seats[TELL_SEATS_MAX];
    uint32_t seat_count;
    uint64_t refused; // messages that could not be taken, ever
} post_news;
void post_take(post *own, post_news *out);

// Somebody at a seat waits for a receipt, or is to be told something: a beat is due.
bool post_has_seat_news(const post *own);
void post_tell_seats(post *own);
// The lead's word.
void post_free_seat(post *own, const char *name);
// TEXT is for whoever sits at SEAT. False: nobody does, or memory ran out.
bool post_say(post *own, const char *seat, sm_seat_word word, const char *text);

// Says that it has ended, empties what is retained, and goes; waits a second and a half at most. NULL is taken.
void post_destroy(post *own);

#endif
