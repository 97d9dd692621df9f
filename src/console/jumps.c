// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/jumps.h"

#include <stdlib.h>
#include <string.h>

#define BEAT "beat-"
// While the show runs, a cue or beat that was passed less than this ago does not count as "the one before". So a key that is pressed
// again goes one further back, and does not land on the same place.
#define JUST_CUE_US (SM_US_PER_S / 2)
#define JUST_BEAT_US (SM_US_PER_S / 4)

static bool is_pending(bool any, sm_wall_time at, const sm_snapshot *snapshot) {
    return any && snapshot->wall.us <= at.us;
}

static sm_us passed_us(const sm_snapshot *snapshot, sm_us real_us) {
    return snapshot->state == SM_STATE_RUNNING ? real_us * snapshot->speed_ppm / 1000000 : 0;
}

static bool cue_before(const sm_show *show, sm_us from, sm_us *to) {
    uint32_t at = sm_event_first_due(show, from);
    if (at == 0)
        return false;
    *to = sm_event_due_us(show, show->order[at - 1]);
    return *to >= 0;
}

static bool cue_after(const sm_show *show, sm_us from, sm_us *to) {
    uint32_t at = sm_event_first_due(show, from + 1 > 0 ? from + 1 : 0);
    if (at == show->event_count)
        return false;
    *to = sm_event_due_us(show, show->order[at]);
    return *to <= show->length_us;
}

static bool is_beat(const sm_mark *mark) {
    return strncmp(mark->name, BEAT, strlen(BEAT)) == 0;
}

static bool beat_beside(const sm_snapshot *snapshot, sm_us from, bool back, sm_us *to) {
    bool found = false;
    for (uint32_t i = 0; i < snapshot->mark_count; i++) {
        sm_us at = snapshot->marks[i].at.us;
        bool right_way = back ? at < from && at >= 0 : at > from && at <= snapshot->show->length_us;
        bool nearer = !found || (back ? at > *to : at < *to);
        if (is_beat(&snapshot->marks[i]) && right_way && nearer) {
            *to = at;
            found = true;
        }
    }
    return found;
}

static sm_us within(sm_us us, sm_us length_us) {
    return us < 0 ? 0 : us > length_us ? length_us : us;
}

static bool find(const sm_snapshot *snapshot, sm_us from, sm_key_how how, sm_us *to) {
    const sm_show *show = snapshot->show;
    switch (how) {
    case SM_HOW_SECOND_BACK:
        *to = within(from - SM_US_PER_S, show->length_us);
        return from > 0;
    case SM_HOW_SECOND_ON:
        *to = within(from + SM_US_PER_S, show->length_us);
        return from < show->length_us;
    case SM_HOW_CUE_BACK:
        return cue_before(show, from - passed_us(snapshot, JUST_CUE_US), to);
    case SM_HOW_CUE_ON:
        return cue_after(show, from, to);
    case SM_HOW_BEAT_BACK:
        return beat_beside(snapshot, from - passed_us(snapshot, JUST_BEAT_US), true, to);
    default:
        return beat_beside(snapshot, from, false, to);
    }
}

bool sm_jumps_to(sm_jumps *jumps, const sm_snapshot *snapshot, sm_wall_time now, sm_key_how how,
                 sm_show_time *to) {
    bool pending = is_pending(jumps->moved, jumps->moved_at, snapshot);
    sm_us from = pending ? jumps->to.us : snapshot->at.us;
    if (!find(snapshot, from, how, &to->us))
        return false;
    jumps->moved = true;
    jumps->moved_at = now;
    jumps->to = *to;
    return true;
}

unsigned sm_jumps_beat(sm_jumps *jumps, const sm_snapshot *snapshot, sm_wall_time now) {
    unsigned most = is_pending(jumps->tapped, jumps->tapped_at, snapshot) ? jumps->beat : 0;
    for (uint32_t i = 0; i < snapshot->mark_count; i++) {
        if (is_beat(&snapshot->marks[i])) {
            unsigned long number = strtoul(snapshot->marks[i].name + strlen(BEAT), NULL, 10);
            most = number > most && number < 1000000 ? (unsigned)number : most;
        }
    }
    jumps->tapped = true;
    jumps->tapped_at = now;
    jumps->beat = most + 1;
    return jumps->beat;
}
