// SPDX-License-Identifier: GPL-3.0-or-later
// The audio part as a whole.
//
// Terms. Rehearsal time (wall) counts microseconds from the launch; the engine runs on it. Show time says where the show
// is. A card frame is the number of a stereo frame, in the order in which the sound process hands frames to the card. A
// reading says "card frame N sounds at monotonic time T"; the callback makes it.
//
// Stages.
//   decode thread   reads the file into chunks in memory, with their peaks: decoded_music.c, decoder.c
//   sound thread    watches the sound process, follows its readings, steers the rehearsal clock, keeps the ring filled
//                   ahead: sound_thread.c, follow.c, render.c, ring.c
//   sound process   lets PortAudio's callback take frames from the ring and make readings: process.c, shared.c
//   callers         set the control (transport, volume, device), read clock and status: this file, rehearsal_clock.c
//
// Invariants.
// 1. The rehearsal clock is one line over the monotonic clock. It bends and never breaks (rehearsal_clock.c). With a card it is bent
//    towards "epoch + sounding frame / rate". Without a card it keeps its last slope.
// 2. When a stream begins, its epoch is chosen so that the line passes through it, and the clock does not notice. From then
//    on a frame's number alone gives its rehearsal time, so music that was rendered for that time is in step.
// 3. When a card stalls and goes on, the epoch is chosen anew. The music jumps; the clock does not.
// 4. The callback touches shared memory only. All that may hang is in the sound process, which may be killed at any time.
//    Each sound process has shared memory of its own, so a dying one disturbs nobody.
#include "audio/internal.h"
#include "audio/mono.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

sm_result sm_audio_open(const sm_audio_options *options, sm_audio **out) {
    if (options->sound_offset_us > 2 * SM_US_PER_S || options->sound_offset_us < -2 * SM_US_PER_S)
        return SM_OUT_OF_RANGE;
    sm_audio *audio = calloc(1, sizeof *audio);
    if (!audio)
        return SM_NO_MEMORY;
    sm_clock_init(&audio->clock, sm_mono_ns());
    audio->audio_start_us = options->audio_start_us;
    audio->sound_offset_us = options->sound_offset_us;
    audio->control.volume_percent = 100;
    sm_transport_init(&audio->control.transport);
    snprintf(audio->control.device, sizeof audio->control.device, "%s",
             options->device ? options->device : "");
    audio->has_lock = pthread_mutex_init(&audio->lock, NULL) == 0;
    sm_result result = audio->has_lock ? SM_OK : SM_NO_MEMORY;
    if (result == SM_OK && options->path)
        result = sm_music_create(options->path, options->cache_folder, &audio->music);
    const sm_output *output = options->silent ? &SM_OUTPUT_SILENT : &SM_OUTPUT_SOUND;
    if (result == SM_OK)
        result = output->start(audio);
    if (result != SM_OK) {
        sm_audio_close(audio);
        return result;
    }
    audio->output = output;
    *out = audio;
    return SM_OK;
}

void sm_audio_close(sm_audio *audio) {
    if (!audio)
        return;
    if (audio->output)
        audio->output->stop(audio);
    sm_music_destroy(audio->music);
    free(audio->calls);
    if (audio->has_lock)
        pthread_mutex_destroy(&audio->lock);
    free(audio);
}

sm_wall_time sm_audio_now(sm_audio *audio) {
    return (sm_wall_time){sm_clock_read(&audio->clock, sm_mono_ns()) / 1000};
}

int64_t sm_audio_monotonic_ns(sm_audio *audio, sm_wall_time wall) {
    return sm_clock_when(&audio->clock, wall.us * 1000);
}

// ---- control -------------------------------------------------------------------

static void control_end(sm_audio *audio, bool changed) {
    audio->control.generation += changed;
    pthread_mutex_unlock(&audio->lock);
    if (changed)
        audio->output->changed(audio);
}

