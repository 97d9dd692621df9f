// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/proposals.h"

#include "slowmatch/inject.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// Arrays of a show's sizes. One more than needed, so that an empty table is no failed allocation.
static bool make_arrays(sm_rehearsal *r, const sm_show *show) {
    r->progress = calloc(show->firing_count + 1u, sizeof *r->progress);
    r->firing_inhibited = calloc(show->firing_count + 1u, sizeof *r->firing_inhibited);
    r->fixture_inhibited = calloc(show->fixture_count + 1u, sizeof *r->fixture_inhibited);
    r->firing_places = calloc(show->firing_count + 1u, sizeof *r->firing_places);
    r->undo_room = SM_UNDO_MAX + show->slot_count;
    r->undos = calloc(r->undo_room, sizeof *r->undos);
    return r->progress && r->firing_inhibited && r->fixture_inhibited && r->firing_places && r->undos &&
           sm_snapshot_create(show, &r->seen) == SM_OK && sm_injected_init(r, show);
}

static void find_firings(sm_rehearsal *r, const sm_show *show) {
    uint32_t found = 0;
    for (uint32_t place = 0; place < show->event_count && found < show->firing_count; place++)
        if (show->cues[show->events[show->order[place]].cue].kind == SM_CUE_FIRE)
            r->firing_places[found++] = place;
}

// What depends on the show; leaves the rest of R alone.
static sm_result attach_show(sm_rehearsal *r, const sm_show *show) {
    r->show = show;
    if (!make_arrays(r, show) || sm_field_init(&r->field, show, r->options.bare) != SM_OK ||
        sm_dmx_timeline_create(show, &r->timeline) != SM_OK)
        return SM_NO_MEMORY;
    find_firings(r, show);
    r->dmx = sm_dmx_play_create(show, r->timeline);
    return r->dmx ? SM_OK : SM_NO_MEMORY;
}

static void detach_show(sm_rehearsal *r) {
    sm_dmx_play_destroy(r->dmx);
    sm_dmx_timeline_destroy(r->timeline);
    sm_field_deinit(&r->field);
    free(r->progress);
    free(r->firing_inhibited);
    free(r->fixture_inhibited);
    free(r->firing_places);
    free(r->undos);
    sm_snapshot_destroy(r->seen);
    sm_injected_deinit(r);
}

sm_result sm_rehearsal_create(const sm_show *show, const sm_rehearsal_options *options, sm_rehearsal **out) {
    sm_rehearsal *r = calloc(1, sizeof *r);
    if (!r)
        return SM_NO_MEMORY;
    r->options = *options;
    r->clock.speed_ppm = 1000000;
    r->volume = 100;
    r->reload_source = SM_SOURCE_CONSOLE;
    r->wait_since.us = r->starts_at.us = r->key_at.us = SM_UNSET_US;
    r->alerts_at.us = INT64_MAX;
    r->alerts_changed = true;
    sm_copy_cut(r->soundless, sizeof r->soundless, "no sound device is open yet");
    if (attach_show(r, show) != SM_OK) {
        sm_rehearsal_destroy(r);
        return SM_NO_MEMORY;
    }
    sm_hold_quietly(r);
    if (options->readings_not_judged)
        sm_log_guard(r, SM_GUARD_READINGS, SM_GUARD_NOT_CHECKED,
                     "not judged in the built-in sequence: bad slots misfire");
    sm_alerts_tell(r);
    *out = r;
    return SM_OK;
}

void sm_rehearsal_destroy(sm_rehearsal *r) {
    if (!r)
        return;
    detach_show(r);
    sm_rig_explainer_deinit(&r->rig);
    free(r->burning);
    free(r);
}

void sm_rehearsal_issue_at(sm_rehearsal *r, sm_wall_time issued) {
    r->issued = issued;
}

sm_result sm_rehearsal_run(sm_rehearsal *r, sm_wall_time to) {
    return sm_run_until(r, to, true);
}

static sm_result heard_only(sm_rehearsal *r, const sm_action *action) {
    char number[16];
    snprintf(number, sizeof number, "%d", action->remote);
    sm_log_unpaired(r, action, number);
    snprintf(r->refusal, sizeof r->refusal, "remote %s is not paired: heard, nothing else", number);
    sm_start_cancel(r, r->refusal);
    return SM_REFUSED;
}

sm_result sm_rehearsal_bring(sm_rehearsal *r, sm_wall_time at) {
    sm_result result = sm_run_until(r, at.us > r->now.us ? at : r->now, false);
    if (result == SM_OK && r->state == SM_STATE_ARMING && r->arming_ends.us <= r->now.us)
        sm_end_arming(r);
    sm_alerts_tell(r);
    return result;
}

static sm_result act(sm_rehearsal *r, const sm_action *action, sm_source source) {
    if (action->remote == 0)
        return sm_act_do(r, action, source);
    return sm_remote_is_paired(r->show, action->remote) ? sm_act_do(r, action, SM_SOURCE_REMOTE)
                                                        : heard_only(r, action);
}

sm_result sm_rehearsal_act(sm_rehearsal *r, const sm_action *action, sm_source source, sm_wall_time at) {
    assert((unsigned)source < SM_SOURCE_COUNT);
    sm_result result = sm_rehearsal_bring(r, at);
    if (result != SM_OK)
        return result;
    r->refusal[0] = '\0';
    if (r->options.acted)
        r->options.acted(r->options.sink_context, action, source, at);
    result = act(r, action, source);
    sm_preview_after(r, action->act, result == SM_OK);
    r->alerts_changed |= result == SM_OK;
    sm_alerts_tell(r);
    return result;
}

