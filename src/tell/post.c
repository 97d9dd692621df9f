// SPDX-License-Identifier: GPL-3.0-or-later
// Three threads meet here. The session's puts letters into a background writer's queue. The writer's thread publishes them, reads the
// show's files and begins the connection, which may all wait. The library's thread sends and receives, and leaves what came in `in`,
// under the one lock. A broker that takes nothing stops the second thread at most: letters above IN_FLIGHT_MAX are dropped.
#include "tell/post.h"

#include "tell/seats.h"

#include "slowmatch/background.h"
#include "slowmatch/clock.h"

#include <mqtt_protocol.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define IN_FLIGHT_MAX 64
// Beyond so many letters under way no echo is sent: all else is more urgent.
#define ECHOES_IN_FLIGHT_MAX 32
// A longer message from a seat is dropped.
#define SEAT_BYTES_MAX 6000
#define CLOSE_PATIENCE_US (3 * SM_US_PER_S / 2)
// The show is told again and again, for those who come late: with so many bytes a second at most, so a long one more seldom.
#define REFRESH_BYTES_A_S 4000

struct post {
    sm_broker broker;
    char run[TELL_RUN];
    struct mosquitto *client;
    sm_background *background;
    atomic_int in_flight; // published, not sent yet
    tell_reach reach;
    atomic_bool seat_news; // somebody at a seat waits for a receipt
    _Atomic int64_t show_due_us;
    pthread_mutex_t lock;
    post_news in; // under the lock, with the next three
    seat_table seats;
    sm_session *session;
    bool closed; // the session is gone
    // The writer's thread alone:
    bool begun, has_show;
    post_show show;
    tell_show_message message;
    char *texts[TELL_FILES_MAX];
    sm_text text;
};

typedef enum letter_kind { LETTER_MESSAGE, LETTER_SHOW, LETTER_REFRESH } letter_kind;

typedef struct letter {
    letter_kind kind;
    tell_topic topic;
    char seat[SM_SEAT_NAME]; // of its topic, "": none
    uint32_t expiry_s;
    size_t length; // of what follows
} letter;

static void topic_name(const post *own, const char *last, char out[TELL_TOPIC_BYTES]) {
    snprintf(out, TELL_TOPIC_BYTES, TELL_ROOT "%s/%s", own->run, last);
}

// ---- what comes back (the library's thread) -----------------------------------------------------

static void on_connect(struct mosquitto *client, void *context, int code, int flags,
                       const mosquitto_property *p) {
    post *own = context;
    char topic[TELL_TOPIC_BYTES];
    (void)flags;
    (void)p;
    tell_reach_answer(&own->reach, code);
    if (code != 0)
        return;
    topic_name(own, "ping/+", topic);
    mosquitto_subscribe_v5(client, NULL, topic, 0, 0, NULL);
    topic_name(own, "seat/+", topic);
    mosquitto_subscribe_v5(client, NULL, topic, 0, 0, NULL);
    topic_name(own, "beat", topic);
    mosquitto_subscribe_v5(client, NULL, topic, 0, 0, NULL);
    atomic_store(&own->in_flight, 0);
    atomic_store(&own->show_due_us, 0);
    atomic_store(&own->reach.connected, true);
    pthread_mutex_lock(&own->lock);
    own->in.connected = true;
    pthread_mutex_unlock(&own->lock);
}

static void on_disconnect(struct mosquitto *client, void *context, int code, const mosquitto_property *p) {
    post *own = context;
    (void)client;
    (void)code;
    (void)p;
    tell_reach_hang_up(&own->reach);
    atomic_store(&own->in_flight, 0);
}

static void on_log(struct mosquitto *client, void *context, int level, const char *line) {
    post *own = context;
    (void)client;
    (void)level;
    tell_reach_read_log(&own->reach, line);
}

