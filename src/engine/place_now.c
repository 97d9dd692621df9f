// SPDX-License-Identifier: GPL-3.0-or-later
// Where the show stands.
#include "engine/rehearsal.h"

#include <assert.h>

sm_show_time sm_show_at(const sm_rehearsal *r, sm_wall_time at) {
    assert(r->state == SM_STATE_RUNNING);
    sm_show_time show = sm_show_clock_show_at(&r->clock, at);
    return show.us < r->show->length_us ? show : (sm_show_time){r->show->length_us};
}

sm_show_time sm_show_now(const sm_rehearsal *r) {
    if (r->state != SM_STATE_RUNNING)
        return r->place;
    return sm_show_at(r, r->now);
}

sm_show_time sm_place_now(const sm_rehearsal *r) {
    sm_show_time show = sm_show_now(r);
    return show.us < r->floor.us ? r->floor : show;
}
