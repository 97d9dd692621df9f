// SPDX-License-Identifier: GPL-3.0-or-later
// The lines of an account, as they are found.
#include "tables/compare.h"

#include <stdlib.h>
#include <string.h>

const char *compare_keep(sm_compare *compare, const char *text) {
    const char *const kept = sm_arena_text(compare->arena, text, strlen(text));
    compare->no_memory = compare->no_memory || !kept;
    return kept ? kept : "";
}

void compare_add(sm_compare *compare, account_line line, const char *format, ...) {
    char room[200] = "";
    sm_text text = SM_TEXT_IN(room);
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&text, format, args);
    va_end(args);
    line.text = compare_keep(compare, sm_text_get(&text));
    compare->no_memory = compare->no_memory || text.failed;
    sm_text_deinit(&text);
    if (compare->count == compare->capacity) {
        const size_t capacity = compare->capacity > 0 ? 2 * compare->capacity : 64;
        account_line *const grown = realloc(compare->lines, capacity * sizeof *grown);
        if (!grown) {
            compare->no_memory = true;
            return;
        }
        compare->lines = grown;
        compare->capacity = capacity;
    }
    compare->lines[compare->count++] = line;
}

void compare_again(sm_compare *compare, again_kind kind, const char *thing) {
    again_line *const line = &compare->again[kind];
    if (line->count > 0 && strcmp(line->things[line->count - 1], thing) == 0)
        return; // two changes of one cue
    if (line->count == line->capacity) {
        const size_t capacity = line->capacity > 0 ? 2 * line->capacity : 16;
        const char **const grown = realloc(line->things, capacity * sizeof *grown);
        if (!grown) {
            compare->no_memory = true;
            return;
        }
        line->things = grown;
        line->capacity = capacity;
    }
    line->things[line->count++] = compare_keep(compare, thing);
}
