// SPDX-License-Identifier: GPL-3.0-or-later
// What a follower makes of messages in any order: those of a rehearsal, lost, late, twice, broken, of another show, forged in part. What it
// shows is at each moment something that was told, whole; and where it does not say that it is behind, it is the latest that came.
#include "support/engine_random.h"
#include "tell/mirror.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define MESSAGES 400

typedef struct told {
    tell_topic topic;
    int64_t seq;
    char *bytes;
    size_t length;
} told;

typedef struct stream {
    sm_show *show;
    told messages[MESSAGES];
    size_t count;
    char *states[MESSAGES]; // of each seq, as text
    sm_text show_message;
} stream;

static char *as_text(const sm_snapshot *now) {
    sm_text text = {0};
    engine_snapshot_text(&text, now);
    assert_false(text.failed);
    return text.bytes;
}

static void put(stream *s, tell_topic topic, int64_t seq, const sm_text *text) {
    assert_true(s->count < MESSAGES && !text->failed);
    told *message = &s->messages[s->count++];
    *message = (told){.topic = topic, .seq = seq, .bytes = malloc(text->length), .length = text->length};
    assert_non_null(message->bytes);
    memcpy(message->bytes, text->bytes, text->length);
}

// The tables of the demo show as a teller sends them.
static void put_show(stream *s) {
    static const char *const names[] = {"show.ini",     "modules.csv",   "rails.csv",    "igniters.csv",
                                        "effects.csv",  "positions.csv", "profiles.csv", "feeds.csv",
                                        "fixtures.csv", "groups.csv",    "lines.csv",    "cues.csv"};
    tell_show_message message = {.mono_us = 1,
                                 .show = 1,
                                 .length_us = s->show->length_us,
                                 .slots = (int32_t)s->show->slot_count,
                                 .channels = (int32_t)s->show->channel_count,
                                 .cues = (int32_t)s->show->cue_count,
                                 .events = (int32_t)s->show->event_count};
    char *texts[sizeof names / sizeof names[0]];
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        char path[96];
        size_t length;
        snprintf(path, sizeof path, "demo-shows/lantern-quay/%s", names[i]);
        assert_int_equal(sm_file_read(path, &texts[i], &length), SM_OK);
        tell_file *file = &message.files[message.file_count++];
        snprintf(file->name, sizeof file->name, "%s", names[i]);
        file->text = texts[i];
    }
    tell_write(&s->show_message, TELL_SHOW, &message, NULL, NULL);
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        free(texts[i]);
}

// A rehearsal of half a minute, an event each 0.15 s, a whole state after each fifth.
static stream *begin(void) {
    stream *s = calloc(1, sizeof *s);
    engine_run run;
    sm_snapshot *was;
    sm_text text = {0};
    sm_findings *findings = sm_findings_create();
    assert_non_null(s);
    assert_int_equal(sm_show_load("demo-shows/lantern-quay", &(sm_show_load_options){0}, findings, &s->show),
                     SM_OK);
    sm_findings_destroy(findings);
    sm_show_set_audio_end(s->show, 92 * SM_US_PER_S);
    put_show(s);
    const sm_rehearsal_options options = {.readings_not_judged = true};
    engine_run_init(&run, s->show, &options);
    assert_int_equal(sm_snapshot_create(s->show, &was), SM_OK);
    const tell_sizes sizes = tell_sizes_of(s->show);
    engine_act(&run, 0, "call-clear J");
    engine_act(&run, 0, "key on");
    engine_act(&run, 0, "arm");
    engine_act(&run, 4, "start");
    tell_snapshot_copy(was, engine_look(&run));
    s->states[0] = as_text(was);
    tell_event_message *event = calloc(1, sizeof *event);
    assert_non_null(event);
    for (int64_t seq = 1; seq <= 200; seq++) {
        engine_to(&run, 4 + 0.15 * (double)seq);
        sm_snapshot *now = (sm_snapshot *)(uintptr_t)engine_look(&run);
        *event = (tell_event_message){.mono_us = 100 * seq, .seq = seq, .show = 1, .change = now};
        sm_text_clear(&text);
        tell_write(&text, TELL_EVENT, event, &sizes, was);
        put(s, TELL_EVENT, seq, &text);
        tell_snapshot_copy(was, now);
        s->states[seq] = as_text(now);
        const tell_state_message state = {.mono_us = 100 * seq + 1, .seq = seq, .show = 1, .now = now};
        sm_text_clear(&text);
        tell_write(&text, TELL_STATE, &state, &sizes, NULL);
        if (seq % 5 == 0)
            put(s, TELL_STATE, seq, &text);
    }
    free(event);
    sm_text_deinit(&text);
    sm_snapshot_destroy(was);
    engine_run_deinit(&run);
    return s;
}

