// SPDX-License-Identifier: GPL-3.0-or-later
#include "link/pipe.h"

#include <errno.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

// More than this unsent: the other end has stopped reading.
#define OUT_MOST ((size_t)1 << 20)

void link_pipe_open(link_pipe *pipe, int descriptor) {
    *pipe = (link_pipe){.descriptor = descriptor};
}

void link_pipe_close(link_pipe *pipe) {
    if (pipe->descriptor >= 0)
        close(pipe->descriptor);
    sm_text_deinit(&pipe->out);
    *pipe = (link_pipe){.descriptor = -1};
}

bool link_pipe_flush(link_pipe *pipe) {
    size_t sent = 0;
    while (sent < pipe->out.length) {
        ssize_t n = send(pipe->descriptor, pipe->out.bytes + sent, pipe->out.length - sent,
                         MSG_NOSIGNAL | MSG_DONTWAIT);
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0 && errno != EAGAIN && errno != EWOULDBLOCK)
            return false;
        if (n <= 0)
            break;
        sent += (size_t)n;
    }
    if (sent > 0) {
        memmove(pipe->out.bytes, pipe->out.bytes + sent, pipe->out.length - sent + 1);
        pipe->out.length -= sent;
    }
    return pipe->out.length < OUT_MOST && !pipe->out.failed;
}

bool link_pipe_put(link_pipe *pipe, const char *line) {
    if (pipe->descriptor < 0)
        return false;
    size_t length = strnlen(line, SM_LINK_LINE - 2), begins = pipe->out.length;
    sm_text_append(&pipe->out, line, length);
    if (pipe->out.length > begins)
        sm_text_blank_harm(pipe->out.bytes + begins, pipe->out.length - begins);
    sm_text_append(&pipe->out, "\n", 1);
    return link_pipe_flush(pipe);
}

// Takes a line off what has come. A line that does not fit is given as far as it goes, and its rest dropped.
static bool take_line(link_pipe *pipe, char line[SM_LINK_LINE]) {
    char *end = memchr(pipe->in, '\n', pipe->in_length);
    if (!end && pipe->in_length < SM_LINK_LINE - 1)
        return false;
    size_t length = end ? (size_t)(end - pipe->in) : pipe->in_length;
    size_t kept = length < SM_LINK_LINE - 1 ? length : SM_LINK_LINE - 1;
    size_t used = end ? length + 1 : length;
    bool rest = pipe->in_cut;
    memcpy(line, pipe->in, kept);
    line[kept] = '\0';
    sm_text_blank_harm(line, kept);
    memmove(pipe->in, pipe->in + used, pipe->in_length - used);
    pipe->in_length -= used;
    pipe->in_cut = !end;
    return !rest || take_line(pipe, line);
}

link_got link_pipe_get(link_pipe *pipe, char line[SM_LINK_LINE]) {
    if (pipe->descriptor < 0)
        return LINK_GOT_END;
    for (;;) {
        if (take_line(pipe, line))
            return LINK_GOT_LINE;
        ssize_t n = recv(pipe->descriptor, pipe->in + pipe->in_length, sizeof pipe->in - pipe->in_length,
                         MSG_DONTWAIT);
        if (n > 0) {
            pipe->in_length += (size_t)n;
            continue;
        }
        if (n < 0 && errno == EINTR)
            continue;
        return n < 0 && (errno == EAGAIN || errno == EWOULDBLOCK) ? LINK_GOT_NOTHING : LINK_GOT_END;
    }
}
