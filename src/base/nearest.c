// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/base.h"

#include <string.h>

// Longer names than this are not compared: the names of the format have at most 31 characters.
enum { NAME_MAX_BYTES = 63 };

static char lower(char c) {
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static bool same(char a, char b) {
    return lower(a) == lower(b);
}

static size_t least(size_t a, size_t b) {
    return a < b ? a : b;
}

// Optimal string alignment: insertions, deletions, changes and swaps of neighbours count one each.
static size_t distance(const char *a, size_t a_length, const char *b, size_t b_length) {
    size_t rows[3][NAME_MAX_BYTES + 1];
    size_t *before = rows[0], *above = rows[1], *row = rows[2];
    for (size_t j = 0; j <= b_length; j++)
        row[j] = j;
    for (size_t i = 1; i <= a_length; i++) {
        size_t *const recycled = before;
        before = above;
        above = row;
        row = recycled;
        row[0] = i;
        for (size_t j = 1; j <= b_length; j++) {
            const size_t change = same(a[i - 1], b[j - 1]) ? 0 : 1;
            row[j] = least(least(above[j], row[j - 1]) + 1, above[j - 1] + change);
            if (i > 1 && j > 1 && same(a[i - 1], b[j - 2]) && same(a[i - 2], b[j - 1]))
                row[j] = least(row[j], before[j - 2] + 1);
        }
    }
    return row[b_length];
}

const char *sm_nearest_name(const char *word, size_t count, sm_name_at name_at, const void *context) {
    const size_t word_length = strlen(word);
    const char *nearest = NULL;
    size_t nearest_distance = SIZE_MAX;
    if (word_length == 0 || word_length > NAME_MAX_BYTES)
        return NULL;
    for (size_t i = 0; i < count; i++) {
        const char *const name = name_at(context, i);
        const size_t length = strlen(name);
        const size_t longer = length > word_length ? length : word_length;
        const size_t allowed = longer / 3 > 1 ? longer / 3 : 1;
        if (length == 0 || length > NAME_MAX_BYTES || 2 * longer - length - word_length > allowed)
            continue;
        const size_t found = distance(word, word_length, name, length);
        if (found <= allowed && found < nearest_distance && found < longer) {
            nearest = name;
            nearest_distance = found;
        }
    }
    return nearest;
}
