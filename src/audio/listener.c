// SPDX-License-Identifier: GPL-3.0-or-later
// The listening thread: keeps a sound process on an input, follows its card's time, reads what it hears.
#include "audio/code_reader.h"
#include "audio/follow.h"
#include "audio/mono.h"
#include "audio/process_handle.h"

#include "slowmatch/clock.h"
#include "slowmatch/listen.h"

#include <errno.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TICK_NS (10 * SM_NS_PER_MS)
#define RETRY_NS (SM_NS_PER_S)
#define ROOM 4096

struct sm_listener {
    pthread_t thread;
    bool has_thread;
    pthread_mutex_t lock;
    pthread_cond_t wake;
    // Under the lock.
    bool quit, show_changed;
    sm_moment_base new_show; // to come
    sm_us new_free_run_us;
    sm_timecode_heard heard;
    sm_audio_device devices[SM_AUDIO_DEVICES_MAX];
    int device_count; // -1: not known yet
    // The thread's own.
    bool has_show;
    sm_moment_base show;
    char device[128];
    int channel;
    sm_us free_run_us;
    sm_child child;
    bool begun, beats; // the process was begun; it has given sound
    int64_t retry_ns;
    sm_follow follow;
    sm_code_reader reader; // no decoder: nothing was heard yet
    bool lost;             // the input went away while it was believed
    uint64_t read, strays, jumps;
    bool was_followed;
    int64_t locked_ns;
    double locked_us;
    uint64_t locked_jumps;
};

// ---- the process's life --------------------------------------------------------------------

static bool is_followed(const sm_listener *l) {
    return l->reader.decoder && l->reader.belief.now.count > 0;
}

// What was counted is kept; a reader begins anew with every stream, and with another show.
static bool reader_begin(sm_listener *l, int rate_hz) {
    const sm_code_belief *b = &l->reader.belief;
    if (l->reader.decoder) {
        l->read += b->read;
        l->strays += b->strays;
        l->jumps += b->jumps;
    }
    sm_code_reader_deinit(&l->reader);
    return sm_code_reader_init(&l->reader, rate_hz, l->has_show ? &l->show : NULL, l->free_run_us);
}

static void trouble(sm_listener *l, const char *why, int64_t now_ns) {
    l->lost |= is_followed(l);
    sm_child_end(&l->child);
    l->begun = l->beats = false;
    l->retry_ns = now_ns + RETRY_NS;
    l->reader.belief.now.count = 0;
    pthread_mutex_lock(&l->lock);
    snprintf(l->heard.reason, sizeof l->heard.reason, "%s", why);
    pthread_mutex_unlock(&l->lock);
}

// A process that failed before it had a list leaves none.
static void note_devices(sm_listener *l) {
    const sm_shared *shared = l->child.shared;
    if (atomic_load_explicit(&shared->phase, memory_order_acquire) < SM_CHILD_LISTED)
        return;
    pthread_mutex_lock(&l->lock);
    l->device_count = shared->device_count;
    memcpy(l->devices, shared->devices, sizeof l->devices);
    pthread_mutex_unlock(&l->lock);
}

static void look_after(sm_listener *l, int64_t now_ns) {
    static const int rates[] = {48000, 44100};
    if (!l->begun && now_ns >= l->retry_ns) {
        l->retry_ns = now_ns + RETRY_NS;
        l->begun = sm_child_start(&l->child, SM_CHILD_LISTENS, l->device, rates, 2) == SM_OK;
    }
    if (!l->begun)
        return;
    const char *why = sm_child_trouble(&l->child, now_ns);
    if (!l->beats)
        note_devices(l);
    if (!why && !l->beats && sm_child_beats(&l->child)) {
        l->beats = reader_begin(l, l->child.shared->rate_hz);
        sm_follow_init(&l->follow, l->child.shared->rate_hz);
        pthread_mutex_lock(&l->lock);
        snprintf(l->heard.device, sizeof l->heard.device, "%.127s", l->child.shared->name);
        l->heard.reason[0] = '\0';
        pthread_mutex_unlock(&l->lock);
    }
    if (why || (sm_child_beats(&l->child) && !l->beats))
        trouble(l, why ? why : "memory ran out", now_ns);
}

// ---- what it hears -----------------------------------------------------------------------------

static void take_sound(sm_listener *l) {
    float samples[ROOM];
    uint64_t at;
    sm_clock_reading reading;
    while (sm_shared_reading(l->child.shared, &reading))
        (void)sm_follow_feed(&l->follow, reading.frame, sm_clock_reading_sounds_ns(&reading));
    for (size_t count = 1; count > 0;) {
        count = sm_ring_hear(&l->child.shared->ring, l->channel - 1, samples, ROOM, &at);
        if (count > 0)
            sm_code_reader_take(&l->reader, at, samples, count);
    }
}

static void note_lock(sm_listener *l, const sm_timecode_heard *h) {
    const bool follows = is_followed(l) && l->follow.locked;
    if (follows && (!l->was_followed || h->jumps != l->locked_jumps)) {
        l->locked_ns = h->mono_ns;
        l->locked_us = h->show_us;
        l->locked_jumps = h->jumps;
    }
    l->lost &= !follows;
    l->was_followed = follows;
}

// The place now, by the line that the frames make over samples, and these over our clock.
static void put_place(const sm_listener *l, int64_t now_ns, sm_timecode_heard *h) {
    const sm_code_belief *b = &l->reader.belief;
    h->mono_ns = now_ns;
    h->show_us = sm_code_belief_show_us(b, sm_follow_frame_at(&l->follow, now_ns));
    h->speed = b->us_a_sample * b->rate_hz / 1e6 * sm_follow_rate(&l->follow);
    h->rate = b->rate;
    h->drop = b->drop;
    h->sure = b->sure;
    h->differs = l->has_show && (b->rate != l->show.rate || b->drop != l->show.drop);
    sm_code_belief_number(b, h->show_us, &h->hours, &h->minutes, &h->seconds, &h->frame);
}

