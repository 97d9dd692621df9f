// SPDX-License-Identifier: GPL-3.0-or-later
// The sound thread: keeps a sound process, follows its card, steers the clock, fills the ring.
//
//   IDLE --retry time--> STARTING --first beat--> LOCKING --loop locked--> RUNNING
//     ^--------------------- trouble: the process is killed ------------------'
//
// Trouble is: the process has ended or says that it failed; no first beat within some seconds; or, once it
// beats, no beat for 250 ms. The next try comes soon, then ever later.
#include "audio/follow.h"
#include "audio/internal.h"
#include "audio/mono.h"
#include "audio/process_handle.h"
#include "audio/render.h"

#include <errno.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// Changes do not wait for a tick. While sound plays they are longer, which costs less: the ring is filled a fifth of a second ahead.
#define TICK_NS (25 * SM_NS_PER_MS)
#define PLAYING_TICK_NS (50 * SM_NS_PER_MS)
#define LOCK_NS (4 * SM_NS_PER_S)
#define RETRY_FIRST_NS (100 * SM_NS_PER_MS)
#define RETRY_MOST_NS (3 * SM_NS_PER_S)
#define STEER_S 1.0     // an offset between clock and card is worn off at this time constant,
#define STEER_MOST 0.02 // by this much of the clock's pace at most

typedef enum phase { IDLE, STARTING, LOCKING, RUNNING } phase;

typedef struct sound {
    pthread_t thread;
    bool has_thread, has_wake;
    pthread_cond_t wake; // with audio->lock
    bool quit, nudged;   // under audio->lock
    // The thread's own.
    phase phase;
    sm_child child;
    sm_follow follow;
    sm_render render;
    sm_control control; // as it was at the last tick
    sm_audio_call *calls;
    bool ever; // a device has sounded
    int64_t since_ns;
    int64_t retry_ns, wait_ns;
    int64_t epoch_ns;
} sound;

static sound *sound_of(const sm_audio *audio) {
    return audio->output_state;
}

static void state_set(sm_audio *audio, sm_audio_state state, const char *reason) {
    pthread_mutex_lock(&audio->lock);
    audio->state = state;
    snprintf(audio->reason, sizeof audio->reason, "%s", reason);
    pthread_mutex_unlock(&audio->lock);
}

// ---- the process's life --------------------------------------------------------------

static void start_child(sm_audio *audio, sound *own, int64_t now_ns) {
    // The file's rate first, so that its samples need not be touched; low rates are not worth a stream of
    // their own.
    int rates[SM_RATES_MAX] = {0}, count = 0;
    int file_hz = audio->music ? sm_music_rate(audio->music) : 0;
    if (file_hz >= 32000)
        rates[count++] = file_hz;
    if (file_hz != 48000)
        rates[count++] = 48000;
    if (file_hz != 44100)
        rates[count++] = 44100;
    own->since_ns = now_ns;
    own->retry_ns = now_ns + own->wait_ns;
    own->wait_ns = own->wait_ns * 2 < RETRY_MOST_NS ? own->wait_ns * 2 : RETRY_MOST_NS;
    if (sm_child_start(&own->child, SM_CHILD_PLAYS, own->control.device, rates, count) == SM_OK)
        own->phase = STARTING;
}

static void trouble(sm_audio *audio, sound *own, const char *why) {
    bool was_sounding = own->phase == RUNNING;
    int64_t now_ns = sm_mono_ns();
    sm_child_end(&own->child);
    own->render.ring = NULL;
    own->phase = IDLE;
    if (was_sounding)
        own->wait_ns = RETRY_FIRST_NS;
    own->retry_ns = now_ns + own->wait_ns;
    if (was_sounding) // the clock goes on at the card's pace, without what was being worn off
        sm_clock_steer(&audio->clock, now_ns, sm_follow_rate(&own->follow));
    char old[192];
    pthread_mutex_lock(&audio->lock);
    memcpy(old, audio->reason, sizeof old);
    pthread_mutex_unlock(&audio->lock);
    if (own->ever)
        state_set(audio, SM_AUDIO_LOST, why);
    else
        state_set(audio, SM_AUDIO_SILENT, why);
    if (was_sounding)
        sm_audio_event_add(audio, SM_AUDIO_EVENT_LOST, why);
    else if (!own->ever && strcmp(old, why) != 0)
        sm_audio_event_add(audio, SM_AUDIO_EVENT_SILENT, why);
}

static void devices_note(sm_audio *audio, const sm_shared *shared) {
    int count = shared->device_count;
    if (count < 0 || count > SM_AUDIO_DEVICES_MAX)
        return;
    pthread_mutex_lock(&audio->lock);
    memcpy(audio->devices, shared->devices, (size_t)count * sizeof *shared->devices);
    audio->device_count = (size_t)count;
    pthread_mutex_unlock(&audio->lock);
}

