// SPDX-License-Identifier: GPL-3.0-or-later
// The instructor's end.
#include "link/pipe.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

struct sm_link_guest {
    link_pipe pipe;
};

static sm_result failed(char why[SM_LINK_WHY], sm_result result, const char *what, int error) {
    snprintf(why, SM_LINK_WHY, "%s%s%s", what, error != 0 ? ": " : "", error != 0 ? strerror(error) : "");
    errno = error;
    return result;
}

// A socket that has joined drill NUMBER, -1: errno.
static int connect_to(unsigned number) {
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    int descriptor = sm_link_path(number, address.sun_path)
                         ? socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0)
                         : -1;
    if (descriptor >= 0 && connect(descriptor, (const struct sockaddr *)&address, sizeof address) != 0) {
        int error = errno;
        close(descriptor);
        errno = error;
        return -1;
    }
    return descriptor;
}

unsigned sm_link_find(unsigned numbers[SM_LINK_DRILLS]) {
    unsigned count = 0;
    for (unsigned number = 1; number <= SM_LINK_DRILLS; number++) {
        int descriptor = connect_to(number);
        bool there = descriptor >= 0 || errno == EAGAIN; // that many wait for its program: it stands
        if (descriptor >= 0)
            close(descriptor);
        if (there)
            numbers[count++] = number;
    }
    return count;
}

sm_result sm_link_join(unsigned number, char why[SM_LINK_WHY], sm_link_guest **out) {
    char path[108];
    if (!sm_link_path(number, path))
        return failed(why, SM_NOT_FOUND, "XDG_RUNTIME_DIR is not set: there is no place for the link", 0);
    int descriptor = connect_to(number);
    if (descriptor < 0 && (errno == ENOENT || errno == ECONNREFUSED))
        return failed(why, SM_NOT_FOUND, SM_LINK_NOBODY, 0);
    if (descriptor < 0)
        return failed(why, SM_UNREADABLE, path, errno);
    sm_link_guest *guest = malloc(sizeof *guest);
    if (!guest) {
        close(descriptor);
        return failed(why, SM_NO_MEMORY, "memory ran out", 0);
    }
    link_pipe_open(&guest->pipe, descriptor);
    *out = guest;
    return SM_OK;
}

void sm_link_leave(sm_link_guest *guest) {
    if (!guest)
        return;
    link_pipe_close(&guest->pipe);
    free(guest);
}

int sm_link_guest_descriptor(const sm_link_guest *guest) {
    return guest->pipe.descriptor;
}

bool sm_link_ask(sm_link_guest *guest, const char *line) {
    return link_pipe_put(&guest->pipe, line);
}

sm_link_word sm_link_hear(sm_link_guest *guest, char line[SM_LINK_LINE]) {
    switch (link_pipe_get(&guest->pipe, line)) {
    case LINK_GOT_NOTHING:
        return SM_LINK_NOTHING;
    case LINK_GOT_END:
        return SM_LINK_GONE;
    case LINK_GOT_LINE:
        break;
    }
    return line[0] == '\0' ? SM_LINK_ALIVE : SM_LINK_SAID;
}