static void on_publish(struct mosquitto *client, void *context, int id, int code,
                       const mosquitto_property *p) {
    post *own = context;
    (void)client;
    (void)id;
    (void)code;
    (void)p;
    if (atomic_fetch_sub(&own->in_flight, 1) <= 0)
        atomic_store(&own->in_flight, 0);
}

// Below TOPIC at LAST, where that is not empty.
static void publish_to(post *own, tell_topic topic, const char *last, const void *bytes, size_t length,
                       uint32_t expiry_s) {
    const tell_topic_row *row = tell_topic_row_of(topic);
    char name[TELL_TOPIC_BYTES], whole[SM_SEAT_NAME + 16];
    snprintf(whole, sizeof whole, "%s%s%s", row->name, last[0] ? "/" : "", last);
    topic_name(own, whole, name);
    if (!atomic_load(&own->reach.connected) || atomic_load(&own->in_flight) >= IN_FLIGHT_MAX ||
        length > TELL_BYTES_MAX)
        return;
    atomic_fetch_add(&own->in_flight, 1);
    if (!tell_client_publish(own->client, name, bytes, length, row->qos, row->retained, expiry_s))
        atomic_fetch_sub(&own->in_flight, 1);
}

// Answered at once, and to nobody else: what each follower is told goes to all of them otherwise.
static void echo(post *own, const char *id, int64_t sent_us) {
    const tell_echo_message message = {.mono_us = tell_mono_us(), .sent_us = sent_us};
    sm_text text = {0};
    tell_write(&text, TELL_ECHO, &message, NULL, NULL);
    if (!text.failed)
        publish_to(own, TELL_ECHO, id, text.bytes, text.length, 2);
    sm_text_deinit(&text);
}

