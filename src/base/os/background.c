// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/background.h"

#include "slowmatch/clock.h"

#include <errno.h>
#include <stdlib.h>

struct sm_background {
    const sm_background_work *work;
    void *context; // of the thread while it runs
    pthread_t thread;
    pthread_mutex_t lock;
    pthread_cond_t changed;
    // Under the lock:
    sm_text queue,
        spare; // go round between those who hand over and the thread; each keeps the room set aside for it
    int64_t since_us; // monotonic, of the oldest piece in the queue
    bool at_once;     // nothing in the queue waits for more
    bool writing;     // the thread is at what it took
    bool ending;      // no more pieces come
    bool ended;       // the thread has written all and touches nothing more but the lock
    bool abandoned;   // nobody waits for the thread: it frees everything
    bool lost;        // a piece was lost for want of memory
    int error;
};

static void background_free(sm_background *b) {
    sm_text_deinit(&b->queue);
    sm_text_deinit(&b->spare);
    pthread_cond_destroy(&b->changed);
    pthread_mutex_destroy(&b->lock);
    free(b);
}

// ---- the thread -----------------------------------------------------------------------

static void wait_for_pieces(sm_background *b) {
    while (b->queue.length == 0 && !b->ending)
        pthread_cond_wait(&b->changed, &b->lock);
    struct timespec until = sm_monotonic_at_ns((b->since_us + b->work->gather_us) * 1000);
    while (!b->at_once && !b->ending)
        if (pthread_cond_timedwait(&b->changed, &b->lock, &until) == ETIMEDOUT)
            break;
}

// Writes what is in the queue. The lock is held before and after, not during the write.
static void write_pieces(sm_background *b) {
    sm_text taken = b->queue;
    bool durable = b->at_once || b->ending;
    b->queue = b->spare;
    b->spare = (sm_text){0};
    b->at_once = false;
    b->writing = true;
    pthread_mutex_unlock(&b->lock);
    int error = b->work->write(b->context, taken.bytes, taken.length, durable);
    sm_text_clear(&taken);
    pthread_mutex_lock(&b->lock);
    b->spare = taken;
    b->error = error;
    b->writing = false;
    pthread_cond_broadcast(&b->changed);
}

static void *run(void *argument) {
    sm_background *b = argument;
    pthread_mutex_lock(&b->lock);
    for (;;) {
        wait_for_pieces(b);
        if (b->queue.length == 0)
            break;
        write_pieces(b);
    }
    pthread_mutex_unlock(&b->lock);
    if (b->work->finish)
        b->work->finish(b->context);
    pthread_mutex_lock(&b->lock);
    b->ended = true;
    bool abandoned = b->abandoned;
    pthread_cond_broadcast(&b->changed);
    pthread_mutex_unlock(&b->lock);
    if (abandoned) {
        b->work->abandon(b->context);
        background_free(b);
    }
    return NULL;
}

// ---- for those who hand over -------------------------------------------------------------

sm_result sm_background_start(const sm_background_work *work, void *context, sm_background **out) {
    sm_background *b = calloc(1, sizeof *b);
    if (!b)
        return SM_NO_MEMORY;
    b->work = work;
    b->context = context;
    pthread_mutex_init(&b->lock, NULL);
    sm_condition_init(&b->changed);
    sm_text_reserve(&b->queue, work->room);
    sm_text_reserve(&b->spare, work->room);
    if (b->queue.failed || b->spare.failed || pthread_create(&b->thread, NULL, run, b) != 0) {
        background_free(b);
        return SM_NO_MEMORY;
    }
    *out = b;
    return SM_OK;
}

bool sm_background_put(sm_background *b, const char *bytes, size_t length, bool at_once) {
    pthread_mutex_lock(&b->lock);
    bool was_empty = b->queue.length == 0;
    if (was_empty)
        b->since_us = sm_monotonic_us();
    sm_text_append(&b->queue, bytes, length);
    bool put = !b->queue.failed;
    b->queue.failed = false;
    b->lost = b->lost || !put;
    b->at_once = b->queue.length > 0 && (b->at_once || at_once);
    if (was_empty || at_once)
        pthread_cond_broadcast(&b->changed);
    pthread_mutex_unlock(&b->lock);
    return put;
}

void sm_background_lose(sm_background *b) {
    pthread_mutex_lock(&b->lock);
    b->lost = true;
    pthread_mutex_unlock(&b->lock);
}

bool sm_background_lost(sm_background *b) {
    pthread_mutex_lock(&b->lock);
    bool lost = b->lost;
    pthread_mutex_unlock(&b->lock);
    return lost;
}

int sm_background_error(sm_background *b) {
    pthread_mutex_lock(&b->lock);
    int error = b->lost ? ENOMEM : b->error;
    pthread_mutex_unlock(&b->lock);
    return error;
}

// ---- waiting ---------------------------------------------------------------------------------

static bool is_idle(const sm_background *b) {
    return b->queue.length == 0 && !b->writing;
}

static bool has_ended(const sm_background *b) {
    return b->ended;
}

// Waits for IS_DONE, at most PATIENCE_US, below 0 for ever. The lock is held.
static bool wait_until(sm_background *b, bool (*is_done)(const sm_background *), sm_us patience_us) {
    struct timespec limit = sm_monotonic_after(patience_us);
    int waited = 0;
    while (!is_done(b) && waited != ETIMEDOUT)
        waited = patience_us < 0 ? pthread_cond_wait(&b->changed, &b->lock)
                                 : pthread_cond_timedwait(&b->changed, &b->lock, &limit);
    return is_done(b);
}

bool sm_background_flush(sm_background *b, sm_us patience_us) {
    pthread_mutex_lock(&b->lock);
    b->at_once = b->queue.length > 0;
    pthread_cond_broadcast(&b->changed);
    bool written = wait_until(b, is_idle, patience_us);
    pthread_mutex_unlock(&b->lock);
    return written;
}

bool sm_background_close(sm_background *b, sm_us patience_us) {
    if (!b)
        return true;
    pthread_mutex_lock(&b->lock);
    b->ending = true;
    pthread_cond_broadcast(&b->changed);
    bool ended = wait_until(b, has_ended, patience_us);
    pthread_t thread = b->thread; // an abandoned writer may be gone as soon as it is unlocked
    b->abandoned = !ended;
    pthread_mutex_unlock(&b->lock);
    if (ended) {
        pthread_join(thread, NULL);
        background_free(b);
    } else {
        pthread_detach(thread);
    }
    return ended;
}
