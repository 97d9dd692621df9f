// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/stray_output.h"

#include <fcntl.h>
#include <string.h>
#include <unistd.h>

#define KEPT_BYTES 4096

sm_result sm_stray_output_catch(sm_stray_output *stray) {
    *stray = (sm_stray_output){.saved = -1, .descriptor = -1};
    int ends[2];
    if (pipe2(ends, O_NONBLOCK | O_CLOEXEC) != 0)
        return SM_UNREADABLE;
    stray->saved = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3);
    if (stray->saved < 0 || dup2(ends[1], STDERR_FILENO) < 0) {
        close(ends[0]);
        close(ends[1]);
        if (stray->saved >= 0)
            close(stray->saved);
        stray->saved = -1;
        return SM_UNREADABLE;
    }
    close(ends[1]);
    stray->descriptor = ends[0];
    return SM_OK;
}

void sm_stray_output_release(sm_stray_output *stray) {
    if (stray->saved >= 0) {
        dup2(stray->saved, STDERR_FILENO);
        close(stray->saved);
        close(stray->descriptor);
        stray->saved = stray->descriptor = -1;
    }
    sm_text_deinit(&stray->latest);
}

// Drops whole lines from the front until the rest is short enough.
static void shorten(sm_text *text) {
    if (text->length <= KEPT_BYTES)
        return;
    const char *from = text->bytes + (text->length - KEPT_BYTES);
    const char *line = strchr(from, '\n');
    line = line ? line + 1 : from;
    size_t left = strlen(line);
    memmove(text->bytes, line, left + 1);
    text->length = left;
}

bool sm_stray_output_read(sm_stray_output *stray) {
    char bytes[4096];
    ssize_t count = stray->descriptor >= 0 ? read(stray->descriptor, bytes, sizeof bytes) : 0;
    if (count <= 0)
        return false;
    for (ssize_t i = 0; i < count; i++)
        if (bytes[i] == '\0')
            bytes[i] = '?';
    sm_text_append(&stray->latest, bytes, (size_t)count);
    stray->latest.failed = false;
    shorten(&stray->latest);
    return true;
}
