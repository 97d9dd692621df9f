// SPDX-License-Identifier: GPL-3.0-or-later
#include "session/log_file.h"

#include "slowmatch/clock.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct sm_log_writer {
    int file;
    pthread_mutex_t lock;
    pthread_cond_t changed;
    sm_text waiting; // under the lock
    bool writing;    // the thread is at it
    bool ending;     // no more rows come
    bool ended;      // the thread has written all and will touch nothing more but `lock`
    bool abandoned;  // nobody waits for the thread: it frees the writer itself
    int error;
    pthread_t thread;
};

static void writer_free(sm_log_writer *writer) {
    if (writer->file >= 0)
        close(writer->file);
    sm_text_deinit(&writer->waiting);
    pthread_cond_destroy(&writer->changed);
    pthread_mutex_destroy(&writer->lock);
    free(writer);
}

// 0, or the errno that stopped it.
static int write_all(int file, const char *bytes, size_t length) {
    while (length > 0) {
        ssize_t written = write(file, bytes, length);
        if (written < 0 && errno != EINTR)
            return errno;
        if (written > 0) {
            bytes += written;
            length -= (size_t)written;
        }
    }
    return 0;
}

static void *write_rows(void *context) {
    sm_log_writer *writer = context;
    pthread_mutex_lock(&writer->lock);
    for (;;) {
        while (writer->waiting.length == 0 && !writer->ending)
            pthread_cond_wait(&writer->changed, &writer->lock);
        if (writer->waiting.length == 0)
            break;
        sm_text taken = writer->waiting;
        writer->waiting = (sm_text){0};
        writer->writing = true;
        pthread_mutex_unlock(&writer->lock);
        int error = write_all(writer->file, taken.bytes, taken.length);
        sm_text_deinit(&taken);
        pthread_mutex_lock(&writer->lock);
        writer->error = error ? error : writer->error;
        writer->writing = false;
        pthread_cond_broadcast(&writer->changed);
    }
    writer->ended = true;
    bool abandoned = writer->abandoned;
    pthread_cond_broadcast(&writer->changed);
    pthread_mutex_unlock(&writer->lock);
    if (abandoned)
        writer_free(writer);
    return NULL;
}

sm_result sm_log_writer_open(const char *path, sm_log_writer **out) {
    sm_log_writer *writer = calloc(1, sizeof *writer);
    if (!writer)
        return SM_NO_MEMORY;
    pthread_mutex_init(&writer->lock, NULL);
    sm_condition_init(&writer->changed);
    writer->file = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
    if (writer->file < 0) {
        int reason = errno;
        writer_free(writer);
        errno = reason;
        return SM_UNREADABLE;
    }
    sm_text_printf(&writer->waiting, "%s\n", SM_LOG_HEADER);
    if (pthread_create(&writer->thread, NULL, write_rows, writer) != 0) {
        writer_free(writer);
        return SM_NO_MEMORY;
    }
    *out = writer;
    return SM_OK;
}

void sm_log_writer_put(sm_log_writer *writer, const sm_log_row *row) {
    pthread_mutex_lock(&writer->lock);
    sm_log_row_format(&writer->waiting, row);
    if (writer->waiting.failed) {
        writer->error = ENOMEM;
        writer->waiting.failed = false;
    }
    pthread_cond_broadcast(&writer->changed);
    pthread_mutex_unlock(&writer->lock);
}

int sm_log_writer_error(sm_log_writer *writer) {
    pthread_mutex_lock(&writer->lock);
    int error = writer->error;
    pthread_mutex_unlock(&writer->lock);
    return error;
}

bool sm_log_writer_flush(sm_log_writer *writer, sm_us patience_us) {
    struct timespec limit = sm_monotonic_after(patience_us);
    pthread_mutex_lock(&writer->lock);
    while ((writer->waiting.length > 0 || writer->writing) &&
           pthread_cond_timedwait(&writer->changed, &writer->lock, &limit) != ETIMEDOUT) {
    }
    bool written = writer->waiting.length == 0 && !writer->writing;
    pthread_mutex_unlock(&writer->lock);
    return written;
}

bool sm_log_writer_close(sm_log_writer *writer, sm_us patience_us) {
    if (!writer)
        return true;
    struct timespec limit = sm_monotonic_after(patience_us);
    pthread_mutex_lock(&writer->lock);
    writer->ending = true;
    pthread_cond_broadcast(&writer->changed);
    while (!writer->ended && pthread_cond_timedwait(&writer->changed, &writer->lock, &limit) != ETIMEDOUT) {
    }
    bool ended = writer->ended;
    pthread_t thread = writer->thread; // an abandoned writer may be gone as soon as it is unlocked
    writer->abandoned = !ended;
    pthread_mutex_unlock(&writer->lock);
    if (ended) {
        pthread_join(thread, NULL);
        writer_free(writer);
    } else {
        pthread_detach(thread);
    }
    return ended;
}
