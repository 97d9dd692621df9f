// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/score/opened.h"

#include <stdlib.h>
#include <string.h>

void sm_fold_deinit(sm_fold *fold) {
    free(fold->opened);
    *fold = (sm_fold){0};
}

// The first that is not before DUE_US.
static size_t place_of(const sm_fold *fold, sm_us due_us) {
    size_t low = 0, high = fold->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (fold->opened[middle] < due_us)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

bool sm_fold_is_open(const sm_fold *fold, sm_us due_us) {
    size_t at = place_of(fold, due_us);
    return at < fold->count && fold->opened[at] == due_us;
}

bool sm_fold_set(sm_fold *fold, sm_us due_us, bool open) {
    size_t at = place_of(fold, due_us);
    if (sm_fold_is_open(fold, due_us) == open)
        return true;
    if (!open) {
        fold->count--;
        memmove(fold->opened + at, fold->opened + at + 1, (fold->count - at) * sizeof *fold->opened);
        return true;
    }
    if (fold->count == fold->capacity) {
        size_t capacity = fold->capacity ? 2 * fold->capacity : 16;
        sm_us *grown = realloc(fold->opened, capacity * sizeof *grown);
        if (!grown)
            return false;
        fold->opened = grown;
        fold->capacity = capacity;
    }
    memmove(fold->opened + at + 1, fold->opened + at, (fold->count - at) * sizeof *fold->opened);
    fold->opened[at] = due_us;
    fold->count++;
    return true;
}

// ---- rows -----------------------------------------------------------------------------------------

bool sm_row_same(sm_row a, sm_row b) {
    return a.instant == b.instant && a.line == b.line;
}

bool sm_row_is_end(const sm_roll *roll, sm_row row) {
    return row.instant >= roll->instant_count;
}

static bool has_heading(const sm_roll *roll, uint32_t instant) {
    return sm_roll_instant_end(roll, instant) - sm_roll_instant_first(roll, instant) > 1;
}

static bool is_open(const sm_roll *roll, const sm_fold *fold, uint32_t instant) {
    return sm_fold_is_open(fold, sm_roll_due_us(roll, sm_roll_instant_first(roll, instant)));
}

sm_row sm_row_start(const sm_roll *roll, uint32_t instant) {
    if (instant >= roll->instant_count || has_heading(roll, instant))
        return (sm_row){instant < roll->instant_count ? instant : roll->instant_count, SM_NONE};
    return (sm_row){instant, sm_roll_instant_first(roll, instant)};
}

sm_row sm_row_of(const sm_roll *roll, const sm_fold *fold, uint32_t line) {
    uint32_t instant = sm_roll_instant_of(roll, line);
    if (instant < roll->instant_count && has_heading(roll, instant) && is_open(roll, fold, instant))
        return (sm_row){instant, line};
    return sm_row_start(roll, instant);
}

sm_row sm_row_next(const sm_roll *roll, const sm_fold *fold, sm_row row) {
    if (sm_row_is_end(roll, row))
        return row;
    if (row.line == SM_NONE) {
        return is_open(roll, fold, row.instant)
                   ? (sm_row){row.instant, sm_roll_instant_first(roll, row.instant)}
                   : sm_row_start(roll, row.instant + 1);
    }
    if (row.line + 1 < sm_roll_instant_end(roll, row.instant))
        return (sm_row){row.instant, row.line + 1};
    return sm_row_start(roll, row.instant + 1);
}

sm_row sm_row_before(const sm_roll *roll, const sm_fold *fold, sm_row row) {
    if (row.line != SM_NONE && has_heading(roll, row.instant)) {
        return (sm_row){row.instant,
                        row.line > sm_roll_instant_first(roll, row.instant) ? row.line - 1 : SM_NONE};
    }
    if (row.instant == 0)
        return row;
    uint32_t before = row.instant - 1;
    if (has_heading(roll, before) && is_open(roll, fold, before))
        return (sm_row){before, sm_roll_instant_end(roll, before) - 1};
    return sm_row_start(roll, before);
}

uint32_t sm_row_line(const sm_roll *roll, sm_row row) {
    return row.line != SM_NONE ? row.line : sm_roll_instant_first(roll, row.instant);
}
