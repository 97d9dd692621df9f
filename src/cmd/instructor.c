// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch drill --instructor: joins a drill that the same user takes in another terminal, asking which where there are several.
#include "cmd/cmd.h"

#include "slowmatch/link.h"

#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

// Prints what the trainee's end says. False: it has ended.
static bool print_heard(sm_link_guest *guest, struct timespec *heard) {
    char line[SM_LINK_LINE];
    for (;;) {
        sm_link_word word = sm_link_hear(guest, line);
        if (word == SM_LINK_GONE || word == SM_LINK_NOTHING) {
            fflush(stdout);
            return word == SM_LINK_NOTHING;
        }
        clock_gettime(CLOCK_MONOTONIC, heard);
        if (word == SM_LINK_SAID)
            cmd_say("%s\n", line);
    }
}

static double seconds_since(const struct timespec *then) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)(now.tv_sec - then->tv_sec) + (double)(now.tv_nsec - then->tv_nsec) / 1e9;
}

// Sends what is typed, line by line. False: `leave`, or no more is typed.
static bool send_typed(sm_link_guest *guest) {
    char line[SM_LINK_LINE];
    if (!fgets(line, sizeof line, stdin))
        return false;
    line[strcspn(line, "\r\n")] = '\0';
    if (strcmp(line, "leave") == 0)
        return false;
    return line[0] == '\0' || sm_link_ask(guest, line);
}

static void attend(sm_link_guest *guest) {
    struct timespec heard;
    clock_gettime(CLOCK_MONOTONIC, &heard);
    const double patience_s = 4.0 * SM_LINK_ALIVE_US / SM_US_PER_S;
    bool silent = false;
    for (;;) {
        struct pollfd waited[] = {{STDIN_FILENO, POLLIN, 0}, {sm_link_guest_descriptor(guest), POLLIN, 0}};
        poll(waited, 2, 500);
        if (!print_heard(guest, &heard)) {
            cmd_say("The trainee's program has ended.\n");
            return;
        }
        if ((waited[0].revents & (POLLIN | POLLHUP)) != 0 && !send_typed(guest))
            return;
        bool quiet = seconds_since(&heard) > patience_s;
        if (quiet && !silent)
            cmd_say("No word from the trainee's program for %.0f s: look at their screen.\n", patience_s);
        silent = quiet;
        fflush(stdout);
    }
}

// ---- which drill -------------------------------------------------------------------------------

#define HELLO_MS 3000
// What drill NUMBER says of itself, into LINE. False: nothing, it has gone meanwhile.
static bool ask_who(unsigned number, char line[SM_LINK_LINE]) {
    char why[SM_LINK_WHY];
    sm_link_guest *guest = NULL;
    if (sm_link_join(number, why, &guest) != SM_OK)
        return false;
    struct pollfd waited = {sm_link_guest_descriptor(guest), POLLIN, 0};
    bool heard = poll(&waited, 1, HELLO_MS) > 0 && sm_link_hear(guest, line) == SM_LINK_SAID;
    sm_link_leave(guest);
    return heard;
}

static bool is_one_of(unsigned number, const unsigned *numbers, unsigned count) {
    for (unsigned i = 0; i < count; i++)
        if (numbers[i] == number)
            return true;
    return false;
}

// 0: no answer.
static unsigned choose(const unsigned *numbers, unsigned count) {
    char line[SM_LINK_LINE];
    for (unsigned i = 0; i < count; i++)
        cmd_say("%2u  %s\n", numbers[i], ask_who(numbers[i], line) ? line : "(its program does not answer)");
    for (;;) {
        int32_t number;
        cmd_say("Which? Type its number: ");
        fflush(stdout);
        if (!fgets(line, sizeof line, stdin))
            return 0;
        line[strcspn(line, "\r\n")] = '\0';
        if (sm_integer_read(line, strlen(line), &number) == SM_OK && number > 0 &&
            is_one_of((unsigned)number, numbers, count))
            return (unsigned)number;
        cmd_say("%s is none of them. ", line);
    }
}

int cmd_instruct(void) {
    char why[SM_LINK_WHY];
    sm_link_guest *guest = NULL;
    unsigned numbers[SM_LINK_DRILLS], count = sm_link_find(numbers);
    setvbuf(stdin, NULL, _IONBF, 0); // what is typed is waited for by poll
    unsigned chosen = count > 1 ? choose(numbers, count) : count == 1 ? numbers[0] : 1;
    if (chosen == 0) {
        cmd_complain("several drills are being taken, and none of them was chosen");
        return CMD_UNUSABLE;
    }
    if (sm_link_join(chosen, why, &guest) != SM_OK) {
        cmd_complain("%s", why);
        return CMD_UNUSABLE;
    }
    attend(guest);
    sm_link_leave(guest);
    return CMD_GOOD;
}
