// SPDX-License-Identifier: GPL-3.0-or-later
#include "tell/broker.h"

#include "tell/contract.h"

#include "slowmatch/ini.h"

#include <assert.h>
#include <errno.h>
#include <jansson.h>
#include <mqtt_protocol.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>
#include <sys/socket.h>
#include <sys/stat.h>

// ---- the address and the keys -----------------------------------------------------------------

// "HOST", "HOST:PORT", "[HOST]:PORT", a bare address with colons.
static bool split_address(const char *address, sm_broker *out) {
    const char *host = address, *end = strrchr(address, ':'), *port = end ? end + 1 : NULL;
    size_t length = end ? (size_t)(end - address) : strlen(address);
    if (address[0] == '[') {
        const char *closed = strchr(address, ']');
        if (!closed || (closed[1] != '\0' && closed[1] != ':'))
            return false;
        host = address + 1;
        length = (size_t)(closed - host);
        port = closed[1] == ':' ? closed + 2 : NULL;
    } else if (end && memchr(address, ':', length)) {
        length = strlen(address);
        port = NULL;
    }
    if (length == 0 || length >= sizeof out->host)
        return false;
    memcpy(out->host, host, length);
    out->host[length] = '\0';
    int32_t number = 0;
    if (port && (sm_integer_read(port, strlen(port), &number) != SM_OK || number < 1 || number > 65535))
        return false;
    out->port = number;
    return true;
}

static bool is_loopback(const char *host) {
    return strcmp(host, "localhost") == 0 || strncmp(host, "127.", 4) == 0 || strcmp(host, "::1") == 0;
}

static const struct {
    const char *name;
    size_t offset, size;
} key_rows[] = {
    {"user", offsetof(sm_broker, user), sizeof(((sm_broker *)0)->user)},
    {"password", offsetof(sm_broker, password), sizeof(((sm_broker *)0)->password)},
    {"ca", offsetof(sm_broker, ca), sizeof(((sm_broker *)0)->ca)},
    {"psk-identity", offsetof(sm_broker, psk_identity), sizeof(((sm_broker *)0)->psk_identity)},
    {"psk", offsetof(sm_broker, psk), sizeof(((sm_broker *)0)->psk)},
};

static bool take_key(const sm_ini_entry *entry, sm_broker *out) {
    for (size_t i = 0; i < sizeof key_rows / sizeof key_rows[0]; i++) {
        size_t length = strlen(entry->value);
        if (strcmp(entry->section, "broker") != 0 || strcmp(entry->key, key_rows[i].name) != 0)
            continue;
        if (length >= key_rows[i].size)
            return false;
        memcpy((char *)out + key_rows[i].offset, entry->value, length + 1);
        return true;
    }
    return false;
}

static void read_entries(const char *path, const sm_ini *ini, sm_findings *findings, sm_broker *out) {
    for (size_t i = 0; i < ini->count; i++) {
        const sm_ini_entry *entry = &ini->entries[i];
        if (entry->key && !take_key(entry, out))
            sm_findings_add(findings, path, entry->line, entry->column, SM_ERROR, "broker",
                            "no such key; [broker] has user, password, and ca, or psk-identity and psk");
    }
}

static bool read_keys(const char *path, sm_broker *out, char problem[SM_SESSION_PROBLEM]) {
    char *bytes = NULL;
    size_t length;
    sm_arena *arena = sm_arena_create();
    sm_findings *findings = sm_findings_create();
    sm_ini ini;
    sm_text line = {0};
    struct stat about;
    if (stat(path, &about) == 0 && (about.st_mode & 077) != 0) {
        snprintf(problem, SM_SESSION_PROBLEM,
                 "%.200s holds keys, and others may read or write it: chmod 600 makes it yours alone", path);
        sm_findings_destroy(findings);
        sm_arena_destroy(arena);
        return false;
    }
    bool read = arena && findings && sm_file_read(path, &bytes, &length) == SM_OK;
    if (read) {
        sm_text_clean(path, bytes, length, findings);
        if (sm_ini_read(path, bytes, length, arena, findings, &ini) == SM_OK)
            read_entries(path, &ini, findings, out);
    }
    if (!read)
        snprintf(problem, SM_SESSION_PROBLEM, "%.200s: it cannot be read", path);
    else if (sm_findings_count(findings) > 0)
        sm_finding_format(&line, NULL, sm_findings_at(findings, 0));
    read = read && line.length == 0;
    if (line.length > 0)
        snprintf(problem, SM_SESSION_PROBLEM, "%.300s", sm_text_get(&line));
    sm_text_deinit(&line);
    sm_findings_destroy(findings);
    sm_arena_destroy(arena);
    free(bytes);
    return read;
}

