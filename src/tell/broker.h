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

// The clock that messages are stamped with, in microseconds. It goes on while the machine sleeps, and never goes back.
static inline int64_t tell_mono_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_BOOTTIME, &now);
    return (int64_t)now.tv_sec * SM_US_PER_S + now.tv_nsec / 1000;
}

// Fills OUT with LENGTH - 1 random letters and digits and a NUL.
void tell_random_name(char *out, size_t length);

// A client called ID of BROKER, not connected yet; CONTEXT goes to its callbacks. NULL: memory ran out, or PROBLEM says why.
struct mosquitto *tell_client_create(const sm_broker *broker, const char *id, void *context,
                                     char problem[SM_SESSION_PROBLEM]);
// How far the connection came. tell_cause_text has the words, "nobody listens there".
typedef enum tell_cause {
    TELL_NO_ANSWER, // there is no answer yet
    TELL_NOBODY,    // nobody listens at that address
    TELL_NO_HOST,
    TELL_HANGS_UP,
    TELL_REFUSES, // the broker refuses this client
    TELL_KEYS,    // TLS could not be agreed on
    TELL_CONNECTED,
    TELL_CAUSE_COUNT
} tell_cause;
const char *tell_cause_text(tell_cause cause);
// How a client stands with its broker. The library's thread writes it, any thread reads it.
typedef struct tell_reach {
    atomic_bool connected, gone; // gone: the connection has ended since somebody set this false
    atomic_int cause;            // tell_cause
} tell_reach;
// Takes down the broker's answer to the attempt to connect; CODE 0 means that it accepts this client.
void tell_reach_answer(tell_reach *reach, int code);
void tell_reach_hang_up(tell_reach *reach);
// Takes down what a LINE of the library's log says about the connection.
void tell_reach_read_log(tell_reach *reach, const char *line);
// Takes down how the first attempt went, unless the library's thread has taken down something later.
void tell_reach_begin(tell_reach *reach, tell_cause cause);

// Begins to connect, and goes on trying for ever in a thread of the library's. May wait for the name service. *CAUSE: how the first
// try went.
bool tell_client_begin(struct mosquitto *client, const sm_broker *broker, tell_cause *cause);
// Ends that thread. NULL is taken.
void tell_client_destroy(struct mosquitto *client);

// Has the system acknowledge at once what has just come. Call it at each message: Linux turns this off again by itself (tcp(7),
// TCP_QUICKACK). A broker that was not told set_tcp_nodelay (mosquitto.conf(5)) holds a small message back until the one before
// is acknowledged (RFC 896), which takes up to 40 ms otherwise (RFC 1122, 4.2.3.2).
void tell_client_acknowledge(struct mosquitto *client);

// Publishes; EXPIRY_S 0: never. False: it was not taken.
bool tell_client_publish(struct mosquitto *client, const char *topic, const void *bytes, size_t length,
                         int qos, bool retained, uint32_t expiry_s);

#endif
