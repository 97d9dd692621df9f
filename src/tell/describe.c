// SPDX-License-Identifier: GPL-3.0-or-later
// The contract for others: a JSON schema (draft 7) of each message, and slowmatch-mqtt(7).
#include "tell/contract.h"

#include "slowmatch/show.h"

#include <assert.h>
#include <string.h>

// ---- the schema -------------------------------------------------------------------------------

static void put_object(sm_json *json, const char *name, const tell_field *fields, size_t count,
                       bool numbered);

static void put_type(sm_json *json, const char *type, bool or_null) {
    if (!or_null) {
        sm_json_text(json, "type", type);
        return;
    }
    sm_json_open(json, "type", '[');
    sm_json_text(json, NULL, type);
    sm_json_text(json, NULL, "null");
    sm_json_close(json, ']');
}

static void put_words(sm_json *json, const tell_field *field) {
    sm_json_open(json, "enum", '[');
    for (size_t i = 0; i < field->word_count; i++)
        sm_json_text(json, NULL, field->words[i]);
    sm_json_close(json, ']');
}

static void put_integer(sm_json *json, const tell_field *field) {
    put_type(json, "integer", field->none != 0);
    sm_json_integer(json, "minimum", field->low);
    if (field->bound == TELL_FREE)
        sm_json_integer(json, "maximum", field->high);
}

static void put_value(sm_json *json, const tell_field *field) {
    switch (field->kind) {
    case TELL_BOOL:
        put_type(json, "boolean", false);
        break;
    case TELL_WORD:
        put_words(json, field);
        break;
    case TELL_INTEGER:
        put_integer(json, field);
        break;
    case TELL_NUMBER:
        put_type(json, "number", true);
        break;
    case TELL_TEXT:
        put_type(json, "string", false);
        sm_json_integer(json, "maxLength", (int64_t)field->size - 1);
        break;
    case TELL_LONG:
        put_type(json, "string", false);
        break;
    default:
        put_type(json, "array", false);
        if (field->bound == TELL_FREE)
            sm_json_integer(json, "maxItems", field->room);
        put_object(json, "items", field->rows, field->row_fields, field->kind == TELL_MAP);
    }
}

static void put_required(sm_json *json, const tell_field *fields, size_t count, bool numbered) {
    sm_json_open(json, "required", '[');
    if (numbered)
        sm_json_text(json, NULL, "i");
    for (size_t i = 0; i < count; i++)
        if (fields[i].required)
            sm_json_text(json, NULL, fields[i].name);
    sm_json_close(json, ']');
}

static void put_members(sm_json *json, const tell_field *fields, size_t count, bool numbered) {
    sm_json_text(json, "type", "object");
    sm_json_bool(json, "additionalProperties", false);
    put_required(json, fields, count, numbered);
    sm_json_open(json, "properties", '{');
    if (numbered) {
        sm_json_open(json, "i", '{');
        sm_json_text(json, "type", "integer");
        sm_json_integer(json, "minimum", 0);
        sm_json_close(json, '}');
    }
    for (size_t i = 0; i < count; i++) {
        if (fields[i].kind == TELL_PART) {
            put_object(json, fields[i].name, fields[i].rows, fields[i].row_fields, false);
            continue;
        }
        sm_json_open(json, fields[i].name, '{');
        put_value(json, &fields[i]);
        sm_json_close(json, '}');
    }
    sm_json_close(json, '}');
}

static void put_object(sm_json *json, const char *name, const tell_field *fields, size_t count,
                       bool numbered) {
    sm_json_open(json, name, '{');
    put_members(json, fields, count, numbered);
    sm_json_close(json, '}');
}

bool sm_tell_schema(size_t topic, const char **name, sm_text *out) {
    if (topic >= TELL_TOPIC_COUNT)
        return false;
    const tell_topic_row *row = tell_topic_row_of((tell_topic)topic);
    sm_json json = {.out = out};
    sm_json_open(&json, NULL, '{');
    sm_json_text(&json, "$schema", "http://json-schema.org/draft-07/schema#");
    put_members(&json, row->fields, row->field_count, false);
    sm_json_close(&json, '}');
    *name = row->name;
    return true;
}

// ---- the manual -------------------------------------------------------------------------------

static const char *const kind_words[] = {
    [TELL_BOOL] = "true or false",
    [TELL_WORD] = "one of: ",
    [TELL_INTEGER] = "a whole number",
    [TELL_NUMBER] = "a number, or null",
    [TELL_TEXT] = "text",
    [TELL_LONG] = "text",
    [TELL_LIST] = "an array of objects, told whole",
    [TELL_MAP] = "an array of objects by their number \"i\", in order; of a change those that differ",
    [TELL_PART] = "an object, see THE STATE",
};
static_assert(sizeof kind_words / sizeof kind_words[0] == TELL_KIND_COUNT, "words for each kind");

