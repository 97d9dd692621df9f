// SPDX-License-Identifier: GPL-3.0-or-later
// The cues of two shows as numbers: every text gets one, so that rows are compared without looking at letters again.
#include "tables/compare.h"

#include <assert.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

typedef struct texts {
    const char **known; // open addressing
    uint32_t *numbers;
    size_t size, count; // a power of two
    bool no_memory;
} texts;

static uint64_t hash(const char *text) {
    uint64_t value = UINT64_C(14695981039346656037); // FNV-1a
    for (; *text != '\0'; text++)
        value = (value ^ (unsigned char)*text) * UINT64_C(1099511628211);
    return value ^ value >> 29;
}

static void place(texts *in, const char *text, uint32_t number) {
    size_t at = hash(text) & (in->size - 1);
    while (in->known[at])
        at = (at + 1) & (in->size - 1);
    in->known[at] = text;
    in->numbers[at] = number;
}

static bool grow(texts *in) {
    const texts was = *in;
    in->size = was.size > 0 ? 2 * was.size : 1024;
    in->known = calloc(in->size, sizeof *in->known);
    in->numbers = calloc(in->size, sizeof *in->numbers);
    if (!in->known || !in->numbers) {
        free(in->known);
        free(in->numbers);
        *in = was;
        return false;
    }
    for (size_t i = 0; i < was.size; i++)
        if (was.known[i])
            place(in, was.known[i], was.numbers[i]);
    free(was.known);
    free(was.numbers);
    return true;
}

// TEXT must outlive the table.
static uint32_t number_of(texts *in, const char *text) {
    if (2 * (in->count + 1) > in->size && !grow(in)) {
        in->no_memory = true;
        return 0;
    }
    size_t at = hash(text) & (in->size - 1);
    for (; in->known[at]; at = (at + 1) & (in->size - 1))
        if (strcmp(in->known[at], text) == 0)
            return in->numbers[at];
    in->known[at] = text;
    in->numbers[at] = (uint32_t)++in->count;
    return in->numbers[at];
}

static const sm_table_schema *cues_schema(size_t *number) {
    size_t count, at = 0;
    const sm_table_schema *const schema = sm_show_schema(&count);
    while (strcmp(schema[at].file, "cues.csv") != 0)
        at++;
    *number = at;
    return &schema[at];
}

size_t compare_cue_column(const char *name) {
    size_t number, at = 0;
    const sm_table_schema *const schema = cues_schema(&number);
    while (strcmp(schema->columns[at].name, name) != 0)
        at++;
    return at;
}

const char *const compare_part_names[] = {
    [CUE_TARGET] = "target",     [CUE_DO] = "do",     [CUE_FADE] = "fade", [CUE_LASTS] = "lasts",
    [CUE_IGNITERS] = "igniters", [CUE_WIRE] = "wire", [CUE_AIM] = "aim",
};
static_assert(sizeof compare_part_names / sizeof compare_part_names[0] == CUE_PARTS, "a name for each part");

static uint32_t body_of(texts *in, const cue_row *cue, sm_arena *arena) {
    char room[160] = "";
    sm_text body = SM_TEXT_IN(room);
    for (size_t i = 0; i < CUE_PARTS; i++)
        sm_text_printf(&body, "%" PRIu32 "\x1f", cue->parts[i]);
    const char *const kept = sm_arena_text(arena, sm_text_get(&body), body.length);
    sm_text_deinit(&body);
    in->no_memory = in->no_memory || !kept;
    return kept ? number_of(in, kept) : 0;
}

static sm_result read_set(const sm_show *show, texts *in, sm_arena *arena, cue_set *out) {
    size_t number, count;
    sm_table_row *rows = NULL;
    size_t columns[CUE_PARTS];
    cues_schema(&number);
    const sm_result result = sm_table_rows(show, number, arena, &rows, &count);
    if (result != SM_OK)
        return result;
    out->rows = sm_arena_alloc(arena, (count + 1) * sizeof *out->rows);
    out->by_body = sm_arena_alloc(arena, (count + 1) * sizeof *out->by_body);
    if (!out->rows || !out->by_body || count >= UINT32_MAX)
        return SM_NO_MEMORY;
    out->count = (uint32_t)count;
    for (size_t i = 0; i < CUE_PARTS; i++)
        columns[i] = compare_cue_column(compare_part_names[i]);
    const size_t time = compare_cue_column("time"), note = compare_cue_column("note"),
                 id = compare_cue_column("id");
    for (uint32_t i = 0; i < out->count; i++) {
        cue_row *const cue = &out->rows[i];
        *cue = (cue_row){
            .row = &rows[i], .time_us = strtoll(rows[i].meanings[time], NULL, 10), .match = SM_NONE};
        for (size_t k = 0; k < CUE_PARTS; k++)
            cue->parts[k] = number_of(in, rows[i].meanings[columns[k]]);
        cue->note = number_of(in, rows[i].meanings[note]);
        cue->id = rows[i].meanings[id][0] != '\0' ? number_of(in, rows[i].meanings[id]) : 0;
        cue->body = body_of(in, cue, arena);
        out->by_body[i] = i;
    }
    return in->no_memory ? SM_NO_MEMORY : SM_OK;
}

static int by_body(const void *a, const void *b, void *context) {
    const cue_row *const rows = context;
    const uint32_t i = *(const uint32_t *)a, k = *(const uint32_t *)b;
    const cue_row *const first = &rows[i], *const second = &rows[k];
    if (first->body != second->body)
        return first->body < second->body ? -1 : 1;
    if (first->time_us != second->time_us)
        return first->time_us < second->time_us ? -1 : 1;
    return (i > k) - (i < k);
}

sm_result compare_cues_read(const sm_show *old, const sm_show *now, cue_matching *out) {
    texts in = {0};
    sm_result result = read_set(old, &in, out->arena, &out->old);
    if (result == SM_OK)
        result = read_set(now, &in, out->arena, &out->now);
    free(in.known);
    free(in.numbers);
    if (result != SM_OK)
        return result;
    qsort_r(out->old.by_body, out->old.count, sizeof *out->old.by_body, by_body, out->old.rows);
    qsort_r(out->now.by_body, out->now.count, sizeof *out->now.by_body, by_body, out->now.rows);
    return SM_OK;
}

// The first place from which on rows are not before BODY and TIME_US.
static uint32_t lower_bound(const cue_set *set, uint32_t body, sm_us time_us) {
    uint32_t low = 0, high = set->count;
    while (low < high) {
        const uint32_t middle = low + (high - low) / 2;
        const cue_row *const row = &set->rows[set->by_body[middle]];
        if (row->body < body || (row->body == body && row->time_us < time_us))
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

uint32_t compare_body_range(const cue_set *set, uint32_t body, const sm_us *time_us, uint32_t *count) {
    const uint32_t first = lower_bound(set, body, time_us ? *time_us : INT64_MIN);
    const uint32_t end =
        time_us ? lower_bound(set, body, *time_us + 1) : lower_bound(set, body + 1, INT64_MIN);
    *count = end - first;
    return first;
}
