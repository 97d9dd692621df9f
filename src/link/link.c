// SPDX-License-Identifier: GPL-3.0-or-later
// The trainee's end.
#include "link/pipe.h"

#include "slowmatch/files.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

struct sm_link {
    int listener;
    unsigned number;
    char path[108];
    link_pipe instructor;
    sm_link_feed feed;
    sm_us said_us;   // wall of the latest line sent
    sm_us joined_us; // wall at which the instructor was let in
    bool noted;      // that they joined
};
// Who only looks which drills there are is gone sooner.
#define STAYS_US (2 * SM_US_PER_S)

// ---- listening ----------------------------------------------------------------------------------

// "DIR/slowmatch" into FOLDER. False: no runtime folder, or too long.
static bool find_folder(char folder[96]) {
    const char *runtime = getenv("XDG_RUNTIME_DIR");
    if (!runtime || runtime[0] != '/')
        return false;
    int length = snprintf(folder, 96, "%s/slowmatch", runtime);
    return length > 0 && length < 96;
}

bool sm_link_path(unsigned number, char path[108]) {
    char folder[96];
    int length = find_folder(folder) ? snprintf(path, 108, "%s/drill-%u.sock", folder, number) : 0;
    return length > 0 && length < 108;
}

// The folder is there, ours, and nobody else's to look into.
static bool make_folder(void) {
    char folder[96];
    return find_folder(folder) && sm_folder_make(folder, 0700) == SM_OK && sm_folder_is_own(folder, 077);
}

// Somebody answers at ADDRESS.
static bool is_taken(const struct sockaddr_un *address) {
    int probe = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    bool taken = probe >= 0 && (connect(probe, (const struct sockaddr *)address, sizeof *address) == 0 ||
                                errno == EAGAIN); // that many wait for it

    if (probe >= 0)
        close(probe);
    return taken;
}

// SM_REFUSED: somebody listens there. A socket that is there and at which nobody answers is of a program that has died.
static sm_result listen_at(const char *path, char why[SM_LINK_WHY], int *out) {
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    memcpy(address.sun_path, path, strlen(path) + 1);
    if (is_taken(&address))
        return SM_REFUSED;
    int descriptor = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (descriptor >= 0)
        unlink(path);
    mode_t before = umask(0177);
    bool fine = descriptor >= 0 && bind(descriptor, (const struct sockaddr *)&address, sizeof address) == 0;
    umask(before);
    fine = fine && chmod(path, 0600) == 0 && listen(descriptor, SM_LINK_DRILLS) == 0;
    if (fine) {
        *out = descriptor;
        return SM_OK;
    }
    int error = errno;
    if (descriptor >= 0)
        close(descriptor);
    errno = error;
    snprintf(why, SM_LINK_WHY, "%s: %s: no instructor can join", path, strerror(error));
    return SM_UNREADABLE;
}

static sm_result listen_somewhere(sm_link *link, char why[SM_LINK_WHY]) {
    sm_result result = SM_REFUSED;
    while (result == SM_REFUSED && link->number < SM_LINK_DRILLS && sm_link_path(++link->number, link->path))
        result = listen_at(link->path, why, &link->listener);
    if (result == SM_REFUSED)
        snprintf(why, SM_LINK_WHY,
                 "%d other drills are being taken on this machine: no instructor can join this one",
                 SM_LINK_DRILLS);
    return result;
}

unsigned sm_link_number(const sm_link *link) {
    return link->number;
}

sm_result sm_link_listen(char why[SM_LINK_WHY], sm_link **out) {
    char path[108];
    if (!sm_link_path(1, path)) {
        snprintf(why, SM_LINK_WHY, "XDG_RUNTIME_DIR is not set: no instructor can join");
        return SM_NOT_FOUND;
    }
    if (!make_folder()) {
        snprintf(why, SM_LINK_WHY, "%s: its folder must be the user's alone: %s", path, strerror(errno));
        return SM_UNREADABLE;
    }
    sm_link *link = calloc(1, sizeof *link);
    if (!link) {
        snprintf(why, SM_LINK_WHY, "memory ran out");
        return SM_NO_MEMORY;
    }
    sm_result result = listen_somewhere(link, why);
    if (result != SM_OK) {
        free(link);
        return result;
    }
    link->instructor.descriptor = -1;
    *out = link;
    return SM_OK;
}