// Looks after a process that has not beaten yet.
static void watch_start(sm_audio *audio, sound *own, int64_t now_ns) {
    const sm_shared *shared = own->child.shared;
    const char *why = sm_child_trouble(&own->child, now_ns);
    if (atomic_load_explicit(&shared->phase, memory_order_acquire) != SM_CHILD_STARTING)
        devices_note(audio, shared);
    if (why) {
        trouble(audio, own, why);
    } else if (sm_child_beats(&own->child)) {
        sm_follow_init(&own->follow, shared->rate_hz);
        own->since_ns = now_ns;
        own->phase = LOCKING;
    }
}

// True while the process lives and beats.
static bool watch_life(sm_audio *audio, sound *own, int64_t now_ns) {
    const char *why = sm_child_trouble(&own->child, now_ns);
    if (!why && own->phase == LOCKING && now_ns - own->since_ns > LOCK_NS)
        why = "the device keeps no steady time";
    if (why)
        trouble(audio, own, why);
    return own->phase != IDLE;
}

// ---- the card's time -------------------------------------------------------------------

// The rehearsal time of the card's frame 0 that makes the clock right as it stands.
static int64_t epoch_now(const sm_audio *audio, const sound *own, int64_t now_ns) {
    double frame = sm_follow_frame_at(&own->follow, now_ns);
    return sm_clock_at(&audio->clock, now_ns) - llround(frame * 1e9 / own->follow.rate_hz);
}

static void locked(sm_audio *audio, sound *own, int64_t now_ns) {
    own->epoch_ns = epoch_now(audio, own, now_ns);
    if (own->phase == RUNNING) {
        sm_render_move(&own->render, own->epoch_ns);
        return;
    }
    sm_shared *shared = own->child.shared;
    sm_render_begin(&own->render, &shared->ring, own->follow.rate_hz, own->epoch_ns);
    char name[128];
    snprintf(name, sizeof name, "%.127s", shared->name);
    pthread_mutex_lock(&audio->lock);
    memcpy(audio->device, name, sizeof name);
    audio->rate_hz = own->follow.rate_hz;
    pthread_mutex_unlock(&audio->lock);
    state_set(audio, SM_AUDIO_SOUNDING, "");
    sm_audio_event_add(audio, own->ever ? SM_AUDIO_EVENT_BACK : SM_AUDIO_EVENT_DEVICE, name);
    own->ever = true;
    own->phase = RUNNING;
    own->wait_ns = RETRY_FIRST_NS;
}

static void take_readings(sm_audio *audio, sound *own) {
    sm_clock_reading reading;
    while (sm_shared_reading(own->child.shared, &reading))
        if (sm_follow_feed(&own->follow, reading.frame, sm_clock_reading_sounds_ns(&reading)) ==
            SM_FOLLOW_LOCKED)
            locked(audio, own, sm_mono_ns());
}

static void steer(sm_audio *audio, const sound *own, int64_t now_ns) {
    if (own->phase != RUNNING || !own->follow.locked)
        return;
    double off_s = (double)(epoch_now(audio, own, now_ns) - own->epoch_ns) / 1e9; // the clock is so far ahead
    double bend = -off_s / STEER_S;
    bend = fmin(fmax(bend, -STEER_MOST), STEER_MOST);
    sm_clock_steer(&audio->clock, now_ns, sm_follow_rate(&own->follow) + bend);
}

// ---- the thread ------------------------------------------------------------------------

static float gain_of(int percent, bool muted) {
    float part = (float)percent / 100;
    return muted ? 0 : part * part;
}

static void calls_take(sm_audio *audio, sound *own) {
    pthread_mutex_lock(&audio->lock);
    bool any = audio->has_calls;
    sm_audio_call *fresh = audio->calls;
    size_t count = audio->call_count;
    audio->has_calls = false;
    if (any)
        audio->calls = NULL;
    pthread_mutex_unlock(&audio->lock);
    if (!any)
        return;
    sm_render_calls(&own->render, fresh, count);
    free(own->calls);
    own->calls = fresh;
}

// Takes over what callers have changed since the last tick.
static void control_take(sm_audio *audio, sound *own, const sm_control *fresh) {
    const sm_control *old = &own->control;
    sm_render *render = &own->render;
    if (fresh->device_choice != old->device_choice && own->phase != IDLE)
        trouble(audio, own, "another device was chosen");
    if (fresh->device_choice != old->device_choice)
        own->retry_ns = 0;
    sm_render_transport(render, &fresh->transport);
    sm_render_music_off(render, fresh->music_off_us);
    if (fresh->timecode_choice != old->timecode_choice)
        sm_render_timecode(render, fresh->has_timecode ? &fresh->timecode : NULL);
    calls_take(audio, own);
    sm_render_gain(render, gain_of(fresh->volume_percent, fresh->muted));
    for (int tone = 0; tone < SM_TONE_COUNT; tone++)
        if (fresh->tones_asked[tone] != old->tones_asked[tone])
            sm_render_tone(render, (sm_tone)tone);
    own->control = *fresh;
}

