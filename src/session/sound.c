// SPDX-License-Identifier: GPL-3.0-or-later
// The sound: opened, followed, heard of. A virtual clock has none.
#include "session/inside.h"

#include "slowmatch/music.h"

#include <assert.h>
#include <stdlib.h>

sm_result sm_session_open_sound(sm_session *session, const sm_session_options *options) {
    assert(!session->audio);
    session->told.volume = 100;
    session->timecode_channel = options->timecode_channel;
    if (options->virtual_clock)
        return SM_OK;
    sm_text cache = {0};
    char *path = sm_music_path(session->show);
    bool keeps = options->keeps_shape && sm_audio_cache_folder(&cache) == SM_OK;
    sm_audio_options audio = {.path = path,
                              .audio_start_us = session->show->settings.audio_start_us,
                              .device = options->device,
                              .silent = options->silent,
                              .sound_offset_us = options->sound_offset_us,
                              .cache_folder = keeps ? sm_text_get(&cache) : NULL};
    bool failed = !path && session->show->settings.audio[0];
    sm_result result = failed ? SM_NO_MEMORY : sm_audio_open(&audio, &session->audio);
    free(path);
    sm_text_deinit(&cache);
    if (result == SM_OK)
        sm_session_send_timecode(session);
    return result;
}

void sm_session_send_timecode(sm_session *session) {
    if (session->audio && session->timecode_channel &&
        sm_audio_timecode_send(session->audio, &session->show->settings.timecode,
                               session->timecode_channel) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "no timecode goes out");
}

// ---- its news --------------------------------------------------------------------------------

static_assert((int)SM_SOUND_DEVICE == SM_AUDIO_EVENT_DEVICE &&
                  (int)SM_SOUND_SILENT == SM_AUDIO_EVENT_SILENT &&
                  (int)SM_SOUND_LOST == SM_AUDIO_EVENT_LOST && (int)SM_SOUND_BACK == SM_AUDIO_EVENT_BACK,
              "what happens to the sound is the same for the sound and for the engine");

static void put_row(sm_session *session, sm_sound_change change, const char *detail) {
    if (sm_rehearsal_sound(session->rehearsal, change, detail, sm_session_act_moment(session)) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out");
}

void sm_session_log_no_sound(sm_session *session) {
    put_row(session, SM_SOUND_SILENT, "a virtual clock has no sound");
}

void sm_session_log_sound(sm_session *session) {
    sm_audio_event event;
    while (session->audio && sm_audio_next_event(session->audio, &event)) {
        put_row(session, (sm_sound_change)event.kind, event.text);
        if (event.kind == SM_AUDIO_EVENT_LOST)
            sm_session_tell(session, SM_OUTCOME_WRONG, "SOUND LOST: %s; the clock runs on", event.text);
        else if (event.kind == SM_AUDIO_EVENT_BACK)
            sm_session_tell(session, SM_OUTCOME_TOLD, "sound is back: %s", event.text);
    }
}

// ---- it follows --------------------------------------------------------------------------------

static bool same_transport(const sm_show_clock *a, const sm_show_clock *b) {
    return a->w0.us == b->w0.us && a->s0.us == b->s0.us && a->speed_ppm == b->speed_ppm &&
           a->playing == b->playing;
}

static void tell_transport(sm_session *session, const sm_show_clock *transport, bool preview) {
    const sm_result result =
        preview ? sm_audio_preview(session->audio, transport->w0, transport->s0, transport->speed_ppm)
                : sm_audio_transport(session->audio, transport->w0, transport->s0, transport->speed_ppm,
                                     transport->playing);
    if (result != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "the music cannot be played at this speed");
}

// What is to be heard now, and the next jump, of which the sound is told ahead of time, to meet it to the frame.
static sm_told plan(const sm_session *session, const sm_heard *heard) {
    sm_told plan = {.preview = heard->preview.on};
    if (plan.preview) {
        const sm_preview *preview = &heard->preview;
        plan.transport = plan.jump =
            (sm_show_clock){.s0 = preview->from, .speed_ppm = preview->speed_ppm, .playing = true};
        sm_preview_round(preview, session->now, &plan.transport.w0, &plan.jump.w0);
        plan.jumps = true;
        return plan;
    }
    plan.transport = sm_rehearsal_show_clock(session->rehearsal);
    plan.jumps = heard->repeats && plan.transport.playing;
    if (plan.jumps)
        plan.jump = (sm_show_clock){sm_show_clock_wall_at(&plan.transport, heard->repeat_to),
                                    heard->repeat_from, plan.transport.speed_ppm, true};
    return plan;
}

static void follow_transport(sm_session *session, const sm_heard *heard) {
    sm_told *told = &session->told;
    const sm_told now = plan(session, heard);
    if (same_transport(&now.transport, &told->transport) && now.jumps == told->jumps &&
        same_transport(&now.jump, &told->jump) && now.preview == told->preview)
        return;
    tell_transport(session, &now.transport, now.preview);
    if (now.jumps)
        tell_transport(session, &now.jump, now.preview);
    told->transport = now.transport;
    told->jump = now.jump;
    told->jumps = now.jumps;
    told->preview = now.preview;
}

void sm_session_follow_sound(sm_session *session) {
    if (!session->audio)
        return;
    const sm_heard heard = sm_rehearsal_heard(session->rehearsal);
    sm_told *told = &session->told;
    follow_transport(session, &heard);
    if ((int)heard.volume != told->volume) {
        told->volume = (int)heard.volume;
        sm_audio_volume(session->audio, told->volume);
    }
    if (heard.music_off_us != told->music_off_us) {
        told->music_off_us = heard.music_off_us;
        sm_audio_music_off(session->audio, told->music_off_us);
    }
    if (heard.muted != told->muted) {
        told->muted = heard.muted;
        sm_audio_mute(session->audio, told->muted);
    }
}

// ---- its accents -------------------------------------------------------------------------------

void sm_session_want_accent(sm_session *session, sm_show_time near, sm_us within) {
    pthread_mutex_lock(&session->lock);
    session->accent =
        (sm_accent){.near = near, .within = within, .asked = true, .number = session->accent.number + 1};
    session->wanted = true;
    pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
}

void sm_session_find_accent(sm_session *session) {
    sm_show_time found = {SM_UNSET_US};
    pthread_mutex_lock(&session->lock);
    const sm_accent asked = session->accent;
    pthread_mutex_unlock(&session->lock);
    if (session->audio)
        (void)sm_audio_accent(session->audio, asked.near, asked.within, &found);
    pthread_mutex_lock(&session->lock);
    if (session->accent.number == asked.number) {
        session->accent.at = found;
        session->accent.known = true;
    }
    pthread_mutex_unlock(&session->lock);
}

bool sm_session_accent(sm_session *session, sm_show_time *out) {
    pthread_mutex_lock(&session->lock);
    const bool known = session->accent.known;
    if (known)
        *out = session->accent.at;
    pthread_mutex_unlock(&session->lock);
    return known;
}
