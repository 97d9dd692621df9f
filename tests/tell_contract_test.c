// SPDX-License-Identifier: GPL-3.0-or-later
// The messages: what is written is read again as it was, and the strict reader and a JSON-schema validator that nobody here wrote
// (python3-jsonschema, draft 7) agree on what is a message, whole and broken.
#include "support/engine_random.h"
#include "support/manual_page.h"
#include "tell/contract.h"

#include "slowmatch/rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#define LANTERN_QUAY "demo-shows/lantern-quay"

// ---- a rehearsal to tell of ---------------------------------------------------------------------

static const char script[] =
    "0 wind 4\n0 enter K\n0.5 leave K\n0.5 call-clear J\n0.5 inhibit A\n1 key on\n1 arm\n6.5 start\n"
    "14 mark verse\n40 pause\n42 resume\n43 volume 50\n";

typedef struct told {
    engine_run run;
    sm_show *show;
    sm_snapshot *was, *mirror;
    tell_sizes sizes;
    sm_text text;
} told;

static told *told_create(void) {
    told *t = calloc(1, sizeof *t);
    assert_non_null(t);
    sm_findings *findings = sm_findings_create();
    const sm_show_load_options load = {.readings_file = LANTERN_QUAY "/readings-first.csv"};
    assert_int_equal(sm_show_load(LANTERN_QUAY, &load, findings, &t->show), SM_OK);
    sm_findings_destroy(findings);
    sm_show_set_audio_end(t->show, 90 * SM_US_PER_S);
    t->sizes = tell_sizes_of(t->show);
    const sm_rehearsal_options options = {.readings_not_judged = true};
    engine_run_init(&t->run, t->show, &options);
    assert_int_equal(sm_snapshot_create(t->show, &t->was), SM_OK);
    assert_int_equal(sm_snapshot_create(t->show, &t->mirror), SM_OK);
    return t;
}

static void told_destroy(told *t) {
    sm_text_deinit(&t->text);
    sm_snapshot_destroy(t->was);
    sm_snapshot_destroy(t->mirror);
    engine_run_deinit(&t->run);
    sm_show_destroy(t->show);
    free(t);
}

static void act_script(told *t) {
    char copy[sizeof script];
    memcpy(copy, script, sizeof script);
    for (char *rest = copy, *line = strsep(&rest, "\n"); line && *line; line = strsep(&rest, "\n")) {
        char *action;
        double at = strtod(line, &action);
        engine_act(&t->run, at, action + 1);
    }
}

static void state_text(told *t, sm_snapshot *now) {
    const tell_state_message message = {.mono_us = 81000000, .seq = 7, .show = 1, .now = now};
    sm_text_clear(&t->text);
    tell_write(&t->text, TELL_STATE, &message, &t->sizes, NULL);
    assert_false(t->text.failed);
}

static void event_text(told *t, sm_snapshot *now) {
    tell_event_message *message = calloc(1, sizeof *message);
    *message = (tell_event_message){.mono_us = 81000000, .seq = 8, .show = 1, .row_count = 1, .change = now};
    message->rows[0] = (tell_row){.show_us = SM_UNSET_US, .what = "state", .row = {.target = "A-05"}};
    sm_text_clear(&t->text);
    tell_write(&t->text, TELL_EVENT, message, &t->sizes, t->was);
    assert_false(t->text.failed);
    free(message);
}

static void assert_same(const sm_snapshot *a, const sm_snapshot *b) {
    sm_text one = {0}, two = {0};
    engine_snapshot_text(&one, a);
    engine_snapshot_text(&two, b);
    assert_string_equal(sm_text_get(&one), sm_text_get(&two));
    sm_text_deinit(&one);
    sm_text_deinit(&two);
}

// ---- written and read -------------------------------------------------------------------------------

static void read_state(told *t) {
    tell_state_message message = {.now = t->mirror};
    tell_document *document = tell_read(TELL_STATE, t->text.bytes, t->text.length, &t->sizes, &message);
    assert_non_null(document);
    tell_document_free(document);
    assert_int_equal(message.seq, 7);
}