// Waits for a tick or a change; gives the control as it is now. False when it is time to end.
static bool wait_tick(sm_audio *audio, sound *own, sm_control *control) {
    struct timespec until;
    int64_t until_ns = sm_mono_ns() + (own->phase == RUNNING ? PLAYING_TICK_NS : TICK_NS);
    until.tv_sec = until_ns / SM_NS_PER_S;
    until.tv_nsec = until_ns % SM_NS_PER_S;
    pthread_mutex_lock(&audio->lock);
    while (!own->quit && !own->nudged &&
           pthread_cond_timedwait(&own->wake, &audio->lock, &until) != ETIMEDOUT)
        ;
    own->nudged = false;
    bool quit = own->quit;
    *control = audio->control;
    if (own->render.ring)
        audio->gap_frames = atomic_load_explicit(&own->render.ring->starved, memory_order_relaxed);
    pthread_mutex_unlock(&audio->lock);
    return !quit;
}

static void tick(sm_audio *audio, sound *own) {
    int64_t now_ns = sm_mono_ns();
    sm_child_reap(&own->child);
    // The file's rate decides at which rate the device is asked for: it is known within milliseconds.
    sm_music_state music = {.phase = SM_MUSIC_DONE};
    if (audio->music && own->phase == IDLE)
        sm_music_state_get(audio->music, &music);
    if (own->phase == IDLE && now_ns >= own->retry_ns && music.phase != SM_MUSIC_OPENING)
        start_child(audio, own, now_ns);
    if (own->phase == STARTING)
        watch_start(audio, own, now_ns);
    if ((own->phase == LOCKING || own->phase == RUNNING) && watch_life(audio, own, now_ns))
        take_readings(audio, own);
    steer(audio, own, sm_mono_ns());
    if (own->phase == RUNNING)
        sm_render_fill(&own->render);
}

static void *sound_main(void *context) {
    sm_audio *audio = context;
    sound *own = sound_of(audio);
    sm_control control;
    while (wait_tick(audio, own, &control)) {
        if (control.generation != own->control.generation)
            control_take(audio, own, &control);
        tick(audio, own);
    }
    sm_child_end(&own->child);
    for (int i = 0; i < 100 && !sm_child_reap(&own->child); i++) {
        const struct timespec pause = {.tv_nsec = SM_NS_PER_MS};
        nanosleep(&pause, NULL);
    }
    return NULL;
}

static void stop(sm_audio *audio) {
    sound *own = sound_of(audio);
    if (!own)
        return;
    if (own->has_thread) {
        pthread_mutex_lock(&audio->lock);
        own->quit = true;
        pthread_cond_signal(&own->wake);
        pthread_mutex_unlock(&audio->lock);
        pthread_join(own->thread, NULL);
    }
    if (own->has_wake)
        pthread_cond_destroy(&own->wake);
    sm_render_deinit(&own->render);
    free(own->calls);
    free(own);
    audio->output_state = NULL;
}

static bool wake_init(pthread_cond_t *wake) {
    pthread_condattr_t how;
    if (pthread_condattr_init(&how) != 0)
        return false;
    pthread_condattr_setclock(&how, CLOCK_MONOTONIC);
    bool good = pthread_cond_init(wake, &how) == 0;
    pthread_condattr_destroy(&how);
    return good;
}

static sm_result start(sm_audio *audio) {
    sound *own = calloc(1, sizeof *own);
    if (!own)
        return SM_NO_MEMORY;
    audio->output_state = own;
    audio->state = SM_AUDIO_STARTING;
    own->control.generation = UINT64_MAX; // so that the first tick takes everything over
    snprintf(own->control.device, sizeof own->control.device, "%s", audio->control.device);
    own->wait_ns = RETRY_FIRST_NS;
    own->has_wake = wake_init(&own->wake);
    sm_result result = own->has_wake ? SM_OK : SM_NO_MEMORY;
    if (result == SM_OK)
        result = sm_render_init(&own->render, audio->music, audio->audio_start_us, audio->sound_offset_us);
    sigset_t all, old;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &old);
    if (result == SM_OK)
        own->has_thread = pthread_create(&own->thread, NULL, sound_main, audio) == 0;
    pthread_sigmask(SIG_SETMASK, &old, NULL);
    if (own->has_thread)
        return SM_OK;
    stop(audio);
    return SM_NO_MEMORY;
}

static void changed(sm_audio *audio) {
    sound *own = sound_of(audio);
    pthread_mutex_lock(&audio->lock);
    own->nudged = true;
    pthread_cond_signal(&own->wake);
    pthread_mutex_unlock(&audio->lock);
}

const sm_output SM_OUTPUT_SOUND = {.start = start, .stop = stop, .changed = changed};