static void append_range(sm_text *out, const tell_field *field) {
    if (field->kind == TELL_WORD)
        for (size_t i = 0; i < field->word_count; i++)
            sm_text_printf(out, "%s%s", i > 0 ? ", " : "", field->words[i]);
    if (field->kind == TELL_INTEGER && field->bound == TELL_FREE)
        sm_text_printf(out, ", %lld to %lld", (long long)field->low, (long long)field->high);
    else if (field->kind == TELL_INTEGER)
        sm_text_printf(out, ", from 0, below what the show has");
    if (field->kind == TELL_INTEGER && field->none != 0)
        sm_text_printf(out, ", or null");
    if (field->kind == TELL_TEXT)
        sm_text_printf(out, ", at most %zu bytes", field->size - 1);
    if (field->unit)
        sm_text_printf(out, ", in %s", field->unit);
    if (!field->required)
        sm_text_printf(out, field->none != 0 ? "; left out: null" : "; may be left out");
}

static void append_fields(sm_text *out, const tell_field *fields, size_t count) {
    for (size_t i = 0; i < count; i++) {
        const tell_field *field = &fields[i];
        sm_text kind = {0};
        sm_text_printf(&kind, "%s", kind_words[field->kind]);
        append_range(&kind, field);
        sm_text_printf(out, ".TP\n.B ");
        sm_manual_append(out, field->name);
        sm_text_printf(out, "\n");
        sm_manual_append(out, field->help);
        sm_text_printf(out, "\n.br\n");
        sm_manual_append(out, sm_text_get(&kind));
        sm_text_printf(out, "\n");
        out->failed |= kind.failed;
        sm_text_deinit(&kind);
        if (field->kind == TELL_LIST || field->kind == TELL_MAP) {
            sm_text_printf(out, ".RS\n");
            append_fields(out, field->rows, field->row_fields);
            sm_text_printf(out, ".RE\n");
        }
    }
}

static void append_topic(sm_text *out, tell_topic topic) {
    const tell_topic_row *row = tell_topic_row_of(topic);
    sm_text_printf(out, ".SS %s\n", row->name);
    sm_manual_append(out, row->help);
    sm_text_printf(out, "\n.br\nQoS %d%s.\n", row->qos,
                   row->retained ? ", retained, with an expiry of five times what it is told anew after"
                                 : "");
    append_fields(out, row->fields, row->field_count);
    sm_text_printf(out, ".PP\n.nf\n");
    sm_manual_append(out, row->example);
    sm_text_printf(out, "\n.fi\n");
}

void sm_tell_manual(sm_text *out) {
    sm_text_printf(
        out,
        ".\\\" SPDX-License-Identifier: GPL-3.0-or-later\n"
        ".\\\" Made from the tables in src/tell; edit those, not this.\n"
        ".TH SLOWMATCH\\-MQTT 7 \"\" slowmatch \"Messages\"\n"
        ".SH NAME\n"
        "slowmatch\\-mqtt \\- what a rehearsal tells to a message broker\n"
        ".SH DESCRIPTION\n"
        ".B slowmatch SHOW \\-\\-tell BROKER\n"
        "publishes a rehearsal by MQTT 5 below slowmatch/1/RUN/, where RUN is new at each start. 1 is the "
        "version of this\n"
        "page: a change that a reader could not bear makes it 2. Messages are JSON (RFC 8259) of at most 4 "
        "MiB. A reader\n"
        "that meets an unknown name, a wrong type or a number out of range drops the message whole.\n"
        ".PP\n"
        "It is a rehearsal of a simulated module: REHEARSAL belongs beside every state word that is shown.\n"
        "Nothing that is sent to these topics acts on it, but what comes from a seat that the lead granted.\n"
        ".SH WHAT IS NOW\n"
        "What a broker has retained is what was known last, never what is now. A broker may die, freeze, or "
        "hold everything\n"
        "back. A follower believes beat alone. The clocks of two machines differ, so it takes the least "
        "difference between\n"
        "mono_us and its own clock among the latest 40 beats, and counts the age of a beat from there. "
        "Without a beat younger\n"
        "than 1 s for 2 s it shows LINK LOST, what was known last and how long ago, and TREAT AS ARMED.\n"
        "A delay that is always there shows in no such difference: so it pings once a second. Without a "
        "beat that has\n"
        "the mono_us of an echo or a later one, the ping of which was sent less than 2 s ago, it shows AGE "
        "NOT PROVEN,\n"
        "TREAT AS ARMED.\n"
        ".PP\n"
        "Events count up in seq. A state has all events up to its own. A follower that finds a gap says so, "
        "asks by want in\n"
        "its ping for a whole state, and puts no later event over an older state. show and state are long: a "
        "follower\n"
        "subscribes to them only while it lacks one, or the show that a beat tells of.\n"
        ".SH TOPICS\n");
    for (int topic = 0; topic < TELL_TOPIC_COUNT; topic++)
        append_topic(out, (tell_topic)topic);
    sm_text_printf(out, ".SH THE STATE\n"
                        "Members of now in state, and of change in event. In a state what is left out is "
                        "false, 0, empty, or\n"
                        "null where that is allowed; in a change it is as before.\n");
    append_fields(out, tell_snapshot_fields, TELL_SNAPSHOT_FIELDS);
    sm_text_printf(out, ".SH SEE ALSO\n.BR slowmatch (1),\n.BR slowmatch\\-show (5)\n");
}
