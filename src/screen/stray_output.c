// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/stray_output.h"

#include <fcntl.h>
#include <string.h>
#include <unistd.h>

#define KEPT_BYTES 4096

sm_result sm_noise_catch(sm_noise *noise) {
    *noise = (sm_noise){.saved = -1, .descriptor = -1};
    int ends[2];
    if (pipe2(ends, O_NONBLOCK | O_CLOEXEC) != 0)
        return SM_UNREADABLE;
    noise->saved = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3);
    if (noise->saved < 0 || dup2(ends[1], STDERR_FILENO) < 0) {
        close(ends[0]);
        close(ends[1]);
        if (noise->saved >= 0)
            close(noise->saved);
        noise->saved = -1;
        return SM_UNREADABLE;
    }
    close(ends[1]);
    noise->descriptor = ends[0];
    return SM_OK;
}

void sm_noise_release(sm_noise *noise) {
    if (noise->saved >= 0) {
        dup2(noise->saved, STDERR_FILENO);
        close(noise->saved);
        close(noise->descriptor);
        noise->saved = noise->descriptor = -1;
    }
    sm_text_deinit(&noise->latest);
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

bool sm_noise_read(sm_noise *noise) {
    char bytes[4096];
    ssize_t count = noise->descriptor >= 0 ? read(noise->descriptor, bytes, sizeof bytes) : 0;
    if (count <= 0)
        return false;
    for (ssize_t i = 0; i < count; i++)
        if (bytes[i] == '\0')
            bytes[i] = '?';
    sm_text_append(&noise->latest, bytes, (size_t)count);
    noise->latest.failed = false;
    shorten(&noise->latest);
    return true;
}
