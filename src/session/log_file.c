// SPDX-License-Identifier: GPL-3.0-or-later
#include "session/log_file.h"

#include "slowmatch/background.h"
#include "slowmatch/files.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
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

sm_result sm_log_writer_open(const char *path, sm_log_writer **out) {
    sm_log_writer *writer = calloc(1, sizeof *writer);
    if (!writer)
        return SM_NO_MEMORY;
    sm_text_reserve(&writer->line, LINE_ROOM);
    writer->file = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
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
