// SPDX-License-Identifier: GPL-3.0-or-later
// Listening to a cue where it is proposed to be: the music round it, while the show stands in safe with the key off.
#include "engine/proposals.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define BEATS_BEFORE 2
#define BEATS_AFTER 2
#define UNTAPPED_BEAT_US SM_US_PER_S // a beat where none was tapped
#define SHORTEST_BEAT_US (SM_US_PER_S / 4)
#define LONGEST_BEAT_US (2 * SM_US_PER_S)

sm_show_time sm_preview_place(const sm_preview *preview, sm_wall_time at) {
    sm_wall_time begun, next;
    sm_preview_round(preview, at, &begun, &next);
    sm_us past_us = at.us > begun.us ? (at.us - begun.us) * preview->speed_ppm / 1000000 : 0;
    return (sm_show_time){preview->from.us + past_us};
}

void sm_preview_round(const sm_preview *preview, sm_wall_time at, sm_wall_time *begun, sm_wall_time *next) {
    const sm_us length_us = preview->to.us - preview->from.us;
    const sm_us round_us = (length_us * 1000000 + preview->speed_ppm - 1) / preview->speed_ppm;
    const sm_us rounds = at.us > preview->since.us ? (at.us - preview->since.us) / round_us : 0;
    begun->us = preview->since.us + rounds * round_us;
    next->us = begun->us + round_us;
}

// ---- the stretch --------------------------------------------------------------------------

// By the two nearest beats that were tapped.
static sm_us beat_us(const sm_rehearsal *r, sm_us at_us) {
    const uint32_t one = sm_nearest_beat(r, at_us, SM_NONE);
    const uint32_t other = one == SM_NONE ? SM_NONE : sm_nearest_beat(r, r->marks[one].at.us, one);
    const sm_us apart_us = other == SM_NONE ? 0 : llabs(r->marks[one].at.us - r->marks[other].at.us);
    return apart_us >= SHORTEST_BEAT_US && apart_us <= LONGEST_BEAT_US ? apart_us : UNTAPPED_BEAT_US;
}

static void hear(sm_rehearsal *r, uint32_t cue) {
    const sm_us tick_us = sm_proposed_us(r->show, r->proposals, r->proposal_count, cue);
    const sm_us beat = beat_us(r, tick_us), from_us = tick_us - BEATS_BEFORE * beat;
    r->preview = (sm_preview){.on = true,
                              .cue = cue,
                              .from.us = from_us > 0 ? from_us : 0,
                              .to.us = tick_us + BEATS_AFTER * beat,
                              .tick.us = tick_us,
                              .since = r->now,
                              .speed_ppm = r->clock.speed_ppm};
}

// ---- acting ---------------------------------------------------------------------------------

bool sm_preview_begin(sm_rehearsal *r, const sm_action *action, char why[160]) {
    char slot[48], from[24], to[24];
    if (r->key)
        snprintf(why, 160, "the key is on: music is tried in safe with the key off");
    else if (r->reload_asked)
        snprintf(why, 160, "the folder is being read: try again");
    else if (r->burning_count > 0)
        snprintf(why, 160, "%s still burns: listen when it is out",
                 sm_slot_format(r->show, r->burning[0].slot, slot));
    else if (!r->show->settings.audio[0])
        snprintf(why, 160, "this show has no music to listen to");
    else if (r->soundless[0])
        snprintf(why, 160, "nothing can be heard: %s", r->soundless);
    else {
        hear(r, action->index);
        snprintf(why, 160, "PREVIEW %s to %s", sm_clock_format(from, r->preview.from.us),
                 sm_clock_format(to, r->preview.to.us));
        return true;
    }
    return false;
}

static void end(sm_rehearsal *r, const char *why) {
    char id[12], detail[160];
    snprintf(detail, sizeof detail, "ended: %.140s", why);
    sm_log_goes_on(r, SM_ACT_LISTEN, sm_cue_id(r->show, r->preview.cue, id), detail);
    r->preview = (sm_preview){0};
}

void sm_preview_after(sm_rehearsal *r, sm_act act, bool done) {
    const sm_preview *was = &r->preview;
    if (!was->on)
        return;
    switch (act) {
    case SM_ACT_PROPOSE:
    case SM_ACT_UNDO:
    case SM_ACT_SPEED:
        if (done && (sm_proposed_us(r->show, r->proposals, r->proposal_count, was->cue) != was->tick.us ||
                     r->clock.speed_ppm != was->speed_ppm))
            hear(r, was->cue);
        break;
    case SM_ACT_LISTEN:
    case SM_ACT_LISTEN_OFF:
    case SM_ACT_MARK:
    case SM_ACT_NOTE:
    case SM_ACT_VOLUME:
    case SM_ACT_MUTE:
        break;
    default:
        end(r, sm_action_row_of(act)->name);
    }
}

void sm_preview_sound(sm_rehearsal *r, sm_sound_change change, const char *detail) {
    const bool sounds = change == SM_SOUND_DEVICE || change == SM_SOUND_BACK;
    sm_copy_cut(r->soundless, sizeof r->soundless,
                sounds                ? ""
                : detail && detail[0] ? detail
                                      : "there is no sound");
    if (!sounds && r->preview.on)
        end(r, "no sound");
}
