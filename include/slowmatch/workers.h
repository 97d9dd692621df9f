// SPDX-License-Identifier: GPL-3.0-or-later
// Work in pieces, done by several threads.
#ifndef SLOWMATCH_WORKERS_H
#define SLOWMATCH_WORKERS_H

#include "slowmatch/base.h"

// An sm_together by as many threads as this process may use processors, the caller's among them. Where no thread can be had the
// caller does all. Signals stay with the caller.
void sm_workers(sm_piece *piece, void *context, size_t count);

// The same by THREADS threads.
void sm_workers_on(size_t threads, sm_piece *piece, void *context, size_t count);

#endif
