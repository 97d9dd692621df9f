// SPDX-License-Identifier: GPL-3.0-or-later
// Where what was drawn last stands on the screen, so that the mouse finds it.
#ifndef SLOWMATCH_CONSOLE_HITS_H
#define SLOWMATCH_CONSOLE_HITS_H

#include "screen/cells.h"
#include "screen/keys.h"

typedef enum sm_hit_what {
    SM_HIT_NOTHING,
    SM_HIT_SAFE,  // the key that makes safe
    SM_HIT_TAB,   // the name of board `board`
    SM_HIT_BOARD, // what board `board` draws
    SM_HIT_STRIP
} sm_hit_what;

typedef struct sm_hit {
    sm_hit_what what;
    size_t board;
    int x, y, columns, rows; // in the whole grid
} sm_hit;

#define SM_HITS 32

typedef struct sm_hits {
    sm_hit at[SM_HITS];
    size_t count;
} sm_hits;

// What is drawn later lies above what was drawn before. More than SM_HITS: left out.
static inline void sm_hits_add(sm_hits *hits, sm_hit_what what, size_t board, sm_area area) {
    if (hits->count < SM_HITS)
        hits->at[hits->count++] = (sm_hit){what, board, area.x, area.y, area.columns, area.rows};
}

// What stands under the mouse; its x and y become those of the found area.
static inline sm_hit sm_hits_find(const sm_hits *hits, sm_mouse *mouse) {
    for (size_t i = hits->count; i > 0; i--) {
        const sm_hit *hit = &hits->at[i - 1];
        int x = mouse->x - hit->x, y = mouse->y - hit->y;
        if (x >= 0 && x < hit->columns && y >= 0 && y < hit->rows) {
            mouse->x = x;
            mouse->y = y;
            return *hit;
        }
    }
    return (sm_hit){0};
}

#endif
