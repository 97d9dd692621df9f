// SPDX-License-Identifier: GPL-3.0-or-later
// Hazard fixtures at home.
#include "engine/rehearsal.h"

void sm_hold_fixture_home(sm_rehearsal *r, uint32_t fixture, sm_show_time stood_at) {
    sm_text names = {0};
    sm_dmx_play_hold_home(r->dmx, fixture, stood_at, &names);
    if (names.length > 0)
        sm_log_plain(r, SM_LOG_HOME, r->show->fixtures[fixture].name, sm_text_get(&names));
    sm_text_deinit(&names);
}

void sm_hold_all_home(sm_rehearsal *r, sm_show_time stood_at) {
    for (uint32_t fixture = 0; fixture < r->show->fixture_count; fixture++)
        sm_hold_fixture_home(r, fixture, stood_at);
}

void sm_hold_quietly(sm_rehearsal *r) {
    sm_text unused = {0};
    for (uint32_t fixture = 0; fixture < r->show->fixture_count; fixture++)
        if (r->state != SM_STATE_RUNNING || r->fixture_inhibited[fixture])
            sm_dmx_play_hold_home(r->dmx, fixture, r->place, &unused);
    sm_text_deinit(&unused);
}