static void read_event(told *t) {
    tell_event_message *message = calloc(1, sizeof *message);
    message->change = t->mirror;
    tell_document *document = tell_read(TELL_EVENT, t->text.bytes, t->text.length, &t->sizes, message);
    assert_non_null(document);
    tell_document_free(document);
    assert_int_equal(message->row_count, 1);
    assert_string_equal(message->rows[0].row.target, "A-05");
    free(message);
}

// A mirror that began with one state and then had changes alone holds what the engine does, at each look.
static void changes_carry_the_whole_state(void **state) {
    (void)state;
    told *t = told_create();
    act_script(t);
    state_text(t, (sm_snapshot *)(uintptr_t)engine_look(&t->run));
    read_state(t);
    tell_snapshot_copy(t->was, engine_look(&t->run));
    assert_same(t->mirror, engine_look(&t->run));
    for (int look = 0; look < 150; look++) {
        engine_to(&t->run, 44 + 0.37 * look);
        event_text(t, (sm_snapshot *)(uintptr_t)engine_look(&t->run));
        read_event(t);
        assert_same(t->mirror, engine_look(&t->run));
        assert_true(tell_snapshot_is_sound(t->mirror));
        tell_snapshot_copy(t->was, engine_look(&t->run));
    }
    told_destroy(t);
}

static void an_older_state_leaves_nothing_behind(void **state) {
    (void)state;
    told *t = told_create();
    sm_text before = {0};
    state_text(t, (sm_snapshot *)(uintptr_t)engine_look(&t->run));
    sm_text_append(&before, t->text.bytes, t->text.length);
    tell_snapshot_copy(t->was, engine_look(&t->run));
    act_script(t);
    state_text(t, (sm_snapshot *)(uintptr_t)engine_look(&t->run));
    read_state(t);
    sm_text_clear(&t->text);
    sm_text_append(&t->text, before.bytes, before.length);
    read_state(t);
    assert_same(t->mirror, t->was);
    sm_text_deinit(&before);
    told_destroy(t);
}

// ---- words --------------------------------------------------------------------------------------------

static const tell_field *field_named(const tell_field *fields, size_t count, const char *name) {
    for (size_t i = 0; i < count; i++)
        if (strcmp(fields[i].name, name) == 0)
            return &fields[i];
    fail_msg("no field %s", name);
    return NULL;
}

static void words_are_those_of_the_log(void **state) {
    (void)state;
    const tell_field *slots = field_named(tell_snapshot_fields, TELL_SNAPSHOT_FIELDS, "slots");
    const tell_field *verdict = field_named(slots->rows, slots->row_fields, "verdict");
    for (int i = 0; i < SM_STATE_COUNT; i++)
        assert_string_equal(tell_state_words[i], sm_state_text((sm_state)i));
    for (int i = 0; i < SM_VERDICT_COUNT; i++)
        assert_string_equal(verdict->words[i], sm_verdict_text((sm_verdict)i));
    const tell_topic_row *event = tell_topic_row_of(TELL_EVENT);
    const tell_field *rows = field_named(event->fields, event->field_count, "rows");
    const tell_field *source = field_named(rows->rows, rows->row_fields, "source");
    for (int i = 0; i < SM_SOURCE_COUNT; i++)
        assert_string_equal(source->words[i], sm_source_text((sm_source)i));
}

// ---- against the validator ------------------------------------------------------------------------------

// One message into FILE (NULL: nowhere): its topic, whether we took it, itself. What holds a line end or a NUL is not handed over.
static void hand_over(told *t, FILE *file, tell_topic topic, const char *bytes, size_t length) {
    static union {
        tell_link_message link;
        tell_show_message show;
        tell_state_message state;
        tell_event_message event;
        tell_beat_message beat;
        tell_ping_message ping;
    } message;
    memset(&message, 0, sizeof message);
    if (topic == TELL_STATE)
        message.state.now = t->mirror;
    if (topic == TELL_EVENT)
        message.event.change = t->mirror;
    tell_document *document = tell_read(topic, bytes, length, &t->sizes, &message);
    if (file && !memchr(bytes, '\n', length) && !memchr(bytes, '\0', length))
        fprintf(file, "%s\t%d\t%.*s\n", tell_topic_row_of(topic)->name, document != NULL, (int)length, bytes);
    tell_document_free(document);
}

