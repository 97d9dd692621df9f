// SPDX-License-Identifier: GPL-3.0-or-later
// A hash from names to numbers. Names are only ever added.
#ifndef SM_SHOW_NAMES_H
#define SM_SHOW_NAMES_H

#include "slowmatch/base.h"

typedef struct sm_name_entry {
    const char *text; // NUL-terminated, owned by whoever added it
    uint32_t length, hash, value;
} sm_name_entry;

// {0} is a valid empty one; it lives in the arena that sm_names_add is given and dies with it.
typedef struct sm_names {
    sm_name_entry *entries; // in order of adding
    uint32_t *buckets;      // entry number plus 1, 0: empty; bucket_count is a power of two
    uint32_t count, capacity, bucket_count;
} sm_names;

uint64_t sm_hash(const char *bytes, size_t length);

// NULL where there is none.
const sm_name_entry *sm_names_find(const sm_names *names, const char *text, size_t length);

// TEXT must outlive NAMES and not be in it. SM_NO_MEMORY leaves NAMES unchanged.
SM_MUST_CHECK sm_result sm_names_add(sm_names *names, sm_arena *arena, const char *text, size_t length,
                                     uint32_t value);

// For sm_nearest_name: CONTEXT is a sm_names.
const char *sm_names_at(const void *context, size_t index);

#endif
