// SPDX-License-Identifier: GPL-3.0-or-later
// A background writer: a thread that writes what is handed to it, so that whoever hands over never waits for a disk.
//
// Pieces are bytes of any form. They stand in a queue until the thread takes all of them at once. A disk may hang for good (a network
// mount, a stick that was pulled out), and a thread that hangs in the kernel cannot be stopped. So whoever closes waits with
// patience only; then the thread is abandoned, and frees what it holds if it ever comes back.
#ifndef SLOWMATCH_BACKGROUND_H
#define SLOWMATCH_BACKGROUND_H

#include "slowmatch/base.h"

typedef struct sm_background_work {
    // Writes LENGTH bytes, all that was put since the last call, in order. DURABLE: some of it was put to be on the disk at once, or it
    // is the last. Returns 0 or an errno, which sm_background_error tells until the next call. On the writer's thread.
    int (*write)(void *context, const char *bytes, size_t length, bool durable);
    // After the last write, on the writer's thread; may be NULL.
    void (*finish)(void *context);
    // Frees the context where the thread was abandoned, on the writer's thread.
    void (*abandon)(void *context);
    // How long a piece waits for further ones, unless it was put to be written at once.
    sm_us gather_us;
    size_t room; // bytes set aside at the start: so much can wait without memory being asked for; 0: none
} sm_background_work;

typedef struct sm_background sm_background;

// Starts the thread. WORK is static. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_background_start(const sm_background_work *work, void *context,
                                            sm_background **out);
// Hands over a piece; never waits for the disk. False: memory ran out, the piece is lost, and sm_background_lost says so from now on.
// Any thread.
bool sm_background_put(sm_background *background, const char *bytes, size_t length, bool at_once);
// A piece could not even be made for want of memory: sm_background_lost says so from now on. Any thread.
void sm_background_lose(sm_background *background);
bool sm_background_lost(sm_background *background);
// What the latest write returned; ENOMEM where a piece was lost. Any thread.
int sm_background_error(sm_background *background);
// Waits until all that was put is written, at most PATIENCE_US. True: it is.
bool sm_background_flush(sm_background *background, sm_us patience_us);
// Writes what is left and ends the thread; waits for that at most PATIENCE_US (below 0: for ever). True: it has ended, and the context is
// the caller's again. False: the disk did not answer; the thread is left to itself, and so is the context. NULL is taken, and true.
bool sm_background_close(sm_background *background, sm_us patience_us);

#endif