static const char *const bits[] = {
    "null", "true",      "-1",        "1e99",        "\"\"",   "{}", "[]",       "99999999999999999999",
    "0.5",  "\"armed\"", "{\"i\":0}", "[{\"i\":0}]", "[null]", ",",  "\"x\":1,", "\\u0000",
    "\xff", "4294967295"};

// One place of it is other than it was.
static void break_text(engine_dice *dice, const sm_text *whole, sm_text *out) {
    sm_text_clear(out);
    size_t at = engine_roll(dice, (uint32_t)whole->length), end = at + engine_roll(dice, 6);
    const char *bit = bits[engine_roll(dice, sizeof bits / sizeof bits[0])];
    if (engine_roll(dice, 2) == 0) { // in place of a whole value
        const char *colon = strchr(whole->bytes + at, ':');
        at = colon ? (size_t)(colon + 1 - whole->bytes) : at;
        end = at + strcspn(whole->bytes + at, ",}]");
    }
    end = end < whole->length ? end : whole->length;
    sm_text_append(out, whole->bytes, at);
    if (engine_roll(dice, 4) > 0)
        sm_text_append(out, bit, strlen(bit));
    sm_text_append(out, whole->bytes + end, whole->length - end);
}

static const char validate[] =
    "import json, sys, jsonschema\n"
    "def once(pairs):\n"
    "    if len(dict(pairs)) < len(pairs): raise ValueError('a name twice')\n"
    "    return dict(pairs)\n"
    "def no(word): raise ValueError(word)\n"
    "folder = sys.argv[1]\n"
    "validators, count, good = {}, 0, 0\n"
    "for line in open(folder + '/messages', 'rb'):\n"
    "    topic, taken, message = line[:-1].split(b'\\t', 2)\n"
    "    topic = topic.decode()\n"
    "    if topic not in validators:\n"
    "        schema = json.load(open(folder + '/' + topic + '.schema'))\n"
    "        jsonschema.Draft7Validator.check_schema(schema)\n"
    "        validators[topic] = jsonschema.Draft7Validator(schema)\n"
    "    try: valid = validators[topic].is_valid(json.loads(message.decode('utf-8'), object_pairs_hook=once, "
    "parse_constant=no))\n"
    "    except (ValueError, RecursionError): valid = False\n"
    "    count += 1; good += taken == b'1'\n"
    "    if taken == b'1' and not valid: sys.exit('taken, and not valid: ' + topic + ' ' + "
    "message.decode('utf-8', 'replace')[:2000])\n"
    "    if taken == b'0' and sys.argv[2] == 'whole': sys.exit('whole, and not taken: ' + topic + "
    "' ' + message.decode()[:2000])\n"
    "if good == 0 or count == good and sys.argv[2] != 'whole': sys.exit('nothing was held against "
    "anything')\n";

typedef struct validator {
    char folder[32];
    FILE *messages;
} validator;

static validator validator_begin(void) {
    validator v = {.folder = "/tmp/slowmatch-tell-XXXXXX"};
    char path[96];
    const char *name;
    assert_non_null(mkdtemp(v.folder));
    for (size_t topic = 0; topic < TELL_TOPIC_COUNT; topic++) {
        sm_text schema = {0};
        assert_true(sm_tell_schema(topic, &name, &schema));
        snprintf(path, sizeof path, "%s/%s.schema", v.folder, name);
        FILE *file = fopen(path, "w");
        assert_non_null(file);
        fputs(sm_text_get(&schema), file);
        assert_int_equal(fclose(file), 0);
        sm_text_deinit(&schema);
    }
    snprintf(path, sizeof path, "%s/messages", v.folder);
    v.messages = fopen(path, "w");
    assert_non_null(v.messages);
    return v;
}

static void validator_ask(validator *v, const char *how) {
    char command[4096];
    assert_int_equal(fclose(v->messages), 0);
    setenv("SLOWMATCH_VALIDATE", validate, 1);
    snprintf(command, sizeof command,
             "/usr/bin/python3 -c \"$SLOWMATCH_VALIDATE\" %s %s >&2; status=$?; rm -r %s; exit $status",
             v->folder, how, v->folder);
    assert_int_equal(system(command), 0);
}