static void end(stream *s) {
    for (size_t i = 0; i < MESSAGES; i++) {
        free(s->messages[i].bytes);
        free(s->states[i]);
    }
    sm_text_deinit(&s->show_message);
    sm_show_destroy(s->show);
    free(s);
}

static void hold(const mirror *m, const stream *s) {
    if (!m->has_state)
        return;
    char *shown = as_text(m->now);
    assert_string_equal(shown, s->states[m->seq]);
    free(shown);
    assert_true(m->seq <= m->seen);
    assert_int_equal(mirror_is_behind(m), m->seen > m->seq);
}

static void in_order_it_is_the_same_at_each_step(void **state) {
    (void)state;
    stream *s = begin();
    mirror *m = calloc(1, sizeof *m);
    assert_non_null(m);
    mirror_take(m, TELL_SHOW, s->show_message.bytes, s->show_message.length);
    bool whole = false;
    for (size_t i = 0; i < s->count; i++) {
        const told *message = &s->messages[i];
        mirror_take(m, message->topic, message->bytes, message->length);
        whole |= message->topic == TELL_STATE;
        hold(m, s);
        assert_true(!whole || (m->seq == message->seq && !mirror_is_behind(m)));
    }
    assert_int_equal(m->missed + m->refused, 0);
    mirror_deinit(m);
    free(m);
    end(s);
}

// One of: the next, one again, none, a broken one.
static void step(mirror *m, const stream *s, engine_dice *dice, size_t *at) {
    uint32_t how = engine_roll(dice, 10);
    size_t which = how < 6 || *at == 0 ? *at : engine_roll(dice, (uint32_t)*at);
    const told *message = &s->messages[which];
    *at += how < 6 || how == 9;
    if (how == 9) // lost
        return;
    char *bytes = malloc(message->length);
    assert_non_null(bytes);
    memcpy(bytes, message->bytes, message->length);
    size_t length = message->length;
    if (how == 8) { // broken: it ends early, and so is none
        length = engine_roll(dice, (uint32_t)length);
        bytes[0] = engine_roll(dice, 2) ? '{' : '[';
    }
    mirror_take(m, how == 7 ? TELL_SHOW : message->topic, bytes, length);
    free(bytes);
}

static void in_any_order_it_is_one_that_was_told(void **state) {
    (void)state;
    stream *s = begin();
    engine_dice dice = {7};
    int runs = engine_soaks() ? 4200 : 12; // of 240 messages: a million
    for (int run = 0; run < runs; run++) {
        mirror *m = calloc(1, sizeof *m);
        assert_non_null(m);
        mirror_take(m, TELL_SHOW, s->show_message.bytes, s->show_message.length);
        for (size_t at = 0; at < s->count;) {
            step(m, s, &dice, &at);
            hold(m, s);
        }
        const told *last = &s->messages[s->count - 1]; // a whole state
        assert_int_equal(last->topic, TELL_STATE);
        mirror_take(m, last->topic, last->bytes, last->length);
        assert_true(!mirror_is_behind(m) && m->seq == 200);
        hold(m, s);
        assert_true(m->missed > 0 && m->refused > 0);
        mirror_deinit(m);
        free(m);
    }
    end(s);
}

