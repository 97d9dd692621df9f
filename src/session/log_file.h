// SPDX-License-Identifier: GPL-3.0-or-later
// Writes the log in a thread of its own, so that a slow disk never holds the engine.
#ifndef SLOWMATCH_SESSION_LOG_FILE_H
#define SLOWMATCH_SESSION_LOG_FILE_H

#include "slowmatch/engine.h"

typedef struct sm_log_writer sm_log_writer;

// Makes the file PATH (an old one is emptied) and writes the header. SM_UNREADABLE (errno), SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_log_writer_open(const char *path, sm_log_writer **out);
// Hands over a row; returns at once. One thread at a time.
void sm_log_writer_put(sm_log_writer *writer, const sm_log_row *row);
// What went wrong in writing so far: 0, or an errno (ENOMEM: rows were lost for want of memory).
int sm_log_writer_error(sm_log_writer *writer);
// Waits until all rows so far are written, at most PATIENCE_US (below 0: for ever). True: they are.
bool sm_log_writer_flush(sm_log_writer *writer, sm_us patience_us);
// Writes what is left and closes. Waits at most PATIENCE_US (below 0: for ever) for the disk; false: the rest was left unwritten. NULL is
// taken.
bool sm_log_writer_close(sm_log_writer *writer, sm_us patience_us);

#endif
