// SPDX-License-Identifier: GPL-3.0-or-later
#include "import/work.h"

#include <stdio.h>
#include <string.h>

static bool is_blank(char c) {
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

const char *import_keep(import_work *work, const char *text) {
    const char *const kept = sm_arena_text(work->arena, text, strlen(text));
    if (!kept)
        work->no_memory = true;
    return kept ? kept : "";
}

// U+00A0, which spreadsheets and web pages leave, is a blank too.
const char *import_text_at(import_work *work, const import_row *row, uint32_t column) {
    if (column >= row->count)
        return "";
    const char *text = row->cells[column].text;
    size_t length = row->cells[column].length;
    for (size_t step = 1; is_blank(*text) || strncmp(text, "\xC2\xA0", 2) == 0; text += step, length -= step)
        step = is_blank(*text) ? 1 : 2;
    const size_t whole = length;
    for (;;)
        if (length > 0 && is_blank(text[length - 1]))
            length--;
        else if (length > 1 && memcmp(text + length - 2, "\xC2\xA0", 2) == 0)
            length -= 2;
        else
            break;
    if (length == whole)
        return text;
    const char *const kept = sm_arena_text(work->arena, text, length);
    work->no_memory = work->no_memory || !kept;
    return kept ? kept : "";
}

const char *import_text_of(import_work *work, const import_row *row, import_role role) {
    return import_text_at(work, row, work->columns[role]);
}

bool import_reserve(import_work *work, void **rows, uint32_t count, uint32_t *capacity, size_t size) {
    if (count < *capacity)
        return true;
    const uint32_t wanted = *capacity > 0 ? *capacity * 2 : 32;
    void *const grown = sm_arena_resize(work->arena, *rows, wanted * size);
    if (!grown) {
        work->no_memory = true;
        return false;
    }
    *rows = grown;
    *capacity = wanted;
    return true;
}

static void put(import_work *work, sm_severity severity, uint32_t line, uint32_t column, const char *rule,
                const sm_text *message) {
    const uint32_t place = column == UINT32_MAX ? 0 : column + 1;
    work->no_memory = work->no_memory || message->failed;
    sm_findings_add(work->findings, work->file, line, place, severity, rule, "%s", sm_text_get(message));
}

void import_tell(import_work *work, sm_severity severity, uint32_t line, uint32_t column, const char *rule,
                 const char *format, ...) {
    sm_text message = {0};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&message, format, args);
    va_end(args);
    put(work, severity, line, column, rule, &message);
    sm_text_deinit(&message);
}

void import_offer_add(import_work *work, import_key key, import_answer answer) {
    void *offers = work->offers;
    const bool has_room =
        import_reserve(work, &offers, work->offer_count, &work->offer_capacity, sizeof *work->offers);
    work->offers = offers;
    if (has_room)
        work->offers[work->offer_count++] =
            (import_offer){key,
                           {.text = answer.text ? import_keep(work, answer.text) : NULL,
                            .value = import_keep(work, answer.value)}};
}

void import_ask(import_work *work, uint32_t line, uint32_t column, import_key key,
                const import_answer *answers, size_t count, const char *format, ...) {
    const import_map_key *const row = import_map_key_at(key);
    sm_text message = {0};
    char name[IMPORT_KEY_BYTES];
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&message, format, args);
    va_end(args);
    const bool is_asking = message.length > 0 && message.bytes[message.length - 1] == '?';
    sm_text_printf(&message, "%s to MAP under [%s]:", is_asking ? " Add" : "; add", row->section);
    for (size_t i = 0; i < count; i++) {
        const char *const text = answers[i].text ? import_map_key_of(answers[i].text, name) : row->key;
        const bool is_same = i > 0 && answers[i].text == answers[i - 1].text; // but for its value
        const bool is_last = i + 1 == count || answers[i + 1].text != answers[i].text;
        if (is_same)
            sm_text_printf(&message, "%s %s", is_last ? " or" : ",", answers[i].value);
        else
            sm_text_printf(&message, "%s %s = %s", i > 0 ? " or" : "", text, answers[i].value);
        import_offer_add(work, key, answers[i]);
    }
    work->questions++;
    put(work, SM_ERROR, line, column, "import-question", &message);
    sm_text_deinit(&message);
}