// Tables that make another show than the numbers beside them say, files that no show has, and a way out of the folder.
static void a_show_that_does_not_fit_is_refused(void **state) {
    (void)state;
    static const char *const shows[] = {
        "{\"mono_us\":1,\"show\":1,\"launch_us\":0,\"length_us\":0,\"slots\":0,\"channels\":0,\"cues\":0,"
        "\"events\":0,\"files\":[]}",
        "{\"mono_us\":1,\"show\":1,\"launch_us\":0,\"length_us\":0,\"slots\":9,\"channels\":0,\"cues\":0,"
        "\"events\":0,"
        "\"files\":[{\"name\":\"show.ini\",\"text\":\"[show]\\ntitle = "
        "x\\n\"},{\"name\":\"cues.csv\",\"text\":\"time,target,do\\n\"}]}",
        "{\"mono_us\":1,\"show\":1,\"launch_us\":0,\"length_us\":0,\"slots\":0,\"channels\":0,\"cues\":0,"
        "\"events\":0,"
        "\"files\":[{\"name\":\"../slowmatch-escaped\",\"text\":\"x\"}]}",
        "{\"mono_us\":1,\"show\":1,\"launch_us\":0,\"length_us\":0,\"slots\":0,\"channels\":0,\"cues\":0,"
        "\"events\":0,"
        "\"files\":[{\"name\":\"music.ogg\",\"text\":\"x\"}]}",
    };
    for (size_t i = 0; i < sizeof shows / sizeof shows[0]; i++) {
        mirror *m = calloc(1, sizeof *m);
        assert_non_null(m);
        mirror_take(m, TELL_SHOW, shows[i], strlen(shows[i]));
        assert_int_equal(m->refused, 1);
        assert_null(m->coming);
        mirror_deinit(m);
        free(m);
    }
    FILE *escaped = fopen("/tmp/slowmatch-escaped", "r");
    assert_null(escaped);
}

static void take_text(mirror *m, const char *text) {
    mirror_take(m, TELL_SHOW, text, strlen(text));
}

// What is told again to the letter is the same show, and newer than what was told between.
static void a_show_is_told_again(void **state) {
    (void)state;
#define TOLD_SHOW(mono, length)                                                                              \
    "{\"mono_us\":" mono ",\"show\":1,\"launch_us\":0,\"length_us\":" length                                 \
    ",\"slots\":0,\"channels\":0,\"cues\":0,\"events\":0,\"files\":[{\"name\":\"show.ini\",\"text\":"        \
    "\"[show]\\ntitle = x\\n\"},{\"name\":\"cues.csv\",\"text\":\"time,target,do\\n\"}]}"
    mirror *m = calloc(1, sizeof *m);
    assert_non_null(m);
    take_text(m, TOLD_SHOW("1", "5000000"));
    assert_non_null(m->coming);
    const sm_show *first = m->coming;
    take_text(m, TOLD_SHOW("3", "7000000"));
    assert_int_equal(m->show_mono_us, 3);
    take_text(m, TOLD_SHOW("9", "7000000"));
    assert_int_equal(m->show_mono_us, 9);
    take_text(m, TOLD_SHOW("5", "5000000")); // late
    take_text(m, TOLD_SHOW("2", "7000000"));
    assert_int_equal(m->show_mono_us, 9);
    assert_ptr_equal(m->coming, first);
    assert_int_equal(m->refused, 0);
    take_text(m, "{\"mono_us\":11");
    take_text(m, "{\"mono_us\":99999999999999999999999,\"show\":1}");
    assert_int_equal(m->refused, 2);
    assert_int_equal(m->show_mono_us, 9);
    mirror_deinit(m);
    free(m);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(in_order_it_is_the_same_at_each_step),
        cmocka_unit_test(in_any_order_it_is_one_that_was_told),
        cmocka_unit_test(a_show_that_does_not_fit_is_refused),
        cmocka_unit_test(a_show_is_told_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
