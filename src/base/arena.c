// SPDX-License-Identifier: GPL-3.0-or-later
// An arena is one list of blocks. A block is a chunk, from which small objects are cut one after the other,
// or belongs to one object: a large one, or an array that sm_arena_resize grows. Blocks of a huge page and
// more are mapped pages, smaller ones come from malloc. Loading a large show is dominated by the first
// touches of its pages, so mapped blocks ask for huge pages, stand on huge page boundaries, and grow by
// moving page tables.
#include "slowmatch/base.h"

#include <stdalign.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>

// AddressSanitizer sees an object's end only where what lies behind it is poisoned: with it, objects stand apart by a fence of so
// many bytes, at the sanitizer's own alignment.
#if defined(__SANITIZE_ADDRESS__)
#define IS_FENCED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define IS_FENCED 1
#endif
#endif
#ifdef IS_FENCED
#include <sanitizer/asan_interface.h>
enum { FENCE_BYTES = 16, LEAST_ALIGNMENT = 8 };
#else
#define ASAN_POISON_MEMORY_REGION(begin, bytes) ((void)(begin), (void)(bytes))
#define ASAN_UNPOISON_MEMORY_REGION(begin, bytes) ((void)(begin), (void)(bytes))
enum { FENCE_BYTES = 0, LEAST_ALIGNMENT = 1 };
#endif

enum {
    FIRST_CHUNK_BYTES = 64 * 1024,
    LAST_CHUNK_BYTES = 4 * 1024 * 1024,
    HUGE_PAGE_BYTES = 2 * 1024 * 1024,
};

// Stands in front of each block's bytes.
typedef struct block {
    alignas(max_align_t) struct block *previous;
    struct block *next;
    size_t bytes; // of the whole block, this header included
    bool is_mapped;
} block;

struct sm_arena {
    block *first;
    char *free_at; // the rest of the newest chunk
    size_t free_bytes;
    size_t next_chunk_bytes;
    size_t bytes;
    size_t fail_in; // allocations until they fail, this one included; 0: never
};

static void link_block(sm_arena *arena, block *made) {
    made->previous = NULL;
    made->next = arena->first;
    if (arena->first)
        arena->first->previous = made;
    arena->first = made;
    arena->bytes += made->bytes;
}

// Points the neighbours of a block that has moved to its new place.
static void relink_block(sm_arena *arena, block *moved) {
    if (moved->next)
        moved->next->previous = moved;
    if (moved->previous)
        moved->previous->next = moved;
    else
        arena->first = moved;
}

static void release(block *gone) {
    ASAN_UNPOISON_MEMORY_REGION(gone, gone->bytes);
    if (gone->is_mapped)
        munmap(gone, gone->bytes);
    else
        free(gone);
}

static void free_block(sm_arena *arena, block *gone) {
    if (gone->next)
        gone->next->previous = gone->previous;
    if (gone->previous)
        gone->previous->next = gone->next;
    else
        arena->first = gone->next;
    arena->bytes -= gone->bytes;
    release(gone);
}

static size_t round_up(size_t size, size_t unit) {
    return (size + unit - 1) / unit * unit;
}