bool sm_broker_read(const char *address, const char *keys_path, sm_broker *out,
                    char problem[SM_SESSION_PROBLEM]) {
    sm_broker broker = {0};
    if (!split_address(address, &broker)) {
        snprintf(problem, SM_SESSION_PROBLEM, "%.100s is no broker; write HOST or HOST:PORT", address);
        return false;
    }
    if (keys_path && !read_keys(keys_path, &broker, problem))
        return false;
    broker.tls = broker.ca[0] || broker.psk[0];
    if (!is_loopback(broker.host) && (!broker.tls || !(broker.user[0] || broker.psk_identity[0]))) {
        snprintf(
            problem, SM_SESSION_PROBLEM,
            "%.60s is another machine: that goes only with TLS and a user; write --broker-keys FILE with "
            "[broker] user, password and ca, or psk-identity and psk (slowmatch(1), FOLLOWERS)",
            broker.host);
        return false;
    }
    if (broker.port == 0)
        broker.port = broker.tls ? 8883 : 1883;
    *out = broker;
    return true;
}

// ---- seats ------------------------------------------------------------------------------------

bool sm_seats_are_good(const char *names) {
    static const char letters[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_";
    for (int i = 0; i < TELL_SEATS_MAX; i++) {
        size_t length = strspn(names, letters);
        if (length == 0 || length >= SM_SEAT_NAME || (names[length] != '\0' && names[length] != ','))
            return false;
        if (names[length] == '\0')
            return true;
        names += length + 1;
    }
    return false;
}

// ---- a client ---------------------------------------------------------------------------------

void tell_random_name(char *out, size_t length) {
    static const char letters[] = "abcdefghjkmnpqrstuvwxyz23456789";
    unsigned char random[64] = {0};
    if (getrandom(random, sizeof random, 0) < 0) {
        const int64_t now = tell_mono_us();
        memcpy(random, &now, sizeof now);
    }
    for (size_t i = 0; i + 1 < length; i++)
        out[i] = letters[random[i % sizeof random] % (sizeof letters - 1)];
    out[length - 1] = '\0';
}

static int secure(struct mosquitto *client, const sm_broker *broker) {
    int result = MOSQ_ERR_SUCCESS;
    if (broker->user[0])
        result = mosquitto_username_pw_set(client, broker->user, broker->password);
    if (result == MOSQ_ERR_SUCCESS && broker->psk[0])
        result = mosquitto_tls_psk_set(client, broker->psk, broker->psk_identity, NULL);
    else if (result == MOSQ_ERR_SUCCESS && broker->ca[0])
        result = mosquitto_tls_set(client, broker->ca, NULL, NULL, NULL, NULL);
    return result;
}

struct mosquitto *tell_client_create(const sm_broker *broker, const char *id, void *context,
                                     char problem[SM_SESSION_PROBLEM]) {
    mosquitto_lib_init();
    struct mosquitto *client = mosquitto_new(id, true, context);
    if (client) {
        mosquitto_int_option(client, MOSQ_OPT_PROTOCOL_VERSION, MQTT_PROTOCOL_V5);
        mosquitto_int_option(client, MOSQ_OPT_TCP_NODELAY, 1);
        mosquitto_reconnect_delay_set(client, 1, 1, false);
        int result = secure(client, broker);
        if (result == MOSQ_ERR_SUCCESS)
            return client;
        snprintf(problem, SM_SESSION_PROBLEM, "the broker's keys cannot be used: %s",
                 mosquitto_strerror(result));
        mosquitto_destroy(client);
    }
    mosquitto_lib_cleanup();
    return NULL;
}

const char *tell_cause_text(tell_cause cause) {
    static const char *const texts[] = {
        [TELL_NO_ANSWER] = "it does not answer",
        [TELL_NOBODY] = "nobody listens there: is the broker running, is the port right?",
        [TELL_NO_HOST] = "no such machine is known here",
        [TELL_HANGS_UP] = "it hangs up: does it ask for TLS (--broker-keys), or for none?",
        [TELL_REFUSES] = "it refuses us: user, password or rights are wrong",
        [TELL_KEYS] = "TLS could not be agreed on: the PSK, its identity or the certificate is wrong",
        [TELL_CONNECTED] = "connected, and nothing comes",
    };
    static_assert(sizeof texts / sizeof texts[0] == TELL_CAUSE_COUNT, "a text for each");
    return texts[cause];
}

void tell_reach_answer(tell_reach *reach, int code) {
    atomic_store(&reach->cause, code == 0 ? TELL_CONNECTED : TELL_REFUSES);
}

void tell_reach_hang_up(tell_reach *reach) {
    atomic_store(&reach->connected, false);
    if (atomic_load(&reach->cause) != TELL_REFUSES)
        atomic_store(&reach->cause, TELL_HANGS_UP);
    atomic_store(&reach->gone, true);
}

void tell_reach_read_log(tell_reach *reach, const char *line) {
    if (strstr(line, "OpenSSL Error"))
        atomic_store(&reach->cause, TELL_KEYS);
}

void tell_reach_begin(tell_reach *reach, tell_cause cause) {
    int none = TELL_NO_ANSWER;
    atomic_compare_exchange_strong(&reach->cause, &none, (int)cause);
}

bool tell_client_begin(struct mosquitto *client, const sm_broker *broker, tell_cause *cause) {
    // Where nobody answers yet, the thread tries again.
    int result = mosquitto_connect_async(client, broker->host, broker->port, TELL_KEEPALIVE_S);
    *cause = result == MOSQ_ERR_EAI                              ? TELL_NO_HOST
             : result == MOSQ_ERR_ERRNO && errno == ECONNREFUSED ? TELL_NOBODY
                                                                 : TELL_NO_ANSWER;
    return mosquitto_loop_start(client) == MOSQ_ERR_SUCCESS;
}

void tell_client_destroy(struct mosquitto *client) {
    if (!client)
        return;
    mosquitto_loop_stop(client, true);
    mosquitto_destroy(client);
    mosquitto_lib_cleanup();
}

void tell_client_acknowledge(struct mosquitto *client) {
    const int at_once = 1;
    // It may fail, where the connection is just lost: then nothing is to be acknowledged.
    (void)setsockopt(mosquitto_socket(client), IPPROTO_TCP, TCP_QUICKACK, &at_once, sizeof at_once);
}

bool tell_client_publish(struct mosquitto *client, const char *topic, const void *bytes, size_t length,
                         int qos, bool retained, uint32_t expiry_s) {
    mosquitto_property *properties = NULL;
    if (expiry_s > 0 && mosquitto_property_add_int32(&properties, MQTT_PROP_MESSAGE_EXPIRY_INTERVAL,
                                                     expiry_s) != MOSQ_ERR_SUCCESS)
        return false;
    int result = mosquitto_publish_v5(client, NULL, topic, (int)length, bytes, qos, retained, properties);
    mosquitto_property_free_all(&properties);
    return result == MOSQ_ERR_SUCCESS;
}

void sm_tell_libraries(sm_text *out) {
    int major, minor, revision;
    mosquitto_lib_version(&major, &minor, &revision);
    sm_text_printf(out, "libmosquitto %d.%d.%d, jansson %s", major, minor, revision, JANSSON_VERSION);
}