sm_result sm_rehearsal_refuse(sm_rehearsal *r, const sm_action *action, sm_source source, const char *why,
                              sm_wall_time at) {
    sm_result result = sm_rehearsal_bring(r, at);
    if (result != SM_OK)
        return result;
    sm_copy_cut(r->refusal, sizeof r->refusal, why);
    sm_log_refused(r, action, source, why);
    return SM_REFUSED;
}

const char *sm_rehearsal_refusal(const sm_rehearsal *r) {
    return r->refusal;
}

sm_result sm_rehearsal_sound(sm_rehearsal *r, sm_sound_change change, const char *detail, sm_wall_time at) {
    sm_result result = sm_run_until(r, at.us > r->now.us ? at : r->now, true);
    if (result != SM_OK)
        return result;
    sm_log_plain(r, SM_LOG_SOUND, sm_sound_change_text(change), detail);
    if (change == SM_SOUND_LOST)
        sm_start_cancel(r, "the sound was lost");
    r->sound_lost = change == SM_SOUND_LOST;
    sm_preview_sound(r, change, detail);
    r->alerts_changed = true;
    sm_alerts_tell(r);
    return SM_OK;
}

sm_result sm_rehearsal_lights(sm_rehearsal *r, sm_lights_change change, const char *detail, sm_wall_time at) {
    sm_result result = sm_run_until(r, at.us > r->now.us ? at : r->now, true);
    if (result == SM_OK)
        sm_log_plain(r, SM_LOG_LIGHTS, sm_lights_change_text(change), detail);
    return result;
}

// The action that waits for the folder.
static sm_action reading_action(const sm_rehearsal *r) {
    return (sm_action){.act = r->apply_asked ? SM_ACT_APPLY : SM_ACT_RELOAD, .index = SM_NONE};
}

bool sm_rehearsal_reload_asked(const sm_rehearsal *r) {
    return r->reload_asked;
}

sm_result sm_rehearsal_replace_show(sm_rehearsal *r, const sm_show *show) {
    sm_rehearsal old = *r;
    r->dmx = NULL;
    r->timeline = NULL;
    r->field = (sm_simulated_field){0};
    r->progress = NULL;
    r->firing_inhibited = NULL;
    r->fixture_inhibited = NULL;
    r->firing_places = NULL;
    r->undos = NULL;
    r->seen = NULL;
    sm_injected_forget(r);
    if (attach_show(r, show) != SM_OK) {
        detach_show(r);
        *r = old;
        return SM_NO_MEMORY;
    }
    sm_field_carry(&r->field, &old.field);
    const sm_action action = reading_action(r);
    sm_log_action(r, &action, r->reload_source, NULL);
    r->burning_count = 0; // nothing burned when `reload` was accepted
    r->undo_count = 0;
    sm_proposals_carry(r, old.show);
    r->reload_asked = r->apply_asked = false;
    r->cursor = 0;
    r->place = r->clock.s0 = (sm_show_time){0};
    r->place_set = false;
    r->repeat_on = r->repeat_ahead = false;
    r->preview = (sm_preview){0};
    sm_hold_quietly(r);
    sm_inhibits_apply(r); // kept by name
    r->alerts_changed = true;
    sm_alerts_tell(r);
    detach_show(&old);
    return SM_OK;
}

void sm_rehearsal_reload_failed(sm_rehearsal *r, const char *why, sm_wall_time at) {
    if (at.us > r->now.us)
        r->now = at;
    const sm_action action = reading_action(r);
    r->reload_asked = r->apply_asked = false;
    sm_copy_cut(r->refusal, sizeof r->refusal, why);
    sm_log_refused(r, &action, r->reload_source, why);
}

sm_state sm_rehearsal_state(const sm_rehearsal *r) {
    return r->state;
}

bool sm_rehearsal_starts_at(const sm_rehearsal *r, sm_wall_time *at) {
    *at = r->starts_at;
    return at->us != SM_UNSET_US;
}

bool sm_rehearsal_quit(const sm_rehearsal *r) {
    return r->quit;
}

sm_show_clock sm_rehearsal_show_clock(const sm_rehearsal *r) {
    return r->clock;
}

sm_heard sm_rehearsal_heard(const sm_rehearsal *r) {
    return (sm_heard){.repeats = r->repeat_ahead,
                      .repeat_from = r->repeat_from,
                      .repeat_to = r->repeat_to,
                      .volume = r->volume,
                      .muted = r->muted || r->incidents.sound_lost ||
                               r->timecode.state !=
                                   SM_TIMECODE_OFF, // the music comes from where the timecode does
                      .music_off_us = r->incidents.music_off_us,
                      .preview = r->preview};
}

bool sm_rehearsal_is_over(const sm_rehearsal *r, sm_operator_word word) {
    if (r->quit)
        return true;
    bool burns = r->burning_count > 0;
    if (r->state == SM_STATE_ENDED)
        return !burns && word != SM_OPERATOR_WAIT;
    bool waits = r->starts_at.us != SM_UNSET_US; // armed, and it starts by itself
    bool stands =
        !waits && (r->state == SM_STATE_SAFE || r->state == SM_STATE_ARMED || r->state == SM_STATE_PAUSED);
    if (word == SM_OPERATOR_NEVER)
        return stands || r->repeat_on;
    return word == SM_OPERATOR_OUT && (stands || r->repeat_on);
}
