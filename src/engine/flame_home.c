// SPDX-License-Identifier: GPL-3.0-or-later
// Hazard fixtures at home.
#include "engine/rehearsal.h"

void sm_hold_fixture_home(sm_rehearsal *r, uint32_t fixture, sm_show_time stood_at) {
    char names_room[SM_WORDS_ROOM] = "";
    sm_text names = SM_TEXT_IN(names_room);
    sm_dmx_play_hold_home(r->dmx, fixture, stood_at, &names);
    if (names.length > 0 || names.failed)
        sm_log_plain(r, SM_LOG_HOME, r->show->fixtures[fixture].name, sm_row_words(r, &names));
    sm_text_deinit(&names);
}

void sm_hold_all_home(sm_rehearsal *r, sm_show_time stood_at) {
    for (uint32_t fixture = 0; fixture < r->show->fixture_count; fixture++)
        sm_hold_fixture_home(r, fixture, stood_at);
}

void sm_hold_quietly(sm_rehearsal *r) {
    char unused_room[SM_WORDS_ROOM] = "";
    sm_text unused = SM_TEXT_IN(unused_room);
    for (uint32_t fixture = 0; fixture < r->show->fixture_count; fixture++)
        if (r->state != SM_STATE_RUNNING || r->fixture_inhibited[fixture] || sm_link_keeps_home(r, fixture))
            sm_dmx_play_hold_home(r->dmx, fixture, r->place, &unused);
    sm_text_deinit(&unused);
}
