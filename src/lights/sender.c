// SPDX-License-Identifier: GPL-3.0-or-later
#include "lights/sender.h"

#include "slowmatch/start_self.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

// As they are typed: 10.9.0.2,3=10.9.0.4
static void put_destinations(const sm_lights_options *options, sm_text *out) {
    for (size_t i = 0; i < options->to_count; i++) {
        const sm_lights_to *to = &options->to[i];
        char address[40];
        sm_text_printf(out, "%s", i > 0 ? "," : "");
        if (to->universe > 0)
            sm_text_printf(out, "%d=", to->universe);
        sm_text_printf(out, "%s", to->address ? sm_lights_to_format(address, to->address, 0) : "multicast");
    }
}

static int start(const char *folder, const sm_lights_options *options, int descriptor, pid_t *pid) {
    char name[] = "slowmatch", argument[] = SM_LIGHTS_PROCESS_ARGUMENT, priority[8], interface[16];
    sm_text to = {0};
    char *copy = strdup(folder);
    int error = ENOMEM;
    memcpy(interface, options->interface, sizeof interface);
    snprintf(priority, sizeof priority, "%d", options->priority);
    put_destinations(options, &to);
    if (copy && !to.failed && to.bytes)
        error = sm_start_self((char *[]){name, argument, copy, interface, to.bytes, priority, NULL},
                              descriptor, LIGHTS_DESCRIPTOR, pid);
    free(copy);
    sm_text_deinit(&to);
    return error;
}

bool lights_sender_start(lights_sender *sender, const char *folder, const sm_lights_options *options,
                         char why[SM_LIGHTS_WHY]) {
    int pair[2], error = 0;
    pid_t pid = 0;
    if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC | SOCK_NONBLOCK, 0, pair) != 0) {
        snprintf(why, SM_LIGHTS_WHY, "the sending process cannot be spoken to: %s", strerror(errno));
        return false;
    }
    error = start(folder, options, pair[1], &pid);
    close(pair[1]);
    if (error != 0) {
        close(pair[0]);
        snprintf(why, SM_LIGHTS_WHY, "the sending process does not start: %s", strerror(error));
        return false;
    }
    sender->pid = pid;
    sender->descriptor = pair[0];
    return true;
}

static bool put(lights_sender *sender, const void *message, size_t length) {
    return sender->pid != 0 &&
           send(sender->descriptor, message, length, MSG_NOSIGNAL | MSG_DONTWAIT) == (ssize_t)length;
}

bool lights_sender_order(lights_sender *sender, const lights_order *order) {
    assert(order->count == 0);
    return put(sender, order, sizeof *order);
}

bool lights_sender_frames(lights_sender *sender, lights_orders *orders, size_t count) {
    assert(count <= SM_LIGHTS_UNIVERSES);
    orders->order = (lights_order){.kind = LIGHTS_FRAME, .count = (int32_t)count};
    return put(sender, orders, offsetof(lights_orders, verdicts) + count * sizeof orders->verdicts[0]);
}

lights_sender_said lights_sender_hear(lights_sender *sender, lights_news *out) {
    if (sender->pid == 0)
        return LIGHTS_GONE;
    ssize_t length = recv(sender->descriptor, out, sizeof *out, MSG_DONTWAIT);
    if (length < 0 &&
        errno == ECONNRESET) // it ended with orders unread: told once, and what it said last comes after that
        length = recv(sender->descriptor, out, sizeof *out, MSG_DONTWAIT);
    if (length == (ssize_t)sizeof *out) {
        out->text[sizeof out->text - 1] = '\0';
        return LIGHTS_NEWS;
    }
    return length < 0 && (errno == EAGAIN || errno == EINTR) ? LIGHTS_NOTHING_NEW : LIGHTS_GONE;
}

void lights_sender_let_go(lights_sender *sender) {
    if (sender->pid == 0)
        return;
    close(sender->descriptor);
    lights_sender_reap(sender);
    for (int i = 0; i < LIGHTS_DYING && sender->pid != 0; i++)
        if (sender->dying[i] == 0) {
            sender->dying[i] = sender->pid;
            sender->pid = 0;
        }
    sender->pid = 0;
}

void lights_sender_reap(lights_sender *sender) {
    for (int i = 0; i < LIGHTS_DYING; i++)
        if (sender->dying[i] != 0 && waitpid(sender->dying[i], NULL, WNOHANG) != 0)
            sender->dying[i] = 0; // collected, or somebody else did
}