static void whole_messages_are_valid(void **state) {
    (void)state;
    told *t = told_create();
    validator v = validator_begin();
    for (int topic = 0; topic < TELL_TOPIC_COUNT; topic++) {
        const char *example = tell_topic_row_of((tell_topic)topic)->example;
        hand_over(t, v.messages, (tell_topic)topic, example, strlen(example));
    }
    act_script(t);
    for (int look = 0; look < 19; look++) {
        engine_to(&t->run, 44 + 3 * look);
        state_text(t, (sm_snapshot *)(uintptr_t)engine_look(&t->run));
        hand_over(t, v.messages, TELL_STATE, t->text.bytes, t->text.length);
        event_text(t, (sm_snapshot *)(uintptr_t)engine_look(&t->run));
        hand_over(t, v.messages, TELL_EVENT, t->text.bytes, t->text.length);
        tell_snapshot_copy(t->was, engine_look(&t->run));
    }
    validator_ask(&v, "whole");
    told_destroy(t);
}

// 10^4 broken ones here, 10^6 in a soak: whatever the reader takes is valid, none crashes it (ASan), and what it leaves of a snapshot is
// within the show.
static void broken_messages_are_refused(void **state) {
    (void)state;
    told *t = told_create();
    validator v = validator_begin();
    sm_text broken = {0};
    engine_dice dice = {19};
    act_script(t);
    long count = engine_soaks() ? 1000000 : 10000;
    for (long i = 0; i < count; i++) {
        tell_topic topic = (tell_topic)engine_roll(&dice, TELL_TOPIC_COUNT);
        sm_text_clear(&t->text);
        if (topic == TELL_EVENT && engine_roll(&dice, 4) > 0)
            event_text(t, (sm_snapshot *)(uintptr_t)engine_look(&t->run));
        else
            sm_text_printf(&t->text, "%s", tell_topic_row_of(topic)->example);
        break_text(&dice, &t->text, &broken);
        if (engine_roll(&dice, 3) == 0) {
            sm_text_clear(&t->text);
            sm_text_append(&t->text, sm_text_get(&broken), broken.length);
            break_text(&dice, &t->text, &broken);
        }
        // In a soak the validator sees one in a hundred: a gigabyte of them is too much for it.
        hand_over(t, i < 10000 || i % 100 == 0 ? v.messages : NULL, topic, sm_text_get(&broken),
                  broken.length);
    }
    validator_ask(&v, "broken");
    sm_text_deinit(&broken);
    told_destroy(t);
}

static void what_is_too_large_is_not_looked_at(void **state) {
    (void)state;
    told *t = told_create();
    tell_ping_message ping;
    char *bytes = malloc(TELL_BYTES_MAX + 1);
    assert_non_null(bytes);
    memset(bytes, ' ', TELL_BYTES_MAX + 1);
    memcpy(bytes, "{\"sent_us\":1}", 13);
    tell_document *document = tell_read(TELL_PING, bytes, TELL_BYTES_MAX, &t->sizes, &ping);
    assert_non_null(document);
    tell_document_free(document);
    assert_null(tell_read(TELL_PING, bytes, TELL_BYTES_MAX + 1, &t->sizes, &ping));
    memset(bytes, '[', TELL_BYTES_MAX);
    assert_null(tell_read(TELL_PING, bytes, TELL_BYTES_MAX, &t->sizes, &ping));
    free(bytes);
    told_destroy(t);
}

// ---- the manual -----------------------------------------------------------------------------------------

static void the_manual_page_is_fresh(void **state) {
    (void)state;
    manual_page_expect_fresh("man/slowmatch-mqtt.7", sm_tell_manual);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(changes_carry_the_whole_state),
        cmocka_unit_test(an_older_state_leaves_nothing_behind),
        cmocka_unit_test(words_are_those_of_the_log),
        cmocka_unit_test(whole_messages_are_valid),
        cmocka_unit_test(broken_messages_are_refused),
        cmocka_unit_test(what_is_too_large_is_not_looked_at),
        cmocka_unit_test(the_manual_page_is_fresh),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
