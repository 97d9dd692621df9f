// SPDX-License-Identifier: GPL-3.0-or-later
// Events in the order in which they are due, and how long the show is.
#include "show/load.h"

#include <stdlib.h>

typedef struct due {
    sm_us us;
    uint32_t event;
} due;

static int compare_due(const void *left, const void *right) {
    const due *const a = left, *const b = right;
    if (a->us != b->us)
        return a->us < b->us ? -1 : 1;
    return a->event < b->event ? -1 : a->event > b->event;
}

static void find_first_firings(sm_show *show) {
    for (uint32_t i = 0; i < show->firing_count; i++)
        if (show->slot_firings[show->firings[i].slot] == SM_NONE)
            show->slot_firings[show->firings[i].slot] = i;
}

sm_result sm_events_finish(sm_show *show, sm_arena *scratch, bool is_in_order) {
    show->order = sm_arena_alloc(show->arena, show->event_count * sizeof *show->order);
    if (!show->order)
        return SM_NO_MEMORY;
    find_first_firings(show);
    if (is_in_order) {
        for (uint32_t i = 0; i < show->event_count; i++)
            show->order[i] = i;
        return SM_OK;
    }
    due *const list = sm_arena_alloc(scratch, show->event_count * sizeof *list);
    if (!list)
        return SM_NO_MEMORY;
    for (uint32_t i = 0; i < show->event_count; i++)
        list[i] = (due){.us = sm_event_due_us(show, i), .event = i};
    qsort(list, show->event_count, sizeof *list, compare_due);
    for (uint32_t i = 0; i < show->event_count; i++)
        show->order[i] = list[i].event;
    return SM_OK;
}

void sm_show_set_audio_end(sm_show *show, sm_us audio_end_us) {
    if (show->settings.length_given_us != SM_UNSET_US) {
        show->length_us = show->settings.length_given_us;
        return;
    }
    const sm_us events_end_us = show->index->events_end_us;
    show->length_us =
        audio_end_us != SM_UNSET_US && audio_end_us > events_end_us ? audio_end_us : events_end_us;
}
