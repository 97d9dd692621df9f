// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/score/opened.h"

#include <stdlib.h>
#include <string.h>

void sm_opened_deinit(sm_opened *opened) {
    free(opened->due_us);
    *opened = (sm_opened){0};
}

// The first that is not before DUE_US.
static size_t place_of(const sm_opened *opened, sm_us due_us) {
    size_t low = 0, high = opened->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (opened->due_us[middle] < due_us)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

bool sm_opened_has(const sm_opened *opened, sm_us due_us) {
    size_t at = place_of(opened, due_us);
    return at < opened->count && opened->due_us[at] == due_us;
}

bool sm_opened_set(sm_opened *opened, sm_us due_us, bool open) {
    size_t at = place_of(opened, due_us);
    if (sm_opened_has(opened, due_us) == open)
        return true;
    if (!open) {
        opened->count--;
        memmove(opened->due_us + at, opened->due_us + at + 1, (opened->count - at) * sizeof *opened->due_us);
        return true;
    }
    sm_us *grown = sm_array_grow(opened->due_us, opened->count, sizeof *grown);
    if (!grown)
        return false;
    opened->due_us = grown;
    memmove(opened->due_us + at + 1, opened->due_us + at, (opened->count - at) * sizeof *opened->due_us);
    opened->due_us[at] = due_us;
    opened->count++;
    return true;
}

// ---- rows -----------------------------------------------------------------------------------------

bool sm_row_same(sm_row a, sm_row b) {
    return a.instant == b.instant && a.line == b.line;
}

bool sm_row_is_end(const sm_cue_lines *lines, sm_row row) {
    return row.instant >= lines->instant_count;
}

static bool has_heading(const sm_cue_lines *lines, uint32_t instant) {
    return sm_cue_lines_instant_end(lines, instant) - sm_cue_lines_instant_first(lines, instant) > 1;
}

static bool is_open(const sm_cue_lines *lines, const sm_opened *opened, uint32_t instant) {
    return sm_opened_has(opened, sm_cue_lines_due_us(lines, sm_cue_lines_instant_first(lines, instant)));
}

sm_row sm_row_start(const sm_cue_lines *lines, uint32_t instant) {
    if (instant >= lines->instant_count || has_heading(lines, instant))
        return (sm_row){instant < lines->instant_count ? instant : lines->instant_count, SM_NONE};
    return (sm_row){instant, sm_cue_lines_instant_first(lines, instant)};
}

sm_row sm_row_of(const sm_cue_lines *lines, const sm_opened *opened, uint32_t line) {
    uint32_t instant = sm_cue_lines_instant_of(lines, line);
    if (instant < lines->instant_count && has_heading(lines, instant) && is_open(lines, opened, instant))
        return (sm_row){instant, line};
    return sm_row_start(lines, instant);
}

sm_row sm_row_next(const sm_cue_lines *lines, const sm_opened *opened, sm_row row) {
    if (sm_row_is_end(lines, row))
        return row;
    if (row.line == SM_NONE) {
        return is_open(lines, opened, row.instant)
                   ? (sm_row){row.instant, sm_cue_lines_instant_first(lines, row.instant)}
                   : sm_row_start(lines, row.instant + 1);
    }
    if (row.line + 1 < sm_cue_lines_instant_end(lines, row.instant))
        return (sm_row){row.instant, row.line + 1};
    return sm_row_start(lines, row.instant + 1);
}

sm_row sm_row_before(const sm_cue_lines *lines, const sm_opened *opened, sm_row row) {
    if (row.line != SM_NONE && has_heading(lines, row.instant)) {
        return (sm_row){row.instant,
                        row.line > sm_cue_lines_instant_first(lines, row.instant) ? row.line - 1 : SM_NONE};
    }
    if (row.instant == 0)
        return row;
    uint32_t before = row.instant - 1;
    if (has_heading(lines, before) && is_open(lines, opened, before))
        return (sm_row){before, sm_cue_lines_instant_end(lines, before) - 1};
    return sm_row_start(lines, before);
}

uint32_t sm_row_line(const sm_cue_lines *lines, sm_row row) {
    return row.line != SM_NONE ? row.line : sm_cue_lines_instant_first(lines, row.instant);
}
