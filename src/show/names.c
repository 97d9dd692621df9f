// SPDX-License-Identifier: GPL-3.0-or-later
#include "show/names.h"

#include <string.h>

// Eight bytes a step: multiply and fold, which is all that short names need.
uint64_t sm_hash(const char *bytes, size_t length) {
    const uint64_t odd = UINT64_C(0x9E3779B97F4A7C15); // 2^64 over the golden ratio
    uint64_t hash = (uint64_t)length * odd;
    uint64_t word;
    for (; length >= sizeof word; bytes += sizeof word, length -= sizeof word) {
        memcpy(&word, bytes, sizeof word);
        hash = (hash ^ word) * odd;
        hash ^= hash >> 32;
    }
    if (length > 0) {
        word = 0;
        memcpy(&word, bytes, length);
        hash = (hash ^ word) * odd;
        hash ^= hash >> 32;
    }
    return hash * odd >> 16 ^ hash;
}

const sm_name_entry *sm_names_find(const sm_names *names, const char *text, size_t length) {
    if (names->bucket_count == 0)
        return NULL;
    const uint32_t mask = names->bucket_count - 1;
    const uint32_t hash = (uint32_t)sm_hash(text, length);
    for (uint32_t at = hash & mask; names->buckets[at] != 0; at = (at + 1) & mask) {
        const sm_name_entry *const entry = &names->entries[names->buckets[at] - 1];
        if (entry->hash == hash && entry->length == length && memcmp(entry->text, text, length) == 0)
            return entry;
    }
    return NULL;
}

static void put_bucket(sm_names *names, uint32_t entry) {
    const uint32_t mask = names->bucket_count - 1;
    uint32_t at = names->entries[entry].hash & mask;
    while (names->buckets[at] != 0)
        at = (at + 1) & mask;
    names->buckets[at] = entry + 1;
}

// Room for one more entry, at most half of the buckets in use.
static sm_result reserve(sm_names *names, sm_arena *arena) {
    if (names->count < names->capacity)
        return SM_OK;
    const uint32_t capacity = names->capacity > 0 ? names->capacity * 2 : 16;
    const uint32_t bucket_count = capacity * 2;
    sm_name_entry *const entries = sm_arena_resize(arena, names->entries, capacity * sizeof *entries);
    if (entries == NULL)
        return SM_NO_MEMORY;
    names->entries = entries;
    uint32_t *const buckets = sm_arena_resize(arena, names->buckets, bucket_count * sizeof *buckets);
    if (buckets == NULL)
        return SM_NO_MEMORY;
    names->buckets = buckets;
    names->capacity = capacity;
    names->bucket_count = bucket_count;
    memset(buckets, 0, bucket_count * sizeof *buckets);
    for (uint32_t i = 0; i < names->count; i++)
        put_bucket(names, i);
    return SM_OK;
}

sm_result sm_names_add(sm_names *names, sm_arena *arena, const char *text, size_t length, uint32_t value) {
    const sm_result result = reserve(names, arena);
    if (result != SM_OK)
        return result;
    names->entries[names->count] = (sm_name_entry){
        .text = text, .length = (uint32_t)length, .hash = (uint32_t)sm_hash(text, length), .value = value};
    put_bucket(names, names->count);
    names->count++;
    return SM_OK;
}

const char *sm_names_at(const void *context, size_t index) {
    const sm_names *const names = context;
    return names->entries[index].text;
}