static sm_result add_stretch(sm_audio *audio, sm_stretch stretch) {
    if (stretch.speed_ppm < SM_SPEED_MIN || stretch.speed_ppm > SM_SPEED_MAX)
        return SM_OUT_OF_RANGE;
    pthread_mutex_lock(&audio->lock);
    control_end(audio, sm_transport_add(&audio->control.transport, stretch));
    return SM_OK;
}

sm_result sm_audio_transport(sm_audio *audio, sm_wall_time from, sm_show_time show, int32_t speed_ppm,
                             bool playing) {
    return add_stretch(
        audio,
        (sm_stretch){.wall_us = from.us, .show_us = show.us, .speed_ppm = speed_ppm, .playing = playing});
}

sm_result sm_audio_preview(sm_audio *audio, sm_wall_time from, sm_show_time show, int32_t speed_ppm) {
    return add_stretch(audio, (sm_stretch){.wall_us = from.us,
                                           .show_us = show.us,
                                           .speed_ppm = speed_ppm,
                                           .playing = true,
                                           .preview = true});
}

static int per_cent(int percent) {
    return percent < 0 ? 0 : percent > 100 ? 100 : percent;
}

void sm_audio_volume(sm_audio *audio, int percent) {
    percent = per_cent(percent);
    pthread_mutex_lock(&audio->lock);
    bool changed = audio->control.volume_percent != percent;
    audio->control.volume_percent = percent;
    control_end(audio, changed);
}

void sm_audio_mute(sm_audio *audio, bool muted) {
    pthread_mutex_lock(&audio->lock);
    bool changed = audio->control.muted != muted;
    audio->control.muted = muted;
    control_end(audio, changed);
}

void sm_audio_music_off(sm_audio *audio, sm_us late_us) {
    const sm_us most_us = 3600 * SM_US_PER_S;
    late_us = late_us > most_us ? most_us : late_us < -most_us ? -most_us : late_us;
    pthread_mutex_lock(&audio->lock);
    bool changed = audio->control.music_off_us != late_us;
    audio->control.music_off_us = late_us;
    control_end(audio, changed);
}

sm_result sm_audio_calls(sm_audio *audio, const sm_audio_call *calls, size_t count) {
    for (size_t i = 1; i < count; i++)
        if (calls[i].show.us < calls[i - 1].show.us)
            return SM_INVALID;
    sm_audio_call *copy = count ? malloc(count * sizeof *copy) : NULL;
    if (count && !copy)
        return SM_NO_MEMORY;
    if (count)
        memcpy(copy, calls, count * sizeof *copy);
    pthread_mutex_lock(&audio->lock);
    sm_audio_call *old = audio->calls;
    audio->calls = copy;
    audio->call_count = count;
    audio->has_calls = true;
    control_end(audio, true);
    free(old);
    return SM_OK;
}

void sm_audio_tone(sm_audio *audio, sm_tone tone) {
    pthread_mutex_lock(&audio->lock);
    audio->control.tones_asked[tone]++;
    control_end(audio, true);
}

sm_result sm_audio_timecode_out(sm_audio *audio, const sm_audio_timecode *timecode) {
    if (timecode && (timecode->channel < 1 || timecode->channel > 2 || timecode->rate >= SM_TC_COUNT ||
                     (timecode->drop && timecode->rate != SM_TC_29_97)))
        return SM_OUT_OF_RANGE;
    pthread_mutex_lock(&audio->lock);
    audio->control.has_timecode = timecode != NULL;
    if (timecode)
        audio->control.timecode = *timecode;
    audio->control.timecode_choice++;
    control_end(audio, true);
    return SM_OK;
}

void sm_audio_choose(sm_audio *audio, const char *name) {
    pthread_mutex_lock(&audio->lock);
    snprintf(audio->control.device, sizeof audio->control.device, "%s", name ? name : "");
    audio->control.device_choice++;
    control_end(audio, true);
}

