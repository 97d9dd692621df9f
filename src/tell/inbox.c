// SPDX-License-Identifier: GPL-3.0-or-later
#include "tell/inbox.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

// More than so many bytes wait for nobody: who looks so seldom has lost them, and sees the gap.
#define WAITING_MAX ((size_t)4 * TELL_BYTES_MAX)

struct inbox {
    struct mosquitto *client;
    char id[TELL_ID];
    char seat[SM_SEAT_NAME]; // "": none
    bool named;
    tell_reach reach;
    int64_t (*clock_us)(void);
    int news[2];
    pthread_mutex_t lock;   // of all below
    char run[TELL_RUN * 2]; // "": none yet
    bool wants[TELL_LINK];  // shows, states
    inbox_message *first, **last;
    size_t waiting;
    uint64_t refused;
};

// ---- the library's thread -----------------------------------------------------------------------

static void subscribe_to(inbox *own, const char *run, tell_topic topic, const char *last) {
    const tell_topic_row *row = tell_topic_row_of(topic);
    char filter[TELL_TOPIC_BYTES];
    snprintf(filter, sizeof filter, TELL_ROOT "%s/%s%s%s", run, row->name, last[0] ? "/" : "", last);
    mosquitto_subscribe_v5(own->client, NULL, filter, row->qos, 0, NULL);
}

// Of the run; where none was named the beats and links of any. No two of them match one topic: it would come twice.
static void subscribe(inbox *own) {
    char run[TELL_RUN * 2];
    bool wants[TELL_LINK];
    pthread_mutex_lock(&own->lock);
    memcpy(run, own->run, sizeof run);
    memcpy(wants, own->wants, sizeof wants);
    pthread_mutex_unlock(&own->lock);
    const char *whose = own->named ? run : "+";
    subscribe_to(own, whose, TELL_BEAT, "");
    subscribe_to(own, whose, TELL_LINK, "");
    if (!run[0])
        return;
    subscribe_to(own, run, TELL_EVENT, "");
    subscribe_to(own, run, TELL_ECHO, own->id);
    if (own->seat[0])
        subscribe_to(own, run, TELL_TOLD, own->seat);
    for (int topic = 0; topic < TELL_LINK; topic++)
        if (wants[topic])
            subscribe_to(own, run, (tell_topic)topic, "");
}

static void on_connect(struct mosquitto *client, void *context, int code, int flags,
                       const mosquitto_property *p) {
    inbox *own = context;
    (void)client;
    (void)flags;
    (void)p;
    if (code == 0)
        subscribe(own);
    atomic_store(&own->reach.connected, code == 0);
    tell_reach_answer(&own->reach, code);
}

static void on_log(struct mosquitto *client, void *context, int level, const char *line) {
    inbox *own = context;
    (void)client;
    (void)level;
    tell_reach_read_log(&own->reach, line);
}

static void on_disconnect(struct mosquitto *client, void *context, int code, const mosquitto_property *p) {
    inbox *own = context;
    (void)client;
    (void)code;
    (void)p;
    tell_reach_hang_up(&own->reach);
}

// "slowmatch/1/RUN/beat": its run, and what it is. False: something else.
static bool split_topic(const char *name, char run[TELL_RUN * 2], tell_topic *topic) {
    const size_t root = strlen(TELL_ROOT);
    const char *slash = strncmp(name, TELL_ROOT, root) == 0 ? strchr(name + root, '/') : NULL;
    size_t length = slash ? (size_t)(slash - name) - root : 0;
    if (length == 0 || length >= TELL_RUN * 2)
        return false;
    memcpy(run, name + root, length);
    run[length] = '\0';
    *topic = strncmp(slash + 1, "echo/", 5) == 0 ? TELL_ECHO : TELL_TOLD;
    if (*topic == TELL_ECHO || strncmp(slash + 1, "told/", 5) == 0)
        return true;
    for (int i = 0; i < TELL_PING; i++) {
        if (strcmp(slash + 1, tell_topic_row_of((tell_topic)i)->name) == 0) {
            *topic = (tell_topic)i;
            return true;
        }
    }
    return false;
}

static void put(inbox *own, inbox_message *message) {
    pthread_mutex_lock(&own->lock);
    bool kept = own->waiting + message->length <= WAITING_MAX;
    if (kept) {
        *own->last = message;
        own->last = &message->next;
        own->waiting += message->length;
    }
    own->refused += !kept;
    pthread_mutex_unlock(&own->lock);
    if (!kept)
        free(message);
    else if (write(own->news[1], "", 1) < 0 && errno != EAGAIN) // a full pipe is news enough
        return;
}

static void on_message(struct mosquitto *client, void *context, const struct mosquitto_message *message,
                       const mosquitto_property *p) {
    inbox *own = context;
    const size_t length = (size_t)message->payloadlen;
    (void)p;
    tell_client_acknowledge(client);
    inbox_message *kept = length <= TELL_BYTES_MAX ? calloc(1, sizeof *kept + length + 1) : NULL;
    if (kept && split_topic(message->topic, kept->run, &kept->topic)) {
        kept->local_us = own->clock_us();
        kept->length = length;
        if (length > 0)
            memcpy(kept->bytes, message->payload, length);
        put(own, kept);
        return;
    }
    free(kept);
    pthread_mutex_lock(&own->lock);
    own->refused++;
    pthread_mutex_unlock(&own->lock);
}

// ---- the other one ------------------------------------------------------------------------------

int inbox_descriptor(const inbox *own) {
    return own->news[0];
}

tell_cause inbox_cause(const inbox *own) {
    return (tell_cause)atomic_load(&own->reach.cause);
}

