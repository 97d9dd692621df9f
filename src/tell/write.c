// SPDX-License-Identifier: GPL-3.0-or-later
#include "tell/contract.h"

#include <assert.h>
#include <math.h>
#include <string.h>

// ---- looking into a struct --------------------------------------------------------------------

static int64_t integer_get(const tell_field *field, const void *base) {
    const char *at = (const char *)base + field->offset;
    int64_t wide;
    uint32_t middle;
    switch (field->size) {
    case 1:
        return *(const uint8_t *)at;
    case 4:
        memcpy(&middle, at, sizeof middle);
        return field->low < 0 ? (int64_t)(int32_t)middle : (int64_t)middle;
    default:
        assert(field->size == 8);
        memcpy(&wide, at, sizeof wide);
        return wide;
    }
}

void *tell_row_at(const tell_field *field, const void *base, uint32_t i) {
    void *rows = (char *)(uintptr_t)base + field->offset;
    if (field->pointed)
        rows = *(void **)rows;
    size_t size = field->size;
    if (field->kind == TELL_LIST && !field->pointed)
        size /= field->room; // the whole array
    return (char *)rows + i * size;
}

uint32_t tell_row_count(const tell_field *field, const void *base, const tell_sizes *sizes) {
    uint32_t count;
    if (field->kind == TELL_MAP)
        return field->bound == TELL_FREE ? field->room : sizes->of[field->bound];
    if (field->count_at == TELL_NO_COUNT)
        return ((const sm_snapshot *)base)->flying + ((const sm_snapshot *)base)->burning_count;
    memcpy(&count, (const char *)base + field->count_at, sizeof count);
    return count;
}

static double number_get(const tell_field *field, const void *base) {
    double value;
    memcpy(&value, (const char *)base + field->offset, sizeof value);
    return value;
}

static bool is_none(const tell_field *field, const void *base) {
    const char *at = (const char *)base + field->offset;
    switch (field->kind) {
    case TELL_BOOL:
    case TELL_WORD:
    case TELL_INTEGER:
        return integer_get(field, base) == field->none;
    case TELL_NUMBER:
        return number_get(field, base) == 0;
    case TELL_TEXT:
        return at[0] == '\0';
    default:
        return false;
    }
}

// ---- what differs -----------------------------------------------------------------------------

static bool is_row_same(const tell_field *list, const void *a, const void *b) {
    size_t size = list->kind == TELL_LIST && !list->pointed ? list->size / list->room : list->size;
    if (memcmp(a, b, size) == 0)
        return true;
    for (size_t i = 0; i < list->row_fields; i++) {
        const tell_field *field = &list->rows[i];
        bool same;
        if (field->kind == TELL_TEXT)
            same = strcmp((const char *)a + field->offset, (const char *)b + field->offset) == 0;
        else if (field->kind == TELL_NUMBER)
            same = memcmp((const char *)a + field->offset, (const char *)b + field->offset, field->size) == 0;
        else
            same = integer_get(field, a) == integer_get(field, b);
        if (!same)
            return false;
    }
    return true;
}

static bool is_list_same(const tell_field *field, const void *a, const void *b, const tell_sizes *sizes) {
    uint32_t count = tell_row_count(field, a, sizes);
    if (count != tell_row_count(field, b, sizes))
        return false;
    for (uint32_t i = 0; i < count; i++)
        if (!is_row_same(field, tell_row_at(field, a, i), tell_row_at(field, b, i)))
            return false;
    return true;
}

// A struct of one field is a row of one.
static bool is_same(const tell_field *field, const void *a, const void *b, const tell_sizes *sizes) {
    if (field->kind == TELL_LIST || field->kind == TELL_MAP)
        return is_list_same(field, a, b, sizes);
    const tell_field one = {.kind = TELL_MAP, .size = field->size, .rows = field, .row_fields = 1};
    return memcmp((const char *)a + field->offset, (const char *)b + field->offset, field->size) == 0 ||
           (field->kind == TELL_TEXT && is_row_same(&one, a, b));
}

// ---- writing ----------------------------------------------------------------------------------

typedef struct writer {
    sm_json json;
    const tell_sizes *sizes;
    const sm_snapshot *was; // of a change
    tell_urgency changed;
} writer;

