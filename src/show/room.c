// SPDX-License-Identifier: GPL-3.0-or-later
// Room in the arrays that cues.csv fills.
#include "show/load.h"

// At most twice what is used, so that a file whose rows grow longer does not leave much unused.
static size_t foresee(const sm_cue_reader *cues, size_t wanted) {
    enum { FIRST_ROOM = 512 };
    if (wanted <= FIRST_ROOM)
        return FIRST_ROOM;
    const double share = cues->file_size > 0 ? (double)cues->consumed / (double)cues->file_size : 0;
    size_t foreseen = share > 0 ? (size_t)((double)wanted / share * 1.01) + 64 : 2 * wanted;
    if (foreseen > 2 * wanted)
        foreseen = 2 * wanted;
    const size_t least = wanted + wanted / 32;
    return foreseen > least ? foreseen : least;
}

bool sm_cues_grow(sm_loader *loader, void *rows, size_t wanted, size_t row_size, sm_room *room) {
    const size_t capacity = foresee(loader->cues, wanted);
    void **const place = rows;
    void *const grown = capacity < UINT32_MAX && !room->is_fixed
                            ? sm_arena_resize(loader->show->arena, *place, capacity * row_size)
                            : NULL;
    if (!grown) {
        loader->no_memory = true;
        return false;
    }
    *place = grown;
    room->capacity = (uint32_t)capacity;
    return true;
}
