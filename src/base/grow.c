// SPDX-License-Identifier: GPL-3.0-or-later
// Lists that grow row by row, on the heap or in an arena.
#include "slowmatch/base.h"

#include <stdint.h>
#include <stdlib.h>

#define FIRST_ROWS 16

// The rows that there must be room for where COUNT rows fill what there is; 0: they do not.
static size_t next_room(size_t count, size_t size) {
    const bool is_full = count == 0 || (count >= FIRST_ROWS && (count & (count - 1)) == 0);
    const size_t rows = count == 0 ? FIRST_ROWS : count * 2;
    return !is_full ? 0 : rows > PTRDIFF_MAX / size ? PTRDIFF_MAX / size : rows;
}

void *sm_array_grow(void *array, size_t count, size_t size) {
    const size_t rows = next_room(count, size);
    return rows > 0 ? realloc(array, rows * size) : array;
}

void *sm_arena_grow(sm_arena *arena, void *array, size_t count, size_t size) {
    const size_t rows = next_room(count, size);
    return rows > 0 ? sm_arena_resize(arena, array, rows * size) : array;
}
