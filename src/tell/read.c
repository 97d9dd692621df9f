// SPDX-License-Identifier: GPL-3.0-or-later
// The strict reader. The grammar is the library's (jansson); what may stand where is the table's.
#include "tell/contract.h"

#include <assert.h>
#include <jansson.h>
#include <math.h>
#include <string.h>

typedef struct reader {
    const tell_sizes *sizes; // NULL: no show is known, so there can be no part of a snapshot
    bool empties;            // a snapshot is emptied first
} reader;

// ---- single values --------------------------------------------------------------------------

static void integer_put(const tell_field *field, void *base, int64_t value) {
    char *at = (char *)base + field->offset;
    const uint8_t narrow = (uint8_t)value;
    const uint32_t middle = (uint32_t)value;
    switch (field->size) {
    case 1:
        memcpy(at, &narrow, 1);
        break;
    case 4:
        memcpy(at, &middle, 4);
        break;
    default:
        assert(field->size == 8);
        memcpy(at, &value, 8);
    }
}

static bool read_integer(const reader *r, const tell_field *field, const json_t *value, void *base) {
    if (json_is_null(value) && field->none != 0) {
        integer_put(field, base, field->none);
        return true;
    }
    if (!json_is_integer(value))
        return false;
    int64_t number = json_integer_value(value), high = field->high;
    if (field->bound != TELL_FREE)
        high = (int64_t)r->sizes->of[field->bound] - 1;
    bool fits = number >= field->low && number <= high;
    if (fits)
        integer_put(field, base, number);
    return fits;
}

static bool read_word(const tell_field *field, const json_t *value, void *base) {
    const char *word = json_string_value(value);
    for (size_t i = 0; word && i < field->word_count; i++) {
        if (strcmp(word, field->words[i]) == 0) {
            integer_put(field, base, (int64_t)i);
            return true;
        }
    }
    return false;
}

static bool read_text(const tell_field *field, const json_t *value, void *base) {
    size_t length = json_string_length(value);
    if (!json_is_string(value) || length >= field->size)
        return false;
    memset((char *)base + field->offset, 0, field->size);
    memcpy((char *)base + field->offset, json_string_value(value), length);
    return true;
}

static bool read_number(const tell_field *field, const json_t *value, void *base) {
    const double number = json_is_null(value) ? NAN : json_number_value(value);
    bool good = json_is_null(value) || json_is_number(value);
    if (good)
        memcpy((char *)base + field->offset, &number, sizeof number);
    return good;
}

// ---- rows and parts ---------------------------------------------------------------------------

static bool read_fields(const reader *r, const tell_field *fields, size_t count, const json_t *object,
                        bool numbered, void *base);

static void empty_fields(const reader *r, const tell_field *fields, size_t count, void *base) {
    for (size_t i = 0; i < count; i++) {
        const tell_field *field = &fields[i];
        const uint32_t nothing = 0;
        if (field->kind == TELL_LIST && field->count_at != TELL_NO_COUNT)
            memcpy((char *)base + field->count_at, &nothing, sizeof nothing);
        else if (field->kind == TELL_MAP)
            for (uint32_t row = 0; row < tell_row_count(field, base, r->sizes); row++)
                empty_fields(r, field->rows, field->row_fields, tell_row_at(field, base, row));
        else if (field->kind == TELL_TEXT || field->kind == TELL_NUMBER)
            memset((char *)base + field->offset, 0, field->size);
        else if (field->kind <= TELL_INTEGER)
            integer_put(field, base, field->none);
    }
}

static bool read_list(const reader *r, const tell_field *field, const json_t *value, void *base) {
    size_t most = field->bound == TELL_FREE ? field->room : r->sizes->of[field->bound];
    size_t count = json_array_size(value);
    if (!json_is_array(value) || count > most)
        return false;
    for (size_t i = 0; i < count; i++) {
        void *row = tell_row_at(field, base, (uint32_t)i);
        empty_fields(r, field->rows, field->row_fields, row);
        if (!read_fields(r, field->rows, field->row_fields, json_array_get(value, i), false, row))
            return false;
    }
    const uint32_t taken = (uint32_t)count;
    if (field->count_at != TELL_NO_COUNT)
        memcpy((char *)base + field->count_at, &taken, sizeof taken);
    return true;
}

static bool read_map(const reader *r, const tell_field *field, const json_t *value, void *base) {
    size_t count = json_array_size(value);
    json_int_t most = tell_row_count(field, base, r->sizes), before = -1;
    if (!json_is_array(value))
        return false;
    for (size_t i = 0; i < count; i++) {
        const json_t *object = json_array_get(value, i), *number = json_object_get(object, "i");
        json_int_t at = json_integer_value(number);
        if (!json_is_integer(number) || at <= before || at >= most)
            return false;
        before = at;
        void *row = tell_row_at(field, base, (uint32_t)at);
        empty_fields(r, field->rows, field->row_fields, row);
        if (!read_fields(r, field->rows, field->row_fields, object, true, row))
            return false;
    }
    return true;
}

static bool read_part(const reader *r, const tell_field *field, const json_t *value, const void *base) {
    sm_snapshot *now;
    memcpy(&now, (const char *)base + field->offset, sizeof now);
    if (!r->sizes || !now)
        return false;
    if (r->empties)
        empty_fields(r, field->rows, field->row_fields, now);
    return read_fields(r, field->rows, field->row_fields, value, false, now);
}

static bool read_field(const reader *r, const tell_field *field, const json_t *value, void *base) {
    const char *text = json_string_value(value);
    switch (field->kind) {
    case TELL_BOOL:
        if (json_is_boolean(value))
            integer_put(field, base, json_is_true(value));
        return json_is_boolean(value);
    case TELL_WORD:
        return read_word(field, value, base);
    case TELL_INTEGER:
        return read_integer(r, field, value, base);
    case TELL_NUMBER:
        return read_number(field, value, base);
    case TELL_TEXT:
        return read_text(field, value, base);
    case TELL_LONG:
        if (text)
            memcpy((char *)base + field->offset, &text, sizeof text);
        return text != NULL;
    case TELL_LIST:
        return read_list(r, field, value, base);
    case TELL_MAP:
        return read_map(r, field, value, base);
    default:
        return read_part(r, field, value, base);
    }
}

// Members that are not given stay as they are. NUMBERED: a row of a map, which has its number too. All of the object must be known.
static bool read_fields(const reader *r, const tell_field *fields, size_t count, const json_t *object,
                        bool numbered, void *base) {
    size_t known = numbered;
    if (!json_is_object(object))
        return false;
    for (size_t i = 0; i < count; i++) {
        const json_t *value = json_object_get(object, fields[i].name);
        known += value != NULL;
        if (value ? !read_field(r, &fields[i], value, base) : fields[i].required)
            return false;
    }
    return known == json_object_size(object);
}

// ---- a message --------------------------------------------------------------------------------

tell_document *tell_read(tell_topic topic, const void *bytes, size_t length, const tell_sizes *sizes,
                         void *message) {
    const tell_topic_row *row = tell_topic_row_of(topic);
    const reader r = {.sizes = sizes, .empties = topic == TELL_STATE};
    if (length > TELL_BYTES_MAX)
        return NULL;
    json_t *document = json_loadb(bytes, length, JSON_REJECT_DUPLICATES, NULL);
    if (document && !read_fields(&r, row->fields, row->field_count, document, false, message)) {
        json_decref(document);
        document = NULL;
    }
    return (tell_document *)document;
}

void tell_document_free(tell_document *document) {
    json_decref((json_t *)document);
}