static void take_ping(post *own, const char *id, const struct mosquitto_message *message) {
    static const tell_sizes none = {0};
    tell_ping_message ping = {0};
    tell_document *document =
        message->payloadlen <= 256
            ? tell_read(TELL_PING, message->payload, (size_t)message->payloadlen, &none, &ping)
            : NULL;
    size_t length = strlen(id);
    bool good = document && length < TELL_ID &&
                strspn(id, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789") == length;
    tell_document_free(document);
    pthread_mutex_lock(&own->lock);
    own->in.refused += !good;
    own->in.wanted |= good && ping.want;
    pthread_mutex_unlock(&own->lock);
    if (good && atomic_load(&own->in_flight) < ECHOES_IN_FLIGHT_MAX)
        echo(own, id, ping.sent_us);
}

static void take_seat(post *own, const char *name, const struct mosquitto_message *message) {
    static const tell_sizes none = {0};
    const int64_t now_us = tell_mono_us();
    tell_seat_message seat = {0};
    tell_document *document =
        message->payloadlen <= SEAT_BYTES_MAX
            ? tell_read(TELL_SEAT, message->payload, (size_t)message->payloadlen, &none, &seat)
            : NULL;
    bool good = false;
    pthread_mutex_lock(&own->lock);
    if (document && !own->closed)
        good = seats_take(&own->seats, name, &seat, own->session, now_us);
    own->in.refused += !good;
    pthread_mutex_unlock(&own->lock);
    if (good && (seat.line_count > 0 || seat.holds > 0 || seat.leaves)) {
        atomic_store(&own->seat_news, true);
        sm_session_want(own->session);
    }
    tell_document_free(document);
}

// A beat of ours that is old says nothing of what followers hear now.
static void take_own_beat(post *own, const struct mosquitto_message *message) {
    static const tell_sizes none = {0};
    tell_beat_message *beat = calloc(1, sizeof *beat);
    tell_document *document =
        beat ? tell_read(TELL_BEAT, message->payload, (size_t)message->payloadlen, &none, beat) : NULL;
    pthread_mutex_lock(&own->lock);
    own->in.refused += !document;
    if (document && beat->mono_us > own->in.heard_us)
        own->in.heard_us = beat->mono_us;
    pthread_mutex_unlock(&own->lock);
    tell_document_free(document);
    free(beat);
}

// What follows LAST and a slash in the topic NAME; NULL: it is another topic.
static const char *below(const post *own, const char *name, const char *last) {
    char prefix[TELL_TOPIC_BYTES];
    topic_name(own, last, prefix);
    size_t length = strlen(prefix);
    return strncmp(name, prefix, length) == 0 && name[length] == '/' ? name + length + 1 : NULL;
}

static void on_message(struct mosquitto *client, void *context, const struct mosquitto_message *message,
                       const mosquitto_property *p) {
    post *own = context;
    const char *id = below(own, message->topic, "ping"), *seat = below(own, message->topic, "seat");
    (void)p;
    tell_client_acknowledge(client);
    if (id)
        take_ping(own, id, message);
    else if (seat)
        take_seat(own, seat, message);
    else
        take_own_beat(own, message);
}

bool post_has_seat_news(const post *own) {
    return atomic_load(&own->seat_news);
}

void post_free_seat(post *own, const char *name) {
    pthread_mutex_lock(&own->lock);
    seats_free(&own->seats, name);
    pthread_mutex_unlock(&own->lock);
    atomic_store(&own->seat_news, true);
}

bool post_say(post *own, const char *seat, sm_seat_word word, const char *text) {
    pthread_mutex_lock(&own->lock);
    bool said = seats_say(&own->seats, seat, word, text);
    pthread_mutex_unlock(&own->lock);
    atomic_store(&own->seat_news, true);
    return said;
}

void post_take(post *own, post_news *out) {
    atomic_store(&own->seat_news, false);
    pthread_mutex_lock(&own->lock);
    seats_look(&own->seats, tell_mono_us());
    *out = own->in;
    out->cause = (tell_cause)atomic_load(&own->reach.cause);
    out->seat_count = own->seats.count;
    for (uint32_t i = 0; i < own->seats.count; i++)
        out->seats[i] = own->seats.at[i].seat;
    own->in.wanted = own->in.connected = false;
    pthread_mutex_unlock(&own->lock);
}

// ---- publishing (the writer's thread) -----------------------------------------------------------

static void publish(post *own, tell_topic topic, const void *bytes, size_t length, uint32_t expiry_s) {
    publish_to(own, topic, "", bytes, length, expiry_s);
}

static void publish_link(post *own, tell_link link) {
    tell_link_message message = {.mono_us = tell_mono_us(), .link = (int32_t)link};
    snprintf(message.title, sizeof message.title, "%s", own->show.title);
    sm_text_clear(&own->text);
    tell_write(&own->text, TELL_LINK, &message, NULL, NULL);
    if (!own->text.failed)
        publish(own, TELL_LINK, own->text.bytes, own->text.length, 10);
}

static void publish_show(post *own) {
    own->message.mono_us = tell_mono_us();
    sm_text_clear(&own->text);
    tell_write(&own->text, TELL_SHOW, &own->message, NULL, NULL);
    uint32_t each_s = 2 + (uint32_t)(own->text.length / REFRESH_BYTES_A_S);
    atomic_store(&own->show_due_us, own->message.mono_us + each_s * SM_US_PER_S);
    if (!own->text.failed)
        publish(own, TELL_SHOW, own->text.bytes, own->text.length, 5 * each_s);
}

static void free_files(post *own) {
    for (uint32_t i = 0; i < TELL_FILES_MAX; i++) {
        free(own->texts[i]);
        own->texts[i] = NULL;
    }
    own->message.file_count = 0;
}

// The tables without readings, which stand in the state, and without what people walk by. Nothing else of the folder is told.
static void read_files(post *own) {
    size_t count;
    const sm_table_schema *tables = sm_show_schema(&count);
    free_files(own);
    for (size_t i = 0; i < count && own->message.file_count < TELL_FILES_MAX; i++) {
        char path[sizeof own->show.folder + 64];
        char *bytes;
        size_t length;
        if (strcmp(tables[i].file, "readings.csv") == 0 || strcmp(tables[i].file, "walk.csv") == 0)
            continue;
        snprintf(path, sizeof path, "%s/%s", own->show.folder, tables[i].file);
        if (sm_file_read(path, &bytes, &length) != SM_OK)
            continue;
        tell_file *file = &own->message.files[own->message.file_count];
        snprintf(file->name, sizeof file->name, "%s", tables[i].file);
        file->text = own->texts[own->message.file_count++] = bytes;
    }
}

static void take_show(post *own, const char *bytes) {
    memcpy(&own->show, bytes, sizeof own->show);
    const post_show *show = &own->show;
    own->message = (tell_show_message){.show = show->number,
                                       .launch_us = show->launch_us,
                                       .length_us = show->length_us,
                                       .slots = show->slots,
                                       .channels = show->channels,
                                       .cues = show->cues,
                                       .events = show->events};
    read_files(own);
    own->has_show = true;
}

static void begin(post *own) {
    tell_cause cause = TELL_NO_ANSWER;
    if (!own->begun)
        tell_client_begin(own->client, &own->broker, &cause);
    tell_reach_begin(&own->reach, cause);
    own->begun = true;
}

static int write_letters(void *context, const char *bytes, size_t length, bool durable) {
    post *own = context;
    (void)durable;
    begin(own);
    for (size_t at = 0; at < length;) {
        letter head;
        memcpy(&head, bytes + at, sizeof head);
        at += sizeof head;
        if (head.kind == LETTER_MESSAGE)
            publish_to(own, head.topic, head.seat, bytes + at, head.length, head.expiry_s);
        else if (head.kind == LETTER_SHOW)
            take_show(own, bytes + at);
        at += head.length;
        if (head.kind != LETTER_MESSAGE)
            publish_link(own, TELL_LIVE);
        if (head.kind == LETTER_SHOW || (own->has_show && head.kind == LETTER_REFRESH &&
                                         tell_mono_us() >= atomic_load(&own->show_due_us)))
            publish_show(own);
    }
    return 0;
}

// Waits until what was published is sent and the broker has let go, at most a second.
static void leave(post *own) {
    const int64_t until = sm_monotonic_us() + SM_US_PER_S;
    while (atomic_load(&own->in_flight) > 0 && atomic_load(&own->reach.connected) &&
           sm_monotonic_us() < until)
        nanosleep(&(struct timespec){.tv_nsec = 2000000}, NULL);
    atomic_store(&own->reach.gone, false);
    if (mosquitto_disconnect_v5(own->client, 0, NULL) == MOSQ_ERR_SUCCESS)
        while (!atomic_load(&own->reach.gone) && sm_monotonic_us() < until)
            nanosleep(&(struct timespec){.tv_nsec = 2000000}, NULL);
}

static void finish(void *context) {
    post *own = context;
    static const tell_topic retained[] = {TELL_SHOW, TELL_STATE, TELL_LINK};
    publish_link(own, TELL_ENDED);
    for (size_t i = 0; i < sizeof retained / sizeof retained[0]; i++)
        publish(own, retained[i], "", 0, 0);
    if (atomic_load(&own->reach.connected))
        leave(own);
    tell_client_destroy(own->client); // may wait as well
    own->client = NULL;
}

static void let_go(void *context) {
    post *own = context;
    tell_client_destroy(own->client);
    free_files(own);
    sm_text_deinit(&own->text);
    seats_deinit(&own->seats);
    pthread_mutex_destroy(&own->lock);
    free(own);
}

// ---- letters (the session's thread) -------------------------------------------------------------

static bool put(post *own, const letter *head, const void *bytes) {
    sm_text both = {0};
    sm_text_append(&both, (const char *)head, sizeof *head);
    if (head->length > 0)
        sm_text_append(&both, bytes, head->length);
    bool good = !both.failed && sm_background_put(own->background, both.bytes, both.length, true);
    sm_text_deinit(&both);
    return good;
}

bool post_put(post *own, tell_topic topic, const sm_text *text, uint32_t expiry_s) {
    if (text->failed)
        return false;
    const letter head = {
        .kind = LETTER_MESSAGE, .topic = topic, .expiry_s = expiry_s, .length = text->length};
    return put(own, &head, text->bytes);
}

// What is new for those who sit elsewhere.
void post_tell_seats(post *own) {
    for (uint32_t i = 0; i < TELL_SEATS_MAX; i++) {
        letter head = {.kind = LETTER_MESSAGE, .topic = TELL_TOLD, .expiry_s = 10};
        sm_text text = {0};
        pthread_mutex_lock(&own->lock);
        bool any = i < own->seats.count && seats_write(&own->seats, i, tell_mono_us(), &text);
        snprintf(head.seat, sizeof head.seat, "%s", any ? own->seats.at[i].seat.name : "");
        pthread_mutex_unlock(&own->lock);
        head.length = text.length;
        if (any)
            put(own, &head, text.bytes);
        sm_text_deinit(&text);
    }
}

bool post_put_show(post *own, const post_show *show) {
    const letter head = {.kind = LETTER_SHOW, .length = sizeof *show};
    return put(own, &head, show);
}

bool post_refresh(post *own) {
    const letter head = {.kind = LETTER_REFRESH};
    return put(own, &head, NULL);
}

// ---- beginning and ending -----------------------------------------------------------------------

// What the broker says for us when we are gone.
static bool set_will(post *own) {
    const tell_link_message message = {.mono_us = tell_mono_us(), .link = TELL_GONE};
    char topic[TELL_TOPIC_BYTES];
    mosquitto_property *properties = NULL;
    topic_name(own, "link", topic);
    tell_write(&own->text, TELL_LINK, &message, NULL, NULL);
    if (own->text.failed ||
        mosquitto_property_add_int32(&properties, MQTT_PROP_MESSAGE_EXPIRY_INTERVAL, 10) != MOSQ_ERR_SUCCESS)
        return false;
    // On success the properties are the library's.
    bool set = mosquitto_will_set_v5(own->client, topic, (int)own->text.length, own->text.bytes, 1, true,
                                     properties) == MOSQ_ERR_SUCCESS;
    if (!set)
        mosquitto_property_free_all(&properties);
    return set;
}

sm_result post_create(const sm_broker *broker, const char *run, const char *seats, sm_session *session,
                      char problem[SM_SESSION_PROBLEM], post **out) {
    static const sm_background_work work = {.write = write_letters, .finish = finish, .abandon = let_go};
    char id[64];
    post *own = calloc(1, sizeof *own);
    problem[0] = '\0';
    if (!own)
        return SM_NO_MEMORY;
    own->broker = *broker;
    own->session = session;
    seats_grant(&own->seats, seats);
    snprintf(own->run, sizeof own->run, "%s", run);
    snprintf(id, sizeof id, "slowmatch-%s", run);
    pthread_mutex_init(&own->lock, NULL);
    own->client = tell_client_create(broker, id, own, problem);
    if (own->client && set_will(own)) {
        mosquitto_connect_v5_callback_set(own->client, on_connect);
        mosquitto_disconnect_v5_callback_set(own->client, on_disconnect);
        mosquitto_publish_v5_callback_set(own->client, on_publish);
        mosquitto_message_v5_callback_set(own->client, on_message);
        mosquitto_log_callback_set(own->client, on_log);
        if (sm_background_start(&work, own, &own->background) == SM_OK) {
            *out = own;
            return SM_OK;
        }
    }
    let_go(own);
    return problem[0] ? SM_UNREADABLE : SM_NO_MEMORY;
}

void post_destroy(post *own) {
    if (!own)
        return;
    pthread_mutex_lock(&own->lock);
    own->closed = true;
    pthread_mutex_unlock(&own->lock);
    if (sm_background_close(own->background, CLOSE_PATIENCE_US))
        let_go(own);
}
