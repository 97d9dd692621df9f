// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/workers.h"

#include <pthread.h>
#include <sched.h>
#include <signal.h>
#include <stdatomic.h>

enum { THREADS_MAX = 16 };

typedef struct work {
    sm_piece *piece;
    void *context;
    size_t count;
    atomic_size_t next; // piece that nobody has begun
} work;

static void *take_pieces(void *argument) {
    work *const from = argument;
    for (size_t index; (index = atomic_fetch_add(&from->next, 1)) < from->count;)
        from->piece(from->context, index);
    return NULL;
}

void sm_workers_on(size_t threads, sm_piece *piece, void *context, size_t count) {
    work all = {.piece = piece, .context = context, .count = count};
    pthread_t helpers[THREADS_MAX];
    size_t helper_count = 0;
    sigset_t every, before;
    sigfillset(&every);
    pthread_sigmask(SIG_SETMASK, &every, &before);
    while (helper_count + 1 < threads && helper_count + 1 < count && helper_count < THREADS_MAX &&
           pthread_create(&helpers[helper_count], NULL, take_pieces, &all) == 0)
        helper_count++;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    take_pieces(&all);
    for (size_t i = 0; i < helper_count; i++)
        pthread_join(helpers[i], NULL);
}

void sm_workers(sm_piece *piece, void *context, size_t count) {
    cpu_set_t usable;
    const int processors = sched_getaffinity(0, sizeof usable, &usable) == 0 ? CPU_COUNT(&usable) : 1;
    sm_workers_on((size_t)processors, piece, context, count);
}
