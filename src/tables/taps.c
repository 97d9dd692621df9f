// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/taps.h"

#include <stdlib.h>
#include <string.h>

void sm_taps_add(sm_taps *taps, sm_us us) {
    if (taps->count == SM_TAPS_MAX)
        memmove(taps->us, taps->us + 1, --taps->count * sizeof taps->us[0]);
    taps->us[taps->count++] = us;
}

static int by_value(const void *a, const void *b) {
    const sm_us first = *(const sm_us *)a, second = *(const sm_us *)b;
    return (first > second) - (first < second);
}

sm_us sm_taps_median(const sm_taps *taps) {
    sm_taps sorted = *taps;
    const size_t half = taps->count / 2;
    if (taps->count == 0)
        return 0;
    qsort(sorted.us, sorted.count, sizeof sorted.us[0], by_value);
    return taps->count % 2 == 1 ? sorted.us[half] : (sorted.us[half - 1] + sorted.us[half]) / 2;
}

void sm_taps_learn(sm_taps *habit, const sm_taps *taps, sm_us is_us) {
    for (size_t i = 0; i < taps->count; i++)
        sm_taps_add(habit, taps->us[i] - is_us);
}

sm_us sm_taps_place(const sm_taps *taps, const sm_taps *habit) {
    return (sm_taps_median(taps) - sm_taps_median(habit) + 500) / 1000 * 1000;
}
