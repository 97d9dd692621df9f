// SPDX-License-Identifier: GPL-3.0-or-later
#include "show/name_index.h"

#include <string.h>

static uint64_t mix(uint64_t hash, uint64_t word) {
    hash = (hash ^ word) * UINT64_C(0x9E3779B97F4A7C15); // 2^64 over the golden ratio
    return hash ^ hash >> 32;
}

// Up to seven bytes as one number. The two halves may overlap; the length is in the hash already.
static uint64_t short_word(const char *bytes, size_t length) {
    uint32_t first, last;
    if (length >= sizeof first) {
        memcpy(&first, bytes, sizeof first);
        memcpy(&last, bytes + length - sizeof last, sizeof last);
        return (uint64_t)first << 32 | last;
    }
    if (length == 0)
        return 0;
    const uint64_t middle = (unsigned char)bytes[length / 2], end = (unsigned char)bytes[length - 1];
    return (uint64_t)(unsigned char)bytes[0] << 16 | middle << 8 | end;
}

// Eight bytes a step: multiply and fold, which is all that short names need.
uint64_t sm_hash(const char *bytes, size_t length) {
    uint64_t hash = (uint64_t)length;
    uint64_t word;
    if (length < sizeof word)
        return mix(mix(hash, short_word(bytes, length)), hash);
    const char *const last = bytes + length - sizeof word;
    for (; bytes < last; bytes += sizeof word) {
        memcpy(&word, bytes, sizeof word);
        hash = mix(hash, word);
    }
    memcpy(&word, last, sizeof word); // what is left, with bytes before it where that is less than a step
    return mix(mix(hash, word), (uint64_t)length);
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
    if (!entries)
        return SM_NO_MEMORY;
    names->entries = entries;
    uint32_t *const buckets = sm_arena_resize(arena, names->buckets, bucket_count * sizeof *buckets);
    if (!buckets)
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