void sm_link_close(sm_link *link) {
    if (!link)
        return;
    if (link->instructor.descriptor >= 0)
        (void)link_pipe_put(&link->instructor, "the trainee's program has ended");
    link_pipe_close(&link->instructor);
    close(link->listener);
    unlink(link->path);
    free(link);
}

// ---- telling --------------------------------------------------------------------------------------

typedef struct said {
    sm_link *link;
    sm_wall_time now;
} said;

// An instructor who cannot be told is gone.
static void say(void *context, const char *line) {
    const said *to = context;
    sm_link *link = to->link;
    if (link->instructor.descriptor >= 0 && !link_pipe_put(&link->instructor, line))
        link_pipe_close(&link->instructor);
    link->said_us = to->now.us;
}

// It stands in the record from then on: whoever may see what is to come, and judge, was there. Who only looks which drills there are
// is gone at once, and says nothing.
static sm_result note_joined(sm_link *link, sm_drill_run *run, sm_wall_time now, bool spoke) {
    bool stays = link->instructor.descriptor >= 0 && now.us - link->joined_us >= STAYS_US;
    if (link->noted || !(spoke || stays))
        return SM_OK;
    link->noted = true;
    const sm_action remark = {.act = SM_ACT_REMARK,
                              .index = SM_NONE,
                              .second = SM_NONE,
                              .moment_us = SM_UNSET_US,
                              .end_us = SM_UNSET_US,
                              .target = "an instructor joined from this machine"};
    sm_result result = sm_drill_act(run, &remark, SM_SOURCE_INSTRUCTOR, now);
    return result == SM_REFUSED ? SM_OK : result;
}

// The same user only; one at a time.
static void let_in(sm_link *link, sm_drill_run *run, sm_wall_time now) {
    int descriptor = accept4(link->listener, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
    if (descriptor < 0)
        return;
    struct ucred peer;
    socklen_t length = sizeof peer;
    bool ours = getsockopt(descriptor, SOL_SOCKET, SO_PEERCRED, &peer, &length) == 0 && peer.uid == geteuid();
    char hello[SM_LINK_LINE];
    sm_link_hello(run, hello);
    if (!ours || link->instructor.descriptor >= 0) {
        sm_text turned_away = {0};
        sm_text_printf(&turned_away, "%s\nrefused: an instructor is there already\n", hello);
        if (ours)
            (void)!send(descriptor, sm_text_get(&turned_away), turned_away.length,
                        MSG_NOSIGNAL | MSG_DONTWAIT);
        sm_text_deinit(&turned_away);
        close(descriptor);
        return;
    }
    link->joined_us = now.us;
    link->noted = false;
    link_pipe_open(&link->instructor, descriptor);
    link->feed = (sm_link_feed){0};
    sm_link_welcome(run, say, &(said){link, now});
}

sm_result sm_link_serve(sm_link *link, sm_drill_run *run, sm_wall_time now, bool *did) {
    char line[SM_LINK_LINE];
    said to = {link, now};
    *did = false;
    let_in(link, run, now);
    if (link->instructor.descriptor < 0)
        return SM_OK;
    for (int taken = 0; taken < 64; taken++) { // a flood of lines does not hold the rehearsal
        link_got got = link_pipe_get(&link->instructor, line);
        if (got == LINK_GOT_END)
            link_pipe_close(&link->instructor);
        if (got != LINK_GOT_LINE)
            break;
        sm_result result = note_joined(link, run, now, true);
        if (result == SM_OK && line[0] != '\0')
            result = sm_link_obey(&link->feed, run, now, line, say, &to, did);
        if (result != SM_OK)
            return result;
    }
    sm_result noted = note_joined(link, run, now, false);
    if (noted != SM_OK)
        return noted;
    sm_link_tell_news(&link->feed, run, say, &to);
    if (now.us - link->said_us >= SM_LINK_ALIVE_US)
        say(&to, "");
    if (link->instructor.descriptor >= 0 && !link_pipe_flush(&link->instructor))
        link_pipe_close(&link->instructor);
    return SM_OK;
}
