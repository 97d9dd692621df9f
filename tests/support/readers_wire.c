// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/code_reader.h"
#include "link/pipe.h"
#include "ltc_writer.h"
#include "readers_own.h"
#include "tell/mirror.h"

#include "slowmatch/link.h"
#include "slowmatch/sacn.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cmocka.h>

#define LTC_HZ 8000

// A message that has no mirror of the show to go into.
static void read_message(tell_topic topic, const char *bytes, size_t length) {
    union {
        tell_ping_message ping;
        tell_seat_message seat;
        tell_told_message told;
        tell_link_message link;
        tell_beat_message beat;
    } *into = calloc(1, sizeof *into);
    assert_non_null(into);
    tell_document_free(tell_read(topic, bytes, length, NULL, into));
    free(into);
}

// Messages, a line each: the number of the topic, then the message.
void readers_take_messages(const char *name, const char *bytes, size_t length) {
    (void)name;
    mirror *m = calloc(1, sizeof *m);
    assert_non_null(m);
    for (const char *at = bytes, *end = bytes + length; at < end;) {
        const char *line_end = memchr(at, '\n', (size_t)(end - at));
        line_end = line_end ? line_end : end;
        const unsigned topic = (unsigned char)*at - '0';
        const size_t rest = (size_t)(line_end - at) - (line_end > at);
        if (topic < TELL_TOPIC_COUNT && rest < TELL_BYTES_MAX) {
            mirror_take(m, (tell_topic)topic, at + 1, rest);
            if (topic >= TELL_LINK && topic != TELL_EVENT)
                read_message((tell_topic)topic, at + 1, rest);
        }
        at = line_end + 1;
    }
    mirror_deinit(m);
    free(m);
}

// The examples of the contract, and a rehearsal in which each comes.
bool readers_seed_messages(const char *name, size_t i, sm_text *out) {
    (void)name;
    if (i < TELL_TOPIC_COUNT) {
        sm_text_printf(out, "%zu%s\n", i, tell_topic_row_of((tell_topic)i)->example);
        return true;
    }
    sm_text_printf(out,
                   "0{\"mono_us\":1,\"show\":1,\"launch_us\":0,\"length_us\":5000000,\"slots\":0,"
                   "\"channels\":0,\"cues\":0,\"events\":0,\"files\":[{\"name\":\"show.ini\",\"text\":"
                   "\"[show]\\ntitle = x\\n\"},{\"name\":\"cues.csv\",\"text\":\"time,target,do\\n\"}]}\n");
    for (size_t k = 1; k < TELL_TOPIC_COUNT; k++)
        sm_text_printf(out, "%zu%s\n", k, tell_topic_row_of((tell_topic)k)->example);
    return i == TELL_TOPIC_COUNT;
}

void readers_take_sacn(const char *name, const char *bytes, size_t length) {
    (void)name;
    sm_sacn_heard heard;
    if (!sm_sacn_read((const uint8_t *)bytes, length, &heard))
        return;
    assert_non_null(memchr(heard.source.name, '\0', sizeof heard.source.name));
    assert_in_range(heard.head.universe, 1, SM_SACN_UNIVERSE_MAX);
    assert_true(heard.head.priority <= 200);
}

bool readers_seed_sacn(const char *name, size_t i, sm_text *out) {
    const sm_sacn_source source = {.cid = {1, 2, 3}, .name = "a desk"};
    const sm_sacn_head head = {.universe = 1, .priority = 100};
    const uint8_t slots[SM_SACN_SLOTS] = {255};
    uint8_t packet[SM_SACN_DATA_BYTES];
    (void)name;
    sm_sacn_data(&source, &head, slots, packet);
    sm_text_append(out, (const char *)packet, sizeof packet);
    return i == 0;
}

void readers_take_ltc(const char *name, const char *bytes, size_t length) {
    (void)name;
    const sm_moment_base base = readers_show()->settings.timecode;
    sm_code_reader *reader = calloc(1, sizeof *reader);
    float *samples = malloc((length + 1) * sizeof *samples);
    assert_true(reader && samples);
    assert_true(sm_code_reader_init(reader, LTC_HZ, &base, SM_US_PER_S));
    for (size_t i = 0; i < length; i++)
        samples[i] = (float)(signed char)bytes[i] / 127;
    for (size_t at = 0; at < length; at += 256)
        sm_code_reader_take(reader, at, samples + at, length - at < 256 ? length - at : 256);
    sm_code_reader_deinit(reader);
    free(samples);
    free(reader);
}

bool readers_seed_ltc(const char *name, size_t i, sm_text *out) {
    (void)name;
    float samples[LTC_HZ / 4];
    ltc_writer writer;
    ltc_writer_init(&writer, LTC_HZ, 25, 25, (ltc_frame){.hours = 1});
    ltc_writer_write(&writer, samples, sizeof samples / sizeof *samples, 1);
    for (size_t k = 0; k < sizeof samples / sizeof *samples; k++)
        sm_text_append(out, &(char){(char)(100 * samples[k])}, 1);
    return i == 0;
}

static void say_nothing(void *context, const char *line) {
    (void)context;
    assert_non_null(line);
}

// Both ends read lines by one piece; what an instructor asks for is done.
void readers_take_instructor(const char *name, const char *bytes, size_t length) {
    (void)name;
    int ends[2];
    link_pipe pipe;
    sm_drill_run *run;
    sm_link_feed feed = {0};
    sm_wall_time now = {0};
    char line[SM_LINK_LINE];
    assert_int_equal(sm_drill_run_create(readers_drill(), &(sm_drill_options){0}, &run), SM_OK);
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK, 0, ends), 0);
    link_pipe_open(&pipe, ends[0]);
    ssize_t sent = length ? send(ends[1], bytes, length, MSG_NOSIGNAL) : 0;
    assert_true(sent >= 0);
    close(ends[1]);
    for (bool did = false; link_pipe_get(&pipe, line) == LINK_GOT_LINE; now.us += SM_US_PER_S / 10) {
        assert_int_equal(sm_link_obey(&feed, run, now, line, say_nothing, NULL, &did), SM_OK);
        sm_link_tell_news(&feed, run, say_nothing, NULL);
    }
    link_pipe_close(&pipe);
    sm_drill_run_destroy(run);
}

bool readers_seed_instructor(const char *name, size_t i, sm_text *out) {
    (void)name;
    sm_text_printf(out, "go-drill\nhold-drill\ninject wind 14 m/s\nmisfire A-01\nwords\nnote well done\n"
                        "weather storm\npeople in\n");
    return i == 0;
}