static void put_fields(writer *w, const tell_field *fields, size_t count, const void *base);

static void put_scalar(writer *w, const tell_field *field, const void *base) {
    const char *at = (const char *)base + field->offset, *text = at;
    int64_t value;
    switch (field->kind) {
    case TELL_BOOL:
        sm_json_bool(&w->json, field->name, *(const bool *)at);
        break;
    case TELL_WORD:
        value = integer_get(field, base);
        assert(value >= 0 && (size_t)value < field->word_count);
        sm_json_text(&w->json, field->name, field->words[value]);
        break;
    case TELL_INTEGER:
        value = integer_get(field, base);
        if (value == field->none && field->none != 0)
            sm_json_plain(&w->json, field->name, NULL);
        else
            sm_json_integer(&w->json, field->name, value);
        break;
    case TELL_NUMBER:
        sm_json_number(&w->json, field->name, number_get(field, base));
        break;
    case TELL_LONG:
        memcpy(&text, at, sizeof text);
        sm_json_text(&w->json, field->name, text);
        break;
    default:
        sm_json_text(&w->json, field->name, text);
    }
}

static bool is_row_none(const tell_field *list, const void *row) {
    for (size_t i = 0; i < list->row_fields; i++)
        if (!is_none(&list->rows[i], row))
            return false;
    return true;
}

// Of a map the rows that say something, or those that differ from WAS.
static void put_rows(writer *w, const tell_field *field, const void *base, const void *was) {
    uint32_t count = tell_row_count(field, base, w->sizes);
    sm_json_open(&w->json, field->name, '[');
    for (uint32_t i = 0; i < count; i++) {
        const void *row = tell_row_at(field, base, i);
        bool is_map = field->kind == TELL_MAP;
        if (is_map && (was ? is_row_same(field, row, tell_row_at(field, was, i)) : is_row_none(field, row)))
            continue;
        sm_json_open(&w->json, NULL, '{');
        if (is_map)
            sm_json_integer(&w->json, "i", i);
        put_fields(w, field->rows, field->row_fields, row);
        sm_json_close(&w->json, '}');
    }
    sm_json_close(&w->json, ']');
}

static void put_part(writer *w, const tell_field *part, const sm_snapshot *now) {
    const sm_snapshot *was = w->was;
    sm_json_open(&w->json, part->name, '{');
    if (!was)
        put_fields(w, part->rows, part->row_fields, now);
    for (size_t i = 0; was && i < part->row_fields; i++) {
        const tell_field *field = &part->rows[i];
        bool lists = field->kind == TELL_LIST || field->kind == TELL_MAP;
        if (!field->required && is_same(field, now, was, w->sizes))
            continue;
        if (!field->lazy)
            w->changed = TELL_AT_ONCE;
        else if (lists && w->changed == TELL_NOTHING)
            w->changed = TELL_LATER;
        if (lists)
            put_rows(w, field, now, was);
        else
            put_scalar(w, field, now);
    }
    sm_json_close(&w->json, '}');
}

static void put_fields(writer *w, const tell_field *fields, size_t count, const void *base) {
    for (size_t i = 0; i < count; i++) {
        const tell_field *field = &fields[i];
        const sm_snapshot *now;
        switch (field->kind) {
        case TELL_PART:
            memcpy(&now, (const char *)base + field->offset, sizeof now);
            put_part(w, field, now);
            break;
        case TELL_LIST:
        case TELL_MAP:
            if (field->required || tell_row_count(field, base, w->sizes) > 0)
                put_rows(w, field, base, NULL);
            break;
        default:
            if (field->required || !is_none(field, base))
                put_scalar(w, field, base);
        }
    }
}

tell_urgency tell_write(sm_text *out, tell_topic topic, const void *message, const tell_sizes *sizes,
                        const sm_snapshot *was) {
    const tell_topic_row *row = tell_topic_row_of(topic);
    writer w = {.json = {.out = out, .tight = true}, .sizes = sizes, .was = was};
    sm_json_open(&w.json, NULL, '{');
    put_fields(&w, row->fields, row->field_count, message);
    sm_json_close(&w.json, '}');
    return w.changed;
}
