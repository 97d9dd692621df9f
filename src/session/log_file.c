// SPDX-License-Identifier: GPL-3.0-or-later
#include "session/log_file.h"

#include "slowmatch/background.h"
#include "slowmatch/files.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

// Set aside, so that the row of a stop needs no memory: some hundreds of rows wait in it.
#define ROOM ((size_t)64 * 1024)
#define LINE_ROOM 4096

struct sm_log_writer {
    int file, error; // of the background writer
    sm_background *background;
    sm_text line; // of whoever puts; its room is kept
};

static void writer_free(sm_log_writer *writer) {
    if (writer->file >= 0)
        close(writer->file);
    sm_text_deinit(&writer->line);
    free(writer);
}

// A log with a gap stays one: the first error is told for good.
static int write_rows(void *context, const char *bytes, size_t length, bool durable) {
    sm_log_writer *writer = context;
    (void)durable;
    if (!sm_write_all(writer->file, bytes, length) && writer->error == 0)
        writer->error = errno;
    return writer->error;
}

static void abandon(void *context) {
    sm_log_writer *writer = context;
    writer_free(writer);
}

static const sm_background_work work = {.write = write_rows, .abandon = abandon, .room = ROOM};

// A file with anything in it but a log is somebody's. 0: it is emptied.
static int take_over(int file) {
    static const char head[] = SM_LOG_HEADER "\n";
    char found[sizeof head];
    const ssize_t got = pread(file, found, sizeof head - 1, 0);
    if (got < 0)
        return errno;
    if (got > 0 && (got < (ssize_t)sizeof head - 1 || memcmp(found, head, sizeof head - 1) != 0))
        return EEXIST;
    return ftruncate(file, 0) == 0 ? 0 : errno;
}

// A new file, or an earlier log; else a pipe that somebody reads, or a device. -1: errno.
static int open_own(const char *path) {
    struct stat found;
    int file = open(path, O_RDWR | O_CREAT | O_NONBLOCK | O_CLOEXEC | O_NOCTTY, 0666);
    if (file < 0 || fstat(file, &found) != 0)
        return file;
    int why = S_ISREG(found.st_mode) ? take_over(file) : 0;
    if (why == 0 && S_ISFIFO(found.st_mode)) {
        const int both = file; // would be its own reader
        file = open(path, O_WRONLY | O_NONBLOCK | O_CLOEXEC);
        why = file < 0 ? errno : 0;
        close(both);
    }
    if (why == 0 && fcntl(file, F_SETFL, 0) == 0)
        return file;
    if (file >= 0)
        close(file);
    errno = why;
    return -1;
}

sm_result sm_log_writer_open(const char *path, sm_log_writer **out) {
    sm_log_writer *writer = calloc(1, sizeof *writer);
    if (!writer)
        return SM_NO_MEMORY;
    sm_text_reserve(&writer->line, LINE_ROOM);
    writer->file = open_own(path);
    sm_result result = writer->file < 0      ? SM_UNREADABLE
                       : writer->line.failed ? SM_NO_MEMORY
                                             : sm_background_start(&work, writer, &writer->background);
    if (result != SM_OK) {
        int reason = errno;
        writer_free(writer);
        errno = reason;
        return result;
    }
    sm_background_put(writer->background, SM_LOG_HEADER "\n", strlen(SM_LOG_HEADER "\n"), false);
    *out = writer;
    return SM_OK;
}

void sm_log_writer_put(sm_log_writer *writer, const sm_log_row *row) {
    sm_text *line = &writer->line;
    assert(row->kind.what < SM_LOG_COUNT && row->cue && row->target && row->detail);
    sm_text_clear(line);
    sm_log_row_format(line, row);
    if (line->failed)
        sm_background_lose(writer->background);
    else
        sm_background_put(writer->background, line->bytes, line->length, false);
}

int sm_log_writer_error(sm_log_writer *writer) {
    return sm_background_error(writer->background);
}

bool sm_log_writer_flush(sm_log_writer *writer, sm_us patience_us) {
    return sm_background_flush(writer->background, patience_us);
}

bool sm_log_writer_close(sm_log_writer *writer, sm_us patience_us) {
    if (!writer)
        return true;
    bool ended = sm_background_close(writer->background, patience_us);
    if (ended)
        writer_free(writer);
    return ended;
}
