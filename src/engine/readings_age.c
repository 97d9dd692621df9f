// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/alerts.h"

sm_readings_age sm_snapshot_readings_age(const sm_snapshot *now, const sm_time_of_day *day) {
    sm_readings_age age = {.oldest_us = SM_UNSET_US};
    sm_us limit_us = now->show->settings.readings_age_us, now_us = day->launch_us + now->wall.us;
    for (uint32_t slot = 0; slot < now->show->slot_count; slot++) {
        const sm_slot_view *view = &now->slots[slot];
        if (now->show->slot_firings[slot] == SM_NONE || view->reading.kind == SM_READ_NOTHING)
            continue;
        bool here = view->read_at.us != SM_UNSET_US;
        int64_t when_us = here ? day->launch_us + view->read_at.us : view->read_when_us;
        age.read++;
        age.from_file += !here;
        if (when_us == SM_UNSET_US) {
            age.undated++;
            continue;
        }
        sm_us span_us = now_us > when_us ? now_us - when_us : 0;
        age.old += span_us > limit_us;
        age.oldest_us = age.oldest_us == SM_UNSET_US || span_us > age.oldest_us ? span_us : age.oldest_us;
    }
    return age;
}
