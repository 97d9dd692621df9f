// SPDX-License-Identifier: GPL-3.0-or-later
// A snapshot as a whole: copied by the table of its fields, and whether its numbers agree.
#include "tell/contract.h"

#include <string.h>

tell_sizes tell_sizes_of(const sm_show *show) {
    return (tell_sizes){{[TELL_SLOTS] = show->slot_count,
                         [TELL_RAILS] = show->rail_count,
                         [TELL_MODULES] = show->module_count,
                         [TELL_FIXTURES] = show->fixture_count,
                         [TELL_CHANNELS] = show->channel_count,
                         [TELL_POSITIONS] = show->position_count,
                         [TELL_FEEDS] = show->feed_count,
                         [TELL_CUES] = show->cue_count,
                         [TELL_EVENTS] = show->event_count,
                         [TELL_BURNING] = show->firing_count + 64u}};
}

void tell_snapshot_copy(sm_snapshot *to, const sm_snapshot *from) {
    const tell_sizes sizes = tell_sizes_of(from->show);
    sm_snapshot kept = *to;
    *to = *from;
    to->show = kept.show;
    for (size_t i = 0; i < TELL_SNAPSHOT_FIELDS; i++) {
        const tell_field *field = &tell_snapshot_fields[i];
        if (!field->pointed)
            continue;
        memcpy((char *)to + field->offset, (char *)&kept + field->offset, sizeof(void *));
        uint32_t rows = tell_row_count(field, from, &sizes);
        if (rows > 0)
            memcpy(tell_row_at(field, to, 0), tell_row_at(field, from, 0), rows * field->size);
    }
}

bool tell_snapshot_is_sound(const sm_snapshot *now) {
    const sm_show *show = now->show;
    const uint32_t alight = now->flying + now->burning_count;
    if (now->cursor > show->event_count || alight > now->burning_room)
        return false;
    for (uint32_t i = 0; i < alight; i++)
        if (show->cues[show->events[now->burning[i].event].cue].kind != SM_CUE_FIRE)
            return false;
    return now->next_firing == SM_NONE || show->cues[show->events[now->next_firing].cue].kind == SM_CUE_FIRE;
}