// Address space of BYTES on a huge page boundary, with PROTECTION; NULL if there is none.
static char *map_aligned(size_t bytes, int protection) {
    const size_t wide = bytes + HUGE_PAGE_BYTES;
    char *const found = mmap(NULL, wide, protection, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
    if (found == MAP_FAILED)
        return NULL;
    const size_t before = round_up((uintptr_t)found, HUGE_PAGE_BYTES) - (uintptr_t)found;
    if (before > 0)
        munmap(found, before);
    if (before < HUGE_PAGE_BYTES)
        munmap(found + before + bytes, HUGE_PAGE_BYTES - before);
    return found + before;
}

// A zeroed block for SIZE bytes and its header, not yet in any list; NULL when memory runs out.
static block *make_block(size_t size) {
    size_t bytes = sizeof(block) + size;
    const bool is_mapped = bytes >= HUGE_PAGE_BYTES;
    block *made;
    if (is_mapped) {
        bytes = round_up(bytes, HUGE_PAGE_BYTES);
        made = (block *)(void *)map_aligned(bytes, PROT_READ | PROT_WRITE);
        if (made) // advice only: a kernel without huge pages gives small ones
            madvise(made, bytes, MADV_HUGEPAGE);
    } else {
        made = calloc(1, bytes);
    }
    if (!made)
        return NULL;
    made->bytes = bytes;
    made->is_mapped = is_mapped;
    return made;
}

// Moves the pages of OLD into a mapping of BYTES; NULL when memory runs out, OLD is as it was then.
static block *remap(block *old, size_t bytes) {
    void *moved = mremap(old, old->bytes, bytes, 0);
    if (moved != MAP_FAILED)
        return moved;
    char *const place = map_aligned(bytes, PROT_NONE);
    if (!place)
        return NULL;
    moved = mremap(old, old->bytes, bytes, MREMAP_MAYMOVE | MREMAP_FIXED, place);
    if (moved == MAP_FAILED) {
        munmap(place, bytes);
        return NULL;
    }
    return moved;
}

// Leaves SIZE bytes of a block to its object. What is mapped ends on a page; behind other blocks malloc has fences of its own.
static void fence(block *of, size_t size) {
    char *const begin = (char *)(of + 1);
    ASAN_UNPOISON_MEMORY_REGION(begin, of->bytes - sizeof(block));
    if (of->is_mapped)
        ASAN_POISON_MEMORY_REGION(begin + size, of->bytes - sizeof(block) - size);
}

// Counts an allocation; false if a test wants it to fail.
static bool may_allocate(sm_arena *arena, size_t size) {
    if (size > PTRDIFF_MAX - 2 * (size_t)HUGE_PAGE_BYTES - sizeof(block))
        return false;
    if (arena->fail_in > 1)
        arena->fail_in--;
    else if (arena->fail_in == 1)
        return false;
    return true;
}

sm_arena *sm_arena_create(void) {
    sm_arena *const arena = calloc(1, sizeof *arena);
    if (arena)
        arena->next_chunk_bytes = FIRST_CHUNK_BYTES;
    return arena;
}

void sm_arena_destroy(sm_arena *arena) {
    if (!arena)
        return;
    for (block *each = arena->first; each;) {
        block *const next = each->next;
        release(each);
        each = next;
    }
    free(arena);
}

// Makes a new chunk the one that small objects are cut from.
static bool add_chunk(sm_arena *arena) {
    block *const chunk = make_block(arena->next_chunk_bytes - sizeof(block));
    if (!chunk)
        return false;
    link_block(arena, chunk);
    arena->free_at = (char *)(chunk + 1);
    arena->free_bytes = chunk->bytes - sizeof(block);
    ASAN_POISON_MEMORY_REGION(arena->free_at, arena->free_bytes);
    if (arena->next_chunk_bytes < LAST_CHUNK_BYTES)
        arena->next_chunk_bytes *= 2;
    return true;
}

// SIZE zeroed bytes at a multiple of ALIGNMENT (a power of two).
static void *take(sm_arena *arena, size_t size, size_t alignment) {
    if (!may_allocate(arena, size))
        return NULL;
    alignment = alignment < LEAST_ALIGNMENT ? LEAST_ALIGNMENT : alignment;
    size_t padding = -(uintptr_t)arena->free_at & (alignment - 1);
    const size_t taken_bytes = size + FENCE_BYTES;
    if (taken_bytes > arena->free_bytes || padding > arena->free_bytes - taken_bytes) {
        if (size > arena->next_chunk_bytes / 4) { // would waste too much of a chunk
            block *const own = make_block(size);
            if (!own)
                return NULL;
            link_block(arena, own);
            fence(own, size);
            return own + 1;
        }
        if (!add_chunk(arena))
            return NULL;
        padding = 0;
    }
    char *const taken = arena->free_at + padding;
    ASAN_UNPOISON_MEMORY_REGION(taken, size);
    arena->free_at = taken + taken_bytes;
    arena->free_bytes -= padding + taken_bytes;
    return taken;
}

void *sm_arena_alloc(sm_arena *arena, size_t size) {
    return take(arena, size > 0 ? size : 1, alignof(max_align_t));
}

char *sm_arena_text(sm_arena *arena, const char *text, size_t length) {
    if (length == SIZE_MAX)
        return NULL;
    char *const copy = take(arena, length + 1, 1);
    if (copy && length > 0)
        memcpy(copy, text, length);
    return copy;
}

// Gives OLD at least SIZE bytes after its header, at a new place; NULL when memory runs out, OLD is unchanged
// then.
static block *grow_block(sm_arena *arena, block *old, size_t size) {
    const size_t old_bytes = old->bytes;
    size_t bytes = sizeof(block) + size;
    block *grown;
    ASAN_UNPOISON_MEMORY_REGION(old, old_bytes);
    if (old->is_mapped) {
        bytes = round_up(bytes, HUGE_PAGE_BYTES);
        if (bytes == old_bytes)
            return old;
        grown = remap(old, bytes);
        if (grown)
            madvise(grown, bytes, MADV_HUGEPAGE);
    } else if (bytes < HUGE_PAGE_BYTES) {
        grown = realloc(old, bytes);
    } else {
        grown = make_block(size);
        if (!grown)
            return NULL;
        memcpy(grown + 1, old + 1, old_bytes - sizeof(block));
        link_block(arena, grown);
        free_block(arena, old);
        return grown;
    }
    if (!grown)
        return NULL;
    grown->bytes = bytes;
    arena->bytes = arena->bytes - old_bytes + bytes;
    relink_block(arena, grown);
    return grown;
}

void *sm_arena_resize(sm_arena *arena, void *old, size_t size) {
    if (!may_allocate(arena, size))
        return NULL;
    block *result;
    if (!old) {
        result = make_block(size > 0 ? size : 1);
        if (result)
            link_block(arena, result);
    } else {
        block *const before = (block *)old - 1;
        // It only grows: a block that is large enough already stays as it is.
        result = before->bytes - sizeof(block) >= size ? before : grow_block(arena, before, size);
    }
    if (!result)
        return NULL;
    fence(result, size);
    return result + 1;
}

void sm_arena_trim(sm_arena *arena, void *old, size_t size) {
    if (!old)
        return;
    block *const kept = (block *)old - 1;
    const size_t bytes = round_up(sizeof(block) + size, HUGE_PAGE_BYTES);
    ASAN_UNPOISON_MEMORY_REGION(kept, kept->bytes); // whoever maps these pages next finds them so
    if (!kept->is_mapped || bytes >= kept->bytes || munmap((char *)kept + bytes, kept->bytes - bytes) != 0)
        return;
    arena->bytes -= kept->bytes - bytes;
    kept->bytes = bytes;
}

size_t sm_arena_bytes(const sm_arena *arena) {
    return arena->bytes;
}

void sm_arena_fail_at(sm_arena *arena, size_t n) {
    arena->fail_in = n;
}
