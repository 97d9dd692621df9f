// SPDX-License-Identifier: GPL-3.0-or-later
// A connection to a broker: MQTT 5, nothing remembered between two connections.
#ifndef SLOWMATCH_TELL_BROKER_H
#define SLOWMATCH_TELL_BROKER_H

#include "slowmatch/tell.h"

#include <mosquitto.h>
#include <stdatomic.h>
#include <time.h>

#define TELL_ROOT "slowmatch/1/"
#define TELL_RUN ((size_t)16)
#define TELL_KEEPALIVE_S 5
#define TELL_TOPIC_BYTES 96

// The clock that messages are stamped with: it goes on while the machine sleeps, and never back.
static inline int64_t tell_mono_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_BOOTTIME, &now);
    return (int64_t)now.tv_sec * SM_US_PER_S + now.tv_nsec / 1000;
}

// LENGTH - 1 random letters and digits.
void tell_random_name(char *out, size_t length);

// A client called ID of BROKER, not connected yet; CONTEXT goes to its callbacks. NULL: memory ran out, or PROBLEM says why.
struct mosquitto *tell_client_create(const sm_broker *broker, const char *id, void *context,
                                     char problem[SM_SESSION_PROBLEM]);
// Why nothing comes.
typedef enum tell_cause {
    TELL_NO_ANSWER, // yet
    TELL_NOBODY,    // listens there
    TELL_NO_HOST,
    TELL_HANGS_UP,
    TELL_REFUSES, // us
    TELL_KEYS,    // TLS could not be agreed on
    TELL_CONNECTED,
    TELL_CAUSE_COUNT
} tell_cause;
// "nobody listens there".
const char *tell_cause_text(tell_cause cause);
// How a client stands with its broker, kept by the library's thread and read by any.
typedef struct tell_reach {
    atomic_bool connected, gone; // gone: hung up, since somebody set it false
    atomic_int cause;            // tell_cause
} tell_reach;
// The broker's answer to the connecting: CODE 0 where it takes us.
void tell_reach_answer(tell_reach *reach, int code);
void tell_reach_hang_up(tell_reach *reach);
// What the library's log LINE says of it.
void tell_reach_read_log(tell_reach *reach, const char *line);
// How the first try went, where the library's thread does not know better already.
void tell_reach_begin(tell_reach *reach, tell_cause cause);

// Begins to connect, and goes on trying for ever in a thread of the library's. May wait for the name service. *CAUSE: how the first
// try went.
bool tell_client_begin(struct mosquitto *client, const sm_broker *broker, tell_cause *cause);
// Ends that thread. NULL is taken.
void tell_client_destroy(struct mosquitto *client);

// Has what has just come acknowledged at once. To be called at each message that comes: Linux takes it back by itself (tcp(7),
// TCP_QUICKACK). A broker that was not told set_tcp_nodelay (mosquitto.conf(5)) holds a small message back until the one before
// is acknowledged (RFC 896), which takes up to 40 ms otherwise (RFC 1122, 4.2.3.2).
void tell_client_acknowledge(struct mosquitto *client);

// Publishes; EXPIRY_S 0: never. False: it was not taken.
bool tell_client_publish(struct mosquitto *client, const char *topic, const void *bytes, size_t length,
                         int qos, bool retained, uint32_t expiry_s);

#endif
