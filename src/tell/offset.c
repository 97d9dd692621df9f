// SPDX-License-Identifier: GPL-3.0-or-later
#include "tell/offset.h"

// Those that come in a heap were held back together: one of them is enough.
#define APART_US 100000

static int64_t least(const tell_offset *offset) {
    int64_t found = offset->differences[0];
    for (uint32_t i = 1; i < offset->count; i++)
        if (offset->differences[i] < found)
            found = offset->differences[i];
    return found;
}

int64_t tell_offset_put(tell_offset *offset, int64_t local_us, int64_t mono_us) {
    const int64_t difference = local_us - mono_us;
    bool heap = offset->count > 0 && local_us - offset->put_us < APART_US;
    if (!heap || difference < least(offset)) {
        offset->differences[offset->next] = difference;
        offset->next = (offset->next + 1) % TELL_OFFSET_BEATS;
        offset->count += offset->count < TELL_OFFSET_BEATS;
        offset->put_us = local_us;
    }
    return difference - least(offset);
}

int64_t tell_offset_mono_us(const tell_offset *offset, int64_t local_us) {
    return local_us - (offset->count > 0 ? least(offset) : 0);
}
