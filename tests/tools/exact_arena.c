// SPDX-License-Identifier: GPL-3.0-or-later
// An arena that asks for each object by itself, in place of the library's, which cuts them from large chunks: so each of them can fail,
// and a sanitizer sees where one ends. It is included by the one file of a program that wants it, and goes before the library's.
#include "slowmatch/base.h"

#include <stddef.h>
#include <stdlib.h>
#include <string.h>

typedef struct object {
    struct object *next;
    size_t size;
    max_align_t bytes[];
} object;

struct sm_arena {
    object *first;
    size_t bytes, fail_in; // allocations until they fail, this one included; 0: never
};

static bool (*exact_arena_may)(void); // NULL, or asked before each allocation: false lets it fail

sm_arena *sm_arena_create(void) {
    return !exact_arena_may || exact_arena_may() ? calloc(1, sizeof(sm_arena)) : NULL;
}

void sm_arena_destroy(sm_arena *arena) {
    for (object *next, *each = arena ? arena->first : NULL; each; each = next) {
        next = each->next;
        free(each);
    }
    free(arena);
}

void *sm_arena_alloc(sm_arena *arena, size_t size) {
    if (arena->fail_in == 1 || (exact_arena_may && !exact_arena_may()))
        return NULL;
    arena->fail_in -= arena->fail_in > 0;
    object *made = size < SIZE_MAX - sizeof *made ? calloc(1, sizeof *made + size) : NULL;
    if (!made)
        return NULL;
    made->next = arena->first;
    made->size = size;
    arena->first = made;
    arena->bytes += size;
    return made->bytes;
}

char *sm_arena_text(sm_arena *arena, const char *text, size_t length) {
    char *copy = length < SIZE_MAX ? sm_arena_alloc(arena, length + 1) : NULL;
    if (copy && length > 0)
        memcpy(copy, text, length);
    return copy;
}

static object *object_of(void *bytes) {
    return (object *)((char *)bytes - offsetof(object, bytes));
}

void *sm_arena_resize(sm_arena *arena, void *old, size_t size) {
    void *made = sm_arena_alloc(arena, size);
    if (made && old)
        memcpy(made, old, object_of(old)->size < size ? object_of(old)->size : size);
    return made;
}

void sm_arena_trim(sm_arena *arena, void *old, size_t size) {
    (void)arena, (void)old, (void)size;
}

size_t sm_arena_bytes(const sm_arena *arena) {
    return arena->bytes;
}

void sm_arena_fail_at(sm_arena *arena, size_t n) {
    arena->fail_in = n;
}
