// SPDX-License-Identifier: GPL-3.0-or-later
#include "check/universes.h"

#include <stdlib.h>

static int compare_universes(const void *left, const void *right) {
    const check_universe *a = left, *b = right;
    return a->number < b->number ? -1 : a->number > b->number;
}

sm_result check_universes(const sm_show *show, sm_arena *arena, check_universe **out, size_t *count) {
    check_universe *all = sm_arena_alloc(arena, ((size_t)show->fixture_count + 1) * sizeof *all);
    if (!all)
        return SM_NO_MEMORY;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        all[f] = (check_universe){show->fixtures[f].universe};
    qsort(all, show->fixture_count, sizeof *all, compare_universes);
    size_t used = 0;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        if (used == 0 || all[used - 1].number != all[f].number)
            all[used++] = all[f];
    *out = all;
    *count = used;
    return SM_OK;
}

size_t check_universe_find(const check_universe *universes, size_t count, int32_t number) {
    size_t low = 0, high = count;
    while (low + 1 < high) {
        const size_t middle = low + (high - low) / 2;
        if (universes[middle].number <= number)
            low = middle;
        else
            high = middle;
    }
    return low;
}