static sm_timecode_state state_of(const sm_listener *l) {
    if (!l->reader.decoder || l->lost)
        return l->lost ? SM_TIMECODE_LOST : SM_TIMECODE_WAITING;
    const bool timed = l->beats && l->follow.locked;
    return timed || !is_followed(l) ? l->reader.belief.state : SM_TIMECODE_WAITING;
}

static void publish(sm_listener *l, int64_t now_ns) {
    pthread_mutex_lock(&l->lock);
    sm_timecode_heard h = l->heard;
    pthread_mutex_unlock(&l->lock);
    const sm_code_belief *b = &l->reader.belief;
    h.listens = l->beats;
    h.level_dbfs = l->beats ? sm_code_sound_level_dbfs(&l->reader.sound) : -120;
    h.trouble = l->beats ? b->trouble : SM_TIMECODE_NO_INPUT;
    h.read = l->read + b->read;
    h.strays = l->strays + b->strays;
    h.jumps = l->jumps + b->jumps;
    h.jumped_from = b->jumped_from;
    h.jumped_to = b->jumped_to;
    if (is_followed(l) && l->follow.locked)
        put_place(l, now_ns, &h);
    note_lock(l, &h);
    h.state = state_of(l);
    h.locked_ns = l->locked_ns;
    h.drift_us = h.show_us - l->locked_us - (double)(h.mono_ns - l->locked_ns) / 1e3;
    pthread_mutex_lock(&l->lock);
    l->heard = h;
    pthread_mutex_unlock(&l->lock);
}

// ---- the thread -----------------------------------------------------------------------------------

static bool wait_tick(sm_listener *l) {
    const struct timespec until = sm_monotonic_at_ns(sm_mono_ns() + TICK_NS);
    pthread_mutex_lock(&l->lock);
    while (!l->quit && pthread_cond_timedwait(&l->wake, &l->lock, &until) != ETIMEDOUT) {
    }
    const bool quit = l->quit, anew = l->show_changed;
    l->show_changed = false;
    if (anew) {
        l->show = l->new_show;
        l->free_run_us = l->new_free_run_us;
        l->has_show = true;
    }
    pthread_mutex_unlock(&l->lock);
    if (anew && l->reader.decoder)
        l->beats &= reader_begin(l, l->reader.belief.rate_hz);
    return !quit;
}

static void *listen_main(void *context) {
    sm_listener *l = context;
    while (wait_tick(l)) {
        const int64_t now_ns = sm_mono_ns();
        sm_child_reap(&l->child);
        look_after(l, now_ns);
        if (l->beats)
            take_sound(l);
        publish(l, sm_mono_ns());
    }
    sm_child_end(&l->child);
    for (int i = 0; i < 100 && !sm_child_reap(&l->child); i++) {
        const struct timespec pause = {.tv_nsec = SM_NS_PER_MS};
        nanosleep(&pause, NULL);
    }
    return NULL;
}

sm_result sm_listener_open(const sm_listener_options *options, sm_listener **out) {
    if (options->channel < 1 || options->channel > 2 || options->free_run_us < 0)
        return SM_OUT_OF_RANGE;
    sm_listener *l = calloc(1, sizeof *l);
    if (!l)
        return SM_NO_MEMORY;
    snprintf(l->device, sizeof l->device, "%s", options->device ? options->device : "");
    l->channel = options->channel;
    l->free_run_us = options->free_run_us;
    l->has_show = options->show != NULL;
    if (options->show)
        l->show = *options->show;
    l->heard.state = SM_TIMECODE_WAITING;
    l->heard.trouble = SM_TIMECODE_NO_INPUT;
    l->heard.level_dbfs = -120;
    l->device_count = -1;
    pthread_mutex_init(&l->lock, NULL);
    sm_condition_init(&l->wake);
    sigset_t all, old;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &old);
    l->has_thread = pthread_create(&l->thread, NULL, listen_main, l) == 0;
    pthread_sigmask(SIG_SETMASK, &old, NULL);
    if (!l->has_thread) {
        sm_listener_close(l);
        return SM_NO_MEMORY;
    }
    *out = l;
    return SM_OK;
}

void sm_listener_close(sm_listener *l) {
    if (!l)
        return;
    if (l->has_thread) {
        pthread_mutex_lock(&l->lock);
        l->quit = true;
        pthread_cond_signal(&l->wake);
        pthread_mutex_unlock(&l->lock);
        pthread_join(l->thread, NULL);
    }
    sm_code_reader_deinit(&l->reader);
    pthread_cond_destroy(&l->wake);
    pthread_mutex_destroy(&l->lock);
    free(l);
}

void sm_listener_look(sm_listener *l, sm_timecode_heard *out) {
    pthread_mutex_lock(&l->lock);
    *out = l->heard;
    pthread_mutex_unlock(&l->lock);
}

int sm_listener_devices(sm_listener *l, sm_audio_device *out, int room) {
    pthread_mutex_lock(&l->lock);
    const int count = l->device_count;
    for (int i = 0; i < count && i < room; i++)
        out[i] = l->devices[i];
    pthread_mutex_unlock(&l->lock);
    return count < room ? count : room;
}

void sm_listener_show(sm_listener *l, const sm_moment_base *show, sm_us free_run_us) {
    pthread_mutex_lock(&l->lock);
    l->new_show = *show;
    l->new_free_run_us = free_run_us;
    l->show_changed = true;
    pthread_mutex_unlock(&l->lock);
}
