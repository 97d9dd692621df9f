// SPDX-License-Identifier: GPL-3.0-or-later
// Which part of the score belongs to a place, and when it may be looked at there.
#include "slowmatch/walk.h"

bool sm_walk_item_has_event(const sm_walk_list *list, uint32_t item, uint32_t event) {
    const sm_show *show = list->show;
    const sm_event *e = &show->events[event];
    uint32_t position = list->items[item].position;
    if (position == SM_NONE)
        return false;
    if (show->cues[e->cue].kind == SM_CUE_SET)
        return show->fixtures[e->target].position == position;
    return show->rails[show->slot_rails[show->firings[e->target].slot]].position == position;
}

const char *sm_walk_preview_refusal(sm_state state, bool key) {
    if (state != SM_STATE_SAFE)
        return "a preview is only for state safe with the key off: people stand at the units";
    return key ? "a preview is only for the key off: people stand at the units" : NULL;
}