const char *inbox_id(const inbox *own) {
    return own->id;
}

inbox_message *inbox_take(inbox *own) {
    char bytes[256];
    while (read(own->news[0], bytes, sizeof bytes) == (ssize_t)sizeof bytes) {
    }
    pthread_mutex_lock(&own->lock);
    inbox_message *taken = own->first;
    own->first = NULL;
    own->last = &own->first;
    own->waiting = 0;
    pthread_mutex_unlock(&own->lock);
    return taken;
}

uint64_t inbox_refused(inbox *own) {
    pthread_mutex_lock(&own->lock);
    uint64_t refused = own->refused;
    pthread_mutex_unlock(&own->lock);
    return refused;
}

void inbox_choose(inbox *own, const char *run) {
    pthread_mutex_lock(&own->lock);
    snprintf(own->run, sizeof own->run, "%s", run);
    pthread_mutex_unlock(&own->lock);
    subscribe(own);
}

void inbox_want(inbox *own, bool show, bool state) {
    const bool wants[TELL_LINK] = {[TELL_SHOW] = show, [TELL_STATE] = state};
    char run[TELL_RUN * 2];
    bool was[TELL_LINK];
    pthread_mutex_lock(&own->lock);
    memcpy(run, own->run, sizeof run);
    memcpy(was, own->wants, sizeof was);
    memcpy(own->wants, wants, sizeof wants);
    pthread_mutex_unlock(&own->lock);
    for (int i = 0; i < TELL_LINK && run[0]; i++) {
        char filter[TELL_TOPIC_BYTES];
        snprintf(filter, sizeof filter, TELL_ROOT "%s/%s", run, tell_topic_row_of((tell_topic)i)->name);
        if (wants[i] && !was[i])
            subscribe_to(own, run, (tell_topic)i, "");
        else if (was[i] && !wants[i])
            mosquitto_unsubscribe_v5(own->client, NULL, filter, NULL);
    }
}

static void say(inbox *own, const char *run, tell_topic topic, const char *last, const void *message) {
    char name[TELL_TOPIC_BYTES];
    sm_text text = {0};
    snprintf(name, sizeof name, TELL_ROOT "%s/%s/%s", run, tell_topic_row_of(topic)->name, last);
    tell_write(&text, topic, message, NULL, NULL);
    if (!text.failed)
        tell_client_publish(own->client, name, text.bytes, text.length, 0, false, 2);
    sm_text_deinit(&text);
}

void inbox_ping(inbox *own, const char *run, const tell_ping_message *ping) {
    say(own, run, TELL_PING, own->id, ping);
}

void inbox_sit(inbox *own, const char *run, const char *seat, const tell_seat_message *message) {
    say(own, run, TELL_SEAT, seat, message);
}

// ---- beginning and ending -----------------------------------------------------------------------

static bool open_news(inbox *own) {
    own->news[0] = own->news[1] = -1;
    return pipe2(own->news, O_CLOEXEC | O_NONBLOCK) == 0;
}

static void free_all(inbox *own) {
    for (inbox_message *message = own->first, *next; message; message = next) {
        next = message->next;
        free(message);
    }
    if (own->news[0] >= 0) {
        close(own->news[0]);
        close(own->news[1]);
    }
    pthread_mutex_destroy(&own->lock);
    free(own);
}

sm_result inbox_create(const sm_broker *broker, const char *run, const char *seat, int64_t (*clock_us)(void),
                       char problem[SM_SESSION_PROBLEM], inbox **out) {
    inbox *own = calloc(1, sizeof *own);
    problem[0] = '\0';
    if (!own)
        return SM_NO_MEMORY;
    own->clock_us = clock_us;
    own->last = &own->first;
    tell_random_name(own->id, 12);
    own->named = run != NULL;
    own->wants[TELL_SHOW] = own->wants[TELL_STATE] = true;
    snprintf(own->seat, sizeof own->seat, "%s", seat ? seat : "");
    snprintf(own->run, sizeof own->run, "%s", run ? run : "");
    pthread_mutex_init(&own->lock, NULL);
    char id[64];
    snprintf(id, sizeof id, "slowmatch-follow-%s", own->id);
    own->client = open_news(own) ? tell_client_create(broker, id, own, problem) : NULL;
    if (own->client) {
        mosquitto_connect_v5_callback_set(own->client, on_connect);
        mosquitto_message_v5_callback_set(own->client, on_message);
        mosquitto_disconnect_v5_callback_set(own->client, on_disconnect);
        mosquitto_log_callback_set(own->client, on_log);
        tell_cause cause;
        if (tell_client_begin(own->client, broker, &cause)) {
            tell_reach_begin(&own->reach, cause);
            *out = own;
            return SM_OK;
        }
    }
    inbox_destroy(own);
    return problem[0] ? SM_UNREADABLE : SM_NO_MEMORY;
}

// What waits is sent before the goodbye.
static void let_go(inbox *own) {
    const int64_t until = tell_mono_us() + SM_US_PER_S / 2;
    atomic_store(&own->reach.gone, false);
    if (mosquitto_disconnect_v5(own->client, 0, NULL) != MOSQ_ERR_SUCCESS)
        return;
    while (!atomic_load(&own->reach.gone) && tell_mono_us() < until)
        nanosleep(&(struct timespec){.tv_nsec = 2000000}, NULL);
}

void inbox_destroy(inbox *own) {
    if (!own)
        return;
    if (own->seat[0] && atomic_load(&own->reach.connected))
        let_go(own);
    tell_client_destroy(own->client);
    free_all(own);
}