// ---- what can be asked -------------------------------------------------------------

static void music_status(const sm_audio *audio, sm_audio_status *out) {
    if (!audio->music) {
        out->decoded = true;
        return;
    }
    sm_music_state music;
    sm_music_state_get(audio->music, &music);
    out->decoded = music.phase == SM_MUSIC_DONE || music.phase == SM_MUSIC_FAILED;
    out->has_music = music.phase != SM_MUSIC_FAILED;
    out->progress = out->decoded ? 100 : 0;
    if (!out->decoded && music.said_frames > 0)
        out->progress = (int)(music.frames < music.said_frames ? music.frames * 100 / music.said_frames : 99);
    if (music.rate_hz > 0)
        out->length_us = sm_frames_us(music.frames, music.rate_hz);
    memcpy(out->format, music.format, sizeof out->format);
    memcpy(out->problem, music.problem, sizeof out->problem);
}

void sm_audio_status_get(sm_audio *audio, sm_audio_status *out) {
    memset(out, 0, sizeof *out);
    pthread_mutex_lock(&audio->lock);
    out->state = audio->state;
    memcpy(out->device, audio->device, sizeof out->device);
    memcpy(out->reason, audio->reason, sizeof out->reason);
    out->rate_hz = audio->rate_hz;
    out->gap_frames = audio->gap_frames;
    out->volume_percent = audio->control.volume_percent;
    out->muted = audio->control.muted;
    pthread_mutex_unlock(&audio->lock);
    music_status(audio, out);
}

size_t sm_audio_devices(sm_audio *audio, sm_audio_device *out, size_t room) {
    pthread_mutex_lock(&audio->lock);
    size_t count = audio->device_count < room ? audio->device_count : room;
    memcpy(out, audio->devices, count * sizeof *out);
    pthread_mutex_unlock(&audio->lock);
    return count;
}

static int64_t us_frames(sm_us us, int rate_hz) {
    return us / SM_US_PER_S * rate_hz + us % SM_US_PER_S * rate_hz / SM_US_PER_S;
}

size_t sm_audio_overview(sm_audio *audio, sm_show_time from, sm_show_time to, size_t columns,
                         sm_audio_peak *out) {
    memset(out, 0, columns * sizeof *out);
    if (!audio->music)
        return columns;
    int rate_hz = sm_music_rate(audio->music);
    if (rate_hz == 0 || columns == 0 || to.us <= from.us)
        return 0;
    int64_t first = us_frames(from.us - audio->audio_start_us, rate_hz);
    int64_t span = us_frames(to.us - from.us, rate_hz);
    size_t final = 0;
    for (size_t i = 0; i < columns; i++) {
        int64_t begin = first + (int64_t)((double)span * (double)i / (double)columns);
        int64_t end = first + (int64_t)((double)span * (double)(i + 1) / (double)columns);
        bool known = sm_music_peak(audio->music, begin, end > begin ? end : begin + 1, &out[i]);
        final += known && final == i;
    }
    return final;
}

// ---- timecode from a show's settings ------------------------------------------------------

static const char *const SIDES[] = {[1] = "left", [2] = "right"};

sm_result sm_audio_timecode_send(sm_audio *audio, const sm_moment_base *base, int channel) {
    const sm_audio_timecode timecode = {base->rate, base->drop, base->start_frames, channel};
    return sm_audio_timecode_out(audio, channel ? &timecode : NULL);
}

const char *sm_audio_side_text(int channel) {
    return channel == 1 || channel == 2 ? SIDES[channel] : NULL;
}

sm_result sm_audio_side_read(const char *text, int *channel) {
    for (int side = 1; side <= 2; side++)
        if (strcmp(text, SIDES[side]) == 0 || (text[0] == '0' + side && text[1] == '\0')) {
            *channel = side;
            return SM_OK;
        }
    return SM_INVALID;
}
